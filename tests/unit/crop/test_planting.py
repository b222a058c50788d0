"""Plantings: what is refused, and the seasons that touch a record."""

import datetime

import pytest

from bedtide.crop import Planting, crop
from bedtide.crop.planting import seasons
from bedtide.errors import FieldError, RangeError, SeveralErrors

DATE = datetime.date
LETTUCE = crop("lettuce")  # stages 20, 30, 15, 10: 75 days
GARLIC = crop("garlic")  # 265 days
STRAWBERRY = crop("strawberry")  # a perennial


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
        (DATE(2020, 10, 15), DATE(2021, 7, 6)),
        (DATE(2021, 10, 15), DATE(2022, 7, 6)),
    ]


def test_what_is_left_over_the_winter_stands_over_the_new_year():
    kale = Planting(crop("kale"), (6, 25), removed=(3, 25))
    found = spans(kale, DATE(2021, 1, 1), DATE(2021, 12, 31))
    assert found == [
        (DATE(2020, 6, 25), DATE(2021, 3, 24)),
        (DATE(2021, 6, 25), DATE(2022, 3, 24)),
    ]


def test_a_perennial_stands_all_year_for_ever():
    found = spans(Planting(STRAWBERRY, (3, 15)), DATE(2020, 1, 1), DATE(2021, 12, 31))
    assert found == [
        (DATE(2019, 3, 15), DATE(2020, 3, 14)),  # 366 days, with the 29th of February
        (DATE(2020, 3, 15), DATE(2021, 3, 14)),
        (DATE(2021, 3, 15), DATE(2022, 3, 14)),
    ]


def test_a_perennial_planted_once_stands_from_then_on():
    planting = Planting(STRAWBERRY, DATE(2020, 2, 29))
    assert spans(planting, DATE(2019, 1, 1), DATE(2022, 12, 31)) == [
        (DATE(2020, 2, 29), DATE(2021, 2, 27)),
        (DATE(2021, 2, 28), DATE(2022, 2, 27)),
        (DATE(2022, 2, 28), DATE(2023, 2, 27)),
    ]
    later = seasons(planting, DATE(2040, 1, 1), DATE(2040, 12, 31))
    assert [each.rooted for each in later] == [True, True]
    assert not seasons(planting, DATE(2020, 3, 1), DATE(2020, 6, 1))[0].rooted


def test_a_perennial_can_be_grubbed_up_years_later():
    planting = Planting(STRAWBERRY, DATE(2020, 3, 15), removed=DATE(2022, 3, 15))
    found = spans(planting, DATE(2020, 1, 1), DATE(2024, 12, 31))
    assert found[-1] == (DATE(2021, 3, 15), DATE(2022, 3, 14))
    assert len(found) == 2


def test_a_perennial_cleared_on_a_day_of_every_year_is_an_annual():
    planting = Planting(STRAWBERRY, (9, 1), removed=(7, 1))
    found = seasons(planting, DATE(2021, 1, 1), DATE(2021, 12, 31))
    assert [(each.length, each.rooted) for each in found] == [(303, False)] * 2


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
