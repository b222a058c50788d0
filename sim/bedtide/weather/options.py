"""The one list of options for reading weather.

From it come the keywords of `read_weather` and their description, the options of the command line,
`bedtide list options` and the table in docs/weather.md.
"""

from __future__ import annotations

import functools
import inspect
import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, Literal, ParamSpec, TypeVar, get_args

from bedtide.errors import (
    ChoiceError,
    FieldError,
    InputError,
    Option,
    Pieces,
    choice,
    in_range,
    nearest_names,
)
from bedtide.tables import read_toml
from bedtide.units import parse

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Paths = str | Path | Sequence[str | Path]
RainDay = Literal["midnight", "to morning", "from morning"]
Setting = Literal["inland", "coast"]
Method = Literal["penman-monteith", "hargreaves"]
RAIN_DAYS: tuple[RainDay, ...] = get_args(RainDay)
READY_MADE = "ready-made"  # ET0 of the file itself
CLOCKS_APART = 26 * 3600
"""The most by which two clocks on Earth differ [s]."""

_Words = ParamSpec("_Words")
_Answer = TypeVar("_Answer")


@dataclass(frozen=True)
class About:
    """What is known of an option beside its name, a table of `data/weather_options.toml`."""

    sentence: str
    flag: str  # on the command line
    default: Any
    kind: str = ""  # a Python type in words; with `choices` not needed
    shown: str = ""  # what stands for its value in help
    choices: Sequence[str] = ()
    bounds: Sequence[float] = ()
    unit: str = ""
    many: bool = False  # may be given several times on the command line


@dataclass(frozen=True, kw_only=True)
class Options:
    """How a person wants weather files to be understood; each field is one option."""

    start: str | np.datetime64 | None = None
    end: str | np.datetime64 | None = None
    latitude: float | None = None
    elevation: float | None = None
    columns: Mapping[str, str] | None = None
    missing: Sequence[str] = ()
    decimal: Literal[".", ","] | None = None
    date_order: Literal["dmy", "mdy"] | None = None
    units_of_file: Literal["tenths", "metric", "standard"] | None = None
    station: str | None = None
    point: tuple[float, float] | None = None
    max_gap_days: int = 3
    rain_day: RainDay | None = None
    multi_day: Literal["spread", "last"] = "spread"
    wind_height: float | None = None
    stamps: str | None = None
    time_zone: str | None = None
    hour_stamp: Literal["start", "end"] | None = None
    setting: Setting = "inland"
    method: Method | None = None
    impossible: Literal["refuse", "drop"] = "refuse"
    accept: Sequence[str] = ()
    borrow: Paths | None = None
    gauge: str | Path | None = None
    layout: str | Path | None = None
    every_column: bool = True  # not an option: whether all names in `columns` must be in the file

    @property
    def span(self) -> tuple[np.datetime64 | None, np.datetime64 | None]:
        """First and last day wanted."""
        import numpy as np

        days: list[np.datetime64 | None] = []
        for name in ("start", "end"):
            given = getattr(self, name)
            try:
                if given is not None and len(str(given)) < len("2021-03-04"):
                    raise ValueError
                days.append(None if given is None else np.datetime64(str(given)[:10], "D"))
            except ValueError:
                raise FieldError(
                    Option(name), f'"{given}" is not a date', expected="2021-03-04"
                ) from None
        return days[0], days[1]

    def in_span(self, times: NDArray[np.datetime64], *, beside: int = 0) -> NDArray[np.bool_]:
        """Whether times, as far as known, fall on the days wanted or so many seconds `beside`."""
        import numpy as np

        first, last = self.span
        margin = np.timedelta64(beside, "s")
        keep = np.ones(len(times), dtype=bool)
        if first is not None:
            keep &= times + margin >= first
        if last is not None:
            keep &= times - margin < last + np.timedelta64(1, "D")
        keep |= np.isnat(times)
        return keep


_TABLE = read_toml("weather_options.toml")
OPTIONS = {
    each.name: About(
        **{"flag": "--" + each.name.replace("_", "-"), "default": each.default} | _TABLE[each.name]
    )
    for each in fields(Options)
    if each.name in _TABLE
}


def options_from(words: Mapping[str, Any]) -> Options:
    """Options from the words of a call; a wrong name or value is refused."""
    for name in words:
        if name not in OPTIONS:
            close = nearest_names(name, OPTIONS)
            raise ChoiceError(
                "read_weather",
                f'there is no option "{name}"',
                expected="" if close else f"one of: {', '.join(OPTIONS)}",
                hint=f"Closest: {', '.join(close)}" if close else "",
            )
    given = {name: value for name, value in words.items() if value is not None}
    return Options(**{name: checked(name, value) for name, value in given.items()})


def answers_to(problems: Sequence[InputError]) -> dict[str, Any]:
    """Of each problem the first option of its hint that has a value; a place has none."""
    found: dict[str, Any] = {}
    for problem in problems:
        parts = problem.hint.parts if isinstance(problem.hint, Pieces) else (problem.hint,)
        options = [part for part in parts if isinstance(part, Option)]
        valued = [option for option in options if option.value is not None][:1]
        spans = [option for option in options if option.name in ("start", "end") and option.value]
        asked = [option for option in options if option.name in ("latitude", "elevation")]
        for option in asked or (spans if len(spans) == 2 else valued):
            if option.name == "columns":
                found.setdefault("columns", {}).update(option.value)
            elif option.name in ("missing", "accept"):
                several = found.setdefault(option.name, [])
                several += [option.value] if option.value not in several else []
            else:
                found.setdefault(option.name, option.value)
    return found


def checked(name: str, value: Any) -> Any:
    """The value of an option as `Options` holds it; a wrong one is refused."""
    where, about = Option(name), OPTIONS[name]
    try:
        if about.kind == "sequence of str":
            several = (value,) if isinstance(value, str) else tuple(map(str, value))
            if about.choices:
                several = tuple(choice(each, about.choices, where=where) for each in several)
            return several
        if about.choices:
            return choice(str(value), about.choices, where=where)
        if about.kind == "tuple of float":
            latitude, longitude = value
            in_range(latitude, -90.0, 90.0, where=where, unit="degrees of latitude")
            in_range(longitude, -180.0, 360.0, where=where, unit="degrees of longitude")
        if about.kind not in ("float", "int"):
            return value
        if about.unit == "m" and isinstance(value, str):
            with suppress(ValueError):
                value = float(value)
        if isinstance(value, str) and about.unit == "m":
            value = parse(value, "m", where=where)
        number = float(in_range(value, *about.bounds, where=where, unit=about.unit))
        if about.kind == "int" and number != int(number):
            raise ValueError
        return number if about.kind == "float" else int(number)
    except (TypeError, ValueError):
        wanted = {"int": "a whole number", "float": "a number"}.get(about.kind, about.kind)
        raise FieldError(where, f"{value!r} is not possible", expected=wanted) from None


def takes_options(
    of: Callable[_Words, Options],
) -> Callable[[Callable[[Paths, Options], _Answer]], Callable[Concatenate[Paths, _Words], _Answer]]:
    """Give a function that reads paths with Options these options as its keywords."""

    def wrap(
        read: Callable[[Paths, Options], _Answer],
    ) -> Callable[Concatenate[Paths, _Words], _Answer]:
        @functools.wraps(read)
        def with_words(path: Paths, *more: _Words.args, **words: _Words.kwargs) -> _Answer:
            if more:
                raise TypeError(f"{read.__name__}() takes the files alone without a name")
            return read(path, options_from(words))

        signature = inspect.signature(read)
        words = inspect.signature(Options).parameters
        parameters = [signature.parameters["path"], *(words[name] for name in OPTIONS)]
        text = inspect.cleandoc(read.__doc__ or "")  # from Python 3.13 on it comes without indent
        with_words.__doc__ = text.replace("OPTIONS\n", _parameters())
        vars(with_words)["__signature__"] = signature.replace(parameters=parameters)
        del with_words.__wrapped__  # the signature is not that of what it wraps
        return with_words  # type: ignore[return-value]  # the files may be named path

    return wrap


def _parameters() -> str:
    """The options as a docstring describes parameters."""
    lines = []
    for name, about in OPTIONS.items():
        kind = about.kind
        if about.choices and not about.many:
            kind = "{" + ", ".join(f'"{each}"' for each in about.choices) + "}"
        wont = "optional" if about.default in (None, ()) else f"default {json.dumps(about.default)}"
        unit = f" [{about.unit}]" if about.unit else ""
        lines.append(f"{name} : {kind}, {wont}")
        lines.append(f"    {about.sentence.removesuffix('.')}{unit}.")
    return "\n".join(lines) + "\n"
