"""Named media from the table that comes with the package."""

from __future__ import annotations

from functools import lru_cache

from bedtide.checks import choice
from bedtide.mix.parameters import Mix
from bedtide.tables import read_table

_NUMBERS = (
    "theta_r",
    "theta_s",
    "alpha",
    "n",
    "k_s",
    "l",
    "bulk_density",
    "k_s_low",
    "k_s_high",
    "l_low",
    "l_high",
)
_OPTIONAL = ("alpha_low", "alpha_high")
_COLUMNS = ("name", *_NUMBERS, *_OPTIONAL, "sources", "standing", "note")


def media() -> list[str]:
    """Names of all media in the table.

    Returns
    -------
    list of str
        In the order of the table.
    """
    return list(_table())


def medium(name: str, *, where: str = "medium") -> Mix:
    """Return a medium from the table of published measurements.

    Parameters
    ----------
    name : str
        As in `media`; letter case does not matter.
    where : str, default "medium"
        File and key for the message.

    Returns
    -------
    Mix
        Its parameters with their spread, sources and standing.

    Raises
    ------
    ChoiceError
        If the table has no such medium; the nearest names are offered.
    """
    table = _table()
    return table[choice(name, table, where=where)]


@lru_cache(maxsize=1)
def _table() -> dict[str, Mix]:
    """Every row of media.csv as a Mix."""
    rows = read_table("media.csv", columns=_COLUMNS)
    return {name: _mix(name, row) for name, row in rows.items()}


def _mix(name: str, row: dict[str, str]) -> Mix:
    """One row of text as a Mix."""
    numbers = {field: float(row[field]) for field in _NUMBERS}
    bounds = {field: float(row[field]) if row[field] else None for field in _OPTIONAL}
    return Mix(
        name=name,
        **numbers,
        alpha_low=bounds["alpha_low"],
        alpha_high=bounds["alpha_high"],
        sources=tuple(row["sources"].split()),
        standing=row["standing"],
        notes=(row["note"],) if row["note"] else (),
    )
