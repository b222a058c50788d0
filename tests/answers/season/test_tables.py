"""Summary, daily table, months: figures by hand, units in the names, both systems the same."""

import json
from dataclasses import replace

import pytest

from bedtide.answers.season.days import table_of_days
from bedtide.answers.season.summary import months_of, summary_of
from bedtide.files import json_text, plain
from bedtide.report.templates import table
from helpers.seasons import bucket_year, by_hand, drought_by_hand


def plain_summary(season):
    return plain(summary_of(season))


def test_summary_by_hand():
    found = plain_summary(by_hand())
    expected = {
        "bed": "Bed by hand",
        "from": "2023-06-25",
        "to": "2023-07-06",
        "days": 12,
        "plan_area_m2": 2.0,
        "reservoir_litres": 100.0,
        "reservoir_litres_out_of_reach": 4.0,
        "refills": 2,
        "refill_litres": 80.0,
        "refill_litres_each_median": 40.0,
        "days_between_refills_median": 5.0,
        "intervals": 1,
        "days_to_first_refill": 5,
        "filling_first_month": 6,
        "filling_last_month": 7,
        "rain_mm": 45.0,
        "rain_caught_litres": 90.0,
        "overflow_litres": 38.0,
        "rim_spill_litres": 0.0,
        "transpiration_litres": 104.0,
        "evaporation_litres": 34.0,
        "open_water_change_litres": -18.0,
        "mix_water_change_litres": 12.0,
        "standing_water_change_litres": 0.0,
        "rain_share_percent": pytest.approx(100 * 26 / 66),
        "wet_air_limit_percent": 10.0,
        "wet_days": 3,
        "wet_spells": 2,
        "longest_wet_spell_days": 2,
        "longest_wet_spell_start": "2023-07-02",
        "wet_grade": "briefly wet",
        "wet_days_top_15_cm": 1,
        "excess_water_cm_days": pytest.approx(15.0),
        "dry_days": 0,
        "need_met_percent": pytest.approx(100.0),
        "balance_error_mm": pytest.approx(0.0, abs=1e-9),
    }
    for name, value in expected.items():
        if isinstance(value, float):
            value = pytest.approx(value)
        assert found[name] == value, name


def test_summary_of_a_drought_tells_the_causes_apart():
    found = plain_summary(drought_by_hand())
    assert found["dry_days_reservoir_empty"] == 2
    assert found["dry_days_wick_limited"] == 1
    assert found["days_between_refills_median"] is None
    assert found["longest_wet_spell_start"] is None


def test_wet_days_that_lack_air_low_down_alone_are_graded_so():
    season = by_hand()
    season["air_root_zone"][:] = 0.2
    season["aerated_depth"][:] = 0.05  # of the 15 cm that these roots need
    found = summary_of(season)
    assert (found.wet_days, found.wet_days_air_not_deep) == (12, 12)
    assert found.wet_low_down
    assert found.wet_grade == "too wet low down"
    season["air_root_zone"][4] = 0.05
    found = summary_of(season)
    assert (found.wet_days, found.wet_days_air_not_deep) == (12, 11)
    assert not found.wet_low_down
    assert found.wet_grade == "too wet to breathe"
    assert replace(found, wet_days=1, wet_days_air_not_deep=1).wet_low_down
    assert not replace(found, wet_days=0, wet_days_air_not_deep=0).wet_low_down


def test_what_stands_in_water_below_the_overflow_is_its_deepest():
    season = by_hand()
    assert summary_of(season).mix_below_overflow_cm == 0  # the mix begins at 12 cm, the lip is at 6
    season["lip_height"][3:5] = [0.15, 0.14]
    assert summary_of(season).mix_below_overflow_cm == pytest.approx(3)


@pytest.mark.parametrize(
    ("held", "dead", "nothing"), [(0.5, 0.5, True), (9, 8.96, True), (9, 8, False), (0, 0, False)]
)
def test_a_mix_that_reaches_nothing(held, dead, nothing):
    found = summary_of(by_hand())
    found = replace(found, reservoir_litres=held, reservoir_litres_out_of_reach=dead)
    assert found.reaches_nothing == nothing


@pytest.mark.parametrize("season", [by_hand, drought_by_hand, bucket_year])
def test_summary_is_plain_json_with_the_same_keys_for_every_run(season):
    found = json.loads(json_text(summary_of(season())))
    assert list(found) == list(plain_summary(by_hand()))
    assert list(found["months"][0]) == list(plain_summary(by_hand())["months"][0])


def test_months_of_a_long_run_are_those_of_a_mean_year():
    assert [row.month for row in months_of(bucket_year(days=800))] == list(range(1, 13))
    assert [row.month for row in months_of(bucket_year(days=401))] == list(range(1, 13))
    assert months_of(bucket_year(days=400))[-1].month == "2024-02"
    assert months_of(by_hand())[0].month == "2023-06"


def test_daily_table_by_hand():
    table = table_of_days(by_hand())
    assert len(table) == 12
    row = table.iloc[7]  # 2 July: 20 mm of rain on 2 m2, 7 mm of it lost
    assert str(row["date"].date()) == "2023-07-02"
    assert row["rain_mm"] == pytest.approx(20)
    assert row["rain_into_bed_L"] == pytest.approx(40)
    assert row["overflow_L"] == pytest.approx(14)
    assert row["reservoir_water_L"] == pytest.approx(100)
    assert row["reservoir_filled_percent"] == pytest.approx(100)
    assert row["water_level_cm"] == pytest.approx(6.0)
    assert row["water_in_mix_mm"] == pytest.approx(126)
    assert row["air_root_zone_percent"] == pytest.approx(8)
    assert row["rise_from_reservoir_mm"] == pytest.approx(-14)
    assert row["wet_day"] == 1
    assert table["dry_day"].tolist() == [""] * 12
    assert table["days_to_refill"].tolist()[:6] == [5, 4, 3, 2, 1, 0]


def test_daily_table_names_the_cause_of_a_dry_day():
    table = table_of_days(drought_by_hand())
    dry = ["", "", "reservoir empty", "reservoir empty", "wick", "", ""]
    assert table["dry_day"].tolist() == dry


def test_daily_table_in_us_units_is_the_same_water():
    metric, us = table_of_days(by_hand()), table_of_days(by_hand(), units="us")
    assert len(metric.columns) == len(us.columns)
    assert not [name for name in us if name.endswith(("_mm", "_L", "_cm")) and "15_cm" not in name]
    for name in metric:
        for ending, other, factor in (
            ("_mm", "_inch", 25.4),
            ("_cm", "_inch", 2.54),
            ("_L", "_US_gal", 3.785411784),
        ):
            if name.endswith(ending):
                twin = us[name.removesuffix(ending) + other]
                assert twin.to_numpy() * factor == pytest.approx(metric[name].to_numpy()), name


def test_totals_of_the_table_are_those_of_the_summary():
    season = bucket_year()
    table, found = table_of_days(season), plain_summary(season)
    assert table["refill_L"].sum() == pytest.approx(found["refill_litres"])
    assert (table["refill_L"] > 0).sum() == found["refills"]
    assert table["overflow_L"].sum() == pytest.approx(found["overflow_litres"])
    assert table["wet_day"].sum() == found["wet_days"]


def test_plain_table_lines_up():
    assert table([["a", "bb"], ["ccc", "1"], ["d", "222"]]) == [
        "a     bb",
        "ccc    1",
        "d    222",
    ]
