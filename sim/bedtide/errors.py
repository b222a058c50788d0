"""The errors a person can mend, and the checks of our own that can fail.

::

    BedtideError
    |-- InputError            something that was given is wrong; exit status 2
    |   |-- FileError         a file can't be read, or is not what it should be
    |   |-- FieldError        a key or a column is missing, unknown or of the wrong kind
    |   |-- UnitError         a number has no unit, or one of the wrong kind
    |   |-- RangeError        a number is outside what is possible
    |   |-- ChoiceError       a word is not one of those on offer
    |   |-- TimeAxisError     days are missing, doubled, out of order or do not match
    |   `-- SeveralErrors     more than one of these, reported together
    `-- ModelError            a check of our own failed; exit status 1
        |-- BalanceError      water was made or lost
        `-- TableRangeError   a state left the tabulated range
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

_SHOWN = 10


class BedtideError(Exception):
    """What went wrong, what was expected, and how to mend it.

    Parameters
    ----------
    where : str
        File, line, key or quantity that the message is about.
    problem : str
        What is wrong, with the value that was given.
    expected : str, optional
        What would have been right: completes "Expected ...".
    hint : str, optional
        How to mend it, a sentence.
    """

    def __init__(self, where: str, problem: str, *, expected: str = "", hint: str = "") -> None:
        self.where = where
        self.problem = problem
        self.expected = expected
        self.hint = hint
        super().__init__(self.text)

    @property
    def text(self) -> str:
        """The message as a person reads it: up to three lines."""
        lines = [f"{self.where}: {_sentence(self.problem)}"]
        if self.expected:
            lines.append(_sentence(f"Expected {self.expected}"))
        if self.hint:
            lines.append(_sentence(self.hint))
        return "\n".join(map(printable, lines))

    def __str__(self) -> str:
        return self.text


class InputError(BedtideError):
    """Something that was given is wrong; whoever gave it can mend it."""


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
    """Several mistakes found in one reading, reported together.

    Parameters
    ----------
    errors : sequence of InputError
        At least one. The first ten are shown, the rest counted.
    """

    def __init__(self, errors: Sequence[InputError]) -> None:
        self.errors = tuple(errors)
        first = self.errors[0]
        super().__init__(first.where, first.problem, expected=first.expected, hint=first.hint)

    @property
    def text(self) -> str:
        """All messages, a blank line between them; after ten, a count of the rest."""
        parts = [error.text for error in self.errors[:_SHOWN]]
        rest = len(self.errors) - _SHOWN
        if rest > 0:
            parts.append(f"and {rest} more of this kind.")
        return "\n\n".join(parts)


class ModelError(BedtideError):
    """A check of our own failed: a bug, never the user's fault."""


class BalanceError(ModelError):
    """Water was made or lost in a run."""


class TableRangeError(ModelError):
    """A state left the range of the tables that were made for it."""


def raise_all(errors: Sequence[InputError]) -> None:
    """Raise what was collected: nothing for none, the error itself for one, all together else.

    Parameters
    ----------
    errors : sequence of InputError
        What was found wrong so far.

    Raises
    ------
    InputError
        If there is at least one.
    """
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise SeveralErrors(errors)


def nearest_names(given: str, offered: Iterable[str], *, most: int = 3) -> list[str]:
    """Names on offer that resemble the one given, closest first.

    Parameters
    ----------
    given : str
        The word that was not found.
    offered : iterable of str
        The words that exist.
    most : int, default 3
        How many to return at the most [1].

    Returns
    -------
    list of str
        Empty where nothing is close.
    """
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


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", ":", "?")) else text + "."
