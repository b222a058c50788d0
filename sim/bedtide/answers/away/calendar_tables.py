"""Tables of the days safe by the date of leaving: figures under their keys, one row a date."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.away.parts import days_or_none

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = ["calendar_summary", "calendar_table"]


def calendar_summary(calendar: xr.Dataset) -> dict[str, Any]:
    """Every figure that is printed of the days safe by the date of leaving.

    Parameters
    ----------
    calendar : Dataset, dims (leave, year)
        As :func:`bedtide.answers.away.leave_dates.away_calendar` gives it.

    Returns
    -------
    dict
        Keys as docs/away.md lists them; ``dates`` with one mapping a date: ``leave`` (month-day),
        ``days_safe``, ``days_middle`` (None for ``days_followed`` or more), ``cases``,
        ``growing`` (whether anything stands in the bed); ``days_safe_low`` and ``_high`` are
        ``days_safe`` itself without a range.
    """
    attrs = calendar.attrs
    safe = calendar["days_safe"].to_numpy()
    count = calendar["case_count"].to_numpy()
    dates = calendar["leave"].to_numpy()
    fewest = int(np.argmin(np.where(count > 0, safe, np.inf)))
    ranged = "days_safe_low" in calendar
    low, high = (
        calendar[f"days_safe_{end}"].to_numpy() if ranged else safe for end in ("low", "high")
    )
    years = calendar["year"].to_numpy()
    return {
        "bedtide_version": attrs["bedtide_version"],
        "bed": attrs["title"],
        "weather_place": attrs["weather_place"],
        "weather_source": attrs["weather_source"],
        "years": int(attrs["independent_years"]),
        "first_year": int(years.min()),
        "last_year": int(years.max()),
        "days_followed": int(attrs["days_followed"]),
        "start_level_percent": float(attrs["start_level"]) * 100,
        "spin_up_days": int(attrs["spin_up_days"]),
        "pooled_days": int(attrs["pooled_days"]),
        "fewest_leave": str(dates[fewest]),
        "fewest_days_safe": days_or_none(safe[fewest]),
        "with_range": ranged,
        "fewest_days_safe_low": days_or_none(low[fewest]),
        "fewest_days_safe_high": days_or_none(high[fewest]),
        "dates": [
            {
                "leave": str(dates[at]),
                "days_safe": days_or_none(safe[at]),
                "days_safe_low": days_or_none(low[at]),
                "days_safe_high": days_or_none(high[at]),
                "days_middle": days_or_none(calendar["days_middle"][at]),
                "cases": int(count[at]),
                "growing": bool(calendar["plantings_standing"][at] > 0),
            }
            for at in range(dates.size)
        ],
        "balance_error_mm": float(attrs["balance_error"]) * 1e3,
        "assumptions": list(attrs["assumptions"]),
    }


def calendar_table(calendar: xr.Dataset) -> pd.DataFrame:
    """One row for each date of leaving, one column for each year.

    Parameters
    ----------
    calendar : Dataset, dims (leave, year)
        As :func:`bedtide.answers.away.leave_dates.away_calendar` gives it.

    Returns
    -------
    DataFrame
        Columns as docs/away.md lists them; days that equal `days_followed` are that or more,
        a cell is empty where the record lacks the days.
    """
    import pandas as pd

    followed = float(calendar.attrs["days_followed"])
    columns: dict[str, Any] = {
        "leave": calendar["leave"].to_numpy(),
        "days_safe": np.minimum(calendar["days_safe"].to_numpy(), followed),
        **{
            name: np.minimum(calendar[name].to_numpy(), followed)
            for name in ("days_safe_low", "days_safe_high")
            if name in calendar
        },
        "days_middle": np.minimum(calendar["days_middle"].to_numpy(), followed),
        "days_followed": followed,
        "cases": calendar["case_count"].to_numpy(),
        "plantings_standing": calendar["plantings_standing"].to_numpy(),
    }
    for at, year in enumerate(calendar["year"].to_numpy()):
        columns[f"lasted_{year}"] = np.minimum(calendar["days_lasted"].to_numpy()[:, at], followed)
    return pd.DataFrame(columns)
