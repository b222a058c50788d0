"""Extreme but legal months: coarse sand, clay, 6 to 150 cm, dry starts, 300 mm in a day, outlets
blocked, a demand of 12 mm a day, conductivity a hundredth and a hundredfold, fills of 100 m3.

`BEDTIDE_LONG=1` runs twenty thousand bed-months in place of a few hundred.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bedtide import run_many
from bedtide.bed import (
    Bed,
    Box,
    Crates,
    FalseFloor,
    Overflow,
    Pipes,
    Stone,
    Watering,
    example_bed,
)
from bedtide.mix import Mix, media, medium
from helpers.plain_weather import plain_weather
from helpers.random_beds import LONG, START

DAYS = 31
BATCHES, EACH = (100, 200) if LONG else (4, 75)


def mix_of(rng: np.random.Generator) -> Mix:
    if rng.random() < 0.6:
        mix = medium(str(rng.choice(media())))
    else:
        theta_s = rng.uniform(0.3, 0.95)
        alpha, n = np.exp(rng.uniform(np.log(0.3), np.log(150.0))), 1.0 + rng.uniform(0.05, 6.0)
        k_s = np.exp(rng.uniform(np.log(1e-3), np.log(100.0)))
        theta_r, exponent = rng.uniform(0.0, theta_s - 0.15), rng.choice([-1.0, 0.5, 3.0])
        mix = Mix(
            "odd", theta_r, theta_s, alpha, n, k_s, exponent, 500.0,
            k_s_low=1e-6, k_s_high=1e4, l_low=-2.0, l_high=10.0,
        )  # fmt: skip
    k_s = float(np.clip(mix.k_s * 10.0 ** rng.choice([-2.0, 0.0, 2.0]), 1e-5, 5e3))
    spread = {"k_s_low": min(mix.k_s_low, k_s), "k_s_high": max(mix.k_s_high, k_s)}
    return replace(mix, k_s=k_s, wetting=float(rng.choice([1.0, 1.4, 2.0])), **spread)


def bed_of(rng: np.random.Generator) -> Bed:
    high = float(rng.uniform(0.03, 0.3))
    diameter = float(rng.uniform(0.04, 0.19))
    reservoir = (
        Pipes(0.85 * diameter, diameter, int(rng.integers(1, int(0.6 / diameter) + 1)), 1.9),
        Crates(high, 0.95, float(rng.uniform(0.02, 0.4)), float(rng.choice([0.0, 0.3 * high]))),
        Stone(high, 0.4, float(rng.choice([0.0, 0.15])), 0.0),
        FalseFloor(high, 1.0, 0.1, 0.1 * high),
    )[int(rng.integers(4))]
    crown = diameter if isinstance(reservoir, Pipes) else high
    depth = float(np.exp(rng.uniform(np.log(0.06), np.log(1.5))))
    freeboard = float(rng.choice([0.0, 0.03, 0.1]))
    overflow = (
        Overflow(float(rng.uniform(0.3 * crown, crown + 0.5 * depth)), 0.025),
        Overflow(0.7 * crown, 0.025, "blocked"),
        Overflow(None, None, "none"),
    )[int(rng.choice([0, 0, 0, 1, 2]))]
    watering = (
        Watering("never"),
        Watering("below share", share=0.3),
        Watering("below share", share=1.0),
        Watering("every n days", every=3, volume=float(rng.choice([0.01, 0.2, 100.0]))),
    )[int(rng.integers(4))]
    return replace(
        example_bed(),
        reservoir=reservoir,
        box=Box(2.0, 0.6, crown + depth + freeboard, freeboard),
        overflow=overflow,
        watering=watering,
        wick_mix=mix_of(rng),
        top_mix=mix_of(rng),
        plantings=() if rng.random() < 0.3 else example_bed().plantings,
        start_level=float(rng.choice([0.0, 0.5, 1.0])),
    )


def weather_of(rng: np.random.Generator):
    rain = np.zeros(DAYS)
    kind = int(rng.integers(4))
    if kind == 1:
        rain = rng.exponential(10.0, DAYS)
    elif kind == 2:
        rain[rng.integers(0, DAYS, 4)] = rng.uniform(50.0, 300.0, 4)
    elif kind == 3:
        rain = rng.gamma(0.3, 30.0, DAYS)
    weather = plain_weather(str(START), DAYS, et0_mm=float(rng.choice([0.0, 3.0, 8.0, 12.0])))
    weather["rain"] = ("time", rain / 1000.0)
    return weather


@pytest.mark.parametrize("seed", range(BATCHES))
def test_nothing_fails_and_no_store_is_negative(seed: int) -> None:
    """A run whose account is off, or that isn't a number, is refused by run_many itself."""
    rng = np.random.default_rng(seed)
    beds = [bed_of(rng) for _ in range(EACH)]
    run = run_many(beds, weather_of(rng), [START], days=DAYS)
    for name in run.series._fields:
        values = getattr(run.series, name)
        assert np.isfinite(values).all(), name
        if name not in ("rise", "level"):
            assert values.min() >= 0.0, name
    rim = np.array([bed.box.freeboard for bed in beds])
    assert (run.series.standing_water <= rim + 1e-12).all()
    steps, _, safe, days = run.counts.T
    assert (steps >= 2 * DAYS).all()
    # The coarse way is a last resort: 0.8 % of the days in twenty thousand bed-months; one bed
    # without outlet and rim, full to the brim, can bring a batch to 3 %.
    assert days.sum() <= 0.05 * EACH * DAYS
    assert (safe >= days).all()
