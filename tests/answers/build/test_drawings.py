"""The sheets: to scale, nothing over another, nothing outside its view, files whole."""

import re
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import Circle

from bedtide.answers.build.drawings import PAPERS, SCALES, sheets
from bedtide.files import write_figure
from helpers.builds import CRATES, PIPES, TUB, built, changed
from helpers.commands import left_in

CASES = {
    "pipes": (PIPES, {}, {}),
    "twelve pipes": (PIPES, {"box.width": "1.9 m", "reservoir.count": 12}, {}),
    "many beds": (PIPES, {}, {"beds": 37}),
    "a long bed": (PIPES, {"box.length": "11 m", "reservoir.run": "10.9 m"}, {}),
    "a deep store": (CRATES, {"reservoir.height": "15 in", "overflow.height": "14 in"}, {}),
    "a store as deep as a man's chest": (
        TUB,
        {"box.depth": "1.9 m", "reservoir.height": "1.3 m", "overflow.height": "1.2 m"},
        {},
    ),
    "tub": (TUB, {}, {}),
    "crates": (CRATES, {}, {}),
    "no overflow": (PIPES, {"overflow": {"state": "none"}}, {}),
    "a hole that is known": (PIPES, {}, {"own": {"fitting.hole": "35 mm"}}),
    "lip at the crown": (PIPES, {"overflow.height": "119 mm"}, {}),
    "short boards": (
        PIPES,
        {"box.depth": "80 cm"},
        {"own": {"board.lengths": ["2.7 m"]}, "beds": 9},
    ),
    "a thin bed": (PIPES, {"box.width": "130 mm", "reservoir.count": 1}, {}),
    "a name": (PIPES, {"bed.name": "$x^2$ <b>" + "a very long name " * 9}, {}),
}


def drawn(case, units, paper):
    mapping, changes, options = CASES[case]
    sheet = built(mapping, changes=changes, units=units, **options)
    return sheet, sheets(changed(mapping, changes), sheet, paper, units)


def boxes(figure):
    """Words of a figure with their boxes [mm], and the axes that they belong to."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    mm = 25.4 / figure.dpi
    for ax in (None, *figure.axes):
        for text in figure.texts if ax is None else ax.texts:
            found = text.get_window_extent(renderer)
            if text.get_text():
                yield text, np.array(found.extents) * mm, ax


def crosses(path, box):
    """Whether a line of points enters a box, looked at every twentieth of a millimetre."""
    for start, end in pairwise(path):
        steps = max(int(np.hypot(*(end - start)) * 20), 1)
        points = start + np.linspace(0, 1, steps + 1)[:, None] * (end - start)
        inside = (points > box[:2] + 0.05).all(axis=1) & (points < box[2:] - 0.05).all(axis=1)
        if inside.any():
            return True
    return False


@pytest.mark.parametrize(
    ("case", "units", "paper"),
    [
        pytest.param(case, units, paper, marks=[] if at % 7 == 0 else [pytest.mark.slow])
        for at, (case, units, paper) in enumerate(product(CASES, ("metric", "us"), PAPERS))
    ],
)
def test_no_word_leaves_its_view_or_covers_another(case, units, paper):
    _, figures = drawn(case, units, paper)
    wide, high = PAPERS[paper]
    for name, figure in figures.items():
        found = list(boxes(figure))
        mm = 25.4 / figure.dpi
        for text, box, ax in found:
            inside = (
                np.array([0, 0, wide, high])
                if ax is None
                else (np.array(ax.get_window_extent().extents) * mm)
            )
            assert (box[:2] >= inside[:2] - 0.3).all(), (name, text.get_text())
            assert (box[2:] <= inside[2:] + 0.3).all(), (name, text.get_text())
        for (one, a, _), (other, b, _) in combinations(found, 2):
            apart = (a[:2] >= b[2:] - 0.05).any() or (b[:2] >= a[2:] - 0.05).any()
            assert apart, (name, one.get_text(), other.get_text())
        for ax in figure.axes:
            for line in ax.lines:
                if line.get_gid() == "leader":
                    path = ax.transData.transform(line.get_xydata()) * mm
                    for text, box, _ in found:
                        assert not crosses(path, box), (name, text.get_text())


def scale_of(ax):
    """How many times smaller than life axes are, across and up."""
    mm = 25.4 / ax.figure.dpi
    box = ax.get_window_extent()
    return (
        1e3 * np.ptp(ax.get_xlim()) / (box.width * mm),
        1e3 * np.ptp(ax.get_ylim()) / (box.height * mm),
    )


@pytest.mark.parametrize("case", ["pipes", "tub", "crates", "a long bed"])
def test_views_are_drawn_to_the_scale_that_they_say(case):
    _, figures = drawn(case, "metric", "A4")
    seen = 0
    for name, figure in figures.items():
        for ax in figure.axes:
            said = [re.search(r"1:(\d+)$", text.get_text()) for text in ax.texts]
            stated = [int(found[1]) for found in said if found] or [1] * (name == "dipstick")
            if stated:
                assert stated[0] in SCALES
                assert scale_of(ax) == pytest.approx((stated[0], stated[0]), rel=1e-6)
                seen += 1
    assert seen >= 4


def test_the_dipstick_is_of_true_size():
    sheet, figures = drawn("pipes", "metric", "Letter")
    (ax,) = figures["dipstick"].axes
    mm = 25.4 / ax.figure.dpi
    marks = sorted(
        ax.transData.transform(line.get_xydata())[0, 1] * mm
        for line in ax.lines
        if line.get_gid() != "leader"
    )
    # The first mark stands 9 mm over the foot, the last 90.
    assert np.diff(marks)[[0, -1]] == pytest.approx([28.2 - 9.0, 90 - 83.7], abs=0.1)
    assert marks[-1] - marks[0] == pytest.approx(81.0)
    assert len(marks) == len(sheet.dipstick)


def test_a_deep_store_gets_several_strips():
    sheet, figures = drawn("a deep store", "us", "Letter")
    labels = [t.get_text() for ax in figures["dipstick"].axes for t in ax.texts]
    assert len(figures["dipstick"].axes) == 2
    for mark in sheet.dipstick:
        litres = mark.litres / 3.785411784
        assert any(label.startswith(f"{litres:.0f} US gal") for label in labels), litres


def test_two_strips_of_a_deep_store_lie_on_a_sheet():
    _, figures = drawn("a store as deep as a man's chest", "metric", "A4")
    strips = {name: len(figures[name].axes) for name in figures if "dipstick" in name}
    # 297 mm less 36 of margins and 30 about the strips: 231 mm of stick on each, six for 1.2 m.
    assert strips == {"dipstick": 2, "dipstick_2": 2, "dipstick_3": 2}
    feet = [ax.get_ylim()[0] * 1e3 + 8.0 for name in strips for ax in figures[name].axes]
    assert feet == pytest.approx([231 * strip for strip in range(6)])


def boxes_of(svg: str) -> list[tuple[float, float, float]]:
    """Width, height and foot over the bottom of the paper of every path of a sheet, in mm."""
    high = float(re.search(r'height="([\d.]+)pt"', svg)[1])
    found = []
    for path in re.findall(r'<path[^>]* d="([^"]+)"', svg):
        points = np.array(re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", path), float)
        if len(points):
            size = np.ptp(points, axis=0)
            found.append((*(size / 72 * 25.4), (high - points[:, 1].max()) / 72 * 25.4))
    return found


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_ruler_on_the_sheet_that_comes_from_the_printer(tmp_path, units):
    _, figures = drawn("pipes", units, "A4")
    write_figure(tmp_path / "stick.svg", figures["dipstick"])
    boxes = boxes_of((tmp_path / "stick.svg").read_text())
    bars = sorted(width for width, height, _ in boxes if height == pytest.approx(1.8, abs=1e-3))
    assert bars == pytest.approx([100.0, 101.6], abs=1e-3)
    marks = sorted(foot for width, height, foot in boxes if height == 0 and abs(width - 15) < 1e-3)
    (strip,) = [each for each in boxes if each[:2] == pytest.approx((15.0, 90.0), abs=1e-3)]
    foot = strip[2]
    # The lip of this bed stands 90 mm over the liner; half of a pipe's wall is under its water.
    assert [marks[0] - foot, marks[-1] - foot] == pytest.approx([9.0, 90.0], abs=0.05)


def test_the_marks_of_a_stick_are_told_in_both_units():
    words = [t.get_text() for t in drawn("pipes", "metric", "A4")[1]["dipstick"].axes[0].texts]
    assert "10 L (2.6 US gal), 28.2 mm (1 1/8 in)" in words


def test_the_hole_is_where_the_sheet_says():
    _, figures = drawn("a hole that is known", "metric", "A4")
    ax = figures["end_wall"].axes[0]
    (hole,) = [patch for patch in ax.patches if isinstance(patch, Circle)]
    assert hole.center == pytest.approx((0.1205, 0.105))
    assert hole.radius == pytest.approx(0.0175)
    words = [text.get_text() for text in ax.texts]
    assert {"CENTRE 120.5 mm", "CENTRE 105 mm", "drill 35 mm"} <= set(words)
    ax = figures["section"].axes[0]
    (pipe_end,) = [p for p in ax.patches if isinstance(p, Circle) and p.radius == 0.01]
    # Over the liner, from its left edge: half a gap and half a pipe.
    assert pipe_end.center == pytest.approx((0.0775, 0.100))


def test_every_piece_is_on_the_cuts():
    sheet, figures = drawn("many beds", "metric", "A4")
    letters = [
        text.get_text()
        for name, figure in figures.items()
        for ax in figure.axes
        for text in ax.texts
        if re.fullmatch("[A-Z]", text.get_text())
    ]
    assert len(letters) == sum(len(row.pieces_mm) for row in sheet.boards.cuts)
    assert set(letters) == {"A", "B"}  # sides and ends


def test_a_bed_that_can_not_be_built_says_so_on_every_sheet():
    for figure in drawn("a long bed", "metric", "A4")[1].values():
        assert "CAN'T BE BUILT" in figure.texts[0].get_text()
    for figure in drawn("pipes", "metric", "A4")[1].values():
        assert "CAN'T" not in figure.texts[0].get_text()


def test_the_files(cli, tmp_path, bed_file):
    folder = tmp_path / "out"
    result = cli("build", bed_file, "--out", folder)
    assert result.exit_code == 0, result.stderr
    names = left_in(folder)
    assert names == sorted(
        ["build.json", "sheets_A4.pdf", "sheets_Letter.pdf"]
        + [
            f"{view}_{paper}.svg"
            for view in ("section", "end_wall", "dipstick")
            for paper in PAPERS
        ]
    )
    for paper, (wide, high) in PAPERS.items():
        svg = (folder / f"section_{paper}.svg").read_text()
        sizes = re.search(r'width="([\d.]+)pt" height="([\d.]+)pt"', svg)
        assert [float(each) / 72 * 25.4 for each in sizes.groups()] == pytest.approx(
            [wide, high], abs=0.1
        )
        pdf = (folder / f"sheets_{paper}.pdf").read_bytes()
        assert pdf.startswith(b"%PDF")
        assert pdf.count(b"/Type /Page ") == 3
    again = tmp_path / "again"
    assert cli("build", bed_file, "--out", again).exit_code == 0
    for name in names:
        assert (again / name).read_bytes() == (folder / name).read_bytes(), name
