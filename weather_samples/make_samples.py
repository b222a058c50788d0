"""Makes the daily weather of two invented places; run it and the same files come out again.

    python weather_samples/make_samples.py [FOLDER]

Wet and dry days follow a two-state Markov chain whose chances change with the season and with a
slow unrest of some weeks, so that wet spells and droughts persist. Amounts are gamma distributed.
Cloud follows rain, radiation is a share of clear sky, the range of temperature and the dew point
follow cloud and rain, temperature and wind remember the day before. Every figure below is our
own; none was fitted to a real station.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

FIRST, LAST = "1995-01-01", "2024-12-31"


@dataclass(frozen=True)
class Place:
    """An invented place. Pairs are (mean over the year, half the swing); peaks are days of year."""

    name: str
    seed: int
    latitude: float
    elevation: int
    temperature: tuple[float, float]
    warmest: float
    anomaly: tuple[float, float]
    spread: tuple[float, float]
    wet_after_dry: tuple[float, float]
    wet_after_wet: tuple[float, float]
    wettest: float
    unrest: float
    amount: tuple[float, float]
    clearness: tuple[float, float]
    dryness: tuple[float, float]
    wind: tuple[float, float]
    windiest: float


PLACES = (
    Place(
        name="Mistlebeck",
        seed=5402,
        latitude=54.2,
        elevation=110,
        temperature=(9.2, 5.9),
        warmest=203.0,
        anomaly=(2.6, 0.5),
        spread=(7.4, 2.0),
        wet_after_dry=(0.33, 0.04),
        wet_after_wet=(0.70, 0.05),
        wettest=340.0,
        unrest=0.5,
        amount=(6.2, 1.2),
        clearness=(0.0, 0.25),
        dryness=(0.6, 0.8),
        wind=(3.1, 0.7),
        windiest=15.0,
    ),
    Place(
        name="Brasaluz",
        seed=3761,
        latitude=37.6,
        elevation=60,
        temperature=(17.6, 8.3),
        warmest=208.0,
        anomaly=(2.2, 0.3),
        spread=(12.2, 3.2),
        wet_after_dry=(0.115, 0.105),
        wet_after_wet=(0.42, 0.22),
        wettest=5.0,
        unrest=0.6,
        amount=(8.0, 1.5),
        clearness=(1.5, 0.8),
        dryness=(1.6, 1.8),
        wind=(2.0, -0.4),
        windiest=20.0,
    ),
)


def season(pair: tuple[float, float], day: np.ndarray, peak: float) -> np.ndarray:
    """Value of each day of a year's wave, highest on the day `peak`."""
    return pair[0] + pair[1] * np.cos(2.0 * np.pi * (day - peak) / 365.25)


def remembering(random: np.random.RandomState, days: int, memory: float) -> np.ndarray:
    """Unit-variance noise that keeps a share `memory` of the day before."""
    shocks = random.standard_normal(days) * np.sqrt(1.0 - memory**2)
    values = np.empty(days)
    last = random.standard_normal()
    for i in range(days):
        last = memory * last + shocks[i]
        values[i] = last
    return values


def clear_sky(day: np.ndarray, latitude: float, elevation: float) -> np.ndarray:
    """Radiation of a cloudless day [MJ m-2 d-1], FAO-56 Eq. 21 to 25 and 37."""
    phi = np.deg2rad(latitude)
    tilt = 0.409 * np.sin(2.0 * np.pi * day / 365.0 - 1.39)
    nearness = 1.0 + 0.033 * np.cos(2.0 * np.pi * day / 365.0)
    sunset = np.arccos(-np.tan(phi) * np.tan(tilt))
    above = sunset * np.sin(phi) * np.sin(tilt) + np.cos(phi) * np.cos(tilt) * np.sin(sunset)
    return (0.75 + 2e-5 * elevation) * 24.0 * 60.0 / np.pi * 0.0820 * nearness * above


def logistic(value: np.ndarray) -> np.ndarray:
    """A share between 0 and 1."""
    return 1.0 / (1.0 + np.exp(-value))


def weather(place: Place) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Dates and columns of one place."""
    # RandomState and not Generator: its streams are promised never to change.
    random = np.random.RandomState(place.seed)
    dates = np.arange(np.datetime64(FIRST), np.datetime64(LAST) + np.timedelta64(1, "D"))
    day = (dates - dates.astype("datetime64[Y]")).astype(int) + 1.0
    count = len(dates)

    unrest = place.unrest * remembering(random, count, 0.95)
    chance = {}
    for state, pair in ((0, place.wet_after_dry), (1, place.wet_after_wet)):
        base = np.clip(season(pair, day, place.wettest), 0.005, 0.97)
        chance[state] = logistic(np.log(base / (1.0 - base)) + unrest)
    draw = random.random_sample(count)
    wet = np.zeros(count, dtype=bool)
    state = 0
    for i in range(count):
        state = int(draw[i] < chance[state][i])
        wet[i] = state
    mean = season(place.amount, day, place.wettest)
    rain = random.gamma(0.75, 1.0, count) * mean / 0.75
    rain = np.where(wet, np.maximum(np.round(rain, 1), 0.2), 0.0)

    heavy = np.log1p(rain)
    cloud = 0.8 * remembering(random, count, 0.45) + np.where(wet, 1.0 + 0.35 * heavy, 0.0)
    cloud = cloud - season(place.clearness, day, place.warmest)
    share = 0.22 + 0.76 * logistic(-1.1 * cloud + 0.2)
    radiation = share * clear_sky(day, place.latitude, place.elevation)

    warm = np.cos(2.0 * np.pi * (day - place.warmest) / 365.25)
    anomaly = season(place.anomaly, day, place.warmest + 182.0)
    middle = season(place.temperature, day, place.warmest)
    middle = middle + anomaly * remembering(random, count, 0.78) - np.where(wet, 1.3 * warm, 0.0)
    middle = middle + 2.2 * (share - 0.6) * warm
    spread = season(place.spread, day, place.warmest)
    spread = spread * (0.45 + 0.85 * share) * np.exp(0.16 * random.standard_normal(count))
    spread = np.maximum(spread, 1.5)
    tmax, tmin = middle + spread / 2.0, middle - spread / 2.0

    deficit = season(place.dryness, day, place.warmest)
    deficit = np.maximum(deficit, 0.2) * np.where(wet, 0.15, 0.6 + 0.9 * share)
    dew = tmin - deficit + 0.9 * remembering(random, count, 0.5)
    dew = np.minimum(dew, tmin + 0.8)

    gust = np.exp(0.42 * remembering(random, count, 0.55) - 0.09)
    wind = season(place.wind, day, place.windiest) * gust * np.where(wet, 1.15, 1.0)
    wind = np.maximum(wind, 0.3)
    columns = {
        "tmax (C)": tmax,
        "tmin (C)": tmin,
        "dew point (C)": dew,
        "wind at 2 m (m/s)": wind,
        "solar radiation (MJ/m2)": radiation,
        "rain (mm)": rain,
    }
    return dates, columns


def table(place: Place) -> str:
    """The file of one place as text."""
    dates, columns = weather(place)
    lines = [
        "# Invented weather of an invented place, made by make_samples.py",
        f"# place: {place.name} (invented)",
        f"# latitude: {place.latitude}",
        f"# elevation: {place.elevation} m",
        "# rain day: midnight",
        ",".join(["date", *columns]),
    ]
    for date, *values in zip(dates, *columns.values(), strict=True):
        # + 0.0 turns -0.0 into 0.0
        lines.append(",".join([str(date), *(f"{round(float(v), 1) + 0.0:.1f}" for v in values)]))
    return "\n".join(lines) + "\n"


def main(folder: Path) -> None:
    """Write one file for each place."""
    for place in PLACES:
        path = folder / f"{place.name.lower()}.csv"
        path.write_text(table(place), encoding="utf-8", newline="\n")
        print(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
