"""Named media from the table of published measurements that comes with the package."""

from __future__ import annotations

from functools import lru_cache

from bedtide.errors import choice
from bedtide.mix.hydraulics import Mix
from bedtide.tables import read_table

_NUMBERS = (
    *("theta_r", "theta_s", "alpha", "n", "k_s", "l", "bulk_density"),
    *("k_s_low", "k_s_high", "l_low", "l_high", "alpha_low", "alpha_high"),
)
_WORDS = ("sources", "standing", "spread", "caution", "note")


def media() -> list[str]:
    """Names of all media, in the order of the table."""
    return list(_table())


def medium(name: str, *, where: str = "medium") -> Mix:
    """Return a medium by its name, letter case aside, with its spread, sources and standing."""
    table = _table()
    return table[choice(name, table, where=where)]


@lru_cache(maxsize=1)
def _table() -> dict[str, Mix]:
    rows = read_table("media.csv", columns=("name", *_NUMBERS, *_WORDS))
    return {
        name: Mix(
            name=name,
            **{field: float(row[field]) for field in _NUMBERS if row[field]},
            sources=tuple(row["sources"].split()),
            standing=row["standing"],
            spread=row["spread"],
            caution=row["caution"],
            notes=(row["note"],) if row["note"] else (),
        )
        for name, row in rows.items()
    }
