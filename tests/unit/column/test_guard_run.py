"""Columns through a few days by hand: fills, lips, rims, what is read, counted and passed on."""

from __future__ import annotations

import numpy as np
import pytest

from bedtide.bed import level_of, open_store
from bedtide.column import FIGURES, Beds, Columns, Days, at_rest, layouts_of, move
from bedtide.column import run as run_module
from bedtide.column.run import air_above, airy_depth, dawn, fill_from_below, read, roots_in
from bedtide.column.step import HELD, ROOT, WATER, Q, held
from bedtide.mix import medium, water_content
from helpers.beds import bed_with, layered
from helpers.columns import column_of

CRATES = layered("crates", wick_foot="3 cm")  # 27 mm below the legs, 8.1 mm a centimetre beside
PIPES = bed_with()
SURFACE = 0.39


def cap(level):
    """Water of the crates below a level by hand."""
    return 0.9 * min(level, 0.03) + 0.81 * np.clip(level - 0.03, 0.0, 0.12)


def days_of(count, **given):
    """Days without anything, unless told."""
    one = np.zeros((1, count))
    each = np.zeros((1, count, 1))
    days = Days(
        rain=one, hours=np.zeros((0, 0, 24)), begin=0.375, end=0.625, energy=one, demand=each,
        depth=each + 0.25, h3=each + 5.0, h4=each + 80.0, zone=one + 0.25,
    )  # fmt: skip
    return days._replace(**given)


def moved(bed, start, count=1, *, lip=0.09, due=(), below=0.5, volume=np.inf, given=(), first=0,
          days=None, dead=0.027, freeboard=0.03, roots=0.09, standing=0.0):  # fmt: skip
    """Figures by name, day by day, of a column at rest over a level; the states and counts."""
    cells, mixes, layout = layouts_of([bed])
    water = float(open_store(start, bed))
    states = at_rest(cells, mixes, layout, np.array([water]), np.array([start]))
    states.rest[0, 2] = standing
    beds = Beds(
        layout=layout, surface=np.array([SURFACE]), freeboard=np.array([freeboard]),
        roots_from=np.array([roots]), dead=np.array([dead]), lip=np.atleast_2d(lip) + 0.0,
        below=np.array([below]), volume=np.array([volume]),
    )  # fmt: skip
    some = np.zeros((1, count), dtype=bool)
    some[0, list(due)] = True
    put = np.zeros((1, count)) if given else np.zeros((0, 0))
    for day, value in dict(given).items():
        put[0, day] = value
    zero = np.zeros(1, dtype=np.int64)
    days = days or days_of(count + first)
    columns = Columns(
        bed=zero,
        days=zero,
        start=zero + first,
        hours=zero + len(days.hours) - 1,
        due=some,
        given=put,
    )
    figures, profile, counts = move(
        cells, mixes, beds, days, columns, states, profile=True, threads=1
    )
    return dict(zip(FIGURES, figures[:, 0], strict=True)), profile[0], counts[0], states


# Fills


@pytest.mark.parametrize(
    ("start", "below", "filled"),
    [
        # 75.6 mm to the lip at 9 cm, 27 of them out of reach: half of the rest is at 6 cm
        (0.0605, 0.5, False),
        (0.0595, 0.5, True),
        (0.0430, 0.2, False),  # a fifth of the rest: 4.2 cm
        (0.0415, 0.2, True),
        (0.0899, np.inf, True),  # as often as somebody comes
        (0.0899, 1.0, True),
        (0.0310, 0.0, False),  # nothing of it is left: never above the legs
    ],
)
def test_it_is_filled_where_the_part_in_reach_falls_under_the_share(start, below, filled):
    found, *_ = moved(CRATES, start, due=[0], below=below)
    expected = cap(0.09) - cap(start) if filled else 0.0
    assert found["refill"][0] == pytest.approx(expected, abs=1e-12)
    stored = found["open_water"][0] + found["rise"][0] + found["overflow"][0]
    assert stored == pytest.approx(cap(0.09) if filled else cap(start), abs=1e-12)


def test_it_is_filled_only_when_somebody_comes_and_by_what_a_fill_brings():
    found, *_ = moved(CRATES, 0.05, count=3, due=[1], below=0.5, volume=0.011)
    assert found["refill"].tolist() == [0.0, 0.011, 0.0]
    more, *_ = moved(CRATES, 0.05, count=3, due=[1], below=0.5, volume=0.011,
                     given={1: 0.004, 2: 0.002})  # fmt: skip
    assert more["refill"] == pytest.approx([0.0, 0.015, 0.002])
    over, *_ = moved(CRATES, 0.08, due=[0], below=np.inf, volume=0.030)
    assert over["refill"][0] == 0.030
    assert over["overflow"][0] == pytest.approx(0.030 - cap(0.09) + cap(0.08), abs=2e-4)


def test_a_lip_under_what_is_out_of_reach_leaves_hardly_any_room():
    # 9 mm to the lip at 1 cm and 27 out of reach: it never falls under the share of a hair
    found, *_ = moved(CRATES, 0.01, due=[0], lip=0.01)
    assert found["refill"][0] == pytest.approx(0.0, abs=1e-12)
    found, *_ = moved(CRATES, 0.008, due=[0], lip=0.01, below=np.inf)
    assert found["refill"][0] == pytest.approx(0.9 * 0.002, abs=1e-12)


def test_nothing_is_put_in_where_more_than_the_lip_lets_stand_is_there():
    found, *_ = moved(CRATES, 0.10, due=[0], below=np.inf, lip=np.array([[0.05]]))
    assert found["refill"][0] == 0.0
    assert found["overflow"][0] > cap(0.10) - cap(0.05)  # and what the mix lets go
    assert found["open_water"][0] == pytest.approx(cap(0.05), abs=1e-4)


def test_a_blocked_store_is_filled_to_the_top_of_its_form():
    found, *_ = moved(CRATES, 0.10, due=[0], below=np.inf, lip=np.inf)
    assert found["refill"][0] == pytest.approx(cap(0.15) - cap(0.10), abs=1e-12)
    assert found["overflow"][0] == 0.0


def test_the_lip_is_that_of_the_day_of_the_record():
    lips = np.array([[0.09, 0.09, 0.05, 0.09]])
    found, *_ = moved(CRATES, 0.08, count=3, lip=lips, first=1)
    assert found["overflow"][0] == 0.0
    assert found["open_water"][1] == pytest.approx(cap(0.05), abs=1e-4)
    assert found["overflow"][1] > cap(0.08) - cap(0.05)  # and what the mix lets go
    assert found["overflow"][2] == 0.0


# The rim, the air, the fluxes


def test_what_stands_over_the_rim_in_the_morning_spills():
    # full pores under 4 cm of water: 1 cm is over the rim
    _cells, _mixes, _layout = layouts_of([PIPES])
    found, _, _, states = moved(PIPES, 0.45, lip=np.inf, standing=0.040, dead=0.0)
    assert found["rim_spill"][0] == pytest.approx(0.010, abs=3e-4)
    assert found["standing_water"][0] == pytest.approx(0.030, abs=5e-4)
    assert found["level"][0] == pytest.approx(SURFACE + found["standing_water"][0])
    assert states.rest[0, 2] == found["standing_water"][0]


def test_fluxes_of_the_day_are_in_their_rows():
    count = 2
    asked = days_of(
        count, demand=np.full((1, count, 1), 0.005), energy=np.full((1, count), 0.003),
        rain=np.array([[0.0, 0.012]]),
    )  # fmt: skip
    found, profile, counts, states = moved(CRATES, 0.085, count=count, days=asked)
    assert found["transpiration"] == pytest.approx([0.005, 0.005], abs=2e-5)
    assert found["evaporation"] == pytest.approx([0.003, 0.003], abs=1e-4)
    cells, *_ = layouts_of([CRATES])
    n = int(cells.number[0])
    mix = profile[:, :n] @ cells.water[0, :n]
    assert found["mix_water"] == pytest.approx(mix)
    rest, *_ = moved(CRATES, 0.085)
    begun = rest["mix_water"][0] + cap(0.085)
    stored = mix + found["open_water"] + found["standing_water"]
    flux = np.cumsum(found["transpiration"] + found["evaporation"] + found["overflow"])
    assert stored == pytest.approx(begun - flux + [0.0, 0.012], abs=1e-12)
    store = cap(0.085) - np.cumsum(found["rise"] + found["overflow"])
    assert found["open_water"] == pytest.approx(store, abs=1e-12)
    assert (found["rise"] > 0.0).any()
    assert found["level"] == pytest.approx(level_of(found["open_water"], CRATES), abs=5e-5)
    # counts: at the least a cut at noon, and passes to each step
    assert counts[0] >= 4
    assert counts[0] <= counts[1] <= 8 * counts[0]
    assert counts[2] == counts[3] == 0.0
    assert states.content[0, :n] == pytest.approx(profile[-1, :n])


def test_a_set_of_days_begins_where_the_column_does():
    count = 4
    rain = np.array([[0.0, 0.0, 0.008, 0.001, 0.0]])
    found, *_ = moved(CRATES, 0.085, count=2, first=2, days=days_of(count + 1, rain=rain))
    rest, *_ = moved(CRATES, 0.085)
    stored = found["mix_water"] + found["open_water"] + found["overflow"].cumsum()
    assert stored - rest["mix_water"][0] - cap(0.085) == pytest.approx([0.008, 0.009], abs=1e-9)


def test_the_hours_of_a_record_are_those_of_its_days():
    hours = np.zeros((1, 2, 24))
    hours[0, 0, 2], hours[0, 1, 22] = 1.0, 1.0
    late = days_of(2, rain=np.full((1, 2), 0.008), hours=hours)
    found, *_ = moved(PIPES, 0.05, count=2, days=late, dead=0.0)
    even, *_ = moved(PIPES, 0.05, count=2, days=days_of(2, rain=np.full((1, 2), 0.008)), dead=0.0)
    # what fell at ten in the evening is still at the surface, what fell at two has gone down
    assert found["surface_suction"][1] < even["surface_suction"][1] - 0.01
    assert found["surface_suction"][0] > even["surface_suction"][0]


def test_the_zone_whose_air_is_read_ends_at_the_roots_and_is_the_top_where_nothing_grows():
    bare, *_ = moved(PIPES, 0.05, days=days_of(1, zone=np.zeros((1, 1))), dead=0.0)
    assert bare["air_root_zone"][0] == bare["air_top"][0]
    deep, *_ = moved(PIPES, 0.05, days=days_of(1, zone=np.full((1, 1), 0.7)), dead=0.0)
    whole, *_ = moved(PIPES, 0.05, days=days_of(1, zone=np.full((1, 1), 0.30)), dead=0.0)
    assert deep["air_root_zone"][0] == pytest.approx(whole["air_root_zone"][0])
    z = np.linspace(0.09, 0.39, 3001)
    mix = 0.5 * (z[1:] + z[:-1])
    porosity, content = 0.85, water_content(mix - 0.05, medium("potting mix"))
    above = mix > 0.12
    thin = np.where(above, porosity - content, 0.0)
    assert medium("potting mix").theta_s == porosity
    assert whole["air_root_zone"][0] == pytest.approx(thin[above].mean(), abs=0.02)


def test_days_with_a_safe_step_are_counted(monkeypatch):
    """Told by a day of straw; compiled columns hold their own day, so this asks the plain one."""
    plain = getattr(run_module.run_columns, "py_func", run_module.run_columns)
    safe = iter([0.0, 3.0, 1.0, 0.0])

    def one_day(*given):
        total = given[-2]
        total[:] = [0.001, 0.002, 0.003, 0.004, 0.005, 7.0, 11.0, next(safe)]

    monkeypatch.setattr(run_module, "one_day", one_day)
    cells, mixes, layout = layouts_of([CRATES])
    states = at_rest(cells, mixes, layout, np.array([cap(0.08)]), np.array([0.08]))
    beds = Beds(
        layout=layout, surface=np.array([SURFACE]), freeboard=np.array([0.03]),
        roots_from=np.array([0.09]), dead=np.array([0.027]), lip=np.array([[0.09]]),
        below=np.array([0.5]), volume=np.array([np.inf]),
    )  # fmt: skip
    zero = np.zeros(1, dtype=np.int64)
    columns = Columns(zero, zero, zero, zero - 1, np.zeros((1, 4), dtype=bool), np.zeros((0, 0)))
    figures, counts = np.zeros((len(FIGURES), 1, 4)), np.full((1, 4), 100.0)
    plain(
        cells, mixes, beds, days_of(4), columns, states, figures, np.zeros((0, 0, 0)), counts, 0, 1
    )
    assert counts[0].tolist() == [128.0, 144.0, 104.0, 102.0]
    named = dict(zip(FIGURES, figures[:, 0], strict=True))
    for name, value in (("transpiration", 0.001), ("evaporation", 0.002), ("overflow", 0.003),
                        ("rise", 0.004), ("rim_spill", 0.005)):  # fmt: skip
        assert named[name] == pytest.approx(np.full(4, value)), name


# The small functions of a run


def test_water_from_below_fills_cells_by_their_room():
    column = column_of(CRATES).put(0.3)
    mix = column.g[WATER, : column.n]
    porosity = np.array([table[0, 2] for table in column.mixes.tables])[column.cells.mix[0]]
    room = mix * (porosity - column.w[HELD, : column.n])
    before = column.w[HELD, : column.n].copy()
    water = room[-1] + room[-2] + 0.4 * room[-3]
    left = fill_from_below(column.mixes.tables, column.g, column.w, column.n, water)
    assert left == pytest.approx(0.0, abs=1e-15)
    gained = mix * (column.w[HELD, : column.n] - before)
    assert gained[-3:] == pytest.approx([0.4 * room[-3], room[-2], room[-1]])
    assert gained[:-3] == pytest.approx(0.0, abs=1e-15)
    # the places go with the water
    assert column.w[Q, column.n - 1] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < column.w[Q, column.n - 3] < column.w[Q, column.n - 4]
    # mix that holds more than its pores under pressure has no room
    column.put(-0.5)
    held_before = column.w[HELD, : column.n].copy()
    assert fill_from_below(column.mixes.tables, column.g, column.w, column.n, 0.01) == 0.01
    assert (column.w[HELD, : column.n] == held_before).all()


def morning(lip, added, water, level, *, step=0.3):
    column = column_of(CRATES).put(0.3)
    state = np.array([water, level, 0.0, step])
    over, climbed = dawn(
        column.mixes.tables, column.g, column.w, column.n, column.store, lip, added, state
    )
    return over, climbed, state


def test_a_store_pressed_over_its_top_keeps_its_level_through_a_fill():
    full = cap(0.15)
    # pressed by the mix to 20 cm; a little more comes in and climbs
    over, climbed, state = morning(np.inf, 0.004, full + 1e-6, 0.20)
    assert over == 0.0
    assert climbed == pytest.approx(0.004)
    assert state[:2] == pytest.approx([full + 1e-6, 0.20])
    # the mix takes what climbs, so nothing changes and the step stays as long as it was
    assert state[3] == 0.3
    # under the lip at 25 cm nothing runs off
    over, _, state = morning(0.25, 0.0, full + 1e-6, 0.20)
    assert over == 0.0
    assert state.tolist() == [full + 1e-6, 0.20, 0.0, 0.3]


def test_a_fill_runs_off_over_a_lip_above_the_form():
    full = cap(0.15)
    over, climbed, state = morning(0.20, 0.010, full - 0.002, 0.148)
    assert (climbed, over) == (0.0, pytest.approx(0.008))
    assert state[0] == pytest.approx(full)
    assert state[1] == pytest.approx(0.15)
    assert state[3] == 0.06
    # and where it stood above the lip already, it is let go down to it
    over, _, state = morning(0.18, 0.0, full + 5e-7, 0.20)
    assert over == pytest.approx(2e-7, abs=1e-9) or over == pytest.approx(5e-7, abs=1e-9)
    assert state[1] <= 0.18 + 1e-12


def test_a_short_step_is_not_made_longer_by_a_fill():
    _, _, state = morning(0.09, 0.004, cap(0.05), 0.05, step=0.01)
    assert state[3] == 0.01


def roots(demand, depth, floor, surface=SURFACE):
    column = column_of(PIPES)
    column.w[ROOT] = 9.0
    found = roots_in(
        column.g, column.w, column.n, surface, floor, np.array(demand), np.array(depth),
        np.array([5.0, 2.0][: len(demand)]), np.array([80.0, 30.0][: len(demand)]),
    )  # fmt: skip
    return column, column.w[ROOT, : column.n], found


def test_where_nothing_is_asked_for_limits_stay_apart():
    _, share, found = roots([0.0], [0.3], 0.09)
    assert found == (0.0, 5.0, 80.0)
    assert (share == 0.0).all()


def test_a_planting_that_asks_for_nothing_counts_for_nothing():
    column, share, found = roots([0.0, 0.003], [0.05, 0.30], 0.09)
    assert found == (0.003, 2.0, 30.0)
    faces = np.append(SURFACE, SURFACE - np.cumsum(column.cells.height[0]))
    left = np.clip(1.0 - (SURFACE - faces) / 0.30, 0.0, None) ** 2
    assert share == pytest.approx(left[:-1] - left[1:], abs=1e-12)


def test_roots_shallower_than_half_a_cell_are_in_the_first():
    _column, share, _ = roots([0.003], [1e-4], 0.09)
    assert share[0] > 0.7
    assert share.sum() == pytest.approx(1.0)


def evening(suctions, *, standing=0.0, level=0.05, zone=0.25):
    column = column_of(PIPES).put(suctions)
    state, row = np.array([0.01, level, standing, 0.3]), np.zeros(len(FIGURES))
    read(column.mixes, column.g, column.w, column.n, SURFACE, zone, state, row)
    return column, dict(zip(FIGURES, row, strict=True))


@pytest.mark.parametrize(
    ("first", "second", "slope"),
    [(0.35, 0.345, None), (0.60, 0.30, 1.0), (0.30, 0.60, -1.0), (0.30, 0.30, 0.0)],
)
def test_the_suction_of_the_surface_goes_on_in_a_straight_line_of_no_more_than_rest(
    first, second, slope
):
    column = column_of(PIPES)
    suction = np.full(column.n, second)
    suction[0] = first
    _, found = evening(suction)
    z = column.cells.centre[0]
    if slope is None:
        slope = (first - second) / (z[0] - z[1])
        assert abs(slope) < 1.0
    expected = first + slope * (SURFACE - z[0])
    assert found["surface_suction"] == pytest.approx(expected, rel=1e-4)


def test_mix_under_pressure_has_no_suction_at_its_surface():
    column = column_of(PIPES)
    suction = np.full(column.n, 0.1)
    suction[0] = -0.2
    _, found = evening(suction)
    assert found["surface_suction"] == 0.0  # 0 less half a cell
    suction[:2] = 0.004, -0.3
    _, found = evening(suction)
    # from 0 in the second: half a metre is not read below it
    z = column.cells.centre[0]
    slope = min(0.004 / (z[0] - z[1]), 1.0)
    assert found["surface_suction"] == pytest.approx(0.004 + slope * (SURFACE - z[0]), rel=1e-3)


def test_air_of_a_part_of_a_cell_counts_by_that_part():
    column = column_of(PIPES)
    suction = np.full(column.n, 0.05)
    suction[3] = 0.8
    column.put(suction)
    z, height = column.cells.centre[0], column.cells.height[0]
    lowest = z[3] + 0.2 * height[3]  # three tenths of the fourth cell
    mix = medium("potting mix")
    air = 0.85 - np.array([float(water_content(s, mix)) for s in (0.05, 0.8)])
    over = height[:3].sum()
    expected = (over * air[0] + 0.3 * height[3] * air[1]) / (over + 0.3 * height[3])
    found = air_above(column.mixes.tables, column.g, column.w, column.n, lowest)
    assert found == pytest.approx(expected, rel=1e-3)
    # mix that holds more than its pores has no air, not less than none
    column.put(-1.0)
    assert air_above(column.mixes.tables, column.g, column.w, column.n, lowest) == 0.0


def test_the_airy_depth_lies_between_two_cells_by_their_excess():
    column = column_of(PIPES)
    wet = column.mixes.wet[column.cells.mix[0, 0]]
    suction = np.full(column.n, wet + 0.06)
    suction[5:] = wet - 0.02
    column.put(suction)
    z = column.cells.centre[0]
    expected = SURFACE - (z[4] - 0.75 * (z[4] - z[5]))  # three quarters of the way
    depth = airy_depth(column.mixes, column.g, column.w, column.n, SURFACE)
    assert depth == pytest.approx(expected, abs=1e-4)
    suction[0] = wet - 0.001
    column.put(suction)
    assert airy_depth(column.mixes, column.g, column.w, column.n, SURFACE) == 0.0
    column.put(wet + 0.5)
    foot = z[-1] - 0.5 * column.cells.height[0, -1]
    depth = airy_depth(column.mixes, column.g, column.w, column.n, SURFACE + 0.02)
    assert depth == pytest.approx(SURFACE + 0.02 - foot)
    assert foot == pytest.approx(0.0, abs=1e-12)


def test_the_store_of_the_fixture_is_that_by_hand():
    store = column_of(CRATES).store
    for level in (0.01, 0.03, 0.09, 0.15):
        assert held(level, store)[0] == pytest.approx(cap(level), abs=2e-5)
