"""A season as a Dataset; one bed alone and in a crowd; a season cut in two."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from bedtide import example_bed, read_weather, run_many, run_season, sample_weather
from bedtide.balance import season_dataset
from bedtide.balance.season import _share_of_store
from bedtide.bed import capacity, level_of, mix_below
from bedtide.errors import RangeError
from bedtide.tables import terms
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather


@pytest.fixture(scope="module")
def weather():
    return read_weather(sample_weather(), start="2021-01-01", end="2023-12-31")


@pytest.fixture(scope="module")
def crowd():
    """Beds that differ in form, depth, mix, overflow, plants and rule."""
    elbow = {"height": "9 cm", "change": [{"from": "10-15", "to": "04-15", "height": "4 cm"}]}
    return [
        bed_with(),
        bed_with({"box.depth": "30 cm"}),
        bed_with({"overflow": {"state": "none"}}),
        bed_with({"overflow": elbow}),
        bed_with({"mix.top.medium": "pine bark fine", "box.depth": "60 cm"}),
        bed_with({"planting.0.crop": "lettuce", "surface": {"mulch_share": "70 %"}}),
        bed_with({"watering": {"when": "never"}}),
        layered("crates", wick_foot="3 cm"),
        layered("stone", void_share="40 %", wick_share="0 %"),
    ]


START = datetime.date(2022, 3, 1)


def same(first, second):
    assert set(first.data_vars) == set(second.data_vars)
    for name in first.data_vars:
        np.testing.assert_array_equal(first[name].to_numpy(), second[name].to_numpy(), str(name))


def test_a_bed_alone_is_the_same_bed_in_a_crowd_bit_for_bit(crowd, weather):
    together = run_many(crowd, weather, [START], days=250)
    back = run_many(crowd[::-1], weather, [START], days=250)
    for number, bed in enumerate(crowd):
        alone = season_dataset(run_many([bed], weather, [START], days=250), weather)
        same(alone, season_dataset(together, weather, column=number))
        same(alone, season_dataset(back, weather, column=len(crowd) - 1 - number))


def test_a_bed_alone_is_the_same_bed_among_a_thousand_bit_for_bit(crowd, weather):
    many = [crowd[number % len(crowd)] for number in range(1000)]
    run = run_many(many, weather, [START], days=40)
    for number in (0, 2, 7, 500, 999):
        alone = run_many([many[number]], weather, [START], days=40)
        same(season_dataset(alone, weather), season_dataset(run, weather, column=number))


def test_a_start_alone_is_the_same_start_among_many(weather):
    starts = [datetime.date(2021, month, 1) for month in range(1, 13)]
    run = run_many([bed_with()], weather, starts, days=120)
    for number, start in enumerate(starts):
        alone = run_many([bed_with()], weather, [start], days=120)
        same(season_dataset(alone, weather), season_dataset(run, weather, column=number))


def test_a_season_is_the_same_alone_as_among_many_runs(weather):
    run = run_many([bed_with()], weather, [datetime.date(2022, 4, 1)], days=75, profile=True)
    season = run_season(bed_with(), weather, start="2022-04-01", end="2022-06-14")
    same(season, season_dataset(run, weather))


def test_a_whole_record_is_run_as_it_is(weather):
    alone = run_season(bed_with(), weather)
    days = weather.sizes["time"]
    run = run_many([bed_with()], weather, [datetime.date(2021, 1, 1)], days=days, profile=True)
    same(alone, season_dataset(run, weather))


@pytest.mark.parametrize("number", range(9))
@pytest.mark.parametrize("cut", [1, 77, 199])
def test_a_season_cut_in_two_and_carried_on_is_the_season_bit_for_bit(crowd, weather, number, cut):
    bed = crowd[number]
    if bed.watering.when == "below share":  # counts no days, so it can't tell where a run began
        bed = replace(bed, watering=replace(bed.watering, check_every=1))
    whole = run_many([bed], weather, [START], days=200, profile=True)
    first = run_many([bed], weather, [START], days=cut, profile=True)
    later = START + datetime.timedelta(days=cut)
    second = run_many([bed], weather, [later], days=200 - cut, start=first.end, profile=True)
    for name in whole.series._fields:
        both = np.concatenate([getattr(first.series, name), getattr(second.series, name)])
        np.testing.assert_array_equal(both, getattr(whole.series, name), name)
    np.testing.assert_array_equal(
        np.concatenate([first.profile, second.profile], axis=1), whole.profile
    )
    for name in whole.end._fields:
        np.testing.assert_array_equal(getattr(second.end, name), getattr(whole.end, name), name)


def test_a_crowd_of_beds_cut_in_two_and_carried_on(crowd, weather):
    """Columns of different numbers of cells, from two starts each, cut while some are flooded."""
    beds = [replace(bed, watering=replace(bed.watering, check_every=1)) for bed in crowd]
    wet = weather.copy(deep=True)
    first_day = int((np.datetime64(START) - weather["time"].values[0]) / np.timedelta64(1, "D"))
    wet["rain"][first_day + 40 : first_day + 45] = 0.12
    starts = [START, START - datetime.timedelta(days=1)]
    whole = run_many(beds, wet, starts, days=60)
    first = run_many(beds, wet, starts, days=43)
    later = [day + datetime.timedelta(days=43) for day in starts]
    second = run_many(beds, wet, later, days=17, start=first.end)
    assert (first.end.standing > 0.0).any()
    for name in whole.series._fields:
        both = np.concatenate([getattr(first.series, name), getattr(second.series, name)])
        np.testing.assert_array_equal(both, getattr(whole.series, name), name)


def test_carrying_on_does_not_touch_the_evening_that_it_starts_from(weather):
    first = run_many([bed_with()], weather, [START], days=30)
    kept = [np.array(values) for values in first.end]
    later = START + datetime.timedelta(days=30)
    second = run_many([bed_with()], weather, [later], days=10, start=first.end)
    for values, old in zip(first.end, kept, strict=True):
        np.testing.assert_array_equal(values, old)
    assert second.start is first.end
    assert not np.array_equal(second.end.content, first.end.content)


def test_the_evening_of_a_run_is_the_last_row_of_its_series(crowd, weather):
    run = run_many(crowd, weather, [START], days=100)
    np.testing.assert_array_equal(run.end.open_water, run.series.open_water[-1])
    np.testing.assert_array_equal(run.end.mix_water, run.series.mix_water[-1])
    np.testing.assert_array_equal(run.end.standing, run.series.standing_water[-1])


def test_the_dataset_is_whole():
    season = run_season(bed_with(), plain_weather("2023-05-01", 90, rain_mm={"2023-06-05": 25}))
    assert season.sizes["time"] == 90
    assert set(season.sizes) == {"time", "height"}
    for name, variable in [*season.data_vars.items(), ("height", season["height"])]:
        assert str(name) in terms(), name
        assert variable.attrs["units"] == terms()[str(name)]["unit"], name
        assert variable.attrs["long_name"], name
        assert np.isfinite(variable).all(), name
    assert season.attrs["Conventions"].startswith("CF-")
    assert season.attrs["title"] == "plain"
    assert "length" in season.attrs["bed_description"]
    assert season.attrs["weather_place"] == "Nowhere (invented)"
    assert season.attrs["assumptions"] == []
    assert 0.0 <= season.attrs["balance_error"] < 1e-9
    assert float(season["safe_steps"]) == float(season["safe_step_days"]) == 0.0


@pytest.mark.parametrize("number", [0, 4, 7, 8])
def test_water_content_by_height_adds_up_to_the_water_in_the_mix(crowd, weather, number):
    """Faces from the centres alone: the surface is the first, each centre lies in the middle."""
    bed = crowd[number]
    season = run_season(bed, weather, start="2022-05-01", end="2022-08-31")
    height = season["height"].to_numpy()
    faces = [float(season["surface_height"])]
    for centre in height:
        faces.append(2.0 * centre - faces[-1])
    assert (np.diff(faces) < 0.0).all()
    mix = -np.diff(mix_below(np.array(faces), bed))
    held = season["water_content"].transpose("time", "height").to_numpy()
    np.testing.assert_allclose((held * mix).sum(axis=1), season["mix_water"], atol=1e-9)
    wick = height < float(season["crown_height"])
    for part, theta in ((wick, bed.wick_mix), (~wick, bed.top_mix)):
        assert part.any() == (number != 8 or theta is bed.top_mix)
        inside = held[:, part]
        # a cell of 1 cm may be off its curve by 0.01 mm
        assert (inside >= theta.theta_r - 1e-3).all()
        assert (inside <= theta.theta_s + 1e-3).all()
    assert np.ptp(held[:, 0]) > 0.01  # the surface dries and is wetted


def test_a_run_keeps_no_profile_that_nobody_asked_for(weather):
    run = run_many([bed_with()], weather, [START], days=10)
    assert run.profile.size == 0
    assert "water_content" not in season_dataset(run, weather)


def test_water_closes_by_the_dataset_alone():
    weather = plain_weather("2023-05-01", 120, rain_mm={"2023-06-05": 90, "2023-06-06": 90})
    season = run_season(bed_with({"overflow": {"state": "none"}}), weather)
    stores = season["open_water"] + season["mix_water"] + season["standing_water"]
    begun = sum(season[f"start_{name}"] for name in ("open_water", "mix_water", "standing_water"))
    into = (season["rain_in"] + season["refill"]).cumsum("time")
    out = sum(
        season[name].cumsum("time")
        for name in ("transpiration", "evaporation", "overflow", "rim_spill")
    )
    np.testing.assert_allclose(stores, begun + into - out, atol=1e-12)
    assert float(season["standing_water"].max()) > 0.01


def test_fluxes_and_stores_are_never_negative(crowd, weather):
    run = run_many(crowd, weather, [START], days=250)
    for name in run.series._fields:
        if name != "rise":  # it goes down as well
            assert (getattr(run.series, name) >= 0.0).all(), name
    assert (run.series.rise < 0.0).any()
    cap = np.stack([capacity(bed, lip) for bed, lip in zip(crowd, run.lip.T, strict=True)], axis=1)
    # while water runs over the lip it stands higher by a hair: 1 mm drives 1 m a day
    assert (run.series.open_water <= cap + 1e-3).all()


def test_a_season_begins_at_rest_with_the_start_level():
    weather = plain_weather("2023-01-01", 5, et0_mm=0.0)
    season = run_season(bed_with({"start.level": "50 %"}), weather)
    assert float(season["start_open_water"]) == pytest.approx(0.5 * capacity(bed_with(), 0.09))
    # nothing comes and nothing goes: all stays as it is
    np.testing.assert_allclose(season["open_water"], season["start_open_water"], atol=1e-6)
    np.testing.assert_allclose(season["mix_water"], season["start_mix_water"], atol=1e-6)
    content = season["water_content"].to_numpy()
    np.testing.assert_allclose(content, content[:1].repeat(5, axis=0), atol=1e-5)
    assert float(season["evaporation"].sum()) == 0.0
    assert float(season["overflow"].sum()) == 0.0
    level = level_of(0.5 * capacity(bed_with(), 0.09), bed_with())
    np.testing.assert_allclose(season["level"], level, atol=1e-5)
    np.testing.assert_allclose(season["surface_suction"], 0.39 - level, atol=1e-4)


def test_a_known_store_empties_on_a_known_day():
    """Closed surface, constant need: the store lasts as long as need less what the mix gives."""
    bed = bed_with(
        {
            "watering": {"when": "never"},
            "planting.0.area_share": "100 %",
            "surface": {"open_to_rain": "0 %", "covered": "100 %", "mulch_share": "100 %"},
        }
    )
    weather = plain_weather("2023-07-25", 35, et0_mm=6.0)  # mid-season: Kcb 1.1
    season = run_season(bed, weather)
    need = season["transpiration_potential"].to_numpy()
    np.testing.assert_allclose(need, need[0])
    assert 0.0060 < need[0] < 0.0072
    assert float(season["evaporation"].sum()) < 0.02
    water = season["open_water"].to_numpy()
    gone = int(np.argmax(water < 1e-4))
    used = season["transpiration"] + season["evaporation"] + season["overflow"]
    mix = float(season["start_mix_water"]) - season["mix_water"].to_numpy()
    for day in (gone - 2, gone):
        given = float(season["start_open_water"]) - water[day] + mix[day]
        assert float(used[: day + 1].sum()) == pytest.approx(given, abs=1e-12)
    by_store_alone = float(season["start_open_water"]) / need[0]
    assert by_store_alone - 1 < gone < by_store_alone + 0.040 / need[0]


def test_an_elbow_turned_down_lets_the_water_above_it_go():
    elbow = {"height": "9 cm", "change": [{"from": "06-10", "to": "06-20", "height": "4 cm"}]}
    weather = plain_weather("2023-06-01", 30, et0_mm=0.0)
    season = run_season(bed_with({"overflow": elbow, "watering": {"when": "never"}}), weather)
    overflow, level = season["overflow"].to_numpy(), season["level"].to_numpy()
    drop = capacity(bed_with(), 0.09) - capacity(bed_with(), 0.04)
    drained = float(season["mix_water"][8] - season["mix_water"][9])
    assert drained > 0.005  # what the mix held over the higher level
    assert overflow[9] == pytest.approx(drop + drained, abs=5e-4)
    assert level[8] == pytest.approx(0.09, abs=0.003)
    assert level[10] == pytest.approx(0.04, abs=0.003)
    assert set(np.round(season["lip_height"].to_numpy(), 4)) == {0.09, 0.04}


def test_a_cover_keeps_rain_off():
    weather = plain_weather("2023-06-01", 20, rain_mm={"2023-06-05": 40})
    season = run_season(bed_with({"surface": {"open_to_rain": "25 %", "covered": "75 %"}}), weather)
    assert float(season["rain_in"].sum()) == pytest.approx(0.010)


@pytest.mark.parametrize(
    ("start", "end", "message"),
    [
        ("2020-12-31", None, "the days from 2020-12-31 to 2023-12-31 are not all in the weather"),
        (None, "2024-01-01", "the days from 2021-01-01 to 2024-01-01 are not all in the weather"),
        ("2022-02-01", "2022-01-01", "is before the start"),
        ("2022-02-30", None, "is not a day of the calendar"),
    ],
)
def test_days_that_can_not_be_run(weather, start, end, message):
    with pytest.raises(RangeError, match=message):
        run_season(example_bed(), weather, start=start, end=end)


def test_the_days_that_can_be_run_are_named(weather):
    with pytest.raises(RangeError) as caught:
        run_season(example_bed(), weather, start="2020-12-31")
    assert caught.value.expected == "days from 2021-01-01 to 2023-12-31"


def test_a_time_of_day_is_dropped(weather):
    first = run_season(bed_with(), weather, start="2022-05-01T06:30", end="2022-05-02 18:00")
    assert first["time"].dt.strftime("%m-%d").values.tolist() == ["05-01", "05-02"]


def test_the_first_column_is_the_first_bed_from_the_first_start(weather):
    starts = [datetime.date(2022, 5, 1), datetime.date(2022, 6, 1)]
    run = run_many([bed_with(), example_bed()], weather, starts, days=3)
    same(season_dataset(run, weather), season_dataset(run, weather, column=0))
    assert str(season_dataset(run, weather)["time"].values[0])[:10] == "2022-05-01"


def test_safe_steps_and_their_days_are_told_apart(weather):
    run = run_many([bed_with()], weather, [datetime.date(2022, 5, 1)], days=3)
    counted = replace(run, counts=np.array([[72.0, 150.0, 5.0, 2.0]]))
    season = season_dataset(counted, weather)
    assert (float(season["safe_steps"]), float(season["safe_step_days"])) == (5.0, 2.0)


def test_share_of_the_store_is_of_what_the_mix_can_reach():
    # of 77.4 mm up to the lip 45 are out of reach: 50 mm leave 5 of 32.4
    water, cap = np.array([0.0774, 0.050, 0.045, 0.040]), np.full(4, 0.0774)
    found = _share_of_store(water, cap, np.full(4, 0.045))
    assert found == pytest.approx([1.0, 5.0 / 32.4, 0.0, 0.0])
    assert _share_of_store(np.array([0.045]), np.array([0.045]), np.array([0.045])) == 0.0
    brimful = np.array([0.12])  # over a blocked lip
    assert _share_of_store(brimful, np.array([0.08]), np.array([0.01])) == 1.0


def test_days_may_be_text_or_dates(weather):
    first = run_season(bed_with(), weather, start="2022-05-01", end="2022-05-10")
    second = run_season(
        bed_with(), weather, start=datetime.date(2022, 5, 1), end=np.datetime64("2022-05-10")
    )
    same(first, second)


def test_roots_are_told_as_deep_as_they_get_in_this_bed():
    # Tomatoes root to 70 cm where they can; here 42 - 3 - 9 = 30 cm of mix lie above the lip.
    season = run_season(bed_with(), plain_weather("2023-05-01", 120))
    depth = season["root_depth"].to_numpy()
    assert depth[9] == pytest.approx(0.15 + 0.55 / 70)  # 10 May, the day of planting
    assert depth.max() == pytest.approx(0.30)


@pytest.mark.parametrize(
    ("site", "said"),
    [
        ({}, []),
        ({"latitude": 46.0, "elevation": "400 m"}, []),
        (
            {"latitude": 46.1},
            ["The bed stands at 46.1 degrees, but its weather was measured at 45.0 degrees."],
        ),
        (
            {"latitude": 44.5, "elevation": "400.6 m"},
            [
                "The bed stands at 401 m above the sea, but its weather was measured at 100 m "
                "above the sea."
            ],
        ),
    ],
)
def test_weather_of_another_place_than_the_beds_is_told(site, said):
    bed = bed_with({"site": site | {"exposure": "among plants"}})
    season = run_season(bed, plain_weather("2023-06-01", 3))
    assert season.attrs["assumptions"] == said
