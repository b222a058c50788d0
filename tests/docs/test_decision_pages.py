"""The pages on comparisons and rainy spells name every key and column that is written."""

import re
from pathlib import Path

from bedtide.answers.compare.summary import summary_of, table_of_beds, table_of_years
from bedtide.files import plain
from bedtide.report.spells import spells_summary, table_of_spells
from helpers.comparisons import comparison, depths, spells

DOCS = Path(__file__).parents[2] / "docs"


def named(page: str) -> set[str]:
    return set(re.findall(r"`(\w+)`", (DOCS / page).read_text(encoding="utf-8")))


def keys(content: object) -> set[str]:
    if isinstance(content, dict):
        return set(content) | {key for part in content.values() for key in keys(part)}
    if isinstance(content, list):
        return {key for part in content for key in keys(part)}
    return set()


def test_every_key_and_column_of_a_comparison_is_explained():
    figures = plain(summary_of(comparison()))
    written = keys(figures) | set(table_of_years(comparison()))
    assert written <= named("compare.md"), written - named("compare.md")
    assert list(table_of_beds(summary_of(comparison()))) == list(figures["beds"][0])


def test_every_key_and_column_of_a_rainy_spell_is_explained():
    written = keys(plain(spells_summary(spells(), depths()))) | set(table_of_spells(spells()))
    assert written <= named("wet_spell.md"), written - named("wet_spell.md")
