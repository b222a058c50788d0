"""Stretches of a record that weather seldom makes and broken stations often do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import printable
from bedtide.weather.et0 import clear_sky_radiation, extraterrestrial_radiation, saturation_pressure
from bedtide.weather.record import runs

if TYPE_CHECKING:
    import xarray as xr


Days = NDArray[np.datetime64]


@dataclass(frozen=True)
class Suspicion:
    """A stretch that a careful reader would look at."""

    kind: str  # stuck, dry month, jump, clear sky, calibration, saturation, no dry day, ...
    quantity: str  # variable
    first: np.datetime64
    last: np.datetime64
    sentence: str


# what a variable is called, the flag that says it was measured, days of one value that are too many
_STUCK = {
    "tmax": ("highest temperature", "temperature", 7),
    "tmin": ("lowest temperature", "temperature", 7),
    "wind_speed": ("wind", "wind", 7),
    "solar_radiation": ("radiation", "radiation", 5),
    "vapour_pressure": ("humidity", "humidity", 7),
}
_WET_MONTH = 0.030  # [m]
_RARE = 1e-3  # a chance
_ODD_CLIMATE = 17.0  # [K]
_CLEAR_SLACK = 1.10  # times clear-sky radiation: FAO-56 annex 5, from memory
_ENVELOPE = (0.80, 1.06)  # of clear-sky radiation that the clearest days of a year reach


def measured(weather: xr.Dataset, name: str) -> NDArray[np.bool_]:
    """Whether a quantity was measured, day by day, from the flags of the record."""
    flag = weather["measured"]
    names = str(flag.attrs["flag_meanings"]).split()
    masks = np.atleast_1d(flag.attrs["flag_masks"])
    mask = int(masks[names.index(name)])
    return np.asarray((flag.values.astype(np.int64) & mask) != 0)


def suspicions(weather: xr.Dataset) -> list[Suspicion]:
    """Stretches that weather seldom makes and broken stations often do, by date.

    Radiation against clear sky and humidity against saturation follow annex 5 of FAO-56 (from
    memory); the other limits are our own.
    """
    days = weather["time"].values.astype("datetime64[D]")
    found: list[Suspicion] = []
    for make in (_stuck, _dry_months, _jumps, _sky, _saturation, _never_dry, _wind, _warmth):
        found += make(weather, days)
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
    if "doubts" not in weather.attrs:
        return []
    found = []
    for sentence, span in zip(weather.attrs["doubts"], weather.attrs["doubt_days"], strict=True):
        first, last = (np.datetime64(day, "D") for day in span.split("/"))
        if days is None or (first <= days[-1] and last >= days[0]):
            found.append(sentence)
    return found


def _stuck(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    for name, (words, flag, least) in _STUCK.items():
        known = measured(weather, flag) & ~weather["filled"].values
        values = weather[name].values
        same = np.concatenate(([False], (values[1:] == values[:-1]) & known[1:] & known[:-1]))
        for a, b in runs(same):
            count = b - a + 1
            if count >= least:
                yield Suspicion(
                    "stuck",
                    name,
                    days[a - 1],
                    days[b - 1],
                    f"{words} is the same on {count} days running, {days[a - 1]} to "
                    f"{days[b - 1]}: a stuck sensor?",
                )


def _dry_months(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    """Months of zero that the dry spells of that season would make less than once in a thousand."""
    rain = weather["rain"].values
    month = days.astype("datetime64[M]").astype(np.int64)
    numbers, first, size = np.unique(month, return_index=True, return_counts=True)
    sums = np.add.reduceat(rain, first)
    wet = rain > 0
    begins = ~wet[:-1]
    ends = wet[1:]
    for i in range(1, len(numbers) - 1):
        length = int(
            (
                (numbers[i] + 1).astype("datetime64[M]").astype("datetime64[D]") - days[first[i]]
            ).astype(np.int64)
        )
        beside = min(sums[i - 1], sums[i + 1])
        if sums[i] > 0 or beside < _WET_MONTH or size[i] < length:
            continue
        season = np.isin((month[:-1] - numbers[i]) % 12, (11, 0, 1)) & (month[:-1] != numbers[i])
        pairs = int((season & begins).sum())
        if not pairs:
            continue
        chance = (1.0 - (season & begins & ends).sum() / pairs) ** length
        if chance < _RARE:
            last = days[first[i]] + np.timedelta64(length - 1, "D")
            yield Suspicion(
                "dry month",
                "rain",
                days[first[i]],
                last,
                f"no rain at all from {days[first[i]]} to {last}, between months of "
                f"{sums[i - 1] * 1000:.0f} and {sums[i + 1] * 1000:.0f} mm: a blocked gauge, or "
                "gaps written as zero?",
            )


def _jumps(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    for name in ("tmax", "tmin"):
        values = weather[name].values
        if len(values) < 30 or np.isnan(values).any():
            continue
        step = np.diff(values)
        usual = 1.4826 * float(np.median(np.abs(step - np.median(step))))
        limit = max(15.0, 6.0 * usual)
        there = (np.abs(step[:-1]) > limit) & (np.abs(step[1:]) > limit)
        there &= np.sign(step[:-1]) != np.sign(step[1:])
        for i in np.flatnonzero(there) + 1:
            yield Suspicion(
                "jump",
                name,
                days[i],
                days[i],
                f"{_STUCK[name][0]} of {values[i]:.1f} C on {days[i]} is "
                f"{abs(step[i - 1]):.0f} degrees from the days before and after.",
            )


def _sky(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    known = measured(weather, "radiation") & ~weather["filled"].values
    if not known.any():
        return
    above = extraterrestrial_radiation(days, float(weather.attrs["latitude"]))
    clear = clear_sky_radiation(above, float(weather.attrs["elevation"]))
    sun = weather["solar_radiation"].values
    over = known & (sun > clear * _CLEAR_SLACK + 0.5)
    for a, b in runs(over):
        yield Suspicion(
            "clear sky",
            "solar_radiation",
            days[a],
            days[b - 1],
            f"radiation on {_span(days, a, b)} is up to "
            f"{float((sun[a:b] / np.maximum(clear[a:b], 0.1)).max()):.2f} times that of a clear "
            "sky.",
        )
    share = np.where(clear > 2.0, sun / np.maximum(clear, 1e-6), np.nan)
    for year, part in _years(days):
        values = share[part][known[part] & ~np.isnan(share[part])]
        if len(values) < 300:
            continue
        best = float(np.quantile(values, 0.97))
        if not _ENVELOPE[0] <= best <= _ENVELOPE[1]:
            what = "too low: a dirty or shaded sensor" if best < 1 else "too high: its calibration"
            yield Suspicion(
                "calibration",
                "solar_radiation",
                days[part][0],
                days[part][-1],
                f"the clearest days of {year} reach {best:.2f} of clear-sky radiation, {what}?",
            )


def _saturation(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    known = measured(weather, "humidity") & ~weather["filled"].values
    wet = known & (weather["rain"].values >= 0.005)
    night = weather["vapour_pressure"].values / saturation_pressure(weather["tmin"].values)
    for year, part in _years(days):
        values = night[part][wet[part]]
        if len(values) >= 20 and float(np.mean(values)) < 0.70:
            yield Suspicion(
                "saturation",
                "vapour_pressure",
                days[part][0],
                days[part][-1],
                f"on rainy days of {year} humidity at the lowest temperature is only "
                f"{100 * float(np.mean(values)):.0f} %; it should be near 100 %.",
            )


def _never_dry(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    for a, b in runs(weather["rain"].values > 0):
        if b - a >= 60:
            yield Suspicion(
                "no dry day",
                "rain",
                days[a],
                days[b - 1],
                f"it rains on every day of {_span(days, a, b)}: is the column rain?",
            )
    for year, part in _years(days):
        total = float(weather["rain"].values[part].sum())
        if part.sum() >= 360 and not 0.05 <= total <= 6.0:
            yield Suspicion(
                "year of rain",
                "rain",
                days[part][0],
                days[part][-1],
                f"the rain of {year} comes to {total * 1000:,.0f} mm: is the unit right?",
            )


def _wind(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    known = measured(weather, "wind") & ~weather["filled"].values
    for year, part in _years(days):
        values = weather["wind_speed"].values[part][known[part]]
        if len(values) >= 300 and not 0.4 <= float(values.mean()) <= 8.0:
            yield Suspicion(
                "wind",
                "wind_speed",
                days[part][0],
                days[part][-1],
                f"the mean wind of {year} is {float(values.mean()):.1f} m/s: is the unit right, "
                "and does the gauge turn?",
            )


def _warmth(weather: xr.Dataset, days: Days) -> Iterator[Suspicion]:
    """Years far from 28 - 0.0072 latitude^2 - 0.0065 elevation [degC], our own rule.

    It is meant for degrees of the wrong scale, not for odd climates.
    """
    mean = (weather["tmax"].values + weather["tmin"].values) / 2
    latitude, elevation = float(weather.attrs["latitude"]), float(weather.attrs["elevation"])
    usual = 28.0 - 0.0072 * latitude**2 - 0.0065 * elevation
    for year, part in _years(days):
        if part.sum() >= 360 and abs(float(mean[part].mean()) - usual) > _ODD_CLIMATE:
            yield Suspicion(
                "temperature",
                "tmax",
                days[part][0],
                days[part][-1],
                f"the mean temperature of {year} is {float(mean[part].mean()):.0f} C, where about "
                f"{usual:.0f} C is usual there: C or F, north or south?",
            )


def _years(days: Days) -> Iterator[tuple[int, NDArray[np.bool_]]]:
    years = days.astype("datetime64[Y]").astype(np.int64) + 1970
    for year in np.unique(years):
        yield int(year), years == year


def _span(days: Days, a: int, b: int) -> str:
    return str(days[a]) if b - a == 1 else f"{days[a]} to {days[b - 1]}"
