"""What comes with the package: data tables and their sources, the glossary, weather, cautions."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from bedtide.errors import FileError, choice


def read_table(name: str, *, key: str = "name") -> dict[str, dict[str, str]]:
    """Rows of a table in ``data/`` by their key, all values as text, in the order of the file."""
    lines = [line for line in _data(name).splitlines() if line.strip() and line[0] != "#"]
    rows: dict[str, dict[str, str]] = {}
    for row in csv.DictReader(lines):
        if row[key] in rows:
            raise FileError(name, f'"{row[key]}" is there twice')
        rows[row[key]] = row
    return rows


def read_toml(name: str) -> dict[str, Any]:
    """Tables of a file in ``data/`` by their name."""
    return tomllib.loads(_data(name))


def cells(kind: type, row: dict[str, str]) -> dict[str, Any]:
    """Numbers and texts of a row by the fields of a dataclass; an empty one keeps its default."""
    found: dict[str, Any] = {}
    for field in fields(kind):
        if text := row.get(field.name):
            if str(field.type).startswith("float"):
                found[field.name] = float(text)
            elif field.type == "str":
                found[field.name] = text
    return found


@lru_cache(maxsize=1)
def sources() -> dict[str, dict[str, str]]:
    """Every published source that a table names: authors, year, title, where, perhaps doi."""
    return read_toml("sources.toml")


@dataclass(frozen=True)
class Term:
    """One quantity of a result: its name in a Dataset, its unit, what it is called and means."""

    name: str
    unit: str  # UDUNITS text; 1 for a share, empty for a date
    symbol: str  # in the equations of docs/
    long_name: str
    standard_name: str  # CF
    cell_methods: str  # CF: time: sum over the day, time: point at its end
    sentence: str  # with its sign where it has one


@lru_cache(maxsize=1)
def terms() -> dict[str, Term]:
    """Every term of the glossary by its name, in the order of ``data/terms.csv``."""
    return {name: Term(**row) for name, row in read_table("terms.csv").items()}


def attributes(name: str) -> dict[str, str]:
    """Attributes of a Dataset variable; a name that the glossary lacks is a bug (KeyError)."""
    term = terms()[name]
    found = {
        "long_name": term.long_name,
        "comment": term.sentence,
        "units": term.unit,
        "standard_name": term.standard_name,
        "cell_methods": term.cell_methods,
    }
    return {key: text for key, text in found.items() if text}


def _data(name: str) -> str:
    return resources.files("bedtide").joinpath("data", name).read_text(encoding="utf-8")


def samples_folder() -> Path:
    """Folder with the sample weather, in a wheel or in a checkout."""
    return _installed("weather_samples", "weather_samples")


def sample_weather(name: str = "brasaluz") -> Path:
    """Path of an invented weather record that comes with the package.

    Parameters
    ----------
    name : str, default "brasaluz"
        The place: ``brasaluz`` is hot and dry in summer, ``mistlebeck`` cool and wet.

    Returns
    -------
    Path
        A file of 30 years of daily weather, for `read_weather`.

    Raises
    ------
    ChoiceError
        If there is no such place; the closest is named.

    Examples
    --------
    >>> sample_weather("mistlebeck").name
    'mistlebeck.csv'
    """
    files = {path.stem: path for path in sorted(samples_folder().glob("*.csv"))}
    return files[choice(name, files, where="sample weather")]


def cautions_text() -> str:
    """Text of ``docs/cautions.md``, what can hurt someone, in a wheel or in a checkout."""
    return _installed("data/cautions.md", "docs/cautions.md").read_text(encoding="utf-8")


def _installed(in_wheel: str, in_checkout: str) -> Path:
    """Path of what lies in one of two places; in neither, the installation is broken."""
    package = Path(str(resources.files("bedtide")))
    for path in (package / in_wheel, package.parents[1] / in_checkout):
        if path.exists():
            return path
    raise FileError(Path(in_wheel).name, "it is not installed", hint="Install bedtide anew.")
