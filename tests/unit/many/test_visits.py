"""Days for a visit against brute force: every year and every day run by itself, one after another.

The runs of `helpers.stays` share the model with the answer and nothing else.
"""

import datetime
from itertools import combinations

import numpy as np
import pytest

from bedtide.errors import FieldError
from bedtide.many.stay import away
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers.beds import bed_with
from helpers.stays import Alone, worth

DAY = datetime.date(2027, 7, 1)


@pytest.fixture(scope="module")
def record():
    return read_weather(samples_folder() / "brasaluz.csv")


def bed_of(crop, **changes):
    planting = [{"crop": crop, "planted": "05-10", "area_share": "100 %"}]
    return bed_with({"planting": planting, **changes})


def brute(bed, weather, days, count):
    """Days lasted in every year by the days of the visits; a visit never makes it fewer."""
    years = np.unique(weather["time"].dt.year)
    lip = bed.overflow.height
    alone = [Alone(bed, weather, DAY.replace(year=y), days=days, lip=lip) for y in years]
    found = {(): [each.lasts() for each in alone]}
    for number in range(1, count + 1):
        for visits in combinations(range(1, days), number):
            before = found[visits[:-1]]
            found[visits] = [max(a.lasts(visits), b) for a, b in zip(alone, before, strict=True)]
    return found


def check(bed, weather, days, count):
    """Compare with no visit, then one, then two; what brute force found."""
    found = brute(bed, weather, days, count)
    stay = away(bed, weather, DAY, days=days, measures=["visit", "visit+visit"][:count])
    for number in range(count + 1):
        row = stay.isel(measure=number)
        names = ("visit_day", "second_visit_day")[:number]
        told = tuple(int(row[name]) for name in names)
        lasted = np.minimum(row["days_lasted"].values, days)
        np.testing.assert_array_equal(lasted, np.minimum(found[told], days))
        assert (min(int(row["days_safe"]), days), int(row["cases_lasting"])) == max(
            worth(lasted, days) for visits, lasted in found.items() if len(visits) == number
        )
    return found, stay


def test_the_days_that_are_safe_come_before_the_years_that_last(record):
    """The day on which most years last the stay, 11, leaves the worst as they are; 7 saves them."""
    found, stay = check(bed_of("lettuce"), record.sel(time=slice("2005", "2015")), 18, 1)
    by_years = max(range(1, 18), key=lambda day: worth(found[day,], 18)[::-1])
    safe, through = worth(found[by_years,], 18)
    best = stay.isel(measure=1)
    assert safe < int(best["days_safe"])
    assert through > int(best["cases_lasting"])
    told = int(best["visit_day"])
    as_good = [day for day in range(1, 18) if worth(found[day,], 18) == worth(found[told,], 18)]
    assert [*range(int(best["visit_day_first"]), int(best["visit_day_last"]) + 1)] == as_good
    assert 0 < len(as_good) < 17, "all days alike: nothing was tested"


def test_two_visits_are_the_best_pair(record):
    """A shallow bed that must be filled every few days, for ten days."""
    small = {"box.depth": "28 cm", "overflow.height": "4 cm"}
    found, stay = check(bed_of("tomato", **small), record.sel(time=slice("2001", "2010")), 10, 2)
    worths = {worth(lasted, 10) for visits, lasted in found.items() if len(visits) == 2}
    assert len(worths) > 3, "all pairs alike: nothing was tested"
    first, second = (int(stay[name][2]) for name in ("visit_day", "second_visit_day"))
    assert 0 < first < second < 10
    assert stay["days_safe"][2] > stay["days_safe"][1] > stay["days_safe"][0]


@pytest.mark.slow
@pytest.mark.parametrize(("crop", "days", "count"), [("lettuce", 21, 1), ("tomato", 15, 2)])
def test_thirty_years(record, crop, days, count):
    check(bed_of(crop), record, days, count)


def test_more_than_two_visits_are_refused(record):
    with pytest.raises(FieldError, match="more than two visits"):
        away(bed_of("tomato"), record, DAY, days=10, measures=["visit+visit+visit"])


def test_no_visit_in_the_same_place_twice(record):
    """Where nothing is to be gained the visits are spread over the stay: days 4 and 8 of 12."""
    shaded = bed_of("tomato", **{"site": {"exposure": 0.3}})
    stay = away(shaded, record, DAY, days=12, measures=["visit", "visit+visit"])
    assert (stay["cases_lasting"] == 30).all()
    assert stay["visit_day"].values.tolist()[1:] == [6, 4]
    assert (stay["visit_day_first"][1], stay["visit_day_last"][1]) == (1, 11)  # one is as good
    assert float(stay["second_visit_day"][2]) == 8


def test_of_two_days_away_the_one_morning_between_them_is_left(record):
    part = record.sel(time=slice("2001", "2010"))
    stay = away(bed_of("tomato"), part, DAY, days=2, measures=["visit"]).isel(measure=1)
    names = ("visit_day", "visit_day_first", "visit_day_last")
    assert [int(stay[name]) for name in names] == [1, 1, 1]
