"""The picture of a rainy spell: air where it is, read on a phone, colours part at the limit."""

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.dates import date2num

from bedtide.report.spell_pictures import (
    _COLOURS,
    _LEVELS,
    air_height_axes,
    hardest,
    wet_spell_figure,
)
from helpers.comparisons import spells

PHONE = 360  # dots


@pytest.fixture(scope="module")
def found():
    return spells()


def test_the_hardest_spell_is_drawn(found):
    wet = found["wet_days"].sel(outlet="open").sum("bed").to_numpy()
    assert int(hardest(found)["wet_days"].sel(outlet="open").sum()) == wet.max()


def test_air_by_height_stands_where_it_is(found):
    bed = hardest(found).isel(bed=0)
    ax = air_height_axes(bed, outlet="blocked")
    mesh = ax.collections[0]
    air = bed["air"].sel(outlet="blocked").transpose("slice", "day").to_numpy()
    np.testing.assert_allclose(np.asarray(mesh.get_array()).ravel(), air.ravel())
    corners = mesh.get_coordinates()
    np.testing.assert_allclose(corners[:, 0, 1], bed["face_height"].to_numpy() * 100)
    week_before = bed["spell_start"].to_numpy() - np.timedelta64(7, "D")
    assert corners[0, 0, 0] == date2num(week_before) - 0.5  # the date stands in its middle
    wet = int(bed["wet_days"].sel(outlet="blocked"))
    assert any(f"height, cm; {wet} wet days" in text.get_text() for text in ax.texts)
    assert ax.get_title(loc="left") == "A, overflow blocked"


def test_colours_part_at_the_limit():
    assert 0.10 in _LEVELS
    light = [sum(int(colour[i : i + 2], 16) for i in (1, 3, 5)) for colour in _COLOURS]
    assert light == sorted(light)  # light and dark alone put them in order


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("beds", [slice(None), [1], [0, 2]])
def test_the_picture_reads_on_a_phone(found, units, beds):
    figure = wet_spell_figure(found.isel(bed=beds), units=units)
    figure.canvas.draw()
    dots_per_point = PHONE / figure.get_figwidth() / 72
    for text in figure.findobj(mpl.text.Text):
        if text.get_text().strip() and text.get_visible():
            assert text.get_fontsize() * dots_per_point >= 10, text.get_text()


def test_few_beds_are_drawn_blocked_too_and_many_are_counted(found):
    two, four = wet_spell_figure(found.isel(bed=[0, 1])), wet_spell_figure(found)
    assert len(two.axes) == 1 + 4 + 1
    assert len(four.axes) == 1 + 4 + 1
    figure = wet_spell_figure(found.isel(bed=[0, 1, 2, 3, 0, 1, 2, 3]))
    assert len(figure.axes) == 1 + 6 + 1
    legend = figure.axes[-1].get_legend()
    assert "2 more beds are in the table" in legend.get_title().get_text()
    seven = wet_spell_figure(found.isel(bed=[0, 1, 2, 3, 0, 1, 2]))
    title = seven.axes[-1].get_legend().get_title().get_text()
    assert title == "1 more bed is in the table"
