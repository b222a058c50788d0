"""Whether the box, the reservoir and the overflow of a description fit into one another."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from bedtide.bed.dates import Day
from bedtide.bed.description import Box, Overflow, OverflowChange
from bedtide.bed.forms import Crates, FalseFloor, Pipes, Reservoir, Stone
from bedtide.bed.problems import Problems
from bedtide.bed.quantities import said
from bedtide.bed.sections import BoxTable, ChangeTable, LayerTable, OverflowTable, PipesTable

_LAYERS: dict[str, type[Crates | FalseFloor | Stone]] = {
    "crates": Crates,
    "false floor": FalseFloor,
    "stone": Stone,
}
_ROUNDING = 1e-9
_FLOOR = "Heights start at the liner floor; check whether it was measured from the ground"


def build_box(table: BoxTable, problems: Problems) -> Box | None:
    """Box of the section, or None with its mistakes noted."""
    if table.freeboard >= table.depth:
        depth = said(table.depth, "m", problems.given("box.depth"))
        problems.add(
            "box.freeboard",
            f"leaves no room in a box {depth} deep",
            expected=f"from the mix surface up to the rim, less than {depth}",
        )
        return None
    return Box(table.length, table.width, table.depth, table.freeboard)


def build_reservoir(
    table: PipesTable | LayerTable, box: Box | None, problems: Problems
) -> Reservoir | None:
    """Reservoir of the section, or None with its mistakes noted; without a box fewer are found."""
    before = len(problems.errors)
    reservoir = (
        _pipes(table, box, problems) if isinstance(table, PipesTable) else _layer(table, problems)
    )
    height = table.outside if isinstance(table, PipesTable) else table.height
    if box is not None and height >= box.depth - box.freeboard:
        key = "reservoir.outside" if isinstance(table, PipesTable) else "reservoir.height"
        surface = said(box.depth - box.freeboard, "m", problems.given("box.depth"))
        problems.add(
            key,
            f"reaches the mix surface at {surface}",
            expected=f"less than {surface}, so that mix lies above the reservoir",
        )
    return reservoir if len(problems.errors) == before else None


def build_overflow(
    table: OverflowTable, box: Box | None, reservoir: Reservoir | None, problems: Problems
) -> Overflow | None:
    """Overflow of the section, or None with its mistakes noted."""
    before = len(problems.errors)
    height = _lip(table.height, table.centre, table.bore, "overflow", problems, table.state)
    if height is not None:
        key = "overflow.height" if table.centre is None else "overflow.centre"
        _check_lip(height, key, box, reservoir, problems)
    changes: list[tuple[Day, Day | None, float]] = []
    for at, change in enumerate(table.change):
        path = f"overflow.change.{at}"
        lip = _lip(change.height, change.centre, table.bore, path, problems, "open")
        if lip is not None:
            key = f"{path}.height" if change.centre is None else f"{path}.centre"
            _check_lip(lip, key, box, reservoir, problems)
            changes.append((change.start, change.end, lip))
    if len(problems.errors) > before:
        return None
    calendar = _calendar(table.change, changes, height, problems)
    if len(problems.errors) > before:
        return None
    return Overflow(height, table.bore, table.state, calendar)


def _pipes(table: PipesTable, box: Box | None, problems: Problems) -> Pipes | None:
    if table.inside >= table.outside:
        outside = said(table.outside, "m", problems.given("reservoir.outside"))
        problems.add(
            "reservoir.inside",
            f"not smaller than the outside diameter of {outside}",
            expected=f"less than {outside}",
            hint="Measure both; the name of a pipe is neither",
        )
        return None
    if (table.count is None) == (table.gap is None):
        both = table.count is not None
        problems.add(
            "reservoir",
            "both count and gap are given" if both else "neither count nor gap is given",
            kind="field",
            expected='count = 5, or gap = "3 cm" from which the count follows',
        )
        return None
    if box is None:
        return None
    run = box.length if table.run is None else table.run
    if run > box.length + _ROUNDING:
        length = said(box.length, "m", problems.given("box.length"))
        problems.add(
            "reservoir.run",
            f"longer than the box, {length}",
            expected=f"at most {length}; pipes lie along the length",
        )
    count = table.count
    if count is None:
        gap = table.gap or 0.0
        count = math.floor((box.width + gap) / (table.outside + gap) + _ROUNDING)
    fit = math.floor(box.width / table.outside + _ROUNDING)
    key = "reservoir.count" if table.count is not None else "reservoir.outside"
    width = said(box.width, "m", problems.given("box.width"))
    if fit < 1:
        problems.add(
            "reservoir.outside",
            f"wider than the box, {width}",
            expected=f"less than {width}",
        )
        return None
    if count > fit:
        taken = said(count * table.outside, "m", problems.given("box.width"))
        problems.add(
            key,
            f"side by side the pipes take {taken}, the box is {width} wide",
            expected=f"at most {fit} pipe{'s' if fit > 1 else ''}",
            hint="Check that length and width are not swapped; pipes lie along the length",
        )
        return None
    if count * table.outside * run >= box.width * box.length * (1.0 - _ROUNDING):
        problems.add(
            key,
            "the pipes touch one another and all four walls, so no mix between them can wick",
            expected="some width of mix beside the pipes",
            hint="Take one pipe less, or give the run if the pipes end short of the walls",
        )
        return None
    return Pipes(table.inside, table.outside, count, run)


def _layer(table: LayerTable, problems: Problems) -> Reservoir | None:
    foot = table.wick_foot
    if table.wick_share > 0.0 and foot is None:
        problems.add(
            "reservoir.wick_foot",
            "missing",
            kind="field",
            expected='height of the foot of the mix above the floor, such as  wick_foot = "0 cm"',
            hint="Water below the foot is out of the plants' reach",
        )
        return None
    if foot is not None and foot >= table.height:
        height = said(table.height, "m", problems.given("reservoir.height"))
        problems.add(
            "reservoir.wick_foot",
            f"not below the top of the reservoir at {height}",
            expected=f'less than {height}, or wick_share = "0 %" where nothing wicks',
        )
        return None
    form = _LAYERS[table.form]
    return form(table.height, table.void_share, table.wick_share, foot or 0.0)


def _lip(
    height: float | None,
    centre: float | None,
    bore: float | None,
    path: str,
    problems: Problems,
    state: str,
) -> float | None:
    """Height of the lip [m] from either way of giving it."""
    if height is not None and centre is not None:
        problems.add(
            path,
            "both height and centre are given",
            kind="field",
            expected="one of them: height of the lower lip, or centre of the outlet with its bore",
        )
        return None
    if height is not None:
        return height
    if centre is None:
        if state != "none":
            problems.add(
                path,
                "its height is missing",
                kind="field",
                expected='height = "9 cm" of the lower lip, or centre and bore'
                + (', or state = "none"' if path == "overflow" else ""),
            )
        return None
    if bore is None:
        problems.add(
            "overflow.bore",
            "missing, so the lower lip is not known",
            kind="field",
            expected='inside diameter of the outlet, such as  bore = "20 mm"',
        )
        return None
    if centre - bore / 2.0 <= 0.0:
        problems.add(
            f"{path}.centre",
            "the lower lip would lie below the floor",
            expected="more than half of the bore",
            hint=_FLOOR,
        )
        return None
    return centre - bore / 2.0


def _check_lip(
    lip: float, key: str, box: Box | None, reservoir: Reservoir | None, problems: Problems
) -> None:
    """Note a lip above the rim or the mix surface, or below all of the void."""
    given = problems.given(key)
    if box is not None:
        surface = box.depth - box.freeboard
        least = said(0.0, "m", given)
        expected = f"between {least} and {said(surface, 'm', given)}"
        if lip > box.depth:
            problem = f"above the rim at {said(box.depth, 'm', given)}"
            problems.add(key, problem, expected=expected, hint=_FLOOR)
            return
        if lip > surface:
            problem = f"above the mix surface at {said(surface, 'm', given)}"
            problems.add(key, problem, expected=expected, hint=_FLOOR)
            return
    if isinstance(reservoir, Pipes):
        wall = 0.5 * (reservoir.outside - reservoir.inside)
        if lip <= wall + _ROUNDING:
            inside = said(wall, "m", given)
            problems.add(
                key,
                f"below the inside of the pipes, which begins at {inside}: no water would stay",
                expected=f"more than {inside}",
                hint=_FLOOR,
            )


def _calendar(
    tables: tuple[ChangeTable, ...],
    changes: list[tuple[Day, Day | None, float]],
    base: float | None,
    problems: Problems,
) -> tuple[OverflowChange, ...]:
    """Changes in the order of the calendar, the way back to the first height written out."""
    if not changes:
        return ()
    if base is None:
        problems.add(
            "overflow.change", "there is no outlet to change", kind="field", expected="a height"
        )
        return ()
    kinds = {isinstance(day, tuple) for start, end, _ in changes for day in (start, end) if day}
    if len(kinds) > 1:
        problems.add(
            "overflow.change",
            "full dates and days of every year are mixed",
            kind="field",
            expected='all such as "10-15" or all such as "2027-10-15"',
        )
        return ()
    yearly = kinds == {True}
    if yearly and len(changes) == 1 and changes[0][1] is None:
        problems.add(
            "overflow.change.0",
            "it is not said when the first height comes back",
            kind="field",
            expected='the day after the last one, such as  to = "04-15"',
            hint="Or give a full date in  from  for a change that stays",
        )
        return ()
    starts: dict[Any, float] = {}
    for at, (start, _, height) in enumerate(changes):
        if start in starts:
            problems.add(
                f"overflow.change.{at}.from", "the same day as another change", kind="field"
            )
        starts[start] = height
    ends = {end: base for _, end, _ in changes if end is not None and end not in starts}
    days = sorted(starts | ends)
    after = dict(pairwise([*days, days[0]]))
    for at, (start, end, _) in enumerate(changes):
        backward = end is not None and not yearly and end <= start  # type: ignore[operator]
        if end is not None and (backward or after[start] != end):
            problems.add(
                f"overflow.change.{at}.to",
                "before its own beginning" if backward else "another change falls in between",
                kind="field",
                expected="changes that do not overlap",
            )
    return tuple(OverflowChange(day, (starts | ends)[day]) for day in days)
