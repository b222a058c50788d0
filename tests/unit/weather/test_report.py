import numpy as np
import pytest

from bedtide.tables import samples_folder
from bedtide.weather import read_weather, weather_report


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


def test_what_it_says_of_itself(weather):
    report = weather_report(weather)
    assert report.place == "Brasaluz (invented)"
    assert "tmax (C) -> tmax, degC" in report.columns_read
    assert report.assumptions == ()
    assert report.verdict.grade == "good"
    assert report.coverage.shape == (30, 5)
    assert (report.estimated_share == 0).all()


def test_estimates_and_fillings_by_year(write, rows):
    head = "# latitude: 48\n# elevation: 0\ndate,tmax C,tmin C,rain mm,wind_2m_ms\n"
    body = rows(400, "2021-01-01")
    del body[100:102]
    path = write(head + "\n".join(map(",".join, body)) + "\n")
    report = weather_report(read_weather(path))
    assert report.filled_days == 2
    assert report.estimated_days == {"humidity": 398, "wind": 0, "radiation": 398}
    assert report.estimated_share.to_dict() == {2021: 1.0, 2022: 1.0}


def test_first_day_is_a_date(weather):
    assert weather_report(weather).first.dtype == np.dtype("datetime64[D]")
