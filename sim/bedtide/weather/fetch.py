"""Daily weather of a place, downloaded from an open service and written as a table of our own.

What is sent is the place, rounded to a hundredth of a degree, and the dates.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, FiniteFloat, ValidationError

from bedtide.errors import FieldError, FileError, Option, TimeAxisError, choice, in_range, shown
from bedtide.weather.services import FORECAST, SERVICES, Service

if TYPE_CHECKING:
    import httpx

Values = dict[str, list[float | None]]
Tell = Callable[[str], None]

_MOST_BYTES = 30_000_000  # of one answer
_LAG = 10  # days that the services are behind, so that the last are there
_REVISED = 120  # days for which what a service gave may still change
_KEPT = 86400.0  # s; how long such an answer is kept
_YEARS_AT_ONCE = 10
_LONGEST_WAIT = 120.0  # s
_KEPT_ALREADY = "Try again later; what was downloaded before is kept"
_WAITS = {"busy": (5.0, 20.0, 60.0), "broken": (2.0, 10.0), "no connection": (1.0,)}  # s


class _Later(Exception):
    """What may go well in a while: the kind, the refusal if it does not, how long to wait [s]."""

    def __init__(self, kind: str, refusal: FileError, wait: float | None = None) -> None:
        super().__init__(kind)
        self.kind, self.refusal, self.wait = kind, refusal, wait


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
    span = _days(about, start, end)
    return _fetched(about, (latitude, longitude), span, save, cache, address, timeout, tell)


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
    span: tuple[datetime.date, datetime.date],
    save: str | Path | None,
    cache: str | Path | None,
    address: str | None,
    timeout: float,
    tell: Tell | None,
) -> Path:
    """The file with the days of a place, each part of it asked for or kept from before."""
    from bedtide.files import check_folder, write_text

    north = float(in_range(place[0], -90.0, 90.0, where="latitude", unit="degrees"))
    east = float(in_range(place[1], -180.0, 180.0, where="longitude", unit="degrees"))
    north, east = round(north, 2) + 0.0, round(east, 2) + 0.0  # no -0.0
    first, last = span
    kept = _cache_folder() if cache is None else Path(cache)
    base = address or about.address
    elevation, days, values = 0.0, list[str](), Values()
    for a, b in spans(first, last):
        query = about.question(north, east, a, b)
        name = f"{about.name}_{north:.2f}_{east:.2f}_{a}_{b}"
        mark = hashlib.sha256(json.dumps([base, query]).encode()).hexdigest()[:8]
        path = kept / f"{name}_{mark}.json"
        if tell is not None:
            tell(f"Downloading {a.year} to {b.year}")
        data = _kept(path, b)
        got = None
        if data is not None:
            with suppress(FileError, _Later):
                got = _understood(data, about, a, b)
        if got is None:
            data, got = _asked(base, query, about, (a, b), timeout)
            with suppress(FileError, OSError):  # without a cache it goes on
                path.parent.mkdir(parents=True, exist_ok=True)
                write_text(path, data)
        elevation, more = got
        days += _every_day(a, b)
        for column in about.columns:
            values.setdefault(column.name, []).extend(more[column.name])
    text = _table(about, north, east, elevation, days, values)
    whole = f"{about.name}_{north:.2f}_{east:.2f}_{first}_{last}.csv"
    target = kept / whole if save is None else Path(save)
    if save is None:
        check_folder(kept)
        kept.mkdir(parents=True, exist_ok=True)
    write_text(target, text)
    return target


def spans(
    first: datetime.date, last: datetime.date
) -> Iterator[tuple[datetime.date, datetime.date]]:
    """First and last day of each request: calendar decades, cut to what is wanted."""
    while first <= last:
        ends = datetime.date(first.year - first.year % _YEARS_AT_ONCE + _YEARS_AT_ONCE - 1, 12, 31)
        yield first, min(ends, last)
        first = ends + datetime.timedelta(days=1)


def last_day() -> datetime.date:
    """The last day that is asked for where none is given."""
    return datetime.date.today() - datetime.timedelta(days=_LAG)


def _days(
    service: Service, start: str | datetime.date, end: str | datetime.date | None
) -> tuple[datetime.date, datetime.date]:
    found = []
    for name, given in (("start", start), ("end", last_day() if end is None else end)):
        try:
            found.append(datetime.date.fromisoformat(str(given)))
        except ValueError:
            raise FieldError(
                Option(name), f'"{shown(str(given))}" is not a date', expected="2021-03-04"
            ) from None
    first, last = found
    yesterday = datetime.date.today() - datetime.timedelta(days=1)
    for name, wrong, problem, wanted in (
        ("start", first < service.first, f"{service.title} has no weather of {first}",
         f"{service.first} or later"),
        ("end", last > yesterday, f"{last} is not over yet", f"{yesterday} or earlier"),
        ("start", first > last, f"{first} is after the last day, {last}", "an earlier day"),
    ):  # fmt: skip
        if wrong:
            raise TimeAxisError(Option(name), problem, expected=wanted)
    return first, last


def _every_day(first: datetime.date, last: datetime.date) -> list[str]:
    return [str(first + datetime.timedelta(days=at)) for at in range((last - first).days + 1)]


# --- what was downloaded before ---------------------------------------------------------------


def _cache_folder() -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("bedtide", appauthor=False) / "weather"


def _kept(path: Path, last: datetime.date) -> str | None:
    """An answer that is kept, unless it is of late days and more than a day old."""
    try:
        late = (datetime.date.today() - last).days < _REVISED
        if late and time.time() - path.stat().st_mtime > _KEPT:
            return None
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None


# --- asking -----------------------------------------------------------------------------------


def _asked(
    address: str,
    query: Mapping[str, str],
    service: Service,
    days: tuple[datetime.date, datetime.date],
    timeout: float,
) -> tuple[str, tuple[float, Values]]:
    """An answer as text and understood; what may pass is tried a few times more."""
    tried = 0
    while True:
        try:
            text = _once(address, query, service.title, timeout)
            return text, _understood(text, service, *days)
        except _Later as later:
            waits = _WAITS[later.kind]
            if tried >= len(waits) or (later.wait or 0.0) > _LONGEST_WAIT:
                raise later.refusal from None
            time.sleep(waits[tried] if later.wait is None else later.wait)
            tried += 1


def _once(address: str, query: Mapping[str, str], title: str, timeout: float) -> str:
    """One request; what the person can mend is a FileError, what may pass a `_Later`."""
    import httpx

    seconds = httpx.Timeout(timeout, connect=min(timeout, 15.0))
    body = bytearray()
    try:
        with (
            httpx.Client(timeout=seconds, headers={"user-agent": "bedtide"}) as client,
            client.stream("GET", address, params=dict(query)) as answer,
        ):
            for part in answer.iter_bytes():
                body += part
                if len(body) > _MOST_BYTES:
                    problem = f"its answer is larger than {_MOST_BYTES // 1_000_000} MB"
                    raise FileError(title, problem, hint="Ask for fewer years")
    except (httpx.ConnectError, httpx.ConnectTimeout) as error:
        reason = shown(str(error)) or "no answer"
        problem = f"{httpx.URL(address).host} can't be reached ({reason})"
        hint = "Check the connection to the internet and try again. Without one, use a weather file"
        raise _Later("no connection", FileError(title, problem, hint=hint)) from None
    except httpx.TimeoutException:
        refusal = FileError(title, f"no answer within {timeout:g} s", hint=_KEPT_ALREADY)
        raise _Later("broken", refusal) from None
    except (httpx.TransportError, httpx.DecodingError):
        raise _Later("broken", _half(title)) from None
    except httpx.InvalidURL:
        raise FileError(title, f'"{shown(address)}" is not an address') from None
    text = body.decode("utf-8", "replace")
    if answer.status_code == 200:
        return text
    raise _refused(answer, text, title)


def _half(title: str) -> FileError:
    problem, wanted = "its answer broke off half way", "a whole answer"
    return FileError(title, problem, expected=wanted, hint=_KEPT_ALREADY)


def _refused(answer: httpx.Response, text: str, title: str) -> FileError | _Later:
    """What an answer with an error's status comes to."""
    status, said = answer.status_code, f': "{_said(text)}"' if _said(text) else ""
    if status == 429 or status >= 500:
        asked = "it was asked too often and wants you to wait"
        problem = asked if status == 429 else f"it is out of order (status {status})"
        hint = _KEPT_ALREADY.replace(";", ", or take the other service;")
        after = answer.headers.get("retry-after", "")
        kind = "busy" if status == 429 else "broken"
        refusal = FileError(title, problem + said, hint=hint)
        return _Later(kind, refusal, float(after) if after.isdecimal() else None)
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


class _Point(BaseModel):
    coordinates: tuple[FiniteFloat, FiniteFloat, FiniteFloat]  # longitude, latitude, elevation


class _Parameters(BaseModel):
    parameter: dict[str, dict[str, FiniteFloat]]


class _Header(BaseModel):
    fill_value: float


class _Unit(BaseModel):
    units: str


class _Power(BaseModel):
    """An answer of NASA POWER's daily point service as JSON."""

    geometry: _Point
    properties: _Parameters
    header: _Header
    parameters: dict[str, _Unit]

    def part(self) -> _Part:
        """Elevation [m], units by name, values by name and day."""
        none = self.header.fill_value
        values: dict[str, dict[str, float | None]] = {
            name: {
                f"{day[:4]}-{day[4:6]}-{day[6:]}": None if value == none else value
                for day, value in series.items()
            }
            for name, series in self.properties.parameter.items()
        }
        units = {name: about.units for name, about in self.parameters.items()}
        return self.geometry.coordinates[2], units, values


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


_ANSWERS: dict[str, type[_Power | _Meteo]] = {
    "nasa-power": _Power,
    "open-meteo": _Meteo,
    "open-meteo-forecast": _Meteo,
}


def _understood(
    text: str, service: Service, first: datetime.date, last: datetime.date
) -> tuple[float, Values]:
    """Elevation [m] and the columns, one value for every day; all else is refused."""
    title = service.title
    if not text.lstrip().startswith("{"):
        what = "a page for browsers" if "<" in text[:200] else "text"
        problem = f'its answer is no data but {what}: "{shown(text)}"'
        hint = "A network that wants you to log in answers so; open a browser, then try again"
        raise FileError(title, problem, hint=hint)
    try:
        elevation, units, values = _ANSWERS[service.name].model_validate_json(text).part()
    except ValidationError as error:
        one = error.errors(include_url=False)[0]
        if one["type"] == "json_invalid" and not text.rstrip().endswith("}"):
            raise _Later("broken", _half(title)) from None
        if one["type"] == "json_invalid":
            raise _odd(title, "it is no JSON") from None
        if reason := _said(text):
            hint = "Check the place and the dates"
            raise FileError(title, f'it refused: "{reason}"', hint=hint) from None
        at = ".".join(str(part) for part in one["loc"][:4])
        raise _odd(title, f"{at}: {one['msg'].lower()}") from None
    wanted = _every_day(first, last)
    found: Values = {}
    for column in service.columns:
        name, series = column.name, values.get(column.name)
        unit = shown(units.get(name, ""))
        if series is None:
            raise _odd(title, f"{name} is not in it")
        if unit not in column.units:
            raise _odd(title, f'{name} is in "{unit}", not {column.units[0]}')
        if list(series) != wanted:
            missing = len(set(wanted) - set(series))
            problem = f"{missing} of {len(wanted)} days are not in it" if missing else "other days"
            raise _odd(title, f"{name}: {problem}")
        found[name] = list(series.values())
    return elevation, found


def _odd(title: str, problem: str) -> FileError:
    hint = "The service may have changed: take the other one, or download a file from its pages"
    return FileError(title, f"its answer is not what it should be: {problem}", hint=hint)


def _table(
    service: Service,
    latitude: float,
    longitude: float,
    elevation: float,
    days: list[str],
    values: Values,
) -> str:
    """The table of our own, without the last days that the service does not have yet."""
    core = [values[c.name] for c in service.columns if c.heading[:4] in ("tmax", "tmin", "rain")]
    there = [at for at in range(len(days)) if all(column[at] is not None for column in core)]
    if not there:
        problem = f"it has no temperature and rain for {latitude:g}, {longitude:g} on these days"
        hint = "Check latitude and longitude, and the sign of each"
        raise FileError(service.title, problem, hint=hint)
    place = (
        f"{abs(latitude):.2f} {'N' if latitude >= 0 else 'S'}, "
        f"{abs(longitude):.2f} {'E' if longitude >= 0 else 'W'}"
    )
    lines = [
        f"# place: {place} ({service.title})",
        f"# latitude: {latitude:g}",
        f"# longitude: {longitude:g}",
        f"# elevation: {elevation:g} m",
        f"# wind height: {service.wind_height} m",
        "# rain day: midnight",
        f"# data: {service.data}",
        f"# terms: {service.terms}",
        f"# downloaded: {datetime.date.today()} by bedtide; {service.days}",
        *(f"# {c.heading}: {c.words} ({c.name})" for c in service.columns),
        ",".join(["date", *(column.heading for column in service.columns)]),
    ]
    for at in range(there[-1] + 1):
        cells = [values[column.name][at] for column in service.columns]
        texts = ["" if cell is None else f"{cell:.6g}" for cell in cells]
        lines.append(",".join([days[at], *texts]))
    return "\n".join(lines) + "\n"
