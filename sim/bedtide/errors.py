"""The errors that a person can mend, the checks that raise them, and our own that can fail."""

from __future__ import annotations

import difflib
import json
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

_SHOWN = 10


class Option(str):
    """An option of reading weather in a message, alone or with a value, as Python spells it."""

    __slots__ = ("name", "value")
    name: str
    value: Any

    def __new__(cls, name: str, value: Any = None) -> Option:
        """As text  name  or  name="value" ; the command line has a way of its own."""
        given = value if isinstance(value, tuple) else json.dumps(value, ensure_ascii=False)
        self = super().__new__(cls, name if value is None else f"{name}={given}")
        self.name, self.value = name, value
        return self


class Pieces(str):
    """Text whose options can be spelled in another way."""

    __slots__ = ("parts",)
    parts: tuple[str, ...]

    def __new__(cls, *parts: str) -> Pieces:
        """The pieces as one text."""
        self = super().__new__(cls, "".join(parts))
        self.parts = parts
        return self


class BedtideError(Exception):
    """Where (file, line or key) something is wrong, with what value, and how to mend it.

    `expected` completes "Expected ..."; `hint` is a sentence, or lines, of which those that are
    set in stay as they are. Any of them may be an `Option`, or `Pieces` with options among them.
    """

    def __init__(self, where: str, problem: str, expected: str = "", *, hint: str = "") -> None:
        self.where = where
        self.problem = problem
        self.expected = expected
        self.hint = hint
        super().__init__(self.text)

    @property
    def text(self) -> str:
        """The message as a person reads it, options as Python spells them."""
        return self.told(str)

    def told(self, spell: Callable[[Option], str]) -> str:
        """The message, three lines or as many as the hint has more; options spelled by `spell`."""
        where, problem, expected, hint = (
            _spelled(text, spell) for text in (self.where, self.problem, self.expected, self.hint)
        )
        lines = [f"{where}: {_sentence(problem)}"]
        if expected:
            lines.append(_sentence(f"Expected {expected}"))
        for line in filter(None, hint.split("\n")):
            lines.append(line if line.startswith("  ") else _sentence(line))
        return "\n".join(map(printable, lines))

    def __str__(self) -> str:
        return self.text


class InputError(BedtideError):
    """Something that was given is wrong; whoever gave it can mend it."""

    @property
    def errors(self) -> tuple[InputError, ...]:
        """Each mistake by itself."""
        return (self,)

    def moved(self, where: str) -> InputError:
        """The same mistake at another place."""
        return type(self)(where, self.problem, self.expected, hint=self.hint)


class FileError(InputError):
    """A file can't be read, or is not what it should be."""


class FieldError(InputError):
    """A key or a column is missing, unknown or of the wrong kind."""


class UnitError(InputError):
    """A number has no unit, or one of the wrong kind."""


class RangeError(InputError):
    """A number is outside what is possible."""


class ChoiceError(InputError):
    """A word is not one of those on offer."""


class TimeAxisError(InputError):
    """Days are missing, doubled, out of order, or two records do not match."""


class SeveralErrors(InputError):
    """Several mistakes found in one reading: the first ten are shown, the rest counted."""

    def __init__(self, errors: Sequence[InputError]) -> None:
        self._several = tuple(errors)
        first = self._several[0]
        super().__init__(first.where, first.problem, first.expected, hint=first.hint)

    @property
    def errors(self) -> tuple[InputError, ...]:
        """Each mistake by itself."""
        return self._several

    def told(self, spell: Callable[[Option], str]) -> str:
        """All messages, a blank line between them; after ten, a count of the rest."""
        parts = [error.told(spell) for error in self.errors[:_SHOWN]]
        rest = len(self.errors) - _SHOWN
        if rest > 0:
            parts.append(f"and {rest} more of this kind.")
        return "\n\n".join(parts)


class ModelError(BedtideError):
    """A check of our own failed: a bug, never the user's fault."""


class BalanceError(ModelError):
    """Water was made or lost in a run."""


def raise_all(errors: Sequence[InputError]) -> None:
    """Raise nothing, the single error, or all of them together."""
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise SeveralErrors(errors)


def nearest_names(given: str, offered: Iterable[str], *, most: int = 3) -> list[str]:
    """Names on offer that resemble the one given, closest first; at most so many."""
    by_lower = {name.lower(): name for name in offered}
    close = difflib.get_close_matches(given.strip().lower(), list(by_lower), n=most, cutoff=0.5)
    return [by_lower[name] for name in close]


def shown(text: str, *, most: int = 60) -> str:
    """What someone wrote as a message may repeat it: short, and only what can be printed."""
    clean = printable(text.strip()[: most + 1])
    return clean if len(clean) <= most else clean[:most] + "..."


def printable(text: str) -> str:
    """Text without what steers a terminal or turns a line round; joiners of letters stay."""
    return "".join(c if c.isprintable() or c in "\u200c\u200d" else "?" for c in text)


def choice(given: str, offered: Iterable[str], *, where: str) -> str:
    """Return the word on offer that was given, letter case and outer blanks aside."""
    names = list(offered)
    for name in names:
        if name.lower() == given.strip().lower():
            return name
    close = nearest_names(given, names)
    hint = f"Closest: {', '.join(close)}" if close else ""
    expected = "one of: " + ", ".join(names) if len(names) <= 12 or not close else ""
    raise ChoiceError(where, f'"{given}" is not known', expected=expected, hint=hint)


def finite(value: ArrayLike, *, where: str) -> NDArray[np.float64]:
    """Return numbers in any unit [1] as a float array, refusing what is not finite."""
    import numpy as np  # not above: most who need a message need no numpy

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
    """Return numbers in `unit` as a float array; between the bounds, `low` itself if not open."""
    array = finite(value, where=where)
    bad = (array < low) | (array > high)
    if open_low:
        bad |= array == low
    if bad.any():
        given = f"{float(array[bad].flat[0]):g} {unit}".strip()
        if high == float("inf"):
            expected = f"{'more than' if open_low else 'at least'} {low:g} {unit}".strip()
        elif open_low:
            expected = f"more than {low:g} and at most {high:g} {unit}".strip()
        else:
            expected = f"between {low:g} and {high:g} {unit}".strip()
        raise RangeError(where, f"{given} is out of range", expected=expected, hint=hint)
    return array


def collect(errors: list[InputError], *given: Any, **words: Any) -> None:
    """Append what `in_range` refuses, so that all mistakes are told at once."""
    try:
        in_range(*given, **words)
    except RangeError as error:
        errors.append(error)


def consecutive_days(times: NDArray[np.datetime64], *, where: str) -> NDArray[np.datetime64]:
    """Return the days as datetime64[D], refusing an axis that skips, repeats or goes back."""
    import numpy as np

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


def _spelled(text: str, spell: Callable[[Option], str]) -> str:
    parts = text.parts if isinstance(text, Pieces) else (text,)
    return "".join(spell(part) if isinstance(part, Option) else part for part in parts)


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", ":", "?")) else text + "."
