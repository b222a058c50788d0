"""The Dataset of a weather record: variables, attributes, assumptions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from bedtide.errors import printable
from bedtide.terms import attributes
from bedtide.weather.estimate import Demand
from bedtide.weather.et0 import Method, hargreaves, penman_monteith
from bedtide.weather.gaps import FLAGS, DailyColumns, count_text
from bedtide.weather.hourly import usual_rain_hours
from bedtide.weather.record import RainDay, Record

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["make_dataset"]


def make_dataset(
    record: Record,
    daily: DailyColumns,
    demand: Demand,
    place: dict[str, float],
    method: Method,
    rule: RainDay,
    read: list[str],
) -> xr.Dataset:
    """Variables in the units of the glossary, attributes set last.

    Parameters
    ----------
    record : Record
        Names, notes and source.
    daily : DailyColumns
        Temperature and rain, complete.
    demand : Demand
        Humidity, wind and radiation, complete.
    place : dict of float
        ``latitude`` [degree] and ``elevation`` [m].
    method : {"penman-monteith", "hargreaves"}
        Equation for reference evapotranspiration.
    rule : {"midnight", "to morning", "from morning"}
        Which 24 hours the rain under a date covered.
    read : list of str
        Columns of the file with quantity and unit.

    Returns
    -------
    Dataset
        As `read_weather` describes it.
    """
    import xarray as xr

    warm, cold = daily.columns["tmax"], daily.columns["tmin"]
    sentences = [*record.notes, *daily.sentences, *demand.sentences]
    estimated = demand.estimated
    if method == "hargreaves":
        et0 = hargreaves(days=daily.days, tmax=warm, tmin=cold, latitude=place["latitude"])
        total = len(daily.days)
        sentences.append(
            "Reference evapotranspiration was estimated from temperature alone (Hargreaves) "
            f"{count_text(total, total)}; it can be a fifth or more off."
        )
    else:
        et0 = penman_monteith(
            days=daily.days,
            tmax=warm,
            tmin=cold,
            vapour_pressure=demand.vapour_pressure,
            wind_speed=demand.wind_speed,
            solar_radiation=demand.solar_radiation,
            **place,
        )
    values = {
        "tmax": warm,
        "tmin": cold,
        "vapour_pressure": demand.vapour_pressure,
        "rh_min": demand.rh_min,
        "wind_speed": demand.wind_speed,
        "solar_radiation": demand.solar_radiation,
        "rain": daily.columns["rain"] / 1000.0,
        "et0": et0,
    }
    dataset = xr.Dataset(
        {name: ("time", np.asarray(value, dtype=np.float64)) for name, value in values.items()},
        coords={"time": daily.days.astype("datetime64[ns]")},
    )
    if daily.rain_hours is not None:
        usual = usual_rain_hours(len(daily.days))
        hours = np.where(np.isnan(daily.rain_hours), usual, daily.rain_hours)
        dataset["rain_hours"] = (("time", "hour"), hours, attributes("rain_hours"))
        dataset = dataset.assign_coords(hour=("hour", np.arange(24), attributes("hour")))
    dataset["estimated"] = ("time", estimated)
    dataset["filled"] = ("time", daily.filled)
    dataset["measured"] = ("time", daily.measured)
    for name in values:
        dataset[name].attrs = attributes(name)
    dataset["estimated"].attrs = {
        "units": "1",
        "long_name": "columns estimated",
        "comment": "How many of humidity, wind and radiation are stand-ins that day.",
    }
    dataset["filled"].attrs = {
        "long_name": "gap filled",
        "comment": "Whether a gap in the record was filled that day.",
    }
    dataset["measured"].attrs = {
        "long_name": "measured that day",
        "flag_masks": np.array(list(FLAGS.values()), dtype=np.int8),
        "flag_meanings": " ".join(FLAGS),
    }
    dataset.attrs = {
        "latitude": place["latitude"],
        "elevation": place["elevation"],
        "place": printable(record.place or Path(record.source).stem),
        "source": printable(record.source),
        "format": record.format,
        "rain_day": rule,
        "et0_method": method,
        "columns_read": [printable(name) for name in read],
        "columns_ignored": [printable(name) for name in record.ignored],
        "assumptions": [printable(sentence) for sentence in sentences],
    }
    return dataset
