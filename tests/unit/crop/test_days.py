"""Demand, cover and roots by day: hand arithmetic on straight lines and areas."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from bedtide.crop import Planting, crop, crop_days
from bedtide.crop.coefficients import cover_fraction
from bedtide.errors import RangeError, TimeAxisError

TOMATO = crop("tomato")  # stages 30, 40, 45, 30; Kcb 0.15, 1.10, 0.70; height 0.6; roots 0.7
LETTUCE = crop("lettuce")
PLANTED = datetime.date(2021, 5, 1)


def days_from(first, count):
    return np.datetime64(first, "D") + np.arange(count)


def standard(plantings, days, *, wind=2.0, humidity=45.0, exposure=1.0):
    wind_speed = np.full(days.size, wind)
    rh_min = np.full(days.size, humidity)
    return crop_days(plantings, days, wind_speed=wind_speed, rh_min=rh_min, exposure=exposure)


def test_coefficient_runs_in_straight_lines_through_the_stages():
    found = standard([Planting(TOMATO, PLANTED)], days_from("2021-05-01", 160))
    of_day = {  # day of the season, the first being 1: by hand, Eq. 66
        1: 0.15,
        30: 0.15,
        50: 0.15 + 20 / 40 * 0.95,
        70: 1.10,
        115: 1.10,
        130: 1.10 - 15 / 30 * 0.40,
        145: 0.70,
        146: 0.0,
    }
    for day, kcb in of_day.items():
        assert found.kcb[day - 1] == pytest.approx(kcb, abs=1e-12), day


def test_roots_grow_from_planting_to_mid_season():
    found = standard([Planting(TOMATO, PLANTED)], days_from("2021-04-30", 150))
    assert found.root_depth[0] == 0.0
    assert found.root_depth[35] == pytest.approx(0.15 + 35 / 70 * 0.55)
    assert found.root_depth[[70, 100, 145]] == pytest.approx([0.7, 0.7, 0.7])
    assert found.root_depth[146] == 0.0


def test_shallow_roots_never_start_deeper_than_they_end():
    shallow = replace(LETTUCE, root_depth=0.10)
    found = standard([Planting(shallow, PLANTED)], days_from("2021-05-01", 75))
    assert found.root_depth == pytest.approx(np.full(75, 0.10))


def test_bare_mix_transpires_nothing_and_lies_open():
    found = standard([], days_from("2021-05-01", 10))
    assert (found.kcb == 0.0).all()
    assert (found.root_depth == 0.0).all()
    assert (found.cover == 0.0).all()
    assert (found.wetted_exposed == 1.0).all()
    assert found.kc_max == pytest.approx(np.full(10, 1.2))
    assert found.kcb_each.shape == found.root_depth_each.shape == (10, 0)
    assert found.area_each.shape == (0,)


def test_coefficients_are_adjusted_by_the_mean_weather_of_their_stage():
    days = days_from("2021-05-01", 145)
    wind, humidity = np.full(145, 2.0), np.full(145, 45.0)
    wind[70:115] = np.where(np.arange(45) % 2 == 0, 3.0, 5.0)  # mid-season mean 181/45 m/s
    humidity[115:] = 20.0
    found = crop_days([Planting(TOMATO, PLANTED)], days, wind_speed=wind, rh_min=humidity)
    mean_wind = (23 * 3.0 + 22 * 5.0) / 45
    mid = 1.10 + 0.04 * (mean_wind - 2.0) * (0.6 / 3) ** 0.3
    end = 0.70 + 0.004 * 25.0 * (0.6 / 3) ** 0.3
    assert found.kcb[69] == pytest.approx(mid, abs=1e-12)
    assert found.kcb[100] == pytest.approx(mid, abs=1e-12)
    assert found.kcb[144] == pytest.approx(end, abs=1e-12)
    assert found.kcb[0] == 0.15


def test_record_that_starts_late_in_the_season_goes_on_from_there():
    whole = standard([Planting(TOMATO, PLANTED)], days_from("2021-05-01", 150))
    rest = standard([Planting(TOMATO, PLANTED)], days_from("2021-08-29", 30))
    for name in ("kcb", "kc_max", "cover", "root_depth", "kcb_each", "root_depth_each"):
        expected = getattr(whole, name)[120:150]
        assert getattr(rest, name) == pytest.approx(expected, abs=1e-12), name
    assert rest.kcb[0] > 0.6  # of a season that is going on


def test_the_same_month_and_day_repeats_and_runs_over_the_new_year():
    garlic = Planting(crop("garlic"), (10, 15))
    days = days_from("2019-01-01", 365 * 3 + 1)
    found = standard([garlic], days)
    first = np.flatnonzero(days == np.datetime64("2019-10-15"))[0]
    second = np.flatnonzero(days == np.datetime64("2020-10-15"))[0]
    assert (found.kcb[first : first + 265] > 0).all()
    assert found.kcb[first + 265] == 0.0
    ends = min(days.size - second, 265)
    assert found.kcb[second : second + ends] == pytest.approx(found.kcb[first : first + ends])
    assert found.kcb[0] > 0.15  # planted the October before the record


def test_stages_of_its_own_replace_those_of_the_crop():
    own = Planting(TOMATO, PLANTED, stages=(10, 10, 10, 10))
    found = standard([own], days_from("2021-05-01", 41))
    assert found.kcb[[9, 14, 19, 29, 39]] == pytest.approx([0.15, 0.625, 1.10, 1.10, 0.70])
    assert found.kcb[40] == 0.0


def test_plants_kept_longer_than_their_stages_go_on_as_at_the_end():
    kept = Planting(TOMATO, PLANTED, removed=datetime.date(2021, 10, 31))
    found = standard([kept], days_from("2021-05-01", 190))
    assert found.kcb[144:183] == pytest.approx(np.full(39, 0.70))
    assert found.kcb[183] == 0.0


def test_two_crops_share_the_bed_by_area():
    days = days_from("2021-05-01", 60)
    both = standard([Planting(TOMATO, PLANTED, 0.6), Planting(LETTUCE, PLANTED, 0.3)], days)
    tomato, lettuce = (standard([Planting(c, PLANTED)], days) for c in (TOMATO, LETTUCE))
    bare = standard([], days)
    for field in ("kcb", "kc_max", "cover"):
        parts = [getattr(found, field) for found in (tomato, lettuce, bare)]
        expected = 0.6 * parts[0] + 0.3 * parts[1] + 0.1 * parts[2]
        assert getattr(both, field) == pytest.approx(expected, abs=1e-12), field
    assert both.root_depth == pytest.approx((2 * tomato.root_depth + lettuce.root_depth) / 3)
    # and each planting's own, its coefficient over the plan area of the bed, its roots as they are
    assert both.kcb_each == pytest.approx(np.stack([0.6 * tomato.kcb, 0.3 * lettuce.kcb], axis=1))
    assert both.root_depth_each == pytest.approx(
        np.stack([tomato.root_depth, lettuce.root_depth], axis=1)
    )
    assert both.area_each.tolist() == [0.6, 0.3]
    assert both.wetted_exposed == pytest.approx(1.0 - both.cover)


def test_order_of_plantings_does_not_matter():
    days = days_from("2021-01-01", 365)
    plantings = [Planting(TOMATO, (5, 1), 0.6), Planting(LETTUCE, (4, 1), 0.3)]
    one, other = standard(plantings, days), standard(plantings[::-1], days)
    for name in ("kcb", "kc_max", "cover", "wetted_exposed", "root_depth"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-12), name
    assert one.kcb_each == pytest.approx(other.kcb_each[:, ::-1])
    assert one.root_depth_each == pytest.approx(other.root_depth_each[:, ::-1])
    assert one.area_each.tolist() == other.area_each[::-1].tolist() == [0.6, 0.3]


def test_one_crop_after_another_may_take_the_whole_bed_each():
    plantings = [
        Planting(LETTUCE, (3, 1), removed=(5, 1)),
        Planting(TOMATO, (5, 1)),
    ]
    found = standard(plantings, days_from("2021-01-01", 365))
    assert found.kcb.max() == pytest.approx(1.10)


def test_a_planting_that_does_not_grow_asks_for_nothing_and_has_no_roots():
    plantings = [Planting(LETTUCE, (3, 1), removed=(5, 1)), Planting(TOMATO, (5, 1))]
    found = standard(plantings, days_from("2021-01-01", 365))
    may = 120  # the 1st of May: day 1 of the tomatoes, and no lettuce any more
    assert found.kcb_each[may].tolist() == [0.0, 0.15]
    assert found.root_depth_each[may, 0] == 0.0
    assert found.root_depth_each[may, 1] == pytest.approx(0.15 + 0.55 / 70)
    assert found.kcb_each[may - 1, 0] > 0.0
    assert found.root_depth_each[may - 1, 0] > 0.15
    assert (found.kcb_each[may - 1, 1], found.root_depth_each[may - 1, 1]) == (0.0, 0.0)
    assert found.kcb == pytest.approx(found.kcb_each.sum(axis=1))


def test_more_plants_than_bed_are_refused_with_the_day():
    plantings = [Planting(LETTUCE, (4, 1), 0.7), Planting(TOMATO, (5, 1), 0.7)]
    with pytest.raises(RangeError, match="2021-05-01 they take 140%") as caught:
        standard(plantings, days_from("2021-01-01", 365))
    assert "lettuce 70% (04-01 to 06-14), tomato 70% (05-01 to 09-22)" in str(caught.value)


def test_exposure_scales_demand_but_not_cover():
    days = days_from("2021-05-01", 145)
    plain = standard([Planting(TOMATO, PLANTED)], days)
    windy = standard([Planting(TOMATO, PLANTED)], days, exposure=1.3)
    assert windy.kcb == pytest.approx(1.3 * plain.kcb)
    assert windy.kc_max == pytest.approx(1.3 * plain.kc_max)
    assert windy.cover == pytest.approx(plain.cover)


def test_leaves_beyond_the_rim_add_transpiration_and_its_energy_only():
    days = days_from("2021-05-01", 145)
    plain = standard([Planting(TOMATO, PLANTED)], days)
    wide = standard([Planting(TOMATO, PLANTED, canopy=1.5)], days)
    assert wide.kcb == pytest.approx(1.5 * plain.kcb)
    assert wide.kc_max - wide.kcb == pytest.approx(plain.kc_max - plain.kcb)


def test_demand_of_an_exposed_overhanging_stand_is_capped():
    found = standard(
        [Planting(TOMATO, PLANTED, canopy=2.0)], days_from("2021-05-01", 145), exposure=1.5
    )
    assert found.kcb.max() == pytest.approx(2.5)
    assert (found.kc_max > found.kcb).all()


@pytest.mark.parametrize("exposure", [0.0, 1.6, float("nan")])
def test_exposure_out_of_range_is_refused(exposure):
    with pytest.raises(RangeError, match="exposure"):
        standard([], days_from("2021-05-01", 3), exposure=exposure)


def test_weather_must_fit_the_days():
    days = days_from("2021-05-01", 3)
    with pytest.raises(TimeAxisError, match="2 values for 3 days"):
        crop_days([], days, wind_speed=[2.0, 2.0], rh_min=[45.0] * 3)
    with pytest.raises(RangeError, match="lowest relative humidity"):
        crop_days([], days, wind_speed=[2.0] * 3, rh_min=[45.0, np.nan, 45.0])
    with pytest.raises(TimeAxisError, match="jump"):
        crop_days([], days[[0, 2]], wind_speed=[2.0] * 2, rh_min=[45.0] * 2)


def test_cover_grows_with_the_coefficient_and_stays_below_one():
    kcb = np.array([0.0, 0.15, 0.6, 1.1, 5.0])
    cover = cover_fraction(kcb, kc_max=1.2, height=0.6)
    assert cover[2] == pytest.approx((0.45 / 1.05) ** 1.3)
    assert (np.diff(cover) >= 0).all()
    assert cover[0] == pytest.approx((0.01 / 1.05) ** 1.3)
    assert cover[-1] == 0.99


YOUNG = replace(LETTUCE, height=0.6, kcb_ini=0.2, kcb_mid=0.8, kcb_end=0.6, stages=(10, 10, 10, 10))


def test_a_season_counts_on_the_first_and_the_last_day_of_a_record():
    days = days_from("2021-05-01", 40)
    assert standard([Planting(YOUNG, datetime.date(2021, 3, 23))], days).kcb[0] > 0.0
    assert standard([Planting(YOUNG, datetime.date(2021, 6, 9))], days).kcb[-1] == 0.2


def test_the_limit_of_a_bed_is_that_of_its_parts_by_area():
    # In the standard climate the limit is 1.2 whatever the height, and leaves beyond the rim add
    # their own demand: 0.4 x (1.5 - 1) x 0.2 = 0.04.
    days = days_from("2021-05-01", 10)
    assert standard([], days, exposure=1.5).kc_max == pytest.approx(np.full(10, 1.8))
    one = [Planting(YOUNG, PLANTED, area_share=0.4)]
    assert standard(one, days).kc_max == pytest.approx(np.full(10, 1.2))
    assert standard(one, days, exposure=1.5).kc_max == pytest.approx(np.full(10, 1.8))
    wide = [Planting(YOUNG, PLANTED, area_share=0.4, canopy=1.5)]
    assert standard(wide, days).kc_max == pytest.approx(np.full(10, 1.24))
    # ... and where it is windy and dry, bare mix has 1.2 and plants 0.15 m high 0.0651 more.
    windy = standard(one, days, wind=4.0, humidity=25.0)
    assert windy.kc_max == pytest.approx(np.full(10, 1.2 + 0.4 * 0.0651345), abs=1e-6)


def test_cover_is_that_of_the_part_that_grows():
    found = standard([Planting(YOUNG, PLANTED, area_share=0.4)], days_from("2021-05-01", 10))
    assert found.cover == pytest.approx(np.full(10, 0.4 * 0.037898), abs=1e-6)  # (0.05/1.05)^1.075


def test_the_last_day_of_the_late_stage_counts_in_its_weather():
    days = days_from("2021-05-01", 40)
    wind = np.full(40, 2.0)
    wind[-1] = 6.0  # mean of the ten days of the late stage: 2.4
    found = crop_days([Planting(YOUNG, PLANTED)], days, wind_speed=wind, rh_min=np.full(40, 45.0))
    assert found.kcb[-1] == pytest.approx(0.6 + 0.04 * 0.4 * 0.2**0.3)


def test_too_much_of_a_bed_is_told_as_on_the_first_such_day():
    three = [
        Planting(YOUNG, datetime.date(2021, 5, day), area_share=share)
        for day, share in ((1, 0.6), (5, 0.6), (8, 0.3))
    ]
    with pytest.raises(RangeError, match="on 2021-05-05 they take 120% of the bed"):
        standard(three, days_from("2021-05-01", 30))


# Perennials. Strawberry: stages 30, 40, 110, 40 = 220 days; Kcb 0.30, 0.80, 0.70, dormant 0.15.
STRAWBERRY = crop("strawberry")


def strawberry_kcb(number):
    """By hand, on a day of the season counted from 1."""
    if number <= 30:
        return 0.30
    if number <= 70:
        return 0.30 + (number - 30) / 40 * 0.50
    if number <= 180:
        return 0.80
    if number <= 220:
        return 0.80 - (number - 180) / 40 * 0.10
    return 0.15


@pytest.mark.parametrize(
    ("begins", "month", "day"), [("2019-01-01", 3, 15), ("2019-07-01", 9, 15)], ids=["N", "S"]
)
def test_a_perennial_comes_back_each_year_and_rests_in_between(begins, month, day):
    # Three years with a leap year in them, north and south: counted day by day from the last
    # spring that has come, which for the first days of the record is one before it.
    days = days_from(begins, 3 * 365 + 1)
    found = standard([Planting(STRAWBERRY, (month, day))], days)
    number = 0
    for at, today in enumerate(days.tolist()):
        spring = datetime.date(today.year, month, day)
        if today < spring:
            spring = datetime.date(today.year - 1, month, day)
        number = (today - spring).days + 1
        assert found.kcb[at] == pytest.approx(strawberry_kcb(number), abs=1e-12), today
    assert (found.root_depth == 0.2).all()
    assert (found.kcb == 0.15).sum() == 3 * 145 + 1
    assert found.root_depth_each.shape == (days.size, 1)


def test_a_perennial_planted_once_roots_in_its_first_year_and_stays():
    days = days_from("2019-01-01", 3 * 365 + 1)
    vine = replace(crop("grape"), root_depth=0.6)  # mid-season after 90 days
    found = standard([Planting(vine, datetime.date(2019, 4, 1), 0.5)], days)
    april = 90
    assert (found.root_depth[:april] == 0.0).all()
    assert found.root_depth[april + 44] == pytest.approx(0.15 + 45 / 90 * 0.45)
    assert (found.root_depth[april + 89 :] == 0.6).all()
    # 1 November: day 215, after 30, 60, 40 and 80 days; the leaves are off until April.
    assert (found.kcb[april + 210 : april + 366] == 0.0).all()
    assert found.kcb[april + 366] == pytest.approx(0.5 * 0.15)


def test_the_end_of_a_perennial_goes_by_the_weather_of_its_late_stage_alone():
    days = days_from("2021-03-15", 365)
    wind = np.full(365, 2.0)
    wind[189:] = 6.0  # from day 190 on
    calm = wind.copy()
    calm[220:] = 2.0  # the days after the late stage don't count
    planting = [Planting(STRAWBERRY, (3, 15))]
    one, other = (
        crop_days(planting, days, wind_speed=each, rh_min=np.full(365, 45.0))
        for each in (wind, calm)
    )
    assert one.kcb == pytest.approx(other.kcb)
    mean = (2.0 * 9 + 6.0 * 31) / 40
    assert one.kcb[219] == pytest.approx(0.70 + 0.04 * (mean - 2.0) * (0.2 / 3) ** 0.3)
    assert one.kcb[220] == 0.15


def test_a_perennial_shares_the_bed_with_annuals_all_year():
    days = days_from("2021-01-01", 365)
    plantings = [Planting(STRAWBERRY, (3, 15), 0.25), Planting(TOMATO, (5, 1), 0.75)]
    found = standard(plantings, days)
    assert found.root_depth[0] == pytest.approx(0.2)
    assert found.root_depth[200] == pytest.approx(0.25 * 0.2 + 0.75 * 0.7)
    assert found.root_depth[364] == pytest.approx(0.2)
    with pytest.raises(RangeError, match="2021-01-01 they take 125%"):
        standard([Planting(STRAWBERRY, (3, 15), 0.25), Planting(crop("kale"), (10, 1))], days)
