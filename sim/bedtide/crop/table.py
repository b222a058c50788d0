"""Garden crops from the table that comes with the package."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from bedtide.checks import choice
from bedtide.tables import read_table

_NUMBERS = (
    "kcb_ini",
    "kcb_mid",
    "kcb_end",
    "height",
    "root_depth",
    "root_depth_deep",
    "p",
    "h3_high",
    "h3_low",
    "h4",
)
_STAGES = ("stage_ini", "stage_dev", "stage_mid", "stage_late")
_COLUMNS = ("name", *_NUMBERS, *_STAGES, "uptake_like", "sources", "standing", "note")


@dataclass(frozen=True)
class Crop:
    """One crop of the table.

    Attributes
    ----------
    name : str
        What it is called.
    kcb_ini, kcb_mid, kcb_end : float
        Basal crop coefficients of the initial stage, the mid-season and the end, in the
        standard climate of FAO-56 (2 m/s of wind, 45 % lowest humidity) [1].
    height : float
        Height of the plants in mid-season [m].
    stages : tuple of int
        Lengths of the initial, development, mid-season and late stage [d].
    root_depth : float
        Depth of the roots from mid-season on, for frequent watering [m].
    root_depth_deep : float
        The same where roots must search for water; not used by the model [m].
    p : float
        Share of the available water that is taken without stress at 5 mm/d; shown, not used [1].
    h3_high, h3_low : float
        Suction head at which uptake starts to fall, at a demand of 5 and of 1 mm/d [m].
    h4 : float
        Suction head at which uptake ends [m].
    uptake_like : str
        The crop that lent h3, where the source has no row for this one; else empty.
    sources : tuple of str
        Keys of the published sources.
    standing : str
        How far the numbers can be traced.
    note : str
        Where the stages come from and what was chosen.
    """

    name: str
    kcb_ini: float
    kcb_mid: float
    kcb_end: float
    height: float
    stages: tuple[int, int, int, int]
    root_depth: float
    root_depth_deep: float
    p: float
    h3_high: float
    h3_low: float
    h4: float
    uptake_like: str = ""
    sources: tuple[str, ...] = ()
    standing: str = "given"
    note: str = ""


def crops() -> list[str]:
    """Names of all crops in the table.

    Returns
    -------
    list of str
        In the order of the table.
    """
    return list(_table())


def crop(name: str, *, where: str = "crop") -> Crop:
    """Return a crop of the table.

    Parameters
    ----------
    name : str
        As in `crops`; letter case does not matter.
    where : str, default "crop"
        File and key for the message.

    Returns
    -------
    Crop
        Its coefficients, stages, roots and limits.

    Raises
    ------
    ChoiceError
        If the table has no such crop; the nearest names are offered.
    """
    table = _table()
    return table[choice(name, table, where=where)]


@lru_cache(maxsize=1)
def _table() -> dict[str, Crop]:
    """Every row of crops.csv as a Crop."""
    rows = read_table("crops.csv", columns=_COLUMNS)
    return {name: _crop(name, row) for name, row in rows.items()}


def _crop(name: str, row: dict[str, str]) -> Crop:
    """One row of text as a Crop."""
    numbers = {field: float(row[field]) for field in _NUMBERS}
    ini, dev, mid, late = (int(row[field]) for field in _STAGES)
    return Crop(
        name=name,
        stages=(ini, dev, mid, late),
        uptake_like=row["uptake_like"],
        sources=tuple(row["sources"].split()),
        standing=row["standing"],
        note=row["note"],
        **numbers,
    )
