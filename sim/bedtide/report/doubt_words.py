"""What is said of a range: how sure a figure is, and what would have to be known better."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from bedtide.many import Doubt

__all__ = ["PARAMETER_WORDS", "doubt_figures", "doubt_lines", "matters_line", "range_text"]

PARAMETER_WORDS = {
    "conductivity": "how well the mix lifts water",
    "retention": "how much water the mix holds",
    "surface supply": "how well the mix keeps its surface wet from below",
    "water use": "how much the plants use where this bed stands",
}
"""What the parameters of the set are called."""

_HOW = {
    "conductivity": "Look whether the plants ever hang their leaves while the reservoir holds "
    "water; if not, your mix is not at the low end",
    "retention": "Measure your mix: soak a pot of it, let it drain (bench in the bed file)",
    "surface supply": "Look at bare mix after a dry week with the reservoir full: dark and moist "
    "is the high end, pale and dry the low one",
    "water use": "Note what your bed drinks in a week of summer and set site.exposure to it",
}


def doubt_figures(doubt: Doubt) -> dict[str, Any]:
    """A range under stable keys.

    Parameters
    ----------
    doubt : Doubt
        As :func:`bedtide.many.doubt.range_of` gives it.

    Returns
    -------
    dict
        ``typical``, ``low``, ``high``, ``matters``, ``runs``; ``alone`` with the value at the low
        and the high end of each parameter; ``against``, ``in_favour`` with all at once;
        ``failing``, the sets with which the bed does not work at all and which are not in the
        range. None is more than was followed, or no value.
    """
    return {
        "typical": _finite(doubt.typical),
        "low": _finite(doubt.low),
        "high": _finite(doubt.high),
        "matters": doubt.matters or None,
        "alone": {
            name: {"low": _finite(low), "high": _finite(high)}
            for name, (low, high) in doubt.alone.items()
        },
        "against": _finite(doubt.together[0]),
        "in_favour": _finite(doubt.together[1]),
        "failing": list(doubt.failing),
        "runs": doubt.runs,
    }


def range_text(
    doubt: Mapping[str, Any], number: Callable[[float], str], *, beyond: str = "more"
) -> str:
    """A range in words: ``"6 to 9"``, ``"6 to more"``, or one number where both ends are alike.

    Parameters
    ----------
    doubt : mapping
        As `doubt_figures` gives it.
    number : callable
        Text of one number.
    beyond : str, default "more"
        What a missing upper end means.

    Returns
    -------
    str
        Without its unit.
    """
    low, high = doubt["low"], doubt["high"]
    if low is None:
        return beyond
    if high is None:
        return f"{number(low)} to {beyond}"
    first, last = number(low), number(high)
    return first if first == last else f"{first} to {last}"


def doubt_lines(
    doubt: Mapping[str, Any], number: Callable[[float], str], *, what: str, more: str = "more"
) -> list[str]:
    """How sure a headline is, and what matters most to it.

    Parameters
    ----------
    doubt : mapping
        As `doubt_figures` gives it.
    number : callable
        Text of one number, without its unit.
    what : str
        What the figure is, as ``"days that it lasts"``.
    more : str, default "more"
        What a missing value means.

    Returns
    -------
    list of str
        Sentences.
    """
    failing = doubt["failing"]

    def text(value: float | None, name: str) -> str:
        return (more if value is None else number(value)) + ("*" if name in failing else "")

    lines = [
        f"How sure: {what} at the low and the high end of what is published, one thing at a time "
        f"(typical: {text(doubt['typical'], 'typical')}):"
    ]
    lines += [
        f"  {PARAMETER_WORDS[name]}: {text(ends['low'], f'low {name}')} and "
        f"{text(ends['high'], f'high {name}')}"
        for name, ends in doubt["alone"].items()
    ]
    lines.append(
        f"  all of it against the plants: {text(doubt['against'], 'against')}; all in their "
        f"favour: {text(doubt['in_favour'], 'in favour')}"
    )
    if failing:
        lines.append(
            "  * With these the plants would go short even with the reservoir full every day. You "
            "would have seen that, so the range leaves them out; if the bed is not built yet, mind "
            "them."
        )
    return lines + matters_line(doubt)


def matters_line(doubt: Mapping[str, Any]) -> list[str]:
    """What matters most to a headline, and how to know it better.

    Parameters
    ----------
    doubt : mapping
        As `doubt_figures` gives it.

    Returns
    -------
    list of str
        One line; none where nothing moves the headline.
    """
    name = doubt["matters"]
    return [f"What matters most is {PARAMETER_WORDS[name]}. {_HOW[name]}."] if name else []


def _finite(value: float) -> float | int | None:
    if not np.isfinite(value):
        return None
    return int(value) if value == int(value) else value
