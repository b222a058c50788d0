"""The audit finds water that was made or lost, wherever it was tampered with."""

import datetime

import numpy as np
import pytest

from bedtide.balance import balance_error, check_balance, run_many
from bedtide.constants import BALANCE_LIMIT
from bedtide.errors import BalanceError
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather


@pytest.fixture(scope="module")
def run():
    """Two beds through two months with rain and refills; one has no outlet."""
    rain = {"2023-06-10": 30, "2023-06-11": 80, "2023-07-01": 60, "2023-07-02": 90}
    weather = plain_weather("2023-06-01", 60, rain_mm=rain)
    beds = [bed_with(), bed_with({"overflow": {"state": "none"}})]
    return run_many(beds, weather, [datetime.date(2023, 6, 1)], days=60)


def test_a_whole_run_closes(run):
    error = balance_error(run.series, run.start, run.rain)
    assert error.shape == (2,)
    assert (error < 1e-12).all()
    assert BALANCE_LIMIT <= 1e-9  # a millionth of a millimetre, in m
    check_balance(error, where="run")


@pytest.mark.parametrize(
    "name",
    ["standing", "refill", "rise", "transpiration", "evaporation", "overflow", "rim_spill"],
)
def test_a_drop_too_many_is_found_in_every_flux(run, name):
    changed = np.array(getattr(run.series, name))
    changed[30, ..., 1] += 2e-9  # two millionths of a millimetre on one day
    error = balance_error(run.series._replace(**{name: changed}), run.start, run.rain)
    assert error[0] < 1e-12
    assert error[1] == pytest.approx(2e-9, rel=1e-3)
    with pytest.raises(BalanceError, match="1 of 2 runs"):
        check_balance(error, where="run")


@pytest.mark.parametrize("store", [0, 1, 2])
def test_a_drop_too_many_is_found_in_every_store(run, store):
    stores = np.array(run.series.stores)
    stores[30, store, 1] -= 2e-9
    error = balance_error(run.series._replace(stores=stores), run.start, run.rain)
    assert error[0] < 1e-12
    assert error[1] == pytest.approx(2e-9, rel=1e-3)


def test_rain_that_never_fell_is_found(run):
    rain = np.array(run.rain)
    rain[5, 0] += 1e-6
    assert balance_error(run.series, run.start, rain)[0] == pytest.approx(1e-6, rel=1e-3)


def test_every_flux_of_the_run_was_at_work(run):
    for name in ("refill", "rise", "transpiration", "evaporation", "overflow", "rim_spill"):
        assert (getattr(run.series, name) != 0).any(), name
    assert (run.series.standing > 0).any()


def test_what_is_not_a_number_is_refused():
    with pytest.raises(BalanceError) as caught:
        check_balance(np.array([0.0, np.nan]), where="Kitchen bed")
    assert caught.value.where == "Kitchen bed"
    assert "nan" not in str(caught.value)
