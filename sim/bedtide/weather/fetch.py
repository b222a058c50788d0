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

from pydantic import ValidationError

from bedtide.errors import FieldError, FileError, Option, TimeAxisError, choice, in_range, shown
from bedtide.weather.services import SERVICES, Service

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
    from bedtide.files import check_folder, write_text

    about = SERVICES[choice(service, SERVICES, where="service")]
    north = float(in_range(latitude, -90.0, 90.0, where="latitude", unit="degrees"))
    east = float(in_range(longitude, -180.0, 180.0, where="longitude", unit="degrees"))
    north, east = round(north, 2) + 0.0, round(east, 2) + 0.0  # no -0.0
    first, last = _days(about, start, end)
    kept = _cache_folder() if cache is None else Path(cache)
    base = address or about.address
    elevation, days, values = 0.0, list[str](), Values()
    for a, b in spans(first, last):
        query = about.query(north, east, a, b)
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
            data, got = _asked(base, query, about, a, b, timeout)
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
    if first < service.first:
        raise TimeAxisError(
            Option("start"),
            f"{service.title} has no weather of {first}",
            expected=f"{service.first} or later",
        )
    if last > yesterday:
        raise TimeAxisError(
            Option("end"), f"{last} is not over yet", expected=f"{yesterday} or earlier"
        )
    if first > last:
        raise TimeAxisError(
            Option("start"), f"{first} is after the last day, {last}", expected="an earlier day"
        )
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
    first: datetime.date,
    last: datetime.date,
    timeout: float,
) -> tuple[str, tuple[float, Values]]:
    """An answer as text and understood; what may pass is tried a few times more."""
    tried = 0
    while True:
        try:
            text = _once(address, query, service, timeout)
            return text, _understood(text, service, first, last)
        except _Later as later:
            waits = _WAITS[later.kind]
            if tried >= len(waits) or (later.wait or 0.0) > _LONGEST_WAIT:
                raise later.refusal from None
            time.sleep(waits[tried] if later.wait is None else later.wait)
            tried += 1


def _once(address: str, query: Mapping[str, str], service: Service, timeout: float) -> str:
    """One request; what the person can mend is a FileError, what may pass a `_Later`."""
    import httpx

    host = httpx.URL(address).host
    seconds = httpx.Timeout(timeout, connect=min(timeout, 15.0))
    try:
        with (
            httpx.Client(timeout=seconds, headers={"user-agent": "bedtide"}) as client,
            client.stream("GET", address, params=dict(query)) as answer,
        ):
            body = bytearray()
            for part in answer.iter_bytes():
                body += part
                if len(body) > _MOST_BYTES:
                    raise FileError(
                        service.title,
                        f"its answer is larger than {_MOST_BYTES // 1_000_000} MB",
                        hint="Ask for fewer years",
                    )
    except (httpx.ConnectError, httpx.ConnectTimeout) as error:
        raise _Later("no connection", _unreachable(service, host, error)) from None
    except httpx.TimeoutException:
        refusal = FileError(
            service.title,
            f"no answer within {timeout:g} s",
            hint="Try again later; what was downloaded before is kept",
        )
        raise _Later("broken", refusal) from None
    except (httpx.TransportError, httpx.DecodingError):
        raise _Later("broken", _half(service)) from None
    except httpx.InvalidURL:
        raise FileError(service.title, f'"{shown(address)}" is not an address') from None
    text = body.decode("utf-8", "replace")
    if answer.status_code == 200:
        return text
    raise _refused(answer, text, service)


def _unreachable(service: Service, host: str, error: Exception) -> FileError:
    return FileError(
        service.title,
        f"{host} can't be reached ({shown(str(error)) or 'no answer'})",
        hint="Check the connection to the internet and try again. Without one, use a weather file",
    )


def _half(service: Service) -> FileError:
    return FileError(
        service.title,
        "its answer broke off half way",
        expected="a whole answer",
        hint="Try again later; what was downloaded before is kept",
    )


def _refused(answer: httpx.Response, text: str, service: Service) -> FileError | _Later:
    """What an answer with an error's status comes to."""
    said = f': "{_said(text)}"' if _said(text) else ""
    status = answer.status_code
    if status == 429:
        refusal = FileError(
            service.title,
            f"it was asked too often and wants you to wait{said}",
            hint="Try again later, or take the other service; what was downloaded before is kept",
        )
        return _Later("busy", refusal, _seconds(answer.headers.get("retry-after", "")))
    if status >= 500:
        refusal = FileError(
            service.title,
            f"it is out of order (status {status}){said}",
            hint="Try again later, or take the other service; what was downloaded before is kept",
        )
        return _Later("broken", refusal, _seconds(answer.headers.get("retry-after", "")))
    moved = 300 <= status < 400
    return FileError(
        service.title,
        f"it has moved (status {status})" if moved else f"it refused (status {status}){said}",
        hint="Check the place and the dates, or take the other service",
    )


def _said(text: str) -> str:
    """What a service says of an error, in JSON or as text; nothing of a page for browsers."""
    try:
        content: Any = json.loads(text)
    except ValueError:
        return "" if "<" in text[:200] else shown(text, most=200)
    if isinstance(content, dict):
        for name in ("reason", "messages", "message", "detail", "header"):
            said = content.get(name)
            said = "; ".join(map(str, said)) if isinstance(said, list) else said
            if said and isinstance(said, str):
                return shown(said, most=200)
    return ""


def _seconds(text: str) -> float | None:
    return float(text) if text.isdecimal() else None


# --- understanding ----------------------------------------------------------------------------


def _understood(
    text: str, service: Service, first: datetime.date, last: datetime.date
) -> tuple[float, Values]:
    """Elevation [m] and the columns, one value for every day; all else is refused."""
    if not text.lstrip().startswith("{"):
        page = "<" in text[:200]
        raise FileError(
            service.title,
            f"its answer is no data but {'a page for browsers' if page else 'text'}: "
            f'"{shown(text)}"',
            hint="A network that wants you to log in answers so; open a browser, then try again",
        )
    try:
        elevation, units, values = service.answer.model_validate_json(text).part()
    except ValidationError as error:
        one = error.errors(include_url=False)[0]
        if one["type"] == "json_invalid":
            if text.rstrip().endswith("}"):
                raise _odd(service, "it is no JSON") from None
            raise _Later("broken", _half(service)) from None
        reason = _said(text)
        if reason:
            raise FileError(
                service.title, f'it refused: "{reason}"', hint="Check the place and the dates"
            ) from None
        at = ".".join(str(part) for part in one["loc"][:4])
        raise _odd(service, f"{at}: {one['msg'].lower()}") from None
    wanted = _every_day(first, last)
    found: Values = {}
    for column in service.columns:
        if column.name not in values:
            raise _odd(service, f"{column.name} is not in it")
        unit = units.get(column.name, "")
        if unit not in column.units:
            raise _odd(service, f'{column.name} is in "{shown(unit)}", not {column.units[0]}')
        series = values[column.name]
        if list(series) != wanted:
            missing = len(set(wanted) - set(series))
            problem = f"{missing} of {len(wanted)} days are not in it" if missing else "other days"
            raise _odd(service, f"{column.name}: {problem}")
        found[column.name] = list(series.values())
    return elevation, found


def _odd(service: Service, problem: str) -> FileError:
    return FileError(
        service.title,
        f"its answer is not what it should be: {problem}",
        hint="The service may have changed: take the other one, or download a file from its pages",
    )


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
        raise FileError(
            service.title,
            f"it has no temperature and rain for {latitude:g}, {longitude:g} on these days",
            hint="Check latitude and longitude, and the sign of each",
        )
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
