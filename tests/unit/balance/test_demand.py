"""What the days bring to a bed and ask of it: hand arithmetic on FAO-56 coefficients.

Wind and humidity of the plain weather are the climate that the coefficients are tabled for. Tomato:
Kcb 0.15, 1.10, 0.70 after 30, 40, 45 and 30 days, h3 8 and 15 m; lettuce: 0.15, 0.90, 0.90 after
20, 30, 15 and 10 days, h3 4 and 6 m.
"""

import numpy as np
import pandas as pd
import pyet
import pytest

from bedtide.balance.demand import demand_of
from bedtide.crop import crop
from bedtide.crop.coefficients import upper_coefficient
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

MM = 1e-3
PLANTED = {"planting.0.planted": "05-01"}
ALL_OF_IT = {**PLANTED, "planting.0.area_share": "100 %"}
TWO = {
    "planting": [
        {"crop": "tomato", "planted": "05-01", "area_share": "60 %"},
        {"crop": "lettuce", "planted": "06-01", "area_share": "30 %"},
    ]
}


def asked(changes=None, *, days=145, start="2023-05-01", et0_mm=5.0, **given):
    return demand_of(bed_with(changes), plain_weather(start, days, et0_mm=et0_mm, **given))


def test_rain_that_a_cover_keeps_off_does_not_come_in():
    for share, expected in (("100 %", 20.0), ("25 %", 5.0), ("0 %", 0.0)):
        found = asked({"surface": {"open_to_rain": share}}, days=5, rain_mm={"2023-05-03": 20.0})
        assert found.rain_in * 1000 == pytest.approx([0.0, 0.0, expected, 0.0, 0.0])
        assert found.rain * 1000 == pytest.approx([0.0, 0.0, 20.0, 0.0, 0.0])


def test_uptake_is_the_coefficient_times_the_reference_on_its_share_of_the_bed():
    found = asked(PLANTED)  # 60 % of the bed
    for day, kcb in ((1, 0.15), (30, 0.15), (50, 0.625), (70, 1.10), (115, 1.10), (145, 0.70)):
        assert found.uptake[day - 1, 0] == pytest.approx(0.6 * kcb * 5 * MM), day
        assert found.kcb[day - 1] == pytest.approx(0.6 * kcb)


def test_the_day_of_the_record_is_the_day_of_the_planting():
    weather = plain_weather("2023-04-20", 60)
    weather["et0"][:] = 0.001 * np.arange(60)
    found = demand_of(bed_with(PLANTED), weather)
    assert (found.uptake[:11] == 0.0).all()
    assert found.uptake[11:41, 0] == pytest.approx(0.6 * 0.15 * 0.001 * np.arange(11, 41))
    assert found.et0 == pytest.approx(0.001 * np.arange(60))


def test_each_planting_has_its_own_uptake_roots_and_limits():
    found = asked(TWO)
    day = 31 + 34  # 35th day of the lettuce, 66th of the tomatoes
    tomato = 0.15 + (66 - 30) / 40 * 0.95
    lettuce = 0.15 + (35 - 20) / 30 * 0.75
    assert found.uptake[day] * 1000 == pytest.approx([0.6 * tomato * 5, 0.3 * lettuce * 5])
    # roots: from 15 cm on the day before planting in a straight line to mid-season
    deep, flat = crop("tomato").root_depth, crop("lettuce").root_depth
    assert found.depth[day] == pytest.approx(
        [0.15 + 66 / 70 * (deep - 0.15), 0.15 + 35 / 50 * (flat - 0.15)]
    )
    assert deep > flat
    # the limits follow what each asks for on its own area: 5.025 and 2.625 mm a day
    assert 5 * tomato == pytest.approx(5.025)
    assert 5 * lettuce == pytest.approx(2.625)
    assert found.h3[day] == pytest.approx([8.0, 6.0 - (2.625 - 1.0) / 4.0 * 2.0])
    assert found.h4.tolist() == [80.0, 80.0]
    mean = (0.6 * found.depth[day, 0] + 0.3 * found.depth[day, 1]) / 0.9
    assert found.root_depth[day] == pytest.approx(mean)


@pytest.mark.parametrize(
    ("et0_mm", "h3"), [(0.5, 15.0), (3 / 1.1, 11.5), (5 / 1.1, 8.0), (9.0, 8.0)]
)
@pytest.mark.parametrize("share", ["20 %", "100 %"])
def test_the_more_is_asked_of_a_plant_the_sooner_it_goes_short(et0_mm, h3, share):
    """Between 15 m at 1 mm a day and 8 m at 5, by what its own area asks for, large or small."""
    found = asked({**PLANTED, "planting.0.area_share": share}, et0_mm=et0_mm)
    assert found.h3[100, 0] == pytest.approx(h3)


def test_before_it_is_planted_a_crop_asks_for_nothing():
    found = asked(TWO)
    assert (found.uptake[:31, 1] == 0.0).all()
    assert (found.depth[:31, 1] == 0.0).all()
    assert (found.uptake[31:106, 1] > 0.0).all()
    assert (found.uptake[106:, 1] == 0.0).all()  # 75 days later it is cut


def test_a_bare_bed_asks_for_evaporation_alone():
    found = asked({"planting": []}, days=6)
    assert found.uptake.shape == found.depth.shape == found.h3.shape == (6, 0)
    assert found.h4.shape == (0,)
    assert found.energy == pytest.approx(np.full(6, 1.2 * 5 * MM))
    assert (found.root_depth == 0.0).all()


def test_the_own_factor_of_a_surface_is_on_its_energy_alone():
    plain, half = asked(TWO), asked({**TWO, "surface": {"drying": 0.5}})
    assert half.energy == pytest.approx(0.5 * plain.energy)
    assert (half.uptake == plain.uptake).all()


def test_energy_for_evaporation_is_what_the_plants_leave_or_what_lies_open():
    found = asked(ALL_OF_IT)
    height = crop("tomato").height
    # mid-season: Kc max 1.2, Kcb 1.10, so 0.10 is left; cover ((1.10 - 0.15) / (1.2 - 0.15))^1.3
    upper = float(upper_coefficient(1.10, wind_speed=2.0, rh_min=45.0, height=height))
    assert upper == pytest.approx(1.20)
    cover = (0.95 / 1.05) ** (1 + 0.5 * height)
    assert found.cover[99] == pytest.approx(cover)
    assert found.energy[99] == pytest.approx(min(0.10, (1 - cover) * 1.2) * 5 * MM)
    # the day of planting: little leaf, 1.05 left
    assert found.energy[0] == pytest.approx(1.05 * 5 * MM, rel=1e-6)


def test_mulch_halves_and_a_cover_shuts_off_the_energy_and_leaves_the_plants_theirs():
    plain = asked(ALL_OF_IT)
    mulched = asked({**ALL_OF_IT, "surface": {"mulch_share": "100 %"}})
    shut = asked({**ALL_OF_IT, "surface": {"open_to_rain": "0 %", "covered": "100 %"}})
    half = asked(
        {
            **ALL_OF_IT,
            "surface": {"open_to_rain": "50 %", "covered": "50 %", "mulch_share": "40 %"},
        }
    )
    assert mulched.energy == pytest.approx(0.5 * plain.energy)
    assert (shut.energy == 0.0).all()
    # early on 50 % lies open, by Kc max 1.2, less 20 % for mulch on 40 %
    assert half.energy[0] == pytest.approx(0.5 * 1.2 * 0.8 * 5 * MM)
    for other in (mulched, shut, half):
        assert (other.uptake == plain.uptake).all()
        assert (other.h3 == plain.h3).all()


def test_a_porch_keeps_the_rain_off_and_lets_the_mix_dry():
    """Eaves, a porch, a tunnel: dry, not shut; what the surface could lose stays as it was."""
    plain = asked(ALL_OF_IT, rain_mm={"2023-05-03": 20.0})
    porch = asked({**ALL_OF_IT, "surface": {"open_to_rain": "0 %"}}, rain_mm={"2023-05-03": 20.0})
    assert (porch.rain_in == 0.0).all()
    assert (porch.energy == plain.energy).all()
    assert (porch.uptake == plain.uptake).all()


@pytest.mark.parametrize(
    ("word", "factor"),
    [("lone bed", 1.2), ("Among plants", 1.0), ("tunnel", 0.8), ("half shade", 0.85), ("1.1", 1.1)],
)
def test_where_a_bed_stands_scales_what_it_drinks(word, factor):
    plain, there = asked(ALL_OF_IT), asked({**ALL_OF_IT, "site.exposure": word})
    assert there.uptake == pytest.approx(factor * plain.uptake)


def test_a_bed_of_which_nothing_is_said_stands_alone():
    assert bed_with(without="site").site.exposure == 1.2


def test_half_shade_is_half_the_sun_of_a_summer_day_on_a_lone_bed():
    """Twenty clear July days at 45 N: FAO-56 with half of the radiation, times 1.2."""
    days = np.arange("2023-07-01", "2023-07-21", dtype="datetime64[D]").astype("datetime64[ns]")
    sun = np.full(20, 27.0)
    share = []
    for radiation in (sun, 0.5 * sun):
        evaporated = pyet.pm_fao56(
            tmean=pd.Series(21.5, index=days),
            tmax=pd.Series(28.0, index=days),
            tmin=pd.Series(15.0, index=days),
            wind=pd.Series(2.0, index=days),
            rs=pd.Series(radiation, index=days),
            ea=pd.Series(1.497, index=days),  # at a dew point of 13 C, FAO-56 table 2.3
            elevation=100.0,
            lat=np.deg2rad(45.0),
        )
        share.append(evaporated.to_numpy())
    assert 1.2 * (share[1] / share[0]).mean() == pytest.approx(0.85, abs=0.02)


def test_a_windy_yard_asks_for_more_of_both():
    plain, windy = asked(ALL_OF_IT), asked({**ALL_OF_IT, "site.exposure": 1.3})
    assert windy.uptake == pytest.approx(1.3 * plain.uptake)
    assert windy.energy == pytest.approx(1.3 * plain.energy)
    assert (windy.depth == plain.depth).all()


def test_the_order_of_plantings_is_the_order_of_columns():
    one = asked(TWO)
    two = asked({"planting": TWO["planting"][::-1]})
    for name in ("uptake", "depth", "h3"):
        assert getattr(one, name) == pytest.approx(getattr(two, name)[:, ::-1]), name
    assert one.energy == pytest.approx(two.energy)
