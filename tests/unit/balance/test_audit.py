"""The audit finds water that was made or lost, wherever it was tampered with."""

import datetime

import numpy as np
import pytest

from bedtide.balance import run_many
from bedtide.balance.run import balance_error, check_balance
from bedtide.constants import BALANCE_LIMIT, BALANCE_SHARE
from bedtide.errors import BalanceError
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

FLUXES = ["refill", "rise", "transpiration", "evaporation", "overflow", "rim_spill"]
STORES = ["open_water", "mix_water", "standing_water"]


@pytest.fixture(scope="module")
def run():
    """Two beds through two months with rain and refills; one has no outlet."""
    rain = {"2023-06-10": 30, "2023-06-11": 80, "2023-07-01": 60, "2023-07-02": 90}
    weather = plain_weather("2023-06-01", 60, rain_mm=rain)
    beds = [bed_with(), bed_with({"overflow": {"state": "none"}})]
    return run_many(beds, weather, [datetime.date(2023, 6, 1)], days=60)


def error_of(run, **changed):
    return balance_error(run.series._replace(**changed), run.start, run.rain)[0]


def test_the_account_of_ordinary_beds_closes_to_a_millionth_of_a_millimetre(run):
    error, flowed = balance_error(run.series, run.start, run.rain)
    assert error.shape == flowed.shape == (2,)
    assert (error < 1e-9).all()
    assert (run.error == error).all()
    check_balance(error, flowed, where="run")


def test_all_that_came_and_left_is_added_up(run):
    _, flowed = balance_error(run.series, run.start, run.rain)
    crossed = [run.rain, run.series.refill, *(getattr(run.series, name) for name in FLUXES[2:])]
    assert flowed == pytest.approx(sum(values.sum(axis=0) for values in crossed), rel=1e-12)
    assert (flowed > 0.5).all()


@pytest.mark.parametrize("name", FLUXES)
def test_a_drop_too_many_is_found_in_every_flux(run, name):
    changed = np.array(getattr(run.series, name))
    changed[30, 1] += 2e-9  # two millionths of a millimetre on one day
    error = error_of(run, **{name: changed})
    assert error[0] < 1e-12
    assert error[1] == pytest.approx(2e-9, rel=0.01)
    with pytest.raises(BalanceError, match="1 of 2 runs"):
        check_balance(error, np.ones(2), where="run")


@pytest.mark.parametrize("name", STORES)
def test_a_drop_too_few_is_found_in_every_store(run, name):
    changed = np.array(getattr(run.series, name))
    changed[30, 1] -= 2e-9
    error = error_of(run, **{name: changed})
    assert error[0] < 1e-12
    assert error[1] == pytest.approx(2e-9, rel=0.01)


@pytest.mark.parametrize("name", ["open_water", "mix_water", "standing"])
def test_a_drop_too_many_at_the_start_is_found(run, name):
    changed = np.array(getattr(run.start, name))
    changed[0] += 3e-9
    error, _ = balance_error(run.series, run.start._replace(**{name: changed}), run.rain)
    assert error[0] == pytest.approx(3e-9, rel=0.01)
    assert error[1] < 1e-12


def test_rain_that_never_fell_is_found(run):
    rain = np.array(run.rain)
    rain[5, 0] += 1e-6
    assert balance_error(run.series, run.start, rain)[0][0] == pytest.approx(1e-6, rel=1e-3)


def test_water_that_the_store_lost_to_the_mix_unseen_is_found(run):
    """The whole closes, the reservoir's own account does not."""
    open_water, mix = np.array(run.series.open_water), np.array(run.series.mix_water)
    open_water[40:, 0] -= 5e-9
    mix[40:, 0] += 5e-9
    error = error_of(run, open_water=open_water, mix_water=mix)
    assert error[0] == pytest.approx(5e-9, rel=0.01)


def test_every_flux_and_store_of_the_run_was_at_work(run):
    for name in FLUXES:
        assert (getattr(run.series, name) != 0).any(), name
    for name in STORES:
        assert (np.diff(getattr(run.series, name), axis=0) != 0).any(), name


@pytest.mark.parametrize(
    ("error", "flowed", "fine"),
    [
        (0.9e-9, 1.0, True),
        (1.1e-9, 1.0, False),  # a millionth of a millimetre
        (1.1e-9, 999.0, False),
        (1.1e-9, 1101.0, True),  # a part in 10^12 of more than a kilometre of water
        (1.2e-7, 100_000.0, False),
        (0.9e-7, 100_000.0, True),
        (np.nan, 1.0, False),
        (np.nan, 1e9, False),
        (1.0, np.nan, False),
        (np.inf, 1.0, False),
    ],
)
def test_what_is_let_pass(error, flowed, fine):
    given = np.array([0.0, error]), np.array([1.0, flowed])
    if fine:
        check_balance(*given, where="Kitchen bed")
    else:
        with pytest.raises(BalanceError, match="1 of 2 runs"):
            check_balance(*given, where="Kitchen bed")


def test_the_limit_is_a_millionth_of_a_millimetre_and_rounding_of_far_more():
    assert BALANCE_LIMIT == 1e-9  # a millionth of a millimetre, in m
    assert BALANCE_SHARE == 1e-12


def test_how_far_it_is_off_is_told_in_millimetres():
    with pytest.raises(BalanceError, match=r"1 of 2 runs is off by up to 1\.23 mm"):
        check_balance(np.array([0.0, 0.001234]), np.ones(2), where="Kitchen bed")


def test_what_is_not_a_number_is_refused():
    with pytest.raises(BalanceError) as caught:
        check_balance(np.array([0.0, np.nan]), np.ones(2), where="Kitchen bed")
    assert caught.value.where == "Kitchen bed"
    assert "nan" not in str(caught.value)


def test_a_bed_that_is_poured_full_with_a_river_passes():
    """100 m3 a day through 1.2 m2: 83 m of water, every day, of which all but a little runs off."""
    rule = {"when": "every n days", "every": "1 day", "amount": "100000 L"}
    weather = plain_weather("2021-01-01", 365, rain_mm={"2021-03-01": 50.0})
    run = run_many(
        [bed_with({"watering": rule}), bed_with()], weather, [datetime.date(2021, 1, 1)], days=365
    )
    poured = run.series.refill.sum(axis=0)
    assert poured[0] == pytest.approx(365 * 100 / 1.2)
    assert poured[1] < 3.0
    used = (run.series.transpiration + run.series.evaporation)[:, 0].sum()
    assert run.series.overflow[:, 0].sum() == pytest.approx(poured[0] + 0.05 - used, abs=0.05)
    assert run.error[0] < 1e-7  # of 30 km of water
    assert run.error[1] < 1e-9


@pytest.mark.parametrize("state", ["none", "blocked"])
def test_a_river_into_a_bed_without_a_way_out_goes_over_the_rim(state):
    overflow = {"state": "none"} if state == "none" else {"height": "9 cm", "state": "blocked"}
    rule = {"when": "every n days", "every": "1 day", "amount": "100000 L"}
    bed = bed_with({"watering": rule, "overflow": overflow})
    run = run_many([bed], plain_weather("2021-06-01", 60), [datetime.date(2021, 6, 1)], days=60)
    assert run.series.overflow.sum() == 0.0
    assert (run.series.rim_spill[1:, 0] > 80.0).all()
    assert run.series.standing_water.max() <= 0.03 + 1e-12
