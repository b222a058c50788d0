"""The picture of a comparison: bars as long as the figures, in order, readable on a phone."""

import dataclasses
import itertools

import matplotlib as mpl
import pytest
from matplotlib.offsetbox import AnchoredOffsetbox
from matplotlib.text import Annotation

from bedtide.answers.compare.pictures import compare_figure
from bedtide.answers.compare.summary import summary_of
from bedtide.many import Range, Ranges
from helpers.comparisons import comparison

PHONE = 360  # dots


@pytest.fixture(scope="module")
def summary():
    return summary_of(comparison())


def changed(summary, **values):
    """Figures by name, one for each bed."""
    beds = summary.beds
    for name, each in values.items():
        beds = [dataclasses.replace(b, **{name: v}) for b, v in zip(beds, each, strict=True)]
    return dataclasses.replace(summary, beds=tuple(beds))


def many(summary, number):
    """Copies of the beds, each with figures of its own."""
    long = "a bed by the kitchen wall, with depth $45 cm and overflow height 12 cm$, coir, perlite"
    beds = (
        dataclasses.replace(
            summary.beds[at % 4],
            bed=f"X{at}",
            label=long if at % 3 == 0 else f"box depth {20 + at} cm",
            refills_mean=8.7 + 7 * at % 11,
            dry_days_mean=5.0 * at % 13,
            full_kg=900.0 + 400 * at,
            beaten=at % 2 == 1,
            fails=at % 5 == 3,
        )
        for at in range(number)
    )
    return dataclasses.replace(summary, beds=tuple(beds), choice="X4", years=30)


def words(figure) -> list[str]:
    return [text.get_text() for text in figure.findobj(mpl.text.Text) if text.get_text().strip()]


def widths(ax) -> list[float]:
    return [patch.get_width() for patch in ax.patches]


def heading(ax) -> list[str]:
    """The two lines over an axes."""
    below = [text.get_text() for text in ax.texts if isinstance(text, Annotation)]
    return [ax.get_title(loc="left"), *below]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("beds", [1, 2, 4, 24])
def test_the_picture_reads_on_a_phone_and_no_word_covers_another(summary, units, beds):
    figure = compare_figure(many(summary, beds), units=units)
    figure.draw_without_rendering()
    dots_per_point = PHONE / figure.get_figwidth() / 72
    legend = figure.findobj(AnchoredOffsetbox)
    inside = {text for box in legend for text in box.findobj(mpl.text.Text)}
    drawn = [*legend]
    for text in figure.findobj(mpl.text.Text):
        if text.get_text().strip():
            assert text.get_fontsize() * dots_per_point >= 10, text.get_text()
            drawn += [] if text in inside else [text]
    boxes = [(str(each), each.get_window_extent()) for each in drawn]
    for name, box in boxes:
        assert -1 <= box.x0 <= box.x1 <= figure.bbox.width + 1, name
        assert -1 <= box.y0 <= box.y1 <= figure.bbox.height + 1, name
    for (one, first), (other, second) in itertools.combinations(boxes, 2):
        assert not first.padded(-1).overlaps(second.padded(-1)), (one, other)


def test_the_choice_stands_first_then_the_unbeaten_by_their_fills(summary):
    made = changed(
        summary, refills_mean=[9, 20, 14, 11], beaten=[True, False, False, False], fails=[False] * 4
    )
    figure = compare_figure(dataclasses.replace(made, choice="C"))
    order = [text for text in words(figure) if text[0] in "ABCD" and "box depth" in text]
    assert [text[0] for text in order] == ["C", "D", "B", "A"]
    assert order[0].startswith("C: build  ")
    assert order[-1].startswith("A: drop  ")
    assert widths(figure.axes[0]) == [14, 11, 20, 9]


def test_beds_that_fail_their_plants_stand_last_and_pale(summary):
    made = changed(
        summary, refills_mean=[2, 20, 14, 11], fails=[True, False, False, False], beaten=[False] * 4
    )
    figure = compare_figure(dataclasses.replace(made, choice="C"))
    order = [text for text in words(figure) if text[0] in "ABCD" and "box depth" in text]
    assert [text[0] for text in order] == ["C", "D", "B", "A"]
    assert order[-1].startswith("A: fails  ")
    assert [patch.get_alpha() for patch in figure.axes[0].patches] == [1, 1, 1, 0.45]


def test_bars_begin_at_nought_and_are_as_long_as_the_figures(summary):
    made = changed(summary, wet_days_mean=[1, 2, 3, 4], dry_days_mean=[8, 7, 6, 5])
    figure = compare_figure(dataclasses.replace(made, choice="A"), units="us")
    fills, roots, weight = figure.axes
    assert all(ax.get_xlim()[0] == 0 for ax in figure.axes)
    by_letter = {bed.bed: bed for bed in made.beds}
    order = [text[0] for text in words(figure) if text[0] in "ABCD" and "mix top" in text]
    beds = [by_letter[letter] for letter in order]
    assert widths(fills) == [bed.refills_mean for bed in beds]
    assert widths(roots) == [days for b in beds for days in (b.wet_days_mean, b.dry_days_mean)]
    assert [patch.get_x() for patch in roots.patches[1::2]] == [bed.wet_days_mean for bed in beds]
    assert widths(weight) == pytest.approx([bed.full_kg / 0.45359237 for bed in beds])
    assert [text.get_text() for text in roots.texts] == ["9"] * 4
    assert heading(weight) == ["Weight full,", "lb"]
    assert heading(fills) == ["Fills", "a year"]


def test_with_a_range_the_thin_line_is_the_range(summary):
    doubt = Range(
        typical=9.0, low=6.0, high=14.0, matters=None, influence={}, failing=0, runs=64
    )  # fmt: skip
    ranges = {bed.bed: {"refills_mean": doubt} for bed in summary.beds}
    fails = dict.fromkeys(ranges, 0)
    ranged = Ranges(beds=ranges, fails=fails, choices=("A",) * 64, years=10)
    figure = compare_figure(dataclasses.replace(summary, range=ranged))
    assert "thin line: 8 in 10 of what may be" in words(figure)
    lines = [line for line in figure.axes[0].collections if len(line.get_segments()) == 1]
    assert len(lines) == 4
    for line in lines:
        assert line.get_segments()[0][:, 0].tolist() == [6.0, 14.0]


def test_a_season_is_named(summary):
    part = dataclasses.replace(summary, days_of_a_year=150)
    assert heading(compare_figure(part).axes[0]) == ["Fills", "a season"]


def test_the_roots_are_drawn_by_what_sets_the_beds_apart(summary):
    quiet = changed(summary, wet_days_mean=[0.0] * 4, dry_days_mean=[0.5] * 4)
    assert "Least air" in compare_figure(quiet).axes[1].get_title(loc="left")
    least = changed(quiet, lowest_air_percent_min=[11, 12, 13, 14])
    told = words(compare_figure(changed(least, lowest_air_percent_mean=[61, 62, 63, 64])))
    assert all(str(air) in told for air in (11, 12, 13, 14))  # the worst year, not the mean
    bare = changed(quiet, lowest_air_percent_min=[None] * 4)
    assert "Days without" in compare_figure(bare).axes[1].get_title(loc="left")
    wet = changed(quiet, wet_days_mean=[5.0, 0, 0, 0])
    assert "Days without" in compare_figure(wet).axes[1].get_title(loc="left")


def test_beds_beyond_the_twentieth_are_counted(summary):
    assert "4 more beds stand in the tables" in words(compare_figure(many(summary, 24)))
    assert "1 more bed stands in the tables" in words(compare_figure(many(summary, 21)))
    assert not [text for text in words(compare_figure(many(summary, 20))) if "more bed" in text]


def test_what_the_thin_line_says(summary):
    assert "thin line: all of 2 years" in words(compare_figure(summary))
    assert "thin line: 8 in 10 of 30 years" in words(compare_figure(many(summary, 4)))
    one = dataclasses.replace(summary, years=1)
    assert not [text for text in words(compare_figure(one)) if "thin line" in text]


def test_the_global_style_stays(summary):
    style = dict(mpl.rcParams)
    compare_figure(summary)
    assert dict(mpl.rcParams) == style
