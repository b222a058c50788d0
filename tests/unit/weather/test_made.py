"""Made-up weather gives the normals back and hangs together as published.

Sampling errors are those of 200 years. A mean of a month scatters with the standard deviation of
that month between the years over the root of 200; three of these are let through, or as many as
make one false alarm in a hundred runs over all that is compared (the seed is fixed, so a run that
passes passes always).
"""

import dataclasses
import hashlib
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.special import gammaincinv

from bedtide.weather import climate, climates, made_text
from bedtide.weather.et0 import clear_sky_radiation, extraterrestrial_radiation
from bedtide.weather.made import (
    DAY_BEFORE,
    SAME_DAY,
    made_weather,
    memory_matrices,
    rain_shape,
    residuals,
    smooth_days,
    temperature_spread,
    wet_chances,
)
from bedtide.weather.normals import LENGTHS, MONTH_OF_DAY, Normals

YEARS = 200
SIGMAS = 4.0  # 8 climates x 12 months x 5 quantities are 480 comparisons: 3 % beyond 4 in all


@pytest.fixture(scope="module", params=list(climates()))
def long(request):
    """200 years of a climate: normals, month and year of each day, columns."""
    normals = climate(request.param)
    days, columns = made_weather(normals, years=YEARS, seed=11)
    months = days.astype("datetime64[M]").astype(int)
    return normals, months % 12, months // 12 - months[0] // 12, days, columns


def by_year(values, month, year, *, mean):
    """Means or sums of each month of each year, shape (years, 12)."""
    at = year * 12 + month
    sums = np.bincount(at, weights=values)
    return (sums / np.bincount(at) if mean else sums).reshape(YEARS, 12)


def standard_error(table):
    return table.std(axis=0, ddof=1) / math.sqrt(YEARS)


@pytest.mark.parametrize("name", ["tmax", "tmin"])
def test_mean_temperatures_of_the_months_are_the_normals(long, name):
    normals, month, year, _, columns = long
    table = by_year(columns[name], month, year, mean=True)
    wanted = normals.high if name == "tmax" else normals.low
    assert (np.abs(table.mean(axis=0) - wanted) < SIGMAS * standard_error(table) + 0.01).all()


def test_rain_and_rain_days_of_the_months_are_the_normals(long):
    normals, month, year, _, columns = long
    for values, wanted in (
        (columns["rain"], normals.rain),
        ((columns["rain"] > 0).astype(float), normals.rain_days),
    ):
        table = by_year(values, month, year, mean=False)
        # a month in which it rains once in a century may come out at none, with no spread
        allowed = np.maximum(SIGMAS * standard_error(table), SIGMAS / YEARS * (wanted > 0))
        assert (np.abs(table.mean(axis=0) - wanted) <= allowed).all()


def test_the_standard_error_of_rain_days_is_that_of_a_chain():
    """Wet days with memory r vary (1 + r) / (1 - r) times as much as those without."""
    flat = dataclasses.replace(
        climate("cool wet all year"), rain_days=0.4 * LENGTHS, rain=0.4 * LENGTHS * 6.0
    )
    days, columns = made_weather(flat, years=YEARS, seed=3)
    months = days.astype("datetime64[M]").astype(int)
    table = by_year(
        (columns["rain"] > 0) * 1.0, months % 12, months // 12 - months[0] // 12, mean=False
    )
    measured = table[:, [0, 2, 4, 6, 7, 9, 11]].std(ddof=1)  # months of 31 days
    assert measured == pytest.approx(math.sqrt(31 * 0.4 * 0.6 * 1.25 / 0.75), rel=0.06)


def test_mean_radiation_is_that_of_the_sunshine(long):
    normals, month, year, days, columns = long
    above = extraterrestrial_radiation(days, normals.latitude)
    share = by_year(columns["solar_radiation"], month, year, mean=True)
    wanted = (0.25 + 0.50 * normals.sunshine) * by_year(above, month, year, mean=True).mean(axis=0)
    # 0.005 are lost in cutting to two decimals
    allowed = SIGMAS * standard_error(share) + 0.01
    assert (np.abs(share.mean(axis=0) - wanted) < allowed).all()


def test_radiation_never_passes_a_clear_sky(long):
    normals, _, _, days, columns = long
    clear = clear_sky_radiation(
        extraterrestrial_radiation(days, normals.latitude), normals.elevation
    )
    assert (columns["solar_radiation"] <= clear).all()
    assert (columns["solar_radiation"] >= 0.0).all()


def test_wet_days_are_cooler_and_duller(long):
    _, month, _, _, columns = long
    wet = columns["rain"] > 0
    for at in range(12):
        here = month == at
        if min((here & wet).sum(), (here & ~wet).sum()) < 300:
            continue
        for name, least in (("tmax", 1.0), ("solar_radiation", 0.5)):
            dry_mean = columns[name][here & ~wet].mean()
            assert dry_mean - columns[name][here & wet].mean() > least
        sun = columns["solar_radiation"]
        assert sun[here & wet].mean() / sun[here & ~wet].mean() == pytest.approx(0.55, abs=0.05)


def test_the_high_is_never_below_the_low(long):
    *_, columns = long
    assert (columns["tmax"] >= columns["tmin"]).all()


def test_the_matrices_are_those_in_print_and_give_the_correlations_back():
    a, b = memory_matrices()
    # Richardson & Wright (1984), three decimals; M0 and M1 are rounded too, hence 0.003
    printed_a = [[0.567, 0.086, -0.002], [0.253, 0.504, -0.050], [-0.006, -0.039, 0.244]]
    printed_b = [[0.781, 0.0, 0.0], [0.328, 0.637, 0.0], [0.238, -0.341, 0.873]]
    assert a == pytest.approx(np.array(printed_a), abs=0.003)
    assert b == pytest.approx(np.array(printed_b), abs=0.003)
    assert a @ SAME_DAY @ a.T + b @ b.T == pytest.approx(SAME_DAY)
    assert a @ SAME_DAY == pytest.approx(DAY_BEFORE)


def test_departures_have_the_published_correlations():
    made = residuals(np.random.default_rng(5).standard_normal((100_000, 3)))
    # of 100 000 days that remember one another a correlation errs by about 0.005
    assert np.corrcoef(made.T) == pytest.approx(SAME_DAY, abs=0.015)
    assert made[1:].T @ made[:-1] / len(made) == pytest.approx(DAY_BEFORE, abs=0.02)
    assert made.mean(axis=0) == pytest.approx(np.zeros(3), abs=0.03)
    assert made.std(axis=0) == pytest.approx(np.ones(3), abs=0.02)


def test_temperatures_of_the_days_keep_them():
    """Through the Weibull range and the rounding, on days of one kind (it never rains)."""
    dry = dataclasses.replace(
        climate("hot and dry all year"), rain=np.zeros(12), rain_days=np.zeros(12)
    )
    days, columns = made_weather(dry, years=YEARS, seed=2)
    at = days.astype("datetime64[D]") - days.astype("datetime64[Y]").astype("datetime64[D]")
    day_of_year = np.minimum(at.astype(int), 364)
    left = []
    for name in ("tmax", "tmin"):
        mean = np.bincount(day_of_year, columns[name]) / np.bincount(day_of_year)
        smooth = np.convolve(np.tile(mean, 3), np.ones(15) / 15, "same")[365:730]
        left.append(columns[name] - smooth[day_of_year])
    high, low = left
    assert np.corrcoef(high, low)[0, 1] == pytest.approx(SAME_DAY[0, 1], abs=0.03)
    assert np.corrcoef(high[1:], high[:-1])[0, 1] == pytest.approx(DAY_BEFORE[0, 0], abs=0.03)
    assert np.corrcoef(low[1:], low[:-1])[0, 1] == pytest.approx(DAY_BEFORE[1, 1], abs=0.03)
    spread = temperature_spread(dry.high, dry.low)
    month = days.astype("datetime64[M]").astype(int) % 12
    for at_month in (0, 6):
        here = month == at_month
        assert high[here].std() == pytest.approx(spread[at_month], rel=0.05)
        assert low[here].std() == pytest.approx(0.85 * spread[at_month], rel=0.05)


def test_the_spread_by_hand():
    # means 5 and 25 in turn: range 20, mean 15; 1.5 + 2.4 +- 0.7
    high, low = np.array([10.0, 30.0] * 6), np.array([0.0, 20.0] * 6)
    assert temperature_spread(high, low)[:2] == pytest.approx([4.6, 3.2])


def test_chances_of_rain_where_nothing_changes():
    # Geng et al. (1986): 0.75 f, and 0.25 more after a wet day
    after_dry, after_wet = wet_chances(np.full(10, 0.4))
    assert after_dry == pytest.approx(np.full(10, 0.30))
    assert after_wet == pytest.approx(np.full(10, 0.55))


def test_chances_of_rain_keep_the_share_where_it_changes():
    share = np.array([0.0, 0.0, 0.3, 1.0, 1.0, 0.9, 0.05, 0.0, 0.5])
    after_dry, after_wet = wet_chances(share)
    before = np.roll(share, 1)
    assert before * after_wet + (1 - before) * after_dry == pytest.approx(share)
    assert ((after_dry >= 0) & (after_dry <= 1) & (after_wet >= 0) & (after_wet <= 1)).all()


def test_amounts_have_mean_and_shape():
    """Above the least of a rain day they are gamma: variance mean^2 / shape."""
    wet = dataclasses.replace(
        climate("monsoon"), rain_days=0.5 * LENGTHS, rain=0.5 * LENGTHS * 12.0, least_rain=1.0
    )
    _, columns = made_weather(wet, years=YEARS, seed=4)
    above = columns["rain"][columns["rain"] > 0] - 1.0
    shape = 12.0 / (1.83 * 12.0 - 2.16)
    assert rain_shape(12.0) == pytest.approx(shape)
    count = len(above)
    assert above.mean() == pytest.approx(11.0, abs=3 * 11.0 / math.sqrt(shape * count))
    # the variance of a variance of gamma amounts: (2 + 6 / shape) / n, relative
    relative = 3 * math.sqrt((2 + 6 / shape) / count)
    assert above.var() == pytest.approx(11.0**2 / shape, rel=relative)
    for part in (0.25, 0.75, 0.99):
        wanted = gammaincinv(shape, part) * 11.0 / shape
        assert np.quantile(above, part) == pytest.approx(wanted, rel=0.03, abs=0.1)


def test_dry_spells_are_as_long_as_a_chain_makes_them():
    """Lengths of spells of a chain are geometric: mean 1 / p."""
    flat = dataclasses.replace(
        climate("cool wet all year"), rain_days=0.3 * LENGTHS, rain=0.3 * LENGTHS * 6.0
    )
    _, columns = made_weather(flat, years=YEARS, seed=9)
    wet = (columns["rain"] > 0).astype(int)
    edges = np.flatnonzero(np.diff(wet))
    lengths = np.diff(edges)
    dry = lengths[wet[edges[:-1]] == 1]  # a spell that follows a wet day
    p = 0.75 * 0.3
    error = math.sqrt((1 - p) / p**2 / len(dry))
    assert dry.mean() == pytest.approx(1 / p, abs=3 * error)
    assert (dry >= 15).mean() == pytest.approx((1 - p) ** 14, abs=3 * math.sqrt(0.03 / len(dry)))


@pytest.mark.parametrize("name", list(climates()))
def test_no_jump_at_the_end_of_a_month(name):
    own = climate(name)
    first = np.concatenate(([1], np.diff(MONTH_OF_DAY))) != 0
    for values, low, high in (
        (own.high, -np.inf, np.inf),
        (own.low, -np.inf, np.inf),
        (own.rain_days / LENGTHS, 0.0, 1.0),
        (own.sunshine, 0.0, 1.0),
    ):
        daily = smooth_days(values, low=low, high=high)
        step = np.abs(daily - np.roll(daily, 1))
        assert step[first].max() <= 1.25 * step[~first].max()
        assert step.max() < np.ptp(values) / 15
        means = np.bincount(MONTH_OF_DAY, daily) / np.bincount(MONTH_OF_DAY)
        assert means == pytest.approx(values, abs=1e-9)
        assert daily.min() >= low
        assert daily.max() <= high


def test_a_month_without_weight_is_filled_in():
    weights = np.where(MONTH_OF_DAY == 6, 0.0, 1.0)
    daily = smooth_days([*[5.0] * 6, 0.0, *[5.0] * 5], weights)
    assert daily == pytest.approx(np.full(365, 5.0))
    assert smooth_days(np.zeros(12), np.zeros(365)) == pytest.approx(np.zeros(365))


def test_bounds_hold_where_a_month_lies_on_them():
    daily = smooth_days([0, 0, 0, 1, 1, 1, 0.5, 0, 0, 0, 0, 0], low=0.0, high=1.0)
    assert daily.min() == 0.0
    assert daily.max() == 1.0
    assert (daily[MONTH_OF_DAY == 4] == 1.0).all()


def test_bounds_and_months_moved_and_stretched_alike_move_and_stretch_the_days():
    monthly = np.array([0, 0, 0.1, 1, 1, 0.7, 0.5, 0.2, 0, 0.3, 0.1, 0])
    daily = smooth_days(monthly, low=0.0, high=1.0)
    moved = smooth_days(10.0 + 4.0 * monthly, low=10.0, high=14.0)
    assert moved == pytest.approx(10.0 + 4.0 * daily, abs=1e-9)


def test_the_same_seed_makes_the_same_file_and_another_another():
    own = climate("monsoon")
    digests = {
        hashlib.sha256(made_text(own, years=3, seed=seed).encode()).hexdigest()
        for seed in (1, 1, 2, 3)
    }
    assert len(digests) == 3


def test_the_south_has_its_summer_in_january():
    south = climate("cold winter and warm summer", latitude=-45.0)
    days, columns = made_weather(south, years=5)
    month = days.astype("datetime64[M]").astype(int) % 12
    for name in ("tmax", "solar_radiation"):
        assert columns[name][month == 0].mean() > columns[name][month == 6].mean() + 5.0


def test_without_sunshine_radiation_follows_from_the_range():
    own = dataclasses.replace(climate("hot dry summer"), sunshine=None)
    inland, coast = (
        made_weather(own, years=50, setting=setting)[1]["solar_radiation"].mean()
        for setting in ("inland", "coast")
    )
    days, _ = made_weather(own, years=50)
    month = days.astype("datetime64[M]").astype(int) % 12
    above = extraterrestrial_radiation(days, own.latitude)
    wanted = (0.16 * np.sqrt(own.high - own.low)[month] * above).mean()
    assert inland == pytest.approx(wanted, rel=0.02)
    assert coast > 1.1 * inland


def test_wind_has_the_mean_of_the_months():
    wind = np.array([4.0, 4.0, 3.5, 3.0, 2.5, 2.0, 2.0, 2.0, 2.5, 3.0, 3.5, 4.0])
    own = dataclasses.replace(climate("cool wet all year"), wind=wind)
    days, columns = made_weather(own, years=YEARS)
    month = days.astype("datetime64[M]").astype(int) % 12
    mean = np.bincount(month, columns["wind_speed"]) / np.bincount(month)
    # each day varies by half of its mean, by itself: of 6000 days 0.5 / 77
    assert mean == pytest.approx(wind, rel=4 * 0.5 / math.sqrt(28.25 * YEARS))
    assert columns["wind_speed"].min() > 0.0
    january = columns["wind_speed"][month == 0]  # 4 m/s in the months on either side as well
    assert january.std() / january.mean() == pytest.approx(0.5, abs=4 * 0.5 / math.sqrt(62 * YEARS))


def test_whole_years_leap_days_too():
    days, columns = made_weather(climate("monsoon"), years=5)
    assert (str(days[0]), str(days[-1])) == ("2020-01-01", "2024-12-31")
    assert len(days) == 5 * 365 + 2
    assert all(len(values) == len(days) for values in columns.values())


def spell_lengths(wet):
    """Lengths of dry and of wet spells that begin and end within the record."""
    edges = np.flatnonzero(np.diff(wet.astype(int)))
    lengths, after_wet = np.diff(edges), wet[edges[:-1]]
    return lengths[after_wet], lengths[~after_wet]


def test_the_page_says_the_spells_and_extremes_of_today():
    page = (Path(__file__).parents[3] / "docs" / "weather.md").read_text(encoding="utf-8")
    table = page.split("<!-- made-up spells -->\n")[1].split("<!-- end of spells -->")[0]
    made = []
    for name in climates():
        _, columns = made_weather(climate(name))
        wet = columns["rain"] > 0
        dry_spells, wet_spells = spell_lengths(wet)
        chance = wet[1:][~wet[:-1]].mean()
        made.append(
            f"| {name} | {dry_spells.mean():.1f} | {1 / chance:.1f} | {dry_spells.max()} | "
            f"{wet_spells.max()} | {columns['rain'].max():.0f} | {columns['tmax'].max():.0f} | "
            f"{columns['tmin'].min():.0f} |"
        )
    assert table.splitlines()[2:] == made


def test_against_four_years_of_a_real_place():
    """Made up from Seattle's own monthly means: alike in spells, calmer in months, as said."""
    real = pytest.importorskip("vega_datasets").data.seattle_weather()
    days = real["date"].to_numpy().astype("datetime64[D]")
    month = days.astype("datetime64[M]").astype(int) % 12
    rain = real["precipitation"].to_numpy()
    wet = rain >= 1.0

    def mean(values):
        return np.bincount(month, values) / np.bincount(month)

    own = Normals(
        name="Seattle",
        source="its own days",
        latitude=47.6,
        elevation=50.0,
        high=mean(real["temp_max"]),
        low=mean(real["temp_min"]),
        rain=np.bincount(month, rain) / 4,
        rain_days=np.bincount(month[wet], minlength=12) / 4,
        least_rain=1.0,
    )
    made_days, columns = made_weather(own, years=YEARS)
    made_wet = columns["rain"] > 0
    for kind, measured, made in zip(
        ("dry", "wet"), spell_lengths(wet), spell_lengths(made_wet), strict=True
    ):
        assert made.mean() == pytest.approx(measured.mean(), rel=0.15), kind
        assert made.mean() < measured.mean(), kind

    def spread_of_months(values, of):
        number = of.astype("datetime64[M]").astype(int)
        sums = np.bincount(number - number[0], values).reshape(-1, 12)
        return sums.std(axis=0, ddof=1).mean()

    assert round(spread_of_months(rain, days)) == 50
    assert round(spread_of_months(columns["rain"], made_days)) == 40
    real_spread = [real["temp_max"].to_numpy()[month == at].std() for at in range(12)]
    assert temperature_spread(own.high, own.low).mean() == pytest.approx(
        np.mean(real_spread), rel=0.15
    )
