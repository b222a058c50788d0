"""The picture of a weather record holds the figures of its report."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from bedtide.answers.weather.pictures import coverage_axes, month_axes, spell_axes, weather_figure
from bedtide.answers.weather.summary import summary_of
from bedtide.tables import samples_folder
from bedtide.weather import read_weather


@pytest.fixture(scope="module")
def odd():
    """Good weather with a month of no rain and a stuck thermometer."""
    weather = read_weather(samples_folder() / "mistlebeck.csv", end="2006-12-31")
    days = weather["time"].values.astype("datetime64[D]")
    november = (days >= np.datetime64("2003-11-01")) & (days < np.datetime64("2003-12-01"))
    weather["rain"].values[november] = 0.0
    july = (days >= np.datetime64("2004-07-01")) & (days < np.datetime64("2004-07-12"))
    weather["tmax"].values[july] = 21.0
    return weather


def words(figure):
    return " ".join(text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text")))


@pytest.mark.parametrize(("units", "unit"), [("metric", "mm"), ("us", "in")])
def test_the_figure(odd, units, unit):
    figure = weather_figure(odd, units=units)
    assert isinstance(figure, Figure)
    assert len(figure.axes) == 5
    text = words(figure)
    for part in (
        "Mistlebeck",
        "a doubtful record",
        "2003-11-01",
        f"of a month, {unit}",
        "stuck sensor",
    ):
        assert part in text
    assert "nan" not in text


def test_months_are_those_of_the_report(odd):
    figures = summary_of(odd)
    ax = month_axes(figures)
    bars = [bar.get_height() for bar in ax.patches]
    np.testing.assert_allclose(bars, [month.rain_mm for month in figures.months])
    (line,) = (drawn for drawn in ax.get_lines() if drawn.get_label() == "ET0")
    et0 = [month.reference_evapotranspiration_mm for month in figures.months]
    np.testing.assert_allclose(line.get_ydata(), et0)
    inches = [bar.get_height() for bar in month_axes(figures, units="us").patches]
    np.testing.assert_allclose(np.asarray(inches) * 25.4, bars)


def test_spells_are_those_of_the_report(odd):
    figures = summary_of(odd)
    widths = [bar.get_width() for bar in spell_axes(figures).patches]
    expected = [
        s.rain_mm if s.kind == "wet" else s.reference_evapotranspiration_mm - s.rain_mm
        for s in figures.spells
    ]
    np.testing.assert_allclose(widths, expected)


def test_coverage_marks_the_suspicious_years(odd):
    ax = coverage_axes(odd)
    marks = {(line.get_xdata()[0], line.get_ydata()[0]) for line in ax.get_lines()}
    assert marks == {(2003, 1.5), (2004, 0.5)}
    np.testing.assert_allclose(ax.collections[0].get_array().ravel(), 1.0)


def test_a_short_record_can_be_drawn(tmp_path):
    path = tmp_path / "short.csv"
    rows = "".join(f"2021-05-{d:02d},20,{8 + d % 3},{d % 2}\n" for d in range(1, 6))
    path.write_text("# latitude: 48\n# elevation: 0\ndate,tmax C,tmin C,rain mm\n" + rows)
    figure = weather_figure(read_weather(path))
    figure.savefig(tmp_path / "weather.png")
    assert (tmp_path / "weather.png").stat().st_size > 10_000
