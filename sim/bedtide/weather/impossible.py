"""Values that no weather can have: bounds, and columns that contradict one another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedtide.weather.humidity import saturation_pressure
from bedtide.weather.record import Column, Record

__all__ = ["drop_impossible", "impossible_rows"]

LIMITS: dict[str, tuple[float, float]] = {
    "tmax": (-90.0, 60.0),
    "tmin": (-90.0, 60.0),
    "temperature": (-90.0, 60.0),
    "dew_point": (-100.0, 40.0),
    "vapour_pressure": (0.0, 7.4),
    "rh_max": (0.0, 100.0),
    "rh_min": (0.0, 100.0),
    "rh_mean": (0.0, 100.0),
    "wind_speed": (0.0, 75.0),
    "solar_radiation": (0.0, 50.0),
    "sunshine": (0.0, 24.0),
    "rain": (0.0, 2000.0),
    "rain_counter": (0.0, 2000.0),
}
"""What weather on Earth stays within [in the units of `record.UNITS`]; common practice."""
_RATE_LIMIT = {"solar_radiation": 1500 * 0.0864}
_SLACK = 0.5


def impossible_rows(record: Record) -> dict[str, tuple[Column, NDArray[np.int64], str]]:
    """Rows whose values no weather can have, by the name of the check.

    Parameters
    ----------
    record : Record
        One file.

    Returns
    -------
    dict of tuple
        The column, the rows, and what was expected in words.
    """
    found: dict[str, tuple[Column, NDArray[np.int64], str]] = {}
    columns = record.columns
    for key, column in columns.items():
        low, high = LIMITS[key]
        if not record.daily and column.rate:
            high = _RATE_LIMIT.get(key, high)
        with np.errstate(invalid="ignore"):
            bad = np.flatnonzero((column.values < low - 1e-9) | (column.values > high + 1e-9))
        if len(bad):
            found[key] = (column, bad, _between(column, low, high))
    low_name = "tmin" if "tmin" in columns else "temperature"
    high_name = "tmax" if "tmax" in columns else "temperature"
    with np.errstate(invalid="ignore", over="ignore"):
        if "tmax" in columns and "tmin" in columns:
            bad = np.flatnonzero(columns["tmax"].values < columns["tmin"].values)
            if len(bad):
                found["tmax below tmin"] = (columns["tmax"], bad, "at least the lowest temperature")
        if "rh_max" in columns and "rh_min" in columns:
            bad = np.flatnonzero(columns["rh_max"].values < columns["rh_min"].values)
            if len(bad):
                found["rh_max below rh_min"] = (columns["rh_max"], bad, "at least the lowest")
        if high_name in columns:
            warm = columns[high_name].values
            for key in ("dew_point", "vapour_pressure"):
                if key not in columns:
                    continue
                most = warm + _SLACK if key == "dew_point" else saturation_pressure(warm + _SLACK)
                bad = np.flatnonzero(columns[key].values > most)
                bad = np.setdiff1d(bad, found[key][1]) if key in found else bad
                if len(bad):
                    expected = "no more than saturated air of that temperature holds"
                    found[f"{key} above saturation"] = (columns[key], bad, expected)
        mean = columns.get("temperature")
        if mean is not None and low_name == "tmin" and high_name == "tmax":
            over = mean.values > columns["tmax"].values + _SLACK
            under = mean.values < columns["tmin"].values - _SLACK
            bad = np.flatnonzero(over | under)
            if len(bad):
                found["mean outside"] = (mean, bad, "between the lowest and the highest")
    return found


def _between(column: Column, low: float, high: float) -> str:
    """Bounds in the file's own unit."""
    low, high = ((bound - column.offset) / column.factor for bound in (low, high))
    return f"between {low:.4g} and {high:.4g} {column.unit}"


def drop_impossible(record: Record) -> None:
    """Turn impossible values into "not measured", counted in the record's notes.

    Parameters
    ----------
    record : Record
        Changed in place.
    """
    for kind, (column, rows, _) in impossible_rows(record).items():
        column.values[rows] = np.nan
        if kind == "tmax below tmin":
            record.columns["tmin"].values[rows] = np.nan
        if kind == "rh_max below rh_min":
            record.columns["rh_min"].values[rows] = np.nan
        record.notes.append(
            f"Impossible values of {column.name} were left out of {record.source}: {len(rows)}, "
            f"the first on line {record.lines[rows[0]]}."
        )
