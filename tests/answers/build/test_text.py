"""What the sheet says: every state of it, in both systems, and every key of it in docs/build.md."""

import re
from pathlib import Path

import pytest

from bedtide.files import plain
from bedtide.report.templates import render
from bedtide.tables import read_table
from helpers.builds import CRATES, PIPES, PIPES_FILE, TUB, built, check

PAGE = (Path(__file__).parents[3] / "docs" / "build.md").read_text(encoding="utf-8")
FALSE_FLOOR = {
    "reservoir": {
        "form": "false floor",
        "height": "12 cm",
        "void_share": "97 %",
        "wick_share": "10 %",
        "wick_foot": "0 cm",
    }
}
STATES = {
    "pipes": (PIPES, {}),
    "five pipes": (PIPES, {"reservoir.count": 5}),
    "wide bore": (PIPES, {"overflow.bore": "25 mm"}),
    "no bore": (PIPES, {"overflow": {"height": "90 mm"}}),
    "no overflow": (PIPES, {"overflow": {"state": "none"}}),
    "high lip": (PIPES, {"overflow.height": "20 cm"}),
    "hole in a joint": (PIPES, {"overflow.height": "190 mm"}),
    "long runs": (PIPES, {"box.length": "4.9 m", "reservoir.run": "4.8 m"}),
    "too long": (PIPES, {"box.length": "9 m", "reservoir.run": "8.9 m"}),
    "topsoil": (PIPES, {"mix.top.medium": "topsoil loam"}),
    "bark": (PIPES, {"mix.wick.medium": "pine bark coarse"}),
    "bare": (PIPES, {"planting": []}),
    "tub": (TUB, {}),
    "nothing wicks": (TUB, {"reservoir.wick_share": "0 %"}),
    "crates": (CRATES, {}),
    "false floor": (PIPES, FALSE_FLOOR),
}


def told(sheet, **options):
    return render("answers/build/text.j2", s=sheet, **options)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("state", STATES)
def test_every_state_is_told_within_sixty_columns(state, units):
    mapping, changes = STATES[state]
    for beds in (1, 3):
        text = told(built(mapping, changes=changes, units=units, beds=beds), units=units, width=60)
        assert max(map(len, text.splitlines())) <= 60
        assert not re.search(r"None|\{\w*\}|nan|safe\b|inf\b", text), text
        assert "THE FIRST FILL TAKES" in text


@pytest.mark.parametrize(("side", "way"), [("length", "long"), ("width", "wide")])
def test_the_side_that_is_too_long_is_named(side, way):
    text = told(built(PIPES, changes={f"box.{side}": "9 m"}), width=None)
    # The longest board is 5.4 m; the walls go past the others, liner on both sides.
    assert f"Make the bed 5390 mm {way} at the most, or name a longer board" in text


def test_what_is_said_of_a_bed_that_can_not_be_built():
    text = told(built(PIPES, changes={"reservoir.count": 5}), width=None)
    assert text.startswith("Pipes can't be built as described:")
    assert "4 mm between the pipes" in text
    assert "Take 4: count = 4 under [reservoir]." in text
    text = told(built(PIPES, changes={"overflow.bore": "25 mm"}), width=None)
    assert "reaches 115 mm up; the pipe beside it is open up to 111 mm" in text
    assert "overflow.bore 21 mm at the most" in text


def test_a_bed_longer_than_any_board():
    # 9 m and twice 5 mm of liner take 9010 mm; 5.4 m boards make 5390 mm.
    sheet = built(PIPES, changes={"box.length": "9 m", "reservoir.run": "8.9 m"})
    assert sheet.boards is None
    assert check(sheet, "longest board").nearest == pytest.approx(5390)
    assert "Make the bed 5390 mm long" in told(sheet, width=None)


def test_the_chain_to_the_hole_is_printed():
    text = told(built(PIPES), width=None)
    assert "centre 120.5 mm from the outer edge of the side wall (38 mm wall + 5 mm liner" in text
    assert "17.5 mm beside the pipe + 60 mm half a pipe)" in text
    assert "105 mm up from the foot of the wall" in text
    assert "Drill only once you know the hole" in text


def test_the_hole_that_was_asked_for(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('[fitting]\nhole = "35 mm"\n')
    sheet = built(PIPES, file)
    assert sheet.asked == ()
    assert "Drill 35 mm, not its bore of 20 mm." in told(sheet, width=None)


def test_a_joint_of_boards_in_the_hole():
    # Lip 190 and bore 20: the centre is 205 mm up; the boards meet at 200.
    sheet = built(PIPES, changes={"overflow.height": "190 mm"})
    assert sheet.hole.meets_joint_mm == pytest.approx(200)
    assert "cuts into the joint of two boards" in told(sheet, width=None)


def test_eight_feet_inside_a_liner_are_offered_both_ways():
    text = told(built(CRATES, units="us"), units="us", width=None)
    assert "Boards of 8 ft are too short for 8 ft inside a liner. Make the bed 95 5/8 in" in text
    assert "else it takes boards of 10 ft or more" in text


def test_the_first_fill_is_said_first_and_loudly():
    sheet = built(PIPES)
    second = told(sheet, width=None).split("\n\n")[1]
    assert second.startswith(f"THE FIRST FILL TAKES {sheet.first_fill_litres:.0f} L,")
    assert 3 < sheet.first_fill_litres / sheet.store_litres < 5  # 3.7 times


def test_missing_prices_are_listed(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(PIPES_FILE + '[prices]\nliner = "4.20 / m2"\nscreen = 3\n')
    sheet = built(PIPES, file)
    # 44 of boards, 3.40 x 1.62 m2 at 4.20, one screen.
    assert sheet.cost == pytest.approx(44 + 3.4 * 1.62 * 4.2 + 3)
    assert "boards" not in sheet.without_price
    assert {"underlay", "drain pipe", "potting mix"} <= set(sheet.without_price)
    text = told(sheet, width=None)
    assert "Together 70.13 EUR, without what has no price yet: screws, tie, underlay" in text


def test_several_beds_are_cut_together():
    one, three = (built(PIPES, beds=beds) for beds in (1, 3))
    assert sum(cut.count * len(cut.pieces_mm) for cut in three.boards.cuts) == 24
    length = [sum(c.count * c.stock_mm for c in sheet.boards.cuts) for sheet in (one, three)]
    assert length[1] <= 3 * length[0]
    assert three.first_fill_litres == one.first_fill_litres
    # 3 x 85.53 L are seven bags of 40 L, not three times three.
    bags = {each.item: each.count for each in three.items}
    assert bags["peat and vermiculite"] == 7
    assert "FOR EACH BED" in told(three, width=None)


def test_sixteenths_are_not_added_up():
    # 1/3 in seven times over is 2 1/3 in, 2 5/16 in; seven times 5/16 would be 2 3/16 in.
    from bedtide.units import sawn_text

    assert sawn_text(7 / 3 * 0.0254, "us") == "2 5/16 in"
    assert sawn_text(95.625 * 0.0254, "us") == "95 5/8 in"
    assert sawn_text(0.9999 * 0.0254, "us") == "1 in"
    assert sawn_text(-0.25 * 0.0254, "us") == "-1/4 in"
    assert sawn_text(0.0, "us") == "0 in"
    assert sawn_text(0.1205) == "120.5 mm"
    assert sawn_text(2.486) == "2486 mm"


# --- docs/build.md ------------------------------------------------------------------------------


def test_every_key_of_the_users_file_is_named():
    rows = dict(re.findall(r"^\| `\[(\w+)\]` \| (.*) \|$", PAGE, re.M))
    known = read_table("trade_sizes.csv", key="key")
    for key in known:
        section, _, name = key.partition(".")
        if section != "bag" or name in ("other", "stone"):
            assert f"`{name}`" in rows[section], key
    named = {f"{s}.{n}" for s, text in rows.items() for n in re.findall(r"`([\w ]+)`", text)}
    assert named <= set(known)


def test_every_key_of_the_figures_is_named_in_order():
    rows = re.findall(r"^\| (`[^|]*) \|", PAGE.split("## build.json")[1], re.M)
    named = [key for cell in rows for key in re.findall(r"`(\w+)`", cell)]
    assert named == list(plain(built(PIPES)))


def test_every_key_of_the_parts_is_named():
    figures = plain(built(PIPES))
    parts = [figures[name] for name in ("boards", "hole", "slope", "weights")]
    parts += [
        figures[name][0] for name in ("checks", "items", "pipes", "mixes", "dipstick", "sizes")
    ]
    for part in parts:
        for key in part:
            assert f"`{key}`" in PAGE or key.endswith("_per_m2"), key
