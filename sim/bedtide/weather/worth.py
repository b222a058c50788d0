"""What a weather record is worth: coverage, spells, a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.weather.record import days_text
from bedtide.weather.suspicious import Suspicion, measured

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Spell", "Verdict", "coverage", "spells", "verdict"]

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]

WET_WINDOWS = (1, 3, 7, 14, 30)
DRY_WINDOWS = (7, 14, 30, 60, 90)
_MANY_YEARS, _FEW_YEARS = 10, 5


@dataclass(frozen=True)
class Spell:
    """The wettest or driest stretch of so many days.

    Attributes
    ----------
    kind : str
        ``wet`` or ``dry``.
    window : int
        Its length [d].
    first, last : datetime64[D]
        Its days.
    rain, et0 : float
        Sums over it [m].
    """

    kind: str
    window: int
    first: np.datetime64
    last: np.datetime64
    rain: float
    et0: float


@dataclass(frozen=True)
class Verdict:
    """How far a record can be trusted.

    Attributes
    ----------
    grade : str
        ``good``, ``usable`` or ``doubtful``.
    years : float
        Its length [yr].
    reasons : tuple of str
        Plain sentences, the weightiest first.
    """

    grade: str
    years: float
    reasons: tuple[str, ...]


def coverage(weather: xr.Dataset) -> pd.DataFrame:
    """Share of the days of each year on which each quantity was measured.

    Parameters
    ----------
    weather : Dataset
        As `read_weather` gives it.

    Returns
    -------
    DataFrame
        Years by quantity, 0 to 1; days of the year before the first or after the last count as
        not measured.
    """
    names = str(weather["measured"].attrs["flag_meanings"]).split()
    years = weather["time"].dt.year.values
    table = pd.DataFrame({name: measured(weather, name) for name in names})
    counted = table.groupby(years).sum()
    length = [366 if pd.Timestamp(year, 1, 1).is_leap_year else 365 for year in counted.index]
    return counted.div(np.asarray(length), axis=0).rename_axis("year")


def spells(weather: xr.Dataset) -> list[Spell]:
    """The wettest stretches by rain, the driest by reference evapotranspiration less rain.

    Parameters
    ----------
    weather : Dataset
        As `read_weather` gives it.

    Returns
    -------
    list of Spell
        One for each window that fits into the record.
    """
    days = weather["time"].values.astype("datetime64[D]")
    rain, et0 = weather["rain"].values, weather["et0"].values
    found = []
    for kind, windows, weight in (
        ("wet", WET_WINDOWS, rain),
        ("dry", DRY_WINDOWS, et0 - rain),
    ):
        for window in windows:
            if window > len(days):
                continue
            start = int(np.argmax(_sums(weight, window)))
            part = slice(start, start + window)
            found.append(
                Spell(
                    kind,
                    window,
                    days[start],
                    days[start + window - 1],
                    float(rain[part].sum()),
                    float(et0[part].sum()),
                )
            )
    return found


def _sums(values: Floats, window: int) -> Floats:
    total = np.concatenate(([0.0], np.cumsum(values)))
    return np.round(total[window:] - total[:-window], 9)


def verdict(weather: xr.Dataset, found: list[Suspicion]) -> Verdict:
    """How far the record can be trusted, with the reasons.

    Parameters
    ----------
    weather : Dataset
        As `read_weather` gives it.
    found : list of Suspicion
        From `suspicions`.

    Returns
    -------
    Verdict
        ``good``: nothing against it; ``usable``: something to know; ``doubtful``: look first.
    """
    total = weather.sizes["time"]
    years = total / 365.25
    filled = int(weather["filled"].values.sum())
    guessed = int((weather["estimated"].values > 0).sum())
    by_temperature = weather.attrs.get("et0_method") == "hargreaves"
    against: list[tuple[int, str]] = []
    if found:
        odd = np.zeros(total, dtype=bool)
        first = weather["time"].values.astype("datetime64[D]")[0]
        for one in found:
            odd[(one.first - first).astype(int) : (one.last - first).astype(int) + 1] = True
        heavy = odd.mean() > 0.05 or any(s.kind in ("dry month", "no dry day") for s in found)
        kinds = f"{len(found)} suspicious stretch{'es' if len(found) > 1 else ''}"
        against.append((2 if heavy else 1, f"{kinds} on {days_text(int(odd.sum()))}; see below."))
    if filled > 0.05 * total:
        against.append((2, f"Gaps were filled on {filled:,} of {total:,} days."))
    elif filled:
        against.append((0, f"Gaps were filled on {filled:,} of {total:,} days."))
    if by_temperature:
        against.append(
            (1, "Evapotranspiration rests on temperature alone; it can be a fifth or more off.")
        )
    elif guessed:
        share = f"{100 * guessed / total:.0f} %" if guessed < total else "all"
        weight = 1 if guessed > 0.1 * total else 0
        against.append((weight, f"Part of evapotranspiration is estimated on {share} of the days."))
    if years < _FEW_YEARS:
        text = "too few for odds; at least 5 are needed, 10 are better"
        against.append((1, f"The record has {years:.1f} years: {text}."))
    elif years < _MANY_YEARS:
        against.append((0, f"The record has {years:.1f} years: enough for odds, 10 are better."))
    worst = max((weight for weight, _ in against), default=0)
    grade = ("good", "usable", "doubtful")[worst]
    reasons = [text for _, text in sorted(against, key=lambda pair: -pair[0])]
    if not reasons:
        reasons = [f"{years:.0f} years, all measured, nothing suspicious."]
    return Verdict(grade, years, tuple(reasons))
