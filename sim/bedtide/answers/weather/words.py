"""What `bedtide weather` says of a record: the figures, and the sentences made from them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide import __version__
from bedtide.report.words import assumed_lines, days_text, month_name, plain_table, span_text
from bedtide.units import System, depth_text
from bedtide.weather import WeatherReport, weather_report

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["weather_lines", "weather_summary"]

_SHOWN = 20  # suspicious stretches printed; all of them are in weather.json
_MM_PER_INCH = 25.4
_RAIN_DAYS = {
    "midnight": "rain is that from midnight to midnight",
    "to morning": "rain is that of the 24 hours up to the morning, so it was put on the day before",
    "from morning": "rain is that of the 24 hours from the morning on",
}


def weather_summary(weather: xr.Dataset, *, report: WeatherReport | None = None) -> dict[str, Any]:
    """Figures of a weather record under stable keys, as weather.json holds them.

    Parameters
    ----------
    weather : Dataset, dims (time,)
        A daily record, as `read_weather` returns it.
    report : WeatherReport, optional
        What `weather_report` says of it, if that is at hand.

    Returns
    -------
    dict
        Keys as docs/outputs.md lists them; depths in mm, temperatures in degrees Celsius.
    """
    found = report or weather_report(weather)
    days = found.days
    return {
        "bedtide_version": __version__,
        "place": found.place,
        "source": found.source,
        "format": found.format,
        "latitude": found.latitude,
        "elevation_m": found.elevation,
        "from": str(found.first),
        "to": str(found.last),
        "days": days,
        "grade": found.verdict.grade,
        "reasons": list(found.verdict.reasons),
        "rain_mm_a_year": found.rain_year if days >= 365 else None,
        "reference_evapotranspiration_mm_a_year": found.et0_year if days >= 365 else None,
        "days_with_rain": int((weather["rain"] > 0).sum()),
        "rain_day": found.rain_day,
        "days_filled": found.filled_days,
        "days_estimated": int((weather["estimated"] > 0).sum()),
        "days_estimated_humidity": found.estimated_days["humidity"],
        "days_estimated_wind": found.estimated_days["wind"],
        "days_estimated_radiation": found.estimated_days["radiation"],
        "columns_read": list(found.columns_read),
        "columns_not_used": list(found.columns_ignored),
        "assumptions": list(found.assumptions),
        "months": _months(weather, found),
        "spells": [
            {
                "kind": spell.kind,
                "days": spell.window,
                "from": str(spell.first),
                "to": str(spell.last),
                "rain_mm": spell.rain * 1e3,
                "reference_evapotranspiration_mm": spell.et0 * 1e3,
            }
            for spell in found.spells
        ],
        "suspicious": [
            {
                "kind": one.kind,
                "from": str(one.first),
                "to": str(one.last),
                "sentence": one.sentence,
            }
            for one in found.suspicions
        ],
    }


def weather_lines(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """All that `bedtide weather` prints of a record, the verdict first.

    Parameters
    ----------
    figures : mapping
        As `weather_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    days = figures["days"]
    estimated = figures["days_estimated"]
    lines = [
        f"{figures['place'] or figures['source']}: a {figures['grade']} record. "
        f"{' '.join(figures['reasons'])}",
        "",
        f"{span_text(figures['from'], figures['to'])}: {days_text(days)}, "
        f"{_place(figures, units)}.",
        _rain_line(figures, units),
        f"The {_RAIN_DAYS[figures['rain_day']]}.",
        "Gaps: none."
        if not figures["days_filled"]
        else f"Gaps: {days_text(figures['days_filled'])} were missing and filled.",
        "Estimated: nothing that the plants' use of water depends on."
        if not estimated
        else f"Estimated: on {days_text(estimated)} ({_share(estimated, days)}) the plants' use of "
        "water rests on an estimate.",
        "",
        f"Read from {figures['source']} ({figures['format']}):",
        *(f"  {column}" for column in figures["columns_read"]),
    ]
    if figures["columns_not_used"]:
        lines.append(f"Not used: {', '.join(figures['columns_not_used'])}.")
    lines += assumed_lines(figures["assumptions"])
    lines += [
        "",
        "Mean of each month (ET0 is what well-watered short grass uses; in brackets the least and "
        "the most of the years; low and high of a day):",
        *_month_lines(figures["months"], units),
    ]
    for kind, title in (("wet", "Wettest spells"), ("dry", "Driest spells, by ET0 less rain")):
        spells = [spell for spell in figures["spells"] if spell["kind"] == kind]
        if spells:
            lines += ["", f"{title}:", *_spell_lines(spells, units)]
    if figures["suspicious"]:
        lines += ["", "Suspicious:"]
        lines += [f"  {one['sentence']}" for one in figures["suspicious"][:_SHOWN]]
        more = len(figures["suspicious"]) - _SHOWN
        if more > 0:
            lines.append(f"  and {more:,} more")
    return lines


def _months(weather: xr.Dataset, report: WeatherReport) -> list[dict[str, Any]]:
    """Rows of the mean year; a month that is never whole is scaled up from its days."""
    rows = []
    for row in weather_months(weather):
        number = row["month"]
        length = _month_length(number)
        whole = number in report.months.index
        figures: dict[str, Any] = {
            "month": number,
            "days": row["days"],
            "whole_months": int(report.months.loc[number, "months"]) if whole else 0,
        }
        for name, key in (("rain", "rain_mm"), ("et0", "reference_evapotranspiration_mm")):
            mean = float(report.months.loc[number, name]) if whole else row[name] * length * 1e3
            figures[key] = mean
            for end in ("least", "most"):
                figures[f"{key}_{end}"] = (
                    float(report.months.loc[number, f"{name}_{end}"]) if whole else None
                )
        figures["lowest_temperature_C"] = row["tmin"]
        figures["highest_temperature_C"] = row["tmax"]
        rows.append(figures)
    return rows


def _rain_line(figures: Mapping[str, Any], units: System) -> str:
    share = f"Rain on {_share(figures['days_with_rain'], figures['days'])} of the days"
    if figures["rain_mm_a_year"] is None:
        return f"{share}."
    rain, et0 = (
        depth_text(figures[key] / 1e3, units)
        for key in ("rain_mm_a_year", "reference_evapotranspiration_mm_a_year")
    )
    return f"{share}, {rain} a year; ET0 {et0} a year."


def _month_lines(months: list[dict[str, Any]], units: System) -> list[str]:
    size, digits, small, warm = (_MM_PER_INCH, 1, "in", "F") if units == "us" else (1, 0, "mm", "C")
    several = any(row["whole_months"] > 1 for row in months)

    def depth(row: Mapping[str, Any], key: str) -> list[str]:
        cells = [f"{row[key] / size:.{digits}f}"]
        if several:
            least, most = (row[f"{key}_{end}"] for end in ("least", "most"))
            span = f"({least / size:.{digits}f} to {most / size:.{digits}f})" if most else ""
            cells.append(span if row["whole_months"] > 1 else "")
        return cells

    rows = []
    for row in months:
        et0 = row["reference_evapotranspiration_mm"]
        rows.append(
            [
                month_name(row["month"]),
                f"{row['days']:,}",
                *depth(row, "rain_mm"),
                *depth(row, "reference_evapotranspiration_mm"),
                f"{et0 / size / _month_length(row['month']):.{digits + 1}f}",
                *(
                    f"{value * 1.8 + 32 if units == 'us' else value:.0f}"
                    for value in (row["lowest_temperature_C"], row["highest_temperature_C"])
                ),
            ]
        )
    spread = [""] if several else []
    head = ["Month", "Days", f"Rain {small}", *spread, f"ET0 {small}", *spread, "a day"]
    return plain_table([*head, f"Low {warm}", f"High {warm}"], rows)


def _spell_lines(spells: list[dict[str, Any]], units: System) -> list[str]:
    small = "in" if units == "us" else "mm"
    rows = [
        [
            days_text(spell["days"]),
            *(
                depth_text(spell[key] / 1e3, units).split(" ")[0]
                for key in ("rain_mm", "reference_evapotranspiration_mm")
            ),
            span_text(spell["from"], spell["to"]),
        ]
        for spell in spells
    ]
    return plain_table(["Length", f"Rain {small}", f"ET0 {small}", "When"], rows)


def _place(figures: Mapping[str, Any], units: System) -> str:
    latitude, elevation = figures["latitude"], figures["elevation_m"]
    side = "north" if latitude >= 0 else "south"
    height = f"{elevation / 0.3048:,.0f} ft" if units == "us" else f"{elevation:,.0f} m"
    return f"{abs(latitude):.1f} degrees {side}, {height} above the sea"


def _month_length(month: int) -> float:
    return 28.25 if month == 2 else 30.0 if month in (4, 6, 9, 11) else 31.0


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.0f} %"


def weather_months(weather: xr.Dataset) -> list[dict[str, Any]]:
    """Rain, reference evapotranspiration and temperatures of each month of the mean year.

    Parameters
    ----------
    weather : Dataset, dims (time,)
        A daily record.

    Returns
    -------
    list of dict
        ``month`` from 1 to 12; ``rain`` and ``et0`` [m d-1], ``tmin`` and ``tmax`` [degC], each the
        mean over the days of that month that the record holds; ``days``, how many these are.
        Months that it does not hold are left out.
    """
    months = weather["time"].to_numpy().astype("datetime64[M]").astype(int) % 12
    days = np.bincount(months, minlength=12)
    means = {
        name: np.bincount(months, weights=weather[name].to_numpy(), minlength=12)
        / np.maximum(days, 1)
        for name in ("rain", "et0", "tmin", "tmax")
    }
    return [
        {"month": number + 1, "days": int(days[number])}
        | {name: float(values[number]) for name, values in means.items()}
        for number in range(12)
        if days[number]
    ]
