"""Tables of the package: what is wrong in one is named, and every term has what it needs."""

import re

import pytest

from bedtide import tables
from bedtide.errors import FileError
from bedtide.tables import attributes, terms


def test_a_broken_table_is_refused(monkeypatch):
    monkeypatch.setattr(tables, "_data", lambda name: "name,unit\nrain,m\nrain,m\n")
    with pytest.raises(FileError, match=r'rows.csv: "rain" is there twice'):
        tables.read_table("rows.csv")


def test_remarks_and_empty_lines_are_no_rows(monkeypatch):
    monkeypatch.setattr(tables, "_data", lambda name: "# a\n\nname,unit\n# b\nrain,m\n \nlip,1\n")
    rows = tables.read_table("rows.csv")
    assert rows == {"rain": {"name": "rain", "unit": "m"}, "lip": {"name": "lip", "unit": "1"}}


def test_every_term_has_a_unit_a_name_and_a_sentence():
    assert len(terms()) > 100
    for name, term in terms().items():
        assert name == term["name"]
        assert re.fullmatch(r"[a-z][a-z0-9_]*", name), name
        assert term["long_name"], name
        assert term["sentence"].endswith("."), name


def test_only_what_a_term_has_becomes_an_attribute():
    assert attributes("rain") == {
        "long_name": "rain",
        "comment": "Rain on open ground.",
        "units": "m d-1",
        "standard_name": "lwe_precipitation_rate",
        "cell_methods": "time: sum",
    }
    assert list(attributes("spell_start")) == ["long_name", "comment"]
    with pytest.raises(KeyError):
        attributes("rains")
