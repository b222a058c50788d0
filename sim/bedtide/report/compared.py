"""The beds that a command compares, from bed files and --vary."""

from __future__ import annotations

import dataclasses
import datetime
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.errors import FieldError, InputError, TimeAxisError, raise_all

if TYPE_CHECKING:
    from bedtide.many import Variant

__all__ = ["MonthDayType", "compared_beds", "split_files"]


class MonthDayType(click.ParamType):
    """A day of every year written as 05-10."""

    name = "day of the year"

    def convert(self, value: Any, param: click.Parameter | None, ctx: Any) -> tuple[int, int]:
        """Month and day from their text."""
        if isinstance(value, tuple):
            return value[0], value[1]
        try:
            day = datetime.date.fromisoformat(f"2024-{value.strip()}")
        except ValueError:
            where = param.opts[0] if param is not None else "day"
            raise TimeAxisError(
                where,
                f'"{value}" is not a day of the year',
                expected="month-day, such as 05-10, for it is taken in every year of the record",
            ) from None
        return day.month, day.day


def split_files(files: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Bed descriptions, which end in .toml, and weather files, which do not.

    Parameters
    ----------
    files : sequence of Path
        As given.

    Returns
    -------
    tuple of list of Path
        Beds and weather, each in the order given.
    """
    beds = [path for path in files if path.suffix.lower() == ".toml"]
    return beds, [path for path in files if path not in beds]


def compared_beds(bed_files: Sequence[Path], vary: Sequence[str], *, least: int) -> list[Variant]:
    """Every bed of every file with every combination of what is varied.

    Parameters
    ----------
    bed_files : sequence of Path
        Descriptions; the built-in example where there is none.
    vary : sequence of str
        Texts such as ``box.depth=25cm,32cm``.
    least : int
        How many beds there must be [1].

    Returns
    -------
    list of Variant
        Lettered in order.

    Raises
    ------
    InputError
        If a file, a key or a value is wrong, or there are too few beds or too many.
    """
    from bedtide.bed import example_text, read_mapping
    from bedtide.many import MOST_BEDS, letters, parse_choices, varied_beds

    choices = parse_choices(vary)
    found: list[Variant] = []
    errors: list[InputError] = []
    sources: list[tuple[str, dict[str, Any]]] = []
    for path in bed_files:
        try:
            sources.append((path.name, read_mapping(path)))
        except InputError as error:
            errors.append(error)
    if not bed_files:
        sources.append(("built-in example", tomllib.loads(example_text())))
    for name, mapping in sources:
        try:
            own = varied_beds(mapping, choices, where=name)
        except InputError as error:
            errors.append(error)
            continue
        if len(sources) > 1 and choices:
            own = [
                dataclasses.replace(each, label=f"{each.bed.name}, {each.label}") for each in own
            ]
        found += own
    raise_all(errors)
    if len(found) > MOST_BEDS:
        raise FieldError(
            "compare", f"that makes {len(found)} beds", expected=f"at most {MOST_BEDS}"
        )
    if len(found) < least:
        raise FieldError(
            "compare",
            "there is only one bed, nothing to compare it with",
            expected="several bed files, or values for a key, such as  "
            "--vary box.depth=25cm,32cm,42cm",
        )
    return [dataclasses.replace(each, letter=letters(at)) for at, each in enumerate(found)]
