"""The tables of a stay away and of its calendar, for its folder: Dataset in, rows out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.units import US_GALLON, System

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr


def table_of_cases(stay: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a change and case; days that equal `days_followed` are that or more."""
    import pandas as pd

    ending, size = ("US_gal", US_GALLON) if units == "us" else ("L", 1e-3)
    cases, measures = stay.sizes["case"], stay.sizes["measure"]
    followed = stay.attrs["days_followed"]
    columns: dict[str, Any] = {
        "change": np.repeat(stay["measure"].to_numpy(), cases),
        "year": np.tile(stay["year"].to_numpy(), measures),
        "start": np.tile(stay["start"].to_numpy(), measures),
        "neighbouring_date": np.tile((stay["offset"].to_numpy() != 0).astype(int), measures),
    }
    for name in ("days_lasted", "days_to_half", "days_to_empty"):
        columns[name] = np.minimum(stay[name].to_numpy(), followed).reshape(-1)
    through = stay["days_lasted"].to_numpy() >= stay.attrs["days_away"]
    return pd.DataFrame(
        columns
        | {
            "days_followed": float(followed),
            "lasted_all_days": through.reshape(-1).astype(int),
            f"water_brought_{ending}": stay["water_brought"].to_numpy().reshape(-1) / size,
            "days_short_even_if_filled": stay["days_short_anyway"].to_numpy().reshape(-1),
        }
    )


def table_of_days(stay: xr.Dataset) -> pd.DataFrame:
    """One row for each number of days away: in how many cases each change lasts that long."""
    import pandas as pd

    days = stay["day"].to_numpy()
    columns = {
        f"lasting_{str(row['measure'].item()).replace(' ', '_').replace('+', '_and_')}": (
            (row["days_lasted"].to_numpy()[None, :] >= days[:, None]).sum(axis=1)
        )
        for row in (stay.isel(measure=at) for at in range(stay.sizes["measure"]))
    }
    return pd.DataFrame({"days_away": days, **columns, "cases": stay.sizes["case"]})


def table_of_dates(calendar: xr.Dataset) -> pd.DataFrame:
    """One row a date of leaving, one column a year; empty where the record lacks the days."""
    import pandas as pd

    followed = float(calendar.attrs["days_followed"])
    days = ("days_safe", "days_safe_low", "days_safe_high", "days_middle")
    lasted = np.minimum(calendar["days_lasted"].to_numpy(), followed)
    return pd.DataFrame(
        {"leave": calendar["leave"].to_numpy()}
        | {n: np.minimum(calendar[n].to_numpy(), followed) for n in days if n in calendar}
        | {
            "days_followed": followed,
            "cases": calendar["case_count"].to_numpy(),
            "plantings_standing": calendar["plantings_standing"].to_numpy(),
        }
        | {f"lasted_{year}": lasted[:, at] for at, year in enumerate(calendar["year"].to_numpy())}
    )
