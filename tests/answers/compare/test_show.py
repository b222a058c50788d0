"""What is shown of a comparison: figures as in the Dataset, words from the figures, the picture."""

import json

import matplotlib as mpl
import numpy as np
import pytest

from bedtide.answers.compare.apart import moved_apart
from bedtide.answers.compare.choice_words import choice_sentence, count_text
from bedtide.answers.compare.pictures import air_tradeoff_axes, compare_figure, weight_tradeoff_axes
from bedtide.answers.compare.tables import compare_summary, compare_table, years_table
from bedtide.answers.compare.words import between_text, compare_report
from bedtide.files import json_text
from helpers.comparisons import comparison

PHONE = 360  # dots


@pytest.fixture(scope="module")
def found():
    return comparison()


@pytest.fixture(scope="module")
def figures(found):
    return compare_summary(found)


def test_figures_are_those_of_the_dataset(found, figures):
    assert [bed["bed"] for bed in figures["beds"]] == ["A", "B", "C", "D"]
    assert figures["years"] == 2
    assert figures["first_days"] == ["2021-01-01", "2022-01-01"]
    for number, bed in enumerate(figures["beds"]):
        one = found.isel(bed=number)
        area = float(one["plan_area"])
        assert bed["refills_mean"] == pytest.approx(float(one["refill_count"].mean()))
        litres = one["refill_volume"].to_numpy() * 1000
        assert bed["refill_litres_mean"] == pytest.approx(litres.mean())
        assert bed["refill_litres_p10"] == pytest.approx(litres.min())
        assert bed["refill_litres_p90"] == pytest.approx(litres.max())
        assert bed["wet_days_max"] == int(one["wet_days"].max())
        assert bed["lowest_air_percent_min"] == pytest.approx(100 * float(one["air_lowest"].min()))
        overflow = one["overflow_total"].to_numpy() * area * 1000
        assert bed["overflow_litres_mean"] == pytest.approx(overflow.mean())
        assert bed["full_kg"] == float(one["brimful_weight"])
        assert bed["full_kg"] == pytest.approx(
            bed["full_water_kg"] + bed["dry_mix_kg"] + bed["reservoir_kg"]
        )


def test_figures_are_plain_json_and_endless_ones_have_no_value(found):
    endless = found.copy(deep=True)
    endless["interval_median_p90"][1] = np.inf
    endless["interval_median_median"][2] = np.inf
    parsed = json.loads(json_text(compare_summary(endless)))
    assert parsed["beds"][1]["days_between_refills_p90"] is None
    assert between_text(parsed["beds"][1]).endswith(" up)")
    assert between_text(parsed["beds"][2]) == "rarely"
    report = "\n".join(compare_report(compare_summary(endless)))
    assert "rarely: in most years" in report
    assert "up: or longer" in report


def test_tables_hold_the_same_figures_in_both_systems(found, figures):
    metric, us = compare_table(found), compare_table(found, units="us")
    assert len(metric) == len(us) == 4
    assert list(metric) == list(figures["beds"][0])
    assert not [name for name in us if "litres" in name or "_kg" in name or "_m2" in name]
    assert us["refill_US_gal_mean"][0] * 3.785411784 == pytest.approx(
        figures["beds"][0]["refill_litres_mean"]
    )
    assert us["full_lb_per_ft2"][0] * 4.882428 == pytest.approx(
        figures["beds"][0]["full_kg_per_m2"], rel=1e-6
    )
    assert us["mix_above_reservoir_inch"][0] * 2.54 == pytest.approx(15.0)


def test_one_row_for_each_bed_and_year(found, figures):
    table = years_table(found)
    assert len(table) == 8
    assert table["bed"].tolist() == list("AABBCCDD")
    assert str(table["from"][1].date()) == "2022-01-01"
    first = table[table["bed"] == "A"]
    assert first["refill_L"].mean() == pytest.approx(figures["beds"][0]["refill_litres_mean"])
    assert first["overflow_L"].mean() == pytest.approx(figures["beds"][0]["overflow_litres_mean"])
    gallons = years_table(found, units="us")["refill_US_gal"]
    assert gallons[0] * 3.785411784 == pytest.approx(table["refill_L"][0])


def test_what_is_printed_is_what_the_figures_hold(figures):
    report = compare_report(figures)
    assert report[0] == choice_sentence(figures)
    assert report[0].startswith("For typical values: take ")
    text = "\n".join(report)
    for bed in figures["beds"]:
        assert f"{bed['bed']}  {bed['label']}" in text
        row = next(line for line in report if line.startswith(f"{bed['bed']}   "))
        assert count_text(bed["refills_mean"]) in row.split()
        assert f"{bed['refill_litres_mean']:,.0f}" in row
        assert between_text(bed) in row
    assert "2 runs of 365 days" in text
    assert "shortest and the longest of 2 years" in text
    assert "without box, liner, plants" in text
    assert "100 %" not in report[0]
    for bad in ("nan", "None", "inf ", "{", "%s"):
        assert bad not in text


def test_us_units_leave_no_metric_behind(figures):
    text = "\n".join(compare_report(figures, units="us"))
    assert "US gal" in text
    assert "lb/ft2" in text
    for unit in (" kg", " L ", "kg/m2", "Mix cm"):
        assert unit not in text, unit


def bed(letter: str, **changes) -> dict:
    plain = {
        "bed": letter,
        "label": f"bed {letter}",
        "refills_mean": 10.0,
        "wet_days_mean": 0.0,
        "dry_days_mean": 0.0,
        "full_kg": 500.0,
        "refill_litres_mean": 900.0,
        "mix_above_reservoir_cm": 30.0,
    }
    return plain | changes


def sentence(reason: str, first: dict, second: dict, *, kept: int = 18, years: int = 30) -> str:
    return choice_sentence(
        {
            "beds": [first, second],
            "choice": "A",
            "choice_rival": "B",
            "choice_reason": reason,
            "choice_years_no_worse": kept,
            "years": years,
            "days_of_a_year": 365,
        }
    )


@pytest.mark.parametrize(
    ("reason", "first", "second", "words"),
    [
        ("room", {}, {"mix_above_reservoir_cm": 12.0}, "it alone gives the roots 20 cm of mix"),
        (
            "want",
            {"wet_days_mean": 1.0},
            {"wet_days_mean": 12.0, "refills_mean": 4.0},
            "has 12 and is filled 4 times against 10 times, but B did better in 12 of 30 years",
        ),
        ("fills", {}, {"refills_mean": 14.0}, "it is filled the least, 10 times a year; the next"),
        ("weight", {}, {"full_kg": 700.0}, "the lightest, 500 kg full to the rim"),
        ("water", {}, {"refill_litres_mean": 1200.0}, "takes the least water, 900 L a year"),
        ("none", {}, {}, "they are alike, as far as this can tell"),
    ],
)
def test_the_choice_has_its_reason_and_its_doubt(reason, first, second, words):
    text = sentence(reason, bed("A", **first), bed("B", **second))
    assert words in text
    assert " in 12 of 30 years" in text
    assert text.count(". ") == 0  # one sentence


def test_doubt_when_no_year_speaks_against_it_and_when_there_is_but_one():
    first, second = bed("A"), bed("B", refills_mean=14.0)
    assert "and in none of 30 years was B filled less" in sentence("fills", first, second, kept=30)
    assert "and one year says little" in sentence("fills", first, second, kept=1, years=1)


def test_a_choice_that_is_still_bad_says_so():
    text = sentence(
        "fills", bed("A", wet_days_mean=30.0), bed("B", wet_days_mean=31.0, refills_mean=14.0)
    )
    assert "even so, its roots lack air on 30 and water on 0 days a year" in text


def test_beds_that_lack_room_are_named_in_the_sentence():
    cramped = bed("C", mix_above_reservoir_cm=12.0)
    text = choice_sentence(
        {
            "beds": [bed("A"), bed("B", refills_mean=14.0), cramped],
            "choice": "A",
            "choice_rival": "B",
            "choice_reason": "fills",
            "choice_years_no_worse": 30,
            "years": 30,
            "days_of_a_year": 150,
        }
    )
    assert "of the beds with 20 cm of mix or more," in text
    assert "10 times a season" in text


def test_a_single_bed_is_not_chosen(found):
    figures = compare_summary(found.isel(bed=[0]))
    assert figures["choice"] is None
    assert not choice_sentence(figures).startswith("Take")


@pytest.mark.parametrize(
    ("number", "text"), [(4.12, "4.1"), (3.97, "4"), (14.4, "14"), (0.0, "0"), (9.96, "10")]
)
def test_mean_counts_as_printed(number, text):
    assert count_text(number) == text


def shown_texts(figure):
    """Texts that are drawn: of tick labels, those within the axes."""
    out_of_view = set()
    for ax in figure.axes:
        for axis, (low, high) in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
            for tick in axis.get_major_ticks():
                if not low <= tick.get_loc() <= high:
                    out_of_view.update([tick.label1, tick.label2])
    return [
        text
        for text in figure.findobj(mpl.text.Text)
        if text.get_text().strip() and text.get_visible() and text not in out_of_view
    ]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("beds", [slice(None), [0], [0, 1]])
def test_the_picture_reads_on_a_phone(found, units, beds):
    figure = compare_figure(found.isel(bed=beds), units=units)
    figure.canvas.draw()
    dots_per_point = PHONE / figure.get_figwidth() / 72
    for text in shown_texts(figure):
        assert text.get_fontsize() * dots_per_point >= 10, text.get_text()
        box = text.get_window_extent()
        assert -1 <= box.x0 <= box.x1 <= figure.bbox.width + 1, text.get_text()


def test_every_bed_has_its_letter_in_both_panels_and_the_choice_its_line(found, figures):
    figure = compare_figure(found)
    for ax in figure.axes[:2]:
        letters = {note.get_text() for note in ax.texts} - {"\u2199 better", "\u2196 better"}
        assert letters == {"A", "B", "C", "D"}
    words = " ".join(text.get_text() for text in figure.axes[2].texts)
    assert f"{figures['choice']}  " in words
    assert "(choice)" in words
    assert "grey: beaten by another bed" in words


def test_dots_stand_at_the_figures(found, figures):
    ax = weight_tradeoff_axes(found, units="us")
    drawn = {
        (round(float(x), 6), round(float(y), 3))
        for line in ax.get_lines()
        if line.get_marker() == "o"
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }
    expected = {
        (round(bed["refills_mean"], 6), round(bed["full_kg"] / 0.45359237, 3))
        for bed in figures["beds"]
    }
    assert drawn == expected
    assert ax.get_title(loc="left") == "Weight full to the rim, lb"
    assert "Fills a year" in ax.get_xlabel()


def test_beds_of_nearly_one_weight_look_so(found):
    alike = found.copy(deep=True)
    alike["brimful_weight"][:] = [500.0, 501.0, 502.0, 503.0]
    low, high = weight_tradeoff_axes(alike).get_ylim()
    assert high - low >= 50


def test_what_stands_upright_depends_on_what_sets_the_beds_apart(found):
    changed = found.copy(deep=True)
    changed["limited_days_mean"][:] = 0
    changed["wet_days_mean"][:] = 0
    assert "Least air" in air_tradeoff_axes(changed).get_title(loc="left")
    changed["wet_days_mean"][0] = 5
    assert "too little air" in air_tradeoff_axes(changed).get_title(loc="left")
    changed["limited_days_mean"][0] = 5
    assert "air or water" in air_tradeoff_axes(changed).get_title(loc="left")


def test_labels_are_moved_apart_and_the_same_way_every_time():
    at = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [50.0, 50.0]])
    size, second = np.full(4, 10.0), np.array([False, False, True, False])
    placed = moved_apart(at, size, second=second, lift=3.0)
    far = np.hypot(*(placed[:, None] - placed[None]).transpose(2, 0, 1)) + np.eye(4) * 99
    assert far.min() > 9.9
    np.testing.assert_allclose(placed[3], at[3], atol=0.1)
    np.testing.assert_array_equal(placed, moved_apart(at, size, second=second, lift=3.0))


def test_the_data_and_the_global_style_stay(found):
    before, style = found.copy(deep=True), dict(mpl.rcParams)
    compare_figure(found)
    assert found.identical(before)
    assert dict(mpl.rcParams) == style
