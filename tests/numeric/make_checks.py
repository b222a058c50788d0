"""Write docs/checks.md: every figure of the daily model against the stored Richards solutions.

python tests/numeric/make_checks.py
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from numeric.cases import Case
from numeric.compare import HOLDS_WATER, SETTLED, Figures, all_figures, bounds_of, broken

PAGE = Path(__file__).resolve().parents[2] / "docs" / "checks.md"

# Figure, what it is called in a sentence, its column, its unit and form.
COLUMNS = {
    "open_water": ("open water", "open, mm", "mm", ".1f"),
    "mix_water": ("water in the mix", "mix, mm", "mm", ".1f"),
    "transpiration": ("transpiration", "transpired, %", "%", "+.1f"),
    "evaporation": ("evaporation", "evaporated, mm", "mm", "+.1f"),
    "evaporation_share": ("evaporation", "evaporated, %", "%", "+.1f"),
    "outflow": ("overflow and rim spill", "ran out, mm", "mm", "+.1f"),
    "day_empty": ("the day the store is empty", "empty, days", "d", "+.0f"),
    "steady": ("what plants or surface get, filled daily", "filled daily, %", "%", "+.1f"),
    "air_worst": ("air among the roots, worst day", "air, points", "points", ".1f"),
}

CLASSES: dict[str, Callable[[str], bool]] = {
    "potting mixes": lambda name: "potting" in name or "ideal" in name,
    "peat": lambda name: name.startswith("peat"),
    "coir": lambda name: name.startswith("coir"),
    "perlite": lambda name: name.startswith("perlite"),
    "bark": lambda name: "bark" in name,
    "topsoil": lambda name: name.startswith("topsoil"),
    "sand": lambda name: name.endswith("sand"),
}


def class_of(case: Case) -> str:
    """Class of a case: of its mix, or "two mixes"."""
    if case.wick_name != case.top_name:
        return "two mixes"
    return next(name for name, holds in CLASSES.items() if holds(case.top_name))


def strain(found: Figures) -> tuple[float, str]:
    """How much of its bound the worst figure of a case takes [1], and which that is."""
    bounds = bounds_of(found.case)
    shares = {name: found.size(name) / bound for name, bound in bounds.items()}
    both = ("evaporation", "evaporation_share")
    easier = min(shares[name] for name in both)
    shares |= dict.fromkeys(both, easier)
    worst = max(shares, key=lambda name: shares[name])
    return shares[worst], worst


def page() -> str:
    """Text of docs/checks.md."""
    return "\n\n".join([HEAD, by_class(), worst_ten(), HOW, every_case()]) + "\n"


HEAD = """# How far off the daily model is

Made by `tests/numeric/make_checks.py` from the stored solutions; do not edit. The same figures are
held to their bounds in every test run, `tests/numeric/test_richards.py`; what is out of them is
**bold**."""

HOW = f"""## What was compared

The daily model cuts a bed into a dozen cells or two and steps a few times a day. Against it stands
a solution of the Richards equation in 60 to 130 cells of 1.5 to 5.5 mm that follows rain, sun and
roots through the day with steps of seconds to an hour. It shares nothing with the model: its own
formulas of the mix, its own geometry, another method in time with its own control of the error. It
is described in `tests/numeric/richards.py` and checked itself in `tests/numeric/test_solver.py`.

Both see the same rain, hours of rain, demand, energy and refills. The mixes are those of the table
of media when they were solved, peat, coir and bark that conduct as the table has them since
(*quick*), and two textbook sands; the inputs hold their numbers. *Dry*: no rain, 6 mm a day asked
of plants and surface together, 4.5 of a bare surface. *Wet*: ten days of 20 mm, then five dry ones.
*Bursts*: 30 to 70 mm in two hours, four times in two weeks. *Season*: a made-up one of 100 days,
filled to the lip when a morning finds under a quarter. *Filled 3* and *filled 6*: filled every
morning, with 3 or 6 mm a day asked. *Planted*: all is asked of the plants; *mixed*: 35 % of the
surface; *bare*: all of the surface. Every number is in `tests/numeric/inputs.json`.

What this can't show: both solve the same equation with the same curves of the mix. That they agree
says that the cells and steps suffice, not that nature does; [limits.md](limits.md) is about that.

## Every case

Differences, model minus reference, in mm of water over the bed (1 mm is 1 litre a square metre).
*Open* and *mix*: on the worst day that ends with over {HOLDS_WATER * 1000:.1f} mm in the store.
*Transpired*, *evaporated*, *ran out*: totals of the run. *Empty*: the first day that ends without
water in the store. *Filled daily*: what plants, or a bare surface, got in the last {SETTLED} days
of a bed that is filled every morning. *Air*: share of air among the roots, worst day, in percentage
points. In bursts the mix is left out: water is on its way through it. A figure out of its bound is
**bold**; evaporation may be within either of its bounds."""


def by_class() -> str:
    """The largest of each figure by class of mix and depth."""
    lines = [
        "## The largest differences",
        "",
        "By class of mix, over all spells; in brackets the bounds up to 0.42 m of mix and deeper.",
        "",
    ]
    found = all_figures()
    shallow = next(f.case for f in found if f.case.depth <= 0.42 and f.case.spell == "dry")
    deep = next(f.case for f in found if f.case.depth > 0.42 and f.case.spell == "dry")
    head = ["mix", "depth", "cases"]
    for name, (_, column, _, _) in COLUMNS.items():
        bounds = [bounds_of(case).get(name) for case in (shallow, deep)]
        head.append(column + (f" ({bounds[0]:g}, {bounds[1]:g})" if bounds[0] else ""))
    rows = []
    for kind in [*CLASSES, "two mixes"]:
        for depth, is_deep in (("to 0.42 m", False), ("deeper", True)):
            some = [
                f for f in found if class_of(f.case) == kind and (f.case.depth > 0.42) is is_deep
            ]
            if some:
                worst = [max(some, key=lambda f, n=name: f.size(n)) for name in COLUMNS]
                cells = [_cell(f, name) for f, name in zip(worst, COLUMNS, strict=True)]
                rows.append([kind, depth, str(len(some)), *cells])
    out = [f for f in found if broken(f)]
    lines += [_table(head, rows), ""]
    lines.append(
        f"All {len(found)} cases are within their bounds."
        if not out
        else f"Out of bounds, {len(out)} of {len(found)} cases: "
        + "; ".join(f"{f.case.name} ({', '.join(_words(f, n) for n in broken(f))})" for f in out)
        + "."
    )
    return "\n".join(lines)


def worst_ten() -> str:
    """The ten cases that come nearest to a bound, in words."""
    near = sorted(all_figures(), key=strain, reverse=True)[:10]
    lines = ["## The worst ten", ""]
    for found in near:
        share, name = strain(found)
        lines.append(f"- {found.case.name}: {_words(found, name)}, {share:.0%} of its bound.")
    return "\n".join(lines)


def every_case() -> str:
    head = ["bed", *(column for _, column, _, _ in COLUMNS.values())]
    return _table(head, [[f.case.name, *(_cell(f, n) for n in COLUMNS)] for f in all_figures()])


def _words(found: Figures, name: str) -> str:
    """A figure in words, with its bound."""
    called, _, unit, form = COLUMNS[name]
    value = _plain(format(getattr(found, name), form))
    bound = bounds_of(found.case)[name]
    if unit == "d":
        return f"{called} {value} days off (bound {bound:g})"
    return f"{called} {value} {unit} (bound {bound:g})"


def _cell(found: Figures, name: str) -> str:
    value = getattr(found, name)
    text = "-" if value != value else _plain(format(value, COLUMNS[name][3]))
    return f"**{text}**" if name in broken(found) else text


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    left = next(at for at, text in enumerate(head) if "," in text)
    rule = "|" + "---|" * left + "---:|" * (len(head) - left)
    return "\n".join(
        ["| " + " | ".join(head) + " |", rule, *("| " + " | ".join(r) + " |" for r in rows)]
    )


def _plain(text: str) -> str:
    """Without the sign of a nought."""
    return text.lstrip("+-") if float(text) == 0 else text


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
