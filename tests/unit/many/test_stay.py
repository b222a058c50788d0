"""Stays away with the model itself: worked by hand, honest counts, properties, bad input."""

import datetime
from itertools import pairwise

import numpy as np
import pytest

from bedtide.bed import capacity, plan_area
from bedtide.errors import InputError, RangeError
from bedtide.many.measures import AS_IT_IS, MEASURES
from bedtide.many.stay import away
from bedtide.statistics import percentile
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers.beds import bed_with, layered, rest_store
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)
LONG_MIDDLE = ["1 day", "1 day", "360 days", "3 days"]
USE = 5.5e-3  # m a day: 5 mm of ET0 times a Kcb of 1.1, under a cover that lets nothing evaporate


def covered(**changes):
    """A bed kept full until leaving, whose use is the same every day: rain and sun kept off."""
    planting = [
        {"crop": "tomato", "area_share": "100 %", "planted": "01-01", "stages": LONG_MIDDLE}
    ]
    surface = {"open_to_rain": "0 %", "covered": "100 %"}
    watering = {"when": "every n days", "every": "1 day"}
    return bed_with({"planting": planting, "surface": surface, "watering": watering, **changes})


@pytest.fixture(scope="module")
def two_years():
    return plain_weather("2021-01-01", 730)


@pytest.fixture(scope="module")
def record():
    return read_weather(samples_folder() / "brasaluz.csv")


def test_a_constant_use_empties_a_known_store_on_a_known_day(two_years):
    """Reservoir and mix give what lies between rest over a full store and rest over an empty one.

    The pipe wall is 1 cm, so the store is empty with the water 1 cm above the floor.
    """
    bed = covered()
    days = (rest_store(bed, 0.09) - rest_store(bed, 0.01)) / USE
    assert 0.15 < days % 1 < 0.85, "too close to a whole day to tell"
    stay = away(bed, two_years, DAY, days=10, measures=[]).isel(measure=0)
    np.testing.assert_array_equal(stay["days_to_empty"], np.floor(days))
    assert (stay["days_lasted"] > stay["days_to_empty"]).all()
    assert (stay["days_to_half"] > stay["days_lasted"]).all()
    assert np.isfinite(stay["days_to_half"]).all()


@pytest.mark.parametrize("before", [0, 1])
def test_a_record_that_begins_when_you_leave_will_do(two_years, before):
    """What the bed was before is then as it is described: at rest over a full store.

    A mix that lifts is drier than one at rest, by some 3 mm here: up to half a day more is in it.
    """
    bed = covered()
    days = (rest_store(bed, 0.09) - rest_store(bed, 0.01)) / USE
    part = two_years.sel(time=slice(f"2021-07-{10 - before:02}", None))
    stay = away(bed, part, DAY, days=10, measures=[]).isel(measure=0)
    assert stay.attrs["spin_up_days"] == before
    assert (stay["days_to_empty"] >= np.floor(days)).all()
    assert (stay["days_to_empty"] <= np.floor(days + 0.5)).all()


def test_what_the_plants_take_is_what_the_bed_loses(two_years):
    stay = away(covered(), two_years, DAY, days=10, measures=[])
    assert stay.attrs["balance_error"] < 1e-9
    lasted = int(stay["days_lasted"][0].min())
    np.testing.assert_allclose(stay["uptake_factor"][:, : lasted - 3], 1.0, atol=1e-3)


def test_half_a_store_that_is_out_of_reach_is_never_counted(two_years):
    """Stone with mix down to 5 cm: what stands below is not in the level, nor in any day."""
    bed = layered("stone", void_share="40 %", wick_foot="5 cm")
    stay = away(bed, two_years, DAY, days=10, level=0.0, measures=[])
    assert float(stay["dead_storage"]) == pytest.approx(0.05 * 0.4)
    assert float(stay["start_open_water"]) == pytest.approx(0.05 * 0.4)
    np.testing.assert_array_equal(stay["days_to_empty"][0], 0)


def test_a_record_of_two_years_is_two_cases_and_their_neighbours_and_says_so(two_years):
    stay = away(covered(), two_years, DAY, days=10, measures=[])
    assert stay.attrs["independent_years"] == 2
    own = stay.where(stay["offset"] == 0, drop=True)
    assert [str(day)[:10] for day in own["start"].values] == ["2021-07-10", "2022-07-10"]
    assert stay.sizes["case"] == 10
    assert sorted(set(stay["offset"].values.tolist())) == [-10, -5, 0, 5, 10]


def test_ten_years_need_no_neighbours(record):
    part = record.sel(time=slice("2001-01-01", "2010-12-31"))
    stay = away(bed_with(), part, DAY, days=10, measures=[])
    assert stay.sizes["case"] == stay.attrs["independent_years"] == 10
    assert (stay["offset"] == 0).all()


def test_nine_years_are_too_few_without_neighbours(record):
    part = record.sel(time=slice("2001-01-01", "2009-12-31"))
    stay = away(bed_with(), part, DAY, days=10, measures=[])
    assert stay.attrs["independent_years"] == 9
    assert stay.sizes["case"] == 9 * 5


def test_a_visit_brings_exactly_what_the_reservoir_lacks_that_morning(two_years):
    bed = covered()
    stay = away(bed, two_years, DAY, days=30, measures=["visit"])
    alone, helped = stay.sel(measure=AS_IT_IS), stay.sel(measure="visit")
    day = int(helped["visit_day"])
    evening_before = stay["store_share"].sel(day=day)
    held = float(capacity(bed, 0.09)) * plan_area(bed)
    # the lip lies between two heights at which the column knows what the pipes hold
    np.testing.assert_allclose(helped["water_brought"], (1 - evening_before) * held, rtol=5e-6)
    gained = helped["water_brought"] / plan_area(bed) / USE
    np.testing.assert_allclose(helped["days_lasted"] - alone["days_lasted"], gained, atol=1.0)
    assert int(helped["visit_day_first"]) <= day <= int(helped["visit_day_last"])


def test_a_drum_adds_the_days_that_its_water_feeds(two_years):
    """150 L over 1.2 m2 at 5.5 mm a day: 22.7 days on top of those that it lasts alone."""
    bed = covered()
    stay = away(bed, two_years, DAY, days=60, measures=["drum"], drum=0.15)
    alone, helped = (stay["days_lasted"].isel(measure=at) for at in (0, 1))
    gained = 0.15 / plan_area(bed) / USE
    np.testing.assert_allclose(helped - alone, gained, atol=1.0)
    np.testing.assert_allclose(stay["water_brought"][1], 0.15, rtol=1e-12)
    alone, helped = (stay["days_to_empty"].isel(measure=at) for at in (0, 1))
    np.testing.assert_allclose(helped - alone, gained, atol=1.0)


def test_a_drum_puts_off_the_day_on_which_what_is_in_reach_is_used_up(two_years):
    """60 L over 1.2 m2 at 5.5 mm a day: 9.1 days, over stone of which 5 cm are out of reach."""
    stone = {"form": "stone", "height": "15 cm", "void_share": "40 %", "wick_share": "10 %"}
    bed = covered(reservoir={**stone, "wick_foot": "5 cm"})
    stay = away(bed, two_years, DAY, days=40, measures=["drum"], drum=0.06)
    alone, helped = (stay["days_to_empty"].isel(measure=at) for at in (0, 1))
    np.testing.assert_allclose(helped - alone, 0.06 / 1.2 / USE, atol=1.0)


def test_the_store_that_is_told_is_that_of_the_morning_of_leaving(two_years):
    """Full to a lip of 9 cm, whatever height the outlet has the day after, or could be given."""
    change = {"from": "07-11", "to": "09-20", "height": "5 cm"}
    bed = bed_with({"overflow": {"height": "9 cm", "change": [change]}})
    stay = away(bed, two_years, DAY, days=10, measures=["overflow"])
    full = float(capacity(bed, 0.09))
    assert float(capacity(bed, 0.05)) < 0.8 * full
    assert float(stay["capacity"]) == pytest.approx(full)
    assert float(stay["start_open_water"]) == pytest.approx(full)


def test_a_drum_that_is_never_emptied_keeps_the_bed_like_its_twin(two_years):
    stay = away(covered(), two_years, DAY, days=10, measures=["drum"], drum=50.0)
    assert np.isinf(stay["days_lasted"][1]).all()
    assert (stay["water_brought"][1] < 50.0).all()


def test_full_dates_are_those_of_the_year_of_leaving(record):
    weather = record.sel(time=slice("2001-01-01", "2012-12-31"))
    yearly = bed_with({"planting.0.planted": "05-10"})
    dated = bed_with({"planting.0.planted": "2027-05-10"})
    first, second = (
        away(bed, weather, DAY, days=10, measures=["mulch"]) for bed in (yearly, dated)
    )
    np.testing.assert_array_equal(first["days_lasted"], second["days_lasted"])
    past = away(bed_with({"planting.0.planted": "2025-05-10"}), weather, DAY, days=10, measures=[])
    assert past.attrs["plantings_of_other_years"] == ["tomato"]
    assert past.attrs["growing"] == []
    assert np.isinf(past["days_lasted"]).all()


def test_alone_or_among_others_bit_for_bit(record):
    weather = record.sel(time=slice("2001-01-01", "2012-12-31"))
    bed = bed_with()
    every = away(bed, weather, DAY, days=12)
    for name in ("mulch", "visit", "drum", "shade"):
        alone = away(bed, weather, DAY, days=12, measures=[name])
        for quantity in ("days_lasted", "days_to_half", "water_brought"):
            np.testing.assert_array_equal(
                alone[quantity].sel(measure=name), every[quantity].sel(measure=name)
            )
        for quantity in ("store_share", "uptake_factor"):
            np.testing.assert_array_equal(alone[quantity], every[quantity])


@pytest.mark.parametrize("place", ["brasaluz", "mistlebeck"])
def test_help_never_makes_it_shorter(place):
    weather = read_weather(samples_folder() / f"{place}.csv")
    bed = bed_with({"surface": {"mulch_share": "0 %"}, "planting.0.area_share": "100 %"})
    stay = away(bed, weather, DAY, days=20)
    base = stay["days_lasted"].isel(measure=0)
    for name in ("mulch", "shade", "visit", "drum", "overflow", "top up", "mulch+shade"):
        assert (stay["days_lasted"].sel(measure=name) >= base).all(), name
    assert float(stay["days_safe"].sel(measure="mulch+shade")) >= float(
        stay["days_safe"].sel(measure="mulch")
    )


def test_more_water_never_makes_it_shorter(record):
    bed = bed_with({"planting.0.area_share": "100 %"})
    levels = [
        away(bed, record, DAY, days=16, level=level, measures=["drum"], drum=drum)["days_lasted"]
        for level, drum in ((0.2, 0.05), (0.6, 0.1), (1.0, 0.2))
    ]
    for less, more in pairwise(levels):
        assert (more >= less).all()
    assert (levels[2] > levels[0]).any()


def test_the_days_that_are_safe_are_so_in_nine_of_ten_years(record):
    bed = bed_with({"planting.0.area_share": "100 %"})
    stay = away(bed, record, DAY, days=16, measures=["mulch"])
    for at in range(2):
        lasted, safe = stay["days_lasted"].values[at], float(stay["days_safe"][at])
        assert safe == np.floor(percentile(lasted, 0.1))
        assert (lasted >= safe).sum() >= 0.9 * 31 - 1e-9
        assert (lasted >= safe + 1).sum() < 0.9 * 31
        assert int(stay["cases_lasting"][at]) == (lasted >= 16).sum()
    share = stay["lasting_share"].values
    assert (np.diff(share, axis=1) <= 0).all()
    assert share.max() == pytest.approx(30 / 31)
    assert share.min() == pytest.approx(1 / 31)


def test_a_bed_kept_full_by_nobody_starts_as_one_that_was_kept(two_years):
    bed = covered(watering={"when": "never"})
    kept = away(covered(), two_years, DAY, days=10, measures=[])
    never = away(bed, two_years, DAY, days=10, measures=[])
    assert never.attrs["kept"] == "every morning"
    np.testing.assert_array_equal(kept["days_lasted"], never["days_lasted"])


def test_a_mix_that_lifts_too_slowly_is_told_from_an_absence(two_years):
    bed = covered(**{"box.depth": "70 cm", "mix.top": {"medium": "pine bark coarse"}})
    stay = away(bed, two_years, DAY, days=10, measures=[])
    assert (stay["days_lasted"] == 0).all()
    assert (stay["days_short_anyway"] == 10).all()
    good = away(covered(), two_years, DAY, days=10, measures=[])
    assert (good["days_short_anyway"] == 0).all()


def test_nothing_growing_never_goes_short(two_years):
    stay = away(bed_with({"planting": []}), two_years, DAY, days=10)
    assert np.isinf(stay["days_lasted"]).all()
    assert np.isfinite(stay["days_to_empty"][0]).all()


def test_the_29th_of_february_is_the_28th_elsewhere(two_years):
    stay = away(covered(), two_years, datetime.date(2028, 2, 29), days=5, measures=[])
    own = stay.where(stay["offset"] == 0, drop=True)
    assert {str(day)[5:10] for day in own["start"].values} == {"02-28"}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"days": 0}, "days: 0 days is out of range"),
        ({"days": -3}, "days: -3 days is out of range"),
        ({"days": 121}, "between 1 and 120 days"),
        ({"level": 1.2}, "level: 1.2 is out of range"),
        ({"level": -0.1}, "level: -0.1 is out of range"),
        ({"shade": 1.5}, "shade: 1.5 is out of range"),
        ({"shade": -0.1}, "shade: -0.1 is out of range"),
        ({"drum": 100.5}, "drum: 100.5 m3 is out of range"),
        ({"drum": 0.0}, "drum: 0 m3 is out of range"),
        ({"drum": -0.1}, "drum: -0.1 m3 is out of range"),
        ({"measures": ["mulsh"]}, '"mulsh" is not known'),
        ({"measures": ["mulch+roof"]}, '"roof" is not known'),
        ({"measures": ["harvest carrot"]}, '"carrot" is not known'),
        ({"measures": ["visit+drum"]}, "do not go together"),
        ({"measures": ["cover+open"]}, "do not go together"),
    ],
)
def test_bad_input_is_one_clear_message(two_years, changes, message):
    words = {"days": 10, "measures": [], **changes}
    with pytest.raises(InputError) as found:
        away(bed_with(), two_years, DAY, **words)
    assert message in str(found.value)


def test_two_mistakes_are_told_together(two_years):
    with pytest.raises(InputError) as found:
        away(bed_with(), two_years, DAY, days=0, level=2.0)
    assert "days: 0" in str(found.value)
    assert "level: 2" in str(found.value)


def test_every_word_on_offer_can_be_tried(two_years):
    bed = bed_with(
        {
            "surface": {"open_to_rain": "50 %", "covered": "50 %", "mulch_share": "20 %"},
            "planting": [
                {"crop": "tomato", "planted": "04-10", "area_share": "60 %"},
                {"crop": "lettuce", "planted": "05-10", "area_share": "30 %"},
            ],
        }
    )
    stay = away(bed, two_years, DAY, days=10, measures=list(MEASURES))
    assert stay.attrs["measures_left_out"] == []
    names = stay["measure"].values.tolist()
    assert names[0] == AS_IT_IS
    assert {"harvest tomato", "harvest lettuce", "cover", "open", "top up"} <= set(names)


def test_a_record_without_the_days_is_refused(two_years):
    half = two_years.sel(time=slice("2021-01-01", "2021-06-30"))
    with pytest.raises(RangeError, match="not one year of the weather record has 10 days"):
        away(bed_with(), half, DAY, days=10)


def test_zero_years_left_after_gaps_is_refused(two_years):
    gappy = two_years.copy()
    gappy["filled"] = ("time", np.ones(730, dtype=bool))
    with pytest.raises(RangeError, match="zero years are left"):
        away(bed_with(), gappy, DAY, days=10)


def test_nobody_plants_while_you_are_away(two_years):
    """Lettuce that is due on the third day stays in its packet, and is named."""
    bed = bed_with(
        {
            "planting": [
                {"crop": "tomato", "planted": "05-10", "area_share": "60 %"},
                {"crop": "lettuce", "planted": "07-13", "area_share": "30 %"},
                {"crop": "radish", "planted": "10-01", "area_share": "5 %"},  # long after
            ]
        }
    )
    tomato = bed_with({"planting": [{"crop": "tomato", "planted": "05-10", "area_share": "60 %"}]})
    with_it, without = (away(each, two_years, DAY, days=10, measures=[]) for each in (bed, tomato))
    np.testing.assert_array_equal(with_it["days_lasted"], without["days_lasted"])
    assert with_it.attrs["growing"] == ["tomato"]
    assert with_it.attrs["plantings_while_away"] == ["lettuce"]


@pytest.mark.parametrize(
    ("leave", "planted", "due"),
    [
        (DAY, "07-11", True),  # on the first morning away
        (DAY, "07-19", True),  # on the last of ten days
        (DAY, "07-20", False),  # on the morning of coming home
        (datetime.date(2027, 12, 28), "01-02", True),  # in the next year
    ],
)
def test_what_is_due_in_the_days_away_is_named(two_years, leave, planted, due):
    lettuce = {"crop": "lettuce", "planted": planted, "area_share": "30 %"}
    stay = away(bed_with({"planting": [lettuce]}), two_years, leave, days=10, measures=[])
    assert stay.attrs["plantings_while_away"] == (["lettuce"] if due else [])


def test_a_stay_is_followed_until_the_last_crop_is_over(two_years):
    """Lettuce stands for 75 days: planted on 10 May, the last of them is 23 July, day 14 away."""
    bed = bed_with({"planting": [{"crop": "lettuce", "planted": "05-10", "area_share": "20 %"}]})
    stay = away(bed, two_years, DAY, days=42, measures=["visit"])
    assert stay.attrs["season_ends"] == "2027-07-24"
    assert stay.attrs["days_followed"] == stay.sizes["day"] == 14
    assert np.isinf(stay["days_lasted"]).all()
    assert int(stay["cases_lasting"][0]) == 10
    assert int(stay["visit_day"][1]) < 14
    longer = away(covered(), two_years, DAY, days=42, measures=[])
    assert longer.attrs["season_ends"] == ""


def test_a_stay_is_followed_for_45_days_or_twice_as_long_as_it_is(two_years):
    for days, followed in ((10, 45), (22, 45), (23, 46), (30, 60)):
        stay = away(covered(), two_years, DAY, days=days, measures=[])
        assert stay.attrs["days_followed"] == stay.sizes["day"] == followed


@pytest.mark.parametrize(
    ("planted", "counts"),
    [
        ("2027-09-03", True),  # the last neighbour leaves on 20 July and is followed for 45 days
        ("2027-09-04", False),
        ("2027-04-27", True),  # 35 days, to 1 June: the first neighbour's 30 days begin on 31 May
        ("2027-04-26", False),
    ],
)
def test_a_full_date_belongs_to_the_stay_from_thirty_days_before_it(two_years, planted, counts):
    stages = ["10 days", "10 days", "10 days", "5 days"]
    radish = {"crop": "radish", "planted": planted, "area_share": "20 %", "stages": stages}
    stay = away(bed_with({"planting": [radish]}), two_years, DAY, days=10, measures=[])
    assert stay.attrs["plantings_of_other_years"] == ([] if counts else ["radish"])


def test_a_drum_is_no_heavier_than_suits_the_bed(two_years):
    """A tub of 9.5 L gets a can of 20 L; pipes of some 56 L a drum of 120 L, not one of 200 L."""
    small = bed_with(
        {
            "box.length": "50 cm", "box.width": "30 cm",
            "reservoir": {"form": "false floor", "height": "8 cm", "void_share": "90 %",
                          "wick_share": "10 %", "wick_foot": "0 cm"},
            "overflow.height": "7 cm",
        }
    )  # fmt: skip
    held = 0.5 * 0.3 * 0.9 * 0.07
    stay = away(small, two_years, DAY, days=10, measures=["drum"])
    assert stay.attrs["drum"] == 0.02 < 3 * held < 0.06
    usual = away(bed_with(), two_years, DAY, days=10, measures=["drum"])
    assert usual.attrs["drum"] == 0.12
