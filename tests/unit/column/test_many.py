"""Columns made ready, set to rest, and moved on any number of threads with the same bits."""

import numpy as np
import pytest

from bedtide.bed import capacity, level_of, open_store
from bedtide.column import (
    AIR_DRY,
    FIGURES,
    Beds,
    Columns,
    Days,
    States,
    at_rest,
    layouts_of,
    mix_table,
    move,
    node_suctions,
    stacked_mixes,
)
from bedtide.column.hydraulics import STORAGE
from bedtide.mix import medium, water_content
from helpers.beds import bed_with, layered

BEDS = {
    "pipes": bed_with(),
    "crates": layered("crates", wick_foot="3 cm"),
    "bark": bed_with({"mix.top.medium": "pine bark fine", "box.depth": "60 cm"}),
}


def rested(bed, level):
    """Its cells as rows, and the state of one column at rest over a level."""
    cells, mixes, layout = layouts_of([bed])
    water = np.array([float(open_store(level, bed))])
    states = at_rest(cells, mixes, layout, water, np.array([level]))
    return cells, mixes, states


def test_an_air_dry_surface_is_at_rest_with_air_of_half_saturation():
    # Kelvin: relative humidity is exp(-s M g / (R T)), at 20 degC
    humidity = np.exp(-AIR_DRY * 0.018015 * 9.80665 / (8.314 * 293.15))
    assert humidity == pytest.approx(0.5, abs=1e-4)


@pytest.mark.parametrize("name", BEDS)
@pytest.mark.parametrize("level", [0.02, 0.07, 0.09])
def test_at_rest_each_cell_holds_what_its_height_over_the_water_tells(name, level):
    bed = BEDS[name]
    cells, _, states = rested(bed, level)
    suction = cells.centre[0] - level
    over = suction > 0.0
    expected = np.where(
        cells.mix[0] == 0,
        water_content(np.maximum(suction, 0.0), bed.wick_mix),
        water_content(np.maximum(suction, 0.0), bed.top_mix),
    )
    # straight lines between the nodes of the table
    assert states.content[0][over] == pytest.approx(expected[over], abs=3e-4)
    under = ~over
    assert under.any() == (level > cells.centre[0].min())
    assert states.content[0][under] == pytest.approx(
        bed.wick_mix.theta_s - STORAGE * suction[under], rel=1e-12
    )
    assert (states.content[0][under] > bed.wick_mix.theta_s).all()


def test_places_at_rest_are_the_suctions():
    cells, _, states = rested(BEDS["pipes"], 0.07)
    suction = np.interp(states.place[0], np.arange(301), node_suctions())
    below = states.place[0] < 0.0
    suction[below] = states.place[0][below] * node_suctions()[1]
    assert suction == pytest.approx(cells.centre[0] - 0.07, abs=1e-12)
    assert below.any()


def test_at_rest_the_store_is_as_told_and_nothing_stands():
    _, _, states = rested(BEDS["pipes"], 0.07)
    water, level, standing, step = states.rest[0]
    assert (water, level, standing) == (float(open_store(0.07, BEDS["pipes"])), 0.07, 0.0)
    assert 0.0 < step <= 0.5


def test_beds_that_share_their_measures_share_a_layout():
    bed = bed_with()
    same = [
        bed_with({"surface": {"open_to_rain": "50 %", "covered": "50 %"}}),
        bed_with({"watering": {"when": "never"}}),
        bed_with({"overflow.height": "8 cm"}),
        bed_with({"planting.0.crop": "lettuce"}),
    ]
    other = [bed_with({"box.depth": "41 cm"}), bed_with({"mix.top.medium": "peat"})]
    cells, mixes, layout = layouts_of([bed, *same, *other])
    assert layout.tolist() == [0, 0, 0, 0, 0, 1, 2]
    assert cells.number.size == 3
    assert mixes.tables.shape[0] == 2  # peat and potting mix
    assert (mixes.tables[0] == mix_table(medium("peat"))).all()
    assert (mixes.tables[1] == mix_table(medium("potting mix"))).all()
    # the last has one mix through and through
    assert (cells.mix[2] == 0).all()


def test_rows_are_padded_to_the_longest():
    beds = [bed_with({"box.depth": "30 cm"}), bed_with({"box.depth": "60 cm"})]
    cells, _, layout = layouts_of(beds)
    alone = [layouts_of([bed])[0] for bed in beds]
    assert [int(each.number[0]) for each in alone] == cells.number.tolist()
    assert cells.number[0] < cells.number[1] == cells.centre.shape[1]
    for row, each in zip(layout, alone, strict=True):
        count = int(each.number[0])
        for name in ("centre", "height", "water", "reach", "path", "void_low", "void_high"):
            assert (getattr(cells, name)[row, :count] == getattr(each, name)[0]).all(), name


@pytest.mark.parametrize("name", ["peat", "potting mix", "pine bark fine", "topsoil clay loam"])
def test_marks_of_a_mix(name):
    mix = medium(name)
    mixes = stacked_mixes([mix])
    suction = np.interp(mixes.bend[0], np.arange(301), node_suctions())
    # the curve over suction is steepest at the bend
    at = suction * np.linspace(0.2, 3.0, 2801)
    steepest = at[np.argmin(np.gradient(water_content(at, mix), at))]
    assert suction == pytest.approx(steepest, rel=5e-3)
    # a tenth is air at the mark of wetness
    assert mix.theta_s - water_content(mixes.wet[0], mix) == pytest.approx(0.10)
    assert mixes.dry == AIR_DRY


def crowd(columns, days=20):
    """Columns of three beds through days of sun, rain and fills, each its own."""
    beds = list(BEDS.values())
    cells, mixes, layout = layouts_of(beds)
    rng = np.random.default_rng(5)
    bed_of = np.arange(columns) % len(beds)
    cap = np.array([float(capacity(bed, 0.09)) for bed in beds])
    numbers = Beds(
        layout=layout,
        surface=np.array([0.39, 0.39, 0.57]),
        freeboard=np.full(3, 0.03),
        roots_from=np.full(3, 0.09),
        dead=np.array([0.0, 0.027, 0.0]),
        lip=np.full((3, 1), 0.09),
        below=np.full(3, 0.5),
        volume=np.full(3, np.inf),
    )
    sun = Days(
        rain=rng.gamma(0.3, 0.02, (columns, days)),
        hours=np.zeros((0, 0, 24)),
        begin=0.4,
        end=0.7,
        energy=rng.uniform(0.0, 0.004, (columns, days)),
        demand=rng.uniform(0.0, 0.004, (columns, days, 2)),
        depth=np.full((columns, days, 2), 0.25),
        h3=np.full((columns, days, 2), 5.0),
        h4=np.full((columns, days, 2), 80.0),
        zone=np.full((columns, days), 0.25),
    )
    whole = Columns(
        bed=bed_of,
        days=np.arange(columns),
        start=np.zeros(columns, dtype=np.int64),
        hours=np.full(columns, -1),
        due=rng.random((columns, days)) < 0.3,
        given=np.zeros((0, 0)),
    )
    level = np.array([float(level_of(0.6 * cap[b], beds[b])) for b in bed_of])
    return cells, mixes, numbers, sun, whole, (layout[bed_of], 0.6 * cap[bed_of], level)


def moved(parts, which=None, **given):
    """Figures, profile, counts and last state of some of the columns."""
    cells, mixes, beds, days, columns, (layout, water, level) = parts
    at = np.arange(layout.size) if which is None else np.atleast_1d(which)
    some = columns._replace(
        bed=columns.bed[at],
        days=columns.days[at],
        start=columns.start[at],
        hours=columns.hours[at],
        due=columns.due[at],
    )
    states = at_rest(cells, mixes, layout[at], water[at], level[at])
    found = move(cells, mixes, beds, days, some, states, profile=True, **given)
    return *found, *states


@pytest.mark.compiled
def test_any_number_of_threads_gives_the_same_bits():
    parts = crowd(150)
    one = moved(parts, threads=1)
    real = np.arange(parts[0].centre.shape[1]) < parts[0].number[parts[5][0]][:, None]
    assert 0 < real.sum() < real.size  # what lies beyond a bed's own cells is nobody's
    for threads in (2, 3, None):
        figures, profile, *rest = moved(parts, threads=threads)
        assert np.array_equal(one[0], figures)
        at = np.broadcast_to(real[:, None], profile.shape)
        assert np.array_equal(one[1][at], profile[at])
        for first, second in zip(one[2:], rest, strict=True):
            assert np.array_equal(first, second)
    assert one[0].shape == (len(FIGURES), 150, 20)
    assert np.isfinite(one[0]).all()
    assert np.ptp(one[0][FIGURES.index("open_water"), :, -1]) > 0.01  # the columns do differ


@pytest.mark.compiled
@pytest.mark.parametrize("which", [0, 1, 64, 149])
def test_a_column_alone_is_the_column_among_many(which):
    parts = crowd(150)
    alone, whole = moved(parts, which), moved(parts)
    assert np.array_equal(alone[0][:, 0], whole[0][:, which])
    count = int(parts[0].number[parts[2].layout[parts[4].bed[which]]])
    for first, second in zip(alone[1:5], whole[1:5], strict=True):
        assert np.array_equal(first[0, ..., :count], second[which, ..., :count])


@pytest.mark.compiled
def test_progress_is_told_in_bed_days():
    told = []
    moved(crowd(150, days=7), progress=told.append)
    assert len(told) > 1
    assert sum(told) == 150 * 7


def test_the_states_go_on_to_the_last_evening():
    parts = crowd(3)
    figures, profile, _, content, place, rest = moved(parts)
    open_water = figures[FIGURES.index("open_water"), :, -1]
    assert (rest[:, 0] == open_water).all()
    assert (rest[:, 2] == figures[FIGURES.index("standing_water"), :, -1]).all()
    for column in range(3):
        count = int(parts[0].number[column])
        assert (content[column, :count] == profile[column, -1, :count]).all()
    assert isinstance(States(content, place, rest), States)


@pytest.mark.compiled
def test_counts_are_those_of_the_steps():
    days = 20
    _, _, counts, *_ = moved(crowd(12, days=days))
    steps, passes, safe, safe_days = counts.T
    assert (steps >= 2 * days).all()  # a cut at noon
    assert (passes >= steps - safe).all()
    assert (safe_days <= np.minimum(safe, days)).all()
