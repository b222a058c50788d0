import numpy as np
import pytest

from bedtide.tables import samples_folder
from bedtide.weather import read_weather, report_lines, weather_report


@pytest.fixture(scope="module")
def weather():
    return read_weather(samples_folder() / "brasaluz.csv")


def test_figures(weather):
    report = weather_report(weather)
    assert (str(report.first), str(report.last)) == ("1995-01-01", "2024-12-31")
    assert report.days == 10958
    assert report.filled_days == 0
    assert report.estimated_days == {"humidity": 0, "wind": 0, "radiation": 0}
    assert report.months.index.tolist() == list(range(1, 13))
    assert (report.months["months"] == 30).all()
    total = float(weather["rain"].sum()) * 1000
    assert report.months["rain"].sum() * 30 == pytest.approx(total)
    assert report.rain_year == pytest.approx(total / (10958 / 365.25))
    assert (report.months["et0_least"] <= report.months["et0"]).all()
    assert (report.months["et0"] <= report.months["et0_most"]).all()


def test_months_that_are_not_whole_are_left_out(table):
    report = weather_report(read_weather(table(days=45)))
    assert report.months.index.tolist() == [5]
    assert report.months.loc[5, "rain"] == pytest.approx(sum((i % 4) * 1.5 for i in range(31)))


def test_estimates_by_kind(table):
    report = weather_report(read_weather(table()))
    assert report.estimated_days == {"humidity": 10, "wind": 0, "radiation": 10}


def test_words(weather):
    lines = report_lines(weather_report(weather))
    assert lines[0] == "Brasaluz (invented): 10,958 days, 1995-01-01 to 2024-12-31"
    text = "\n".join(lines)
    for part in ("659 mm a year", "37.6 N", "tmax (C) -> tmax, degC", "Jul", "Gaps", "Nothing."):
        assert part in text
    assert "nan" not in text
    assert "None" not in text


def test_first_day_is_a_date(weather):
    assert weather_report(weather).first.dtype == np.dtype("datetime64[D]")
