"""Plantings: what is refused, and the seasons that touch a record."""

import datetime

import pytest

from bedtide.crop import Planting, crop
from bedtide.crop.planting import seasons
from bedtide.errors import FieldError, RangeError, SeveralErrors

DATE = datetime.date
LETTUCE = crop("lettuce")  # stages 20, 30, 15, 10: 75 days
GARLIC = crop("garlic")  # 150 days


def spans(planting, first, last):
    epoch = DATE(1970, 1, 1)
    found = [
        (epoch + datetime.timedelta(days=s.start), s.length) for s in seasons(planting, first, last)
    ]
    return [(start, start + datetime.timedelta(days=length - 1)) for start, length in found]


def test_one_date_grows_once():
    planting = Planting(LETTUCE, DATE(2021, 4, 1))
    expected = [(DATE(2021, 4, 1), DATE(2021, 6, 14))]
    assert spans(planting, DATE(2020, 1, 1), DATE(2023, 12, 31)) == expected


def test_month_and_day_comes_round_every_year():
    planting = Planting(LETTUCE, (4, 1))
    found = spans(planting, DATE(2020, 1, 1), DATE(2022, 12, 31))
    assert [start for start, _ in found] == [DATE(year, 4, 1) for year in (2020, 2021, 2022)]


def test_season_that_started_the_year_before_is_in_the_record():
    planting = Planting(GARLIC, (10, 15))
    found = spans(planting, DATE(2021, 1, 1), DATE(2021, 12, 31))
    assert found == [
        (DATE(2020, 10, 15), DATE(2021, 3, 13)),
        (DATE(2021, 10, 15), DATE(2022, 3, 13)),
    ]


@pytest.mark.parametrize(
    ("removed", "last"),
    [
        ((5, 1), DATE(2021, 4, 30)),
        ((9, 1), DATE(2021, 8, 31)),
        ((2, 1), DATE(2022, 1, 31)),
        ((4, 1), DATE(2022, 3, 31)),
    ],
)
def test_removal_ends_it_the_day_before(removed, last):
    planting = Planting(LETTUCE, DATE(2021, 4, 1), removed=removed)
    assert spans(planting, DATE(2021, 1, 1), DATE(2022, 12, 31)) == [(DATE(2021, 4, 1), last)]


def test_record_without_the_planting_has_no_season():
    planting = Planting(LETTUCE, DATE(2021, 4, 1))
    assert seasons(planting, DATE(2021, 6, 15), DATE(2021, 12, 31)) == []
    assert seasons(planting, DATE(2021, 1, 1), DATE(2021, 3, 31)) == []


def test_a_season_is_in_the_record_from_its_first_day_to_its_last():
    planting = Planting(LETTUCE, DATE(2021, 4, 1))  # to 14 June
    whole = [(DATE(2021, 4, 1), DATE(2021, 6, 14))]
    assert spans(planting, DATE(2021, 6, 14), DATE(2021, 12, 31)) == whole
    assert spans(planting, DATE(2021, 1, 1), DATE(2021, 4, 1)) == whole


@pytest.mark.parametrize(
    "changes",
    [
        {"planted": (1, 1)},
        {"planted": (12, 31)},
        {"planted": (2, 28)},
        {"stages": (1, 1, 1, 1)},
        {"stages": (100, 100, 100, 65)},
    ],
)
def test_what_is_just_possible_is_taken(changes):
    Planting(**{"crop": LETTUCE, "planted": (4, 1), **changes})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"area_share": 0.0}, "lettuce, area share"),
        ({"area_share": 1.2}, "lettuce, area share"),
        ({"canopy": 0.5}, "lettuce, canopy"),
        ({"canopy": 2.5}, "lettuce, canopy"),
        ({"stages": (20, 0, 15, 10)}, "lettuce, stages"),
        ({"stages": (100, 100, 100, 100)}, "lettuce, stages"),
        ({"stages": (20, 30, 15)}, "lettuce, stages"),
        ({"planted": (2, 29)}, "lettuce, planted"),
        ({"planted": (13, 1)}, "lettuce, planted"),
        ({"planted": (0, 1)}, "lettuce, planted"),
        ({"planted": (4, 0)}, "lettuce, planted"),
        ({"stages": (100, 100, 100, 66)}, "lettuce, stages"),
        ({"removed": (4, 31)}, "lettuce, removed"),
        ({"removed": (4, 1)}, "day of planting itself"),
    ],
)
def test_impossible_planting_is_refused(changes, words):
    given = {"crop": LETTUCE, "planted": (4, 1), **changes}
    with pytest.raises(RangeError, match=words):
        Planting(**given)


def test_leap_day_is_refused_with_advice():
    with pytest.raises(RangeError) as caught:
        Planting(LETTUCE, (2, 29))
    assert "28th" in caught.value.hint


def test_several_mistakes_are_reported_together():
    with pytest.raises(SeveralErrors) as caught:
        Planting(LETTUCE, (4, 31), area_share=2.0)
    assert len(caught.value.errors) == 2


def test_removal_by_date_needs_planting_by_date():
    with pytest.raises(FieldError, match="comes round every year"):
        Planting(LETTUCE, (4, 1), removed=DATE(2021, 6, 1))
    with pytest.raises(RangeError, match="not after the planting"):
        Planting(LETTUCE, DATE(2021, 4, 1), removed=DATE(2021, 4, 1))
