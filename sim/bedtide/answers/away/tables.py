"""Tables of a stay away: its figures under their keys, one row a case, one row a day."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.away.calendar_tables import calendar_summary
from bedtide.answers.away.parts import days_or_none
from bedtide.many import chance, percentile
from bedtide.report.doubt_words import doubt_figures
from bedtide.units import System

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    import xarray as xr

    from bedtide.many import Doubt

__all__ = ["away_days", "away_summary", "away_table"]

_LITRE = 1e-3  # m3
_US_GALLON = 3.785411784e-3  # m3


def away_summary(
    stay: xr.Dataset,
    *,
    calendar: xr.Dataset | None = None,
    ranges: Mapping[str, Doubt] | None = None,
) -> dict[str, Any]:
    """Every figure that is printed of a stay away, under stable keys: litres and days.

    Answers: the same as the printed lines, for a program to read.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    calendar : Dataset, dims (leave, year), optional
        As :func:`bedtide.answers.away.leave_dates.away_calendar` gives it.
    ranges : mapping of Doubt, optional
        As :func:`bedtide.answers.away.ranges.away_ranges` gives them.

    Returns
    -------
    dict
        Keys as docs/away.md lists them; None for days means more than ``days_followed``.
    """
    attrs = stay.attrs
    leave, days = datetime.date.fromisoformat(attrs["leave"]), int(attrs["days_away"])
    litres = float(stay["plan_area"]) / _LITRE
    base = stay.isel(measure=0)
    lasted, empty, half = (
        base[name].to_numpy() for name in ("days_lasted", "days_to_empty", "days_to_half")
    )
    years = stay["year"].to_numpy()
    happened = int(base["cases_lasting"])
    through = chance(happened, lasted.size, independent=int(attrs["independent_years"]))
    return {
        "bedtide_version": attrs["bedtide_version"],
        "bed": attrs["title"],
        "weather_place": attrs["weather_place"],
        "weather_source": attrs["weather_source"],
        "leave": attrs["leave"],
        "back": (leave + datetime.timedelta(days=days)).isoformat(),
        "days_away": days,
        "days_followed": int(attrs["days_followed"]),
        "spin_up_days": int(attrs["spin_up_days"]),
        "kept_before": attrs["kept"],
        "growing": list(attrs["growing"]),
        "plantings_of_other_years": list(attrs["plantings_of_other_years"]),
        "start_level_percent": float(attrs["start_level"]) * 100,
        "start_litres": float(stay["start_open_water"] - stay["dead_storage"]) * litres,
        "reservoir_litres": float(stay["capacity"]) * litres,
        "reservoir_litres_out_of_reach": float(
            np.minimum(stay["dead_storage"], stay["capacity"]) * litres
        ),
        "years": int(attrs["independent_years"]),
        "first_year": int(years.min()),
        "last_year": int(years.max()),
        "years_with_gaps": [int(year) for year in attrs["years_with_gaps"]],
        "cases": int(lasted.size),
        "days_safe": days_or_none(base["days_safe"]),
        "days_middle": days_or_none(base["days_middle"]),
        "days_shortest": days_or_none(lasted.min()),
        "days_longest": days_or_none(lasted.max()),
        "cases_lasting": happened,
        "chance_percent": through.share * 100,
        "chance_low_percent": through.low * 100,
        "chance_high_percent": through.high * 100,
        **_spread("days_to_empty", empty),
        **_spread("days_from_empty_to_short", _after(lasted, empty)),
        **_spread("days_from_short_to_half", _after(half, lasted)),
        "cases_empty": int(np.isfinite(empty).sum()),
        "cases_short": int(np.isfinite(lasted).sum()),
        "cases_short_before_empty": int((lasted < empty).sum()),
        "cases_short_even_if_filled": int((base["days_short_anyway"] > 0).sum()),
        "days_short_even_if_filled": float(base["days_short_anyway"].mean()),
        "case_list": _case_list(stay),
        "chances": _chances(stay),
        "shade_percent": float(attrs["shade"]) * 100,
        "drum_litres": float(attrs["drum"]) / _LITRE,
        "measures": [_measure(stay, at) for at in range(stay.sizes["measure"])],
        "measures_left_out": list(attrs["measures_left_out"]),
        "calendar": None if calendar is None else calendar_summary(calendar),
        "range": None if ranges is None else {k: doubt_figures(d) for k, d in ranges.items()},
        "balance_error_mm": float(attrs["balance_error"]) * 1e3,
        "assumptions": list(attrs["assumptions"]),
    }


def away_table(stay: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a case and change, units in the names of the columns.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    units : {"metric", "us"}
        Litres or US gallons.

    Returns
    -------
    DataFrame
        Columns as docs/away.md lists them; days that equal `days_followed` are that or more.
    """
    import pandas as pd

    ending, size = ("US_gal", _US_GALLON) if units == "us" else ("L", _LITRE)
    cases, measures = stay.sizes["case"], stay.sizes["measure"]
    columns: dict[str, Any] = {
        "change": np.repeat(stay["measure"].to_numpy(), cases),
        "year": np.tile(stay["year"].to_numpy(), measures),
        "start": np.tile(stay["start"].to_numpy(), measures),
        "neighbouring_date": np.tile((stay["offset"].to_numpy() != 0).astype(int), measures),
    }
    followed = float(stay.attrs["days_followed"])
    for name in ("days_lasted", "days_to_half", "days_to_empty"):
        columns[name] = np.minimum(stay[name].to_numpy(), followed).reshape(-1)
    columns["days_followed"] = followed
    through = stay["days_lasted"].to_numpy() >= stay.attrs["days_away"]
    columns["lasted_all_days"] = through.reshape(-1).astype(int)
    columns[f"water_brought_{ending}"] = stay["water_brought"].to_numpy().reshape(-1) / size
    columns["days_short_even_if_filled"] = stay["days_short_anyway"].to_numpy().reshape(-1)
    return pd.DataFrame(columns)


def away_days(stay: xr.Dataset) -> pd.DataFrame:
    """One row for each number of days away: in how many cases each change lasts that long.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.

    Returns
    -------
    DataFrame
        Columns as docs/away.md lists them.
    """
    import pandas as pd

    days = stay["day"].to_numpy()
    columns: dict[str, Any] = {"days_away": days}
    for at, name in enumerate(stay["measure"].to_numpy()):
        lasted = stay["days_lasted"].to_numpy()[at]
        columns[f"lasting_{str(name).replace(' ', '_').replace('+', '_and_')}"] = (
            lasted[None, :] >= days[:, None]
        ).sum(axis=1)
    columns["cases"] = stay.sizes["case"]
    return pd.DataFrame(columns)


def _measure(stay: xr.Dataset, at: int) -> dict[str, Any]:
    """Figures of one change."""
    row = stay.isel(measure=at)
    safe, as_is = days_or_none(row["days_safe"]), days_or_none(stay["days_safe"][0])
    brought = row["water_brought"].to_numpy() / _LITRE
    leave = datetime.date.fromisoformat(stay.attrs["leave"])
    visit = float(row["visit_day"])
    dates = {
        name: None
        if np.isnan(visit)
        else (leave + datetime.timedelta(days=int(row[name]))).isoformat()
        for name in ("visit_day", "visit_day_first", "visit_day_last")
    }
    helped = bool((brought > 0).any())
    return {
        "measure": str(row["measure"].item()),
        "days_safe": safe,
        "days_gained": None if safe is None or as_is is None else safe - as_is,
        "days_middle": days_or_none(row["days_middle"]),
        "cases_lasting": int(row["cases_lasting"]),
        "visit_date": dates["visit_day"],
        "visit_from": dates["visit_day_first"],
        "visit_to": dates["visit_day_last"],
        "litres_median": float(percentile(brought, 0.5)) if helped else None,
        "litres_p90": float(percentile(brought, 0.9)) if helped else None,
    }


def _case_list(stay: xr.Dataset) -> list[dict[str, Any]]:
    """Every case of the bed as it is, the shortest first."""
    lasted, empty = (
        stay[name].isel(measure=0).to_numpy() for name in ("days_lasted", "days_to_empty")
    )
    starts = stay["start"].to_numpy().astype("datetime64[D]")
    order = np.lexsort((starts, lasted))
    return [
        {
            "year": int(stay["year"].to_numpy()[at]),
            "start": str(starts[at]),
            "days_lasted": days_or_none(lasted[at]),
            "days_to_empty": days_or_none(empty[at]),
        }
        for at in order
    ]


def _chances(stay: xr.Dataset) -> list[dict[str, Any]]:
    """In how many cases the bed as it is lasts each number of days."""
    lasted = stay["days_lasted"].isel(measure=0).to_numpy()
    share = stay["lasting_share"].isel(measure=0).to_numpy()
    return [
        {
            "days": int(day),
            "cases_lasting": int((lasted >= day).sum()),
            "chance_percent": float(share[at]) * 100,
        }
        for at, day in enumerate(stay["day"].to_numpy())
    ]


def _spread(name: str, values: NDArray[np.float64]) -> dict[str, Any]:
    """Median, 10th and 90th percentile; None where there are none, or beyond what was followed."""
    known = values[~np.isnan(values)]
    return {
        f"{name}_{ending}": days_or_none(percentile(known, share)) if known.size else None
        for ending, share in (("median", 0.5), ("p10", 0.1), ("p90", 0.9))
    }


def _after(later: NDArray[np.float64], sooner: NDArray[np.float64]) -> NDArray[np.float64]:
    """Days from one to the other where both came in that order; NaN elsewhere."""
    both = np.isfinite(later) & np.isfinite(sooner)
    between = np.subtract(later, sooner, out=np.full(later.shape, np.nan), where=both)
    return np.where(between >= 0.0, between, np.nan)
