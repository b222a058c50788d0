"""Pictures of a stay away: what is drawn is what was found, and it reads on a phone."""

import datetime

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from bedtide.answers.away.pictures import (
    away_figure,
    calendar_figure,
    chance_axes,
    course_axes,
    measures_axes,
    years_axes,
)
from bedtide.answers.away.summary import calendar_of, course_of, summary_of
from bedtide.many.leaving import away_calendar
from bedtide.many.stay import away
from bedtide.report.style import FONT_SIZE, axes_on
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)


@pytest.fixture(scope="module")
def record():
    return read_weather(samples_folder() / "brasaluz.csv")


@pytest.fixture(scope="module")
def stay(record):
    return away(bed_with(), record, DAY, days=16)


def drawn(stay):
    return away_figure(summary_of(stay), course_of(stay))


def words(ax) -> list[str]:
    return [text.get_text() for text in ax.findobj(mpl.text.Text)]


def test_the_curve_is_the_count_of_years(stay):
    ax = chance_axes(summary_of(stay), axes_on(None))
    (line,) = [each for each in ax.lines if len(each.get_xdata()) > 2]
    lasted = stay["days_lasted"][0].values
    for day, count in zip(line.get_xdata(), line.get_ydata(), strict=True):
        assert count == (lasted >= day).sum()
    through = int(stay["cases_lasting"][0])
    assert f"your 16 days: {through} of 30" in words(ax)
    assert f"{float(stay['days_safe'][0]):.0f} days: 9 in 10" in words(ax)


def test_the_course_starts_full_and_ends_where_the_run_does(stay):
    ax = course_axes(summary_of(stay), course_of(stay), axes_on(None))
    store, need = (line.get_ydata() for line in ax.lines[:2])
    assert store[0] > 50
    assert need[0] == pytest.approx(100, abs=0.5)
    np.testing.assert_allclose(
        store, 100 * np.median(stay["store_share"], axis=0)[: len(store)], atol=1e-9
    )


def test_every_year_has_its_mark(stay):
    ax = years_axes(summary_of(stay), axes_on(None))
    lines = [line for line in ax.lines if line.get_linestyle() == "None"]
    marks = np.concatenate([line.get_xdata() for line in lines])
    assert sorted(marks.tolist()) == list(range(1995, 2025))
    worst = stay["year"].values[np.argmin(stay["days_lasted"][0].values)]
    assert str(worst) in words(ax)


def test_bars_are_the_days_that_are_safe(stay):
    ax = measures_axes(summary_of(stay), "metric", axes_on(None))
    widths = [bar.get_x() + bar.get_width() for bar in ax.patches][1::2]
    safe = np.minimum(stay["days_safe"].values, 45)
    assert sorted(widths) == pytest.approx(sorted(safe))
    mulched, drum = (
        f"{safe[stay['measure'].values.tolist().index(n)]:.0f}" for n in ("mulch", "drum")
    )
    assert f"mulch all over: {mulched}" in words(ax)
    assert f"120 L drum on a float valve: {drum.replace('45', '45+')}" in words(ax)
    assert f"32 US gal drum on a float valve: {drum.replace('45', '45+')}" in words(
        measures_axes(summary_of(stay), "us", axes_on(None))
    )


def test_panels_that_would_show_nothing_are_left_out():
    easy = away(bed_with(), plain_weather("2021-01-01", 730, et0_mm=0.5), DAY, days=10)
    assert len(drawn(easy).axes) == 2


def test_the_calendar_ends_at_what_was_followed(record):
    calendar = away_calendar(bed_with(), record)
    figure = calendar_figure(calendar_of(calendar), days=16)
    (ax,) = figure.axes
    safe = ax.lines[0].get_ydata()
    assert safe.max() == 60
    np.testing.assert_array_equal(safe[:-1], np.minimum(calendar["days_safe"], 60))
    fewest = np.min(calendar["days_safe"].values)
    assert f"Days you can be away: at least {fewest:.0f}" in words(ax)
    assert "60+" in [tick.get_text() for tick in ax.get_yticklabels()]


@pytest.mark.parametrize("part", [("2001-01-01", "2024-12-31"), ("2003-01-01", "2004-12-31")])
def test_it_reads_on_a_phone_and_nothing_hangs_out(record, part):
    weather = record.sel(time=slice(*part))
    stay = away(bed_with(), weather, DAY, days=16)
    for figure in (drawn(stay), calendar_figure(calendar_of(away_calendar(bed_with(), weather)))):
        assert figure.get_size_inches()[0] == 4.0
        FigureCanvasAgg(figure).draw()
        for text in figure.findobj(mpl.text.Text):
            if text.get_visible() and text.get_text():
                assert text.get_fontsize() >= FONT_SIZE, text
        width, height = figure.get_size_inches()
        box = figure.get_tightbbox(figure.canvas.get_renderer())
        assert -0.01 <= box.x0 < box.x1 <= width + 0.01
        assert -0.01 <= box.y0 < box.y1 <= height + 0.01


def test_one_case_alone_is_drawn(record):
    """A record of one summer has one start; no picture may fail on it."""
    weather = record.sel(time=slice("2003-07-01", "2003-08-15"))
    stay = away(bed_with(), weather, DAY, days=30)
    FigureCanvasAgg(drawn(stay)).draw()


def test_of_few_starts_the_pictures_tell_the_shortest_as_the_text_does():
    """One summer: the date itself and four neighbours, of which no nine in ten can be told."""
    weather = plain_weather("2021-01-01", 365)
    few = summary_of(away(bed_with(), weather, DAY, days=16, measures=["mulch"]))
    assert len(few.case_list) == 5
    assert f"{few.days_safe} days: shortest" in words(chance_axes(few, axes_on(None)))
    bars = measures_axes(few, "metric", axes_on(None))
    assert bars.get_xlabel() == "days, in the shortest start"
    figure = calendar_figure(calendar_of(away_calendar(bed_with(), weather)))
    assert "the shortest start" in words(figure.axes[0])
    assert not [word for word in words(figure.axes[0]) if "9 in 10" in word]


def test_a_long_name_of_a_change_is_folded_and_has_its_room(record):
    many = "mulch+shade+harvest tomato+visit+top up"
    planting = [
        {"crop": "tomato", "planted": "05-01", "area_share": "60 %"},
        {"crop": "lettuce", "planted": "06-20", "area_share": "30 %"},
    ]
    stay = away(bed_with({"planting": planting}), record, DAY, days=16, measures=[many])
    figure = drawn(stay)
    FigureCanvasAgg(figure).draw()
    (label,) = [text for text in figure.axes[-1].texts if "mulch" in text.get_text()]
    renderer = figure.canvas.get_renderer()
    box = label.get_window_extent(renderer)
    assert box.x1 <= figure.bbox.x1
    (alone,) = [text for text in figure.axes[-1].texts if text.get_text().startswith("as it is: ")]
    assert not box.overlaps(alone.get_window_extent(renderer))
