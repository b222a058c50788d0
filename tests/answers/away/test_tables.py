"""Tables of a stay away agree with the Dataset, and say what they can't."""

import datetime

import numpy as np
import pytest

from bedtide.answers.away.command import table_of_cases, table_of_dates, table_of_days
from bedtide.many.leaving import away_calendar
from bedtide.many.stay import away
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)


@pytest.fixture(scope="module")
def weather():
    return plain_weather("2021-01-01", 730, et0_mm=4.0)


@pytest.fixture(scope="module")
def stay(weather):
    return away(
        bed_with(), weather, DAY, days=20, measures=["mulch", "drum", "mulch+shade"], drum=0.03
    )


def test_one_row_a_change_and_start(stay):
    table = table_of_cases(stay)
    assert len(table) == 4 * 10
    drum = table[table["change"] == "drum"]
    lasted = stay["days_lasted"].sel(measure="drum")
    assert np.isfinite(lasted).all()
    np.testing.assert_array_equal(drum["days_lasted"], lasted)
    np.testing.assert_allclose(
        drum["water_brought_L"], stay["water_brought"].sel(measure="drum") * 1000
    )
    assert (drum["lasted_all_days"] == (drum["days_lasted"] >= 20)).all()
    assert table["neighbouring_date"].sum() == 4 * 8


def test_longer_than_was_followed_is_the_days_followed(weather):
    easy = away(bed_with(), weather, DAY, days=10, measures=["drum"], drum=10.0)
    table = table_of_cases(easy)
    drum = table[table["change"] == "drum"]
    assert (drum["days_lasted"] == drum["days_followed"]).all()
    assert np.isfinite(table["days_to_empty"]).all()


def test_us_gallons(stay):
    litres, gallons = table_of_cases(stay), table_of_cases(stay, units="us")
    np.testing.assert_allclose(
        gallons["water_brought_US_gal"] * 3.785411784, litres["water_brought_L"]
    )


def test_one_row_a_day_never_rising(stay):
    table = table_of_days(stay)
    assert table["days_away"].tolist() == list(range(1, 46))
    for name in ("as_it_is", "mulch", "drum", "mulch_and_shade"):
        assert (table[f"lasting_{name}"].diff().dropna() <= 0).all()
    assert table["lasting_as_it_is"][19] == int(stay["cases_lasting"][0])


def test_calendar_cells(weather):
    calendar = away_calendar(bed_with(), weather)
    table = table_of_dates(calendar)
    assert len(table) == 73
    first = table[table["leave"] == "01-01"]
    assert first["lasted_2021"].isna().all(), "thirty days before are not in the record"
    assert (first["lasted_2022"] == 60).all()
    row = table[table["leave"] == "07-10"].iloc[0]
    assert row["days_safe"] == float(calendar["days_safe"].sel(leave="07-10"))
    assert row["plantings_standing"] == 1
