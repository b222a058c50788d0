"""One column by itself, for tests that look at its fluxes or at the end of all change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from unittest import mock

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.column import AIR_DRY, Cells, cells_of, layouts_of, mix_table
from bedtide.column.hydraulics import K
from bedtide.column.run import Mixes, geometry_of
from bedtide.column.step import (
    CARRY,
    GEOMETRY,
    HELD,
    S_,
    SCRATCH,
    TH,
    Q,
    Sky,
    Store,
    attempt,
    held,
    index_of,
    look,
    look_up,
)
from helpers.beds import LAYER, bed_with

Array = NDArray[np.float64]
H3, H4 = 5.0, 80.0  # limits of uptake [m]
WATER = 0.151  # level that touches the foot of mix over 15 cm of stone [m]


@dataclass
class Column:
    """One bed's cells with all that the compiled functions ask for."""

    cells: Cells
    mixes: Mixes
    g: Array = field(init=False)
    w: Array = field(init=False)
    n: int = field(init=False)

    def __post_init__(self) -> None:
        """Fill in the geometry."""
        most = self.cells.centre.shape[1]
        self.g, self.w = np.zeros((GEOMETRY, most)), np.zeros((SCRATCH, most))
        self.n = geometry_of(self.cells, 0, self.mixes, self.g)
        self.store = Store(self.cells.store_base[0], self.cells.store_step[0], self.cells.store[0])
        self.ceiling = (
            int(self.cells.ceiling[0]), self.cells.ceiling_height[0], self.cells.ceiling_pass[0],
        )  # fmt: skip
        at = look_up(self.mixes.tables[int(self.cells.mix[0, 0])], index_of(AIR_DRY))
        self.dry = (at[0], at[4], at[6])

    @property
    def suction(self) -> Array:
        """Suction of the cells [m]."""
        return self.w[S_, : self.n].copy()

    def put(self, suction: Array | float) -> Column:
        """Set the cells to these suctions [m]."""
        for cell, value in enumerate(np.broadcast_to(suction, self.n)):
            self.w[Q, cell] = index_of(float(value))
            look(self.mixes.tables, self.g, self.w, cell, H3, H4)
            self.w[HELD, cell] = self.w[TH, cell]
        return self

    def step(
        self, sky: Sky, water: float, level: float, *, pond: float = 0.0, lip: float = np.inf,
        dt: float = 1.0, passes: int = 40, damped: bool = False,
    ) -> tuple[int, float, Array]:  # fmt: skip
        """One implicit step: passes (0 if it failed), the level, and what moved [m]."""
        out, before = np.zeros(8), self.w.copy()
        done, new = attempt(
            self.mixes.tables, self.g, self.w, self.n, self.store, self.ceiling, self.dry,
            np.zeros(4), sky, water, level, pond, lip, dt, passes, damped, out,
        )  # fmt: skip
        if done:
            self.w[HELD, : self.n] = self.w[CARRY, : self.n]
        else:
            self.w[:] = before
        return done, new, out

    def settled(self, sky: Sky, level: float) -> Array:
        """Rates at the end of all change under a steady sky [m d-1], as `out` of `attempt`."""
        water, length = held(level, self.store)[0], 0.01
        for _ in range(2000):
            before = self.suction
            done, _, out = self.step(sky, water, level, dt=length)
            still = np.abs(self.suction - before) < 1e-7 * (1.0 + np.abs(before))
            if done and still.all() and length == 100.0:
                return out / length
            length = min(length * (1.5 if done else 0.3), 100.0)
        raise AssertionError("it did not come to rest")


def column_of(bed: Bed, *, finer: int = 1) -> Column:
    """Return the column of a bed."""
    cells, mixes, _ = layouts_of([bed], finer=finer)
    return Column(cells, mixes)


def table_of(law: Callable[[Array], Array], content: Callable[[Array], Array]) -> Array:
    """Return a table for laws of one's own: conductivity and water content over suction."""
    name = "bedtide.column.hydraulics"
    with (
        mock.patch(f"{name}.supply_conductivity", lambda s, mix: law(s)),
        mock.patch(f"{name}.water_content", lambda s, mix: content(s)),
    ):
        return mix_table.__wrapped__(bed_with().top_mix)


def over_water(height: float, table: Array, *, finer: int = 1) -> tuple[Column, Array]:
    """Mix of one table over a water level that stays, and the height of its cells over it [m].

    It is cut as the mix of a bed of that height over stone is; the water touches its foot.
    """
    stone = {"form": "stone", **LAYER, "wick_share": "0 %"}
    bed = bed_with({"reservoir": stone, "box.depth": f"{height + WATER + 0.03} m"})
    cells = cells_of(bed, (0, 0), float(table[0, K]), finer=finer)
    # of a store that goes on far above the stone and holds a million metres to each of level
    nodes = np.linspace(0.0, 1e6 * 2.0, cells.store.shape[1])
    cells = cells._replace(store=nodes[None], store_step=np.array([2.0 / (nodes.size - 1)]))
    column = Column(cells, Mixes(table[None], np.array([40.0]), np.array([0.1]), AIR_DRY))
    return column, cells.centre[0] - WATER


def sky(*, rain: float = 0.0, demand: float = 0.0, energy: float = 0.0) -> Sky:
    """Return what a step brings and asks for [m d-1]."""
    return Sky(rain, demand, energy, H3, H4)
