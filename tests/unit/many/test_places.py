"""Figures of many places: each as for that place alone, frost by hand."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from bedtide import dryness, example_bed, read_weather, refills, run_season, sample_weather, wetness
from bedtide.bed import Watering
from bedtide.errors import BalanceError
from bedtide.many import BY_MONTH, Ask, place_figures, places
from bedtide.many.places import frost
from bedtide.many.stay import away
from bedtide.readings import by_month_of_year, water_account
from bedtide.weather import open_places, ready_places
from bedtide.weather.options import Options

LEAVE = datetime.date(2027, 7, 10)
SPAN = {"start": "2005-01-01", "end": "2015-12-31"}


@pytest.fixture(scope="module")
def weathers():
    return [read_weather(sample_weather(name), **SPAN) for name in ("brasaluz", "mistlebeck")]


def ready_of(*paths, **span):
    options = Options(**span)
    return ready_places(open_places(paths, options), options)


@pytest.fixture(scope="module")
def stations(tmp_path_factory):
    """Files of a dry place, of one without rain, of a wet one."""
    bad = tmp_path_factory.mktemp("stations") / "bad.csv"
    text = sample_weather("brasaluz").read_text(encoding="utf-8")
    bad.write_text(text.replace("rain", "snow"), encoding="utf-8")
    return [sample_weather("brasaluz"), bad, sample_weather("mistlebeck")]


@pytest.fixture(scope="module")
def figures(stations):
    return place_figures([example_bed()], ready_of(*stations, **SPAN), Ask(leave=LEAVE), threads=1)


@pytest.mark.parametrize(("number", "place"), [(0, 0), (1, 2)])
def test_a_cell_is_the_readings_of_that_place_to_the_last_bit(weathers, figures, number, place):
    season = run_season(example_bed(), weathers[number])
    cell = figures.isel(bed=0, place=place)
    for read in (refills, wetness, dryness, water_account):
        told = read(season)
        for name in set(told.data_vars) & set(cell.data_vars):
            assert np.array_equal(cell[name], told[name], equal_nan=True), name
    months = by_month_of_year(season)
    for name in ("interval_median", "interval_p10", "refill_volume", "wet_days"):
        assert np.array_equal(cell[f"{name}{BY_MONTH}"], months[name], equal_nan=True), name
    stay = away(example_bed(), weathers[number], LEAVE, days=30, measures=[])
    assert float(cell["days_safe"]) == float(stay["days_safe"][0])


def test_days_left_alone_of_two_beds_are_those_of_each(weathers, stations):
    tub = replace(example_bed(), name="Never filled", watering=Watering("never"))
    both = place_figures([tub, example_bed()], ready_of(stations[0], **SPAN), Ask(leave=LEAVE))
    for at, bed in enumerate((tub, example_bed())):
        stay = away(bed, weathers[0], LEAVE, days=30, measures=[])
        assert float(both["days_safe"][at, 0]) == float(stay["days_safe"][0])


def test_an_unfit_place_has_its_reason_and_no_figure(figures):
    assert [bool(why) for why in figures["unfit"].to_numpy()] == [False, True, False]
    assert "rain" in figures["unfit"].to_numpy()[1]
    numbers = [name for name in figures.data_vars if "place" in figures[name].dims]
    numbers = [name for name in numbers if figures[name].dtype == float]
    assert len(numbers) > 40
    assert all(np.isnan(figures[name].isel(place=1)).all() for name in numbers)


def test_what_was_estimated_is_counted_day_by_day(tmp_path):
    """Twenty days: wind on none of them, humidity not on the last four, with a gap of a day."""
    head = "# latitude: 50\n# elevation: 30 m\n"
    days = [f"2020-06-{day:02}" for day in range(1, 21)]
    lines = [f"{day},24,12,0,{'' if at > 15 else 55},18" for at, day in enumerate(days)]
    lines[9] = f"{days[9]},24,,0,55,18"  # its lowest temperature is filled from its neighbours
    own = "date,tmax (C),tmin (C),rain (mm),rh_mean (%),radiation (MJ/m2)"
    (tmp_path / "a.csv").write_text("\n".join([head + own, *lines]) + "\n")
    ready_made = ["date,ET0 (mm),rain (mm)", *(f"{day},3,1" for day in days)]
    (tmp_path / "b.csv").write_text(
        "\n".join([head + "date,ET0 (mm),rain (mm)", *ready_made]) + "\n"
    )
    found = place_figures([example_bed()], ready_of(tmp_path / "a.csv", tmp_path / "b.csv"), Ask())
    assert found["unfit"].to_numpy().tolist() == ["", ""]
    told = {
        name: found[f"{name}_days"].to_numpy().tolist()
        for name in ("filled", "humidity_estimated", "wind_estimated", "radiation_estimated")
    }
    assert told == {
        "filled": [1, 0],
        "humidity_estimated": [4, 20],
        "wind_estimated": [19, 20],
        "radiation_estimated": [0, 0],  # nothing rests on it beside ET0 that is ready made
    }


def test_north_of_the_equator_frost_ends_in_spring_and_comes_in_autumn(figures):
    """At 54 degrees north: the last in the half-year to 30 June, the first after it."""
    last, first = (float(figures[name][2]) for name in ("last_frost", "first_frost"))
    assert 60 < last < 182 < first < 350


def test_where_a_place_lies_has_the_names_of_cf(figures):
    """CF standard names: the height of the ground is surface_altitude."""
    names = {name: figures[name].attrs["standard_name"] for name in ("latitude", "elevation")}
    assert names == {"latitude": "latitude", "elevation": "surface_altitude"}
    assert figures["elevation"].to_numpy().tolist() == [60.0, 60.0, 110.0]


def test_the_order_of_places_changes_nothing(stations, figures):
    turned = ready_of(*stations[::-1], **SPAN)
    found = place_figures([example_bed()], turned, Ask(leave=LEAVE), threads=1)
    assert found.isel(place=slice(None, None, -1)).identical(figures)


def test_places_of_different_days_are_each_run_over_their_own(stations, figures, tmp_path):
    lines = stations[0].read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[:4].isdigit() or line[:4] in ("2007", "2008")]
    (tmp_path / "short.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    both = place_figures(
        [example_bed()], ready_of(tmp_path / "short.csv", stations[2], **SPAN), Ask()
    )
    assert both["days"][0].to_numpy().tolist() == [731.0, figures["days"][0, 2].item()]
    season = run_season(example_bed(), read_weather(tmp_path / "short.csv"))
    assert float(both["refill_volume"][0, 0]) == float(refills(season)["refill_volume"])
    assert float(both["refill_volume"][0, 1]) == float(figures["refill_volume"][0, 2])
    ask = Ask(first=datetime.date(2007, 6, 1), last=datetime.date(2009, 1, 1))
    cut = place_figures([example_bed()], ready_of(tmp_path / "short.csv"), ask)
    assert cut["unfit"].item() == "its record goes from 2007-01-01 to 2008-12-31"


def test_a_place_whose_run_fails_is_left_out_and_named(stations, figures, monkeypatch):
    ready, run = ready_of(*stations, **SPAN), places.run_many
    bad = ready["place_name"].values[2]

    def failing(beds, weather, *more, **how):
        if bad in weather["place_name"].values:
            raise BalanceError("run", "0.004 mm of water was made on 2009-03-01")
        return run(beds, weather, *more, **how)

    monkeypatch.setattr(places, "run_many", failing)
    found = place_figures([example_bed()], ready, Ask(leave=LEAVE), threads=1)
    told = ["", figures["unfit"].item(1), "it could not be run: 0.004 mm of water was made on "]
    assert [text[:51] for text in found["unfit"].values] == [text[:51] for text in told]
    assert np.isnan(found["refill_count"].isel(place=2)).all()
    assert found.isel(place=[0, 1]).equals(figures.isel(place=[0, 1]))


# --- frost ------------------------------------------------------------------------------------


def _tmin(first, last, *cold):
    days = np.arange(first, np.datetime64(last) + np.timedelta64(1, "D"), dtype="M8[D]")
    return np.where(np.isin(days, np.array(cold, dtype="datetime64[D]")), -0.1, 0.0), days


def test_frost_of_nine_years_by_hand():
    # Of nine years the second percentile in ten is the largest, the first the smallest value. The
    # last frosts fall on 1 to 9 April (days 91 to 99), the first on 1 to 9 October (274 to 282).
    springs = [f"20{10 + at}-04-0{at + 1}" for at in range(9)]
    autumns = [f"20{10 + at}-10-0{9 - at}" for at in range(9)]
    lowest, days = _tmin("2010-01-01", "2018-12-31", *springs, *autumns)
    found = frost(lowest, days, south=False)
    assert (float(found.last_frost), float(found.first_frost)) == (99, 274)
    assert float(found.frost_days) == pytest.approx(18 / (3287 / 365.25))


def test_frost_in_the_south_by_hand():
    # Years from July to June: the frost of October is spring's, that of May autumn's.
    lowest, days = _tmin(
        "2010-07-01", "2012-06-30", "2010-10-05", "2011-10-07", "2011-05-20", "2012-05-18"
    )
    found = frost(lowest, days, south=True)
    assert (float(found.last_frost), float(found.first_frost)) == (280, 138)


def test_frost_on_both_sides_of_the_equator_at_once():
    cold = ("2010-04-05", "2010-10-05", "2011-04-05", "2011-10-05")
    lowest, days = _tmin("2010-01-01", "2011-12-31", *cold)
    found = frost(np.stack([lowest, lowest]), days, south=[True, False])
    assert found.last_frost.tolist() == [278, 95]  # 5 October, 5 April
    assert found.first_frost.tolist() == [95, 278]


def test_29_february_counts_as_the_28th():
    lowest, days = _tmin("2020-01-01", "2020-12-31", "2020-02-29")
    assert float(frost(lowest, days, south=False).last_frost) == 59


def test_where_frost_is_seldom_there_is_no_date():
    lowest, days = _tmin("2001-01-01", "2019-12-31", "2001-04-10")  # in one year of 19
    found = frost(lowest, days, south=False)
    assert np.isnan(found.last_frost)
    assert np.isnan(found.first_frost)
    part, days = _tmin("2001-01-02", "2001-12-31", "2001-04-10")  # not one whole year
    assert np.isnan(frost(part, days, south=False).last_frost)


def test_frost_of_several_places_at_once():
    lowest, days = _tmin("2010-01-01", "2010-12-31", "2010-04-05")
    none = np.full(days.size, np.nan)
    found = frost(np.stack([lowest, none, lowest + 1.0]), days, south=[False, False, False])
    assert np.array_equal(found.last_frost, [95, np.nan, np.nan], equal_nan=True)
    assert np.array_equal(found.frost_days * 365 / 365.25, [1, np.nan, 0], equal_nan=True)
