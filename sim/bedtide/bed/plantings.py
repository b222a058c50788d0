"""The crops of a description, their dates, and whether they crowd one another."""

from __future__ import annotations

import datetime
from typing import Any, Final

import numpy as np

from bedtide.bed.problems import Problems
from bedtide.bed.sections import PlantingTable
from bedtide.crop import Planting, crop, crop_days
from bedtide.errors import InputError, RangeError

_ANY_YEAR: Final = datetime.date(2001, 1, 1)  # stands for every year


def build_plantings(items: Any, problems: Problems) -> tuple[Planting, ...]:
    """Plantings of the description; mistakes are noted.

    Parameters
    ----------
    items : object
        What stands under ``planting``: a list of tables.
    problems : Problems
        Where mistakes are noted.

    Returns
    -------
    tuple of Planting
        Those without a mistake, in the order of the file.
    """
    if not isinstance(items, list):
        problems.add(
            "planting",
            "not a list of crops",
            kind="field",
            expected="[[planting]] with two brackets on either side, once for each crop",
        )
        return ()
    found = []
    for at, values in enumerate(items):
        path = f"planting.{at}"
        table = problems.table(PlantingTable, values, path)
        if table is not None and (planting := _planting(table, path, problems)) is not None:
            found.append(planting)
    if len(found) == len(items):
        _check_crowding(found, problems)
    return tuple(found)


def _planting(table: PlantingTable, path: str, problems: Problems) -> Planting | None:
    """Planting of one section, or None with its mistake noted."""
    try:
        return Planting(
            crop=crop(table.crop),
            planted=table.planted,
            area_share=table.area_share,
            canopy=table.canopy,
            stages=table.stages,
            removed=table.removed,
        )
    except InputError as error:
        key = "stages" if table.stages is not None and "stages" in error.where else "removed"
        problems.keep(f"{path}.{key}", error)
        return None


def _check_crowding(plantings: list[Planting], problems: Problems) -> None:
    """Note plantings that take more than the bed on a day; the demand itself refuses them."""
    fixed = [p.planted for p in plantings if isinstance(p.planted, datetime.date)]
    first = min(fixed, default=_ANY_YEAR)
    last = max(fixed, default=_ANY_YEAR) + datetime.timedelta(days=366)
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D"))
    try:
        crop_days(
            plantings, days, wind_speed=np.full(days.size, 2.0), rh_min=np.full(days.size, 45.0)
        )
    except RangeError as error:
        problem = error.problem if fixed else error.problem.replace(f"{_ANY_YEAR.year}-", "")
        problems.add("planting", problem, expected=error.expected, hint=error.hint)
