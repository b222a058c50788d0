"""Reader of the data tables that come with the package, and of the sources they name."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from importlib import resources
from pathlib import Path

from bedtide.errors import FileError

__all__ = ["cautions_text", "read_table", "sample_weather", "samples_folder", "sources"]


def read_table(
    name: str, *, columns: Sequence[str], key: str = "name"
) -> dict[str, dict[str, str]]:
    """Rows of a packaged table by their key, all values as text.

    Parameters
    ----------
    name : str
        File name in the package's data folder, such as ``media.csv``.
    columns : sequence of str
        Columns that must be there, in any order.
    key : str, default "name"
        The column that names a row.

    Returns
    -------
    dict of dict of str
        Row by key, in the order of the file.

    Raises
    ------
    FileError
        If a column is missing, a key is doubled or a named source does not exist.
    """
    text = resources.files("bedtide").joinpath("data", name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    reader = csv.DictReader(lines)
    missing = [column for column in columns if column not in (reader.fieldnames or [])]
    if missing:
        raise FileError(name, f"the columns {', '.join(missing)} are missing")
    rows: dict[str, dict[str, str]] = {}
    for row in reader:
        if row[key] in rows:
            raise FileError(name, f'"{row[key]}" is there twice')
        rows[row[key]] = row
    return rows


@lru_cache(maxsize=1)
def sources() -> dict[str, dict[str, str]]:
    """Every published source that a data table names, by its key.

    Returns
    -------
    dict of dict of str
        ``authors``, ``year``, ``title``, ``where`` and, where known, ``doi``.
    """
    text = resources.files("bedtide").joinpath("data", "sources.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def samples_folder() -> Path:
    """Folder with the sample weather and bed, in a wheel or in a checkout.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    FileError
        If it is in neither place: a broken installation.
    """
    package = Path(str(resources.files("bedtide")))
    for folder in (package / "weather_samples", package.parents[1] / "weather_samples"):
        if folder.is_dir():
            return folder
    raise FileError("weather_samples", "the sample weather is not installed")


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
    from bedtide.checks import choice  # loads numpy, which most readers of tables need not

    files = {path.stem: path for path in sorted(samples_folder().glob("*.csv"))}
    return files[choice(name, files, where="sample weather")]


def cautions_text() -> str:
    """Text of the page on what can hurt someone, in a wheel or in a checkout.

    Returns
    -------
    str
        The text of ``docs/cautions.md``.

    Raises
    ------
    FileError
        If it is in neither place: a broken installation.
    """
    package = Path(str(resources.files("bedtide")))
    for path in (package / "data" / "cautions.md", package.parents[1] / "docs" / "cautions.md"):
        if path.is_file():
            return path.read_text(encoding="utf-8")
    raise FileError("cautions.md", "the page is not installed")
