"""Each check on both sides of its limit, with figures and the nearest that would do by hand."""

from math import acos, sqrt

import numpy as np
import pytest

from bedtide.building.checks import lift
from bedtide.crop import crop
from bedtide.mix import medium
from helpers.builds import CRATES, PIPES, TUB, built, changed, check

LITRES = 1e3  # of a m3


def told(sheet, name):
    """Verdict, figure and limit of a check, key and nearest value that it names."""
    found = check(sheet, name)
    return (found.verdict, found.figure, found.limit, found.key, found.nearest)


def near(*values):
    return tuple(v if isinstance(v, str) or v is None else pytest.approx(v) for v in values)


@pytest.mark.parametrize(
    ("width", "verdict", "gap", "limit"),
    [(560, "fine", 20, 20), (556, "mind", 19, 20), (504, "mind", 6, 20), (500, "fails", 5, 6)],
)
def test_gaps_of_four_pipes_of_120_mm(width, verdict, gap, limit):
    sheet = built(PIPES, changes={"box.width": f"{width} mm"})
    assert told(sheet, "gap between pipes") == near(verdict, gap, limit, "", None)
    # 6 mm beside each at the least: 126 mm a pipe.
    fits = near("fine", 4, width // 126, "", None)
    if width == 500:
        fits = near("fails", 4, 3, "reservoir.count", 3)
    assert told(sheet, "pipes that fit") == fits
    assert sheet.can_be_built == (width != 500)


@pytest.mark.parametrize(("width", "verdict"), [(620, "fine"), (504, "mind")])
def test_the_floor_under_pipes(width, verdict):
    sheet = built(PIPES, changes={"box.width": f"{width} mm"})
    share = 100 * 4 * 120 * 2340 / (2400 * width)  # 75 and 93 %
    assert told(sheet, "floor under pipes") == near(verdict, share, 90, "", None)


@pytest.mark.parametrize(
    ("run", "found"),
    [
        (2350, ("fine", 50, 50, "", None)),
        (2351, ("mind", 49, 50, "reservoir.run", 2350)),
    ],
)
def test_room_for_the_fill_pipe(run, found):
    sheet = built(PIPES, changes={"reservoir.run": f"{run} mm"})
    assert told(sheet, "room for the fill pipe") == near(*found)


def test_an_overflow_that_is_not_there_or_not_known():
    none = built(PIPES, changes={"overflow": {"state": "none"}})
    assert told(none, "no overflow") == ("mind", None, None, "", None)
    unknown = built(PIPES, changes={"overflow": {"height": "90 mm"}})
    assert told(unknown, "bore of the overflow") == ("not known", None, None, "", None)
    for sheet in (none, unknown):
        names = [each.name for each in sheet.checks]
        assert not {"storm, clean", "outlet inside a pipe"} & set(names)
    assert "no overflow" not in names


@pytest.mark.parametrize(("lip", "verdict"), [(119, "fine"), (120, "mind"), (121, "mind")])
def test_a_lip_under_the_crown(lip, verdict):
    sheet = built(PIPES, changes={"overflow.height": f"{lip} mm"})
    found = check(sheet, "lip under the crown")
    assert (found.verdict, found.limit) == (verdict, 0)
    assert found.figure == pytest.approx(120 - lip)


@pytest.mark.parametrize(
    ("lip", "found"),
    [
        # A bore of 20 mm in a pipe that is open from 9 to 111 mm.
        (91, ("fine", 111, 111, "", None)),
        (95, ("fails", 115, 111, "overflow.bore", 16)),
        (98, ("fails", 118, 111, "overflow.bore", 13)),
        (99, ("fails", 119, 111, "overflow.height", 91)),  # under 13 mm worm casts block it
    ],
)
def test_an_outlet_inside_a_pipe(lip, found):
    sheet = built(PIPES, changes={"overflow.height": f"{lip} mm"})
    assert told(sheet, "outlet inside a pipe") == near(*found)


def test_an_outlet_wider_than_a_pipe_is_not_asked_for_under_the_floor():
    sheet = built(PIPES, changes={"overflow": {"height": "100 mm", "bore": "150 mm"}})
    found = near("fails", 250, 111, "overflow.bore", 11)
    assert told(sheet, "outlet inside a pipe") == found


@pytest.mark.parametrize(
    ("lip", "found"),
    [
        (350, ("fine", 50, 50, "", None)),
        (351, ("mind", 49, 50, "overflow.height", 350)),
    ],
)
def test_liner_over_the_lip(lip, found):
    sheet = built(PIPES, changes={"overflow.height": f"{lip} mm"})
    assert told(sheet, "liner over the lip") == near(*found)


def segment(depth, radius):
    """Area of a circle below a height, in handbook form."""
    h = min(max(depth, 0.0), 2 * radius)
    return radius**2 * acos((radius - h) / radius) - (radius - h) * sqrt(2 * radius * h - h * h)


def test_a_floor_out_of_level():
    # Four pipes 2.34 m long, bore 102 mm, full to 81 mm of it at their low end.
    along = (np.arange(20_000) + 0.5) / 20_000 * 2.34

    def litres(slope):
        return LITRES * 4 * 2.34 * np.mean([segment(0.081 - slope * x, 0.051) for x in along])

    lost = [litres(0.0) - litres(slope) for slope in (0.001, 0.005 / 2.4)]
    found = check(built(PIPES), "out of level")
    assert (found.figure, found.limit) == pytest.approx(tuple(lost), rel=1e-4)
    slope = built(PIPES).slope
    assert slope["low_end_litres"] == pytest.approx(litres(0.001), rel=1e-5)
    middle = [segment(0.081 + 0.001 * (1.17 - x), 0.051) for x in along]
    assert slope["middle_litres"] == pytest.approx(LITRES * 4 * 2.34 * np.mean(middle), rel=1e-5)
    assert slope["high_end_litres"] == pytest.approx(litres(-0.001), rel=1e-5)


@pytest.mark.parametrize(
    ("every", "looks", "verdict"), [(1, 2, "fine"), (4, 4, "fine"), (5, 5, "mind")]
)
def test_days_that_the_store_lasts(every, looks, verdict):
    watering = {"when": "below share", "share": "30 %", "check_every": f"{every} days"}
    found = check(built(PIPES, changes={"watering": watering}), "days at the peak")
    # 65.133 L over 2.4 x 0.62 m, 10 mm a day.
    assert (found.verdict, found.limit) == (verdict, looks)
    assert found.figure == pytest.approx(65.133 / (2.4 * 0.62) / 10, rel=1e-4)


def test_water_under_the_feet_of_the_legs_lasts_no_day():
    found = check(
        built(CRATES, changes={"reservoir.wick_foot": "1 in"}, units="us"), "days at the peak"
    )
    # 4 in between foot and lip, 95 % of them beside the legs, 0.4 in a day.
    assert found.figure == pytest.approx(4 * 0.95 * (10 / 12) / 0.4)


def test_how_dry_the_surface_may_be():
    """As dry as the crop that is the first to go short takes it; 4 m where none are named."""
    two = [
        {"crop": name, "planted": "05-10", "area_share": "30 %"} for name in ("tomato", "lettuce")
    ]
    heads = [crop(name).h3_high for name in ("tomato", "lettuce")]
    assert heads[0] != heads[1]
    for plantings, dry in (([], 4.0), (two, min(heads))):
        found = check(built(PIPES, changes={"planting": plantings}), "highest mix")
        _, reach = lift(changed(PIPES, {}), 0.010, dry)
        assert found.figure == pytest.approx(1e3 * reach)


def test_what_the_wick_carries():
    for peak, verdict in (("10 mm/day", "fine"), ("2 m/day", "mind")):
        sheet = built(PIPES, own={"site.peak": peak})
        found = check(sheet, "wick at the peak")
        carried, _ = lift(changed(PIPES, {}), 0.010, crop("tomato").h3_high)
        assert found.verdict == verdict
        assert found.figure == pytest.approx(1e3 * carried)
    assert found.limit == pytest.approx(2000)
    surface = check(sheet, "highest mix")
    assert (surface.verdict, surface.limit) == ("mind", pytest.approx(370))


def test_nothing_that_wicks():
    sheet = built(TUB, changes={"reservoir.wick_share": "0 %"})
    assert told(sheet, "nothing wicks") == ("mind", None, None, "", None)
    assert not {"wick at the peak", "highest mix"} & {each.name for each in sheet.checks}


@pytest.mark.parametrize(("depth", "verdict"), [(400, "fine"), (290, "mind")])
def test_air_over_the_water(depth, verdict):
    found = check(built(PIPES, changes={"box.depth": f"{depth} mm"}), "air over the water")
    mix = medium("potting mix")
    # Height over water at which 10 % of the mix are air: its retention curve turned round.
    share = (mix.theta_s - 0.10 - mix.theta_r) / (mix.theta_s - mix.theta_r)
    head = (share ** (-mix.n / (mix.n - 1)) - 1) ** (1 / mix.n) / mix.alpha
    airy = depth - 30 - 90 - 1e3 * head
    assert (found.verdict, found.limit) == (verdict, pytest.approx(150))
    assert found.figure == pytest.approx(airy)
    if verdict == "mind":
        assert (found.key, found.nearest) == ("box.depth", pytest.approx(depth + 150 - airy))


@pytest.mark.parametrize(
    ("storm", "arrives", "clean", "half"),
    [
        ("60 mm", 1.0, "fine", "fine"),
        ("150 mm", 1.0, "fine", "mind"),
        ("290 mm", 1.0, "mind", "mind"),
        ("290 mm", 0.9, "fine", "mind"),
    ],
)
def test_an_overflow_in_a_storm(storm, arrives, clean, half):
    # 7.083 L a minute leave; so many mm in an hour fall on 2.4 x 0.62 m.
    changes, own = {"surface": {"open_to_rain": arrives}}, {"site.storm": storm}
    sheet = built(PIPES, changes=changes, own=own)
    asked = float(storm[:-3]) * 2.4 * 0.62 * arrives / 60
    for state, flow, verdict in (("clean", 7.0832, clean), ("half blocked", 3.5416, half)):
        found = check(sheet, f"storm, {state}")
        assert found.verdict == verdict
        assert (found.figure, found.limit) == pytest.approx((flow, asked), rel=1e-4)


@pytest.mark.parametrize(("bark", "verdict"), [("40 %", "fine"), ("41 %", "mind")])
def test_bark_and_soil(bark, verdict):
    rest = f"{100 - int(bark[:2])} %"
    mix = {
        "wick": {"recipe": {"pine bark fine": bark, "peat": rest}},
        "top": {"medium": "topsoil loam"},
    }
    sheet = built(PIPES, changes={"mix": mix})
    found = check(sheet, "bark in the wick mix")
    assert (found.verdict, found.figure, found.limit) == near(verdict, float(bark[:2]), 40)
    soil = check(sheet, "topsoil in the top mix")
    assert (soil.verdict, soil.figure, soil.limit) == near("mind", 100, 0)
    names = {each.name for each in sheet.checks}
    assert not {"bark in the top mix", "topsoil in the wick mix"} & names
