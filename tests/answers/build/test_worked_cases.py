"""Three beds worked out by hand, figure by figure to the digit that is printed."""

from math import pi

import pytest

from helpers.builds import CRATES, PIPES, PIPES_FILE, TUB, built, check, item

INCH = 25.4
FT3 = 28.316846592  # L


@pytest.fixture
def file(tmp_path):
    def write(text):
        path = tmp_path / "mine.toml"
        path.write_text(text)
        return path

    return write


@pytest.fixture
def pipes(file):
    return built(PIPES, file(PIPES_FILE))


# --- pipes, metric ----------------------------------------------------------------------------


def test_pipes_and_gaps(pipes):
    # (620 - 4 x 120) / 4 = 35 mm; 4 x 120 x 2340 of 2400 x 620 mm2 = 75.5 %.
    assert check(pipes, "gap between pipes").figure == pytest.approx(35)
    assert round(check(pipes, "floor under pipes").figure, 1) == 75.5
    assert check(pipes, "room for the fill pipe").figure == pytest.approx(60)
    assert pipes.can_be_built


def test_a_fifth_pipe_leaves_4_mm_and_fails():
    five = built(PIPES, changes={"reservoir.count": 5})
    gap = check(five, "gap between pipes")
    assert gap.verdict == "fails"
    assert gap.figure == pytest.approx(4)
    assert check(five, "pipes that fit").nearest == 4
    assert not five.can_be_built


def test_the_store(pipes):
    # Segment of 81 mm in a bore of 102: 6,958.64 mm2, four times 2340 mm of it.
    assert pipes.store_litres / (4 * 2.34) * 1000 == pytest.approx(6958.64, abs=0.005)
    assert round(pipes.store_litres, 3) == 65.133
    full = built(PIPES, changes={"overflow.height": "115 mm"}).store_litres
    assert full == pytest.approx(4 * 2.34 * pi * 51**2 / 1000)
    assert round(full, 3) == 76.483


def test_mix_and_bags(pipes):
    wick, top = pipes.mixes
    assert round(wick.settled_litres, 3) == 72.701
    assert round(top.settled_litres, 3) == 372.000
    assert round(wick.loose_litres, 2) == 85.53
    assert round(top.loose_litres, 2) == 437.65
    assert (item(pipes, "peat and vermiculite").count, item(pipes, "potting mix").count) == (3, 11)
    assert item(pipes, "potting mix").size == "40 L"
    assert top.loose_least_litres == pytest.approx(372 / 0.9)
    assert top.loose_most_litres == pytest.approx(372 / 0.8)


def test_liner(pipes):
    # 2400 + 2 x 400 + 2 x 100 by 620 + 2 x 400 + 2 x 100.
    assert item(pipes, "liner").piece_mm == pytest.approx((3400, 1620))
    assert pipes.liner_slack_mm == pytest.approx(100 - 38)


def test_boards(pipes):
    boards = pipes.boards
    assert boards.courses == 2
    assert (boards.side_mm, boards.end_mm) == pytest.approx((2486, 630))
    assert (boards.thickness_mm, boards.course_mm, boards.wall_height_mm) == (38, 200, 400)
    assert boards.rip_mm == 0
    (cut,) = boards.cuts
    assert (cut.count, cut.stock) == (4, "3.6 m")
    assert cut.pieces_mm == pytest.approx((2486, 630))
    assert cut.left_mm == pytest.approx(3600 - 2486 - 630 - 2 * 3)
    assert item(pipes, "boards").price == 44
    # Two courses of 200 less 5 mm of liner and underlay under the floor.
    assert boards.low_mm == pytest.approx(5)


def test_the_hole(pipes):
    hole = pipes.hole
    parts = (hole.wall_mm, hole.liner_mm, hole.beside_mm, hole.half_pipe_mm)
    assert parts == pytest.approx((38, 5, 17.5, 60))
    assert hole.across_mm == pytest.approx(120.5)
    assert hole.centre_mm == pytest.approx(100)
    assert hole.up_mm == pytest.approx(105)
    assert hole.diameter_mm is None
    assert pipes.asked == ("fitting.hole",)


@pytest.mark.parametrize(("lip", "joint"), [("175 mm", 200), ("174.4 mm", None)])
def test_a_hole_within_half_a_millimetre_of_a_joint(lip, joint):
    # Centre 5 mm of liner, the lip and 10 mm up; a hole of 20 mm, a joint at 200.
    assert built(PIPES, changes={"overflow.height": lip}).hole.meets_joint_mm == joint


def test_figures_of_the_file_and_the_bed(pipes):
    assert pipes.cost == 44  # boards alone have a price
    assert pipes.moisture_percent == pytest.approx(20)
    assert pipes.pipe_wall_mm == pytest.approx((120 - 102) / 2)
    known = built(PIPES, own={"fitting.hole": "35 mm"}).hole
    assert known.diameter_mm == pytest.approx(35)


def test_the_bore(pipes):
    inside = check(pipes, "outlet inside a pipe")
    assert (inside.figure, inside.limit) == pytest.approx((110, 111))
    assert inside.verdict == "fine"
    wide = check(built(PIPES, changes={"overflow.bore": "25 mm"}), "outlet inside a pipe")
    assert (wide.figure, wide.limit) == pytest.approx((115, 111))
    assert wide.verdict == "fails"
    assert (wide.key, wide.nearest) == ("overflow.bore", pytest.approx(21))


def test_the_outlet(pipes):
    # 0.6 x pi/4 (20 mm)2 x sqrt(2 g x 20 mm): the crown at 120 mm over a centre at 100.
    assert round(pipes.hole.litres_per_minute, 3) == 7.083
    assert pipes.hole.head_mm == pytest.approx(20)
    assert check(pipes, "storm, half blocked").figure == pytest.approx(7.083 / 2, abs=5e-4)
    assert check(pipes, "storm, clean").limit == pytest.approx(2.4 * 0.62)  # 60 mm in an hour


def test_a_floor_that_falls(tmp_path):
    from bedtide.building.checks import tilted_store
    from helpers.builds import changed

    bed = changed(PIPES, {})
    litres = [1000 * tilted_store(bed, 4e-3, end) for end in (0.0, 0.5, 1.0)]
    assert [round(each, 2) for each in litres] == [61.34, 65.08, 68.52]


def test_the_dipstick(pipes):
    marks = [(round(mark.litres, 2), round(mark.height_mm, 1)) for mark in pipes.dipstick]
    heights = [9.0, 28.2, 40.4, 51.3, 61.8, 72.4, 83.7, 90.0]
    assert marks == list(zip([0, 10, 20, 30, 40, 50, 60, 65.13], heights, strict=True))


def test_marks_of_a_large_store():
    # 298.9 L in steps of 50, of which there are no more than eight.
    marks = [mark.litres for mark in built(CRATES).dipstick]
    assert marks == pytest.approx([0, 50, 100, 150, 200, 250, 10.5556 * FT3], rel=1e-4)


# --- a tapered tub ----------------------------------------------------------------------------


def test_the_tub():
    tub = built(TUB)
    assert round(tub.store_litres, 3) == 6.469
    assert tub.boards is None
    # 20.397 L of stone, 60 % of it solid at 2.65 kg a litre: 32.4 kg, two bags of 20.
    stone = item(tub, "stone")
    assert stone.needed == pytest.approx(20.397 * 0.6 * 2.65, abs=2e-3)
    assert stone.count == 2
    assert round(sum(mix.settled_litres for mix in tub.mixes), 3) == 73.292
    assert round(sum(mix.loose_litres for mix in tub.mixes), 2) == 86.23
    # Along the slope of a wall: sqrt(380^2 + 40^2) = 382.1 mm, 620 + 2 x 382.1 + 2 x 100.
    assert item(tub, "liner").piece_mm == pytest.approx((1584.2, 1334.2), abs=0.05)


# --- crates, US -------------------------------------------------------------------------------


@pytest.fixture
def crates(file):
    # Bags of 1 ft3 for the third part of the mix; it stands for compost.
    return built(CRATES, file('[bag]\n"pine bark fine" = "1 ft3"\n'), units="us")


def test_crates(crates):
    # 32 ft2 x 5 in x 95 % x 10/12 = 10.556 ft3 = 78.96 US gal.
    assert round(crates.store_litres / FT3, 3) == 10.556
    assert round(crates.store_litres / 3.785411784, 2) == 78.96
    assert round(sum(mix.settled_litres for mix in crates.mixes) / FT3, 3) == 30.667
    assert round(sum(mix.loose_litres for mix in crates.mixes) / FT3, 2) == 36.08
    bought = {name: item(crates, name) for name in ("peat", "perlite", "pine bark fine")}
    assert [each.count for each in bought.values()] == [3, 2, 11]
    assert [each.size for each in bought.values()] == ["7.6 ft3", "4 ft3", "1 ft3"]


def test_a_liner_in_inches(crates):
    piece = [side / INCH for side in item(crates, "liner").piece_mm]
    assert piece == pytest.approx([145, 97])


def test_eight_feet_inside_a_liner(crates):
    boards = crates.boards
    assert boards.fits_stock == "8 ft"
    assert boards.fits_mm / INCH == pytest.approx(95 + 5 / 8)
    assert boards.longer_stock == "10 ft"
    # 99 3/8 + 1/8 + 48 3/8 in out of 14 ft: 4 x 14 = 56 ft; 6 of 10 ft would be 60.
    (cut,) = boards.cuts
    assert (cut.count, cut.stock) == (4, "14 ft")
    assert [piece / INCH for piece in cut.pieces_mm] == pytest.approx([99.375, 48.375])
    shorter = built(CRATES, units="us", changes={"box.length": "95 5/8 in"}).boards
    assert shorter.corner == "ends past sides"
    assert shorter.side_mm / INCH == pytest.approx(96)
    assert shorter.fits_mm is None
    assert "8 ft" in {cut.stock for cut in shorter.cuts}
