"""Legal beds and weather drawn at random, for tests of what must hold of any of them.

Every bed goes through the door of descriptions, so that it is one that a keeper could write.
`BEDTIDE_LONG=1` in the environment draws two thousand of each instead of a few.
"""

from __future__ import annotations

import datetime
import os
from typing import Any

import numpy as np
import xarray as xr
from hypothesis import settings
from hypothesis import strategies as st

from bedtide.bed import Bed, bed_from_mapping
from bedtide.mix import media
from helpers.plain_weather import plain_weather

LONG = os.environ.get("BEDTIDE_LONG") == "1"
START = datetime.date(2023, 6, 1)
DAYS = 40


def drawn(quick: int, *, many: int = 2000) -> settings:
    """Return how many examples to draw: `quick` by default, `many` in the long form."""
    return settings(max_examples=many if LONG else quick)


def between(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw a number, evenly on a scale of powers where the range is wide."""
    if low > 0.0 and high / low > 20.0:
        return st.floats(float(np.log(low)), float(np.log(high))).map(lambda x: float(np.exp(x)))
    return st.floats(low, high)


shares = st.sampled_from((0.0, 0.3, 0.7, 1.0))


@st.composite
def mixes(draw: st.DrawFn, *, odd: bool = True) -> dict[str, Any]:
    """Draw a medium of the table as it is, or wetted otherwise, or with numbers of its own."""
    mix: dict[str, Any] = {"medium": draw(st.sampled_from(media()))}
    if draw(st.booleans()):
        mix["wetting"] = draw(st.sampled_from((1.0, 2.0)))
    if odd and draw(st.integers(0, 3)) == 0:
        theta_s = draw(between(0.3, 0.95))
        n = 1.0 + draw(between(0.05, 6.0))
        mix |= {
            "theta_s": theta_s,
            "theta_r": draw(between(0.0, theta_s - 0.15)),
            "alpha": f"{draw(between(0.3, 150.0))} 1/m",
            "n": n,
            "k_s": f"{draw(between(1e-3, 100.0))} m/d",
            "l": draw(st.sampled_from((-1.0, 0.5, 3.0))),
        }
    return mix


@st.composite
def reservoirs(draw: st.DrawFn) -> tuple[dict[str, Any], float]:
    """Draw any form of reservoir, and the height of its top [m]."""
    form = draw(st.sampled_from(("pipes", "crates", "false floor", "stone")))
    if form == "pipes":
        outside = draw(between(0.04, 0.19))
        pipes = {
            "form": form,
            "inside": f"{draw(between(0.7, 0.95)) * outside} m",
            "outside": f"{outside} m",
            "count": draw(st.integers(1, int(0.6 / outside))),
            "run": "1.9 m",
        }
        return pipes, outside
    height = draw(between(0.03, 0.3))
    layer = {
        "form": form,
        "height": f"{height} m",
        "void_share": draw(st.sampled_from((0.2, 0.4, 0.95, 1.0))),
        "wick_share": draw(st.sampled_from((0.0, 0.02, 0.1, 0.4))),
        "wick_foot": f"{draw(st.sampled_from((0.0, 0.3))) * height} m",
    }
    return layer, height


@st.composite
def overflows(draw: st.DrawFn, crown: float, surface: float, form: str) -> dict[str, Any]:
    """Draw an outlet: open, turned down for a while, blocked or none, its lip anywhere."""
    state = draw(st.sampled_from(("open", "open", "open", "turned", "blocked", "none")))
    least = 0.4 * crown if form == "pipes" else 0.1 * crown
    height = draw(st.one_of(between(least, crown), between(crown, 0.5 * (crown + surface))))
    if state == "none":
        return {"state": state}
    outlet: dict[str, Any] = {"height": f"{height} m"}
    if state == "blocked":
        outlet["state"] = state
    if state == "turned":
        low = f"{least + 0.5 * (height - least)} m"
        outlet["change"] = [{"from": "06-12", "to": "06-25", "height": low}]
    return outlet


@st.composite
def plantings(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Draw no, one or two crops."""
    found = []
    for crop in draw(st.sampled_from(((), ("tomato",), ("lettuce",), ("tomato", "lettuce")))):
        planted = draw(st.sampled_from(("04-20", "06-10")))
        found.append({"crop": crop, "planted": planted, "area_share": 0.5})
    if len(found) == 1:
        found[0]["area_share"] = draw(st.sampled_from((0.2, 1.0)))
    return found


RULES = (
    {"when": "never"},
    {"when": "below share", "share": "30 %"},
    {"when": "below share", "share": "100 %"},
    {"when": "weekdays", "weekdays": ["mon", "thu"], "amount": "30 L"},
    {"when": "every n days", "every": "6 days"},
    {"when": "every n days", "every": "1 days", "amount": "5 L"},
)


@st.composite
def descriptions(draw: st.DrawFn, *, odd: bool = True, **fixed: Any) -> dict[str, Any]:
    """Draw the description of a bed; sections in `fixed` are as given."""
    reservoir, crown = draw(reservoirs())
    depth = draw(between(0.06, 0.8))
    surface = crown + depth
    freeboard = draw(st.sampled_from((0.0, 0.02, 0.05)))
    found = {
        "bed": {"name": "any"},
        "box": {
            "length": "2 m",
            "width": "0.6 m",
            "depth": f"{surface + freeboard} m",
            "freeboard": f"{freeboard} m",
        },
        "reservoir": reservoir,
        "overflow": draw(overflows(crown, surface, reservoir["form"])),
        "mix": {"wick": draw(mixes(odd=odd)), "top": draw(mixes(odd=odd))},
        "surface": {
            "open_to_rain": draw(shares),
            "covered": draw(shares),
            "mulch_share": draw(shares),
            "drying": draw(st.floats(0.1, 2.0)),
        },
        "planting": draw(plantings()),
        "watering": draw(st.sampled_from(RULES)),
        "start": {"level": draw(shares)},
    }
    return found | fixed


def built(description: dict[str, Any]) -> Bed:
    """Return the bed of a description."""
    return bed_from_mapping(description, where="bed.toml")


@st.composite
def weathers(
    draw: st.DrawFn, *, days: int = DAYS, dry: bool = False, hot: float = 12.0
) -> xr.Dataset:
    """Draw a record: demand in spells, rain on some days, in hours of its own at times."""
    weather = plain_weather(str(START), days)
    spells = draw(st.lists(st.floats(0.0, hot), min_size=4, max_size=4))
    weather["et0"] = ("time", np.repeat(spells, -(-days // 4))[:days] / 1000)
    if dry:
        return weather
    amounts = st.one_of(st.floats(0.0, 15.0), st.floats(0.0, 300.0))
    rain = np.zeros(days)
    for day, amount in draw(st.lists(st.tuples(st.integers(0, days - 1), amounts), max_size=12)):
        rain[day] = amount / 1000
    weather["rain"] = ("time", rain)
    if draw(st.booleans()):
        hours = np.zeros((days, 24))
        begin, length = draw(st.integers(0, 23)), draw(st.integers(1, 24))
        hours[:, begin : begin + length] = 1.0
        hours /= hours.sum(axis=1, keepdims=True)
        weather["rain_hours"] = (("time", "hour"), np.where(rain[:, None] > 0.0, hours, 0.0))
    return weather


def hour_by_hour(weather: xr.Dataset) -> xr.Dataset:
    """Return the record with a drizzle in every hour, so that no step is longer than an hour.

    The steps of a day are cut where the rate of rain changes. A millionth of a millimetre a day,
    in odd hours twice what it is in even ones, cuts them all and wets nothing.
    """
    found = weather.copy()
    rain = weather["rain"].to_numpy() + 1e-9
    odd = np.arange(24) % 2
    if "rain_hours" in weather:
        hours = weather["rain_hours"].to_numpy().copy()
        hours[hours.sum(axis=1) == 0.0] = 1.0 / 24.0
    else:
        hours = np.zeros((rain.size, 24))
        hours[:, 9:15] = 1.0 / 6.0
    hours = hours * (1.0 + 1e-9 * odd) + 1e-15 * (1.0 + odd)
    found["rain"] = ("time", rain)
    found["rain_hours"] = (("time", "hour"), hours / hours.sum(axis=1, keepdims=True))
    return found
