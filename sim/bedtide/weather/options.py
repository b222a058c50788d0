"""The one list of options for reading weather.

From it come the keywords of `read_weather` and their description, the options of the command line,
`bedtide list options` and the table in docs/weather.md.
"""

from __future__ import annotations

# ruff: noqa: RUF009 (each default is a dataclass field)
import functools
import inspect
import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, Literal, ParamSpec, TypeVar

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
from bedtide.units import parse

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Paths = str | Path | Sequence[str | Path]
RainDay = Literal["midnight", "to morning", "from morning"]
Setting = Literal["inland", "coast"]
Method = Literal["penman-monteith", "hargreaves"]
RAIN_DAYS: tuple[RainDay, ...] = ("midnight", "to morning", "from morning")
READY_MADE = "ready-made"  # ET0 of the file itself
METHODS: tuple[Method, ...] = ("penman-monteith", "hargreaves")
CHECKS = ("zeros", "sunshine", "columns")

_Words = ParamSpec("_Words")
_Answer = TypeVar("_Answer")


@dataclass(frozen=True)
class About:
    """What is known of an option beside its name: kind, sentence, and how its values are told."""

    kind: str  # a Python type in words; with `choices` not needed
    sentence: str
    default: Any = None
    shown: str = ""  # what stands for its value in help
    choices: tuple[str, ...] = ()
    bounds: tuple[float, float] = (0.0, 0.0)
    unit: str = ""
    many: bool = False  # may be given several times on the command line
    flag: str = ""  # on the command line


def _option(kind: str, sentence: str, default: Any = None, **about: Any) -> Any:
    return field(
        default=default, metadata={"about": About(kind, sentence, default=default, **about)}
    )


# fmt: off
@dataclass(frozen=True, kw_only=True)
class Options:
    """How a person wants weather files to be understood; each field is one option."""

    start: str | np.datetime64 | None = _option(
        "str or datetime64", "First day of the record to use; by default all.", shown="DATE",
        flag="--weather-from"
    )
    end: str | np.datetime64 | None = _option(
        "str or datetime64", "Last day of the record to use.", shown="DATE", flag="--weather-to"
    )
    latitude: float | None = _option(
        "float", "Latitude of the station, north positive, if the file does not say it.",
        shown="DEGREES", bounds=(-90.0, 90.0), unit="degrees"
    )
    elevation: float | None = _option(
        "float", "Height of the station above the sea, if the file does not say it: 30m, 100ft.",
        shown="HEIGHT", bounds=(-430.0, 6000.0), unit="m"
    )
    columns: Mapping[str, str] | None = _option(
        "mapping of str", "What a column of the file is, as 'Hi=tmax, F' or 'Note=ignore'.",
        shown="NAME=MEANING", flag="--column", many=True
    )
    missing: Sequence[str] = _option(
        "sequence of str", "What stands for 'not measured', such as -9999.", (), shown="TEXT",
        many=True
    )
    decimal: Literal[".", ","] | None = _option(
        "", "Decimal mark, where the numbers don't settle it.", choices=(".", ",")
    )
    date_order: Literal["dmy", "mdy"] | None = _option(
        "", "Order of dates such as 03/04/2021, which are refused without it.",
        choices=("dmy", "mdy")
    )
    units_of_file: Literal["tenths", "metric", "standard"] | None = _option(
        "", "Units of a US daily summary that does not say them.",
        choices=("tenths", "metric", "standard")
    )
    station: str | None = _option(
        "str", "Which station of a file that holds several.", shown="NAME"
    )
    point: tuple[float, float] | None = _option(
        "tuple of float", "Latitude and longitude of the place wanted from a grid.",
        shown="LAT LON", unit="degrees"
    )
    max_gap_days: int = _option(
        "int", "Longest gap in temperature or rain that is filled.", 3, shown="DAYS",
        bounds=(0, 60), unit="days"
    )
    rain_day: RainDay | None = _option(
        "", "Which 24 hours the rain under a date covers, if not those usual for the file.",
        choices=RAIN_DAYS
    )
    multi_day: Literal["spread", "last"] = _option(
        "", "Rain measured over several days: spread it, or put it on the last.", "spread",
        choices=("spread", "last")
    )
    wind_height: float | None = _option(
        "float", "Height of the wind gauge, if the file does not say it: 10m, 33ft.",
        shown="HEIGHT", bounds=(0.5, 200.0), unit="m"
    )
    stamps: str | None = _option(
        "str", "Time zone of clock times that do not say theirs; by default local time.",
        shown="ZONE"
    )
    time_zone: str | None = _option(
        "str", "Time zone whose midnight begins a day, such as Europe/Berlin.", shown="ZONE"
    )
    hour_stamp: Literal["start", "end"] | None = _option(
        "", "Which end of its hour the time of an hourly row is, if not the usual for the file.",
        choices=("start", "end")
    )
    setting: Setting = _option(
        "", "Where the site lies, for sunshine estimated from temperature.", "inland",
        choices=("inland", "coast")
    )
    method: Method | None = _option(
        "", "Equation for ET0, if not the best that the columns allow.", choices=METHODS
    )
    impossible: Literal["refuse", "drop"] = _option(
        "", "Refuse impossible values, or count them as not measured.", "refuse",
        choices=("refuse", "drop")
    )
    accept: Sequence[str] = _option(
        "sequence of str",
        "A check to leave out where the odd thing is true: zeros, sunshine or columns.", (),
        shown="CHECK", choices=CHECKS, many=True
    )
    borrow: Paths | None = _option(
        "str, Path or sequence of these",
        "Weather of another station, for columns that yours lacks.", shown="FILE", many=True
    )
    gauge: str | Path | None = _option(
        "str or Path",
        "Log of your own rain gauge, a date and a rain column; it overrides the station's rain.",
        shown="FILE"
    )
    layout: str | Path | None = _option(
        "str or Path", "Your own entry for a layout of tables, as docs/weather.md describes it.",
        shown="FILE"
    )
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

    def in_span(self, times: NDArray[np.datetime64], *, clock: bool) -> NDArray[np.bool_]:
        """Whether times fall on the days wanted; a `clock` time may end its hour at midnight."""
        import numpy as np

        first, last = self.span
        keep = np.ones(len(times), dtype=bool)
        early = np.timedelta64(1 if clock else 0, "s")
        if first is not None:
            keep &= (times >= first) | np.isnat(times)
        if last is not None:
            keep &= (times - early < last + np.timedelta64(1, "D")) | np.isnat(times)
        return keep
# fmt: on


OPTIONS: dict[str, About] = {
    each.name: replace(about, flag=about.flag or "--" + each.name.replace("_", "-"))
    for each in fields(Options)
    if (about := each.metadata.get("about"))
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
    return Options(**{name: _checked(name, value, OPTIONS[name]) for name, value in given.items()})


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


def _checked(name: str, value: Any, about: About) -> Any:
    where = Option(name)
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
