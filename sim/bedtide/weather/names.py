"""What people call a weather column, and the units they write beside it."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from bedtide.errors import ChoiceError, nearest_names, shown


@dataclass(frozen=True)
class Unit:
    """A unit of a file and how it becomes ours."""

    text: str  # as people write it
    factor: float = 1.0  # ours = factor x the file's + offset
    offset: float = 0.0
    rate: bool = True  # rows of an hourly file are to be averaged, not added up


@dataclass(frozen=True)
class Heading:
    """What a column heading says."""

    key: str  # a quantity, date, year, month, day, hour, station; empty where it is not known
    unit: Unit | None = None
    height: float | None = None  # of the gauge [m]


KINDS = {
    **dict.fromkeys(("tmax", "tmin", "temperature", "dew_point"), "temperature"),
    "vapour_pressure": "pressure",
    **dict.fromkeys(("rh_max", "rh_min", "rh_mean"), "humidity"),
    "wind_speed": "wind",
    "solar_radiation": "radiation",
    "sunshine": "sunshine",
    **dict.fromkeys(("rain", "rain_counter", "et0"), "rain"),
}


def _data(name: str) -> dict[str, Any]:
    text = files("bedtide").joinpath("data", name).read_text(encoding="utf-8")
    return tomllib.loads(text)


_UNITS: dict[str, dict[str, Unit]] = {  # by kind and spelling
    kind: {
        spelling: Unit(text, row.get("factor", 1.0), row.get("offset", 0.0), "sum" not in row)
        for text, row in rows.items()
        for spelling in row["spelled"].split()
    }
    for kind, rows in _data("weather_units.toml").items()
}
_KEY = {
    spelling: key
    for key, spellings in _data("weather_names.toml").items()
    for spelling in spellings.split()
}
_BRACKET = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_HEIGHT = re.compile(r"(?:\bat|@|_|\s|^)\s*(\d{1,2}(?:\.\d+)?)\s*m(?:eters?|etres?)?(?=$|[\s_,.)])")


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Lower case, letters and figures only: how two spellings of a name are compared."""
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text)
    return re.sub(r"[^\w]|_|[\u0300-\u036f]", "", text.lower())


def unit_of(key: str, text: str) -> Unit | None:
    """The unit of a quantity that a text names, or None."""
    kind = KINDS.get(key)
    if kind is None:
        return None
    small = text.lower().strip().replace("²", "2").replace("℃", "c").replace("℉", "f")
    small = re.sub(r"[\s°º*^._-]", "", small.replace("−", "-"))
    return _UNITS[kind].get(small) or _UNITS[kind].get(small.replace("/", ""))


def units_of(key: str) -> list[Unit]:
    """The units that a quantity can come in."""
    return list(dict.fromkeys(_UNITS[KINDS[key]].values()))


def unit_texts(key: str) -> list[str]:
    """The units that a quantity can come in, for messages."""
    return [unit.text for unit in units_of(key)]


def read_heading(text: str, wanted: Mapping[str, str] | None = None, *, where: str = "") -> Heading:
    """What a column heading means, by the person's own mapping first.

    The mapping gives a heading a quantity, a unit, both (``tmax, F``) or ``ignore``.
    """
    found = _heading(text.strip())
    for name, meaning in (wanted or {}).items():
        if name.strip().lower() == text.strip().lower():
            return _mapped(found, text, meaning, where)
    return found


def _mapped(found: Heading, text: str, meaning: str, where: str) -> Heading:
    key, unit = found.key, found.unit
    words = [word.strip() for word in meaning.split(",") if word.strip()]
    if words and words[0].lower() in ("ignore", "skip"):
        return Heading("")
    a_unit = bool(words) and unit_of(found.key, words[0]) is not None
    if words and not a_unit and (named := _key_of(words[0])):
        key, words = named, words[1:]
        if key != found.key:
            unit = None
    if words and key in KINDS:
        unit = unit_of(key, words[0])
        words = words[1:] if unit else words
    if words or not key:
        known = [*KINDS, "date", "ignore"]
        wrong = words[0] if words else meaning
        if key in KINDS:
            expected = f"a unit of {key}: {', '.join(unit_texts(key))}"
        else:
            expected = f"one of {', '.join(known)}, with a unit such as in tmax, F"
        close = nearest_names(wrong, known)
        raise ChoiceError(
            f"{where}, column {text.strip()}",
            f'"{shown(wrong)}" is not known',
            expected=expected,
            hint=f"Closest: {', '.join(close)}" if close and key not in KINDS else "",
        )
    return Heading(key, unit or _evident(key), found.height)


def _key_of(word: str) -> str:
    return word if word in KINDS else _KEY.get(plain(word), "")


def _evident(key: str) -> Unit | None:
    """Humidity comes in percent unless its values or the person say otherwise."""
    return unit_of(key, "%") if KINDS.get(key) == "humidity" else None


@lru_cache(maxsize=4096)
def _heading(text: str) -> Heading:
    if not text:
        return Heading("")
    brackets = [part.strip() for part in _BRACKET.findall(text)]
    rest = _BRACKET.sub(" ", text).strip()
    height = None
    for part in [*brackets, rest]:
        if match := _HEIGHT.search(part.lower()):
            height = float(match.group(1))
    bare = _HEIGHT.sub(" ", rest.lower())
    for name in (rest, bare):
        key, unit = _name_and_unit(name)
        if key:
            for part in brackets:
                pieces = [part, *re.split(r"[,;]", part)]
                unit = next((u for p in pieces if (u := unit_of(key, p))), unit)
            if key != "wind_speed":
                height = None
            elif height is None and plain(name) in ("u2", "u10"):
                height = float(plain(name)[1:])
            if key == "et0" and unit is None:
                return Heading("")  # no more than a check, so it is not asked for
            if key == "sunshine" and unit is None and "hour" in plain(name):
                unit = unit_of(key, "h")
            return Heading(key, unit or _evident(key), height)
    return Heading("")


def _name_and_unit(name: str) -> tuple[str, Unit | None]:
    """Key of a name; where the whole is not known, of the name before a unit at its end."""
    if key := _KEY.get(plain(name), ""):
        return key, None
    tokens = [token for token in re.split(r"[\s_,;:.\-]+", name.strip()) if token]
    for count in (1, 2, 3):
        key = _KEY.get(plain("".join(tokens[:-count])), "")
        if not key and len(tokens) > count + 1 and tokens[-count - 1].lower() == "in":
            key = _KEY.get(plain("".join(tokens[: -count - 1])), "")
        if key and (unit := unit_of(key, "".join(tokens[-count:]))):
            return key, unit
    joined = plain(name)
    for cut in range(len(joined) - 1, 1, -1):
        key = _KEY.get(joined[:cut], "")
        if key and (unit := unit_of(key, joined[cut:])):
            return key, unit
    return "", None
