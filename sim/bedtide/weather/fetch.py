"""Daily weather of a place, downloaded from an open service and written as a table of our own.

What is sent is the place, rounded to a hundredth of a degree, and the dates.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
from pydantic import AliasPath, BaseModel, ConfigDict, Field, FiniteFloat, ValidationError

from bedtide.errors import FileError, Option, TimeAxisError, choice, in_range, shown
from bedtide.tables import read_toml
from bedtide.weather.options import Options

if TYPE_CHECKING:
    import httpx

Tell = Callable[[str], None]
Span = tuple[datetime.date, datetime.date]  # first and last day

_MOST_BYTES = 30_000_000  # of one answer
_LAG = 10  # days that the services are behind, so that the last are there
_REVISED = 120  # days for which what a service gave may still change
_KEPT = 86400.0  # s; how long such an answer is kept
_YEARS_AT_ONCE = 10
_LONGEST_WAIT = 120.0  # s
_KEPT_ALREADY = "Try again later; what was downloaded before is kept"
_WAITS = {"busy": (5.0, 20.0, 60.0), "broken": (2.0, 10.0), "no connection": (1.0,)}  # s


@dataclass(frozen=True)
class Service:
    """An open service of daily weather: how it is asked, what it gives, whose data it is."""

    name: str
    title: str
    address: str
    first: datetime.date
    wind_height: int  # [m]
    days: str
    data: str
    terms: str
    columns: list[tuple[str, str, str, list[str]]]  # our heading, name there, what it is, units
    query: dict[str, str]
    days_back: int = 0  # of a forecast: the days before today that it has [d]
    days_ahead: int = 0  # and those after it [d]

    def question(self, latitude: float, longitude: float, span: Span) -> dict[str, str]:
        """What is sent: place [degree] and days."""
        columns = ",".join(name for _, name, *_ in self.columns)
        words = {"latitude": latitude, "longitude": longitude, "first": span[0], "last": span[1]}
        return {key: text.format(columns=columns, **words) for key, text in self.query.items()}


_ENTRIES = read_toml("services.toml")
_AHEAD = _ENTRIES["open-meteo"].pop("forecast")
SERVICES = {name: Service(name, **entry) for name, entry in _ENTRIES.items()}
"""Each service by the name that people give."""

FORECAST = Service("open-meteo-forecast", **_ENTRIES["open-meteo"] | _AHEAD)
"""The one whose days go on after a record."""


class _Later(FileError):
    """What may go well in a while, and how long to wait before each further attempt [s]."""

    def __init__(self, title: str, problem: str, kind: str = "broken", **more: str) -> None:
        self.waits: Sequence[float] = _WAITS[kind]
        super().__init__(title, problem, **more)


def fetch_weather(
    latitude: float,
    longitude: float,
    start: str | datetime.date,
    end: str | datetime.date | None = None,
    *,
    service: str = "nasa-power",
    save: str | Path | None = None,
    cache: str | Path | None = None,
    address: str | None = None,
    timeout: float = 60.0,
    tell: Tell | None = None,
) -> Path:
    """Download daily weather of a place from an open service; returns the file to read.

    The file is a table of our own that `read_weather` reads with no option. Only the place,
    rounded to a hundredth of a degree, and the dates are sent. What was downloaded is kept, so
    that the same days aren't asked for twice.

    Parameters
    ----------
    latitude, longitude : float
        Place, north and east positive [degrees].
    start, end : str or date
        First and last day, such as 1995-01-01; by default up to ten days ago.
    service : {"nasa-power", "open-meteo"}
        Whose data.
    save : str or Path, optional
        File to write; by default one in the cache.
    cache : str or Path, optional
        Folder for what was downloaded; by default the user's own.
    address : str, optional
        Address of the service, if not its own.
    timeout : float, default 60
        Longest wait for an answer [s].
    tell : function of str, optional
        Called before each request with what is being downloaded.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        If the service can't be reached, refuses, or gives what it should not.
    RangeError, TimeAxisError, ChoiceError
        If there is no such place, day or service.

    Examples
    --------
    >>> from bedtide import fetch_weather, read_weather
    >>> weather = read_weather(fetch_weather(51.9, 4.5, "1995-01-01"))  # doctest: +SKIP
    """
    about = SERVICES[choice(service, SERVICES, where="service")]
    given = Options(start=str(start), end=str(end or last_day())).span
    first, last = (datetime.date.fromisoformat(str(day)) for day in given)
    yesterday = datetime.date.today() - datetime.timedelta(days=1)
    for name, wrong, problem, wanted in (
        ("start", first < about.first, f"{about.title} has no weather of {first}",
         f"{about.first} or later"),
        ("end", last > yesterday, f"{last} is not over yet", f"{yesterday} or earlier"),
        ("start", first > last, f"{first} is after the last day, {last}", "an earlier day"),
    ):  # fmt: skip
        if wrong:
            raise TimeAxisError(Option(name), problem, expected=wanted)
    place = (latitude, longitude)
    return _fetched(about, place, (first, last), save, cache, address, timeout, tell)


def fetch_forecast(
    latitude: float,
    longitude: float,
    start: datetime.date,
    *,
    cache: str | Path | None = None,
    address: str | None = None,
    timeout: float = 30.0,
) -> Path:
    """Download the weather of a place from a day of the last weeks to two weeks ahead."""
    today = datetime.date.today()
    oldest = today - datetime.timedelta(days=FORECAST.days_back)
    last = today + datetime.timedelta(days=FORECAST.days_ahead)
    if not oldest <= start <= last:
        raise TimeAxisError(
            FORECAST.title,
            f"it has no days from {start} on",
            expected=f"weather that ends between {oldest} and {today}",
            hint="bedtide weather --near LAT,LON --save WEATHER.csv  downloads newer weather",
        )
    place, span = (latitude, longitude), (start, last)
    return _fetched(FORECAST, place, span, None, cache, address, timeout, None)


def _fetched(
    about: Service,
    place: tuple[float, float],
    span: Span,
    save: str | Path | None,
    cache: str | Path | None,
    address: str | None,
    timeout: float,
    tell: Tell | None,
) -> Path:
    """The file with the days of a place, each part of it asked for or kept from before."""
    from platformdirs import user_cache_path

    from bedtide.files import check_folder, write_text

    north, east = (
        round(float(in_range(value, -most, most, where=name, unit="degrees")), 2) + 0.0  # no -0.0
        for name, value, most in zip(("latitude", "longitude"), place, (90.0, 180.0), strict=True)
    )
    kept = Path(cache or user_cache_path("bedtide", appauthor=False) / "weather")
    base, named = address or about.address, f"{about.name}_{north:.2f}_{east:.2f}"
    elevation, parts = 0.0, list[pd.DataFrame]()
    for a, b in spans(*span):
        query = about.question(north, east, (a, b))
        mark = hashlib.sha256(json.dumps([base, query]).encode()).hexdigest()[:8]
        path = kept / f"{named}_{a}_{b}_{mark}.json"
        if tell is not None:
            tell(f"Downloading {a.year} to {b.year}")
        found = _kept(path, about, (a, b))
        if found is None:
            text, found = _asked(base, query, about, (a, b), timeout)
            with suppress(FileError, OSError):  # without a cache it goes on
                kept.mkdir(parents=True, exist_ok=True)
                write_text(path, text)
        elevation, part = found
        parts.append(part)
    table = _table(about, north, east, elevation, pd.concat(parts))
    target = kept / f"{named}_{span[0]}_{span[1]}.csv" if save is None else Path(save)
    if save is None:
        check_folder(kept)
        kept.mkdir(parents=True, exist_ok=True)
    write_text(target, table)
    return target


def spans(first: datetime.date, last: datetime.date) -> Iterator[Span]:
    """First and last day of each request: calendar decades, cut to what is wanted."""
    while first <= last:
        ends = datetime.date(first.year - first.year % _YEARS_AT_ONCE + _YEARS_AT_ONCE - 1, 12, 31)
        yield first, min(ends, last)
        first = ends + datetime.timedelta(days=1)


def last_day() -> datetime.date:
    """The last day that is asked for where none is given."""
    return datetime.date.today() - datetime.timedelta(days=_LAG)


def _kept(path: Path, service: Service, span: Span) -> tuple[float, pd.DataFrame] | None:
    """An answer that is kept and whole, unless it is of late days and more than a day old."""
    with suppress(OSError, UnicodeDecodeError, FileError):
        late = (datetime.date.today() - span[1]).days < _REVISED
        if not late or time.time() - path.stat().st_mtime <= _KEPT:
            return _understood(path.read_text(encoding="utf-8"), service, span)
    return None


# --- asking -----------------------------------------------------------------------------------


def _asked(
    address: str, query: Mapping[str, str], service: Service, span: Span, timeout: float
) -> tuple[str, tuple[float, pd.DataFrame]]:
    """An answer as text and understood; what may pass is tried a few times more."""
    for tried in count():
        try:
            text = _once(address, query, service.title, timeout)
            return text, _understood(text, service, span)
        except _Later as later:
            if tried >= len(later.waits) or later.waits[tried] > _LONGEST_WAIT:
                raise
            time.sleep(later.waits[tried])
    raise AssertionError


def _once(address: str, query: Mapping[str, str], title: str, timeout: float) -> str:
    """One request; what the person can mend is a FileError, what may pass a `_Later`."""
    import httpx

    seconds = httpx.Timeout(timeout, connect=min(timeout, 15.0))
    how: dict[str, Any] = {"timeout": seconds, "headers": {"user-agent": "bedtide"}}
    body = bytearray()
    try:
        with httpx.stream("GET", address, params=dict(query), **how) as answer:
            for part in answer.iter_bytes():
                body += part
                if len(body) > _MOST_BYTES:
                    problem = f"its answer is larger than {_MOST_BYTES // 1_000_000} MB"
                    raise FileError(title, problem, hint="Ask for fewer years")
    except (httpx.ConnectError, httpx.ConnectTimeout) as error:
        reason = shown(str(error)) or "no answer"
        problem = f"{httpx.URL(address).host} can't be reached ({reason})"
        hint = "Check the connection to the internet and try again. Without one, use a weather file"
        raise _Later(title, problem, "no connection", hint=hint) from None
    except httpx.TimeoutException:
        raise _Later(title, f"no answer within {timeout:g} s", hint=_KEPT_ALREADY) from None
    except (httpx.TransportError, httpx.DecodingError):
        raise _half(title) from None
    except httpx.InvalidURL:
        raise FileError(title, f'"{shown(address)}" is not an address') from None
    text = body.decode("utf-8", "replace")
    if answer.status_code == 200:
        return text
    raise _refused(answer, text, title)


def _half(title: str) -> _Later:
    problem, wanted = "its answer broke off half way", "a whole answer"
    return _Later(title, problem, expected=wanted, hint=_KEPT_ALREADY)


def _refused(answer: httpx.Response, text: str, title: str) -> FileError:
    """What an answer with an error's status comes to."""
    status, said = answer.status_code, f': "{_said(text)}"' if _said(text) else ""
    if status == 429 or status >= 500:
        asked = "it was asked too often and wants you to wait"
        problem = asked if status == 429 else f"it is out of order (status {status})"
        hint = _KEPT_ALREADY.replace(";", ", or take the other service;")
        kind = "busy" if status == 429 else "broken"
        later = _Later(title, problem + said, kind, hint=hint)
        after = answer.headers.get("retry-after", "")
        if after.isdecimal():
            later.waits = [float(after)] * len(later.waits)
        return later
    problem = "it has moved" if status < 400 else "it refused"
    problem += f" (status {status})" + ("" if status < 400 else said)
    hint = "Check the place and the dates, or take the other service"
    return FileError(title, problem, hint=hint)


def _said(text: str) -> str:
    """What a service says of an error, in JSON or as text; nothing of a page for browsers."""
    try:
        content: Any = json.loads(text)
    except ValueError:
        return "" if "<" in text[:200] else shown(text, most=200)
    for name in ("reason", "messages", "message", "detail", "header"):
        said = content.get(name) if isinstance(content, dict) else None
        said = "; ".join(map(str, said)) if isinstance(said, list) else said
        if said and isinstance(said, str):
            return shown(said, most=200)
    return ""


# --- understanding ----------------------------------------------------------------------------


_Part = tuple[float, dict[str, str], dict[str, dict[str, float | None]]]


class _Power(BaseModel):
    """An answer of NASA POWER's daily point service as JSON."""

    elevation: FiniteFloat = Field(validation_alias=AliasPath("geometry", "coordinates", 2))
    values: dict[str, dict[str, FiniteFloat]] = Field(
        validation_alias=AliasPath("properties", "parameter")
    )
    none: float = Field(validation_alias=AliasPath("header", "fill_value"))
    parameters: dict[str, dict[str, Any]]

    def part(self) -> _Part:
        """Elevation [m], units by name, values by name and day."""
        values = {
            name: {
                f"{day[:4]}-{day[4:6]}-{day[6:]}": None if value == self.none else value
                for day, value in series.items()
            }
            for name, series in self.values.items()
        }
        units = {name: str(about.get("units", "")) for name, about in self.parameters.items()}
        return self.elevation, units, values


class _Daily(BaseModel):
    __pydantic_extra__: dict[str, list[FiniteFloat | None]]
    model_config = ConfigDict(extra="allow")
    time: list[str]


class _Meteo(BaseModel):
    """An answer of Open-Meteo's archive, or of its forecast, as JSON."""

    elevation: FiniteFloat
    daily_units: dict[str, str]
    daily: _Daily

    def part(self) -> _Part:
        """Elevation [m], units by name, values by name and day."""
        columns = self.daily.__pydantic_extra__
        values = {n: dict(zip(self.daily.time, c, strict=False)) for n, c in columns.items()}
        return self.elevation, self.daily_units, values


def _understood(text: str, service: Service, span: Span) -> tuple[float, pd.DataFrame]:
    """Elevation [m] and the columns, one value for every day; all else is refused."""
    title = service.title
    if not text.lstrip().startswith("{"):
        what = "a page for browsers" if "<" in text[:200] else "text"
        problem = f'its answer is no data but {what}: "{shown(text)}"'
        hint = "A network that wants you to log in answers so; open a browser, then try again"
        raise FileError(title, problem, hint=hint)
    answer: type[_Power | _Meteo] = _Power if service.name == "nasa-power" else _Meteo
    try:
        elevation, units, values = answer.model_validate_json(text).part()
    except ValidationError as error:
        one = error.errors(include_url=False)[0]
        if one["type"] == "json_invalid" and not text.rstrip().endswith("}"):
            raise _half(title) from None
        if one["type"] == "json_invalid":
            raise _odd(title, "it is no JSON") from None
        if reason := _said(text):
            hint = "Check the place and the dates"
            raise FileError(title, f'it refused: "{reason}"', hint=hint) from None
        at = ".".join(str(part) for part in one["loc"][:4])
        raise _odd(title, f"{at}: {one['msg'].lower()}") from None
    wanted = pd.date_range(*span).strftime("%Y-%m-%d").tolist()
    for _, name, _, known in service.columns:
        series, unit = values.get(name), shown(units.get(name, ""))
        if series is None:
            raise _odd(title, f"{name} is not in it")
        if unit not in known:
            raise _odd(title, f'{name} is in "{unit}", not {known[0]}')
        if list(series) != wanted:
            missing = len(set(wanted) - set(series))
            problem = f"{missing} of {len(wanted)} days are not in it" if missing else "other days"
            raise _odd(title, f"{name}: {problem}")
    columns = {heading: values[name] for heading, name, *_ in service.columns}
    return elevation, pd.DataFrame(columns, index=wanted, dtype=float)


def _odd(title: str, problem: str) -> FileError:
    hint = "The service may have changed: take the other one, or download a file from its pages"
    return FileError(title, f"its answer is not what it should be: {problem}", hint=hint)


def _table(
    service: Service, latitude: float, longitude: float, elevation: float, days: pd.DataFrame
) -> str:
    """The table of our own, without the last days that the service does not have yet."""
    there = days.index[days[["tmax (C)", "tmin (C)", "rain (mm)"]].notna().all(axis=1)]
    if there.empty:
        problem = f"it has no temperature and rain for {latitude:g}, {longitude:g} on these days"
        hint = "Check latitude and longitude, and the sign of each"
        raise FileError(service.title, problem, hint=hint)
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    place = f"{abs(latitude):.2f} {north}, {abs(longitude):.2f} {east}"
    lines = [
        f"place: {place} ({service.title})",
        f"latitude: {latitude:g}",
        f"longitude: {longitude:g}",
        f"elevation: {elevation:g} m",
        f"wind height: {service.wind_height} m",
        "rain day: midnight",
        f"data: {service.data}",
        f"terms: {service.terms}",
        f"downloaded: {datetime.date.today()} by bedtide; {service.days}",
        *(f"{heading}: {words} ({name})" for heading, name, words, _ in service.columns),
    ]
    rows = days[: there[-1]].to_csv(index_label="date", float_format="%.6g", lineterminator="\n")
    return "".join(f"# {line}\n" for line in lines) + rows
