"""A block of places with all around the column, against the bare column; ET0 of the places."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from bedtide import dryness, example_bed, refills, water_account, wetness
from bedtide.balance import readable, run_many
from bedtide.column import move
from bedtide.weather import Options, ready_places, reference_et
from cases import inputs_of, record

_AS_READ = {
    "tmax": 1.0, "tmin": 1.0, "vapour_pressure": 1.0, "wind_speed": 1.0, "solar_radiation": 1.0,
    "rain": 1000.0,
}  # fmt: skip


class Block:
    """Three beds at some places; the weather of each is that of the example, some degrees off."""

    def setup(self, places: int = 20, years: int = 30) -> None:
        """Weather as a grid gives it, not yet checked; demand for the bare column."""
        bed = example_bed()
        fewer = replace(bed, plantings=bed.plantings[:1])
        self.beds = [bed, fewer, replace(bed, start_level=0.4)]
        weather, off = record(years), np.linspace(-2.0, 0.0, places)
        values = {
            name: (
                ("place", "time"),
                np.array([weather[name].values * factor + (name == "tmin") * each for each in off]),
                {"name": name, "unit": "1"},
            )
            for name, factor in _AS_READ.items()
        }
        spots = {
            "latitude": weather.attrs["latitude"] - np.linspace(0.0, 5.0, places),
            "longitude": np.zeros(places),
            "elevation": np.linspace(0.0, 500.0, places),
            "place_name": np.array([str(at) for at in range(places)], dtype=object),
        }
        self.block = xr.Dataset(
            values,
            coords={
                "time": weather["time"],
                "place": np.arange(places),
                **{name: ("place", value) for name, value in spots.items()},
            },
            attrs={"wind_height": 2.0},
        )
        self.ready = ready_places(self.block, Options())
        self.first = weather["time"].values[0].astype("datetime64[D]").item()
        self.days = weather.sizes["time"]
        self.bed_days = places * len(self.beds) * self.days
        self.place_days = places * self.days
        self.demand = run_many(
            self.beds, self.ready, [self.first], days=self.days, threads=1
        ).demand

    def fresh(self) -> None:
        """What the bare column takes, which it changes."""
        self.inputs = inputs_of(
            self.beds, self.ready, [self.first], days=self.days, demand=self.demand
        )

    def time_column(self) -> None:
        """The column alone."""
        move(*self.inputs, threads=1)

    def time_block(self) -> None:
        """Checks, estimates, ET0, demand, column, audit and readings."""
        ready = ready_places(self.block, Options())
        run = run_many(self.beds, ready, [self.first], days=self.days, threads=1)
        season = readable(run, ready)
        for reading in (refills, wetness, dryness, water_account):
            reading(season)

    def time_et0(self) -> np.ndarray:
        """ET0 of all places at once."""
        return reference_et(self.ready).values

    def time_et0_one_by_one(self) -> np.ndarray:
        """ET0 of one place after the other."""
        places = range(self.ready.sizes["place"])
        return np.stack([reference_et(self.ready.isel(place=at)).values for at in places])
