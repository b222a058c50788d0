"""The formats that can be read, in the order in which they are tried."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bedtide.weather.formats import plain
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


FORMATS: tuple[Format, ...] = (Format(plain.NAME, plain.recognise, plain.read),)
