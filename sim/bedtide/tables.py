"""What comes with the package: data tables and their sources, the glossary, weather, cautions."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import fields
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from bedtide.errors import FileError, choice

_ATTRIBUTES = {
    "long_name": "long_name",
    "comment": "sentence",
    "units": "unit",
    "standard_name": "standard_name",
    "cell_methods": "cell_methods",
}  # columns of the glossary


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


@lru_cache(maxsize=1)
def terms() -> dict[str, dict[str, str]]:
    """Every quantity of a result by its name in a Dataset, from the glossary ``data/terms.csv``."""
    return read_table("terms.csv")


def attributes(name: str) -> dict[str, str]:
    """Attributes of a Dataset variable; a name that the glossary lacks is a bug (KeyError)."""
    found = {key: terms()[name][column] for key, column in _ATTRIBUTES.items()}
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
