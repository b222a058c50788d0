"""First fill, weight, lift and quantities against sums of their own."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from bedtide.bed import mix_share, plan_area, surface_height
from bedtide.building.checks import lift
from bedtide.building.take_off import packed
from bedtide.building.trade import Size, read_trade
from bedtide.mix import supply_conductivity, water_content
from helpers.builds import CRATES, PIPES, TUB, built, changed, item

BOX = {"depth": "400 mm", "freeboard": "30 mm"}


@pytest.mark.parametrize("mapping", [PIPES, TUB, CRATES])
def test_the_first_fill(mapping):
    sheet, bed = built(mapping), changed(mapping, {})
    lip, crown, top = sheet.lip_mm / 1e3, bed.reservoir.crown, surface_height(bed)
    z = (np.arange(200_000) + 0.5) * top / 200_000
    water = np.where(
        z < crown,
        water_content(np.maximum(z - lip, 0), bed.wick_mix),
        water_content(np.maximum(z - lip, 0), bed.top_mix),
    )
    share = mix_share(z, bed)
    litres = 1e3 * plan_area(bed) * top / z.size
    mix = float((share * water).sum() * litres)
    lying = float(share.sum() * litres)
    assert sheet.first_fill_litres == pytest.approx(
        sheet.store_litres + mix - 0.2 * lying, rel=1e-3
    )
    assert sheet.first_fill_litres > 1.5 * sheet.store_litres
    weights = sheet.weights
    assert weights["at_lip_kg"] - weights["dry_kg"] == pytest.approx(
        sheet.store_litres + mix, rel=1e-3
    )


def test_the_wood():
    # Two courses 400 mm high, 38 thick, 2 x (2486 + 630) mm round, at 550 kg/m3.
    weights = built(PIPES).weights
    assert weights["wood_kg"] == pytest.approx(0.4 * 0.038 * 2 * (2.486 + 0.630) * 550)
    assert weights["dry_kg_per_m2"] == pytest.approx(weights["dry_kg"] / (2.4 * 0.62))
    assert weights["dry_kg"] < weights["at_lip_kg"] < weights["brimful_kg"]


def test_how_high_the_mix_lifts():
    # ds/dz = 1 + q/K(s), upward from the water at the level it is filled at, solved as it stands.
    bed = changed(PIPES, {})
    peak, dry = 0.008, 4.0
    carried, reach = lift(bed, peak, dry)
    assert carried > peak
    level = _fill_level(bed)
    heights = np.linspace(level, 0.12, 2001)
    narrow = float(mix_share(heights, bed).min())

    def climb(mix, flux, start, s0, end):
        def stop(z, s):
            return s[0] - dry

        stop.terminal = True
        return solve_ivp(
            lambda z, s: 1 + flux / supply_conductivity(s, mix),
            (start, end),
            [s0],
            events=stop,
            rtol=1e-9,
            atol=1e-9,
        )

    below = climb(bed.wick_mix, peak / narrow, level, 1e-6, 0.12)
    above = climb(bed.top_mix, peak, 0.12, below.y[0, -1], 5.0)
    assert reach == pytest.approx(above.t[-1], abs=2e-3)
    at_most = climb(bed.wick_mix, carried / narrow, level, 1e-6, 5.0)
    assert at_most.t[-1] == pytest.approx(0.12, abs=1e-3)


def test_how_high_the_mix_lifts_from_water_at_the_crown():
    watering = {"when": "below share", "share": "100 %"}
    bed = changed(CRATES, {"overflow.height": "6 in", "watering": watering})
    carried, reach = lift(bed, 0.008, 4.0)
    assert carried is None  # no wick to pass
    assert reach == pytest.approx(6 * 0.0254 + climbed(0.008, bed.top_mix, 4.0), abs=1e-3)


def test_how_high_a_wick_lifts_that_can_not_carry_it():
    bed = changed(PIPES, {})
    carried, reach = lift(bed, 2.0, 4.0)
    assert carried < 2.0
    level = _fill_level(bed)
    narrow = float(mix_share(np.linspace(level, 0.12 - 1e-9, 2001), bed).min())
    climb = climbed(2.0 / narrow, bed.wick_mix, 4.0)
    assert 0.005 < climb < 0.12 - level
    assert reach == pytest.approx(level + climb, abs=1e-4)


def climbed(flux, mix, dry):
    """Height of a suction above water at a steady flux: dz/ds = 1 / (1 + q/K(s)) [m]."""
    found = quad(lambda s: 1 / (1 + flux / supply_conductivity(s, mix)), 0, dry, limit=500)
    return found[0]


def _fill_level(bed):
    from bedtide.bed import capacity, level_of

    return float(level_of(0.3 * capacity(bed, 0.09), bed))


def test_quantities_are_never_short():
    for mapping in (PIPES, TUB, CRATES):
        for beds in (1, 2, 7):
            for units in ("metric", "us"):
                sheet = built(mapping, beds=beds, units=units)
                trade = read_trade(None, units)
                sizes = {
                    size.text: amount
                    for key, each in trade.sizes.items()
                    for amount, size in each.items()
                    if key.startswith("bag")
                }
                for each in sheet.items:
                    if each.size in sizes:
                        assert each.count * sizes[each.size] >= each.needed * (1 - 1e-9)
                        assert (each.count - 1) * sizes[each.size] < each.needed


@pytest.mark.parametrize(
    ("changes", "units"),
    [
        ({"reservoir.count": 5}, "metric"),
        ({"overflow.bore": "25 mm"}, "metric"),
        ({"overflow.bore": "25 mm", "overflow.height": "105 mm"}, "metric"),
        ({"box.length": "9 m"}, "metric"),
        ({"box.length": "9 m"}, "us"),
        ({"box.width": "9 m"}, "metric"),
        ({"reservoir.count": 5, "overflow.bore": "25 mm", "box.length": "6 m"}, "metric"),
    ],
)
def test_the_nearest_that_can_be_built_can(changes, units):
    mapping = {**PIPES, "reservoir": {**PIPES["reservoir"], "run": "2 m"}}
    sheet = built(mapping, changes=changes, units=units)
    assert not sheet.can_be_built
    assert sheet.failing
    nearest, further = dict(changes), dict(changes)
    for check in sheet.failing:
        if check.key:
            count = check.unit == ""
            nearest[check.key] = int(check.nearest) if count else f"{check.nearest:.6f} mm"
            further[check.key] = (
                int(check.nearest) + 1 if count else f"{check.nearest + 1.0:.6f} mm"
            )
    assert built(mapping, changes=nearest, units=units).can_be_built
    assert not built(mapping, changes=further, units=units).can_be_built


def test_bags():
    bags = {0.04: Size("40 L", 7.0), 0.1: Size("100 L", 12.0)}
    assert packed(0.12, bags) == ("40 L", 3, 21.0)  # two of 100 L are 24
    assert packed(0.2, bags) == ("100 L", 2, 24.0)  # five of 40 L are 35
    bare = {size: Size(each.text, None) for size, each in bags.items()}
    assert packed(0.12, bare) == ("40 L", 3, None)  # nothing left over
    assert packed(0.1, bare) == ("100 L", 1, None)


def test_pieces_of_two_beds():
    sheet = built(PIPES, beds=2)
    # Two courses of four corners, three screws at each; a liner of 3.4 by 1.62 m.
    assert item(sheet, "screws").count == item(sheet, "screws").needed == 2 * 2 * 4 * 3
    assert item(sheet, "liner").needed == pytest.approx(2 * 3.4 * 1.62)
    assert item(sheet, "end cap").count == 2 * 2 * 4
    used = sum(each.needed for each in sheet.items if each.item == "boards")
    assert used == pytest.approx(2 * 2 * 2 * (2.486 + 0.630))
    # Two runs of 2.34 m out of each length of 6 m, none of them joined.
    assert [each.pieces_mm for each in sheet.pipes] == [(pytest.approx(2340),) * 2]
    assert "coupler" not in {each.item for each in sheet.items}
    assert item(sheet, "fill pipe").piece_mm == pytest.approx((450,))


def test_long_runs_take_couplers():
    # 8 m of drain pipe in lengths of 3 m: 3 + 3 + 2 m, two couplers for each of four runs.
    changes = {"box.length": "8.1 m", "reservoir.run": "8 m"}
    file = {"pipe.lengths": ["3 m"]}
    sheet = built(PIPES, changes=changes, own=file)
    assert item(sheet, "coupler").count == 8
    assert item(sheet, "drain pipe").count == 12


def test_crates_are_counted_once_their_size_is_known():
    assert built(CRATES, units="us").asked == ("fitting.hole", "crate.length", "crate.width")
    sheet = built(CRATES, units="us", own={"crate.length": "24 in", "crate.width": "16 in"})
    unknown = item(built(CRATES, units="us"), "crate")
    assert unknown.count is None
    assert unknown.needed == pytest.approx(96 * 48 * 6 * 10 / 12 * 0.0254**3)
    both = item(built(CRATES, units="us", beds=2), "crate")
    assert both.needed == pytest.approx(2 * unknown.needed)
    # 96 x 48 in less 2/12 of legs over 24 x 16 in: exactly ten.
    assert item(sheet, "crate").count == 10


def test_amendments_by_their_labels():
    own = {"amendments.lime": "4 kg/m3", "amendments.feed": "100 g/m2"}
    sheet = built(PIPES, own=own)
    # 444.701 L of mix; 2.4 x 0.62 m2.
    assert item(sheet, "lime").needed == pytest.approx(4 * 0.444701, abs=1e-5)
    assert item(sheet, "feed").needed == pytest.approx(0.1488)
    assert sheet.amendments == ("lime", "feed")
    both = built(PIPES, own=own, beds=2)
    assert item(both, "lime").needed == pytest.approx(2 * item(sheet, "lime").needed)


def test_a_mix_that_was_measured_is_bought_as_it_is():
    pot = {"height": "20 cm", "total_porosity": "85 %", "air_after_draining": "18 %"}
    own = {"name": "my mix", "bench": {**pot, "like": "peat"}}
    sheet = built(PIPES, changes={"mix": {**PIPES["mix"], "top": own}})
    # 372 L lie over the pipes, settled by 15 %.
    assert item(sheet, "my mix").needed == pytest.approx(0.372 / 0.85)


def test_an_amendment_has_a_price_by_its_name():
    own = {"amendments.lime": "4 kg/m3", "amendments.feed": "100 g/m2", "amendments.grit": "2 %"}
    own |= {"prices.lime": "2 / kg", "prices.feed": 9}
    sheet = built(PIPES, own=own)
    assert item(sheet, "lime").price == pytest.approx(2 * 4 * 0.444701, abs=1e-5)
    assert item(sheet, "feed").price == 9  # for all of it
    assert {"lime", "feed"}.isdisjoint(sheet.without_price)
    assert "grit" in sheet.without_price


@pytest.mark.parametrize(("length", "width", "ties"), [(4.4, 1, 2), (1, 4.6, 3), (1.2, 1.4, None)])
def test_ties_across_the_longer_sides(length, width, ties):
    # A tie for every 1.5 m but the last.
    sheet = built(TUB, changes={"box": {**BOX, "length": f"{length} m", "width": f"{width} m"}})
    assert [each.count for each in sheet.items if each.item == "tie"] == ([ties] if ties else [])


def test_a_floor_of_boards_lifts_the_hole():
    hole = built(PIPES, own={"board.floor": "20 mm"}).hole
    assert hole.up_mm == pytest.approx(20 + 5 + 100)
    sheet = built(PIPES, own={"board.floor": "20 mm"})
    # As wide as the walls stand apart: the bed and its liner on both sides.
    assert item(sheet, "floor boards").piece_mm == pytest.approx((2410, 630))
    assert "floor boards" not in {each.item for each in built(PIPES).items}
    assert sheet.boards.courses == 3  # 425 mm do not come out of two courses of 200
    assert sheet.boards.rip_mm == pytest.approx(175)
    assert sheet.boards.saves_mm == pytest.approx(375)  # 2 x 200 less 25 under the liner
    assert built(PIPES).boards.saves_mm is None


def test_a_box_that_is_bought():
    sheet = built(PIPES, own={"board.lengths": []})
    assert sheet.boards is None
    assert sheet.can_be_built
    assert sheet.weights["wood_kg"] == 0
