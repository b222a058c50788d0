"""The numbers of a mix, and the table of published media that comes with the package."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from bedtide.errors import InputError, choice, collect, raise_all
from bedtide.tables import cells, read_table

RANGES = {
    "theta_s": (0.1, 1.0, "m3 m-3"),
    "alpha": (0.01, 1000.0, "m-1"),
    "n": (1.01, 10.0, ""),
    "wetting": (0.5, 4.0, ""),
    "bulk_density": (10.0, 2000.0, "kg m-3"),
    "k_s": (1e-6, 10_000.0, "m d-1"),
    "l": (-2.0, 10.0, ""),  # above -2/m conductivity falls with suction for every n
}
"""Least and greatest value that a number of a mix may have, and its unit."""

WETTING = (1.0, 1.4, 2.0)
"""Low, typical and high `Mix.wetting` [1], see `hydraulics.supply_conductivity`.

1 is the drying curve as measured. 2 is the main wetting curve: alpha doubled, Kool & Parker (1987),
from memory; 2.08 +- 0.46 over eight soils, from memory. A bed lives between them; 1.4, their
geometric mean, keeps the evaporation of whole seasons within published bands (docs/checks.md).
"""


@dataclass(frozen=True)
class Mix:
    """A mix: van Genuchten retention, Mualem conductivity, and how sure each number is.

    A number outside what is possible, or outside its own bounds, is a RangeError.
    """

    name: str
    theta_r: float  # residual water content [m3 m-3]
    theta_s: float  # saturated water content [m3 m-3]
    alpha: float  # scale of the retention curve; the larger, the sooner it drains [m-1]
    n: float  # shape of the retention curve; the larger, the more suddenly it drains [1]
    k_s: float  # saturated conductivity, without the gaps that empty at once [m d-1]
    l: float  # Mualem exponent; the lower, the better a half-dry mix conducts [1]  # noqa: E741
    bulk_density: float  # dry mass over volume [kg m-3]
    k_s_low: float  # bounds of k_s [m d-1]
    k_s_high: float
    l_low: float  # bounds of l [1]
    l_high: float
    alpha_low: float | None = None  # bounds of alpha [m-1]; None where no spread is published
    alpha_high: float | None = None
    wetting: float = WETTING[1]  # times its suction that conductivity feels, fed from below [1]
    sources: tuple[str, ...] = ()  # keys of the published sources behind the numbers
    standing: str = "given"  # how far they can be traced: read, from memory, fitted, ...
    notes: tuple[str, ...] = ()  # what was assumed, a sentence each
    spread: str = "judgement"  # where the bounds come from: published, judgement, which of both
    caution: str = ""  # what to beware of in a bed, a sentence or two
    parts: tuple[tuple[str, float], ...] = field(default=(), repr=False)  # media, shares of volume

    def __post_init__(self) -> None:
        """Refuse what no mix can be, all mistakes at once."""
        errors: list[InputError] = []
        for end in ("", "_low", "_high"):
            for name, (low, high, unit) in RANGES.items():
                value = getattr(self, name + end, None)
                if value is not None:
                    collect(errors, value, low, high, where=f"{self.name}, {name}{end}", unit=unit)
        low, high, unit = RANGES["theta_s"]
        top = self.theta_s - 0.01 if low <= self.theta_s <= high else high
        collect(errors, self.theta_r, 0.0, top, where=f"{self.name}, theta_r", unit=unit)
        raise_all(errors)
        for name in ("k_s", "l"):
            low, value, high = (getattr(self, name + end) for end in ("_low", "", "_high"))
            unit = RANGES[name][2]
            collect(errors, value, low, high, where=f"{self.name}, {name}", unit=unit)
        raise_all(errors)


def media() -> list[str]:
    """Names of all media, in the order of the table."""
    return list(_table())


def medium(name: str, *, where: str = "medium") -> Mix:
    """Return a medium by its name, letter case aside, with its spread, sources and standing."""
    table = _table()
    return table[choice(name, table, where=where)]


@lru_cache(maxsize=1)
def _table() -> dict[str, Mix]:
    return {
        name: Mix(
            **cells(Mix, row),
            sources=tuple(row["sources"].split()),
            notes=tuple(filter(None, [row["note"]])),
            parts=((name, 1.0),),
        )
        for name, row in read_table("media.csv").items()
    }
