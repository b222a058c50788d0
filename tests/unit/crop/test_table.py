"""The table of crops."""

from pathlib import Path

import pytest

from bedtide.crop import crop, crops
from bedtide.errors import ChoiceError
from bedtide.tables import sources


def test_table_has_at_least_twenty_garden_crops():
    assert len(crops()) >= 20


@pytest.mark.parametrize("name", crops())
def test_numbers_are_in_their_physical_range(name):
    row = crop(name)
    assert 0.1 <= row.kcb_ini < row.kcb_mid <= 1.2
    assert row.kcb_ini < row.kcb_end <= row.kcb_mid
    assert 0.1 < row.height <= 2.0
    assert len(row.stages) == 4
    assert min(row.stages) >= 5
    assert sum(row.stages) <= 365
    assert 0.15 < row.root_depth < row.root_depth_deep <= 1.5
    assert 0.1 <= row.p <= 0.8  # bounds of FAO-56 Table 22, footnote, from memory
    assert 0.0 < row.h3_high < row.h3_low < row.h4


@pytest.mark.parametrize("name", crops())
def test_row_names_its_sources_and_their_standing(name):
    row = crop(name)
    assert row.sources
    assert set(row.sources) <= set(sources())
    assert row.standing == "from memory"
    assert row.note
    assert ("proxy" in row.note) == bool(row.uptake_like)


def test_unknown_crop_offers_the_nearest():
    with pytest.raises(ChoiceError) as caught:
        crop("tomatto", where="bed.toml, plantings[0].crop")
    assert "tomato" in caught.value.hint
    assert "tomatto" in str(caught.value)


def test_letter_case_does_not_matter():
    assert crop("Sweet Pepper") is crop("sweet pepper")


def test_docs_list_every_crop():
    page = Path(__file__).parents[3] / "docs" / "physics" / "crop.md"
    section = page.read_text("utf-8").split("## The crops")[1].split("\n\n")[1]
    assert section.strip().rstrip(".").split(", ") == crops()
