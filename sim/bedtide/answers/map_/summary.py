"""What a map comes to: every figure that is told of it, and the figures that are drawn."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide import __version__
from bedtide.constants import FAILS
from bedtide.many import BY_MONTH, FOLLOWED, Ask, suited, years_of
from bedtide.report.results import number
from bedtide.tables import attributes

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.answers.map_.run import Done

Array = NDArray[np.float64]

_LISTED: Final = 12  # places that are told one by one
_NAMED: Final = 12  # places left out that are named
_MONTHLY: Final = (f"interval_median{BY_MONTH}", f"interval_p10{BY_MONTH}")
_OF_PLACE: Final = ("frost_days", "last_frost", "first_frost")
ESTIMATED: Final = ("humidity", "wind", "radiation", "gaps")
"""What may not have been measured."""


class Figure(NamedTuple):
    """A figure of a bed that is drawn at each place, and told over all of them."""

    name: str  # as it is drawn
    own: str  # of `bedtide.many.place_figures`
    told: str = ""  # as the summary has it
    factor: float = 1.0  # from what is drawn to what is told
    title: str = ""  # of its sheet
    yearly: bool = False  # of a mean year where the run is long
    depth: bool = False  # of water, of which the volume is drawn


FIGURES: Final = (
    Figure("interval_median", "interval_median", "days_between_refills_median", 1.0,
           "Days between fills"),
    Figure("refill_count", "refill_count", "refills", 1.0, "Fills", yearly=True),
    Figure("refill_volume", "refill_volume", "refill_litres", 1e3, "Water poured in", yearly=True),
    Figure("rain_share", "rain_share", "rain_share_percent", 100.0, "Share that rain meets"),
    Figure("overflow", "overflow_total", "overflow_litres", 1e3, "Overflow", yearly=True,
           depth=True),
    Figure("rain_caught", "rain_in_total", yearly=True, depth=True),
    Figure("wet_days", "wet_days", "wet_days", 1.0, "Wet days", yearly=True),
    Figure("dry_days", "limited_days", "dry_days", 1.0, "Dry days", yearly=True),
    Figure("days_safe", "days_safe", "days_safe", 1.0, "Days it lasts, left alone"),
)  # fmt: skip
_BY_NAME: Final = {each.name: each for each in FIGURES}
_TOLD: Final = {each.told: each for each in FIGURES if each.told}


@dataclass(frozen=True, kw_only=True)
class Over:
    """A figure over the places: its ends, its middle, and where the ends are."""

    least: float
    median: float
    most: float
    least_at: str
    most_at: str


@dataclass(frozen=True, kw_only=True)
class MonthOver:
    """A month of the mean year in the middle of the places that are filled in it."""

    month: int
    places_filled: int
    days_between_refills_median: float | None
    days_between_refills_p10: float | None  # nine in ten gaps are at least this long


@dataclass(frozen=True, kw_only=True)
class BedOver:
    """One bed over all places; amounts as of a season: of a mean year in a long run."""

    bed: str
    places_suited: int
    places_failing: int  # roots lack air or water on more than a tenth of their days
    days_between_refills_median: Over | None
    refills: Over | None
    refill_litres: Over | None
    rain_share_percent: Over | None
    overflow_litres: Over | None
    wet_days: Over | None
    dry_days: Over | None
    days_safe: Over | None  # beyond the days followed it counts as these
    months: tuple[MonthOver, ...]


@dataclass(frozen=True, kw_only=True)
class Difference:
    """The second bed less the first, place by place, amounts as for a bed."""

    days_between_refills_median: Over | None
    refills: Over | None
    refill_litres: Over | None
    overflow_litres: Over | None
    wet_days: Over | None
    dry_days: Over | None
    days_safe: Over | None


@dataclass(frozen=True, kw_only=True)
class PlaceRow:
    """A place that is told by itself, a figure for each bed."""

    place: str
    latitude: float | None
    longitude: float | None
    suits: str | None
    days_between_refills_median: tuple[float | None, ...]
    refill_litres: tuple[float | None, ...]
    wet_days: tuple[float | None, ...]
    dry_days: tuple[float | None, ...]
    days_safe: tuple[float | None, ...]


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A place without figures."""

    place: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Map:
    """Every figure that is told of a map."""

    bedtide_version: str
    weather_source: str
    from_: str | None  # None for the whole of each record
    to: str | None
    leave: str | None
    days_followed: int
    places: int
    places_left_out: int
    places_none_suits: int
    mean_years: float  # of a place's run; 1.0 for one of up to 400 days
    chunks: int
    chunks_done_before: int
    beds: tuple[BedOver, ...]
    last_frost: Over | None  # day of a year without 29 February
    first_frost: Over | None
    estimated_percent: dict[str, float]  # share of all days, by what was estimated
    balance_error_mm: float
    assumptions: tuple[str, ...]
    listed: tuple[PlaceRow, ...]  # every place, where there are no more than 12
    left_out: tuple[LeftOut, ...]  # the first 12
    difference: Difference | None = None  # of two beds, the second less the first

    @property
    def period(self) -> str:
        """What amounts are of."""
        return "a year" if self.mean_years > 1.0 else "in all"

    @property
    def counted(self) -> int:
        """Places that have figures."""
        return self.places - self.places_left_out


def drawn_of(figures: xr.Dataset) -> xr.Dataset:
    """The figures that are told and drawn, of a mean year [SI], with the difference of two beds.

    Days that a bed lasts are at most those followed; what was estimated is a share of the days.
    """
    import xarray as xr

    years = years_of(figures["days"])
    found = xr.Dataset(coords=figures.coords).assign_coords(place_name=figures["place_name"])
    for each in FIGURES:
        if each.own in figures:
            area = figures["plan_area"] if each.depth else 1.0
            found[each.name] = figures[each.own] * area / (years if each.yearly else 1.0)
    if "days_safe" in figures:
        found["days_safe"] = figures["days_safe"].clip(max=FOLLOWED)
    for name in ("interval_p10", *_MONTHLY):
        found[name] = figures[name]
    for name in _OF_PLACE:
        found[name] = figures[name]
    for name in ESTIMATED:
        found[f"{name}_estimated"] = figures[_days_of(name)] / figures["days"].max("bed")
    if figures.sizes["bed"] == 2:
        for name in (_TOLD[field.name].name for field in fields(Difference)):
            if name in found:
                found[f"{name}_difference"] = found[name][1] - found[name][0]
    found["suited"] = ("place", suited(figures))
    for variable in found.data_vars:
        found[variable].attrs = _attributes(str(variable), figures)
    return found


def on_grid(drawn: xr.Dataset) -> bool:
    """Whether the places fill a grid of latitudes and longitudes, one place in each cell."""
    spots = np.stack([drawn["latitude"], drawn["longitude"]])
    rows, columns = (np.unique(each).size for each in spots)
    different = np.unique(spots, axis=1).shape[1]
    whole = rows * columns == different == drawn.sizes["place"] and min(rows, columns) > 1
    return whole and not np.isnan(spots).any()


def unstacked(drawn: xr.Dataset) -> xr.Dataset:
    """The same with latitude and longitude as dimensions, where the places fill a grid."""
    if not on_grid(drawn):
        return drawn
    found = drawn.reset_coords(["elevation", "place_name"]).set_index(
        place=["latitude", "longitude"]
    )
    found = found.unstack("place")
    for name in ("latitude", "longitude"):
        found[name].attrs = drawn[name].attrs
    return found


def _days_of(name: str) -> str:
    return "filled_days" if name == "gaps" else f"{name}_estimated_days"


def _attributes(name: str, figures: xr.Dataset) -> dict[str, Any]:
    """Attributes of a figure that is drawn; "a year" where it is divided by years."""
    if name == "suited":
        beds = figures["bed"].to_numpy().tolist()
        return {
            "long_name": "bed that suits",
            "flag_values": np.arange(-2, len(beds)),
            "flag_meanings": " ".join(
                re.sub(r"\W+", "_", each) for each in ("unfit weather", "none", *beds)
            ),
        }
    if name.endswith("_estimated"):
        what = name.removesuffix("_estimated")
        return {"long_name": f"share of days with {what} estimated", "units": "1"}
    bare = name.removesuffix("_difference").removesuffix(BY_MONTH)
    about = _BY_NAME.get(bare, Figure(bare, bare))
    found: dict[str, Any] = attributes(about.own)
    if about.depth:
        found["units"] = "m3"
    if about.yearly and bool((years_of(figures["days"]) > 1.0).any()):
        found |= {"units": f"{found['units']} year-1".replace("1 year", "year")}
        found["long_name"] += ", mean of a year"
    if name.endswith("_difference"):
        first, second = figures["bed"].to_numpy().tolist()
        found["long_name"] += f": {second} less {first}"
    return found


# --- the summary --------------------------------------------------------------------------------


def summary_of(
    figures: xr.Dataset,
    drawn: xr.Dataset,
    done: Done,
    *,
    source: str,
    ask: Ask,
    assumptions: Sequence[str],
) -> Map:
    """Figures of a whole map, as :func:`drawn_of` has them, in litres, mm, days and percent."""
    unfit = figures["unfit"].to_numpy() != ""
    names = names_of(figures)
    fit = figures.isel(place=~unfit)
    days = float(fit["days"].sum()) / fit.sizes["bed"]
    return Map(
        bedtide_version=__version__,
        weather_source=source,
        from_=None if ask.first is None else str(ask.first),
        to=None if ask.last is None else str(ask.last),
        leave=None if ask.leave is None else str(ask.leave),
        days_followed=FOLLOWED,
        places=unfit.size,
        places_left_out=int(unfit.sum()),
        places_none_suits=int((drawn["suited"] == -1).sum()),
        mean_years=float(np.mean(years_of(fit["days"].to_numpy()))) if fit["days"].size else 1.0,
        chunks=done.chunks,
        chunks_done_before=done.before,
        beds=tuple(_bed(figures, drawn, at, names) for at in range(figures.sizes["bed"])),
        last_frost=_over(drawn["last_frost"], names),
        first_frost=_over(drawn["first_frost"], names),
        estimated_percent={
            name: 100.0 * float(fit[_days_of(name)].sum()) / days if days else 0.0
            for name in ESTIMATED
        },
        balance_error_mm=float(fit["balance_error"].max()) * 1e3 if days else 0.0,
        assumptions=tuple(assumptions),
        listed=tuple(_rows(drawn, names, ~unfit)) if unfit.size <= _LISTED else (),
        difference=_difference(drawn, names),
        left_out=tuple(
            LeftOut(place=names[at], reason=str(figures["unfit"].to_numpy()[at]))
            for at in np.flatnonzero(unfit)[:_NAMED]
        ),
    )


def names_of(figures: xr.Dataset) -> list[str]:
    """What each place is called: its name, or where it lies; both where two share a name."""
    given = [str(name) for name in figures["place_name"].to_numpy()]
    spots = list(zip(figures["latitude"].to_numpy(), figures["longitude"].to_numpy(), strict=True))
    where = [at_text(*spot) for spot in spots]
    plain = [f"{lat:.6g} {lon:.6g}" for lat, lon in spots]  # of a place that is read without a name
    alone = {n for n, count in Counter(given).items() if count == 1 and n} - set(plain)
    return [name if name in alone else at for name, at in zip(given, where, strict=True)]


def at_text(latitude: float, longitude: float) -> str:
    """Where a place lies.

    >>> at_text(36.5, -4.25)
    '36.5 N, 4.25 W'
    """
    parts = ((latitude, "NS"), (longitude, "EW"))
    return ", ".join(compass(value, ends) for value, ends in parts if not np.isnan(value))


def compass(degrees: float, ends: str) -> str:
    """A latitude or longitude with the end of the compass that it counts toward."""
    return f"{abs(round(degrees, 3)):g} {ends[0] if degrees >= 0 else ends[1]}"


def _bed(figures: xr.Dataset, drawn: xr.Dataset, at: int, names: list[str]) -> BedOver:
    own, read = drawn.isel(bed=at), figures.isel(bed=at)
    want, rooted = read["wet_days"] + read["limited_days"], read["rooted_days"]
    monthly = own[list(_MONTHLY)].transpose("month", "place")
    filled = (monthly[_MONTHLY[0]] > 0).sum("place").to_numpy().tolist()
    middles = [[number(each) for each in monthly[name].median("place")] for name in _MONTHLY]
    months = tuple(
        MonthOver(
            month=month,
            places_filled=places,
            days_between_refills_median=median,
            days_between_refills_p10=p10,
        )
        for month, places, median, p10 in zip(range(1, 13), filled, *middles, strict=True)
    )
    return BedOver(
        bed=str(own["bed"].item()),
        places_suited=int((drawn["suited"] == at).sum()),
        places_failing=int((want > FAILS * rooted).sum()),
        months=months,
        **{told: _over(own.get(e.name), names, e.factor) for told, e in _TOLD.items()},
    )


def _difference(drawn: xr.Dataset, names: list[str]) -> Difference | None:
    if drawn.sizes["bed"] != 2:
        return None
    about = {field.name: _TOLD[field.name] for field in fields(Difference)}
    return Difference(
        **{
            told: _over(drawn.get(f"{e.name}_difference"), names, e.factor)
            for told, e in about.items()
        }
    )


def _over(values: xr.DataArray | None, names: list[str], factor: float = 1.0) -> Over | None:
    """Ends and middle of a figure over the places; None where no place has it."""
    each = np.array(np.nan) if values is None else values.to_numpy() * factor
    if np.isnan(each).all():
        return None
    low, high = int(np.nanargmin(each)), int(np.nanargmax(each))
    return Over(
        least=float(each[low]),
        median=float(np.nanmedian(each)),
        most=float(each[high]),
        least_at=names[low],
        most_at=names[high],
    )


def _rows(drawn: xr.Dataset, names: list[str], fit: NDArray[np.bool_]) -> Iterator[PlaceRow]:
    beds = drawn["bed"].to_numpy().tolist()

    def each(told: str, at: int) -> tuple[float | None, ...]:
        about = _TOLD[told]
        if about.name not in drawn:
            return tuple(None for _ in beds)
        return tuple(number(value, about.factor) for value in drawn[about.name].isel(place=at))

    told = ("days_between_refills_median", "refill_litres", "wet_days", "dry_days", "days_safe")
    for at in np.flatnonzero(fit).tolist():
        chosen = int(drawn["suited"].to_numpy()[at])
        yield PlaceRow(
            place=names[at],
            latitude=number(drawn["latitude"][at]),
            longitude=number(drawn["longitude"][at]),
            suits=beds[chosen] if chosen >= 0 else None,
            **{name: each(name, at) for name in told},
        )
