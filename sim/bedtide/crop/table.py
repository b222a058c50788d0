"""Garden crops from the table that comes with the package."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from bedtide.errors import choice
from bedtide.tables import cells, read_table

_STAGES = ("ini", "dev", "mid", "late")


@dataclass(frozen=True)
class Crop:
    """One crop of the table.

    Coefficients are for the standard climate of FAO-56: 2 m/s of wind, 45 % lowest humidity.
    """

    name: str
    kcb_ini: float  # basal crop coefficient of the initial stage [1]
    kcb_mid: float  # of the mid-season [1]
    kcb_end: float  # of the end [1]
    height: float  # of the plants in mid-season [m]
    stages: tuple[int, int, int, int]  # initial, development, mid-season, late [d]
    root_depth: float  # from mid-season on, for frequent watering [m]
    root_depth_deep: float  # where roots must search for water; not used by the model [m]
    p: float  # share of available water taken without stress at 5 mm/d; shown, not used [1]
    h3_high: float  # suction head at which uptake starts to fall, at a demand of 5 mm/d [m]
    h3_low: float  # the same at 1 mm/d [m]
    h4: float  # suction head at which uptake ends [m]
    uptake_like: str = ""  # the crop that lent h3, where the source has no row for this one
    sources: tuple[str, ...] = ()  # keys of the published sources
    standing: str = "given"  # how far the numbers can be traced
    note: str = ""  # where the stages come from and what was chosen
    kcb_dormant: float | None = None  # between two seasons of a perennial; None: an annual [1]
    aliases: tuple[str, ...] = ()  # what else it is called


def crops() -> list[str]:
    """Names of all crops, in the order of the table."""
    return list(_table())


def crop_names() -> dict[str, str]:
    """Every name that a crop goes by, with its name in the table."""
    table = _table()
    return {each: name for name in table for each in (name, *table[name].aliases)}


def crop(name: str, *, where: str = "crop") -> Crop:
    """Return a crop by any of its names, letter case aside: coefficients, stages, roots, limits."""
    names = crop_names()
    return _table()[names[choice(name, names, where=where)]]


@lru_cache(maxsize=1)
def _table() -> dict[str, Crop]:
    found = {}
    for name, row in read_table("crops.csv").items():
        ini, dev, mid, late = (int(row[f"stage_{stage}"]) for stage in _STAGES)
        found[name] = Crop(
            **cells(Crop, row),
            stages=(ini, dev, mid, late),
            aliases=tuple(filter(None, row["aliases"].split("; "))),
            sources=tuple(row["sources"].split()),
        )
    return found
