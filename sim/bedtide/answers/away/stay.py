"""Will it last while I am away: every year of the record run from one day, nobody to water."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.away.lasting import (
    Answer,
    answer_of,
    left_alone,
    spun_up,
    whole_answer,
)
from bedtide.answers.away.measures import fitting_drum, scenarios_of, shaded_weather
from bedtide.answers.away.starts import Starts, starts_of
from bedtide.balance import run_dataset, variables_of
from bedtide.bed import Bed, dead_storage, plan_area
from bedtide.crop import Planting
from bedtide.errors import InputError, collect, raise_all
from bedtide.many import (
    SELDOM,
    Doubt,
    chance,
    drawn_beds,
    every_year,
    percentile,
    ranges_of,
    safe_days,
    season_left,
    standing,
)

if TYPE_CHECKING:
    import xarray as xr

LONGEST_STAY = 120
"""Most days that a stay away may take [d]; beyond, the crops of another season count."""

_LEAST_HORIZON = 45  # days that each case is followed at least, if the record allows


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
    progress: Callable[[str], None] | None = None,
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
    progress : callable, optional
        Told the name of each change before it is run.

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
    :func:`bedtide.many.statistics.percentile`, whole days, rounded down. See ``docs/away.md``.

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
    _check(days=days, level=level, shade=shade, drum=used)
    starts, plain, dropped, over = _cases(bed, weather, leave, days)
    grows = standing(plain, leave)
    to_come = [p for p in plain.plantings if p not in grows and _begins(p, leave, days)]
    left = replace(plain, plantings=tuple(grows))
    scenarios, left_out = scenarios_of(left, leave, days=min(days, starts.horizon), names=measures)
    if np.isnan(weather["tmax"].to_numpy()).all() and any("shade" in s.parts for s in scenarios):
        scenarios = [scenario for scenario in scenarios if "shade" not in scenario.parts]
        left_out.append("shade")
    topped = any("top up" in scenario.parts for scenario in scenarios)
    eves = [spun_up(plain, weather, starts, topped=each) for each in (False, topped)]
    cloth = (
        shaded_weather(weather, shade) if any("shade" in s.parts for s in scenarios) else weather
    )
    answers = []
    for scenario in scenarios:
        if progress is not None:
            progress(scenario.key)
        seen = cloth if "shade" in scenario.parts else weather
        eve = eves["top up" in scenario.parts]
        answers.append(answer_of(scenario, seen, starts, eve, level=level, days=days, drum=used))
    values, coords = _values(answers, starts, days)
    return run_dataset(
        values | {"plan_area": ((), plan_area(bed)), "dead_storage": ((), dead_storage(bed))},
        coords={"measure": [s.key for s in scenarios], **coords},
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
            **whole_answer(bed, weather, [answer.run for answer in answers]),
        },
    )


def _cases(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, days: int
) -> tuple[Starts, Bed, list[str], int]:
    """The cases, the bed as it then stands, its crops of other years, days until all are over."""
    starts = starts_of(weather, leave, days=days, horizon=max(2 * days, _LEAST_HORIZON))
    first = leave + datetime.timedelta(days=int(starts.offsets.min()) - starts.spin_up)
    last = leave + datetime.timedelta(days=int(starts.offsets.max()) + starts.horizon)
    plain, dropped = every_year(bed, first, last)
    over = season_left(plain, leave, starts.horizon)
    return starts._replace(horizon=over or starts.horizon), plain, dropped, over


def _begins(planting: Planting, leave: datetime.date, days: int) -> bool:
    """Whether a planting is due in the days away."""
    assert isinstance(planting.planted, tuple)
    years = (leave.year, leave.year + 1)
    return any(0 < (datetime.date(y, *planting.planted) - leave).days < days for y in years)


def _check(*, days: int, level: float, shade: float, drum: float) -> None:
    errors: list[InputError] = []
    hint = "Write a share as 60 % or 0.6"
    collect(errors, days, 1, LONGEST_STAY, where="days", unit="days")
    collect(errors, level, 0.0, 1.0, where="level", unit="", hint=hint)
    collect(errors, shade, 0.0, 1.0, where="shade", unit="", hint=hint)
    collect(errors, drum, 0.0, 100.0, where="drum", unit="m3", open_low=True)
    raise_all(errors)


def _values(
    answers: Sequence[Answer], starts: Starts, days: int
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Variables and coordinates of all answers, under the names of the glossary."""
    n, horizon, base = len(starts.dates), starts.horizon, answers[0].run
    lasted = np.stack([answer.lasted for answer in answers])
    day = np.arange(1, horizon + 1)
    count = (lasted[:, :, None] >= day).sum(axis=1)
    share = [
        [chance(int(k), n, independent=starts.independent).share for k in row] for row in count
    ]
    visits = np.array([(*answer.visits, np.nan, np.nan)[:2] for answer in answers])
    as_good = np.array([answer.as_good or (np.nan, np.nan) for answer in answers])
    series = variables_of(base)
    by_measure, by_case, by_day = ("measure",), ("measure", "case"), ("case", "day")
    values: dict[str, Any] = {
        "days_lasted": (by_case, lasted),
        "days_to_half": (by_case, np.stack([answer.half for answer in answers])),
        "days_to_empty": (by_case, np.stack([answer.empty for answer in answers])),
        "days_short_anyway": (by_case, np.stack([answer.anyway for answer in answers])),
        "water_brought": (by_case, np.stack([answer.brought for answer in answers])),
        "days_safe": (by_measure, safe_days(lasted, horizon)),
        "days_middle": (by_measure, safe_days(lasted, horizon, 0.5)),
        "cases_lasting": (by_measure, (lasted >= days).sum(axis=1)),
        "visit_day": (by_measure, visits[:, 0]),
        "second_visit_day": (by_measure, visits[:, 1]),
        "visit_day_first": (by_measure, as_good[:, 0]),
        "visit_day_last": (by_measure, as_good[:, 1]),
        "lasting_share": (("measure", "day"), share),
        "store_share": (by_day, series["store_share"].T),
        "uptake_factor": (by_day, series["uptake_factor"].T),
        "rain": (by_day, base.demand[0].rain[base.windows].T),
        "capacity": ((), float(series["capacity"][0, 0])),
        "start_open_water": ((), float(base.start.open_water[0])),
    }
    coords: dict[str, Any] = {
        "start": ("case", np.array(starts.dates, dtype="datetime64[ns]")),
        "year": ("case", starts.years),
        "offset": ("case", starts.offsets),
        "day": day,
    }
    return values, coords


def away_ranges(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, *, days: int, level: float = 1.0
) -> dict[str, Doubt]:
    """Ranges of the headlines of a stay over the drawn beds.

    Those that fail their plants in more than one case of ten even filled every morning stay out.
    """
    starts, plain, _, _ = _cases(bed, weather, leave, days)
    found = left_alone(drawn_beds(plain), weather, starts, level, leave=leave, days=days)
    return ranges_of(
        {
            "days_safe": safe_days(found.lasted, starts.horizon),
            "days_middle": safe_days(found.lasted, starts.horizon, 0.5),
            "days_to_empty": percentile(found.empty, 0.5),
            "cases_lasting": (found.lasted >= days).sum(axis=1),
        },
        works=(found.anyway > 0).mean(axis=1) <= SELDOM,
    )
