"""Will it last while I am away: every year of the record run from one day, nobody to water."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.away.lasting import (
    Answer,
    answers_of,
    left_alone,
    safe_days,
    spun_up,
    stepped,
    whole_answer,
    whole_days,
)
from bedtide.answers.away.measures import scenarios_of, shaded_weather, standing
from bedtide.answers.away.starts import Starts, starts_of
from bedtide.balance import Run, run_dataset, variables_of
from bedtide.bed import Bed, dead_storage, plan_area
from bedtide.errors import InputError, collect, raise_all
from bedtide.many import (
    SELDOM,
    Doubt,
    chance,
    drawn_beds,
    every_year,
    percentile,
    ranges_of,
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
    drum: float = 0.2,
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
    drum : float, default 0.2
        What the drum on a float valve holds [m3].

    Returns
    -------
    Dataset, dims (measure, case, day)
        ``days_lasted``, ``days_to_half``, ``days_to_empty`` (measure, case) [d], infinite where
        longer than the ``days_followed`` of the attributes; ``water_brought`` (measure, case)
        [m3]; ``days_safe``, ``days_middle``, ``cases_lasting``, ``visit_day`` (measure);
        ``lasting_share`` (measure, day) [1]; for the bed as it is ``store_share``,
        ``uptake_factor`` [1] and ``rain`` [m d-1] (case, day).

    Raises
    ------
    InputError
        If a number is out of range, a measure is unknown, or no year of the record will do.

    Notes
    -----
    Each case begins 30 days before leaving with the bed's own watering (filled every morning
    where its rule is never to fill), then the store is set to `level` on the morning of leaving.
    It fails on the first day on which the plants get under nine tenths of what they ask for, the
    dry day of a season. Percentiles are those of :func:`bedtide.many.statistics.percentile`,
    whole days, rounded down. See ``docs/away.md``.

    Examples
    --------
    >>> import datetime
    >>> from bedtide import example_bed, read_weather, sample_weather
    >>> stay = away(example_bed(), read_weather(sample_weather("brasaluz")),
    ...             datetime.date(2027, 7, 10), days=16, measures=["mulch"])
    >>> dict(stay.sizes)
    {'measure': 2, 'case': 30, 'day': 45}
    """
    _check(days=days, level=level, shade=shade, drum=drum)
    starts, plain, dropped = _cases(bed, weather, leave, days)
    scenarios, left_out = scenarios_of(plain, leave, days=days, names=measures)
    if np.isnan(weather["tmax"].to_numpy()).all() and any(s.shaded for s in scenarios):
        scenarios = [scenario for scenario in scenarios if not scenario.shaded]
        left_out.append("shade")
    states = spun_up(plain, weather, starts, topped=any(s.topped for s in scenarios))
    runs: list[Run] = []
    answers: dict[str, Answer] = {}
    for shaded in (False, True):
        chosen = [scenario for scenario in scenarios if scenario.shaded == shaded]
        if chosen:
            seen = shaded_weather(weather, shade) if shaded else weather
            runs.append(stepped(chosen, seen, starts, states, level))
            found = answers_of(chosen, runs[-1], seen, starts, days=days, drum=drum)
            answers |= {s.key: answer for s, answer in zip(chosen, found, strict=True)}
    values, coords = _values(runs[0], [answers[s.key] for s in scenarios], starts, days)
    return run_dataset(
        values | {"plan_area": ((), plan_area(bed)), "dead_storage": ((), dead_storage(bed))},
        coords={"measure": [s.key for s in scenarios], **coords},
        attrs={
            "leave": leave.isoformat(),
            "days_away": days,
            "days_followed": starts.horizon,
            "start_level": level,
            "shade": shade,
            "drum": drum,
            "independent_years": starts.independent,
            "spin_up_days": starts.spin_up,
            "kept": "every morning" if bed.watering.when == "never" else "own rule",
            "years_with_gaps": [str(year) for year in starts.gaps],
            "measures_left_out": left_out,
            "plantings_of_other_years": dropped,
            "growing": [p.crop.name for p in standing(plain, leave)],
            **whole_answer(bed, weather, runs[0]),
        },
    )


def _cases(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, days: int
) -> tuple[Starts, Bed, list[str]]:
    """The cases of a stay, the bed as it then stands, and its crops of other years."""
    starts = starts_of(weather, leave, days=days, horizon=max(2 * days, _LEAST_HORIZON))
    first = leave + datetime.timedelta(days=int(starts.offsets.min()) - starts.spin_up)
    last = leave + datetime.timedelta(days=int(starts.offsets.max()) + starts.horizon)
    return starts, *every_year(bed, first, last)


def _check(*, days: int, level: float, shade: float, drum: float) -> None:
    errors: list[InputError] = []
    hint = "Write a share as 60 % or 0.6"
    collect(errors, days, 1, LONGEST_STAY, where="days", unit="days")
    collect(errors, level, 0.0, 1.0, where="level", unit="", hint=hint)
    collect(errors, shade, 0.0, 1.0, where="shade", unit="", hint=hint)
    collect(errors, drum, 0.0, 100.0, where="drum", unit="m3", open_low=True)
    raise_all(errors)


def _values(
    base: Run, answers: Sequence[Answer], starts: Starts, days: int
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Variables and coordinates of all answers, under the names of the glossary."""
    n, horizon = len(starts.dates), starts.horizon
    lasted = np.stack([answer.found.lasted for answer in answers])
    day = np.arange(1, horizon + 1)
    count = (lasted[:, :, None] >= day).sum(axis=1)
    share = [
        [chance(int(k), n, independent=starts.independent).share for k in row] for row in count
    ]
    series = variables_of(base)
    by_measure, by_case, by_day = ("measure",), ("measure", "case"), ("case", "day")
    values: dict[str, Any] = {
        "days_lasted": (by_case, lasted),
        "days_to_half": (by_case, np.stack([a.found.half for a in answers])),
        "days_to_empty": (by_case, np.stack([a.found.empty for a in answers])),
        "water_brought": (by_case, np.stack([a.brought for a in answers])),
        "days_short_anyway": (by_case, np.stack([a.found.anyway for a in answers])),
        "days_safe": (by_measure, safe_days(lasted, horizon)),
        "days_middle": (by_measure, whole_days(lasted, horizon, 0.5)),
        "cases_lasting": (by_measure, (lasted >= days).sum(axis=1)),
        "visit_day": (by_measure, [a.visit for a in answers]),
        "visit_day_first": (by_measure, [a.visit_first for a in answers]),
        "visit_day_last": (by_measure, [a.visit_last for a in answers]),
        "lasting_share": (("measure", "day"), np.array(share)),
        "store_share": (by_day, series["store_share"][:, :n].T),
        "uptake_factor": (by_day, series["uptake_factor"][:, :n].T),
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
    starts, plain, _ = _cases(bed, weather, leave, days)
    drawn = drawn_beds(plain)
    _, found = left_alone(drawn, weather, starts, level, days=days)
    shape = (len(drawn.beds), len(starts.dates))
    lasted, empty = found.lasted.reshape(shape), found.empty.reshape(shape)
    return ranges_of(
        {
            "days_safe": safe_days(lasted, starts.horizon),
            "days_middle": whole_days(lasted, starts.horizon, 0.5),
            "days_to_empty": percentile(empty, 0.5),
            "cases_lasting": (lasted >= days).sum(axis=1),
        },
        works=(found.anyway.reshape(shape) > 0).mean(axis=1) <= SELDOM,
    )
