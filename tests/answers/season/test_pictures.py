"""Pictures of a season: what stands on the axes, what the lines hold; nothing global changes."""

import matplotlib as mpl
import numpy as np
import pytest

from bedtide.answers.season.pictures import (
    air_axes,
    level_axes,
    season_figure,
    use_axes,
    water_in_axes,
)
from helpers.seasons import bucket_year, by_hand, drought_by_hand

PHONE = 360  # dots


def line(ax, label: str) -> np.ndarray:
    (found,) = [drawn for drawn in ax.get_lines() if drawn.get_label() == label]
    return np.asarray(found.get_ydata(), float)


def words(ax) -> str:
    from matplotlib.offsetbox import TextArea

    found = [ax.get_title(loc="left")]
    found += [area.get_text() for area in ax.findobj(TextArea)]
    return " ".join(found)


@pytest.mark.parametrize(
    ("panel", "metric", "us"),
    [
        (water_in_axes, "L a day", "US gal a day"),
        (
            level_axes,
            "Level at the day's end (filled at dawn), cm",
            "Level at the day's end (filled at dawn), inches",
        ),
        (air_axes, "Air among the roots, %", "Air among the roots, %"),
        (use_axes, "mm a day", "inches a day"),
    ],
)
def test_each_panel_names_its_unit(panel, metric, us):
    assert metric in panel(by_hand()).get_title(loc="left")
    assert us in panel(by_hand(), units="us").get_title(loc="left")


def test_rain_and_refills_are_litres_of_the_whole_bed():
    ax = water_in_axes(by_hand())
    np.testing.assert_allclose(line(ax, "refill"), [52, 28])
    tops = [segment[1][1] for segment in ax.collections[0].get_segments()]
    np.testing.assert_allclose(tops, [0, 0, 0, 20, 0, 0, 0, 40, 30, 0, 0, 0])


def test_level_stands_against_the_lip():
    ax = level_axes(by_hand())
    np.testing.assert_allclose(line(ax, "overflow"), 6.0)
    np.testing.assert_allclose(line(ax, "water level")[:3], [5.4, 4.68, 4.08])
    assert "overflow lip" in words(ax)


def test_without_an_outlet_the_line_is_the_surface_of_the_mix():
    season = by_hand()
    season["lip_height"] = season["lip_height"] * 0 + season["surface_height"]
    ax = level_axes(season)
    assert "mix surface" in words(ax)
    assert "overflow lip" not in words(ax)


def test_a_virtual_level_below_the_floor_is_drawn_at_the_floor():
    season = by_hand()
    season["level"][5] = -0.02
    assert line(level_axes(season), "water level")[5] == 0


def test_air_stands_against_the_10_percent_line():
    ax = air_axes(by_hand())
    np.testing.assert_allclose(line(ax, "air share")[:5], [20, 20, 20, 9, 10])
    np.testing.assert_allclose(line(ax, "wet day"), [9, 8, 5])
    assert any(np.allclose(drawn.get_ydata(), 10) for drawn in ax.get_lines())
    assert "under 10 %: too wet" in words(ax)


def test_air_of_a_bare_bed_is_not_drawn():
    season = by_hand()
    season["root_depth"] = season["root_depth"] * 0
    ax = air_axes(season)
    assert np.isnan(line(ax, "air share")).all()
    assert "nothing planted" in [text.get_text() for text in ax.texts]


def test_what_the_plants_lacked_is_drawn_where_they_lacked_it():
    ax = use_axes(drought_by_hand())
    np.testing.assert_array_equal(
        line(ax, "wanted by the plants"), [np.nan, np.nan, 6, 6, 6, np.nan, np.nan]
    )
    assert "wanted, not got" in words(ax)
    assert "wanted" not in words(use_axes(by_hand()))


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("season", [by_hand, drought_by_hand, bucket_year])
def test_a_season_reads_on_a_phone(season, units):
    figure = season_figure(season(), units=units)
    figure.canvas.draw()
    dots_per_point = PHONE / figure.get_figwidth() / 72
    ends = figure.bbox.width
    assert len(figure.axes) == 4
    for ax in figure.axes:
        assert len(ax.get_yticks()) <= 6
        texts = [text for text in ax.findobj(mpl.text.Text) if text.get_text().strip()]
        shown = [text for text in texts if text.get_visible()]
        assert shown
        for text in shown:
            assert text.get_fontsize() * dots_per_point >= 10, text.get_text()
            box = text.get_window_extent()
            assert -1 <= box.x0 <= box.x1 <= ends + 1, text.get_text()


def test_of_many_years_the_last_is_drawn():
    figure = season_figure(bucket_year("2020-01-01", days=1000))
    assert figure.get_suptitle().endswith("the last year of the run")
    assert len(line(figure.axes[1], "water level")) == 365
    assert "last year" not in season_figure(bucket_year("2020-01-01", days=800)).get_suptitle()


def test_no_global_style_changes_and_the_data_stay():
    before, season = dict(mpl.rcParams), by_hand()
    season_figure(season)
    assert dict(mpl.rcParams) == before
    assert season.identical(by_hand())
