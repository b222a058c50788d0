"""A service on this machine that gives recorded answers, and answers of the documented shapes.

The weather in them is invented; the shapes were written by hand from the services' descriptions.
"""

from __future__ import annotations

import datetime
import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

Query = dict[str, str]


@dataclass
class Reply:
    """One answer; `short` bytes are left off its end, `wait` seconds pass before it."""

    body: str | Callable[[Query], str] = ""
    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    short: int = 0
    wait: float = 0.0


@dataclass
class Asked:
    path: str
    query: Query
    headers: dict[str, str]


@dataclass
class Service:
    address: str
    asked: list[Asked]


@contextmanager
def service(*replies: Reply) -> Iterator[Service]:
    """A server whose replies are given in turn, the last of them for ever."""
    asked: list[Asked] = []

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            split = urlsplit(self.path)
            query = {name: values[0] for name, values in parse_qs(split.query).items()}
            reply = replies[min(len(asked), len(replies) - 1)]
            asked.append(Asked(split.path, query, dict(self.headers)))
            time.sleep(reply.wait)
            body = (reply.body(query) if callable(reply.body) else reply.body).encode()
            self.send_response(reply.status)
            for name, value in reply.headers.items():
                self.send_header(name, value)
            self.send_header("content-length", str(len(body)))
            self.send_header("connection", "close")
            self.end_headers()
            with suppress(BrokenPipeError, ConnectionResetError):
                self.wfile.write(body[: len(body) - reply.short])
            self.close_connection = True

        def log_message(self, *_: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield Service(f"http://127.0.0.1:{server.server_address[1]}/daily", asked)
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def days(first: str, last: str) -> list[datetime.date]:
    start, end = (datetime.date.fromisoformat(text) for text in (first, last))
    return [start + datetime.timedelta(days=at) for at in range((end - start).days + 1)]


def weather_of(day: datetime.date) -> tuple[float, ...]:
    """tmax, tmin, dew point [C], wind [m/s], radiation [MJ/m2], rain, ET0 [mm]; made up."""
    at = day.toordinal()
    tmax = 18.0 + at % 7
    rain = 0.0 if at % 3 else 2.25 + at % 5
    return tmax, tmax - 8.5, tmax - 9.25 - at % 2, 2.0 + at % 4 / 10, 2.0 + at % 3, rain, 2.5


_POWER = ("T2M_MAX", "T2M_MIN", "T2MDEW", "WS2M", "ALLSKY_SFC_SW_DWN", "PRECTOTCORR")
_POWER_UNITS = ("C", "C", "C", "m/s", "MJ/m^2/day", "mm/day")
_METEO = (
    "temperature_2m_max", "temperature_2m_min", "dew_point_2m_mean", "wind_speed_10m_mean",
    "shortwave_radiation_sum", "precipitation_sum", "et0_fao_evapotranspiration",
)  # fmt: skip
_METEO_UNITS = ("°C", "°C", "°C", "m/s", "MJ/m²", "mm", "mm")


def power(query: Query, missing: Callable[[str, datetime.date], bool] = lambda *_: False) -> str:
    """An answer of NASA POWER's daily point service, version 2, as JSON."""
    a, b = (f"{text[:4]}-{text[4:6]}-{text[6:]}" for text in (query["start"], query["end"]))
    values = {
        name: {
            f"{day:%Y%m%d}": -999.0 if missing(name, day) else weather_of(day)[at]
            for day in days(a, b)
        }
        for at, name in enumerate(_POWER)
    }
    return json.dumps(
        {
            "type": "Feature",
            "geometry": {
                "type": "Point",
                "coordinates": [float(query["longitude"]), float(query["latitude"]), 12.34],
            },
            "properties": {"parameter": values},
            "header": {
                "title": "NASA/POWER Source Native Resolution Daily Data",
                "api": {"version": "v2.5.6", "name": "POWER Daily API"},
                "sources": ["power", "merra2"],
                "fill_value": -999.0,
                "time_standard": "LST",
                "start": query["start"],
                "end": query["end"],
            },
            "messages": [],
            "parameters": {
                name: {"units": unit, "longname": name}
                for name, unit in zip(_POWER, _POWER_UNITS, strict=True)
            },
            "times": {"data": 0.4, "process": 0.02},
        }
    )


def meteo(query: Query, missing: Callable[[str, datetime.date], bool] = lambda *_: False) -> str:
    """An answer of Open-Meteo's archive as JSON."""
    span = days(query["start_date"], query["end_date"])
    return json.dumps(
        {
            "latitude": 51.88,
            "longitude": 4.5,
            "generationtime_ms": 1.2,
            "utc_offset_seconds": 3600,
            "timezone": "Europe/Amsterdam",
            "timezone_abbreviation": "GMT+1",
            "elevation": 3.0,
            "daily_units": {"time": "iso8601", **dict(zip(_METEO, _METEO_UNITS, strict=True))},
            "daily": {
                "time": [str(day) for day in span],
                **{
                    name: [None if missing(name, day) else weather_of(day)[at] for day in span]
                    for at, name in enumerate(_METEO)
                },
            },
        }
    )
