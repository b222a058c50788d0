"""The text of a bed: read back it gives the same bed, and a keeper's comments stay in it."""

import difflib
import re
import tomllib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedtide.bed import (
    Overflow,
    OverflowChange,
    Surface,
    Watering,
    bed_from_mapping,
    bed_from_text,
    bed_text,
    document_of,
    example_bed,
    example_text,
    set_value,
)
from bedtide.mix import media, medium
from helpers.beds import LAYER, bed_with, described


def changed_lines(text):
    """Lines taken out of the example, and lines put in."""
    lines = difflib.ndiff(example_text().splitlines(), text.splitlines())
    signed = [line for line in lines if line[0] in "+-"]
    return [x[2:] for x in signed if x[0] == "-"], [x[2:] for x in signed if x[0] == "+"]


@pytest.mark.parametrize(
    ("key", "value", "out", "into"),
    [
        (
            "box.depth",
            "25 cm",
            ['depth = "17 in"           # from the floor of the liner up to the rim'],
            ['depth = "25 cm"           # from the floor of the liner up to the rim'],
        ),
        ("planting.1.canopy", 1.5, [], ["canopy = 1.5"]),
        ("mix.wick.wetting", 2, [], ["wetting = 2"]),
        (
            "reservoir.gap",
            "1 1/2 in",
            ['count = 4                 # or the gap between them:  gap = "1 1/2 in"'],
            ['gap = "1 1/2 in"'],
        ),
        (
            "mix.top.recipe.perlite",
            "25 %",
            ['recipe = { "peat" = "50 %", "pine bark fine" = "30 %", "perlite" = "20 %" }'],
            ['recipe = { "peat" = "50 %", "pine bark fine" = "30 %", "perlite" = "25 %" }'],
        ),
    ],
)
def test_only_the_line_that_is_set_changes(key, value, out, into):
    document = document_of(example_text())
    set_value(document, key, value)
    assert changed_lines(document.as_string()) == (out, into)
    if "recipe" not in key:  # the shares no longer add up
        assert bed_from_text(document.as_string()) == bed_from_mapping(document)


def test_a_new_key_stands_in_its_section_above_the_comment_on_the_next():
    document = document_of(example_text())
    set_value(document, "reservoir.gap", "1 1/2 in")
    text = document.as_string()
    assert text.index("gap = ") < text.index("# The outlet sets") < text.index("[overflow]")


def test_a_new_section_is_made():
    document = document_of('[bed]\nname = "a"  # mine\n')
    set_value(document, "site.exposure", 1.2)
    assert "# mine" in document.as_string()
    assert tomllib.loads(document.as_string()) == {"bed": {"name": "a"}, "site": {"exposure": 1.2}}


def test_sections_in_any_order_keep_their_comments():
    text = (
        '[mix.wick]\nmedium = "peat" # w\n[bed]\nname = "a" # b\n[mix.top]\nmedium = "peat" # t\n'
    )
    document = document_of(text)
    set_value(document, "mix.top.medium", "perlite")
    set_value(document, "mix.wick.n", 1.5)
    out = document.as_string()
    assert all(f"# {mark}" in out for mark in "wbt")
    assert tomllib.loads(out)["mix"] == {
        "wick": {"medium": "peat", "n": 1.5},
        "top": {"medium": "perlite"},
    }


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
def test_any_name_reads_back(name):
    bed = bed_from_mapping(described({"bed.name": name}))
    assert bed_from_text(bed_text(bed)) == bed


@pytest.mark.parametrize(
    "mapping",
    [
        described(),
        tomllib.loads(example_text()),
        described({"planting": []}),
        described({"reservoir": {"form": "stone", **LAYER}}),
        described({"mix.top": {"recipe": {"peat": "60 %", "perlite": 0.4}, "name": 'my "mix"'}}),
        described({"overflow.change": [{"from": "10-15", "to": "04-15", "height": "4 cm"}]}),
        described({"watering": {"when": "weekdays", "weekdays": ["mon"], "amount": "40 L"}}),
    ],
)
def test_a_mapping_reads_back(mapping):
    bed = bed_from_mapping(mapping)
    assert tomllib.loads(bed_text(bed)) == mapping
    assert bed_from_text(bed_text(bed)) == bed


def rounded(bed):
    """Everything in a bed, numbers to 14 digits: text with a unit is read to 15."""
    return re.sub(r"\d+\.\d+", lambda found: f"{float(found[0]):.14g}", repr(bed))


LISTED = medium("perlite")
YEARLY = (OverflowChange((4, 15), 0.09), OverflowChange((10, 15), 0.04))


@pytest.mark.parametrize(
    "bed",
    [
        bed_with(),
        bed_with({"reservoir": {"form": "crates", **LAYER, "wick_foot": "2 cm"}}),
        bed_with({"overflow": {"centre": "10 cm", "bore": "2 cm"}, "site": {"latitude": "33 S"}}),
        replace(bed_with(), overflow=Overflow(0.09, 0.02, "open", YEARLY)),
        replace(bed_with(), watering=Watering("weekdays", weekdays=(0, 3), volume=0.04)),
        replace(
            bed_with(),
            surface=Surface(open_to_rain=0.5, mulch_share=0.25),
            plantings=(),
            start_level=0.3,
        ),
        replace(example_bed(), top_mix=LISTED, watering=Watering("every n days", every=7)),
        replace(bed_with(), overflow=Overflow(None, None, "none"), watering=Watering("never")),
    ],
)
def test_a_bed_from_python_is_written_from_its_values(bed):
    made = replace(bed, source=None)
    assert rounded(bed_from_text(bed_text(made))) == rounded(made)


def test_a_mix_of_no_table_keeps_its_numbers():
    made = replace(example_bed(), source=None)
    back = bed_from_text(bed_text(made))
    assert made.top_mix.name == back.top_mix.name
    for name in ("theta_r", "theta_s", "alpha", "n", "k_s", "l", "wetting", "bulk_density"):
        assert getattr(back.top_mix, name) == pytest.approx(getattr(made.top_mix, name), rel=1e-14)


def test_a_mix_of_no_table_takes_its_spread_from_the_medium_that_has_one_like_it():
    spread = {name: medium(name).k_s_high / medium(name).k_s_low for name in media()}
    widest = max(spread, key=spread.__getitem__)
    for name in (widest, min(spread, key=spread.__getitem__)):
        own = replace(medium(name), name="mine", k_s=0.9 * medium(name).k_s)
        told = tomllib.loads(bed_text(replace(example_bed(), source=None, top_mix=own)))
        assert spread[told["mix"]["top"]["medium"]] == pytest.approx(spread[name])
