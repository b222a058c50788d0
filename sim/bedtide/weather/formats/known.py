"""The formats that can be read, in the order in which they are tried."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bedtide.weather.formats import (
    australia,
    canada,
    europe_set,
    france,
    germany,
    ghcn,
    netherlands,
    plain,
    united_kingdom,
    us_daily,
)
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
    Format(germany.NAME, germany.recognise, germany.read),
    Format(germany.NAME, germany.recognise_place, germany.read_place),
    Format(europe_set.NAME, europe_set.recognise, europe_set.read),
    Format(france.NAME, france.recognise, france.read),
    Format(netherlands.NAME, netherlands.recognise, netherlands.read),
    Format(united_kingdom.NAME, united_kingdom.recognise, united_kingdom.read),
    Format(united_kingdom.MONTHS_NAME, united_kingdom.recognise_months, united_kingdom.read_months),
    Format(plain.NAME, plain.recognise, plain.read),
)
