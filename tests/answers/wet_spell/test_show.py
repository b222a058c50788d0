"""What is shown of rainy spells: figures as in the Dataset, words from the figures, the picture."""

import json

import matplotlib as mpl
import numpy as np
import pytest

from bedtide.files import json_text
from bedtide.report.outlet_words import listed, outlet_lines
from bedtide.report.spell_pictures import air_height_axes, drawn_spell, wet_spell_figure
from bedtide.report.spell_tables import wet_spell_summary, wet_spell_table
from bedtide.report.spell_words import wet_spell_headline, wet_spell_report
from helpers.comparisons import depths, spells

PHONE = 360  # dots


@pytest.fixture(scope="module")
def found():
    return spells()


@pytest.fixture(scope="module")
def figures(found):
    return wet_spell_summary(found, depths())


def test_figures_are_those_of_the_dataset(found, figures):
    assert [spell["days"] for spell in figures["spells"]] == [3, 7]
    assert figures["spells"][1]["from"] == "2022-07-01"
    assert figures["spells"][1]["rain_mm"] == pytest.approx(7 * 16)
    assert figures["spells"][0]["days_followed_after"] == 28
    for b, bed in enumerate(figures["beds"]):
        litres = float(found["plan_area"][b]) * 1000
        for s, row in enumerate(bed["spells"]):
            for outlet in ("open", "blocked"):
                one = found.isel(spell=s, bed=b).sel(outlet=outlet)
                own = row[outlet]
                assert own["wet_days"] == int(one["wet_days"])
                assert own["lowest_air_percent"] == 100 * float(one["air_lowest"])
                assert own["overflow_litres"] == float(one["overflow_total"]) * litres
                back = float(one["recovery"])
                assert own["days_until_air_again"] == (back if np.isfinite(back) else None)
    assert figures["beds"][0]["outlet_bore_mm"] == pytest.approx(19)
    assert figures["least_depths"][0]["found"] == "within"
    json.loads(json_text(figures))


def test_the_table_has_a_row_for_each_spell_bed_outlet_and_day(found, figures):
    table = wet_spell_table(found)
    assert len(table) == 4 * 2 * (7 + 3 + 28) + 4 * 2 * (7 + 7 + 28)
    first = table[(table["bed"] == "A") & (table["outlet"] == "open") & (table["spell_days"] == 7)]
    litres = first[first["day_of_spell"] >= 1]["overflow_L"].sum()
    assert litres == pytest.approx(figures["beds"][0]["spells"][1]["open"]["overflow_litres"])
    assert first["date"].iloc[7].date().isoformat() == "2022-07-01"
    assert first["day_of_spell"].iloc[7] == 1
    assert first["rain_mm"].iloc[7] == pytest.approx(16)
    us = wet_spell_table(found, units="us")
    assert us["rain_inch"].iloc[7] * 25.4 == pytest.approx(16)
    assert not [name for name in us if name.endswith(("_mm", "_cm", "_L")) and "15_cm" not in name]


def test_what_is_printed_is_what_the_figures_hold(figures):
    report = wet_spell_report(figures)
    text = "\n".join(report)
    assert report[0] == wet_spell_headline(figures)
    for bed in figures["beds"]:
        assert f"{bed['bed']}  {bed['label']}" in text
        for row in bed["spells"]:
            line = next(
                line
                for line in report
                if line.startswith(bed["bed"]) and f" {row['spell_days']} d " in line
            )
            assert line.split()[3] == str(row["open"]["wet_days"])
            assert f"{row['open']['lowest_air_percent']:.0f} %" in line
            assert f"{row['blocked']['lowest_air_percent']:.0f} %" in line
    depth = figures["least_depths"][0]
    assert f"a box {depth['depth_cm']:.1f} cm deep" in text.replace(".0 cm", " cm") or (
        f"a box {depth['depth_cm']:.0f} cm deep" in text
    )
    assert "common practice" in text
    assert "bedtide cautions" in report[-1]
    for bad in ("nan", "None", " inf", "{", "%s"):
        assert bad not in text, bad


def test_us_units_leave_no_metric_behind(figures):
    text = "\n".join(wet_spell_report(figures, units="us"))
    assert "US gal" in text
    for unit in (" mm", " cm", " L ", "L a minute"):
        assert unit not in text.replace("peat fine, box depth 30 cm", "").replace(
            "box depth 45 cm", ""
        ).replace("box depth 30 cm", ""), unit


def spell_row(wet: int, *, air: float = 5.0, back: float | None = 2.0, blocked: int = 9) -> dict:
    first = 0.0 if wet else None
    opened = {
        "wet_days": wet,
        "days_until_first_wet_day": first,
        "lowest_air_percent": air,
        "days_until_air_again": back,
        "overflow_litres": 50.0,
        "overflow_litres_largest_day": 20.0,
        "rim_spill_litres": 0.0,
    }
    shut = opened | {"wet_days": blocked, "days_until_first_wet_day": 0.0 if blocked else None}
    return {"from": "2022-07-01", "spell_days": 7, "open": opened, "blocked": shut}


def told(*rows: dict, roots: bool = True) -> str:
    return wet_spell_headline(
        {
            "wet_air_limit_percent": 10.0,
            "spells": [{"days": 7, "stated": False, "rain_mm": 100.0}],
            "beds": [
                {"bed": letter, "label": letter, "has_roots": roots, "spells": [row]}
                for letter, row in zip("ABC", rows, strict=False)
            ],
        }
    )


def test_headline_of_one_bed():
    assert told(spell_row(5)) == (
        "In the wettest 7 days the roots have under 10 % air on 5 days at worst, and enough again "
        "2 days after it; with the overflow blocked they would lack it on 9 days."
    )
    assert "not again while it was followed" in told(spell_row(5, back=None))
    assert "again by its last day" in told(spell_row(5, back=0.0))
    late = spell_row(5, back=0.0)
    late["open"]["days_until_first_wet_day"] = 12.0
    assert "until after its last day" in told(late)
    assert told(spell_row(0, air=22.4, blocked=0)) == (
        "In the wettest 7 days the roots have air every day, 22 % at the least, even with the "
        "overflow blocked."
    )
    assert "so no roots lack air" in told(spell_row(0), roots=False)


def test_headline_of_several_beds():
    assert told(spell_row(0), spell_row(0)) == (
        "In the wettest 7 days the roots have air in every bed, every day."
    )
    assert told(spell_row(4), spell_row(0)) == (
        "In the wettest 7 days the roots of A lack air, on up to 4 days; those of B never."
    )
    assert told(spell_row(4), spell_row(6), spell_row(0)) == (
        "In the wettest 7 days the roots of A and B lack air, those of B for the longest, on up "
        "to 6 days; those of C never."
    )


def outlet(**changes) -> str:
    bed = {
        "bed": "A",
        "plan_area_m2": 1.5,
        "outlet_bore_mm": 19.0,
        "outlet_height_cm": 9.0,
        "head_reservoir_full_mm": 25.0,
        "outlet_litres_a_minute_reservoir_full": 7.1,
        "outlet_litres_a_minute_mix_full": 24.0,
        "rain_mm_an_hour_reservoir_full": 284.0,
        "spells": [spell_row(0)],
    }
    (line,) = outlet_lines({"beds": [bed | changes]})
    return line


def test_a_hose_beats_a_usual_outlet():
    line = outlet()
    assert "carries 7.1 L a minute with the reservoir full, a head of 25 mm" in line
    assert "rain of 284 mm an hour" in line
    assert "The 20 L of the largest day take it 3 min" in line
    assert "15 to 20 L a minute (common practice): that beats it" in line
    assert "that it carries" in outlet(outlet_litres_a_minute_reservoir_full=25.0)


def test_outlets_of_which_less_is_known():
    assert "runs over the rim" in outlet(outlet_height_cm=None)
    assert "without its bore" in outlet(outlet_bore_mm=None)
    assert "too near the surface" in outlet(outlet_litres_a_minute_reservoir_full=None)
    assert "no rain comes in under the cover" in outlet(rain_mm_an_hour_reservoir_full=None)


@pytest.mark.parametrize(
    ("names", "text"),
    [([], ""), (["A"], "A"), (["A", "B"], "A and B"), (list("ABC"), "A, B and C")],
)
def test_names_in_a_row(names, text):
    assert listed(names) == text


def test_least_depths_in_words(figures):
    def line(**changes) -> str:
        row = figures["least_depths"][0] | {"with": ""} | changes
        return wet_spell_report(figures | {"least_depths": [row]})[1]

    assert line().startswith("Least depth: a box ")
    assert "even a box" in line(found="any")
    assert "Depth does not help here" in line(found="none", lowest_air_percent=6.0)
    assert "nothing grows" in line(found="no roots")
    assert line(**{"with": "overflow 6 cm"}).startswith("Least depth (overflow 6 cm): ")


def test_the_hardest_spell_is_drawn(found):
    wet = found["wet_days"].sel(outlet="open").sum("bed").to_numpy()
    assert wet[drawn_spell(found)] == wet.max()


def test_air_by_height_stands_where_it_is(found):
    bed = found.isel(spell=1, bed=0)
    ax = air_height_axes(bed, outlet="blocked")
    mesh = ax.collections[0]
    air = bed["air"].sel(outlet="blocked").transpose("slice", "day").to_numpy()
    known = np.isfinite(bed["rain"].to_numpy())
    np.testing.assert_allclose(np.asarray(mesh.get_array()).ravel(), air[:, known].ravel())
    corners = mesh.get_coordinates()
    np.testing.assert_allclose(corners[:, 0, 1], bed["face_height"].to_numpy() * 100)
    assert corners[0, 0, 0] == -6.5  # the first day drawn, -7, is six days before day 1
    wet = int(bed["wet_days"].sel(outlet="blocked"))
    assert any(f"height, cm; {wet} wet days" in text.get_text() for text in ax.texts)
    assert ax.get_title(loc="left") == "A, overflow blocked"


def test_colours_part_at_the_limit():
    from bedtide.report.spell_pictures import _COLOURS, _LEVELS

    assert 0.10 in _LEVELS
    light = [sum(int(colour[i : i + 2], 16) for i in (1, 3, 5)) for colour in _COLOURS]
    assert light == sorted(light)  # light and dark alone put them in order


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("beds", [slice(None), [1], [0, 2]])
def test_the_picture_reads_on_a_phone(found, units, beds):
    figure = wet_spell_figure(found.isel(bed=beds), units=units)
    figure.canvas.draw()
    dots_per_point = PHONE / figure.get_figwidth() / 72
    for text in figure.findobj(mpl.text.Text):
        if text.get_text().strip() and text.get_visible():
            assert text.get_fontsize() * dots_per_point >= 10, text.get_text()


def test_few_beds_are_drawn_blocked_too_and_many_are_counted(found):
    two, four = wet_spell_figure(found.isel(bed=[0, 1])), wet_spell_figure(found)
    assert len(two.axes) == 1 + 4 + 1
    assert len(four.axes) == 1 + 4 + 1
    figure = wet_spell_figure(found.isel(bed=[0, 1, 2, 3, 0, 1, 2, 3]))
    assert len(figure.axes) == 1 + 6 + 1
    legend = figure.axes[-1].get_legend()
    assert "2 more beds are in the table" in legend.get_title().get_text()
