"""The only writers of the standard messages: a choice, a range, a finite number, one time axis."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.errors import ChoiceError, RangeError, TimeAxisError, nearest_names

__all__ = ["choice", "consecutive_days", "finite", "in_range"]


def choice(given: str, offered: Iterable[str], *, where: str) -> str:
    """Return the word on offer that was given, letter case and outer spaces aside.

    Parameters
    ----------
    given : str
        The word.
    offered : iterable of str
        All that exist.
    where : str
        File and key for the message.

    Returns
    -------
    str
        The word as it is spelled in `offered`.

    Raises
    ------
    ChoiceError
        If it is none of them; the closest are named.
    """
    names = list(offered)
    for name in names:
        if name.lower() == given.strip().lower():
            return name
    close = nearest_names(given, names)
    hint = f"Closest: {', '.join(close)}" if close else ""
    expected = "one of: " + ", ".join(names) if len(names) <= 12 or not close else ""
    raise ChoiceError(where, f'"{given}" is not known', expected=expected, hint=hint)


def finite(value: ArrayLike, *, where: str) -> NDArray[np.float64]:
    """Return the value as a float array, refusing what is not a finite number.

    Parameters
    ----------
    value : array_like of float, shape (...)
        The number or numbers, any unit [1].
    where : str
        What it is, for the message.

    Returns
    -------
    ndarray of float, shape (...)
        A float64 array.

    Raises
    ------
    RangeError
        If any is not finite.
    """
    array = np.asarray(value, dtype=np.float64)
    bad = ~np.isfinite(array)
    if bad.any():
        raise RangeError(where, f"{int(bad.sum())} of {array.size} values are not finite numbers")
    return array


def in_range(
    value: ArrayLike,
    low: float,
    high: float,
    *,
    where: str,
    unit: str,
    hint: str = "",
    open_low: bool = False,
) -> NDArray[np.float64]:
    """Return the value as a float array, refusing what is outside the range.

    Parameters
    ----------
    value : array_like of float, shape (...)
        The number or numbers, in `unit` [1].
    low, high : float
        The bounds, both allowed, in `unit` [1].
    where : str
        What it is, for the message.
    unit : str
        Its unit, for the message.
    hint : str, optional
        How to mend it.
    open_low : bool, default False
        Whether `low` itself is refused.

    Returns
    -------
    ndarray of float, shape (...)
        A float64 array.

    Raises
    ------
    RangeError
        If any is not finite or outside; the first such value is shown.
    """
    array = finite(value, where=where)
    bad = (array < low) | (array > high)
    if open_low:
        bad |= array == low
    if bad.any():
        first = float(array[bad].flat[0])
        given = f"{first:g} {unit}".strip()
        if np.isinf(high):
            expected = f"{'more than' if open_low else 'at least'} {low:g} {unit}".strip()
        elif open_low:
            expected = f"more than {low:g} and at most {high:g} {unit}".strip()
        else:
            expected = f"between {low:g} and {high:g} {unit}".strip()
        raise RangeError(where, f"{given} is out of range", expected=expected, hint=hint)
    return array


def consecutive_days(times: NDArray[np.datetime64], *, where: str) -> NDArray[np.datetime64]:
    """Return the days as datetime64[D], refusing an axis that skips, repeats or goes back.

    Parameters
    ----------
    times : ndarray of datetime64, shape (time,)
        Dates [d].
    where : str
        What they belong to, for the message.

    Returns
    -------
    ndarray of datetime64[D], shape (time,)
        The same days.

    Raises
    ------
    TimeAxisError
        If there is no day, or two neighbours are not one day apart.
    """
    days = np.asarray(times).astype("datetime64[D]")
    if days.size == 0:
        raise TimeAxisError(where, "there is not one day in it", expected="at least one day")
    step = np.diff(days).astype(int)
    if (step != 1).any():
        at = int(np.flatnonzero(step != 1)[0])
        raise TimeAxisError(
            where, f"days jump from {days[at]} to {days[at + 1]}", expected="one value for each day"
        )
    return days
