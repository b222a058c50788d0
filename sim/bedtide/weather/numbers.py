"""Numbers of a text file: words for missing, traces, decimal commas, what is no number."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, shown
from bedtide.weather.record import named_lines

__all__ = ["MISSING", "numbers"]

_POINT = re.compile(r"[+-]?\d*\.\d*")
MISSING = frozenset(
    ("", "na", "n/a", "nan", "null", "none", "-", "--", "---", "m", "missing", "#n/a")
)
"""What stands for "not measured" in any file, lower case."""
TRACE = frozenset(("t", "tr", "trace"))
_COMMA = re.compile(r"[+-]?\d*,\d+")
_THOUSANDS = re.compile(r"[+-]?\d{1,3},\d{3}")


def numbers(
    columns: Mapping[str, Sequence[str]],
    lines: NDArray[np.int64],
    *,
    source: str,
    decimal: str | None = None,
    missing: Sequence[str] = (),
    traces: Sequence[str] = (),
) -> tuple[dict[str, NDArray[np.float64]], list[InputError], int]:
    """Numbers of several text columns of one file.

    A decimal comma is understood where every number with a mark in these columns has one and
    it can't be a thousands separator, or where `decimal` says so.

    Parameters
    ----------
    columns : mapping of sequence of str
        Text by column name.
    lines : ndarray of int
        Line of each row [1].
    source : str
        File name, for messages.
    decimal : str, optional
        ``.`` or ``,``.
    missing : sequence of str
        Texts that stand for "not measured", beside the usual ones.
    traces : sequence of str
        Names of the columns in which ``T`` means too little to measure.

    Returns
    -------
    values : dict of ndarray of float
        NaN where missing, 0 for a trace.
    errors : list of InputError
        One for each column that holds something else.
    count : int
        Number of traces [1].
    """
    none = MISSING | {text.strip().lower() for text in missing}
    declared = _as_numbers(missing)
    values: dict[str, NDArray[np.float64]] = {}
    odd: dict[str, NDArray[np.int64]] = {}
    for name, column in columns.items():
        values[name], odd[name] = _to_float(column, none)
    comma = decimal
    if decimal is None:
        comma = _decimal_mark(columns, odd)
    if comma == ",":
        for name, column in columns.items():
            swapped = [
                text if "." in text else text.replace(",", ".", 1)
                for text in map(str.strip, column)
            ]
            values[name], odd[name] = _to_float(swapped, none)
            dotted = np.asarray([i for i, text in enumerate(column) if "." in text], np.int64)
            odd[name] = np.union1d(odd[name], dotted)
    errors: list[InputError] = []
    count = 0
    for name, bad in odd.items():
        if name in traces:
            trace = [int(i) for i in bad if columns[name][int(i)].strip().lower() in TRACE]
            values[name][trace] = 0.0
            count += len(trace)
            bad = np.setdiff1d(bad, trace)
        if declared:
            values[name][np.isin(values[name], declared)] = np.nan
        if len(bad):
            errors.append(_not_a_number(columns[name], bad, lines, source, name))
    return values, errors, count


def _to_float(
    column: Sequence[str], none: frozenset[str] | set[str]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Floats, and the rows that are neither a number nor one of the words for missing."""
    series = pd.Series(column, dtype=object)
    result = pd.to_numeric(series, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    empty = np.flatnonzero(~np.isfinite(result))
    result[empty] = np.nan
    odd = [i for i in empty.tolist() if column[i].strip().lower() not in none]
    return result, np.asarray(odd, dtype=np.int64)


def _as_numbers(texts: Sequence[str]) -> list[float]:
    found = []
    for text in texts:
        try:
            found.append(float(text))
        except ValueError:
            continue
    return found


def _decimal_mark(columns: Mapping[str, Sequence[str]], odd: dict[str, NDArray[np.int64]]) -> str:
    """A comma where all marks are commas and one at least can't part thousands; else a point."""
    certain = False
    for name, bad in odd.items():
        for i in bad:
            text = columns[name][i].strip()
            if _COMMA.fullmatch(text) and not _THOUSANDS.fullmatch(text):
                certain = True
    if not certain:
        return "."
    pointed = any(_POINT.fullmatch(text.strip()) for column in columns.values() for text in column)
    return "." if pointed else ","


def _not_a_number(
    column: Sequence[str],
    bad: NDArray[np.int64],
    lines: NDArray[np.int64],
    source: str,
    name: str,
) -> InputError:
    text = str(column[int(bad[0])]).strip()
    hint = "If it stands for a day that was not measured, name it with the option  missing"
    if "," in text:
        hint = (
            'If the file has decimal commas, say  decimal = ","  ; thousands separators are '
            "not understood"
        )
    return FieldError(
        f"{source}, line {lines[bad[0]]}, column {name}",
        f'"{shown(text)}" is not a number{named_lines(lines[bad[1:]])}',
        expected="a number with a decimal point, such as 12.4",
        hint=hint,
    )
