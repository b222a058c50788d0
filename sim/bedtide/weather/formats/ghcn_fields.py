"""Elements, flags and hours of reading of the global daily set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bedtide.weather.formats.common import Field, failed
from bedtide.weather.record import RainDay, Record, days_text

__all__ = ["ELEMENTS", "FIELDS", "NAME", "TENTHS", "apply_flags", "rain_day_of"]

NAME = "global daily set (US climate data centre)"
TENTHS = (
    Field("TMAX", "tmax", "0.1 degC", 0.1),
    Field("TMIN", "tmin", "0.1 degC", 0.1),
    Field("PRCP", "rain", "0.1 mm", 0.1),
    Field("AWND", "wind_speed", "0.1 m/s", 0.1),
    Field("TSUN", "sunshine", "min", 1 / 60),
    Field("ADPT", "dew_point", "0.1 degC", 0.1),
    Field("RHAV", "rh_mean", "%"),
    Field("RHMX", "rh_max", "%"),
    Field("RHMN", "rh_min", "%"),
)
_METRIC = tuple(
    replace(f, unit=f.unit.replace("0.1 ", ""), factor=1.0) if f.unit.startswith("0.1") else f
    for f in TENTHS
)
_US = {
    "TMAX": ("degF", 5 / 9, -160 / 9),
    "TMIN": ("degF", 5 / 9, -160 / 9),
    "ADPT": ("degF", 5 / 9, -160 / 9),
    "PRCP": ("in", 25.4, 0.0),
    "AWND": ("mph", 0.44704, 0.0),
}
_STANDARD = tuple(
    replace(f, unit=_US[f.name][0], factor=_US[f.name][1], offset=_US[f.name][2])
    if f.name in _US
    else f
    for f in TENTHS
)
FIELDS = {"tenths": TENTHS, "metric": _METRIC, "standard": _STANDARD}
ELEMENTS = (*(f.name for f in TENTHS), "MDPR", "DAPR")


def apply_flags(record: Record, flags: Mapping[str, tuple[list[str], ...]]) -> None:
    """Leave out what failed a check; count traces and presumed zeros."""
    for field in TENTHS:
        measured, quality = flags.get(field.name, ([], []))
        if field.quantity not in record.columns or not quality:
            continue
        bad = np.asarray([flag not in ("", "9999") for flag in quality], dtype=bool)
        failed(record, field.quantity, bad, "the service's own checks doubt it")
        if field.name == "PRCP":
            zero = record.columns["rain"].values == 0
            traces = int((zero & np.asarray([m == "T" for m in measured], dtype=bool)).sum())
            presumed = int((zero & np.asarray([m == "P" for m in measured], dtype=bool)).sum())
            if traces:
                record.notes.append(f"Rain marked as a trace counts as none: {traces} times.")
            if presumed:
                record.notes.append(
                    f"Rain of {days_text(presumed, of=record.source)} is missing and was presumed "
                    "to be none by the service."
                )


def rain_day_of(station: str, observed: list[str], record: Record) -> RainDay:
    """By the hour at which the gauge was read; else by the kind of station."""
    hours = Counter(text.zfill(4) for text in observed if text.isdigit())
    if hours:
        hour, _ = hours.most_common(1)[0]
        total = sum(hours.values())
        morning = sum(count for h, count in hours.items() if "0001" <= h <= "1200")
        if morning not in (0, total):
            record.notes.append(
                f"The rain gauge of {record.source} was not read at one time of day throughout; "
                f"most often at {hour}."
            )
        return "to morning" if "0001" <= hour <= "1200" else "midnight"
    volunteer = station.startswith(("USC", "US1", "ASN", "CA00"))
    return "to morning" if volunteer and not station.startswith("CA") else "midnight"
