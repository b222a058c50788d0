"""The formats that can be read, in the order in which they are tried."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bedtide.weather.formats import australia, canada, ghcn, plain, us_daily
from bedtide.weather.formats.europe import FORMATS_OF_EUROPE
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text

__all__ = ["FORMATS", "Format"]


@dataclass(frozen=True)
class Format:
    """One kind of text file.

    Attributes
    ----------
    name : str
        What people call it.
    recognise : callable
        Whether a text is of this kind, by its content alone.
    read : callable
        The record that it holds, mistakes in its errors.
    """

    name: str
    recognise: Callable[[Text, Options], bool]
    read: Callable[[Text, Options], Record]


FORMATS: tuple[Format, ...] = (
    Format(us_daily.SUMMARY_NAME, us_daily.recognise_summary, us_daily.read_summary),
    Format(us_daily.LOCAL_NAME, us_daily.recognise_local, us_daily.read_local),
    Format(ghcn.NAME, ghcn.recognise, ghcn.read),
    Format(australia.ELEMENT_NAME, australia.recognise_element, australia.read_element),
    Format(australia.MONTH_NAME, australia.recognise_month, australia.read_month),
    Format(canada.NAME, canada.recognise, canada.read),
    *(Format(*entry) for entry in FORMATS_OF_EUROPE),
    Format(plain.NAME, plain.recognise, plain.read),
)
