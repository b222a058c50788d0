"""Progress on a terminal alone; dates and columns as people write them."""

import datetime
import io
import sys

import click
import pytest

from bedtide.errors import FieldError, TimeAxisError
from bedtide.report.options import Date, in_options, progress, reading_words


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_shows_each_step_on_a_terminal(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress(2) as begin:
        begin("Reading")
        begin("Running")
    shown = terminal.getvalue()
    assert shown.index("Reading") < shown.index("Running") < shown.index("100%")


def test_progress_is_silent_elsewhere(monkeypatch):
    pipe = io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    with progress(2) as begin:
        begin("Reading")
    assert pipe.getvalue() == ""


def test_an_error_passes_through_the_progress(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())
    with pytest.raises(KeyboardInterrupt), progress(2):
        raise KeyboardInterrupt


def test_dates():
    option = click.Option(["--from"])
    assert Date().convert(" 2027-07-10 ", option, None) == datetime.date(2027, 7, 10)
    for text in ("2027-13-01", "10.7.2027", "July", ""):
        with pytest.raises(TimeAxisError, match="--from"):
            Date().convert(text, option, None)


def test_columns_become_a_mapping():
    words = reading_words({"columns": ("Hi = tmax, F", "a=b=c"), "latitude": None})
    assert words == {
        "columns": {"Hi": "tmax, F", "a": "b=c"},
        "latitude": None,
        "borrow": None,
    }
    assert reading_words({"columns": ()})["columns"] is None
    for text in ("Hi", "Hi=", "Hi= "):
        with pytest.raises(FieldError, match="does not say what the column is"):
            reading_words({"columns": (text,)})


@pytest.mark.parametrize(
    ("message", "printed"),
    [
        ('say  missing = "-9999".', "say  --missing -9999."),
        ('not measured with  impossible = "drop"', "not measured with  --impossible drop"),
        ("say  accept = zeros.", "say  --accept zeros."),
        ('say  decimal = ","  ; thousands', "say  --decimal ,  ; thousands"),
        ("the option  columns.", "the option  --column."),
        (
            "choose it with  start  and  end , or with  max_gap_days.",
            "choose it with  --from  and  --to , or with  --max-gap-days.",
        ),
        ('say  columns = {"Hi": "tmax, F"}', "say  --column 'Hi=tmax, F'"),
        ("a file that is missing.", "a file that is missing."),
        ("Expected the start of a day.", "Expected the start of a day."),
    ],
)
def test_messages_name_options_as_they_are_typed(message, printed):
    assert in_options(message) == printed
