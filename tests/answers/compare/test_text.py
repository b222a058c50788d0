"""What is told of a comparison: the bed to build first, its reason, its doubt, the tables."""

import dataclasses

import pytest

from bedtide.answers.compare.summary import Comparison, summary_of
from bedtide.many import Range, Ranges
from bedtide.report.spells import spells_summary
from bedtide.report.templates import mean, render
from helpers.comparisons import comparison, depths, spells

REASONS = ("fails", "room", "want", "fills", "weight", "water", "none")


@pytest.fixture(scope="module")
def summary() -> Comparison:
    return summary_of(comparison())


def told(summary: Comparison, units: str = "metric", width: int | None = None) -> str:
    return render("answers/compare/text.j2", units=units, width=width, s=summary)


def made(summary: Comparison, *beds: dict, **changes: object) -> Comparison:
    """Made-up beds A, B, ...: of plain figures, but for those that are given."""
    even = {
        "refills_mean": 10.0,
        "wet_days_mean": 0.0,
        "dry_days_mean": 0.0,
        "full_kg": 500.0,
        "refill_litres_mean": 900.0,
        "mix_above_reservoir_cm": 30.0,
        "beaten": False,
        "fails": False,
    }
    rows = tuple(
        dataclasses.replace(
            summary.beds[0], **{**even, "bed": letter, "label": f"bed {letter}", **own}
        )
        for letter, own in zip("ABCDEFGH", beds, strict=False)
    )
    plain = {
        "choice": "A",
        "choice_rival": "B",
        "choice_reason": "fills",
        "choice_years_no_worse": 18,
        "years": 30,
    }
    return dataclasses.replace(summary, **{**plain, "beds": rows, **changes})


def opening(summary: Comparison, *beds: dict, **changes: object) -> str:
    """What stands before the tables."""
    return told(made(summary, *beds, **changes)).split("\n\n")[0]


def doubt(low: float | None, high: float | None, typical: float) -> Range:
    return Range(
        typical=typical,
        low=low,
        high=high,
        matters="exposure",
        influence={"exposure": 0.9, "mulch": -0.5, "retention": 0.1},
        failing=0,
        runs=64,
    )


def ranges(summary: Comparison, choices: str) -> Ranges:
    return Ranges(
        beds={
            bed.bed: {
                "refills_mean": doubt(8.0, 14.0, bed.refills_mean),
                "days_between_refills_median": doubt(9.0, None, 12.0),
                "refill_litres_mean": doubt(700.0, 1200.0, bed.refill_litres_mean),
                "wet_days_mean": doubt(0.0, 0.0, 0.0),
                "dry_days_mean": doubt(0.0, 2.5, 0.0),
            }
            for bed in summary.beds
        },
        fails={bed.bed: number for number, bed in enumerate(summary.beds)},
        choices=tuple(choices),
        years=10,
    )


@pytest.mark.parametrize(
    ("reason", "first", "second", "words"),
    [
        (
            "room",
            {},
            {"mix_above_reservoir_cm": 12.0},
            "Build A (bed A): it alone has 20 cm of mix or more for the roots, the least in common "
            "practice. The next best, B, has 12 cm. B needed fewer fills in 12 of 30 years.",
        ),
        (
            "want",
            {"wet_days_mean": 1.0},
            {"wet_days_mean": 12.0, "refills_mean": 4.0},
            "Build A (bed A): its roots lack air or water on 1 day a year, the fewest. The "
            "next best, B, leaves them short on 12 days a year but was better in 12 of 30 years. "
            "A needs 10 fills, B 4.",
        ),
        (
            "fills",
            {},
            {"refills_mean": 14.0},
            "Build A (bed A): 10 fills a year. The next best, B, needs 14 but was better in 12 of "
            "30 years.",
        ),
        (
            "weight",
            {},
            {"full_kg": 700.0},
            "Build A (bed A): 10 fills a year and 500 kg full to the rim. The next best, B, weighs "
            "700 kg and needs as many fills, fewer in 12 of 30 years.",
        ),
        (
            "water",
            {},
            {"refill_litres_mean": 1200.0},
            "Build A (bed A): 10 fills and 900 L a year. The next best, B, needs as many fills and "
            "1,200 L but was better in 12 of 30 years.",
        ),
        (
            "none",
            {},
            {},
            "Build A (bed A) or B: they are alike in fills, days without air or water, weight and "
            "water poured in. B needed fewer fills in 12 of 30 years.",
        ),
    ],
)
def test_the_choice_has_its_reason_and_its_doubt(summary, reason, first, second, words):
    assert opening(summary, first, second, choice_reason=reason).splitlines()[0] == words


def test_doubt_when_no_year_speaks_against_it_and_when_there_is_but_one(summary):
    beds = ({}, {"refills_mean": 14.0})
    assert "needs 14 and was never better." in opening(summary, *beds, choice_years_no_worse=30)
    one = opening(summary, *beds, choice_years_no_worse=1, years=1)
    assert one.splitlines()[0].endswith("needs 14. One year says little.")


def test_roots_that_never_go_short(summary):
    text = opening(summary, {}, {"dry_days_mean": 33.0}, choice_reason="want")
    assert "its roots never lack air or water. The next best, B, leaves them short on 33" in text


def test_room_is_told_among_the_beds_that_keep_their_plants(summary):
    cramped, starved = {"mix_above_reservoir_cm": 12.0}, {"dry_days_mean": 80.0, "fails": True}
    text = opening(summary, {}, cramped, starved, choice_reason="room")
    assert "Build A (bed A): of the beds that keep their plants it alone has 20 cm of mix" in text
    assert "Build A (bed A): it alone has" in opening(summary, {}, cramped, choice_reason="room")


def test_beds_that_fail_their_plants_are_named_and_not_good(summary):
    starved = {"dry_days_mean": 80.0, "refills_mean": 2.0, "fails": True}
    text = told(made(summary, {}, starved, {**starved, "beaten": True}, choice_reason="fails"))
    assert text.startswith(
        "Build A (bed A): it alone keeps its plants, with 10 fills a year. The next best, B, fails "
        "them: the roots lack air on 0 days a year and water on 80."
    )
    assert "B and C fail their plants: roots lack air or water on more than a tenth" in text
    assert text.count(" fails ") == 3  # the headline, two rows of the table
    assert "Drop" not in text
    none = opening(summary, starved, starved, choice_reason="fills")
    assert "None of these beds keeps its plants: even in A the roots lack air on 0 days" in none
    alone = opening(summary, starved, choice=None, choice_rival=None, choice_reason="none")
    assert "It does not keep its plants" in alone


def test_a_bed_with_air_that_does_not_reach_deep_enough_is_not_said_to_lack_it(summary):
    low = {"wet_days_mean": 198.0, "lowest_air_percent_min": 22.0, "fails": True}
    text = opening(summary, {}, low, choice_reason="fails")
    assert "fails them: air does not reach as deep as the roots need on 198 days a year" in text
    drowned = opening(summary, {}, {**low, "lowest_air_percent_min": 9.9}, choice_reason="fails")
    assert "fails them: the roots lack air on 198 days a year and water on 0." in drowned


def test_the_headline_carries_the_range_of_its_days_and_how_often_it_fails(summary):
    beds = ({}, {"refills_mean": 14.0})
    ranged = ranges(made(summary, *beds), "A" * 64)
    ranged.beds["A"]["dry_days_mean"] = doubt(0.0, 147.0, 0.0)
    text = opening(summary, *beds, range=dataclasses.replace(ranged, fails={"A": 13, "B": 0}))
    assert "Build A (bed A): 8 to 14 (typically 10) fills a year." in text
    assert (
        "In A the roots lack air on 0 days a year and water on 0 to 147 (8 times in 10); it fails "
        "its plants with 13 of 64 sets of values."
    ) in text
    assert "at most 2 days a year, as they are described." in text


def test_a_choice_that_is_still_bad_says_so(summary):
    text = opening(summary, {"wet_days_mean": 30.0}, {"wet_days_mean": 31.0, "refills_mean": 14.0})
    assert "Even in A the roots lack air on 30 days a year and water on 0." in text
    assert "whose roots lack air or water on at most 32 days" in text


def test_the_rule_is_told_with_the_room_where_some_beds_lack_it(summary):
    beds = ({}, {"refills_mean": 14.0}, {"mix_above_reservoir_cm": 12.0})
    text = opening(summary, *beds, days_of_a_year=150)
    assert (
        "A was chosen from the beds with 20 cm of mix or more whose roots lack air or water on at "
        "most 2 days a season."
    ) in text
    assert "10 fills a season" in text
    assert "with 20 cm" not in opening(summary, *beds[:2])


@pytest.mark.parametrize(
    ("dropped", "words"), [("", None), ("B", "Drop B:"), ("BC", "Drop B and C:")]
)
def test_beaten_beds_are_dropped(summary, dropped, words):
    rest = [{"beaten": letter in dropped, "refills_mean": 14.0} for letter in "BC"]
    text = told(made(summary, {}, *rest))
    if words is None:
        assert "Drop" not in text
        assert " drop" not in text
    else:
        assert f"{words} another bed is as good in everything and better in something." in text
        assert text.count(" drop ") == len(dropped)


def test_a_single_bed_is_told_and_not_chosen():
    text = told(summary_of(comparison().isel(bed=[0])))
    assert "Build" not in text
    assert text.splitlines()[0].endswith("and water on 0.")


def test_what_is_printed_is_what_the_figures_hold(summary):
    text = told(summary)
    lines = text.splitlines()
    for bed in summary.beds:
        assert f"  {bed.bed}: {bed.label}" in lines
        row = next(line for line in reversed(lines) if line.split()[:1] == [bed.bed])
        assert mean(bed.refills_mean) in row.split()
        assert f"{bed.refill_litres_mean:,.0f}" in row
    assert "2 runs of 365 days" in text
    assert "shortest and the longest of 2 years" in text
    assert "without box, liner, plants" in text
    for bad in ("nan", "None", "inf ", "{", "%s"):
        assert bad not in text


def test_days_between_fills_without_an_end(summary):
    text = told(
        made(
            summary,
            {"days_between_refills_p10": 7.0, "days_between_refills_p90": None},
            {"days_between_refills_median": None, "days_between_refills_p90": None},
        )
    )
    assert " (7 up) " in text
    assert '"Up": or longer' in text
    assert '"Rarely": most years' in text
    assert '"Up"' not in told(summary)
    assert '"Rarely"' not in told(summary)


def test_us_units_leave_no_metric_behind(summary):
    dead = dataclasses.replace(summary.beds[1], reservoir_litres_out_of_reach=10.0)
    mixed = dataclasses.replace(summary, beds=(summary.beds[0], dead, *summary.beds[2:]))
    text = told(dataclasses.replace(mixed, range=ranges(summary, "D" * 64)), "us")
    assert 'Not in "holds", for the mix can\'t reach it: 2.6 US gal in B.' in text
    assert "lb/ft2" in text
    for bed in summary.beds:  # names are the keeper's
        text = text.replace(bed.label, "")
    for unit in (" kg", " L ", "kg/m2", "cm"):
        assert unit not in text, unit


def test_ranges_stand_in_the_answer_and_in_a_table(summary):
    mixed = made(summary, {}, {"refills_mean": 14.0})
    text = told(dataclasses.replace(mixed, range=ranges(mixed, "A" * 40 + "B" * 24)))
    assert "Build A (bed A): 8 to 14 (typically 10) fills a year." in text
    row = next(line for line in reversed(text.splitlines()) if line.startswith("A "))
    assert " ".join(row.split()) == "A 8 to 14 9 up 700 to 1,200 0 0 to 2.5 0"
    most = (
        "The fills of A hang most on how much sun and wind the bed gets, then on how much the mulch"
    )
    assert text.count(most) == 1
    assert "A with 40 of 64 sets of values, B with 24." in text
    assert "64 sets of values for mix, plants, place and rain were drawn together, each run" in text
    assert "All of this is for a typical mix" not in text
    same = told(dataclasses.replace(mixed, range=ranges(mixed, "A" * 64)))
    assert "A is the choice with all 64 sets of values." in same


STATES = {
    "two": ({}, {"refills_mean": 14.0}),
    "many": tuple({"beaten": n > 4, "refills_mean": 9.96 + n} for n in range(8)),
    "bad": tuple(
        {
            "wet_days_mean": 30.5,
            "dry_days_mean": 2.3,
            "rain_share_percent_median": None,
            "lowest_air_percent_mean": None,
            "days_between_refills_median": None,
            "days_between_refills_p90": None,
            "reservoir_litres_out_of_reach": 4.0,
            "label": "a bed by the kitchen wall, with depth 45 cm and overflow height 12 cm",
        }
        for _ in range(3)
    ),
}


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("reason", REASONS)
@pytest.mark.parametrize("state", STATES)
def test_every_state_is_told_and_fits_sixty_columns(summary, state, reason, units):
    rainy = spells_summary(spells(), depths())
    for years, kept, left in ((1, 1, 0), (2, 2, 8), (30, 12, 1)):
        made_up = made(
            summary,
            *STATES[state],
            choice_reason=reason,
            years=years,
            choice_years_no_worse=kept,
            days_left_out=left,
            wet_spell=rainy if years == 30 else None,
        )
        ranged = dataclasses.replace(made_up, range=ranges(made_up, "A" * 40 + "B" * 24))
        for each in (made_up, ranged):
            text = told(each, units, width=60)
            assert text.startswith("Build A (")
            assert max(map(len, text.splitlines())) <= 60
            assert not {"None", "nan", "inf"} & set(text.split())
