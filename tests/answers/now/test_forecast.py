"""The next fill and the day it is empty, against one plain run a past year; marks of a stick."""

import datetime
import math
import statistics
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from bedtide import run_many, run_season
from bedtide.answers.now.forecast import (
    HORIZON,
    Days,
    Known,
    Standing,
    days_after,
    joined_with,
    outlook,
    readings_of,
    walk,
    water_at,
    watered,
)
from bedtide.answers.now.summary import now_of
from bedtide.balance import set_store
from bedtide.bed import Watering, dead_storage, open_store, plan_area
from bedtide.errors import InputError
from bedtide.report.templates import render
from bedtide.weather import usual_rain_hours
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather

LAST = datetime.date(2024, 7, 3)
DAY = datetime.timedelta(days=1)
RULES = [
    {"when": "below share", "share": "30 %"},
    {"when": "below share", "share": "60 %", "check_every": "3 days", "amount": "20 L"},
    {"when": "every n days", "every": "5 days"},
    {"when": "weekdays", "weekdays": ["mon", "thu"]},
    {"when": "never"},
]


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    """Four years and a half of made-up rain and demand, its wind and humidity always the same."""
    days = (LAST - datetime.date(2020, 1, 1)).days + 1
    record = plain_weather("2020-01-01", days)
    random = np.random.default_rng(5)
    record["et0"][:] = random.uniform(0.002, 0.008, days)
    record["rain"][:] = np.where(random.random(days) < 0.2, random.exponential(0.006, days), 0.0)
    return record


def made_up_future(weather: xr.Dataset, year: int, forecast: xr.Dataset | None) -> xr.Dataset:
    """The record, a forecast, then the days of a past year under the dates that follow."""
    ahead = 0 if forecast is None else forecast.sizes["time"]
    first = (LAST + (1 + ahead) * DAY).replace(year=year)
    tail = weather.sel(time=slice(str(first), str(first + (HORIZON - ahead - 1) * DAY)))
    begin = np.datetime64(LAST + (1 + ahead) * DAY)
    tail = tail.assign_coords(time=(begin + np.arange(HORIZON - ahead)).astype("datetime64[ns]"))
    return xr.concat([weather, *([] if forecast is None else [forecast]), tail], dim="time")


@pytest.mark.parametrize("with_forecast", [False, True])
@pytest.mark.parametrize(
    "rule", RULES, ids=[rule["when"] + rule.get("share", "") for rule in RULES]
)
def test_each_past_year_is_a_plain_run_of_its_days(weather, rule, with_forecast):
    bed = bed_with({"watering": rule})
    forecast = plain_weather(str(LAST + DAY), 4, et0_mm=3.0) if with_forecast else None
    first = datetime.date(2020, 1, 1)
    walked = walk([bed], weather, [])
    found = outlook(bed, Days(weather, forecast), walked.state, counted=first)
    assert found.years == (2020, 2021, 2022, 2023)
    assert found.left.shape == (HORIZON, 4)
    for at, year in enumerate(found.years):
        whole = run_season(bed, made_up_future(weather, year, forecast))
        ahead = whole.isel(time=slice(-HORIZON, None))
        filled = np.flatnonzero(ahead["refill"].to_numpy() > 0)
        if rule["when"] == "never":
            gone = np.flatnonzero(ahead["open_water"].to_numpy() - dead_storage(bed) < 0.0005)
            assert found.empty[at] == (gone[0] if gone.size else HORIZON)
            assert found.fill[at] == found.empty[at]
            continue
        assert filled.size
        assert found.fill[at] == filled[0]
        poured = float(ahead["refill"][filled[0]])
        # The column reads what its store holds from a table, which this does not.
        assert found.poured[at] == pytest.approx(poured, rel=1e-4)
        # Until that fill nothing else is different either.
        np.testing.assert_allclose(
            found.left[: filled[0], at], ahead["open_water"].to_numpy()[: filled[0]], rtol=1e-9
        )


def test_a_bed_that_nobody_fills_is_empty_when_a_plain_run_says(weather):
    bed = bed_with({"watering": {"when": "never"}})
    start = [Known(LAST + DAY, "is", 0.060)]
    walked = walk([bed], weather, start)
    assert walked.state.open_water[0] * plan_area(bed) == pytest.approx(0.060)
    told = now_of(Standing(bed, start, "reading"), Days(weather))
    days = [case.empty for case in told.cases]
    assert all(days)
    assert told.empty_earliest == min(days)
    assert told.empty_latest == max(days)
    assert told.fill == told.empty


def test_figures_of_a_store_that_was_read(weather):
    """In litres and centimetres, of a bed of 1.2 m2 that was read at 6 cm under a lip at 9 cm."""
    bed = bed_with()
    litres = {cm: water_at(f"{cm} cm", bed, LAST, where="") * 1000 for cm in (6, 9)}
    dead = dead_storage(bed) * 1200
    start = [Known(LAST + DAY, "is", litres[6] / 1000)]
    told = now_of(Standing(bed, start, "reading"), Days(weather))
    assert told.level_cm == pytest.approx(6.0)
    assert told.store_litres == pytest.approx(litres[6])
    assert told.usable_litres == pytest.approx(litres[6] - dead)
    assert told.usable_full_litres == pytest.approx(litres[9] - dead)
    assert (told.notes_before, told.known_on) == (0, "2024-07-04")
    walked = walk([bed], weather, start)
    found = outlook(bed, Days(weather), walked.state, counted=LAST)
    assert told.balance_error_mm == pytest.approx(max(walked.error, found.error) * 1000, rel=0.5)
    usable = np.maximum(found.left * 1200 - dead, 0.0)  # at times nothing, not less
    assert usable.min() == 0.0
    shares = np.quantile(usable, [0.05, 0.5, 0.95], axis=1, method="weibull").T
    for day, (low, middle, high) in zip(told.ahead, shares, strict=True):
        assert day.usable_litres_low == pytest.approx(low)
        assert day.usable_litres == pytest.approx(middle)
        assert day.usable_litres_high == pytest.approx(high)
    # Under the foot of its legs a bed has water that no mix reaches.
    legs = layered("crates", wick_foot="3 cm")
    stands = Known(LAST + DAY, "is", water_at("2 cm", legs, LAST, where=""))
    low = now_of(Standing(legs, [stands], "reading"), Days(weather))
    assert (low.store_litres > 0.0, low.usable_litres) == (True, 0.0)


def test_without_a_reading_the_store_is_that_of_a_plain_run(weather):
    bed = bed_with()
    whole = run_season(bed, weather).isel(time=-1)
    told = now_of(Standing(bed), Days(weather))
    assert told.store_litres == pytest.approx(float(whole["open_water"]) * 1200, rel=1e-9)
    assert told.level_cm == pytest.approx(float(whole["level"]) * 100, rel=1e-3)


def test_a_fill_counts_the_days_of_a_rule_anew(weather):
    bed = bed_with({"watering": {"when": "every n days", "every": "6 days"}})
    fills = [Known(LAST - ago * DAY, "lip") for ago in (3, 1)]
    told = now_of(Standing(bed, fills, "notes"), Days(weather))
    assert told.fill == told.fill_earliest == told.fill_latest == str(LAST + 5 * DAY)


def test_after_a_fill_nobody_fills_but_the_keeper(weather):
    filled = LAST - 20 * DAY
    alone = bed_with({"watering": {"when": "never"}})
    kept = walk([bed_with()], weather, [Known(filled, "lip")])
    left = walk([alone], weather, [Known(filled, "lip")])
    by_rule = walk([bed_with()], weather, [])
    # The mix of the one that was kept before is wetter, so a little more is left; no fill is in it.
    assert left.state.open_water[0] <= kept.state.open_water[0] < left.state.open_water[0] + 0.005
    assert by_rule.state.open_water[0] > kept.state.open_water[0] + 0.005


def test_from_a_reading_on_it_is_a_plain_run_to_the_last_day(weather):
    """By hand: the record to the eve of the reading, the store set, then nobody fills."""
    bed, read = bed_with(), LAST - 9 * DAY
    weather = weather.sel(time=slice("2024-01-01", None))
    first = datetime.date(2024, 1, 1)
    eve = run_many([bed], weather, [first], days=(read - first).days).end
    begun = set_store(eve, [bed], np.array([0.060 / 1.2]))
    alone = replace(bed, watering=Watering(when="never"))
    end = run_many([alone], weather, [read], days=10, start=begun).end
    walked = walk([bed], weather, [Known(read, "is", 0.060)])
    assert walked.begun == read
    assert walked.state.open_water[0] == pytest.approx(end.open_water[0], rel=1e-9)


def test_water_on_the_mix_is_rain_of_its_day(weather):
    days = (datetime.date(2020, 1, 1), LAST, LAST + DAY)  # the last is after the record
    known = [Known(day, "top", 0.012) for day in days]
    bed = bed_with()
    rain = watered([bed], weather, known)[0].rain_in - watered([bed], weather, [])[0].rain_in
    assert rain[[0, -1]] == pytest.approx([0.010, 0.010])  # on 1.2 m2
    assert rain.sum() == pytest.approx(0.020)


def test_a_fill_to_the_lip_takes_nothing_from_what_stands_above_it(weather):
    bed, today = bed_with(), LAST + DAY
    above = water_at("9.8 cm", bed, LAST, where="")
    known = [Known(today, "is", above), Known(today, "lip")]
    assert walk([bed], weather, known).state.open_water[0] * 1.2 == pytest.approx(above)


def test_what_stands_under_the_feet_of_the_legs_is_not_counted_as_left(weather):
    legs = layered("crates", wick_foot="3 cm")
    dead = dead_storage(legs)
    assert dead > 0.02
    start = [Known(LAST + DAY, "is", water_at("6 cm", legs, LAST, where=""))]
    found = outlook(legs, Days(weather), walk([legs], weather, start).state, counted=LAST)
    for at, day in enumerate(found.empty):
        assert 0 < day < HORIZON
        before, after = found.left[[day - 1, day], at]
        assert before - dead >= 0.0005 > after - dead  # half a millimetre is empty
    marks = readings_of(legs, weather, "metric")
    assert [mark.usable_litres for mark in marks[:3]] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert marks[5].usable_litres == pytest.approx(marks[5].litres - dead * 1200)


def test_readings_by_height_volume_and_share():
    # Four pipes of 10 cm inside and 12 outside, 2 m long, in 2 m by 60 cm, lip at 9 cm.
    bed = bed_with()
    inner, wall = 0.05, 0.01
    up = 0.06 - wall  # of the water over the lowest point inside
    segment = inner**2 * math.acos((inner - up) / inner)
    segment -= (inner - up) * math.sqrt(2 * inner * up - up**2)
    by_height = water_at("6 cm", bed, LAST, where="--level")
    assert by_height == pytest.approx(4 * 2.0 * segment, rel=2e-3)
    assert water_at("30 L", bed, LAST, where="--level") == pytest.approx(0.030)
    full = water_at("9 cm", bed, LAST, where="--level")
    dead = dead_storage(bed) * plan_area(bed)
    share = water_at("40 %", bed, LAST, where="--level")
    assert share == pytest.approx(dead + 0.4 * (full - dead))
    assert water_at("100 %", bed, LAST, where="--level") == pytest.approx(full)
    # Four pipes full to the top, 2 m long: 62.83 L.
    assert water_at("62.8 L", bed, LAST, where="--level") == pytest.approx(0.0628)
    with pytest.raises(InputError, match="from nothing to 63 L"):
        water_at("62.9 L", bed, LAST, where="--level")


@pytest.mark.parametrize(
    ("reading", "part"),
    [("9", '"9" has no unit'), ("900 %", "100 %"),
     ("900 L", "nothing to"), ("60 cm", "42 cm"), ("-2 cm", "nothing to"),
     ("3 kg", "no height, volume or share"), ("full", "no height, volume or share")],
)  # fmt: skip
def test_a_reading_that_cannot_be_is_refused(reading, part):
    with pytest.raises(InputError, match=part):
        water_at(reading, bed_with(), LAST, where="--level")


def test_a_forecast_that_leaves_a_gap_or_is_over_is_refused(weather):
    with pytest.raises(InputError, match="begins on 2024-07-05, but the weather record ends on"):
        days_after(weather, plain_weather("2024-07-05", 5), where="f.csv")
    with pytest.raises(InputError, match="ends on 2024-07-02, before the weather record does"):
        days_after(weather, plain_weather("2024-06-25", 8), where="f.csv")
    days = days_after(weather, plain_weather("2024-07-02", 8), where="f.csv")
    assert days.overlap == 2
    joined = joined_with(weather, days.forecast)
    assert np.diff(joined["time"].to_numpy()).max() == np.timedelta64(1, "D")
    assert str(joined["time"].to_numpy()[-1])[:10] == "2024-07-09"


def test_the_hours_of_a_records_rain_stay_with_it():
    """A forecast knows none: those of the record run as they did, its own as they usually do."""
    record = plain_weather("2024-05-01", 40, et0_mm=3.0, rain_mm={"2024-06-02": 60.0})
    later = plain_weather("2024-06-10", 5, et0_mm=3.0, rain_mm={"2024-06-12": 60.0})
    usual = run_many([bed_with()], joined_with(record, later), [datetime.date(2024, 5, 1)], days=45)
    shares = np.zeros((40, 24))
    shares[32, 5] = 1.0  # all of it in one hour
    record["rain_hours"] = (("time", "hour"), shares)
    joined = joined_with(record, later)
    alone = run_many([bed_with()], record, [datetime.date(2024, 5, 1)], days=40)
    on = run_many([bed_with()], joined, [datetime.date(2024, 5, 1)], days=45)
    np.testing.assert_array_equal(on.series.overflow[:40], alone.series.overflow)
    assert abs(on.series.overflow[32, 0] - usual.series.overflow[32, 0]) > 1e-5
    joined["rain_hours"][42] = usual_rain_hours(1)[0]
    said = run_many([bed_with()], joined, [datetime.date(2024, 5, 1)], days=45)
    np.testing.assert_array_equal(on.series.overflow, said.series.overflow)


def test_without_forecast_and_past_years_there_is_no_answer():
    weather = plain_weather("2024-05-01", 60)
    with pytest.raises(InputError, match="no forecast, and no past year"):
        now_of(Standing(bed_with()), Days(weather))
    told = now_of(Standing(bed_with()), Days(weather, plain_weather("2024-06-30", 10)))
    assert told.years == ()
    assert told.days_ahead == 10
    assert told.cases[0].year is None


def test_thirstier_plants_are_a_bed_that_is_described_so(weather):
    # Exposure and crop coefficients lie within 0.80 and 1.25 each, evenly (docs/doubt.md): 18 %.
    doubt = math.sqrt(2.0 / 12.0) * math.log(1.25 / 0.80)
    described = {"site.exposure": 1.0}
    start = [Known(LAST + DAY, "is", 0.060)]
    told = now_of(Standing(bed_with(described), start, "reading"), Days(weather))
    assert told.thirst == pytest.approx(math.exp(1.645 * doubt))
    thirsty = bed_with({"site.exposure": told.thirst})
    assert told.empty_if_thirsty == now_of(Standing(thirsty, start), Days(weather)).empty
    assert told.empty_if_thirsty < told.empty


@pytest.mark.parametrize("form", ["pipes", "crates"])
def test_an_overflow_that_should_have_been_seen_is_told(form):
    """Filled to the lip on the 1st, 60 mm of rain on the 2nd: most of it runs out that day."""
    bed = bed_with() if form == "pipes" else layered(form)
    weather = plain_weather("2023-01-01", 540, et0_mm=2.0, rain_mm={"2024-06-02": 60.0})
    days = [datetime.date(2024, 6, day) for day in (1, 2, 3, 5)]
    known = [Known(days[0], "lip"), *(Known(day, "dry") for day in days[1:])]
    told = now_of(Standing(bed, known, "notes"), Days(weather))
    day, after = told.unseen_overflow  # the mix goes on draining on the 3rd
    assert (day.date, after.date) == ("2024-06-02", "2024-06-03")
    walked = walk([bed], weather, known)
    assert walked.begun == days[0]
    assert day.litres == pytest.approx(float(walked.overflow[1, 0]) * 1200)  # of 1.2 m2
    assert 30.0 < day.litres + after.litres < 72.0  # 60 mm on 1.2 m2 are 72 L
    for closed in ("none", "blocked"):  # and where nothing can run out, nothing is missed
        shut = replace(bed, overflow=replace(bed.overflow, state=closed))
        assert now_of(Standing(shut, known, "notes"), Days(weather)).unseen_overflow == ()
    for units in ("metric", "us"):
        text = render("answers/now/text.j2", units=units, width=60, s=told)
        said = " ".join(text.split())
        assert "You saw no overflow on 2 June and 3 June, when about " in said
        assert "That is the weather's doubt" not in said  # one past year has no range
        assert max(map(len, text.splitlines())) <= 60


@pytest.mark.parametrize(("rain", "unseen"), [(30.0, []), (60.0, ["2024-06-01"])])
def test_an_overflow_is_missed_only_where_the_water_would_stand_well_over_the_lip(rain, unseen):
    """From its first day on, and by 1.5 cm: the 9 cm up to the lip hold some 50 mm of water."""
    bed, first = bed_with(), datetime.date(2024, 6, 1)
    weather = plain_weather("2023-01-01", 530, et0_mm=1.0, rain_mm={str(first): rain})
    before = Known(first - DAY, "dry")  # of a day of which nothing is known
    known = [before, *(Known(first, what) for what in ("lip", "dry"))]
    ran_out = float(walk([bed], weather, known).overflow[0, 0])
    rise = 0.09 * ran_out / float(open_store(0.09, bed))
    assert ran_out > 0.0
    assert (rise > 0.015) == bool(unseen)
    told = now_of(Standing(bed, known, "notes"), Days(weather))
    assert [day.date for day in told.unseen_overflow] == unseen


def test_a_level_above_the_outlet_is_told(weather):
    bed = bed_with()  # its lip at 9 cm; a stick errs by 5 mm, three of these are told
    heights = {3: "10.4 cm", 2: "10.6 cm", 1: "8 cm"}
    known = [
        Known(LAST - ago * DAY, "is", water_at(height, bed, LAST, where=""))
        for ago, height in heights.items()
    ]
    told = now_of(Standing(bed, known, "notes"), Days(weather))
    assert told.over_lip == ("2024-07-01",)
    text = render("answers/now/text.j2", s=told)
    assert "It stood above the outlet on 1 July: see whether the outlet is blocked." in text


# --- the marks of a stick ----------------------------------------------------------------------


def test_litres_of_a_layer_by_hand():
    # 2 m by 60 cm are 12 L in each centimetre, less a tenth of legs with mix, less a tenth of
    # plastic: 12 x 0.9 x 0.9 = 9.72 L; the lip at 9 cm.
    marks = readings_of(layered("crates"), plain_weather("2022-01-01", 800), "metric")
    assert [mark.height_cm for mark in marks] == pytest.approx(list(range(1, 10)))
    assert [mark.litres for mark in marks] == pytest.approx([9.72 * n for n in range(1, 10)])
    inches = readings_of(layered("crates"), plain_weather("2022-01-01", 800), "us")
    assert [mark.height_cm for mark in inches[:2]] == pytest.approx([1.27, 2.54])
    assert inches[-1].height_cm == pytest.approx(9.0)


def test_days_are_those_to_an_empty_store_in_the_middle_year():
    """Every mark of every middle of July by itself, its evenings counted one by one."""
    weather = plain_weather("2020-01-01", 1400, et0_mm=4.0)
    wetter = weather["time"].dt.year == 2022
    weather["et0"] = weather["et0"] * (1.5 - 0.8 * wetter)  # a mild year between thirsty ones
    bed = bed_with()
    marks = readings_of(bed, weather, "metric")
    for mark in (marks[3], marks[-1]):
        found = []
        for year in (2020, 2021, 2022, 2023):
            day = datetime.date(year, 7, 15)
            eve = run_many([bed], weather, [day - datetime.timedelta(days=30)], days=30).end
            begun = set_store(eve, [bed], np.array([open_store(mark.height_cm / 100, bed)]))
            alone = replace(bed, watering=Watering(when="never"))
            run = run_many([alone], weather, [day], days=60, start=begun)
            store = run.series.open_water[:, 0] - dead_storage(bed)
            # Half a millimetre is empty.
            found.append(next(n for n in range(60) if store[n] < 0.5e-3))
        assert len(set(found)) > 1
        assert mark.days[7] == statistics.median(found)
    assert marks[-1].days[7] > marks[3].days[7] > 0
    assert all(days < 60 for days in marks[-1].days.values())


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("et0_mm", [0.0, 4.0])
def test_the_table_fits_into_sixty_columns(units, et0_mm):
    bed, weather = bed_with(), plain_weather("2022-01-01", 900, et0_mm=et0_mm)
    stick = readings_of(bed, weather, units)
    told = now_of(Standing(bed), Days(weather), stick=stick)
    text = render("answers/now/text.j2", units=units, width=60, s=told)
    assert max(map(len, text.splitlines())) <= 60
    assert f"Stick {'cm' if units == 'metric' else 'in'}" in text
    assert ("Jul" in text) == (et0_mm > 0)
    assert all(each.isprintable() for each in text.splitlines())
