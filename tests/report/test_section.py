"""The bed in section: true sizes, right words, and nothing on top of anything else."""

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from bedtide.bed import bed_from_text, example_bed, example_text
from bedtide.report.bed_view import bed_view, section_figure
from bedtide.report.section import plants_of
from bedtide.report.shapes import Area, Drawing, Line, Round, paint, spread, svg
from helpers.beds import LAYER, bed_with, layered

ELBOW = {"from": "10-15", "to": "04-15", "height": "4 cm"}
LONG = "A long name for a bed that stands beside the south wall of the shed, for $5"
CROPS = [{"crop": "lettuce", "planted": "04-10", "area_share": "10 %"} for _ in range(8)]

BEDS = {
    "example": example_bed(),
    "pipes": bed_with(),
    "blocked": bed_with({"overflow.state": "blocked", "overflow.change": [ELBOW]}),
    "no outlet": bed_with({"overflow": {"state": "none"}}),
    "crates": layered("crates", wick_foot="3 cm"),
    "false floor": layered("false floor"),
    "stone": layered("stone", void_share="40 %", wick_foot="5 cm"),
    "stone, nothing wicks": layered("stone", wick_share="0 %"),
    "wide and low": bed_with(
        {"box.width": "6 m", "box.depth": "20 cm", "reservoir.count": 45, "bed.name": LONG}
    ),
    "narrow and tall": bed_with(
        {"box.width": "15 cm", "box.depth": "2 m", "reservoir.count": 1, "planting": []}
    ),
    "many crops": bed_with({"planting": CROPS}),
    "heights close together": bed_with(
        {
            "overflow.height": "11.9 cm",
            "overflow.change": [{"from": "2027-10-15", "height": "11.8 cm"}],
        }
    ),
    "long mix": bed_with(
        {"mix.top": {"recipe": {"peat": 3, "perlite": 1, "coir": 2}, "name": "word " * 40}}
    ),
}


def _shapes(bed, kind, style, levels=None):
    """Shapes of a section that have this fill or stroke."""
    found = bed_view(bed, "metric", levels).section.shapes
    return [each for each in found if isinstance(each, kind) and style in each]


def _box(area):
    """Left, right, lower and upper end of an area [m]."""
    x, y = np.array(area.points).T
    return x.min(), x.max(), y.min(), y.max()


def _words(figure):
    """Every text that shows: the axes are off, so their numbers do not."""
    text = mpl.text.Text
    (ax,) = figure.axes
    hidden = {id(t) for axis in (ax.xaxis, ax.yaxis) for t in axis.findobj(text)}
    return [t for t in figure.findobj(text) if t.get_text().strip() and id(t) not in hidden]


def _all_words(figure):
    return "\n".join(text.get_text() for text in _words(figure)).replace("\n", " ")


@pytest.mark.parametrize("bed", BEDS.values(), ids=BEDS)
def test_it_is_to_scale_and_no_words_overlap_or_are_cut_or_small(bed):
    # 4 in wide shown at 360 px: 8 pt type is then 8 / 72 / 4 x 360 = 10 px high.
    figure = section_figure(bed)
    assert figure.get_figwidth() == 4
    assert figure.get_figheight() < 8
    assert min(text.get_fontsize() for text in _words(figure)) >= 8
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    across, up = np.diff(figure.axes[0].transData.transform([(0, 0), (1, 1)]), axis=0)[0]
    assert across == pytest.approx(up, rel=1e-6)
    boxes = [(t.get_text(), t.get_window_extent(canvas.get_renderer())) for t in _words(figure)]
    assert len(boxes) > 6
    for at, (one, box) in enumerate(boxes):
        assert 0 <= box.x0 <= box.x1 <= figure.bbox.x1 + 0.5, one
        assert -0.5 <= box.y0 <= box.y1 <= figure.bbox.y1 + 0.5, one
        for other, beside in boxes[at + 1 :]:
            across = min(box.x1, beside.x1) - max(box.x0, beside.x0)
            up = min(box.y1, beside.y1) - max(box.y0, beside.y0)
            assert across <= 0 or up <= 2.5, (one, other)  # 1 pt of line gap at 180 dpi


def test_labels_keep_their_distance():
    assert spread([10, 11, 45], 20) == pytest.approx([0.5, 20.5, 45])


def test_pipes_at_true_size_and_spacing():
    outer = _shapes(BEDS["pipes"], Round, "pipe")
    inner = _shapes(BEDS["pipes"], Round, "air")
    assert [circle.radius for circle in outer] == pytest.approx([0.06] * 4)
    assert [circle.radius for circle in inner] == pytest.approx([0.05] * 4)
    # Four pitches of 15 cm; pipes lie on the floor, bores in their middle.
    assert [circle.x for circle in outer] == pytest.approx([0.075, 0.225, 0.375, 0.525])
    assert {round(circle.y, 9) for circle in (*outer, *inner)} == {0.06}


def test_water_stands_at_the_lip():
    water = _shapes(BEDS["pipes"], Round, "water")
    assert [circle.level for circle in water] == pytest.approx([0.09] * 4)


@pytest.mark.parametrize(("level", "part"), [(0.02, 0.0520), (0.06, 0.5), (0.10, 0.9480)])
def test_water_in_a_pipe_is_painted_up_to_its_level(level, part):
    """A bore from 1 to 11 cm; 2 cm is 0.8 of its radius below its middle, the half chord 0.6 of it.

    Below it lies (acos 0.8 - 0.8 x 0.6) / pi = 0.0520 of the circle, below 10 cm the rest.
    """
    from matplotlib.figure import Figure

    water = Round(0.2, 0.06, 0.05, "water", level)
    ax = Figure().subplots()
    paint(ax, [water])
    x, y = ax.patches[0].get_xy().T
    assert (y.min(), y.max()) == pytest.approx((0.01, level), abs=1e-4)
    area = 0.5 * abs((x[:-1] * y[1:] - x[1:] * y[:-1]).sum())
    assert area == pytest.approx(part * np.pi * 0.05**2, rel=1e-2)
    # In a page 1000 units to the metre: from chord to chord by the arc below, long from the middle.
    half = {0.02: 30, 0.06: 50, 0.10: 30}[level]
    way = f"M{200 - half} {100 - 1000 * level:g}a50 50 0 {int(level > 0.06)} 0 {2 * half} 0z"
    assert svg(Drawing([water], 1000.0, 0.0, 100.0, 100.0)).split('"')[3] == way


def test_levels_that_are_asked_for():
    figure = section_figure(BEDS["crates"], levels=[0.02, 0.05])
    lines = _shapes(BEDS["crates"], Line, "level", levels=[0.02, 0.05])
    assert [line.paths[0][0][1] for line in lines if line.look] == pytest.approx([0.02, 0.05])
    words = _all_words(figure)
    assert "2 cm (0.8 in)" in words
    assert "5 cm (2 in)" in words
    # Void crates, foot of the wicks at 3 cm: 0.03 x 0.9 + 0.02 x 0.81 m on 1.2 m2 = 51.84 L,
    # of 81 L up to the lip at 9 cm: 0.027 + 0.06 x 0.81 m = 90.72 L.
    assert "open water, 52 L (14 US gal) of 91 L (24 US gal)" in words


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("heights close together", ["overflow from 15 Oct 2027 11.8 cm"]),
        ("pipes", ["rim 42 cm (16.5 in)", "mix surface 39 cm (15.4 in)", "overflow 9 cm (3.5 in)"]),
        ("pipes", ["top of pipes 12 cm (4.7 in)", "60 cm (23.6 in)", "2 m (78.7 in) long"]),
        ("pipes", ["4 pipes, 10 cm (3.9 in) inside, 12 cm (4.7 in) outside", "tomato"]),
        ("pipes", ["top mix: potting mix", "mix that wicks: peat"]),
        ("blocked", ["overflow, blocked 9 cm (3.5 in)", "overflow from 15 Oct 4 cm (1.6 in)"]),
        ("no outlet", ["63 L (17 US gal) when full; no overflow"]),
        ("crates", ["crates, 90 % open; 10 % of the floor is legs of mix", "foot of the wicks"]),
        ("crates", ["32 L (8.6 US gal) of it where nothing wicks, out of reach"]),
        ("stone, nothing wicks", ["all of it where nothing wicks", "no legs of mix"]),
    ],
)
def test_words(name, parts):
    words = _all_words(section_figure(BEDS[name]))
    for part in parts:
        assert part in words


def test_us_units_come_first_when_asked_and_water_only_where_it_is():
    words = _all_words(section_figure(BEDS["pipes"], units="us", levels=[]))
    assert "rim 16.5 in (42 cm)" in words
    assert "open water, 0 US gal (0 L) of" in words


def test_a_dollar_sign_stays_one():
    text = example_text().replace('"Kitchen bed"', '"Bed for $5 and $6"')
    figure = section_figure(bed_from_text(text))
    FigureCanvasAgg(figure).draw()
    named = [text for text in figure.findobj(mpl.text.Text) if "$5 and $6" in text.get_text()]
    assert named
    assert not any(text.get_parse_math() for text in named)


def test_outlet_at_its_height():
    def outlets(bed):
        return [box for box in map(_box, _shapes(bed, Area, "paper")) if box[1] > 0.6]

    (outlet,) = outlets(bed_with({"overflow": {"centre": "10 cm", "bore": "2.5 cm"}}))
    assert outlet[2:] == pytest.approx((0.0875, 0.1125))
    assert outlets(BEDS["no outlet"]) == []


def test_legs_take_their_share_of_the_width():
    # Bays of void beside one leg of 10 % of 60 cm; below the foot the void goes right across.
    bed = bed_with({"reservoir": {"form": "stone", **LAYER, "wick_foot": "5 cm"}})
    air = [_box(area) for area in _shapes(bed, Area, "air")]
    assert sum(right - left for left, right, low, _ in air if low > 0) == pytest.approx(0.54)
    assert [right - left for left, right, low, _ in air if low == 0] == pytest.approx([0.6])


def test_roots_reach_their_depth():
    lettuce = bed_with({"planting": [{"crop": "lettuce", "planted": "04-10", "area_share": 1}]})
    root = lettuce.plantings[0].crop.root_depth
    (roots,) = _shapes(lettuce, Line, "root")
    assert min(y for path in roots.paths for _, y in path) == pytest.approx(0.39 - root)


def test_walls_hide_what_leans_past_them():
    """60 cm wide at the rim, 50 at the floor: 5 cm on each side lie outside of the wall there."""
    tub = bed_with({"box.width_at_floor": "50 cm", "box.length_at_floor": "1.9 m"})
    left, right, *_ = _shapes(tub, Area, "paper")
    assert any(point == pytest.approx((0.05, 0.0)) for point in left.points)
    assert any(point == pytest.approx((0.55, 0.0)) for point in right.points)
    order = [shape[1] for shape in bed_view(tub, "metric").section.shapes]
    assert order.index("mix_top") < order.index("paper") < order.index("box")


def test_saves_at_phone_width(tmp_path):
    from matplotlib.image import imread

    path = tmp_path / "bed.png"
    section_figure(BEDS["example"]).savefig(path)
    assert imread(path).shape[1] == 720


def test_only_what_stands_in_the_fullest_month_is_drawn_by_its_part():
    """Lettuce then kale in one part, tomato in the other: in July kale is in, lettuce long out."""
    bed = bed_with(
        {
            "planting": [
                {"crop": "lettuce", "planted": "04-01", "area_share": "40 %", "part": "left"},
                {"crop": "tomato", "planted": "05-10", "area_share": "60 %", "part": "right"},
                {"crop": "kale", "planted": "07-01", "area_share": "40 %", "part": "left"},
            ]
        }
    )
    month, plants = plants_of(bed)
    assert [plant.name for plant in plants] == ["kale", "tomato"]
    assert 7 <= month <= 10
    # the surface at 39 cm, the lip at 9: 30 cm for roots, though tomatoes would go down 70
    assert plants[1].roots == pytest.approx(0.30)
    assert (plants[0].left, plants[0].right) == pytest.approx((0.0, 0.4 * bed.box.width))
    assert plants[1].right == pytest.approx(bed.box.width)


def test_a_bare_bed_has_no_plants_to_draw():
    assert plants_of(bed_with({"planting": []}))[1] == []
