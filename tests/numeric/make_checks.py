"""Write docs/checks.md: every figure of the daily model against the stored Richards solutions.

python tests/numeric/make_checks.py
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from numeric.compare import HOLDS_WATER, Figures, all_figures, bounds_of, broken

PAGE = Path(__file__).resolve().parents[2] / "docs" / "checks.md"
NAMES = {
    "open_water": "open water",
    "mix_water": "mix water while the store holds water",
    "mix_water_empty": "mix water once it is empty",
    "transpiration": "transpiration over the run",
}
UNITS = {"open_water": "mm", "mix_water": "mm", "mix_water_empty": "mm", "transpiration": "%"}


def page() -> str:
    """Text of docs/checks.md."""
    return "\n\n".join([HEAD, worst_in_words(), HOW, table()]) + "\n"


HEAD = """# How far off the daily model is

Made by `tests/numeric/make_checks.py` from the stored solutions; do not edit. The same figures are
held to their bounds in every test run, `tests/numeric/test_richards.py`."""

HOW = f"""## What was compared

The daily model keeps three stores and steps twice a day through tables. Against it stands a
solution of the Richards equation in 127 cells with rain and uptake by the minute, which shares
nothing with the model: its own formulas of the mix, its own geometry, a stiff ODE solver. It is
described in `tests/numeric/richards.py` and checked itself in `tests/numeric/test_solver.py`:
rest, steady flux against Gardner's closed form and against quadrature, the water account of every
run within 0.1 mm; in a peat bed twice as many cells change a store by less than 0.03 mm, and four
times as permeable pipe walls by less than 0.2 mm.

Both see the same rain, demand and refills, day by day; the refills are those of the reference,
which fills to the lip when the morning finds under a quarter of the store. Four mixes, pipes over
85 or 50 % of the floor, roots down to the lip of the overflow. Three spells: a drought of 40 days
with a demand of 6 mm a day; 10 days of 20 mm of rain with 2 mm of demand, then 5 dry ones; a
made-up season of 120 days with rain, refills and a demand that rises to 7 mm and falls again.
Every number is in `tests/numeric/inputs.json`.

## All figures

Differences on the worst day of each run, in mm of water over the bed (1 mm is 1 litre a square
metre). *Open* and *mix*: water in the store and in the mix on days that end with more than
{HOLDS_WATER * 1000:.1f} mm in the store; *mix, empty*: on the other days. *Transpiration* and
*overflow*: totals of the run, model minus reference. *Air*: air share of the root zone in
percentage points, model minus reference, mean of the run and worst day. A figure out of its bound
is **bold**."""


def worst_in_words() -> str:
    """The worst of each figure with its case, and what is out of bounds."""
    lines = ["## The worst", ""]
    for title, deep in (("Beds up to 0.42 m of mix", False), ("Beds of 0.60 m", True)):
        found = [f for f in all_figures() if (f.case.depth > 0.5) == deep]
        lines += [f"{title}, {len(found)} runs:", ""]
        for name, text in NAMES.items():
            worst = max(found, key=lambda f: f.size(name))
            bound = bounds_of(worst.case).get(name)
            limit = f", bound {bound:g} {UNITS[name]}" if bound is not None else ", no bound"
            lines.append(
                f"- {text}: {worst.size(name):.1f} {UNITS[name]}{limit} ({worst.case.name})"
            )
        air = max(found, key=lambda f: f.air_worst)
        lines.append(
            f"- air share of the root zone: {air.air_worst:.1f} percentage points on the worst "
            f"day, no bound ({air.case.name}); between "
            f"{min(f.air_mean for f in found):+.1f} and {max(f.air_mean for f in found):+.1f} "
            "in the mean of a run"
        )
        lines.append("")
    out = [
        f"{f.case.name} ({', '.join(NAMES[n] for n in broken(f))})"
        for f in all_figures()
        if broken(f)
    ]
    lines.append(
        "No figure is out of its bound."
        if not out
        else f"Out of bounds, {len(out)} of {len(all_figures())} runs: {'; '.join(out)}."
    )
    return "\n".join(lines)


def table() -> str:
    head = [
        "mix, depth, floor under pipes, spell",
        "open",
        "mix",
        "mix, empty",
        "transpiration %",
        "overflow",
        "air, mean",
        "air, worst",
    ]
    lines = ["| " + " | ".join(head) + " |", "|---" + "|---:" * (len(head) - 1) + "|"]
    lines += [row(found) for found in all_figures()]
    return "\n".join(lines)


def row(found: Figures) -> str:
    out = broken(found)

    def cell(name: str, form: str) -> str:
        value = getattr(found, name)
        text = "-" if value != value else _plain(format(value, form))
        return f"**{text}**" if name in out else text

    cells = [
        found.case.name,
        cell("open_water", ".1f"),
        cell("mix_water", ".1f"),
        cell("mix_water_empty", ".1f"),
        cell("transpiration", "+.1f"),
        cell("overflow", "+.1f"),
        cell("air_mean", "+.1f"),
        cell("air_worst", ".1f"),
    ]
    return "| " + " | ".join(cells) + " |"


def _plain(text: str) -> str:
    """Without the sign of a nought."""
    return text.lstrip("+-") if float(text) == 0 else text


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
