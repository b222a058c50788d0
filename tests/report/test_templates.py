"""The words of templates: what each filter says, text that fits, names that stay one piece."""

import datetime
import os
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import jinja2
import pytest

from bedtide.report.templates import line, render, table, terminal_width


@pytest.fixture
def told(tmp_path):
    """Text of a template that is written here, as one of the package is told."""
    number = iter(range(100))

    def told(text: str, **given: object) -> str:
        path = tmp_path / f"{next(number)}.j2"
        path.write_text(text, encoding="utf-8")
        return render(str(path), **given)

    return told


# --- filters ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{{ 2.4|whole }} {{ 2.5|whole }} {{ 1234.5|whole }}", "2 3 1,235"),
        ("{{ 2.46|mean }} {{ 2.97|mean }} {{ 9.94|mean }} {{ 10.4|mean }}", "2.5 3 9.9 10"),
        ("{{ 0|mean }} {{ 0.04|mean }} {{ 0.06|mean }}", "0 0 0.1"),
        ("{{ 1|counted('fill') }}, {{ 1.4|counted('fill') }}", "1 fill, 1 fill"),
        ("{{ 0|counted('fill') }}, {{ 1200|counted('fill') }}", "0 fills, 1,200 fills"),
        ("{{ 1|counted('box', 'boxes') }}, {{ 2|counted('box', 'boxes') }}", "1 box, 2 boxes"),
        ("{{ 1|days }}, {{ 0|days }}, {{ 10958|days }}", "1 day, 0 days, 10,958 days"),
        ("{{ 6|month }}, {{ '2023-06'|month }}", "June, June 2023"),
        ("{{ '2023-11'|month }}", "November 2023"),
        ("{{ '2027-07-10'|day }}, {{ '2027-07-10'|date }}", "10 July, 10 July 2027"),
        ("{{ []|listed }}|{{ ['A']|listed }}|{{ 'AB'|list|listed }}", "|A|A and B"),
        ("{{ 'ABC'|list|listed }}, {{ [3, 7, 14]|listed('or') }}", "A, B and C, 3, 7 or 14"),
        ("{{ 97.4|percent }}, {{ 10.15|percent(1) }}, {{ 1200|percent }}", "97 %, 10.2 %, 1,200 %"),
        ("{{ -0.2|percent }}, {{ -0.2|percent(1) }}", "0 %, -0.2 %"),
        ("{{ 0.0001234|small }} {{ 12.3|small }}", "0.00012 12"),
        ("{{ '12 US gal'|bare }} {{ '1.5 L'|bare }}", "12 1.5"),
        ("{{ span('2023-06-25', '2023-07-06') }}", "25 June to 6 July 2023"),
        ("{{ span('2023-06-05', '2023-06-25') }}", "5 to 25 June 2023"),
        ("{{ span('2023-06-05', '2023-06-05') }}", "5 June 2023"),
        ("{{ span('2023-12-25', '2024-01-06') }}", "25 December 2023 to 6 January 2024"),
        ("{{ later('2024-02-28', 2.0)|date }}", "1 March 2024"),
        ("{{ between('6 L', '9 L') }}, {{ between('6 L', '6 L') }}", "6 to 9 L, 6 L"),
        ("{{ within(4, 3, 8) }}, {{ within(4, 4.2, 3.9) }}", "4 (3 to 8), 4"),
        ("{{ every(3, 5) }}, {{ every(1, 1) }}", "every 3 to 5 days, every day"),
        ("{{ every(3, 8, 4) }}", "about every 4 days (3 to 8)"),
        ("{{ every(4, 4, 4) }}", "about every 4 days"),
        ("{{ every(1, 2, 1) }}", "about every day (1 to 2)"),
        ("{{ months(1, 12) }}", "all the year round"),
        ("{{ months(1, 12, '2024') }}", "all through 2024"),
        ("{{ months(7, 7, '2024') }}, {{ months(6, 7) }}", "in July 2024, in June and July"),
        ("{{ months(1, 5) }}, {{ months(8, 12) }}", "from January to May, from August to December"),
        ("{{ months(12, 1) }}", "in December and January"),
        ("{{ months(5, 9, '2024') }}", "from May to September 2024"),
        ("{{ months(11, 2, '2024') }}", "from November to February"),
    ],
)  # fmt: skip
def test_filters_of_either_unit(text, expected):
    assert line(text) == expected
    assert line(text, units="us") == expected


@pytest.mark.parametrize(
    ("text", "metric", "us"),
    [
        ("{{ 100|litres }}, {{ 3.785411784|litres }}", "100 L, 3.8 L", "26 US gal, 1 US gal"),
        ("{{ 25.4|mm }}, {{ 1200|mm }}", "25 mm, 1,200 mm", "1.00 in, 47.24 in"),
        ("{{ 42|cm }}, {{ 200|cm }}", "42 cm, 2 m", "16.5 in, 78.7 in"),
        ("{{ 480|kg }}", "480 kg", "1,058 lb"),
        # 1 ft3 is 0.3048^3 m3, which is 28.317 L
        ("{{ 86|bulk }}, {{ 1022.3|bulk }}", "86 L, 1,022 L", "3.0 ft3, 36.1 ft3"),
        ("{{ 120.5|sawn }}", "120.5 mm", "4 3/4 in"),
        ("{{ 25.4|rain }}, {{ 63.6|rain }}", "25, 64", "1.0, 2.5"),
        # 1 lb is 0.45359237 kg, 1 ft 0.3048 m: 100 kg/m2 are 20.48 lb/ft2
        ("{{ 100|both('load') }}", "100 kg/m2 (20 lb/ft2)", "20 lb/ft2 (100 kg/m2)"),
        ("{{ volume }}, {{ depth }}, {{ length }}, {{ units }}", "L, mm, cm, metric",
         "US gal, in, in, us"),
    ],
)  # fmt: skip
def test_amounts_come_in_litres_and_go_out_as_asked(text, metric, us):
    assert line(text) == metric
    assert line(text, units="us") == us


def test_a_date_may_be_one():
    assert line("{{ d|date }}", d=datetime.date(2024, 2, 29)) == "29 February 2024"


def test_a_name_that_is_not_there_is_an_error(told):
    with pytest.raises(jinja2.UndefinedError, match="refils"):
        told("{{ s.refils }}", s=SUMMARY)
    with pytest.raises(jinja2.UndefinedError, match="nowhere"):
        line("{{ nowhere }}")
    with pytest.raises(jinja2.TemplateAssertionError, match="litre"):
        line("{{ 3|litre }}")


# --- text that fits ---------------------------------------------------------------------------

PROSE = """\
The usable water is gone after 6 days, so fill the bed before you leave and ask a neighbour
to look in once.
* A new line, and
it runs on.

A new paragraph: {{ "" }}
{{ "" }}
goes on over what is empty.
- an item of a list that is long enough to be folded at either of the widths that are tried here
- another ,  with blanks  .
"""


def test_lines_run_on_until_an_empty_line_or_a_mark(told):
    assert told(PROSE).split("\n") == [
        "The usable water is gone after 6 days, so fill the bed before you leave and ask a "
        "neighbour to look in once.",
        "A new line, and it runs on.",
        "",
        "A new paragraph: goes on over what is empty.",
        "  an item of a list that is long enough to be folded at either of the widths that are "
        "tried here",
        "  another, with blanks.",
    ]


@pytest.mark.parametrize("width", [60, 40])
def test_folded_text_says_the_same_in_lines_that_fit(told, width):
    lines = told(PROSE, width=width).split("\n")
    assert max(map(len, lines)) <= width
    assert " ".join(" ".join(lines).split()) == " ".join(told(PROSE).split())
    assert lines.count("") == 1
    # each line is as full as it may be: the first word of the next would not have fitted
    first = lines[: lines.index("A new line, and it runs on.")]
    for one, following in pairwise(first):
        assert len(one) + 1 + len(following.split()[0]) > width
    at = next(i for i, each in enumerate(lines) if each.startswith("  an item"))
    assert lines[at + 1].startswith("    ")


def test_a_line_is_as_long_as_the_width_and_no_longer(told):
    assert told("aaaa " * 8 + "bbbbb", width=45) == "aaaa " * 8 + "bbbbb"
    assert told("aaaa " * 8 + "bbbbb", width=44) == "aaaa " * 7 + "aaaa\nbbbbb"
    assert told("a b " * 20, width=40).split("\n")[0] == ("a b " * 10).strip()


def test_a_long_word_is_not_broken(told):
    path = "/home/someone/" + "a" * 60 + ".csv"
    assert path in told("Written: {{ p }} and no more.", p=path, width=40).split("\n")


def test_empty_lines_are_never_two_nor_at_the_ends(told):
    text = "\n\n{{ '' }}\none\n\n{% if false %}\nno\n{% endif %}\n\n\n{{ '' }}\n\ntwo\n\n"
    assert told(text) == "one\n\ntwo"


TABLE = """\
Month │ Fills │ Water L
{% for row in rows %}
{{ row[0] }} │ {{ row[1] }} │ {{ row[2]|litres|bare }}
{% endfor %}
"""
ROWS = (("May", 3, 120.0), ("September", 12, 6.25))


def test_a_table_lines_up(told):
    assert told(TABLE, rows=ROWS) == (
        "Month      Fills  Water L\nMay            3      120\nSeptember     12      6.2"
    )  # fmt: skip


def test_a_table_stands_between_paragraphs(told):
    lines = told(f"Before.\n{TABLE}After.\n", rows=ROWS, width=60).split("\n")
    assert (lines[0], lines[-1]) == ("Before.", "After.")
    assert len(lines) == 5


def test_a_table_that_is_too_wide_is_cut_each_part_with_the_first_column():
    rows = [["Bed", "one", "two", "three"], ["A", "1" * 10, "2" * 10, "3" * 10]]
    assert table(rows, 39) == [
        "Bed         one         two       three",
        "A    1111111111  2222222222  3333333333",
    ]
    assert table(rows, 38) == [
        "Bed         one         two",
        "A    1111111111  2222222222",
        "",
        "Bed       three",
        "A    3333333333",
    ]
    assert [each for each in table(rows, 5) if each.startswith("A")] == [
        "A    1111111111",
        "A    2222222222",
        "A    3333333333",
    ]
    assert table(rows) == table(rows, 1000)


def test_the_width_is_the_terminals_or_what_columns_says(monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    assert terminal_width() == 60
    monkeypatch.setenv("COLUMNS", "240")
    assert terminal_width() == 240
    monkeypatch.delenv("COLUMNS")
    monkeypatch.setattr("os.get_terminal_size", lambda *given: os.terminal_size((240, 50)))
    assert terminal_width() == 100


# --- names ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Inner:
    label: str


class Pair(NamedTuple):
    first: Inner
    number: int


@dataclass(frozen=True, kw_only=True)
class Summary:
    bed: str
    beds: tuple[Inner, ...]
    pair: Pair
    by_name: dict[str, list[str]]

    @property
    def loud(self) -> str:
        return self.bed.upper()


def summary(name: str) -> Summary:
    one = Inner(label=name)
    return Summary(bed=name, beds=(one,), pair=Pair(one, 3), by_name={"a": [name]})


SUMMARY = summary("Kitchen bed")
ODD = {
    "a │ b": "a | b",
    "a│b": "a|b",
    "two  blanks": "two blanks",
    "$5 and $6": "$5 and $6",
    "line\nend": "line end",
    "line\r\n\tend": "line end",
    "next\u2028line\x85end": "next line end",
    "right\u202eto left": "right?to left",
    "bell\x07 \x1b[31m": "bell? ?[31m",
    "{{ s.bed }} {% if %}": "{{ s.bed }} {% if %}",
    "gr\u00fcn\u200dbed": "gr\u00fcn\u200dbed",
}


@pytest.mark.parametrize(("name", "seen"), ODD.items())
@pytest.mark.parametrize(
    "place", ["s.bed", "s.beds[0].label", "s.pair.first.label", "s.by_name['a'][0]"]
)
def test_a_name_stays_one_cell_of_one_line(told, name, seen, place):
    text = told(f"Bed │ L\n{{{{ {place} }}}} │ 3\n\nIt is {{{{ {place} }}}}.\n", s=summary(name))
    rows = text.split("\n")
    assert len(rows) == 4
    assert rows[0].split() == ["Bed", "L"]
    assert rows[1] == f"{seen}  3"
    assert rows[3] == f"It is {seen}."


def test_what_follows_from_a_name_is_in_one_line_too(told):
    assert told("{{ s.loud }}: {{ s.pair.number + 1 }}", s=summary("a │\nb")) == "A | B: 4"


def test_the_summary_itself_is_left_as_it_was(told):
    given = summary("a │ b")
    told("{{ s.bed }}", s=given)
    assert given == summary("a │ b")


def test_a_long_first_cell_of_a_table_is_folded_beside_its_figures():
    rows = [
        ["Change", "Days", "Gain"],
        ["as it is", "12", "0"],
        ["mulch all over and a shade cloth", "16", "+4"],
    ]
    assert table(rows, 30) == [
        "Change              Days  Gain",
        "as it is              12     0",
        "mulch all over and    16    +4",
        "  a shade cloth",
    ]
    assert table(rows, 60)[2] == "mulch all over and a shade cloth    16    +4"
