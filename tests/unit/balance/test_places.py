"""A bed at many places is the bed at each of them, to the last bit, in memory or on dask."""

import datetime
from dataclasses import replace

import dask
import netCDF4  # noqa: F401  (its import warns about numpy when it comes later)
import numpy as np
import pytest
import xarray as xr

from bedtide import (
    dryness,
    example_bed,
    read_places,
    read_weather,
    refills,
    run_season,
    water_account,
    wetness,
)
from bedtide.balance import readable, run_many, season_dataset
from bedtide.errors import RangeError
from bedtide.weather import one_place
from helpers.grids import cells, grid

READINGS = (refills, wetness, dryness, water_account)
SPAN = {"start": "2019-03-01", "end": "2020-02-29"}
FIRST, DAYS = datetime.date(2019, 3, 1), 366


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """A grid of six places, of which one is sea."""
    made = grid()
    for name in ("tasmax", "tasmin", "pr", "hurs", "rsds", "sfcWind"):
        made[name][:, 1, 2] = np.nan
    file = tmp_path_factory.mktemp("grid") / "grid.nc"
    made.to_netcdf(file)
    return file


@pytest.fixture(scope="module")
def weather(path):
    return read_places(path).compute()


@pytest.fixture(scope="module")
def alone(path):
    """The season of each fit cell, read and run alone."""
    bed = example_bed()
    return [run_season(bed, read_weather(path, point=at), **SPAN) for at in cells(grid())[:5]]


def same(many, one, at):
    """Whether one place of many has the numbers of one that was run alone."""
    for name, values in one.data_vars.items():
        mine = many[name]
        mine = mine.isel(place=at) if "place" in mine.dims else mine
        assert np.array_equal(mine.values, values.values, equal_nan=True), (name, at)


@pytest.mark.parametrize("chunk", [None, 1, 4])
def test_a_season_and_its_readings_at_each_place(weather, alone, chunk):
    given = weather if chunk is None else weather.chunk(place=chunk)
    season = run_season(example_bed(), given, **SPAN)
    assert (season.chunks != {}) == (chunk is not None)
    read = [reading(season) for reading in READINGS]
    assert all((each.chunks != {}) == (chunk is not None) for each in read)
    season, *read = dask.compute(season, *read)
    for at, one in enumerate(alone):
        same(season, one, at)
        assert season["balance_error"].values[at] == one.attrs["balance_error"]
        for reading, found in zip(READINGS, read, strict=True):
            same(found, reading(one), at)
    assert np.isnan(season["level"].values[5]).all()
    assert season["latitude"].values.tolist() == [48.0] * 3 + [49.0] * 3
    assert season["rain_in"].dims == ("place", "time")
    assert season["water_content"].dims == ("place", "time", "height")


def test_the_order_of_places_is_the_order_of_results(weather):
    order = np.array([4, 0, 5, 3, 1, 2])
    season = run_season(example_bed(), weather, **SPAN)
    turned = run_season(example_bed(), weather.isel(place=order), **SPAN)
    xr.testing.assert_identical(turned, season.isel(place=order))


def test_dask_gives_each_chunk_one_thread(weather, monkeypatch):
    asked = []
    import bedtide.balance.run as run

    move = run.move
    monkeypatch.setattr(run, "move", lambda *a, **k: asked.append(k["threads"]) or move(*a, **k))
    season = run_season(example_bed(), weather.chunk(place=3), **SPAN)
    asked.clear()  # what came of the one place of zeros
    season.compute(scheduler="threads", num_workers=2)
    assert asked == [1, 1]


def test_nothing_is_run_before_it_is_asked_for(weather, monkeypatch):
    import bedtide.balance.season as home

    places = []
    real = home.run_many
    monkeypatch.setattr(
        home,
        "run_many",
        lambda b, w, *a, **k: places.append(w.sizes["place"]) or real(b, w, *a, **k),
    )
    season = run_season(example_bed(), weather.chunk(place=2), **SPAN)
    refills(season)
    assert places == [1]  # the place of zeros
    season["level"].isel(place=0).compute()
    assert places == [1, 2]


def test_beds_places_and_starts_in_one_call(weather):
    fit = weather.isel(place=[0, 1, 3])
    beds = [example_bed(), replace(example_bed(), start_level=0.3, plantings=())]
    starts = [datetime.date(2019, 1, 1), datetime.date(2020, 1, 1)]
    run = run_many(beds, fit, starts, days=90)
    many = readable(run, fit)
    assert many["level"].dims == ("bed", "place", "year", "time")
    for b, bed in enumerate(beds):
        for p in range(3):
            for s, start in enumerate(starts):
                end = start + datetime.timedelta(days=89)
                one = run_season(bed, one_place(fit, p), start=start, end=end)
                column = (b * 3 + p) * 2 + s
                assert np.array_equal(
                    season_dataset(run, fit, column=column)["level"], one["level"]
                )
                mine = many.isel(bed=b, place=p, year=s)
                for name in ("level", "refill", "air_root_zone", "transpiration_potential"):
                    assert np.array_equal(mine[name].values, one[name].values), name
                assert run.end.open_water[column] == one["open_water"].values[-1]


def test_a_run_goes_on_from_its_state(weather):
    fit, bed = weather.isel(place=[0, 4]), example_bed()
    first = run_many([bed], fit, [FIRST], days=40)
    then = FIRST + datetime.timedelta(days=40)
    rest = run_many([bed], fit, [then], days=30, start=first.end, demand=first.demand)
    whole = run_many([bed], fit, [FIRST], days=70)
    # The watering's days are counted from the first, so a rule that looks every day is the same.
    assert np.array_equal(rest.series.level, whole.series.level[40:])


def test_places_with_other_days(weather):
    """Each on its own days, as crops adjust to the weather of these; none runs beyond them."""
    held = weather.copy(deep=True)
    for name in ("et0", "rain", "wind_speed", "rh_min", "tmax", "tmin"):
        held[name][1, :100] = np.nan
        held[name][2, 450:] = np.nan
    span = {"start": "2019-06-01", "end": "2020-02-29"}
    season = run_season(example_bed(), held, **span)
    own = (slice(None), slice(100, None), slice(None, 450))
    for at, days in enumerate(own):
        one = run_season(example_bed(), held.isel(place=at, time=days), **span)
        same(season, one, at)
    assert np.isnan(run_season(example_bed(), held, start="2019-01-01")["level"][1]).all()
    with pytest.raises(RangeError, match="place 1: it has not all the days from 2019-03-01"):
        run_many([example_bed()], held, [FIRST], days=10)


def test_a_place_with_a_hole_is_left_out(weather):
    held = weather.copy(deep=True)
    held["et0"][0, 200] = np.nan
    season = run_season(example_bed(), held, **SPAN)
    assert np.isnan(season["level"][0]).all()
    assert not np.isnan(season["level"][1]).any()


def test_places_with_hours_of_rain_beside_others(weather):
    """A cloudburst in one hour at one place, hours that nobody knows at the others."""
    fit = weather.isel(place=[0, 1, 3])
    hours = np.full((3, fit.sizes["time"], 24), np.nan)
    hours[1] = 0.0
    hours[1, :, 6] = 1.0
    hourly = fit.assign(rain_hours=(("place", "time", "hour"), hours))
    season = run_season(example_bed(), hourly, **SPAN)
    plain = run_season(example_bed(), fit, **SPAN)
    for at in (0, 2):
        xr.testing.assert_equal(season.isel(place=at), plain.isel(place=at))
    one = fit.isel(place=1).assign(rain_hours=(("time", "hour"), hours[1]))
    same(season, run_season(example_bed(), one, **SPAN), 1)
    assert not np.array_equal(season["air_top"][1], plain["air_top"][1])


def test_no_fit_place_at_all(weather):
    season = run_season(example_bed(), weather.isel(place=[5]), **SPAN)
    assert np.isnan(season["level"]).all()
    assert season.sizes["time"] == DAYS
