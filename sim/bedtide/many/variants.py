"""Many beds from one description: keys varied over lists, all combinations."""

from __future__ import annotations

import copy
import itertools
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bedtide.bed import Bed, bed_from_mapping, set_value, with_value
from bedtide.errors import FieldError, InputError, RangeError, printable, raise_all, shown

# Most beds that one description is varied into [1]; each takes about 0.3 s of preparation
MOST_BEDS = 200

_OPEN, _CLOSE, _QUOTES = "[", "]", "\"'"
_UNIT = re.compile(r"^([\d.,/ ]*\d)([A-Za-z%].*)$")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.I)
_EXAMPLE = "--vary box.depth=25cm,32cm,42cm"


@dataclass(frozen=True)
class Variant:
    """A bed and what sets it apart from the others."""

    bed: Bed
    settings: tuple[tuple[str, str], ...] = ()  # keys that were set, and how, in words
    origin: str = ""  # the bed that it was made from, where there are several

    @property
    def label(self) -> str:
        """What sets it apart, in words; its name where nothing does."""
        return self.label_without("") or self.bed.name

    def label_without(self, key: str) -> str:
        """What sets it apart but for a key, in words; empty where nothing else does."""
        told = [words for name, words in self.settings if name != key]
        return ", ".join([self.origin, *told] if self.origin else told)


def letters(number: int) -> str:
    """Short name of the n-th bed, counted from 0: A to Z, then AA.

    >>> letters(0), letters(25), letters(26)
    ('A', 'Z', 'AA')
    """
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def parse_choices(texts: Iterable[str], *, where: str = "--vary") -> dict[str, list[Any]]:
    """Keys and their values from texts such as ``"box.depth=25cm,32cm,42cm"``.

    A comma stands between two values, unless there is a semicolon: then that does, and a comma
    belongs to its value (``box.depth=25,5 cm;32 cm``). Nothing is parted inside brackets or
    quotation marks, so a list such as ``planting.0.stages=["20 days","30 days",...]`` is one value.

    >>> parse_choices(["box.depth=16 1/2 in,18 in"])
    {'box.depth': ['16 1/2 in', '18 in']}
    """
    found: dict[str, list[Any]] = {}
    errors: list[InputError] = []
    for text in texts:
        key, sign, rest = (part.strip() for part in text.partition("="))
        values = _parted(rest)
        bare = _bare(values)
        if not sign or not key or not all(values):
            problem, expected = f'"{text}" is not a key with values', f"such as  {_EXAMPLE}"
            errors.append(FieldError(where, problem, expected=expected))
        elif key.lower() in (name.lower() for name in found):
            problem = f"{key} is given twice"
            errors.append(FieldError(where, problem, expected="all its values in one  --vary"))
        elif bare:
            errors.append(
                FieldError(
                    f"{where} {key}",
                    f'"{bare}" has no unit, though others have',
                    expected="a unit with every value, such as  25cm,32cm",
                    hint="A comma parts two values; with decimal commas put a semicolon "
                    "between them, as  25,5cm;32cm",
                )
            )
        found[key] = list(dict.fromkeys(values))
    raise_all(errors)
    return {key: [_typed(value) for value in values] for key, values in found.items()}


def varied_beds(
    mapping: Mapping[str, Any],
    choices: Mapping[str, Sequence[Any]],
    *,
    where: str = "bed description",
) -> list[Variant]:
    """Beds of a description with keys set to every combination of values.

    Values stand by key path, as ``{"box.depth": ["25 cm", "32 cm"]}``; the last key varies fastest.
    No key at all gives the bed as it is described. `where` is its file, for messages. All that is
    wrong is told together, each mistake once.
    """
    _check_keys(mapping, choices)
    combinations = list(itertools.product(*choices.values()))
    if len(combinations) > MOST_BEDS:
        raise RangeError(
            "--vary",
            f"that makes {len(combinations):,} beds",
            expected=f"at most {MOST_BEDS}",
            hint="Vary fewer keys at a time, or give fewer values",
        )
    found: list[Variant] = []
    errors: dict[str, InputError] = {}
    changed = copy.deepcopy(mapping)  # every combination sets the same keys in it
    for values in combinations:
        settings = dict(zip(choices, values, strict=True))
        for key, value in settings.items():
            set_value(changed, key, value, where="--vary")
        place = where
        if len(settings) > 1:  # of a single key the message names the key and its value anyway
            place += " with " + ", ".join(f"{k} = {_text(v)}" for k, v in settings.items())
        try:
            bed = bed_from_mapping(changed, where=place)
        except InputError as error:
            errors.setdefault(error.problem + error.expected, error)
            continue
        told = [(k.strip().lower(), f"{_words(k)} {_text(v)}") for k, v in settings.items()]
        found.append(Variant(bed, tuple(told)))
    raise_all(list(errors.values()))
    return found


def _check_keys(mapping: Mapping[str, Any], choices: Mapping[str, Sequence[Any]]) -> None:
    """Refuse keys that do not exist, and keys of which one takes the other out."""
    errors: list[InputError] = []
    changed = mapping
    for key, values in choices.items():
        try:
            changed = with_value(changed, key, values[0], where="--vary")
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    for key in choices:
        inner: Any = changed
        for name in key.strip().lower().split(".recipe.")[0].split("."):
            inner = inner[int(name)] if isinstance(inner, list) else inner.get(name)
            if inner is None:
                raise FieldError(
                    "--vary",
                    f"{key} and another of the keys say the same thing in two ways",
                    expected="one of them",
                )


def _parted(text: str) -> list[str]:
    """Values between the commas, or the semicolons if there are any, outside of brackets."""
    mark = ";" if ";" in text else ","
    parts, depth, quote = [""], 0, ""
    for sign in text:
        if quote:
            quote = "" if sign == quote else quote
        elif sign in _QUOTES and (depth or not parts[-1].strip()):
            quote = sign  # after a number a quotation mark is feet or inches
        elif sign in _OPEN:
            depth += 1
        elif sign in _CLOSE:
            depth -= 1
        elif sign == mark and depth == 0:
            parts.append("")
            continue
        parts[-1] += sign
    return [part.strip() for part in parts]


def _bare(values: Sequence[str]) -> str:
    """First value that is a plain number, where another of them carries a unit."""
    plain = [value for value in values if _NUMBER.fullmatch(value)]
    units = [value for value in values if value not in plain and value[:1].isdigit()]
    percent = all(value.endswith("%") for value in units)
    return plain[0] if plain and units and not percent else ""


def _typed(value: str) -> Any:
    """Value as it would stand in the file: what is in brackets or quotes is read as TOML."""
    if value[0] in "[\"'":
        try:
            return tomllib.loads(f"value = {value}")["value"]
        except (ValueError, RecursionError):
            raise FieldError(
                "--vary",
                f"{shown(value)} can't be read",
                expected='a value as in the file, such as  "42 cm"  or  ["mon", "thu"]',
            ) from None
    return value


def _text(value: Any) -> str:
    """Value in words, with a blank before its unit."""
    if isinstance(value, list):
        return " + ".join(map(_text, value))
    return _UNIT.sub(r"\1 \2", printable(str(value)))


def _words(key: str) -> str:
    """Key path in words: ``overflow.height`` as "overflow height"."""
    return key.strip().replace("_", " ").replace(".", " ")
