"""Will it last while I am away: every year of the record run from one day, nobody to water."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bedtide.balance import (
    Demand,
    Run,
    State,
    asking,
    demand_of,
    run_dataset,
    run_many,
    variables_of,
)
from bedtide.bed import Bed, dead_storage, plan_area
from bedtide.crop import Planting
from bedtide.errors import InputError, Option, collect, raise_all
from bedtide.many.doubt import SELDOM, Range, drawn_beds, ranges_of
from bedtide.many.leaving import (
    EVERY_MORNING,
    Array,
    Flags,
    Index,
    Left,
    Starts,
    drawn_alone,
    eve_of,
    failures,
    first_day,
    left_alone,
    safe_days,
    season_left,
    short,
    standing,
    starts_of,
    whole_answer,
)
from bedtide.many.measures import Scenario, fitting_drum, scenarios_of, shaded_weather
from bedtide.many.years import every_year
from bedtide.readings import NEED_LIMIT
from bedtide.statistics import chance, percentile

if TYPE_CHECKING:
    import xarray as xr

# Most days that a stay away may take [d]; beyond, the crops of another season count
LONGEST_STAY = 120
_LEAST_HORIZON = 45  # days that each case is followed at least, if the record allows
_AT_ONCE = 64  # tries that are run together


def away(
    bed: Bed,
    weather: xr.Dataset,
    leave: datetime.date,
    *,
    days: int,
    level: float = 1.0,
    measures: Sequence[str] | None = None,
    shade: float = 0.5,
    drum: float | None = None,
) -> xr.Dataset:
    """How long a bed lasts with nobody to water it, in the weather of every year of a record.

    Answers: will it last while I am away, and what would help.

    Parameters
    ----------
    bed : Bed
        As :func:`bedtide.bed.read_bed` gives it.
    weather : Dataset, dims (time,)
        As :func:`bedtide.weather.read_weather` gives it; each of its years is a case.
    leave : date
        First day away; its year says only which full dates of the bed belong to it.
    days : int
        Days away, 1 to 120 [d].
    level : float, default 1.0
        Share of the store, of what the mix can reach, on the morning of leaving [1].
    measures : sequence of str, optional
        What to try: words of `MEASURES`, several at once joined by a plus. All if left out.
    shade : float, default 0.5
        Share of the sun that the shade cloth keeps off [1].
    drum : float, optional
        What the drum on a float valve holds [m3]; one that suits the bed if left out.

    Returns
    -------
    Dataset, dims (measure, case, day)
        ``days_lasted``, ``days_to_half``, ``days_to_empty`` (measure, case) [d], infinite where
        longer than the ``days_followed`` of the attributes; ``water_brought`` (measure, case)
        [m3]; ``days_safe``, ``days_middle``, ``cases_lasting``, ``visit_day``,
        ``second_visit_day`` (measure); ``lasting_share`` (measure, day) [1]; for the bed as it is
        ``store_share``, ``uptake_factor`` [1] and ``rain`` [m d-1] (case, day).

    Raises
    ------
    InputError
        If a number is out of range, a measure is unknown, or no year of the record will do.

    Notes
    -----
    Each case begins 30 days before leaving with the bed's own watering (filled every morning
    where its rule is never to fill), then the store is set to `level` on the morning of leaving.
    Nobody plants meanwhile: only what stands in the bed on the day of leaving grows, and it is
    followed until the last of it is over. It fails on the first day on which the plants get under
    nine tenths of what they ask for, the dry day of a season. Percentiles are those of
    :func:`bedtide.statistics.percentile`, whole days, rounded down. See ``docs/away.md``.

    Examples
    --------
    >>> import datetime
    >>> from bedtide import example_bed, read_weather, sample_weather
    >>> stay = away(example_bed(), read_weather(sample_weather("brasaluz")),
    ...             datetime.date(2027, 7, 10), days=16, measures=["mulch"])
    >>> dict(stay.sizes)
    {'measure': 2, 'case': 30, 'day': 45}
    """
    used = fitting_drum(bed) if drum is None else drum
    errors: list[InputError] = []
    collect(errors, days, 1, LONGEST_STAY, where=Option("days"), unit="days")
    for name, share in (("level", level), ("shade", shade)):
        hint = "Write a share as 60 % or 0.6"
        collect(errors, share, 0.0, 1.0, where=Option(name), unit="", hint=hint)
    collect(errors, used, 0.0, 100.0, where=Option("drum"), unit="m3", open_low=True)
    raise_all(errors)
    starts, plain, dropped, over = _cases(bed, weather, leave, days)
    grows = standing(plain, leave)
    to_come = [p for p in plain.plantings if p not in grows and _begins(p, leave, days)]
    left = replace(plain, plantings=grows)
    scenarios, left_out = scenarios_of(left, leave, days=min(days, starts.horizon), names=measures)
    if np.isnan(weather["tmax"].to_numpy()).all() and any(each.shaded for each in scenarios):
        scenarios = [each for each in scenarios if not each.shaded]
        left_out.append("shade")
    topped = ["top up" in each.parts for each in scenarios]
    eves = {each: eve_of([plain], weather, starts, topped=each) for each in set(topped)}
    eve = State(*map(np.concatenate, zip(*(eves[each] for each in topped), strict=True)))
    beds, demand = [each.bed for each in scenarios], _asked(scenarios, weather, shade)
    found = left_alone(beds, weather, starts, eve, level=level, days=days, demand=demand)
    brought, error = _helped(scenarios, weather, starts, found, demand, days=days, drum=used)
    areas = {"plan_area": ((), plan_area(bed)), "dead_storage": ((), dead_storage(bed))}
    return run_dataset(
        _values(found, starts, days) | brought | areas,
        coords={
            "measure": [scenario.key for scenario in scenarios],
            "start": ("case", starts.dates.astype("datetime64[ns]")),
            "year": ("case", starts.years),
            "offset": ("case", starts.offsets),
            "day": np.arange(1, starts.horizon + 1),
        },
        attrs={
            "leave": leave.isoformat(),
            "days_away": days,
            "days_followed": starts.horizon,
            "season_ends": str(leave + datetime.timedelta(days=over)) if over else "",
            "start_level": level,
            "shade": shade,
            "drum": used,
            "independent_years": starts.independent,
            "spin_up_days": starts.spin_up,
            "kept": "every morning" if bed.watering.when == "never" else "own rule",
            "years_with_gaps": [str(year) for year in starts.gaps],
            "measures_left_out": left_out,
            "plantings_of_other_years": dropped,
            "plantings_while_away": list(dict.fromkeys(p.crop.name for p in to_come)),
            "growing": list(dict.fromkeys(p.crop.name for p in grows)),
            **whole_answer(bed, weather, error),
        },
    )


def away_ranges(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, *, days: int, level: float = 1.0
) -> dict[str, Range]:
    """Ranges of the headlines of a stay over the drawn beds.

    Those that fail their plants in more than one case of ten even filled every morning stay out.
    """
    starts, plain, _, _ = _cases(bed, weather, leave, days)
    found = drawn_alone(drawn_beds(plain), weather, starts, leave=leave, level=level, days=days)
    return ranges_of(
        {
            "days_safe": safe_days(found.lasted, starts.horizon),
            "days_middle": safe_days(found.lasted, starts.horizon, 0.5),
            "days_to_empty": percentile(found.empty, 0.5),
            "cases_lasting": (found.lasted >= days).sum(axis=1),
        },
        works=(found.anyway > 0).mean(axis=1) <= SELDOM,
    )


def _cases(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, days: int
) -> tuple[Starts, Bed, list[str], int]:
    """The cases, the bed as it then stands, its crops of other years, days until all are over."""
    starts = starts_of(weather, leave, days=days, horizon=max(2 * days, _LEAST_HORIZON))
    first = leave + datetime.timedelta(days=int(np.min(starts.offsets)) - starts.spin_up)
    last = leave + datetime.timedelta(days=int(np.max(starts.offsets)) + starts.horizon)
    plain, dropped = every_year(bed, first, last)
    over = season_left(plain, leave, starts.horizon)
    return starts._replace(horizon=over or starts.horizon), plain, dropped, over


def _begins(planting: Planting, leave: datetime.date, days: int) -> bool:
    """Whether a planting is due in the days away."""
    assert isinstance(planting.planted, tuple)
    years = (leave.year, leave.year + 1)
    return any(0 < (datetime.date(y, *planting.planted) - leave).days < days for y in years)


def _asked(scenarios: Sequence[Scenario], weather: xr.Dataset, shade: float) -> list[Demand]:
    """What the days ask of each scenario; those that ask the same share it."""
    known: dict[Any, Demand] = {}
    found = []
    for each in scenarios:
        key = asking(each.bed), each.shaded
        if key not in known:
            cloth = shaded_weather(weather, shade) if each.shaded else weather
            known[key] = demand_of(each.bed, cloth)
        found.append(known[key])
    return found


def _values(found: Left, starts: Starts, days: int) -> dict[str, Any]:
    """Variables of all scenarios under the names of the glossary."""
    lasted, cases, horizon = found.lasted, len(starts.dates), starts.horizon
    series = variables_of(found.run)
    count = (lasted[:, :, None] >= np.arange(1, horizon + 1)).sum(axis=1)
    share = [
        [chance(int(k), cases, independent=starts.independent).share for k in row] for row in count
    ]
    by_measure, by_case, by_day = ("measure",), ("measure", "case"), ("case", "day")
    return {
        "days_lasted": (by_case, lasted),
        "days_to_half": (by_case, found.half),
        "days_to_empty": (by_case, found.empty),
        "days_short_anyway": (by_case, found.anyway),
        "days_safe": (by_measure, safe_days(lasted, horizon)),
        "days_middle": (by_measure, safe_days(lasted, horizon, 0.5)),
        "cases_lasting": (by_measure, (lasted >= days).sum(axis=1)),
        "lasting_share": (("measure", "day"), share),
        "store_share": (by_day, series["store_share"][:, :cases].T),
        "uptake_factor": (by_day, series["uptake_factor"][:, :cases].T),
        "rain": (by_day, series["rain"][:, :cases].T),
        "capacity": ((), float(series["capacity"][0, 0])),
        "start_open_water": ((), float(found.run.start.open_water[0])),
    }


# --- somebody comes, or a drum fills it --------------------------------------------------------


def _helped(
    scenarios: Sequence[Scenario],
    weather: xr.Dataset,
    starts: Starts,
    left: Left,
    demand: Sequence[Demand],
    *,
    days: int,
    drum: float,
) -> tuple[dict[str, Any], float]:
    """What visits and drums bring, and the largest error of the water balance of all scenarios [m].

    How long beds last with it takes the place of that in `left`.
    """
    shape = count, cases = left.lasted.shape
    error = left.run.error.reshape(2, *shape)[0].copy()
    fills = left.run.series.refill.reshape(-1, 2, *shape)[:, 1]  # of the twins
    brought, visits = np.zeros(shape), np.full((4, count), np.nan)
    for at, scenario in enumerate(scenarios):
        if not scenario.helped:
            continue
        begun = left.run.start.columns(slice(at * cases, (at + 1) * cases))
        bed, area = replace(scenario.bed, watering=EVERY_MORNING), plan_area(scenario.bed)
        alone = _Alone(bed, weather, starts, begun, demand[at], left.lasted[at].copy())
        if scenario.visits:
            when, visits[2:, at] = alone.best_visits(scenario.visits, days)
            visits[: when.size, at] = when
            run = alone.run(np.isin(np.arange(starts.horizon), when)[None])
        else:
            nobody = np.zeros((1, starts.horizon), dtype=bool)
            run = alone.run(nobody, given=_from_drum(fills[:, at], drum / area))
        lasted, left.half[at], left.empty[at] = failures(run)
        left.lasted[at] = np.maximum(lasted, alone.lasted)
        brought[at], error[at] = run.series.refill[:days].sum(axis=0) * area, run.error
    names = ("visit_day", "second_visit_day", "visit_day_first", "visit_day_last")
    values = {name: (("measure",), when) for name, when in zip(names, visits, strict=True)}
    return {"water_brought": (("measure", "case"), brought), **values}, float(error.max())


class _Alone(NamedTuple):
    """One scenario of many, with somebody there on some mornings or a drum beside it."""

    bed: Bed  # filled to the lip whenever somebody is there
    weather: xr.Dataset
    starts: Starts
    begun: State
    demand: Demand
    lasted: Array  # with nobody [d]

    def run(self, there: Flags, given: Array | None = None) -> Run:
        """Runs with somebody there (tries, time); columns by try, then case."""
        tries, cases = there.shape[0], self.lasted.size
        return run_many(
            [self.bed] * tries,
            self.weather,
            self.starts.dates.tolist(),
            days=self.starts.horizon,
            start=self.begun.columns(np.tile(np.arange(cases), tries)),
            given=given,
            due=np.repeat(there, cases, axis=0),
            demand=[self.demand] * tries,
        )

    def lasting(self, there: Flags) -> Array:
        """Days that tries last, never fewer than with nobody, (tries, cases).

        The steps of a day are finer after a fill, which shifts the uptake by a few tenths of a
        percent: a day that stands at the limit must not fail for that.
        """
        lasted = first_day(short(self.run(there), NEED_LIMIT))
        return np.maximum(lasted.reshape(-1, self.lasted.size), self.lasted)

    def best_visits(self, count: int, days: int) -> tuple[Index, Any]:
        """Days of one or two visits that fill to the lip, and between which of them one is as good.

        Best is what is safe for most days of the stay in nine years of ten, then what lasts the
        stay in most years, then the longest mean; of equal ones what is most evenly spread over
        the stay.
        """
        horizon = self.starts.horizon
        day, mornings = np.arange(horizon), np.arange(1, min(days, horizon))

        def ranked(lasted: Array, tried: Index) -> tuple[list[Any], list[int]]:
            """How good each try is, and the tries from the best on."""
            safe = np.minimum(safe_days(lasted, horizon), days)
            whole, mean = (lasted >= days).sum(axis=1), np.minimum(lasted, days).mean(axis=1)
            even = days * np.arange(1, count + 1) / (count + 1)
            uneven = np.abs(tried - even).sum(axis=1)
            good = list(zip(safe, whole, mean, strict=True))
            return good, np.lexsort((uneven, -mean, -whole, -safe)).tolist()

        one = self.lasting(day == mornings[:, None])
        if count == 1:
            good, best = ranked(one, mornings[:, None])
            at = first = last = best[0]
            while first > 0 and good[first - 1][:2] == good[at][:2]:
                first -= 1
            while last < mornings.size - 1 and good[last + 1][:2] == good[at][:2]:
                last += 1
            return mornings[[at]], mornings[[first, last]]
        # No second visit makes up for plants that went short before it, and none does more than
        # somebody who has filled the bed on every morning until then. So most pairs need no run.
        tended = self.lasting(day <= mornings[:, None])
        i, j = np.triu_indices(mornings.size, 1)
        pairs = np.stack([mornings[i], mornings[j]], axis=1)
        bound, rest = ranked(np.where(one[i] < pairs[:, 1:], one[i], tended[j]), pairs)
        top: Any = ()
        while rest and top < bound[rest[0]]:
            these, rest = rest[:_AT_ONCE], rest[_AT_ONCE:]
            lasted = self.lasting((day == pairs[these][..., None]).any(axis=1))
            good, best = ranked(np.maximum(lasted, one[i[these]]), pairs[these])
            if top < good[best[0]]:
                top, pair = good[best[0]], pairs[these[best[0]]]
        return pair, np.nan


def _from_drum(wanted: Array, drum: float) -> Array:
    """What a drum [m] lets in: all that the twin is filled with each morning, until it is empty."""
    total = np.cumsum(wanted, axis=0)
    rest = np.maximum(drum - (total - wanted), 0.0)
    # Not a difference of sums while the drum lasts, so that the bed is its twin to the last bit.
    return np.where(total <= drum, wanted, np.minimum(wanted, rest))
