"""The table of crops."""

import csv
from pathlib import Path

import pytest

from bedtide.crop import crop, crops
from bedtide.errors import ChoiceError
from bedtide.tables import sources

ROOT = Path(__file__).parents[3]


ROWS = list(
    csv.DictReader(
        line
        for line in (ROOT / "sim/bedtide/data/crops.csv").read_text("utf-8").splitlines()
        if not line.startswith("#")
    )
)
ASKED = """basil, parsley, chives, rosemary, thyme, sage, chard, rocket, cut salad, pak choi, leek,
chilli, okra, Brussels sprouts, turnip, parsnip, sweet potato, melon, broad bean, asparagus,
artichoke, blueberry, raspberry, grape, dwarf apple, citrus, flowers, green manure"""


def test_table_has_what_people_grow():
    assert {" ".join(name.split()) for name in ASKED.split(",")} <= set(crops())
    assert len(crops()) >= 50


@pytest.mark.parametrize("name", crops())
def test_numbers_are_in_their_physical_range(name):
    row = crop(name)
    if name != "citrus":  # evergreen, and lowest in summer
        assert 0.1 <= row.kcb_ini < row.kcb_mid <= 1.2
        assert row.kcb_ini < row.kcb_end <= row.kcb_mid
    assert row.kcb_dormant is None or 0.0 <= row.kcb_dormant <= max(row.kcb_ini, row.kcb_end)
    assert 0.1 < row.height <= 2.0
    assert len(row.stages) == 4
    assert min(row.stages) >= 5
    assert sum(row.stages) <= 365
    assert 0.15 < row.root_depth < row.root_depth_deep <= 2.0
    assert 0.1 <= row.p <= 0.8  # bounds of FAO-56 Table 22, footnote, from memory
    assert 0.0 < row.h3_high < row.h3_low < row.h4


@pytest.mark.parametrize("name", crops())
def test_row_names_its_sources_and_their_standing(name):
    row = crop(name)
    assert row.sources
    assert set(row.sources) <= set(sources())
    assert row.standing in ("from memory", "worked out")
    assert row.note
    assert ("proxy" in row.note) == bool(row.uptake_like)
    assert ("fao56_1998" in row.sources) == (row.standing == "from memory")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_a_coefficient_that_was_worked_out_is_that_of_its_cover(row):
    # Allen & Pereira (2009), as a secondary text prints it: Kcb = Kc min + Kd (Kcb full - Kc min)
    # with Kc min 0.15, Kcb full = min(1 + 0.1 h, 1.2), Kd = min(1, 2 fc, fc^(1/(1 + h))).
    assert bool(row["cover_mid"]) == (row["standing"] == "worked out")
    if not row["cover_mid"]:
        return
    fc, h = float(row["cover_mid"]), float(row["height"])
    kd = min(1.0, 2.0 * fc, fc ** (1.0 / (1.0 + h)))
    expected = 0.15 + kd * (min(1.0 + 0.1 * h, 1.2) - 0.15)
    assert crop(row["name"]).kcb_mid == pytest.approx(expected, abs=0.0051)
    assert f"cover of {100 * fc:.0f} %" in row["note"]


@pytest.mark.parametrize(
    ("called", "name"),
    [
        *(("aubergine", "eggplant"), ("Courgette", "zucchini"), ("arugula", "rocket")),
        *(("Swiss chard", "chard"), ("BOK CHOY", "pak choi"), ("capsicum", "sweet pepper")),
        *(("fava bean", "broad bean"), ("chili", "chilli"), ("beetroot", "beet")),
        *(("scallion", "spring onion"), ("swede", "turnip"), ("lemon", "citrus")),
    ],
)
def test_a_crop_goes_by_its_other_names_too(called, name):
    assert crop(called) is crop(name)
    assert crop(called).name == name


def test_no_name_means_two_crops():
    names = [name for row in ROWS for name in (row["name"], *row["aliases"].split("; ")) if name]
    assert len({name.lower() for name in names}) == len(names)


def test_unknown_crop_offers_the_nearest():
    with pytest.raises(ChoiceError) as caught:
        crop("tomatto", where="bed.toml, plantings[0].crop")
    assert "tomato" in caught.value.hint
    assert "tomatto" in str(caught.value)


def test_letter_case_does_not_matter():
    assert crop("Sweet Pepper") is crop("sweet pepper")


def test_docs_list_every_crop():
    page = ROOT / "docs" / "physics" / "crop.md"
    section = page.read_text("utf-8").split("## The crops")[1].split("\n\n")[1]
    assert section.strip().rstrip(".").split(", ") == crops()
