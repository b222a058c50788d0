"""Runs against a plain loop; one bed among many."""

import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from bedtide.readings import (
    by_month,
    by_month_of_year,
    days_to_refill,
    dryness,
    refills,
    water_account,
    wetness,
)
from bedtide.readings.wet_and_dry import longest_run
from bedtide.tables import terms
from helpers.seasons import bucket_year, by_hand, drought_by_hand

READINGS = [refills, wetness, dryness, water_account, by_month, by_month_of_year]


@given(st.lists(st.booleans(), min_size=1, max_size=40))
def test_longest_run_is_what_a_loop_finds(marked):
    runs, length, best, start = 0, 0, 0, -1
    for day, wet in enumerate(marked):
        length = length + 1 if wet else 0
        runs += length == 1
        if length > best:
            best, start = length, day - length + 1
    found = longest_run(marked)
    assert (int(found.runs), int(found.longest), int(found.start)) == (runs, best, start)


def several() -> xr.Dataset:
    """Four beds and two years of them, each with something of its own."""
    first = bucket_year()
    beds = [first, bucket_year(refill=False), first.copy(deep=True), first.copy(deep=True)]
    beds[2]["air_root_zone"] = beds[2]["air_root_zone"] - 0.1
    beds[3]["plan_area"] = 3.0
    beds[3]["dead_storage"] = 0.02
    beds[3]["uptake_factor"] = beds[3]["uptake_factor"] * 0.5
    row = xr.concat(beds, "bed")
    other = row.isel(bed=slice(None, None, -1))
    return xr.concat([row, other], "year").transpose("bed", "year", "time")


@pytest.mark.parametrize("reading", READINGS, ids=lambda reading: reading.__name__)
def test_one_bed_alone_reads_as_among_many(reading):
    many = several()
    together = reading(many)
    assert next(iter(together.values())).dims[:2] == ("bed", "year")
    for bed in range(4):
        for year in range(2):
            alone = reading(many.isel(bed=bed, year=year))
            xr.testing.assert_equal(together.isel(bed=bed, year=year), alone)


def test_scalars_that_all_beds_share_are_enough():
    many = xr.concat([by_hand(), by_hand()], "bed")
    scalars = [name for name, values in by_hand().items() if values.ndim == 0]
    many = many.assign({name: by_hand()[name] for name in scalars})
    for reading in READINGS:
        xr.testing.assert_equal(reading(many).isel(bed=1), reading(by_hand()))


@pytest.mark.parametrize("reading", READINGS, ids=lambda reading: reading.__name__)
def test_time_may_stand_first_and_input_stays(reading):
    many = several()
    before = many.copy(deep=True)
    xr.testing.assert_equal(reading(many.transpose("time", ...)), reading(many))
    xr.testing.assert_identical(many, before)


@pytest.mark.parametrize("reading", READINGS, ids=lambda reading: reading.__name__)
@pytest.mark.parametrize("season", [by_hand, drought_by_hand])
def test_names_and_units_are_the_glossarys(reading, season):
    for name, values in reading(season()).items():
        assert values.attrs["long_name"] == terms()[name]["long_name"]
        assert values.attrs.get("units", "") == terms()[name]["unit"]
    assert days_to_refill(season()).attrs["units"] == "d"


@pytest.mark.parametrize("read", READINGS, ids=lambda read: read.__name__)
def test_a_run_of_one_day_has_its_readings(read):
    """That of the day on which it is filled, without the day itself among the coordinates."""
    season = bucket_year()
    filled = int((season["refill"].to_numpy() > 0.0).argmax())
    found = read(season.isel(time=[filled]))
    assert "time" not in found.coords
    if read in (refills, by_month):
        assert found["refill_count"].sum() == 1
