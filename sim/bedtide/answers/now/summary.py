"""What to do this week: every figure that is told of one bed, the list of several, what is kept."""

from __future__ import annotations

import datetime
import hashlib
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide import __version__
from bedtide.answers.now.fit import DOUBT, Fit, Morning, doubt_of
from bedtide.answers.now.forecast import (
    HORIZON,
    OVER_LIP,
    Days,
    Outlook,
    Reading,
    Standing,
    Walk,
    ends,
    full_on,
    outlook,
    over_lip,
    walk,
)
from bedtide.balance import rests_on
from bedtide.bed import dead_storage, fitted_bed, level_of, plan_area
from bedtide.files import replacing
from bedtide.report.templates import render
from bedtide.statistics import percentile
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import pandas as pd

    from bedtide.units import System

ODDS: Final = (0.05, 0.5, 0.95)
"""Shares of the past years: between the first and the last of them lie 9 in 10 [1]."""

_ONE_IN_TWENTY: Final = 1.645  # standard errors above the middle, of a normal spread
_DAY: Final = datetime.timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class Case:
    """How it would go on with the days of one past year."""

    year: int | None  # None where the forecast goes as far as is looked
    fill: str | None
    fill_litres: float | None
    empty: str | None


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """Usable water at the end of a day, if nobody fills; 9 in 10 years lie between."""

    date: str
    usable_litres_low: float
    usable_litres: float
    usable_litres_high: float


@dataclass(frozen=True, kw_only=True)
class Unseen:
    """A day on which no overflow was seen, and what would have run out [L]."""

    date: str
    litres: float


@dataclass(frozen=True, kw_only=True)
class Now:
    """Every figure that is told of a bed that stands, its unit in its name.

    A date that is None lies beyond the days that were looked at.
    """

    bedtide_version: str
    bed: str
    weather_place: str
    weather_source: str
    weather_doubts: tuple[str, ...]
    weather_to: str  # last day of the record
    recent_days: int  # after it that are over, as a service has them [d]
    today: str  # the day after these
    known_from: str  # reading, fill, notes or record: what the store is known from
    known_on: str | None  # day of that reading or fill, or of the last note
    notes_before: int  # notes of days before the record, left out
    level_cm: float
    store_litres: float
    usable_litres: float
    usable_full_litres: float  # what is usable with the store full
    rule: str
    fill: str | None  # in the middle one of the years
    fill_earliest: str | None  # 9 in 10 years lie between
    fill_latest: str | None
    fill_litres: float | None
    empty: str | None  # day on which the usable water is gone, if nobody fills
    empty_earliest: str | None
    empty_latest: str | None
    thirst: float  # what the plants of one bed in twenty drink at least, times what is described
    fill_if_thirsty: str | None  # in the middle year, with such plants
    empty_if_thirsty: str | None
    cases_with_fill: int
    forecast_days: int
    forecast_to: str | None
    forecast_source: str
    forecast_overlap_days: int  # days of the forecast that the record has itself
    years: tuple[int, ...]
    days_ahead: int
    crops_left_out: tuple[str, ...]
    balance_error_mm: float
    assumptions: tuple[str, ...]
    cases: tuple[Case, ...]
    ahead: tuple[Ahead, ...]
    over_lip: tuple[str, ...] = ()  # days on which it stood well above the outlet
    unseen_overflow: tuple[Unseen, ...] = ()
    fit: Fit | None = None
    stick: tuple[Reading, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class Task:
    """A day on which beds want filling."""

    day: str
    beds: tuple[str, ...]
    litres: float


@dataclass(frozen=True, kw_only=True)
class Round:
    """Several beds: which to fill on which day."""

    tasks: tuple[Task, ...]
    days_ahead: int
    beds: tuple[Now, ...]

    @property
    def later(self) -> list[str]:
        """Beds that want no fill on the days looked at."""
        return [each.bed for each in self.beds if each.fill is None]


def now_of(
    standing: Standing,
    days: Days,
    *,
    fit: Fit | None = None,
    stick: tuple[Reading, ...] | None = None,
) -> Now:
    """Figures of a bed on the day after its record, from what is known of its store."""
    bed, known, weather, forecast = standing.bed, standing.known, days.record, days.forecast
    first, last = ends(weather)
    doubt = math.hypot(doubt_of("exposure"), doubt_of("crop coefficients"))
    if fit is not None:  # readings that agree with nothing leave no more doubt than none
        doubt = min(fit.demand_error / fit.demand, DOUBT["demand"])
    thirst = float(np.exp(_ONE_IN_TWENTY * doubt))
    thirsty = fitted_bed(bed, demand=thirst)
    walked = walk([bed, thirsty], weather, known)
    fills = [each.day for each in known if each.what in ("lip", "added")]
    counted = fills[-1] + _DAY if fills and bed.watering.when == "every n days" else first
    found, dry = (
        outlook(each, days, walked.state.columns(slice(at, at + 1)), counted=counted)
        for at, each in enumerate((bed, thirsty))
    )
    litres = plan_area(bed) * 1e3
    store = float(walked.state.open_water[0])
    full = full_on(found.today, bed)[1]
    dead = min(dead_storage(bed), full)
    some = found.poured[~np.isnan(found.poured)]
    usable = _odds(np.maximum(found.left - dead, 0.0) * litres)
    dates = _dates(found, "fill") | _dates(found, "empty")
    rests = rests_on([bed], weather)
    of_forecast = {} if forecast is None else forecast.attrs
    told = [each for each in of_forecast.get("assumptions", ()) if each not in rests["assumptions"]]
    return Now(
        bedtide_version=__version__,
        bed=bed.name,
        weather_place=rests["weather_place"],
        weather_source=rests["weather_source"],
        weather_doubts=tuple(rests["weather_doubts"]),
        weather_to=str(last - days.recent * _DAY),
        recent_days=days.recent,
        today=str(found.today),
        known_from=standing.known_from,
        known_on=str(known[-1].day) if known else None,
        notes_before=standing.notes_before,
        level_cm=float(level_of(store, bed)) * 100,
        store_litres=store * litres,
        usable_litres=max(store - dead, 0.0) * litres,
        usable_full_litres=(full - dead) * litres,
        rule=bed.watering.when,
        fill_litres=float(percentile(some, 0.5)) * litres if dates["fill"] is not None else None,
        thirst=thirst,
        fill_if_thirsty=_dates(dry, "fill")["fill"],
        empty_if_thirsty=_dates(dry, "empty")["empty"],
        cases_with_fill=some.size,
        forecast_days=found.forecast,
        forecast_to=str(last + found.forecast * _DAY) if found.forecast else None,
        forecast_source=str(of_forecast.get("place") or of_forecast.get("source", "")),
        forecast_overlap_days=days.overlap,
        years=found.years,
        days_ahead=found.left.shape[0],
        crops_left_out=found.dropped,
        balance_error_mm=max(walked.error, found.error) * 1e3,
        assumptions=(*rests["assumptions"], *(f"Forecast: {each}" for each in told)),
        cases=tuple(
            Case(
                year=year,
                fill=_date(found, fill),
                fill_litres=None if np.isnan(poured) else poured * litres,
                empty=_date(found, empty),
            )
            for year, fill, poured, empty in zip(
                found.years or (None,),
                found.fill.tolist(),
                found.poured.tolist(),
                found.empty.tolist(),
                strict=True,
            )
        ),
        ahead=tuple(
            Ahead(
                date=str(found.today + at * _DAY),
                usable_litres_low=low,
                usable_litres=middle,
                usable_litres_high=high,
            )
            for at, (low, middle, high) in enumerate(usable.T.tolist())
        ),
        over_lip=tuple(str(each.day) for each in known if over_lip(each, bed)),
        unseen_overflow=tuple(_unseen(standing, walked)),
        fit=fit,
        stick=stick,
        **dates,
    )


def _unseen(standing: Standing, walked: Walk) -> list[Unseen]:
    """Days on which no overflow was seen, though the water would have risen well over the lip.

    How far is by the mean of what each height below the lip holds.
    """
    bed, found = standing.bed, []
    for day in dict.fromkeys(each.day for each in standing.known if each.what == "dry"):
        at = (day - walked.begun).days
        ran_out = float(walked.overflow[at, 0]) if 0 <= at < len(walked.overflow) else 0.0
        lip, full = full_on(day, bed)
        if ran_out > 0.0 and ran_out * lip > OVER_LIP * full:
            found.append(Unseen(date=str(day), litres=ran_out * plan_area(bed) * 1e3))
    return found


def _odds(values: ArrayLike) -> NDArray[np.float64]:
    """What is early, middle and late among the cases, along the last axis."""
    return np.array([percentile(values, share) for share in ODDS])


def _dates(found: Outlook, what: Literal["fill", "empty"]) -> dict[str, str | None]:
    """Early, middle and late date of what befalls the cases, by the names of `Now`."""
    early, middle, late = _odds(getattr(found, what))
    days = {f"{what}_earliest": early, what: middle, f"{what}_latest": np.ceil(late)}
    return {name: _date(found, int(number)) for name, number in days.items()}


def _date(found: Outlook, number: int) -> str | None:
    return None if number >= found.left.shape[0] else str(found.today + number * _DAY)


def round_of(beds: Sequence[Now]) -> Round:
    """The list of several beds by day."""
    days = sorted({each.fill for each in beds if each.fill is not None})
    tasks = []
    for day in days:
        due = [each for each in beds if each.fill == day]
        litres = sum(each.fill_litres or 0.0 for each in due)
        tasks.append(Task(day=day, beds=tuple(each.bed for each in due), litres=litres))
    return Round(tasks=tuple(tasks), days_ahead=HORIZON, beds=tuple(beds))


# --- what is written and drawn ----------------------------------------------------------------


def calendar_text(beds: Sequence[Now], units: System, made: datetime.datetime) -> bytes:
    """One event of a whole day for the next fill of each bed that wants one.

    The event of a bed has the same name whenever it is asked for, and one `made` later a greater
    number, so that a phone puts it in the place of the older one. A day without hours is the same
    in every time zone.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//bedtide//now//EN")
    calendar.add("version", "2.0")
    for name in ("name", "x-wr-calname"):  # RFC 7986, and what phones read; else the file's name
        calendar.add(name, f"Fill {beds[0].bed}" if len(beds) == 1 else "Beds to fill")
    for bed in beds:
        if bed.fill is None:
            continue
        day = datetime.date.fromisoformat(bed.fill)
        title, about = render("answers/now/event.j2", units=units, s=bed).split("\n\n")
        event = Event()
        event.add("uid", f"{hashlib.sha256(bed.bed.encode()).hexdigest()[:16]}@bedtide")
        event.add("dtstamp", made)
        event.add("sequence", int(made.timestamp()) // 60)
        event.add("dtstart", day)
        event.add("dtend", day + datetime.timedelta(days=1))
        event.add("summary", title)
        event.add("description", about)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def write_calendar(path: Path, beds: Sequence[Now], units: System) -> None:
    """Write the calendar."""
    with replacing(path) as temporary:
        temporary.write_bytes(calendar_text(beds, units, datetime.datetime.now(datetime.UTC)))


def table_of_cases(beds: Sequence[Now]) -> pd.DataFrame:
    """One row a bed and past year."""
    import pandas as pd

    found = pd.DataFrame([{"bed": each.bed} | asdict(case) for each in beds for case in each.cases])
    return found.rename(columns={"fill_litres": "fill_L"})


def series_of(told: Now, units: System) -> dict[str, Any]:
    """What a page draws: usable water of the days ahead, levels of the mornings of a fit.

    The days ahead are those until it is gone in nearly every year, and a few more.
    """
    last = told.empty_latest or told.ahead[-1].date
    shown = told.ahead[: sum(day.date <= last for day in told.ahead) + 2]
    litres, cm = (1.0, 1.0) if units == "metric" else (US_GALLON * 1e3, INCH * 100)
    course = _drawn(shown, litres) | {"full": [told.usable_full_litres / litres]}
    return {"course": course, "learned": told.fit and _drawn(told.fit.mornings, cm)}


def _drawn(rows: Sequence[Ahead | Morning], size: float) -> dict[str, list[Any]]:
    """The values of each field, in the reader's units."""
    found: dict[str, list[Any]] = {}
    for row in rows:
        for name, each in asdict(row).items():
            found.setdefault(name, []).append(each / size if isinstance(each, float) else each)
    return found
