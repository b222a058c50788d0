"""The sheet of a bed: every figure that is told, drawn or written of building it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from bedtide.bed import (
    Bed,
    Pipes,
    full_level,
    full_store,
    level_of,
    outlet_flow,
    plan_area,
    walls_of,
)
from bedtide.building.checks import Check, checks_of, outlet_head, peak_of, tilted_store
from bedtide.building.sawing import Boards, Cutting, boards_of, pipe_cuts, under_liner
from bedtide.building.take_off import (
    Item,
    Mixed,
    first_fill,
    items_of,
    weights_of,
    zones_of,
)
from bedtide.building.trade import Given, Trade, read_trade
from bedtide.units import US_GALLON

if TYPE_CHECKING:
    from pathlib import Path

    import xarray as xr

    from bedtide.units import System

_MARKS: Final = 8  # litres on a dipstick at the most
_STEPS: Final = (1.0, 2.0, 5.0, 10.0)
_TOUCH: Final = 0.5  # mm within which the hole of a fitting meets the joint of two boards


@dataclass(frozen=True, kw_only=True)
class Hole:
    """Where an end wall is drilled [mm]: its centre from two edges, and the way to each.

    `across`, from the outer edge of a side wall; `up`, from the foot of the walls. `bore`,
    `diameter` None where it must be asked for.
    """

    across_mm: float
    wall_mm: float
    liner_mm: float
    beside_mm: float
    half_pipe_mm: float | None  # none where there are no pipes: in the middle of the end
    up_mm: float
    floor_mm: float
    centre_mm: float  # over the floor of the liner
    bore_mm: float
    diameter_mm: float | None
    meets_joint_mm: float | None  # height of a joint of two boards that the hole cuts into
    litres_per_minute: float  # that the overflow carries
    head_mm: float  # with so much water over its centre


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A mark of the dipstick: litres held with the water at a height over the liner [mm]."""

    litres: float
    height_mm: float


@dataclass(frozen=True, kw_only=True)
class Build:
    """Everything that is told of building a bed, its unit in its name."""

    bedtide_version: str
    bed: str
    beds: int
    form: str
    can_be_built: bool
    checks: tuple[Check, ...]
    first_fill_litres: float
    store_litres: float
    items: tuple[Item, ...]
    amendments: tuple[str, ...]
    cost: float
    currency: str
    without_price: tuple[str, ...]
    boards: Boards | None
    pipes: tuple[Cutting, ...]
    fill_outside_mm: float
    liner_slack_mm: float
    mixes: tuple[Mixed, ...]
    settling_percent: tuple[float, float, float]
    moisture_percent: float
    weights: dict[str, float]  # of one bed, as `weights_of` names them [kg], [kg/m2]
    hole: Hole | None
    slope: dict[str, float]  # store where the floor falls 1 mm a metre, by the outlet's end [L]
    dipstick: tuple[Mark, ...]
    lip_mm: float | None
    pipe_wall_mm: float
    freeboard_mm: float
    asked: tuple[str, ...]
    sizes: tuple[Given, ...]

    @property
    def failing(self) -> tuple[Check, ...]:
        """What keeps the bed from being built."""
        return tuple(check for check in self.checks if check.verdict == "fails")


def build(
    bed: Bed,
    prices: Path | None = None,
    *,
    beds: int = 1,
    weather: xr.Dataset | None = None,
    units: System = "metric",
) -> Build:
    """Check a bed before it is built, and list what to cut and buy for it.

    Parameters
    ----------
    bed : Bed
        The bed.
    prices : Path or None
        File of the keeper's own sizes and prices; None takes those of the trade, unpriced.
    beds : int, default 1
        How many of this bed; boards and pipe are cut for all of them together [1].
    weather : Dataset or None
        Record against which it is checked; None takes a stated storm and a stated peak of use.
    units : {"metric", "us"}
        In which sizes boards, pipes and bags are sold, where `prices` does not say.

    Returns
    -------
    Build
        Checks, items to buy with their cost, cuts, mix, weights, dipstick; every field names
        its unit.

    Raises
    ------
    InputError
        If the file of prices can't be read.

    Examples
    --------
    >>> from bedtide import example_bed
    >>> sheet = build(example_bed())
    >>> sheet.can_be_built, sheet.cost
    (True, 0.0)
    """
    from bedtide import __version__

    trade, layer = read_trade(prices, units), bed.reservoir
    checks = checks_of(bed, trade, peak_of(bed, trade, weather))
    boards, zones = boards_of(bed, trade, beds), zones_of(bed, trade)
    pipes = pipe_cuts(bed, trade, beds)
    items = tuple(items_of(bed, trade, beds, boards, pipes, zones))
    hole = _hole(bed, trade, boards)
    over = trade["liner.turn_over"] - (trade["board.thickness"] if boards else 0.0)
    ends = {"low_end": 0.0, "middle": 0.5, "high_end": 1.0}
    settling = [1e2 * trade[f"mix.settling{end}"] for end in ("", "_least", "_most")]
    asked = ["fitting.hole"] * (hole is not None) + [
        f"crate.{side}" for side in ("length", "width") if layer.form == "crates"
    ]
    return Build(
        bedtide_version=__version__,
        bed=bed.name,
        beds=beds,
        form=layer.form,
        can_be_built=not any(check.verdict == "fails" for check in checks),
        checks=checks,
        first_fill_litres=1e3 * first_fill(bed, trade),
        store_litres=1e3 * full_store(bed) * plan_area(bed),
        items=items,
        amendments=tuple(trade.amendments),
        cost=sum(item.price or 0.0 for item in items),
        currency=trade.currency,
        without_price=tuple(dict.fromkeys(item.item for item in items if item.price is None)),
        boards=boards,
        pipes=pipes,
        fill_outside_mm=1e3 * trade["fill.outside"],
        liner_slack_mm=1e3 * over,
        mixes=zones,
        settling_percent=(settling[0], settling[1], settling[2]),
        moisture_percent=1e2 * trade["mix.moisture"],
        weights=weights_of(bed, boards),
        hole=hole,
        slope={f"{k}_litres": 1e3 * tilted_store(bed, 1e-3, end) for k, end in ends.items()},
        dipstick=dipstick(bed, units),
        lip_mm=None if bed.overflow.height is None else 1e3 * bed.overflow.height,
        pipe_wall_mm=1e3 * layer.wall if isinstance(layer, Pipes) else 0.0,
        freeboard_mm=1e3 * bed.box.freeboard,
        asked=tuple(key for key in asked if key not in trade.values),
        sizes=tuple(trade.table.values()),
    )


def _hole(bed: Bed, trade: Trade, boards: Boards | None) -> Hole | None:
    """Where the end wall is drilled: into a pipe beside the side wall, or in its middle.

    None where there is no overflow, or its bore is not given.
    """
    layer, wide = bed.reservoir, walls_of(bed).width_at_floor
    bore, lip = bed.overflow.bore, bed.overflow.height
    if bed.overflow.state == "none" or bore is None or lip is None:
        return None
    beside, half = 0.5 * wide, None
    if isinstance(layer, Pipes):
        beside, half = 0.5 * (wide / layer.count - layer.outside), layer.outside / 2
    wall, liner, floor, joints = 0.0, 0.0, 0.0, range(0)
    if boards is not None:
        wall, liner = trade["board.thickness"], trade["liner.thickness"]
        floor, joints = under_liner(trade), range(1, boards.courses)
    centre, diameter = lip + 0.5 * bore, trade.values.get("fitting.hole")
    up, reach = floor + centre, 0.5 * (diameter or bore) + 1e-3 * _TOUCH
    heights = (trade["board.width"] * number for number in joints)
    return Hole(
        across_mm=1e3 * (wall + liner + beside + (half or 0.0)),
        wall_mm=1e3 * wall,
        liner_mm=1e3 * liner,
        beside_mm=1e3 * beside,
        half_pipe_mm=None if half is None else 1e3 * half,
        up_mm=1e3 * up,
        floor_mm=1e3 * floor,
        centre_mm=1e3 * centre,
        bore_mm=1e3 * bore,
        diameter_mm=None if diameter is None else 1e3 * diameter,
        meets_joint_mm=next((1e3 * joint for joint in heights if abs(joint - up) < reach), None),
        litres_per_minute=1e3 / 1440.0 * float(outlet_flow(outlet_head(bed), bore)),
        head_mm=1e3 * outlet_head(bed),
    )


def dipstick(bed: Bed, units: System) -> tuple[Mark, ...]:
    """Marks at round litres or US gallons, at the most eight, empty and full among them."""
    area, unit = plan_area(bed), US_GALLON if units == "us" else 1e-3
    full = full_store(bed) * area
    if full <= 0.0:
        return ()
    power = 10.0 ** math.floor(math.log10(full / unit / _MARKS))
    step = next(unit * (n * power) for n in _STEPS if full / unit / (n * power) <= _MARKS)
    number = math.ceil(full / step - 0.15)  # a mark that all but meets the last is left out
    round_ones = [step * n for n in range(max(number, 1))]
    marks = [(volume, float(level_of(volume / area, bed))) for volume in round_ones]
    return tuple(
        Mark(litres=1e3 * volume, height_mm=1e3 * height)
        for volume, height in (*marks, (full, full_level(bed)))
    )
