"""What a stay away and its calendar come to: every figure that is told."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.many import FEW_YEARS, SELDOM, Range
from bedtide.report.results import rests_of
from bedtide.statistics import chance, finite_or_none, percentile

if TYPE_CHECKING:
    import xarray as xr

_LITRE = 1e-3  # m3
_NAMED = 4  # years named at each end


@dataclass(frozen=True, kw_only=True)
class Case:
    """One start of the bed as it is; None is longer than was followed."""

    year: int
    start: str
    days_lasted: float | None
    days_to_empty: float | None


@dataclass(frozen=True, kw_only=True)
class DaysAway:
    """In how many cases the bed as it is lasts a number of days."""

    days: int
    cases_lasting: int
    chance_percent: float


@dataclass(frozen=True, kw_only=True)
class Change:
    """One way of leaving the bed; None for days is longer than was followed."""

    measure: str
    days_safe: float | None
    days_gained: float | None
    days_middle: float | None
    cases_lasting: int
    visit_date: str | None
    visit_from: str | None  # of one visit
    visit_to: str | None
    second_visit_date: str | None
    litres_median: float | None
    litres_p90: float | None

    @property
    def parts(self) -> list[str]:
        """The changes that it joins, visits once."""
        return list(dict.fromkeys(self.measure.split("+")))

    @property
    def clears(self) -> bool:
        """Whether a crop is given up for it."""
        return "harvest " in self.measure


@dataclass(frozen=True, kw_only=True)
class Leaving:
    """The days that a bed lasts from one date of the year; None is longer than was followed."""

    leave: str  # month and day, as 07-10
    days_safe: float | None
    days_safe_low: float | None  # as days_safe itself without a range
    days_safe_high: float | None
    days_middle: float | None
    cases: int
    growing: bool
    season_left: float | None  # days until nothing grows any more

    @property
    def to_the_end(self) -> bool:
        """Whether it lasts because its crops are over before."""
        return self.days_safe is None and self.season_left is not None


@dataclass(frozen=True, kw_only=True)
class MonthOfLeaving:
    """Of the dates of a month those on which the bed lasts longest and shortest."""

    month: int
    worst: Leaving
    best: Leaving
    bare: bool  # nothing grows on any of them


@dataclass(frozen=True, kw_only=True)
class _Rests:
    """What every answer rests on."""

    bedtide_version: str
    bed: str
    weather_place: str
    weather_source: str
    weather_doubts: tuple[str, ...]
    years: int
    first_year: int
    last_year: int
    days_followed: int
    spin_up_days: int
    start_level_percent: float
    balance_error_mm: float
    assumptions: tuple[str, ...]

    @property
    def sure(self) -> bool:
        """Whether there are years enough to speak of nine in ten."""
        return self.years >= FEW_YEARS


@dataclass(frozen=True, kw_only=True)
class Calendar(_Rests):
    """Every figure that is told of the days safe by the date of leaving."""

    pooled_days: int
    first_month: int  # of the year as it is told: midwinter
    fewest_leave: str
    fewest_days_safe: float | None
    with_range: bool
    fewest_days_safe_low: float | None
    fewest_days_safe_high: float | None
    dates: tuple[Leaving, ...]

    @property
    def most_cases(self) -> int:
        """Cases of the dates that have most of them."""
        return max(date.cases for date in self.dates)

    @property
    def by_month(self) -> list[MonthOfLeaving]:
        """Each month that has a case, with its worst and its best date, from midwinter on."""

        def days(date: Leaving) -> float:
            return self.days_followed if date.days_safe is None else date.days_safe

        months = []
        for month in (*range(self.first_month, 13), *range(1, self.first_month)):
            dates = [d for d in self.dates if d.cases and int(d.leave[:2]) == month]
            if dates:
                worst, best = min(dates, key=days), max(dates, key=days)
                bare = not any(date.growing for date in dates)
                months.append(MonthOfLeaving(month=month, worst=worst, best=best, bare=bare))
        return months


@dataclass(frozen=True, kw_only=True)
class Stay(_Rests):
    """Every figure that is told of a stay away; None for days is longer than was followed."""

    leave: str
    back: str
    days_away: int
    kept_before: str
    growing: tuple[str, ...]
    season_ends: str | None  # day from which nothing grows, where that ends what was followed
    plantings_of_other_years: tuple[str, ...]
    plantings_while_away: tuple[str, ...]
    start_litres: float
    reservoir_litres: float
    reservoir_litres_out_of_reach: float
    years_with_gaps: tuple[int, ...]
    cases: int
    days_safe: float | None
    days_middle: float | None
    days_shortest: float | None
    days_longest: float | None
    cases_lasting: int
    chance_percent: float
    chance_low_percent: float
    chance_high_percent: float
    days_to_empty_median: float | None
    days_to_empty_p10: float | None
    days_to_empty_p90: float | None
    days_from_empty_to_short_median: float | None
    days_from_empty_to_short_p10: float | None
    days_from_empty_to_short_p90: float | None
    days_from_short_to_half_median: float | None
    days_from_short_to_half_p10: float | None
    days_from_short_to_half_p90: float | None
    cases_empty: int
    cases_short: int
    cases_short_before_empty: int
    cases_short_even_if_filled: int
    days_short_even_if_filled: float
    case_list: tuple[Case, ...]
    chances: tuple[DaysAway, ...]
    shade_percent: float
    drum_litres: float
    measures: tuple[Change, ...]
    measures_left_out: tuple[str, ...]
    calendar: Calendar | None
    range: dict[str, Range] | None

    @property
    def mix_fails(self) -> bool:
        """Whether the plants go short in more than a few cases even filled every morning."""
        return self.cases_short_even_if_filled > SELDOM * self.cases

    @property
    def worst_years(self) -> list[tuple[float, list[int]]]:
        """Days and years of the shortest cases, the shortest first, as long as few are named."""
        found: list[tuple[float, list[int]]] = []
        named = 0
        for days in dict.fromkeys(case.days_lasted for case in self.case_list):
            if days is None or named >= _NAMED or (found and days >= self.days_away):
                break
            found.append((days, self._years_of(days)))
            named += sum(case.days_lasted == days for case in self.case_list)
        return found

    @property
    def best_years(self) -> list[int]:
        """Years of the longest cases."""
        return self._years_of(self.case_list[-1].days_lasted)

    @property
    def changes(self) -> list[Change]:
        """The bed as it is, then its changes, the best first, those that give up a crop last."""
        beyond = self.days_followed + 1

        def order(change: Change) -> tuple[float, ...]:
            safe, middle = change.days_safe, change.days_middle
            return (
                -change.clears,
                beyond if safe is None else safe,
                change.cases_lasting,
                beyond if middle is None else middle,
            )

        return [self.measures[0], *sorted(self.measures[1:], key=order, reverse=True)]

    @property
    def no_change_helps(self) -> bool:
        """Whether all changes leave the figures as they are."""
        return len({(c.days_safe, c.days_middle, c.cases_lasting) for c in self.measures}) == 1

    @property
    def left_out(self) -> list[str]:
        """Changes that would change nothing; joined ones only where there are no others."""
        alone = [name for name in self.measures_left_out if "+" not in name]
        return alone or list(self.measures_left_out)

    def _years_of(self, days: float | None) -> list[int]:
        return list(dict.fromkeys(c.year for c in self.case_list if c.days_lasted == days))


# --- figures from the Datasets ----------------------------------------------------------------


def summary_of(
    stay: xr.Dataset,
    *,
    calendar: Calendar | None = None,
    ranges: dict[str, Range] | None = None,
) -> Stay:
    """Figures of a stay away, with its calendar and its ranges where these were worked out."""
    attrs, base = stay.attrs, stay.isel(measure=0)
    litres = float(stay["plan_area"]) / _LITRE
    lasted, empty, half = (
        base[f"days_{name}"].to_numpy() for name in ("lasted", "to_empty", "to_half")
    )
    anyway = base["days_short_anyway"]
    lasting = int(base["cases_lasting"])
    through = chance(lasting, lasted.size, independent=int(attrs["independent_years"]))
    same = ("leave", "days_away", "growing", "plantings_of_other_years", "plantings_while_away")
    return Stay(
        **_rests_on(stay),
        **{name: _plain(attrs[name]) for name in (*same, "measures_left_out")},
        back=_day(stay, attrs["days_away"]) or "",
        kept_before=attrs["kept"],
        season_ends=attrs["season_ends"] or None,
        start_litres=float(stay["start_open_water"] - stay["dead_storage"]) * litres,
        reservoir_litres=float(stay["capacity"]) * litres,
        reservoir_litres_out_of_reach=float(np.minimum(stay["dead_storage"], stay["capacity"]))
        * litres,
        years_with_gaps=tuple(int(year) for year in attrs["years_with_gaps"]),
        cases=int(lasted.size),
        days_safe=finite_or_none(base["days_safe"]),
        days_middle=finite_or_none(base["days_middle"]),
        days_shortest=finite_or_none(lasted.min()),
        days_longest=finite_or_none(lasted.max()),
        cases_lasting=lasting,
        chance_percent=through.share * 100,
        chance_low_percent=through.low * 100,
        chance_high_percent=through.high * 100,
        **_spread("days_to_empty", empty),
        **_spread("days_from_empty_to_short", _after(lasted, empty)),
        **_spread("days_from_short_to_half", _after(half, lasted)),
        cases_empty=int(np.isfinite(empty).sum()),
        cases_short=int(np.isfinite(lasted).sum()),
        cases_short_before_empty=int((lasted < empty).sum()),
        cases_short_even_if_filled=int((anyway > 0).sum()),
        days_short_even_if_filled=float(anyway.mean()),
        case_list=_cases(base),
        chances=tuple(
            DaysAway(
                days=int(day),
                cases_lasting=int((lasted >= day).sum()),
                chance_percent=float(share) * 100,
            )
            for day, share in zip(stay["day"].values, base["lasting_share"].values, strict=True)
        ),
        shade_percent=float(attrs["shade"]) * 100,
        drum_litres=float(attrs["drum"]) / _LITRE,
        measures=tuple(_change(stay, at) for at in range(stay.sizes["measure"])),
        calendar=calendar,
        range=ranges,
    )


def calendar_of(calendar: xr.Dataset) -> Calendar:
    """Figures of the days safe by the date of leaving."""
    ranged = "days_safe_low" in calendar
    ends = {f"days_safe_{e}": f"days_safe_{e}" if ranged else "days_safe" for e in ("low", "high")}
    plain = {name: name for name in ("days_safe", "days_middle", "season_left")}
    figures = {name: calendar[source].to_numpy() for name, source in (plain | ends).items()}
    cases = calendar["case_count"].to_numpy()
    dates = tuple(
        Leaving(
            leave=str(leave),
            cases=int(cases[at]),
            growing=bool(calendar["plantings_standing"][at] > 0),
            **{name: finite_or_none(values[at]) for name, values in figures.items()},
        )
        for at, leave in enumerate(calendar["leave"].to_numpy())
    )
    fewest = dates[int(np.argmin(np.where(cases > 0, figures["days_safe"], np.inf)))]
    return Calendar(
        **_rests_on(calendar),
        pooled_days=int(calendar.attrs["pooled_days"]),
        first_month=int(calendar.attrs["first_month"]),
        fewest_leave=fewest.leave,
        fewest_days_safe=fewest.days_safe,
        with_range=ranged,
        fewest_days_safe_low=fewest.days_safe_low,
        fewest_days_safe_high=fewest.days_safe_high,
        dates=dates,
    )


def _rests_on(found: xr.Dataset) -> dict[str, Any]:
    attrs, years = found.attrs, found["year"].to_numpy()
    return rests_of(found) | {
        "bed": attrs["title"],
        "years": int(attrs["independent_years"]),
        "first_year": int(years.min()),
        "last_year": int(years.max()),
        "days_followed": int(attrs["days_followed"]),
        "spin_up_days": int(attrs["spin_up_days"]),
        "start_level_percent": float(attrs["start_level"]) * 100,
    }


def _plain(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _day(stay: xr.Dataset, number: Any) -> str | None:
    """Date some days after leaving; None for NaN."""
    if np.isnan(number):
        return None
    leave = datetime.date.fromisoformat(stay.attrs["leave"])
    return (leave + datetime.timedelta(days=int(number))).isoformat()


def _change(stay: xr.Dataset, at: int) -> Change:
    row = stay.isel(measure=at)
    safe, as_is = finite_or_none(row["days_safe"]), finite_or_none(stay["days_safe"][0])
    brought = row["water_brought"].to_numpy() / _LITRE
    helped = bool((brought > 0).any())
    return Change(
        measure=str(row["measure"].item()),
        days_safe=safe,
        days_gained=None if safe is None or as_is is None else safe - as_is,
        days_middle=finite_or_none(row["days_middle"]),
        cases_lasting=int(row["cases_lasting"]),
        visit_date=_day(stay, row["visit_day"]),
        visit_from=_day(stay, row["visit_day_first"]),
        visit_to=_day(stay, row["visit_day_last"]),
        second_visit_date=_day(stay, row["second_visit_day"]),
        litres_median=float(percentile(brought, 0.5)) if helped else None,
        litres_p90=float(percentile(brought, 0.9)) if helped else None,
    )


def _cases(base: xr.Dataset) -> tuple[Case, ...]:
    """Every case of the bed as it is, the shortest first."""
    lasted, empty = base["days_lasted"].to_numpy(), base["days_to_empty"].to_numpy()
    starts, years = base["start"].to_numpy().astype("datetime64[D]"), base["year"].to_numpy()
    return tuple(
        Case(
            year=int(years[at]),
            start=str(starts[at]),
            days_lasted=finite_or_none(lasted[at]),
            days_to_empty=finite_or_none(empty[at]),
        )
        for at in np.lexsort((starts, lasted))
    )


def _spread(name: str, values: NDArray[np.float64]) -> dict[str, Any]:
    """Median, 10th and 90th percentile; None where there are none, or beyond what was followed."""
    known = values[~np.isnan(values)]
    return {
        f"{name}_{ending}": finite_or_none(percentile(known, share)) if known.size else None
        for ending, share in (("median", 0.5), ("p10", 0.1), ("p90", 0.9))
    }


def _after(later: NDArray[np.float64], sooner: NDArray[np.float64]) -> NDArray[np.float64]:
    """Days from one to the other where both came in that order; NaN elsewhere."""
    both = np.isfinite(later) & np.isfinite(sooner) & (later >= sooner)
    between = np.full(later.shape, np.nan)
    between[both] = later[both] - sooner[both]
    return between
