"""What can be changed before leaving, and what each change is."""

import datetime

import numpy as np
import pytest

from bedtide.bed import plan_area
from bedtide.bed.sections import Surface
from bedtide.errors import FieldError
from bedtide.many.leaving import standing
from bedtide.many.measures import AS_IT_IS, fitting_drum, scenarios_of, shaded_weather
from bedtide.weather import reference_et
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)
TWO = [
    {"crop": "tomato", "planted": "04-10", "area_share": "60 %"},
    {"crop": "lettuce", "planted": "05-10", "area_share": "30 %"},
]


def one(bed, name, days=16):
    found, left_out = scenarios_of(bed, DAY, days=days, names=[name])
    return found[1:], left_out


def test_the_bed_as_it_is_comes_first():
    bed = bed_with()
    found, _ = scenarios_of(bed, DAY, days=16)
    assert found[0].key == AS_IT_IS
    assert found[0].bed == bed


def test_each_changes_what_it_says():
    bed = bed_with(
        {
            "surface": {"open_to_rain": "50 %", "covered": "50 %", "mulch_share": "20 %"},
            "planting": TWO,
        }
    )
    assert one(bed, "mulch")[0][0].bed.surface.mulch_share == 1.0
    assert one(bed, "cover")[0][0].bed.surface == Surface(
        open_to_rain=0.0, covered=1.0, mulch_share=0.2
    )
    assert one(bed, "open")[0][0].bed.surface == Surface(
        open_to_rain=1.0, covered=0.0, mulch_share=0.2
    )
    for name in ("shade", "top up", "drum", "visit"):
        assert one(bed, name)[0][0].parts == (name,)
    assert one(bed, "visit+mulch+visit")[0][0].visits == 2
    both = one(bed, "mulch+shade")[0][0]
    assert both.parts == ("mulch", "shade")
    assert both.bed.surface.mulch_share == 1.0


def test_what_changes_nothing_is_left_out():
    bed = bed_with({"surface": {"mulch_share": "100 %"}})
    for name in ("mulch", "open", "harvest", "mulch+shade"):
        assert one(bed, name) == ([], [name]), name
    assert one(bed, "visit", days=1) == ([], ["visit"])
    assert one(bed, "visit+visit", days=2) == ([], ["visit+visit"])
    assert one(bed_with({"overflow.state": "blocked"}), "overflow") == ([], ["overflow"])


def test_two_visits_need_three_days():
    assert one(bed_with(), "visit+visit", days=3)[1] == []
    assert one(bed_with(), "visit", days=2)[1] == []


@pytest.mark.parametrize("name", ["visit+drum", "mulch+cover+open", "visit+visit+visit"])
def test_what_does_not_go_together_is_refused(name):
    with pytest.raises(FieldError, match="what to try"):
        one(bed_with(), name)


def test_water_is_put_in_by_visits_and_drums_alone():
    for name, helped in (("visit", True), ("visit+visit", True), ("drum", True), ("mulch", False)):
        assert one(bed_with(), name)[0][0].helped is helped, name


@pytest.mark.parametrize(
    ("litres", "units", "drum"),
    [
        (6.6, "metric", 20.0),  # three times that is 19.8: too little for any, so the least
        (19.9, "metric", 20.0),  # 59.7
        (20.1, "metric", 60.0),  # 60.3
        (39.9, "metric", 60.0),
        (40.1, "metric", 120.0),
        (66.6, "metric", 120.0),
        (66.8, "metric", 200.0),  # 200.4
        (300.0, "metric", 200.0),
        (1.0, "us", 18.93),  # 5 gallons of 3.785 L
        (18.9, "us", 18.93),  # 15 gallons are 56.78 L, of which 56.7 lack a little
        (19.0, "us", 56.78),
        (37.8, "us", 56.78),
        (37.9, "us", 113.56),  # 30 gallons: 113.56 L, a third of it 37.85
        (69.3, "us", 113.56),
        (69.5, "us", 208.2),  # 55 gallons: 208.2 L, a third of it 69.4
        (300.0, "us", 208.2),
    ],
)
def test_the_drum_is_the_largest_that_holds_three_times_the_reservoir(litres, units, drum):
    """Under 2 m2 a false floor of 0.9 void, a tenth of it legs, filled as high as it needs."""
    height = litres / 1000 / 0.81 / 2
    layer = {"form": "false floor", "height": f"{height + 0.02} m", "void_share": "90 %"}
    bed = bed_with(
        {
            "box": {
                "length": "2 m",
                "width": "1 m",
                "depth": f"{height + 0.4} m",
                "freeboard": "3 cm",
            },
            "reservoir": {**layer, "wick_share": "10 %", "wick_foot": "0 cm"},
            "overflow.height": f"{height} m",
        }
    )
    assert plan_area(bed) == 2.0
    assert fitting_drum(bed, units) * 1000 == pytest.approx(drum, abs=0.01)


def test_an_overflow_goes_up_to_the_top_of_the_water_in_the_pipes_and_no_further():
    """Bore 10 cm in a pipe of 12 cm outside: water up to 11 cm."""
    (raised,), _ = one(bed_with(), "overflow")
    assert raised.bed.overflow.height == pytest.approx(0.11)
    assert one(bed_with({"overflow.height": "11 cm"}), "overflow")[1] == ["overflow"]


def test_a_harvest_clears_one_crop():
    found, _ = one(bed_with({"planting": TWO}), "harvest")
    assert [s.key for s in found] == ["harvest tomato", "harvest lettuce"]
    assert [[p.crop.name for p in s.bed.plantings] for s in found] == [["lettuce"], ["tomato"]]


def test_nothing_is_harvested_before_mid_season():
    """Tomato takes 30 and 40 days to mid-season, lettuce 20 and 30: 70 and 50 before 10 July."""
    for crop, day, ripe in (
        ("tomato", "05-01", True),
        ("tomato", "05-02", False),
        ("lettuce", "05-21", True),
        ("lettuce", "05-22", False),
    ):
        other = {"crop": "radish", "planted": "07-01", "area_share": "10 %"}
        bed = bed_with({"planting": [{"crop": crop, "planted": day, "area_share": "60 %"}, other]})
        found, left_out = one(bed, f"harvest {crop}")
        assert [s.key for s in found] == [f"harvest {crop}"] * ripe
        assert left_out == [f"harvest {crop}"] * (not ripe)
        assert one(bed, "harvest radish") == ([], ["harvest radish"])


def test_a_crop_that_stands_over_the_turn_of_the_year():
    bed = bed_with(
        {
            "planting": [
                {"crop": "garlic", "planted": "10-15", "removed": "08-01", "area_share": "50 %"}
            ]
        }
    )
    assert standing(bed, DAY)
    assert standing(bed, datetime.date(2027, 12, 1))
    assert not standing(bed, datetime.date(2027, 8, 1))


def test_shade_is_penman_monteith_with_less_sun():
    weather = plain_weather("2021-06-01", 30)
    weather["et0"] = reference_et(weather)
    shaded = shaded_weather(weather, 0.5)
    by_hand = weather.assign(solar_radiation=weather["solar_radiation"] * 0.5)
    np.testing.assert_allclose(shaded["et0"], reference_et(by_hand), rtol=1e-12)
    assert (shaded["et0"] < weather["et0"]).all()
    assert shaded["et0"].attrs == weather["et0"].attrs
    np.testing.assert_array_equal(shaded["rain"], weather["rain"])
    np.testing.assert_array_equal(shaded_weather(weather, 0.0)["et0"], weather["et0"])
