"""What a stay away and its calendar come to: every figure that is told."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bedtide.many import FEW_YEARS, SELDOM, Range
from bedtide.report.results import figure, rests_of, rows_of
from bedtide.statistics import HIGH, LOW, chance, finite_or_none, percentile

if TYPE_CHECKING:
    import xarray as xr

_LITRE = 1e-3  # m3
_NAMED = 4  # years named at each end


@dataclass(frozen=True, kw_only=True)
class Case:
    """One start of the bed as it is; None is longer than was followed."""

    year: int = figure("year")
    start: str = figure("start")
    days_lasted: float | None = figure("days_lasted", whole=True)
    days_to_empty: float | None = figure("days_to_empty", whole=True)


@dataclass(frozen=True, kw_only=True)
class DaysAway:
    """In how many cases the bed as it is lasts a number of days."""

    days: int = figure("day")
    cases_lasting: int
    chance_percent: float = figure("lasting_share")


@dataclass(frozen=True, kw_only=True)
class Change:
    """One way of leaving the bed; None for days is longer than was followed."""

    measure: str = figure("measure")
    days_safe: float | None = figure("days_safe", whole=True)
    days_gained: float | None
    days_middle: float | None = figure("days_middle", whole=True)
    cases_lasting: int = figure("cases_lasting")
    visit_date: str | None
    visit_from: str | None  # of one visit
    visit_to: str | None
    second_visit_date: str | None
    litres_median: float | None
    litres_p90: float | None

    @property
    def clears(self) -> bool:
        """Whether a crop is given up for it."""
        return "harvest " in self.measure


@dataclass(frozen=True, kw_only=True)
class Leaving:
    """The days that a bed lasts from one date of the year; None is longer than was followed."""

    leave: str = figure("leave")  # month and day, as 07-10
    days_safe: float | None = figure("days_safe", whole=True)
    days_safe_low: float | None = figure("days_safe_low", whole=True)  # days_safe without a range
    days_safe_high: float | None = figure("days_safe_high", whole=True)
    days_middle: float | None = figure("days_middle", whole=True)
    cases: int = figure("case_count")
    growing: bool
    season_left: float | None = figure("season_left", whole=True)  # days until nothing grows

    @property
    def to_the_end(self) -> bool:
        """Whether it lasts because its crops are over before."""
        return self.days_safe is None and self.season_left is not None


class MonthOfLeaving(NamedTuple):
    """Of the dates of a month those on which the bed lasts shortest and longest."""

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

    @property
    def case(self) -> str:
        """What each run is called: a year, or one of the starts around it."""
        return "year" if self.sure else "start"

    def up_to(self, days: float | None) -> float:
        """Days as they are drawn and ordered: what is longer than was followed ends there."""
        return self.days_followed if days is None else days


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
    def cases(self) -> int:
        """Cases of the date that has most."""
        return max(date.cases for date in self.dates)

    @property
    def by_month(self) -> list[MonthOfLeaving]:
        """Each month that has a case, with its worst and its best date, from midwinter on."""

        def days(date: Leaving) -> float:
            return self.up_to(date.days_safe)

        found = []
        for month in (*range(self.first_month, 13), *range(1, self.first_month)):
            dates = [d for d in self.dates if d.cases and int(d.leave[:2]) == month]
            if dates:
                bare = not any(date.growing for date in dates)
                found.append(
                    MonthOfLeaving(month, min(dates, key=days), max(dates, key=days), bare)
                )
        return found


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
        for days, cases in groupby(self.case_list, key=lambda case: case.days_lasted):
            if days is None or named >= _NAMED or (found and days >= self.days_away):
                break
            years = [case.year for case in cases]
            found.append((days, list(dict.fromkeys(years))))
            named += len(years)
        return found

    @property
    def best_years(self) -> list[int]:
        """Years of the longest cases."""
        longest = self.case_list[-1].days_lasted
        return list(dict.fromkeys(c.year for c in self.case_list if c.days_lasted == longest))

    @property
    def changes(self) -> list[Change]:
        """The bed as it is, then its changes, the best first, those that give up a crop last."""

        def days(number: float | None) -> float:
            return self.days_followed + 1 if number is None else number

        def order(c: Change) -> tuple[float, ...]:
            return -c.clears, days(c.days_safe), c.cases_lasting, days(c.days_middle)

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


# --- figures from the Datasets ----------------------------------------------------------------


def summary_of(
    stay: xr.Dataset, *, calendar: Calendar | None = None, ranges: dict[str, Range] | None = None
) -> Stay:
    """Figures of a stay away, with its calendar and its ranges where these were worked out."""
    attrs, base = stay.attrs, stay.isel(measure=0)
    ordered = base.isel(case=np.lexsort((base["start"], base["days_lasted"])))  # the shortest first
    names = ("days_lasted", "days_to_empty", "days_to_half", "days_short_anyway")
    lasted, empty, half, anyway = (ordered[name].to_numpy() for name in names)
    lasting, years = int(base["cases_lasting"]), int(attrs["independent_years"])
    through = chance(lasting, lasted.size, independent=years)
    litres = float(stay["plan_area"]) / _LITRE
    held, dead, begun = (
        float(stay[name]) for name in ("capacity", "dead_storage", "start_open_water")
    )
    days = stay["day"].to_numpy()
    listed = ("growing", "plantings_of_other_years", "plantings_while_away", "measures_left_out")
    lists: dict[str, Any] = {name: tuple(attrs[name]) for name in listed}
    return Stay(
        **_rests_on(stay),
        **lists,
        leave=attrs["leave"],
        back=str(_dates(stay, [attrs["days_away"]])[0]),
        days_away=attrs["days_away"],
        kept_before=attrs["kept"],
        season_ends=attrs["season_ends"] or None,
        start_litres=(begun - dead) * litres,
        reservoir_litres=held * litres,
        reservoir_litres_out_of_reach=min(dead, held) * litres,
        years_with_gaps=tuple(map(int, attrs["years_with_gaps"])),
        cases=lasted.size,
        days_safe=finite_or_none(base["days_safe"]),
        days_middle=finite_or_none(base["days_middle"]),
        days_shortest=finite_or_none(lasted[0]),
        days_longest=finite_or_none(lasted[-1]),
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
        case_list=rows_of(Case, ordered, "case"),
        chances=rows_of(
            DaysAway, base, "day", cases_lasting=(lasted >= days[:, None]).sum(axis=1).tolist()
        ),
        shade_percent=attrs["shade"] * 100,
        drum_litres=attrs["drum"] / _LITRE,
        measures=_changes(stay),
        calendar=calendar,
        range=ranges,
    )


def _changes(stay: xr.Dataset) -> tuple[Change, ...]:
    safe, brought = stay["days_safe"].to_numpy(), stay["water_brought"].to_numpy() / _LITRE
    gained = np.subtract(safe, safe[0], out=np.full_like(safe, np.nan), where=np.isfinite(safe))
    litres: Any = percentile(brought, (0.5, HIGH)).astype(object)
    litres[:, (brought <= 0).all(axis=1)] = None
    return rows_of(
        Change,
        stay,
        "measure",
        days_gained=list(map(finite_or_none, gained)),
        visit_date=_dates(stay, stay["visit_day"]),
        visit_from=_dates(stay, stay["visit_day_first"]),
        visit_to=_dates(stay, stay["visit_day_last"]),
        second_visit_date=_dates(stay, stay["second_visit_day"]),
        litres_median=litres[0],
        litres_p90=litres[1],
    )


def calendar_of(calendar: xr.Dataset) -> Calendar:
    """Figures of the days safe by the date of leaving."""
    ranged, cases = "days_safe_low" in calendar, calendar["case_count"].to_numpy()
    safe = calendar["days_safe"]
    ends = {} if ranged else {"days_safe_low": safe, "days_safe_high": safe}
    growing = (calendar["plantings_standing"].to_numpy() > 0).tolist()
    dates = rows_of(Leaving, calendar.assign(ends), "leave", growing=growing)
    fewest = dates[int(np.argmin(np.where(cases > 0, safe, np.inf)))]
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


def _dates(stay: xr.Dataset, numbers: Any) -> list[str | None]:
    """Dates some days after leaving; None for NaN."""
    leave = datetime.date.fromisoformat(stay.attrs["leave"])
    return [
        None if np.isnan(days) else str(leave + datetime.timedelta(days=int(days)))
        for days in numbers
    ]


def _spread(name: str, values: np.ndarray) -> dict[str, Any]:
    """Median, 10th and 90th percentile; None where there are none, or beyond what was followed."""
    found = percentile(values, (0.5, LOW, HIGH))
    return {
        f"{name}_{end}": finite_or_none(each)
        for end, each in zip(("median", "p10", "p90"), found, strict=True)
    }


def _after(later: np.ndarray, sooner: np.ndarray) -> np.ndarray:
    """Days from one to the other where both came in that order; NaN elsewhere."""
    both = np.isfinite(later) & np.isfinite(sooner) & (later >= sooner)
    between = np.full(later.shape, np.nan)
    between[both] = later[both] - sooner[both]
    return between


# --- how it goes from day to day --------------------------------------------------------------


class Band(NamedTuple):
    """A share on each day [%]: the middle case, from which end on and how far eight in ten lie."""

    low: list[float]
    middle: list[float]
    over: list[float]


def course_of(stay: xr.Dataset) -> dict[str, Band]:
    """Of what the mix can reach, and of what the plants want, on each day of the bed as it is."""
    found = {}
    for name, share in (("store", stay["store_share"]), ("need", stay["uptake_factor"])):
        values = 100.0 * share.transpose("day", "case").to_numpy()
        low, middle, high = percentile(values, (LOW, 0.5, HIGH))
        found[name] = Band(low.tolist(), middle.tolist(), (high - low).tolist())
    return found
