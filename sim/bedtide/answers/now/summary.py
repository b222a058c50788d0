"""What to do this week: every figure that is told of one bed, and the list of several."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from bedtide import __version__
from bedtide.answers.now.fit import DOUBT, OVER_LIP, Fit, Morning
from bedtide.answers.now.forecast import HORIZON, Known, Outlook, Walk, ends, full_on, outlook, walk
from bedtide.answers.now.stick import Reading
from bedtide.balance import rests_on
from bedtide.bed import Bed, dead_storage, fitted_bed, level_of, plan_area
from bedtide.many import percentile, priors
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.units import System

ODDS: Final = (0.05, 0.95)
"""Between which of the past years 9 in 10 lie [1]."""

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
    bed: Bed,
    weather: xr.Dataset,
    forecast: xr.Dataset | None,
    known: Sequence[Known],
    *,
    known_from: str,
    overlap: int = 0,
    recent: int = 0,
    notes_before: int = 0,
    fit: Fit | None = None,
    stick: tuple[Reading, ...] | None = None,
) -> Now:
    """Figures of a bed on the day after its record, from what is known of its store."""
    first, last = ends(weather)
    doubt = _demand_doubt()
    if fit is not None:  # readings that agree with nothing leave no more doubt than none
        doubt = min(fit.demand_error / fit.demand, DOUBT["demand"])
    thirst = float(np.exp(_ONE_IN_TWENTY * doubt))
    thirsty = fitted_bed(bed, demand=thirst, surface_supply=1.0, lift=1.0)
    walked = walk([bed, thirsty], weather, first, last, known)
    fills = [each.day for each in known if each.what in ("lip", "added")]
    counted = fills[-1] + _DAY if fills and bed.watering.when == "every n days" else first
    found, dry = (
        outlook(each, weather, forecast, walked.state.columns(slice(at, at + 1)), counted=counted)
        for at, each in enumerate((bed, thirsty))
    )
    litres = plan_area(bed) * 1e3
    store = float(walked.state.open_water[0])
    full = full_on(found.today, bed)[1]
    dead = min(dead_storage(bed), full)
    dates = _odds(found, "fill") | _odds(found, "empty")
    thirsty_dates = _odds(dry, "fill") | _odds(dry, "empty")
    some = found.poured[~np.isnan(found.poured)]
    return Now(
        bedtide_version=__version__,
        bed=bed.name,
        weather_to=str(last - recent * _DAY),
        recent_days=recent,
        today=str(found.today),
        known_from=known_from,
        known_on=str(known[-1].day) if known else None,
        notes_before=notes_before,
        level_cm=float(level_of(store, bed)) * 100,
        store_litres=store * litres,
        usable_litres=max(store - dead, 0.0) * litres,
        usable_full_litres=(full - dead) * litres,
        rule=bed.watering.when,
        fill_litres=float(percentile(some, 0.5)) * litres if dates["fill"] is not None else None,
        thirst=thirst,
        fill_if_thirsty=thirsty_dates["fill"],
        empty_if_thirsty=thirsty_dates["empty"],
        cases_with_fill=some.size,
        forecast_days=found.forecast,
        forecast_to=str(last + found.forecast * _DAY) if found.forecast else None,
        forecast_source="" if forecast is None else _source(forecast),
        forecast_overlap_days=overlap,
        years=found.years,
        days_ahead=found.left.shape[0],
        crops_left_out=found.dropped,
        balance_error_mm=max(walked.error, found.error) * 1e3,
        cases=tuple(_cases(found, litres)),
        ahead=tuple(_ahead(found, dead, litres)),
        over_lip=tuple(
            str(each.day)
            for each in known
            if each.what == "is"
            and float(level_of(each.water / plan_area(bed), bed))
            > full_on(each.day, bed)[0] + OVER_LIP
        ),
        unseen_overflow=tuple(_unseen(bed, walked, known)),
        fit=fit,
        stick=stick,
        **dates,
        **_rests(bed, weather, forecast),
    )


def _rests(bed: Bed, weather: xr.Dataset, forecast: xr.Dataset | None) -> dict[str, Any]:
    found = rests_on([bed], weather)
    told = [] if forecast is None else forecast.attrs.get("assumptions", [])
    more = [f"Forecast: {each}" for each in told if each not in found["assumptions"]]
    found["assumptions"] = (*found["assumptions"], *more)
    return found | {"weather_doubts": tuple(found["weather_doubts"])}


def _demand_doubt() -> float:
    """Standard deviation of the logarithm of what plants drink, by ``data/doubt.csv`` [1]."""
    both = (priors()[name] for name in ("exposure", "crop coefficients"))
    return float(np.hypot(*(np.log(each.high / each.low) / np.sqrt(12.0) for each in both)))


def _unseen(bed: Bed, walked: Walk, known: Sequence[Known]) -> list[Unseen]:
    """Days on which no overflow was seen, though the water would have risen well over the lip.

    How far is by the mean of what each height below the lip holds.
    """
    days = {each.day: (each.day - walked.begun).days for each in known if each.what == "dry"}
    found = []
    for day, at in days.items():
        ran_out = float(walked.overflow[at, 0]) if 0 <= at < len(walked.overflow) else 0.0
        lip, full = full_on(day, bed)
        if ran_out > 0.0 and ran_out * lip > OVER_LIP * full:
            found.append(Unseen(date=str(day), litres=ran_out * plan_area(bed) * 1e3))
    return found


def _source(weather: xr.Dataset) -> str:
    """The place of a record, or where it has none its file."""
    return str(weather.attrs.get("place", "") or weather.attrs.get("source", ""))


def _odds(found: Outlook, what: Literal["fill", "empty"]) -> dict[str, Any]:
    """Early, middle and late date of the days of the cases, by the names of `Now`."""
    days = (found.fill if what == "fill" else found.empty).astype(float)
    early, middle, late = (percentile(days, share) for share in (ODDS[0], 0.5, ODDS[1]))
    at = {
        f"{what}_earliest": np.floor(early),
        what: np.floor(middle),
        f"{what}_latest": np.ceil(late),
    }
    return {name: _date(found, int(number)) for name, number in at.items()}


def _date(found: Outlook, number: int) -> str | None:
    return None if number >= found.left.shape[0] else str(found.today + number * _DAY)


def _cases(found: Outlook, litres: float) -> list[Case]:
    return [
        Case(
            year=year, fill=_date(found, int(fill)), fill_litres=much, empty=_date(found, int(gone))
        )
        for year, fill, gone, much in zip(
            found.years or (None,),
            found.fill,
            found.empty,
            (None if np.isnan(each) else float(each) * litres for each in found.poured),
            strict=True,
        )
    ]


def _ahead(found: Outlook, dead: float, litres: float) -> list[Ahead]:
    usable = np.maximum(found.left - dead, 0.0) * litres
    low, middle, high = (percentile(usable, share) for share in (ODDS[0], 0.5, ODDS[1]))
    return [
        Ahead(
            date=str(found.today + at * _DAY),
            usable_litres_low=float(low[at]),
            usable_litres=float(middle[at]),
            usable_litres_high=float(high[at]),
        )
        for at in range(found.left.shape[0])
    ]


def course_of(told: Now, units: System) -> dict[str, list[Any]]:
    """Usable water of the days ahead, until it is gone in nearly every year and a few days on."""
    last = told.empty_latest or told.ahead[-1].date
    shown = told.ahead[: sum(day.date <= last for day in told.ahead) + 2]
    size = 1.0 if units == "metric" else US_GALLON * 1e3
    return _drawn(shown, size) | {"full": [told.usable_full_litres / size]}


def levels_of(fit: Fit, units: System) -> dict[str, list[Any]]:
    """Levels of all mornings, as described, as fitted and as read."""
    return _drawn(fit.mornings, 1.0 if units == "metric" else INCH * 100)


def _drawn(rows: Sequence[Ahead | Morning], size: float) -> dict[str, list[Any]]:
    """Days as a page draws them: the values of each field, in the reader's units."""
    columns = {name: [getattr(row, name) for row in rows] for name in asdict(rows[0])}
    return {
        name: [each / size if isinstance(each, float) else each for each in values]
        for name, values in columns.items()
    }


def round_of(beds: Sequence[Now]) -> Round:
    """The list of several beds by day."""
    days = sorted({each.fill for each in beds if each.fill is not None})
    tasks = []
    for day in days:
        due = [each for each in beds if each.fill == day]
        litres = sum(each.fill_litres or 0.0 for each in due)
        tasks.append(Task(day=day, beds=tuple(each.bed for each in due), litres=litres))
    return Round(tasks=tuple(tasks), days_ahead=HORIZON, beds=tuple(beds))


def table_of_cases(beds: Sequence[Now]) -> pd.DataFrame:
    """One row a bed and past year."""
    import pandas as pd

    found = pd.DataFrame([{"bed": each.bed} | asdict(case) for each in beds for case in each.cases])
    return found.rename(columns={"fill_litres": "fill_L"})
