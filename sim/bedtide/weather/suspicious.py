"""Stretches of a record that weather seldom makes and broken stations often do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import printable
from bedtide.weather.et0 import clear_sky_radiation, extraterrestrial_radiation, saturation_pressure
from bedtide.weather.fill import STAND_INS
from bedtide.weather.options import READY_MADE
from bedtide.weather.record import QUANTITIES, runs

if TYPE_CHECKING:
    import xarray as xr


Days = NDArray[np.datetime64]
_Found = tuple[str, str, int, int, str]  # kind, variable, first day, one past the last, sentence


@dataclass(frozen=True)
class Suspicion:
    """A stretch that a careful reader would look at."""

    kind: str  # stuck, dry month, jump, clear sky, calibration, saturation, no dry day, ...
    quantity: str  # variable
    first: np.datetime64
    last: np.datetime64
    sentence: str


# what a variable is called, and of how many days one value is too many
_STUCK = {
    "tmax": ("highest temperature", 7),
    "tmin": ("lowest temperature", 7),
    "wind_speed": ("wind", 7),
    "solar_radiation": ("radiation", 5),
    "vapour_pressure": ("humidity", 7),
}
_WET_MONTH = 30.0  # [mm]
_RARE = 1e-3  # a chance
_ODD = 17.0  # climate [K]
_DARK = 2.0  # radiation of a clear sky under which that of a day tells nothing [MJ m-2 d-1]
_CLEAR_SLACK = 1.10  # times clear-sky radiation: FAO-56 annex 5, from memory


def measured(weather: xr.Dataset, name: str) -> NDArray[np.bool_]:
    """Whether a quantity was measured, day by day, from the flags of the record."""
    flag = weather["measured"]
    names = str(flag.attrs["flag_meanings"]).split()
    masks = np.atleast_1d(flag.attrs["flag_masks"])
    mask = int(masks[names.index(name)])
    return np.asarray((flag.values.astype(np.int64) & mask) != 0)


def estimated_days(weather: xr.Dataset) -> dict[str, int]:
    """Days on which humidity, wind or radiation rests on a stand-in, filled gaps aside [d]."""
    whole = ~weather["filled"].values
    counts = {name: int((~measured(weather, name) & whole).sum()) for name in STAND_INS}
    if weather.attrs.get("et0_method") == READY_MADE:
        counts["radiation"] = 0  # nothing rests on it
    return counts


def suspicions(weather: xr.Dataset) -> list[Suspicion]:
    """Stretches that weather seldom makes and broken stations often do, by date.

    Radiation against clear sky and humidity against saturation follow annex 5 of FAO-56 (from
    memory); the other limits are our own.
    """
    days = weather["time"].values.astype("datetime64[D]")
    found = [
        Suspicion(kind, name, days[a], days[b - 1], sentence)
        for make in (_stuck, _dry_months, _jumps, _sky, _no_dry_day, _odd_years)
        for kind, name, a, b, sentence in make(weather, days)
    ]
    return sorted(found, key=lambda s: (s.first, s.kind))


def doubt_attributes(found: Sequence[Suspicion]) -> dict[str, list[str]]:
    """What a record says of its suspicious stretches, the longest first, for `doubts`."""
    ordered = sorted(found, key=lambda one: one.first - one.last)
    return {
        "doubts": [printable(one.sentence) for one in ordered],
        "doubt_days": [f"{one.first}/{one.last}" for one in ordered],
    }


def doubts(weather: xr.Dataset, days: Days | None = None) -> list[str]:
    """Sentences on what is suspicious in a record, or on these days of it, in order."""
    found = []
    told = (weather.attrs.get(name, ()) for name in ("doubts", "doubt_days"))
    for sentence, span in zip(*told, strict=True):
        first, last = (np.datetime64(day, "D") for day in span.split("/"))
        if days is None or (first <= days[-1] and last >= days[0]):
            found.append(sentence)
    return found


def _stuck(weather: xr.Dataset, days: Days) -> Iterator[_Found]:
    for name, (words, least) in _STUCK.items():
        known = measured(weather, QUANTITIES[name].group) & ~weather["filled"].values
        if name == "solar_radiation":  # each day of the polar night is as dark as the next
            known &= _clear_sky(weather, days) > _DARK
        values = weather[name].values
        same = np.concatenate(([False], (values[1:] == values[:-1]) & known[1:] & known[:-1]))
        for a, b in runs(same, least=least - 1):
            running = f"{b - a + 1} days running, {_span(days, a - 1, b)}"
            yield "stuck", name, a - 1, b, f"{words} is the same on {running}: a stuck sensor?"


def _dry_months(weather: xr.Dataset, days: Days) -> Iterator[_Found]:
    """Months of zero that the dry spells of that season would make less than once in a thousand.

    The first month and the last, which may not be whole, are not judged.
    """
    rain = weather["rain"].values
    month = days.astype("datetime64[M]").astype(np.int64)
    numbers, first, size = np.unique(month, return_index=True, return_counts=True)
    sums = np.add.reduceat(rain, first) * 1000.0
    wet = rain > 0
    for i in range(1, len(numbers) - 1):
        before, after = sums[i - 1], sums[i + 1]
        if sums[i] > 0 or min(before, after) < _WET_MONTH:
            continue
        season = np.isin((month[:-1] - numbers[i]) % 12, (11, 0, 1)) & (month[:-1] != numbers[i])
        dry = season & ~wet[:-1]
        if dry.any() and (1.0 - wet[1:][dry].mean()) ** int(size[i]) < _RARE:
            a, b = int(first[i]), int(first[i] + size[i])
            said = (
                f"no rain at all from {days[a]} to {days[b - 1]}, between months of {before:.0f} "
                f"and {after:.0f} mm: a blocked gauge, or gaps written as zero?"
            )
            yield "dry month", "rain", a, b, said


def _jumps(weather: xr.Dataset, days: Days) -> Iterator[_Found]:
    for name in ("tmax", "tmin"):
        values = weather[name].values
        if len(values) < 30 or np.isnan(values).any():
            continue
        step = np.diff(values)
        usual = 1.4826 * float(np.median(np.abs(step - np.median(step))))
        limit = max(15.0, 6.0 * usual)
        there = (np.abs(step[:-1]) > limit) & (np.abs(step[1:]) > limit)
        there &= np.sign(step[:-1]) != np.sign(step[1:])
        for i in np.flatnonzero(there).tolist():
            said = (
                f"{_STUCK[name][0]} of {values[i + 1]:.1f} C on {days[i + 1]} is "
                f"{abs(step[i]):.0f} degrees from the days before and after."
            )
            yield "jump", name, i + 1, i + 2, said


def _sky(weather: xr.Dataset, days: Days) -> Iterator[_Found]:
    known = measured(weather, "radiation") & ~weather["filled"].values
    clear, sun = _clear_sky(weather, days), weather["solar_radiation"].values
    for a, b in runs(known & (sun > clear * _CLEAR_SLACK + 0.5)):
        times = float((sun[a:b] / np.maximum(clear[a:b], 0.1)).max())
        said = f"radiation on {_span(days, a, b)} is up to {times:.2f} times that of a clear sky."
        yield "clear sky", "solar_radiation", a, b, said


def _clear_sky(weather: xr.Dataset, days: Days) -> NDArray[np.float64]:
    above = extraterrestrial_radiation(days, float(weather.attrs["latitude"]))
    return clear_sky_radiation(above, float(weather.attrs["elevation"]))


def _no_dry_day(weather: xr.Dataset, days: Days) -> Iterator[_Found]:
    for a, b in runs(weather["rain"].values > 0, least=60):
        said = f"it rains on every day of {_span(days, a, b)}: is the column rain?"
        yield "no dry day", "rain", a, b, said


def _odd_years(weather: xr.Dataset, days: Days) -> Iterator[_Found]:
    """Years of which a mean or a sum is odd.

    The usual temperature, 28 - 0.0072 latitude^2 - 0.0065 elevation [degC], is our own rule, meant
    for degrees of the wrong scale and not for odd climates.
    """
    whole = ~weather["filled"].values
    rain, tmin, wind = (weather[name].values for name in ("rain", "tmin", "wind_speed"))
    mean, clear = (weather["tmax"].values + tmin) / 2.0, _clear_sky(weather, days)
    latitude, elevation = float(weather.attrs["latitude"]), float(weather.attrs["elevation"])
    usual = 28.0 - 0.0072 * latitude**2 - 0.0065 * elevation
    share = weather["solar_radiation"].values / np.maximum(clear, 1e-6)
    damp = 100.0 * weather["vapour_pressure"].values / saturation_pressure(tmin)
    bright = measured(weather, "radiation") & whole & (clear > _DARK)
    wet = measured(weather, "humidity") & whole & (rain >= 0.005)
    windy, every = measured(weather, "wind") & whole, np.ones(len(days), dtype=bool)
    # values, the days that count and how many it takes; what is made of them, least and most
    checks: tuple[tuple[Any, ...], ...] = (
        ("calibration", "solar_radiation", share, bright, 300, _clearest, 0.80, 1.06,
         "the clearest days of {year} reach {found:.2f} of clear-sky radiation, too {how}?"),
        ("saturation", "vapour_pressure", damp, wet, 20, np.mean, 70.0, np.inf,
         "on rainy days of {year} humidity at the lowest temperature is only {found:.0f} %; it "
         "should be near 100 %."),
        ("year of rain", "rain", 1000.0 * rain, every, 360, np.sum, 50.0, 6000.0,
         "the rain of {year} comes to {found:,.0f} mm: is the unit right?"),
        ("wind", "wind_speed", wind, windy, 300, np.mean, 0.4, 8.0, "the mean wind of {year} is "
         "{found:.1f} m/s: is the unit right, and does the gauge turn?"),
        ("temperature", "tmax", mean, every, 360, np.mean, usual - _ODD, usual + _ODD,
         "the mean temperature of {year} is {found:.0f} C, where about {usual:.0f} C is usual "
         "there: C or F, north or south?"),
    )  # fmt: skip
    numbers, first = np.unique(days.astype("datetime64[Y]"), return_index=True)
    for year, a, b in zip(numbers, first.tolist(), [*first.tolist()[1:], len(days)], strict=True):
        for kind, name, column, counts, least, of, low, high, said in checks:
            values = column[a:b][counts[a:b] & ~np.isnan(column[a:b])]
            if len(values) >= least and not low <= (found := float(of(values))) <= high:
                how = "low: a dirty or shaded sensor" if found < 1 else "high: its calibration"
                yield kind, name, a, b, said.format(year=year, found=found, usual=usual, how=how)


def _clearest(share: NDArray[np.float64]) -> float:
    return float(np.quantile(share, 0.97))


def _span(days: Days, a: int, b: int) -> str:
    return str(days[a]) if b - a == 1 else f"{days[a]} to {days[b - 1]}"
