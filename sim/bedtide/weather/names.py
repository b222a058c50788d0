"""What people call a weather column, and the units they write beside it."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

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

_UNITS: dict[str, tuple[tuple[Unit, tuple[str, ...]], ...]] = {
    "temperature": (
        (Unit("degC"), ("c", "degc", "celsius", "degreec", "degreescelsius", "degreesc")),
        (
            Unit("degF", 5.0 / 9.0, -160.0 / 9.0),
            ("f", "degf", "fahrenheit", "degreef", "degreesfahrenheit", "degreesf"),
        ),
        (Unit("K", 1.0, -273.15), ("k", "kelvin", "degk")),
    ),
    "pressure": (
        (Unit("kPa"), ("kpa",)),
        (Unit("hPa", 0.1), ("hpa", "mb", "mbar", "millibar")),
        (Unit("Pa", 0.001), ("pa",)),
    ),
    "humidity": (
        (Unit("%"), ("%", "percent", "pct", "perc")),
        (Unit("share", 100.0), ("share", "fraction", "01", "0to1")),
    ),
    "wind": (
        (Unit("m/s"), ("m/s", "ms", "mps", "ms1", "msec", "m/sec", "meterspersecond", "mpersec")),
        (Unit("km/h", 1.0 / 3.6), ("km/h", "kmh", "kph", "kmph", "kmh1", "kmhr")),
        (Unit("mph", 0.44704), ("mph", "mi/h", "mih", "mileshour", "milesperhour")),
        (Unit("knots", 1852.0 / 3600.0), ("kn", "kt", "kts", "knot", "knots")),
        (Unit("km/d", 1.0 / 86.4), ("km/d", "kmd", "kmday", "kmd1")),
    ),
    "radiation": (
        (Unit("MJ/m2", rate=False), ("mj/m2", "mjm2", "mj/m2/d", "mjm2d", "mjm2day", "mjm2d1")),
        (Unit("W/m2", 0.0864), ("w/m2", "wm2", "wattsm2", "watt/m2", "wattm2")),
        (Unit("J/cm2", 0.01, rate=False), ("j/cm2", "jcm2")),
        (Unit("kWh/m2", 3.6, rate=False), ("kwh/m2", "kwhm2", "kwhm2d", "kwhm2day")),
        (Unit("Wh/m2", 0.0036, rate=False), ("wh/m2", "whm2")),
        (Unit("kJ/m2", 0.001, rate=False), ("kj/m2", "kjm2")),
        (Unit("langley", 0.04184, rate=False), ("ly", "langley", "langleys", "cal/cm2", "calcm2")),
    ),
    "sunshine": (
        (Unit("h", rate=False), ("h", "hr", "hrs", "hour", "hours", "hday", "hd")),
        (Unit("min", 1.0 / 60.0, rate=False), ("min", "mins", "minute", "minutes")),
        (Unit("s", 1.0 / 3600.0, rate=False), ("s", "sec", "second", "seconds")),
    ),
    "rain": (
        (
            Unit("mm", rate=False),
            ("mm", "millimeter", "millimetre", "millimetres", "millimeters", "mmd", "mmday",
             "mmd1", "l/m2", "lm2", "kgm2"),
        ),
        (Unit("cm", 10.0, rate=False), ("cm",)),
        (Unit("in", 25.4, rate=False), ("in", "inch", "inches", '"', "inday")),
        (Unit("mm/h", 24.0), ("mm/h", "mmh", "mmhr", "mmh1")),
        (Unit("in/h", 609.6), ("in/h", "inh", "inhr")),
    ),
}  # fmt: skip
_FILE = files("bedtide").joinpath("data/weather_names.toml")
_KEY = {
    spelling: key
    for key, spellings in tomllib.loads(_FILE.read_text(encoding="utf-8")).items()
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
    bare = small.replace("/", "")
    for unit, spellings in _UNITS[kind]:
        if small in spellings or bare in spellings:
            return unit
    return None


def units_of(key: str) -> list[Unit]:
    """The units that a quantity can come in."""
    return [unit for unit, _ in _UNITS[KINDS[key]]]


def unit_texts(key: str) -> list[str]:
    """The units that a quantity can come in, for messages."""
    return [unit.text for unit, _ in _UNITS[KINDS[key]]]


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
