"""Mappings written as TOML read back to the same mapping."""

import datetime
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedtide.bed import example_text
from bedtide.bed.toml_text import toml_text, value_text
from helpers.beds import described

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
values = st.one_of(
    texts, st.booleans(), st.integers(-(10**9), 10**9), st.floats(allow_nan=False), st.dates()
)
tables = st.dictionaries(
    texts,
    st.one_of(
        values,
        st.lists(values, max_size=3),
        st.dictionaries(texts, values, max_size=3),
        st.lists(st.dictionaries(texts, values, max_size=3), max_size=3),
    ),
    max_size=5,
)


@given(st.dictionaries(texts, st.one_of(values, tables), max_size=5))
def test_any_mapping_reads_back(mapping):
    assert tomllib.loads(toml_text(mapping)) == mapping


@pytest.mark.parametrize("mapping", [described(), tomllib.loads(example_text()), {"planting": []}])
def test_descriptions_read_back(mapping):
    assert tomllib.loads(toml_text(mapping)) == mapping


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("42 cm", '"42 cm"'),
        ('4 3/4"', '"4 3/4\\""'),
        (True, "true"),
        (0.4, "0.4"),
        (datetime.date(2027, 5, 10), "2027-05-10"),
        ({"peat": "60 %", "pine bark fine": 1}, '{ peat = "60 %", "pine bark fine" = 1 }'),
        (["mon", "thu"], '["mon", "thu"]'),
    ],
)
def test_values(value, text):
    assert value_text(value) == text


def test_sections_come_after_plain_keys():
    assert toml_text({"a": {"b": 1}, "c": []}) == "c = []\n\n[a]\nb = 1\n"
