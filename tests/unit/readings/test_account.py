"""The water account, added up by hand."""

import pytest

from bedtide.readings import water_account
from helpers.seasons import bucket_year, by_hand, drought_by_hand


@pytest.mark.parametrize(
    ("name", "mm"),
    [
        ("rain_total", 45),
        ("et0_total", 60),
        ("rain_in_total", 45),
        ("refill_total", 40),
        ("transpiration_total", 52),
        ("evaporation_total", 17),
        ("overflow_total", 19),
        ("rim_spill_total", 0),
        ("open_water_change", -9),
        ("mix_water_change", 6),
        ("standing_water_change", 0),
        ("balance_error", 0),
    ],
)
def test_account_added_up_by_hand(name, mm):
    assert float(water_account(by_hand())[name]) == pytest.approx(mm / 1000, abs=1e-12)


@pytest.mark.parametrize("season", [by_hand, drought_by_hand, bucket_year])
def test_the_made_up_seasons_conserve_water(season):
    assert float(water_account(season())["balance_error"]) < 1e-12


@pytest.mark.parametrize(
    "name",
    [
        "rain_in",
        "refill",
        "transpiration",
        "evaporation",
        "overflow",
        "rim_spill",
        "open_water",
        "mix_water",
        "standing_water",
    ],
)
def test_a_millimetre_too_much_anywhere_is_an_error_of_a_millimetre(name):
    season = by_hand()
    season[name][4] += 0.001
    assert float(water_account(season)["balance_error"]) == pytest.approx(0.001)


@pytest.mark.parametrize("store", ["open_water", "mix_water", "standing_water"])
def test_a_wrong_start_is_seen(store):
    season = by_hand()
    season[f"start_{store}"] = season[f"start_{store}"] + 0.002
    assert float(water_account(season)["balance_error"]) == pytest.approx(0.002)


def test_rise_moves_water_and_makes_none():
    season = by_hand()
    season["rise"] = season["rise"] * 2
    assert float(water_account(season)["balance_error"]) < 1e-12
