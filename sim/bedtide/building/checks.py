"""Whether a bed can be built and will work: each check with its figure, its limit, its source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import (
    Bed,
    Pipes,
    crown_height,
    dead_storage,
    full_level,
    full_store,
    level_of,
    mix_share,
    open_store,
    outlet_flow,
    plan_area,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.building.sawing import CORNERS, is_boarded, side_lengths
from bedtide.building.take_off import ingredients, zones_of
from bedtide.building.trade import Trade
from bedtide.constants import AIR_LIMIT, LEAST_AIRY
from bedtide.mix import Mix, suction_at, supply_conductivity

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Verdict = Literal["fails", "mind", "fine", "not known"]

PRACTICE: Final = "common practice, no source"
OURS: Final = "ours, a judgement"
GEOMETRY: Final = "geometry"
_AIR: Final = "10 % air: Grable & Siemer 1968, from memory; the depth is ours"
_STEADY: Final = "steady flow up through the mix (Darcy; docs/physics/column.md)"
_LIMITED: Final = 4.0  # m of suction from which plants go short where none are named; no source
_LEAST_BORE: Final = 0.013  # m: worm casts block a narrower one; common practice, no source
_TILTS: Final = 400  # places along a floor that is not level
_LOW: Final = 0.3  # share of the store at which it is filled where the rule does not say; ours


@dataclass(frozen=True)
class Check:
    """One check: its verdict, figure and limit in a unit, where the limit comes from.

    `key` of the bed file and the `nearest` value of it that would do, where there is one.
    """

    name: str
    verdict: Verdict
    figure: float | None
    limit: float | None
    unit: str  # mm, %, mm/d, days, L/min, L or none, for a count
    source: str
    key: str = ""
    nearest: float | None = None


class Weather(NamedTuple):
    """What the weather asks at its worst: demand [m d-1], a day's rain [m], and since when."""

    peak: float
    worst_day: float | None
    source: str


def checks_of(bed: Bed, trade: Trade, weather: Weather) -> tuple[Check, ...]:
    """All checks that fit this bed, in the order of the work."""
    parts = (_walls(bed, trade), _outlet(bed, trade), _water(bed, weather))
    return tuple(chain(*parts, _storms(bed, trade, weather), _mixes(bed, trade)))


def _check(
    name: str,
    good: Verdict | bool,
    figure: float | None,
    limit: float | None,
    unit: str,
    source: str = PRACTICE,
    change: tuple[str, float | None] = ("", None),
) -> Check:
    """A check, lengths given in metres; good or bad where it has no worse verdict of its own."""

    def told(value: float | None) -> float | None:
        return value and value * (1e3 if unit == "mm" else 1.0)

    verdict = ("mind", "fine")[good] if isinstance(good, bool) else good
    key, nearest = ("", None) if verdict == "fine" else change
    return Check(name, verdict, told(figure), told(limit), unit, source, key, told(nearest))


def _walls(bed: Bed, trade: Trade) -> Iterator[Check]:
    """Whether any board is long enough, the gaps between pipes, room for the fill pipe."""
    if is_boarded(bed, trade):
        longest = max(trade.sizes["board.lengths"])
        needed = min(max(side_lengths(bed, trade, corner)) for corner in CORNERS)
        if needed > longest:
            key = "box.length" if bed.box.length >= bed.box.width else "box.width"
            change = (key, max(bed.box.length, bed.box.width) - (needed - longest))
            yield _check("longest board", "fails", needed, longest, "mm", GEOMETRY, change)
    pipes, walls = bed.reservoir, walls_of(bed)
    if not isinstance(pipes, Pipes):
        return
    wide, least = walls.width_at_floor, trade["pipe.gap_least"]
    gap, comfortable = wide / pipes.count - pipes.outside, trade["pipe.gap_comfortable"]
    fit = int((wide + 1e-9) / (pipes.outside + least))
    packs, change = gap >= least - 1e-9, ("reservoir.count", float(fit))
    verdict: Verdict | bool = gap >= comfortable - 1e-9 if packs else "fails"
    yield _check("gap between pipes", verdict, gap, comfortable if packs else least, "mm")
    verdict = "fine" if packs else "fails"
    yield _check("pipes that fit", verdict, float(pipes.count), float(fit), "", GEOMETRY, change)
    covered = pipes.count * pipes.outside * pipes.run / walls.floor
    yield _check("floor under pipes", covered <= 0.9, 100 * covered, 90.0, "%", OURS)
    room, fill = walls.length_at_floor - pipes.run, trade["fill.outside"]
    change = ("reservoir.run", walls.length_at_floor - fill)
    yield _check("room for the fill pipe", room >= fill - 1e-9, room, fill, "mm", GEOMETRY, change)


def _outlet(bed: Bed, trade: Trade) -> Iterator[Check]:
    """Where the overflow sits: under the crown, inside a pipe, under the liner's edge."""
    lip, bore, depth = bed.overflow.height, bed.overflow.bore, bed.box.depth
    if lip is None or bed.overflow.state == "none":
        yield _check("no overflow", "mind", None, None, "")
        return
    below = crown_height(bed) - lip
    yield _check("lip under the crown", below > 0.0, below, 0.0, "mm")
    if bore is None:
        yield _check("bore of the overflow", "not known", None, None, "", "asked for")
    elif isinstance(bed.reservoir, Pipes):
        top = bed.reservoir.wall + bed.reservoir.inside
        change = ("overflow.height", top - bore)
        if top - lip >= _LEAST_BORE - 1e-9 or top - bore <= bed.reservoir.wall:
            change = ("overflow.bore", top - lip)
        verdict: Verdict = "fine" if lip + bore <= top + 1e-9 else "fails"
        yield _check("outlet inside a pipe", verdict, lip + bore, top, "mm", GEOMETRY, change)
    upstand, least = depth - lip, trade["liner.upstand"]
    change = ("overflow.height", depth - least)
    yield _check("liner over the lip", upstand >= least, upstand, least, "mm", PRACTICE, change)
    level, allowed = tilted_store(bed, 0.0, 0.0), trade["site.out_of_level"]
    slopes = (1e-3, allowed / walls_of(bed).length_at_floor)
    lost = [1e3 * (level - tilted_store(bed, slope, 0.0)) for slope in slopes]
    source = f"{GEOMETRY}; the limit: {trade.table['site.out_of_level'].standing}"
    yield _check("out of level", "fine", lost[0], lost[1], "L", source)


def _water(bed: Bed, weather: Weather) -> Iterator[Check]:
    """How long the store lasts, and whether the mix lifts what the hottest days ask."""
    held = max(full_store(bed) - dead_storage(bed), 0.0)
    days, looks = held / weather.peak, float(max(bed.watering.check_every, 2))
    source = f"how often you look, two days at the least; {weather.source}"
    yield _check("days at the peak", days >= looks, days, looks, "days", source)
    dry = min((planting.crop.h3_high for planting in bed.plantings), default=_LIMITED)
    carried, reach = lift(bed, weather.peak, dry)
    peak, source, surface = 1e3 * weather.peak, f"{_STEADY}; {weather.source}", surface_height(bed)
    if carried is not None:
        carries = 1e3 * carried
        yield _check("wick at the peak", carries >= peak, carries, peak, "mm/d", source)
    if reach is None:
        yield _check("nothing wicks", "mind", None, None, "", GEOMETRY)
    else:
        yield _check("highest mix", reach >= surface, reach, surface, "mm", source)
    stands = float(suction_at(bed.top_mix.theta_s - AIR_LIMIT, bed.top_mix))
    airy = surface - full_level(bed) - stands
    change = ("box.depth", bed.box.depth + LEAST_AIRY - airy)
    yield _check("air over the water", airy >= LEAST_AIRY, airy, LEAST_AIRY, "mm", _AIR, change)


def _storms(bed: Bed, trade: Trade, weather: Weather) -> Iterator[Check]:
    """What the overflow carries against a storm and the record's worst day, clean and clogged."""
    overflow = bed.overflow
    if overflow.height is None or overflow.bore is None or overflow.state == "none":
        return
    flow = 1e3 / 1440.0 * float(outlet_flow(outlet_head(bed), overflow.bore))
    rains = [("storm", trade["site.storm"], trade.table["site.storm"].standing)]
    if weather.worst_day is not None:
        rains.append(("worst day", weather.worst_day, "your record"))
    for name, rain, source in rains:
        asked = 1e3 / 60.0 * rain * plan_area(bed) * bed.surface.open_to_rain
        for state, share in (("clean", 1.0), ("half blocked", 0.5)):
            carries = share * flow
            why = f"sharp edge, coefficient 0.6, from memory; {source}"
            yield _check(f"{name}, {state}", carries >= asked, carries, asked, "L/min", why)


def _mixes(bed: Bed, trade: Trade) -> Iterator[Check]:
    """Topsoil and bark in the mixes."""
    most = trade["mix.most_bark"]
    for zone in zones_of(bed, trade):
        shares = ingredients(bed, zone.zone)
        soil = sum(share for name, share in shares.items() if name.startswith("topsoil"))
        bark = sum(share for name, share in shares.items() if "bark" in name)
        if soil > 0.0:
            yield _check(f"topsoil in the {zone.zone} mix", "mind", 100 * soil, 0.0, "%")
        if bark > 0.0:
            name = f"bark in the {zone.zone} mix"
            yield _check(name, bark <= most, 100 * bark, 100 * most, "%")


# --- what they rest on ------------------------------------------------------------------------


def outlet_head(bed: Bed) -> float:
    """Water over the outlet's centre [m] when it stands at the reservoir's top, or covers it."""
    lip, bore = bed.overflow.height or 0.0, bed.overflow.bore or 0.0
    return max(crown_height(bed), lip + bore) - lip - 0.5 * bore


def tilted_store(bed: Bed, slope: float, outlet: float) -> float:
    """Open water of a floor that falls by a `slope` [1], in m3.

    `outlet` says where along the fall it sits: 0 at the low end, 0.5 in the middle, 1 at the high
    end. Water stands level at the lip; pipes begin at the outlet's end.
    """
    walls, lip = walls_of(bed), full_level(bed)
    long = bed.reservoir.run if isinstance(bed.reservoir, Pipes) else walls.length_at_floor
    along = (np.arange(_TILTS) + 0.5) / _TILTS * long
    levels = lip + slope * (outlet * long - along)
    return float(np.mean(open_store(levels, bed))) * plan_area(bed)


def lift(bed: Bed, peak: float, dry: float) -> tuple[float | None, float | None]:
    """What the wick carries up to the crown [m d-1], and how high the mix still wicks the peak [m].

    With the store as low as it is filled at; the surface may dry to a suction `dry` [m]. The first
    is None where the water reaches the crown, both where nothing wicks.
    """
    crown, wick, top = crown_height(bed), bed.wick_mix, bed.top_mix
    if not isinstance(bed.reservoir, Pipes) and bed.reservoir.wick_share <= 0.0:
        return None, None
    full, dead = full_store(bed), dead_storage(bed)
    share = bed.watering.share if bed.watering.when == "below share" else None
    low = dead + (_LOW if share is None else share) * max(full - dead, 0.0)
    level = max(min(float(level_of(low, bed)), crown), wick_foot(bed))
    if crown - level < 1e-6:
        return None, crown + _height(peak, top, 0.0, dry)
    narrow = float(np.min(mix_share(np.linspace(level, crown - 1e-9, 50), bed)))
    low_flux, high_flux = 1e-7, 10.0
    for _ in range(60):
        flux = (low_flux * high_flux) ** 0.5
        reaches = _height(flux / narrow, wick, 0.0, dry) >= crown - level
        low_flux, high_flux = (flux, high_flux) if reaches else (low_flux, flux)
    if low_flux < peak:
        return low_flux, level + _height(peak / narrow, wick, 0.0, dry)
    suction, slope = _slope(peak / narrow, wick, 0.0, dry)
    heights = np.append(0.0, np.cumsum(0.5 * (slope[1:] + slope[:-1]) * np.diff(suction)))
    at_crown = float(np.interp(crown - level, heights, suction))
    return low_flux, crown + _height(peak, top, at_crown, dry)


def _height(flux: float, mix: Mix, start: float, end: float) -> float:
    """Height over which suction grows from start to end at a steady flux upward [m]."""
    suction, slope = _slope(flux, mix, start, end)
    return float(np.trapezoid(slope, suction)) if end > start else 0.0


def _slope(flux: float, mix: Mix, start: float, end: float) -> tuple[Array, Array]:
    r"""Suctions [m], and metres of height to a metre of suction at each in a steady flux upward.

    :math:`dz / ds = 1 / (1 + q / K(s))`.
    """
    suction = np.append(0.0, np.geomspace(1e-4, max(end - start, 2e-4), 600)) + start
    return suction, 1.0 / (1.0 + flux / supply_conductivity(suction, mix))


def peak_of(bed: Bed, trade: Trade, record: xr.Dataset | None) -> Weather:
    """The peak of demand and the worst day: of the record, or the trade's figure without one."""
    if record is None:
        return Weather(trade["site.peak"], None, "peak of use stated, not from a record")
    from bedtide.balance import demand_of

    demand = demand_of(bed, record)
    each = demand.uptake.sum(axis=1) + demand.energy
    week = np.convolve(each, np.ones(7) / 7.0, "valid") if each.size >= 7 else each
    return Weather(
        max(float(week.max()), 1e-6), float(demand.rain.max()), "hottest week of your record"
    )
