"""One list of options: the keywords of read_weather, their description, and what is refused."""

import doctest
import inspect
from dataclasses import fields
from typing import get_args, get_type_hints

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import OPTIONS, read_weather
from bedtide.weather.options import Options

WORDS = {
    "start", "end", "latitude", "elevation", "columns", "missing", "decimal", "date_order",
    "units_of_file", "station", "point", "max_gap_days", "rain_day", "multi_day", "wind_height",
    "stamps", "time_zone", "hour_stamp", "setting", "method", "impossible", "accept", "borrow",
    "gauge", "layout",
}  # fmt: skip


def literals(hint):
    """Words of a Literal, and of one that may be None."""
    return tuple(
        each for part in get_args(hint) for each in (get_args(part) or (part,)) if type(each) is str
    )


def test_the_signature_is_the_list():
    path, *words = inspect.signature(read_weather).parameters.values()
    assert path.name == "path"
    assert [word.name for word in words] == list(OPTIONS)
    assert set(OPTIONS) == WORDS == {each.name for each in fields(Options)} - {"every_column"}
    given = {word.name: word.default for word in words if word.default not in (None, ())}
    assert given == {
        "max_gap_days": 3,
        "multi_day": "spread",
        "setting": "inland",
        "impossible": "refuse",
    }
    assert all(word.kind is inspect.Parameter.KEYWORD_ONLY for word in words)


def test_types_and_choices_agree():
    hints = get_type_hints(Options, localns={"np": np})
    chosen = {name: literals(hints[name]) for name in OPTIONS if literals(hints[name])}
    assert len(chosen) == 9
    for name, about in OPTIONS.items():
        if name != "accept":
            assert tuple(about.choices) == chosen.get(name, ()), name
    kinds = {"float": float, "int": int, "str": str}
    for name, about in OPTIONS.items():
        if about.kind in kinds:
            assert kinds[about.kind] in (hints[name], *get_args(hints[name])), name


def test_the_docstring_has_every_option():
    text = read_weather.__doc__
    for name, about in OPTIONS.items():
        entry = text.partition(f"\n{name} : ")[2]
        sentence = entry.splitlines()[1].strip()
        assert sentence.startswith(about.sentence.removesuffix("."))
        assert (f"[{about.unit}]." in sentence) is bool(about.unit)
    assert "max_gap_days : int, default 3" in text
    assert 'date_order : {"dmy", "mdy"}, optional' in text


def test_the_example_of_the_docstring():
    found = doctest.DocTestParser().get_doctest(read_weather.__doc__, {}, "read_weather", None, 0)
    assert found.examples
    assert doctest.DocTestRunner(verbose=False).run(found).failed == 0


@pytest.mark.parametrize(
    ("wrong", "right"),
    [("lattitude", "latitude"), ("max_gap", "max_gap_days"), ("Missing", "missing")],
)
def test_a_wrong_name_gets_the_closest(table, wrong, right):
    with pytest.raises(InputError) as caught:
        read_weather(table(), **{wrong: 1})
    assert f'there is no option "{wrong}"' in caught.value.text
    assert right in caught.value.text.splitlines()[-1]


def test_a_name_like_none_of_them_gets_the_list(table):
    with pytest.raises(InputError, match="one of: start, end, latitude"):
        read_weather(table(), xyzzy=1)
    with pytest.raises(TypeError, match="read_weather"):
        read_weather(table(), 48.0)


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ({"latitude": 90.5}, "latitude: 90.5 degrees is out of range"),
        ({"latitude": float("nan")}, "latitude: 1 of 1 values are not finite"),
        ({"latitude": "north"}, "latitude: 'north' is not possible"),
        ({"elevation": -500}, "elevation: -500 m"),
        ({"wind_height": 201.0}, "wind_height: 201 m"),
        ({"max_gap_days": 2.5}, "Expected a whole number"),
        ({"max_gap_days": 61}, "max_gap_days: 61 days"),
        ({"point": (91.0, 0.0)}, "point: 91 degrees of latitude"),
        ({"point": (0.0, 361.0)}, "point: 361 degrees of longitude"),
        ({"point": (1.0,)}, "point: (1.0,) is not possible"),
        ({"method": 3}, 'method: "3" is not known'),
        ({"missing": 5}, "missing: 5 is not possible"),
        ({"accept": "zero"}, "Closest: zeros"),
        ({"end": "2021"}, 'end: "2021" is not a date'),
    ],
)
def test_a_wrong_value_is_refused_even_where_the_file_knows_better(table, words, part):
    with pytest.raises(InputError) as caught:
        read_weather(table(), **words)
    assert part in caught.value.text


def test_bounds_themselves_are_taken(table):
    for words in (
        {"latitude": -90.0},
        {"max_gap_days": 60},
        {"max_gap_days": 0},
        {"rain_day": None},
    ):
        weather = read_weather(path=table(), **words)
        assert weather.attrs["latitude"] == 48.0  # the file's own
