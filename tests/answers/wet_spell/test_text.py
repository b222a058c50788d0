"""What is told of rainy spells: figures as in the Dataset, words from the figures alone."""

import json
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import xarray as xr

from bedtide.bed import document_of, example_text
from bedtide.files import json_text, plain
from bedtide.many import Range, parse_choices, varied_beds
from bedtide.report import spells as of_spells
from bedtide.report.spells import spells_summary, table_of_spells
from bedtide.report.templates import render
from helpers.comparisons import depths, spells


@pytest.fixture(scope="module")
def found():
    return spells()


@pytest.fixture(scope="module")
def figures(found):
    return spells_summary(found, depths())


def told(figures, **options) -> str:
    return render("answers/wet_spell/text.j2", s=figures, **options)


def test_figures_are_those_of_the_dataset(found, figures):
    assert [spell.days for spell in figures.spells] == [3, 7]
    assert figures.spells[1].from_ == "2022-07-01"
    assert figures.spells[1].rain_mm == pytest.approx(7 * 16)
    assert figures.spells[0].days_followed_after == 28
    for b, bed in enumerate(figures.beds):
        litres = float(found["plan_area"][b]) * 1000
        for s, row in enumerate(bed.spells):
            for outlet in ("open", "blocked"):
                one = found.isel(spell=s, bed=b).sel(outlet=outlet)
                own = getattr(row, outlet)
                assert own.wet_days == int(one["wet_days"])
                assert own.lowest_air_percent == 100 * float(one["air_lowest"])
                assert own.overflow_litres == float(one["overflow_total"]) * litres
                back = float(one["recovery"])
                assert own.days_until_air_again == (back if np.isfinite(back) else None)
    assert figures.beds[0].outlet_bore_mm == pytest.approx(19)
    assert figures.least_depths[0].found == "within"


def test_what_an_overflow_carries_is_told_by_the_minute_and_the_hour(found):
    by_hand = {
        "outlet_height": 0.06,
        "head_in_reservoir": 0.0125,
        "head_at_surface": 0.34,
        "flow_in_reservoir": 7.2,  # m3 a day: 1,440 minutes
        "flow_at_surface": 36.0,
        "rain_in_reservoir": 0.6,  # m a day: 24 hours
        "rain_at_surface": 3.0,
    }
    changed = found.assign({name: found[name] * 0 + value for name, value in by_hand.items()})
    for name in by_hand:
        changed[name].attrs = found[name].attrs
    bed = spells_summary(changed).beds[0]
    assert bed.outlet_height_cm == pytest.approx(6)
    assert bed.head_reservoir_full_mm == pytest.approx(12.5)
    assert bed.head_mix_full_mm == pytest.approx(340)
    assert bed.outlet_litres_a_minute_reservoir_full == pytest.approx(5)
    assert bed.outlet_litres_a_minute_mix_full == pytest.approx(25)
    assert bed.rain_mm_an_hour_reservoir_full == pytest.approx(25)
    assert bed.rain_mm_an_hour_mix_full == pytest.approx(125)


def test_the_record_is_told_and_its_largest_day_with_those_of_the_spells(found):
    none, on = np.datetime64("NaT", "ns"), np.datetime64("2021-11-02", "ns")
    beds = found.sizes["bed"]
    counts = dict.fromkeys(("days", "rooted_days", "wet_days", "low_air_days"), [730] * beds)
    counts |= {"longest_wet_spell": [9] * beds, "rim_spill_days": [0, 1, 2, 3]}
    most = [0.0, 0.5, 2.0, 0.1]  # m3
    largest = {"overflow_largest": most, "rim_spill_largest": most}
    others = {"air_lowest": [0.07] * beds, "aerated_depth_lowest": [0.125] * beds}
    others |= {"weight_largest": [412.5] * beds}
    days = ("air_lowest", "aerated_depth_lowest", "overflow_largest", "rim_spill_largest")
    dates = {f"{name}_day": [none, on, on, on] for name in (*days, "weight_largest")}
    dates["wet_spell_start"] = [none, on, on, on]
    columns = {**counts, **largest, **others, **dates}
    records = xr.Dataset({name: ("bed", values) for name, values in columns.items()})
    own = [bed.largest for bed in spells_summary(found).beds]
    told = spells_summary(found, records=records).beds
    assert [bed.record.overflow_litres_largest_day for bed in told] == [0, 500, 2000, 100]
    assert [bed.record.rim_spill_litres_largest_day for bed in told] == [0, 500, 2000, 100]
    assert [bed.record.heaviest_on for bed in told] == [None, *["2021-11-02"] * 3]
    assert told[0].record.lowest_air_percent == pytest.approx(7)
    assert told[0].record.least_depth_with_air_cm == pytest.approx(12.5)
    expected = [max(pair) for pair in zip(own, [0, 500, 2000, 100], strict=True)]
    assert [bed.largest for bed in told] == expected
    still = found.assign(overflow_largest=found["overflow_largest"] * 0)
    assert [bed.largest for bed in spells_summary(still).beds] == [0] * beds


def test_the_least_depth_is_searched_once_for_each_of_eight_settings(monkeypatch):
    heights = ",".join(f"{height}cm" for height in range(1, 11))
    choices = parse_choices([f"overflow.height={heights}", "box.depth=40cm,44cm"])
    variants = varied_beds(document_of(example_text()), choices, where="here")
    assert len(variants) == 20
    monkeypatch.setattr(of_spells, "least_depth", lambda bed, placed, with_: with_)
    told = of_spells._depths(variants, [])
    assert told == [f"overflow height {height} cm" for height in range(1, 9)]
    assert of_spells._depths(variants[:1], []) == ["overflow height 1 cm"]
    lips = {"overflow.height": choices["overflow.height"]}
    no_depth = varied_beds(document_of(example_text()), lips, where="here")
    assert of_spells._depths(no_depth, []) == []


def test_keys_are_those_of_the_fields(figures):
    written = json.loads(json_text(figures))
    assert written["spells"][0]["from"] == figures.spells[0].from_
    assert written["least_depths"][0]["with"] == "peat fine"
    assert list(written["beds"][0]["spells"][0]) == ["from", "spell_days", "open", "blocked"]


def test_the_table_has_a_row_for_each_spell_bed_outlet_and_day(found, figures):
    table = table_of_spells(found)
    assert len(table) == 4 * 2 * (7 + 3 + 28) + 4 * 2 * (7 + 7 + 28)
    first = table[(table["bed"] == "A") & (table["outlet"] == "open") & (table["spell_days"] == 7)]
    litres = first[first["day_of_spell"] >= 1]["overflow_L"].sum()
    assert litres == pytest.approx(figures.beds[0].spells[1].open.overflow_litres)
    assert first["date"].iloc[7].date().isoformat() == "2022-07-01"
    assert first["day_of_spell"].iloc[7] == 1
    assert first["rain_mm"].iloc[7] == pytest.approx(16)
    us = table_of_spells(found, units="us")
    assert us["rain_inch"].iloc[7] * 25.4 == pytest.approx(16)
    assert not [name for name in us if name.endswith(("_mm", "_cm", "_L")) and "15_cm" not in name]


def test_what_is_printed_is_what_the_figures_hold(figures):
    text = told(figures)
    opened, blocked = text.split("Blocked  ")
    for bed in figures.beds:
        assert f"{bed.bed}: {bed.label}" in text
        for row in bed.spells:
            for part, own in ((opened, row.open), (blocked, row.blocked)):
                (line,) = (
                    line
                    for line in part.splitlines()
                    if line.startswith(f"{bed.bed}, {row.spell_days} days ")
                )
                cells = line.split()
                assert cells[3] == str(own.wet_days)
                assert cells[4:6] == [f"{own.lowest_air_percent:.0f}", "%"]
    depth = figures.least_depths[0]
    assert f"Least depth (peat fine): {depth.depth_cm:.1f} cm. A box that deep" in text
    assert "common practice" in text
    assert "bedtide cautions" in text.splitlines()[-1]
    for bad in ("nan", "None", " inf", "{", "%s"):
        assert bad not in text, bad


def test_us_units_leave_no_metric_behind(figures):
    text = told(figures, units="us")
    assert "US gal" in text
    for label in ("box depth 45 cm", "box depth 30 cm"):
        text = text.replace(label, "")
    for unit in (" mm", " cm", " L ", "L a minute"):
        assert unit not in text, unit


# --- the answer -------------------------------------------------------------------------------


def course(bed, wet, *, air=5.0, back=2.0, blocked=9, late=False):
    """A bed of one spell of seven days, with these wet days, open and blocked."""
    row = bed.spells[1]
    opened = replace(
        row.open,
        wet_days=wet,
        lowest_air_percent=air,
        days_until_air_again=back,
        days_until_first_wet_day=12.0 if late else 0.0 if wet else None,
    )
    return replace(
        bed, spells=(replace(row, open=opened, blocked=replace(opened, wet_days=blocked)),)
    )


def answer(figures, *beds, **changes) -> str:
    """First paragraph of the report on these beds, in one spell of seven days."""
    changed = replace(figures, spells=figures.spells[1:], beds=beds, least_depths=(), **changes)
    return told(changed).split("\n\n")[0]


def ranged(wet, air):
    """Ranges of the wet days and of the least air."""
    names = {"wet_days": wet, "lowest_air_percent": air}
    made = {"matters": "retention", "influence": {"retention": -0.9}, "failing": 0, "runs": 64}
    return {n: Range(typical=e[0], low=e[0], high=e[1], **made) for n, e in names.items()}


def test_the_range_of_one_bed_and_of_several(figures):
    a, b = figures.beds[:2]
    dry = told(replace(figures, beds=(replace(a, range=ranged((0, 0), (12.2, 25.6))),)), width=None)
    assert "plants and place may be, they have it every day: 12 to 26 % at the least." in dry
    assert "How sure: 64 sets" in dry
    assert "The least air hangs most on how much water the mix holds. Measure your mix" in dry
    wet = replace(a, range=ranged((3, 12), (7, 14)))
    text = told(replace(figures, beds=(wet,)), width=None)
    assert "they lack it on 3 to 12 days of a spell, and have 7 to 14 % at the least." in text
    both = told(replace(figures, beds=(wet, replace(b, range=ranged((0, 0), (20, 20))))))
    assert "8 in 10 sets  Wet days  Least air\nA              3 to 12  7 to 14 %" in both
    assert "\nB                    0       20 %\n" in both
    assert "The least air of A hangs most" in both.replace("\n", " ")
    assert "--range tells how far" in told(figures)
    assert "--range" not in both
    assert "range" not in plain(a)
    assert plain(wet)["range"]["wet_days"]["high"] == 12


def test_days_that_were_asked_for_are_not_called_the_worst(figures):
    a, on = course(figures.beds[0], 5), {"on": "2022-07-01"}
    assert answer(figures, a, **on).startswith(
        "In the 7 days from 1 July 2022 the roots lack air on up to 5 days"
    )
    bare = replace(a, has_roots=False)
    assert answer(figures, bare, **on) == (
        "Nothing grows in the bed during the 7 days from 1 July 2022, so no roots lack air."
    )
    one = replace(figures, spells=(replace(figures.spells[1], days=1),), beds=(bare,), **on)
    assert "during the day of 1 July 2022, so" in told(one)
    assert plain(one)["on"] == "2022-07-01"
    assert "on" not in plain(figures)


def test_answer_of_one_bed(figures):
    a = figures.beds[0]
    assert answer(figures, course(a, 5)) == (
        "In the wettest 7 days the roots lack air on up to 5 days, and have it again 2 days after "
        "the last. With the overflow blocked they would lack it on 9 days."
    )
    assert answer(figures, course(a, 5, air=22.4)).startswith(
        "In the wettest 7 days air does not reach as deep as the roots need on up to 5 days, and "
        "does again 2 days after the last."
    )
    assert "does not while they are" in answer(figures, course(a, 5, air=10.0, back=None))
    assert "don't get it back" in answer(figures, course(a, 5, back=None))
    assert "again by the last day." in answer(figures, course(a, 5, back=0.0))
    assert "all of them after the spell." in answer(figures, course(a, 5, back=0.0, late=True))
    assert answer(figures, course(a, 0, air=22.4, blocked=0)) == (
        "In the wettest 7 days the roots have air every day: 22 % at the least, and 22 % with "
        "the overflow blocked."
    )
    assert answer(figures, course(a, 0, air=22.4, blocked=1)) == (
        "In the wettest 7 days the roots have air every day: 22 % at the least. With the overflow "
        "blocked they would lack it on 1 day."
    )


def test_answer_of_several_beds(figures):
    a, b, c, _ = figures.beds
    assert answer(figures, course(a, 0), course(b, 0)) == (
        "In the wettest 7 days the roots have air in every bed, every day."
    )
    assert answer(figures, course(a, 4), course(b, 0)) == (
        "In the wettest 7 days the roots of A lack air: on up to 4 days. Those of B always have it."
    )
    assert answer(figures, course(a, 4), course(b, 6), course(c, 0)) == (
        "In the wettest 7 days the roots of A and B lack air, those of B the longest: on up to 6 "
        "days. Those of C always have it."
    )
    bare = replace(course(b, 0, air=None), has_roots=False)
    assert answer(figures, course(a, 4), bare) == (
        "In the wettest 7 days the roots of A lack air: on up to 4 days."
    )


def test_answer_without_roots_and_of_a_stated_spell(figures):
    bare = replace(course(figures.beds[0], 0, air=None), has_roots=False)
    assert answer(figures, bare) == (
        "Nothing grows in the bed during the wettest 7 days, so no roots lack air."
    )
    stated = replace(figures.spells[1], stated=True)  # 7 days of 16 mm
    changed = replace(figures, spells=(stated,), beds=(course(figures.beds[0], 0),))
    assert told(changed).startswith("In 7 days with 16 mm of rain a day the roots have air")
    assert "112 mm of rain put on 1 to 7 July 2022; all else as recorded." in told(changed)


def test_when_air_is_there_again(figures):
    """Days after the last day of the spell, or that only rain after it took the air."""

    def again(**changes) -> str:
        bed = course(figures.beds[0], 5, **changes)
        text = told(replace(figures, spells=figures.spells[1:], beds=(bed,)))
        (line,) = (x for x in text.split("Blocked")[0].splitlines() if x.startswith("7 days "))
        return line.split("%")[1].rsplit(maxsplit=2)[0].strip()

    assert again() == "2"
    assert again(back=0.0) == "0"
    assert again(back=None) == "-"
    assert again(back=0.0, late=True) == "lost later"


# --- the overflow, and the depth --------------------------------------------------------------


def outlet(figures, **changes) -> str:
    bed = replace(
        course(figures.beds[0], 0),
        **{
            "outlet_bore_mm": 19.0,
            "outlet_height_cm": 9.0,
            "head_reservoir_full_mm": 25.0,
            "outlet_litres_a_minute_reservoir_full": 7.1,
            "outlet_litres_a_minute_mix_full": 24.0,
            "rain_mm_an_hour_reservoir_full": 284.0,
        }
        | changes,
    )
    row = bed.spells[0]
    opened = replace(row.open, overflow_litres_largest_day=20.0)
    bed = replace(bed, spells=(replace(row, open=opened),))
    lines = told(replace(figures, beds=(bed,))).splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("The overflow"))
    return " ".join(lines[at : at + 2])


def test_a_hose_beats_a_usual_outlet(figures):
    line = outlet(figures)
    assert "carries 7.1 L a minute with the reservoir full, 25 mm of water above" in line
    assert "rain of 284 mm an hour" in line
    assert "Before water stands on the mix it carries 24 L a minute." in line
    assert "The 20 L of the largest day take it 3 min." in line
    assert "15 to 20 L a minute (common practice), more than it carries: fill slowly" in line
    line = outlet(figures, outlet_litres_a_minute_reservoir_full=25.0)
    assert "(common practice), which it can carry if clean; watch all the same." in line
    assert "less than a minute" in line


def test_outlets_of_which_less_is_known(figures):
    shut = outlet(figures, outlet_height_cm=None)
    assert "runs over the rim" in shut
    assert "hose" not in shut
    unknown = {"outlet_litres_a_minute_reservoir_full": None}
    bare = outlet(figures, outlet_bore_mm=None, **unknown)
    assert "its bore is not given" in bare
    assert "A hose brings 15 to 20 L a minute (common practice): fill slowly, or watch." in bare
    assert "clean" not in bare
    assert "too near the surface" in outlet(figures, **unknown)
    assert "no rain comes in under the cover" in outlet(
        figures, rain_mm_an_hour_reservoir_full=None
    )


def test_beds_that_share_an_outlet_share_its_line(figures):
    a, b, c, _ = figures.beds
    wide = replace(b, outlet_bore_mm=25.0, outlet_litres_a_minute_mix_full=30.0)
    lower = replace(c, outlet_litres_a_minute_mix_full=a.outlet_litres_a_minute_mix_full - 1)
    changed = replace(figures, beds=(a, wide, lower))
    assert changed.outlets == [[a, lower], [wide]]
    text = told(changed)
    assert "The overflow of A and C (19 mm wide)" in text
    least = f"{lower.outlet_litres_a_minute_mix_full:.0f} L a minute"  # of both
    assert f"water stands on the mix it carries {least}" in text.replace("\n", " ")
    # what holds for all of them is said once
    assert text.count("A hose brings") == text.count("clean opening") == 1
    assert "more than those of A, B and C carry" in text


def test_least_depths_in_words(figures):
    def line(**changes) -> str:
        row = replace(figures.least_depths[0], **{"with_": ""} | changes)
        return told(replace(figures, least_depths=(row,))).splitlines()[1]

    assert line().startswith("Least depth: ")
    # just under the limit never reads as if it were at it
    close = line(lowest_air_percent=10.04, lowest_air_percent_too_shallow=9.98)
    assert "keeps 10.0 % air among the roots, one of" in close
    assert "only 9.9 % (" in close
    assert "even a box" in line(found="any")
    assert "an airier mix" in line(found="none", lowest_air_percent=6.0)
    assert "nothing grows" in line(found="no roots")
    assert line(with_="overflow 6 cm").startswith("Least depth (overflow 6 cm): ")


# --- width ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("units", "beds"), list(product(["metric", "us"], [1, 2, 4])))
def test_nothing_is_wider_than_a_small_terminal(figures, units, beds):
    text = told(replace(figures, beds=figures.beds[:beds]), units=units, width=60)
    assert max(map(len, text.splitlines())) <= 60
