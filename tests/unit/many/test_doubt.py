"""The set of beds that might be this one, and the range that they give."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from bedtide.answers.away.calendar import away_calendar, with_calendar_range
from bedtide.answers.away.stay import away, away_ranges
from bedtide.answers.season.summary import season_ranges
from bedtide.errors import RangeError
from bedtide.many import PARAMETERS, doubtful_beds, range_of, ranges_of
from bedtide.mix import conductivity_case
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

INF, NAN = np.inf, np.nan


def test_eleven_beds_one_thing_at_a_time_then_all_at_once():
    bed = bed_with({"site.exposure": 1.1})
    (
        typical, less, more, dry, wet, poor, good, spare, thirsty, against, favour,
    ) = doubtful_beds(bed)  # fmt: skip
    assert typical == bed
    assert (less.wick_mix, less.top_mix) == tuple(
        conductivity_case(mix, "low") for mix in (bed.wick_mix, bed.top_mix)
    )
    assert more.top_mix.k_s == bed.top_mix.k_s_high
    # a mix with a larger alpha drains sooner and holds less: the low end of retention
    assert dry.top_mix.alpha == bed.top_mix.alpha_high
    assert wet.wick_mix.alpha == bed.wick_mix.alpha_low
    # wetted as on the main wetting curve, and as on the drying curve
    assert (poor.wick_mix.wetting, poor.top_mix.wetting) == (2.0, 2.0)
    assert (good.wick_mix.wetting, good.top_mix.wetting) == (1.0, 1.0)
    assert replace(poor.top_mix, wetting=1.4) == bed.top_mix
    assert spare.site.exposure == pytest.approx(1.1 * 0.87)
    assert thirsty.site.exposure == pytest.approx(1.1 * 1.3)
    assert against.top_mix.k_s == bed.top_mix.k_s_low
    assert against.top_mix.alpha == bed.top_mix.alpha_high
    assert against.top_mix.wetting == 2.0
    assert against.site.exposure == thirsty.site.exposure
    assert favour.top_mix.k_s == bed.top_mix.k_s_high
    assert favour.top_mix.alpha == bed.top_mix.alpha_low
    assert favour.top_mix.wetting == 1.0
    assert favour.site.exposure == spare.site.exposure


def test_each_of_the_eleven_differs_from_the_bed_in_its_one_thing():
    bed = bed_with({"site.exposure": 1.1})
    beds = doubtful_beds(bed)
    assert len(beds) == 1 + 2 * len(PARAMETERS) + 2 == 11
    assert len(set(beds)) == 11
    for number, name in enumerate(PARAMETERS):
        for one in beds[1 + 2 * number : 3 + 2 * number]:
            assert (one.site != bed.site) == (name == "water use"), name
            assert (one.top_mix != bed.top_mix) == (name != "water use"), name
            assert (one.top_mix.wetting != bed.top_mix.wetting) == (name == "surface supply"), name
            assert (one.top_mix.alpha != bed.top_mix.alpha) == (name == "retention"), name


def test_a_mix_without_published_bounds_has_those_of_potting_mix():
    """Ansorena's 11.61, 14.44 and 21.67 per metre: 0.804 and 1.501 of the middle."""
    bed = bed_with({"mix.top": {"medium": "coir coarse"}})
    middle = bed.top_mix.alpha
    beds = doubtful_beds(bed)
    assert beds[4].top_mix.alpha == pytest.approx(0.804 * middle, rel=5e-4)
    assert beds[3].top_mix.alpha == pytest.approx(1.501 * middle, rel=5e-4)


def test_exposure_stays_where_the_crop_model_takes_it():
    assert doubtful_beds(bed_with({"site.exposure": 1.4}))[8].site.exposure == 1.5


#         typical  conductivity  retention  supply    water use  against  in favour
VALUES = (8.0, 5.0, 9.0, 7.0, 8.5, 7.5, 8.25, 9.5, 6.0, 2.0, 12.0)


def test_the_range_is_that_of_one_thing_at_a_time():
    doubt = range_of(VALUES)
    assert (doubt.typical, doubt.low, doubt.high) == (8.0, 5.0, 9.5)
    assert doubt.together == (2.0, 12.0)
    pairs = [(5.0, 9.0), (7.0, 8.5), (7.5, 8.25), (9.5, 6.0)]
    assert doubt.alone == dict(zip(PARAMETERS, pairs, strict=True))
    assert doubt.matters == "conductivity"
    assert doubt.failing == ()
    assert doubt.runs == 11


@pytest.mark.parametrize("name", PARAMETERS)
def test_what_moves_it_most_is_named(name):
    values = np.array(VALUES)
    values[1 + 2 * PARAMETERS.index(name)] = 20.0
    assert range_of(values).matters == name


def test_a_bed_that_does_not_work_is_left_out_and_named():
    works = [True, False, *[True] * 7, False, True]
    doubt = range_of(VALUES, works=works)
    assert (doubt.low, doubt.high) == (6.0, 9.5)
    assert doubt.failing == ("low conductivity", "against")
    assert doubt.matters == "water use"
    assert doubt.alone["conductivity"] == (5.0, 9.0)
    # where the bed itself does not work, there is nothing to leave out
    assert range_of(VALUES, works=[False] * 11).low == 5.0


def test_more_than_was_looked_at_is_the_high_end():
    doubt = range_of((30.0, 20.0, INF, 30.0, 30.0, 29.0, 31.0, INF, 25.0, 10.0, INF))
    assert (doubt.low, doubt.high) == (20.0, INF)
    assert doubt.matters == "conductivity"
    assert range_of((INF,) * 11).matters == ""


def test_what_has_no_value_is_left_out():
    doubt = range_of((4.0, NAN, 4.0, 4.0, 4.0, 4.0, NAN, 5.0, 3.0, NAN, 5.0))
    assert (doubt.low, doubt.high, doubt.matters) == (3.0, 5.0, "water use")
    assert np.isnan(range_of((NAN,) * 11).low)
    assert ranges_of([{"days": None}] * 11)["days"].matters == ""


@pytest.mark.parametrize("count", [8, 9, 10, 12])
def test_another_number_of_values_is_refused(count):
    with pytest.raises(RangeError, match=f"{count} values do not fit the set") as caught:
        range_of((1.0,) * count)
    assert caught.value.expected == "11 of them"


def test_ranges_are_those_of_the_runs_themselves():
    weather = plain_weather("2021-01-01", 730)
    bed = bed_with({"planting.0.area_share": "100 %"})
    day = datetime.date(2027, 7, 10)
    found = away_ranges(bed, weather, day, days=8)
    runs = [
        float(away(case, weather, day, days=8, measures=[])["days_safe"][0])
        for case in doubtful_beds(bed)
    ]
    assert found["days_safe"].typical == runs[0]
    assert found["days_safe"].together == (runs[9], runs[10])
    assert [value for pair in found["days_safe"].alone.values() for value in pair] == runs[1:9]
    assert found["days_safe"].low <= runs[0] <= found["days_safe"].high
    assert found["days_safe"].low < found["days_safe"].high


def test_ranges_of_a_season():
    weather = plain_weather("2021-01-01", 365)
    bed = bed_with({"planting.0.area_share": "100 %"})
    first, last = datetime.date(2021, 4, 1), datetime.date(2021, 10, 31)
    found = season_ranges(bed, weather, first, last)
    litres = found["refill_litres"]
    assert litres.low < litres.typical < litres.high
    assert litres.alone["water use"][0] < litres.typical < litres.alone["water use"][1]
    assert set(found) == {
        "days_between_refills_median", "refills", "refill_litres", "wet_days", "dry_days",
    }  # fmt: skip


def test_a_calendar_with_a_range_is_that_of_the_beds_of_the_set():
    weather = plain_weather("2021-01-01", 500)
    bed = bed_with({"planting.0.area_share": "100 %"})
    calendar = away_calendar(bed, weather)
    ranged = with_calendar_range(calendar, bed, weather, level=1.0)
    set_of = [away_calendar(case, weather)["days_safe"].values for case in doubtful_beds(bed)[:9]]
    anyway = [
        float((away_calendar(case, weather)["days_short_anyway"].sel(leave="07-10") > 0).any())
        for case in doubtful_beds(bed)[:9]
    ]
    works = [values for values, short in zip(set_of, anyway, strict=True) if not short]
    assert 3 < len(works) <= 9
    np.testing.assert_array_equal(ranged["days_safe_low"], np.min(works, axis=0))
    np.testing.assert_array_equal(ranged["days_safe_high"], np.max(works, axis=0))
