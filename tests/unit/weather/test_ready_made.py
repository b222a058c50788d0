"""ET0 that a file brings along: a check beside ours, and used where there is no temperature."""

import datetime

import numpy as np
import pytest

from bedtide import example_bed, read_weather, run_season
from bedtide.answers.weather.summary import described, summary_of
from bedtide.errors import InputError
from bedtide.many.stay import away
from bedtide.weather import describe_weather, suspicions

PLACE = ["# latitude: 50", "# elevation: 100 m"]


@pytest.fixture
def write(tmp_path):
    def made(header, cells, days=60, above=PLACE):
        start = datetime.date(2021, 5, 1)
        body = [
            ",".join([str(start + datetime.timedelta(days=at)), *map(str, cells(at))])
            for at in range(days)
        ]
        path = tmp_path / "garden.csv"
        path.write_text("\n".join([*above, header, *body]) + "\n")
        return path

    return made


def warm(at):
    return [20 + at % 5, 9 + at % 3, 0 if at % 3 else 6.0]


@pytest.mark.parametrize("name", ["ET0 (mm)", "et0_fao_evapotranspiration (mm)", "ETo (mm/day)"])
def test_it_is_a_check_and_no_more(write, name):
    plain = read_weather(write("date,tmax (C),tmin (C),rain (mm)", warm))
    assert summary_of(plain).own_evapotranspiration_ratio is None
    ours = plain["et0"].values * 1000
    path = write(
        f"date,tmax (C),tmin (C),rain (mm),{name}", lambda at: [*warm(at), f"{ours[at] * 1.2:.6f}"]
    )
    weather = read_weather(path)
    assert weather["et0"].values == pytest.approx(plain["et0"].values)
    figures = summary_of(weather)
    assert figures.own_evapotranspiration_days == 60
    assert figures.own_evapotranspiration_ratio == pytest.approx(1.2, rel=1e-5)


def test_in_inches_and_on_some_days(write):
    path = write(
        "date,tmax (C),tmin (C),rain (mm),ETo (in)",
        lambda at: [*warm(at), "0.1" if at < 20 else ""],
    )
    weather = read_weather(path)
    figures = summary_of(weather)
    assert figures.own_evapotranspiration_days == 20
    assert figures.own_evapotranspiration_ratio == pytest.approx(
        20 * 2.54 / (weather["et0"].values[:20].sum() * 1e3)
    )
    assert not weather["filled"].values.any()


@pytest.mark.parametrize("value", ["-9999", "0", "77"])
def test_what_is_odd_in_it_is_no_hindrance_where_it_is_not_needed(write, value):
    path = write("date,tmax (C),tmin (C),rain (mm),ET0 (mm)", lambda at: [*warm(at), value])
    plain = read_weather(write("date,tmax (C),tmin (C),rain (mm)", warm))
    path = write("date,tmax (C),tmin (C),rain (mm),ET0 (mm)", lambda at: [*warm(at), value])
    assert read_weather(path)["et0"].values == pytest.approx(plain["et0"].values)


def test_without_a_unit_it_is_passed_over(write):
    path = write("date,tmax (C),tmin (C),rain (mm),ET0", lambda at: [*warm(at), 3.0])
    weather = read_weather(path)
    assert "ET0" in weather.attrs["columns_ignored"]
    named = read_weather(path, columns={"ET0": "et0, mm"})
    assert summary_of(named).own_evapotranspiration_days == 60


def ready(at):
    return [0 if at % 3 else 6.0, 2.0 + at % 4]


def test_without_temperature_it_is_used(write):
    path = write("date,rain (mm),ET0 (mm)", ready)
    weather = read_weather(path)
    assert weather["et0"].values * 1000 == pytest.approx([2.0 + at % 4 for at in range(60)])
    assert np.isnan(weather["tmax"].values).all()
    # FAO-56 chapter 6: the table of crop coefficients holds for 45 % and 2 m/s
    assert (weather["rh_min"].values == 45.0).all()
    assert (weather["estimated"].values == 2).all()
    assert (weather["wind_speed"].values == 2.0).all()
    said = " ".join(weather.attrs["assumptions"])
    assert "ET0: the file's own" in said
    assert "Humidity: 45 % at the least was assumed on every day." in said
    assert weather.attrs["et0_method"] == "ready-made"
    figures = summary_of(weather)
    assert figures.grade != "good"
    assert any("file's own" in reason for reason in figures.reasons)
    season = run_season(example_bed(), weather)
    assert float(season["et0"].sum()) == pytest.approx(60 * 0.0035)
    assert season.attrs["balance_error"] < 1e-9


def test_measured_wind_and_damp_are_used_beside_it(write):
    path = write(
        "date,rain (mm),ET0 (mm),RHmin (%),wind at 2 m (m/s)", lambda at: [*ready(at), 60, 3.0]
    )
    weather = read_weather(path)
    assert (weather["rh_min"].values == 60.0).all()
    assert (weather["wind_speed"].values == 3.0).all()
    assert not weather["estimated"].values.any()
    # without temperature no one can say how damp the air of the 20 rainy days should be
    assert [one.kind for one in suspicions(weather)] == ["stuck"]


def test_short_gaps_in_it_are_filled_and_long_ones_refused(write):
    def cells(at):
        rain, et0 = ready(at)
        return [rain, "" if at in (10, 11) else et0]

    weather = read_weather(write("date,rain (mm),ET0 (mm)", cells))
    assert int(weather["filled"].values.sum()) == 2
    # a line from 3 mm on the tenth day (at 9) to 2 mm on the thirteenth (at 12)
    assert weather["et0"].values[10:12] * 1000 == pytest.approx([3 - 1 / 3, 3 - 2 / 3])
    path = write("date,rain (mm),ET0 (mm)", lambda at: ["" if 10 <= at < 15 else at % 2, 3.0])
    with pytest.raises(InputError, match="rain missing from 2021-05-11 to 2021-05-15"):
        read_weather(path)


@pytest.mark.parametrize("value", ["-9999", "77"])
def test_there_it_must_be_possible(write, value):
    path = write(
        "date,rain (mm),ET0 (mm)", lambda at: [1.0 if at % 2 else 0.0, value if at == 9 else 3.0]
    )
    with pytest.raises(InputError, match=r"ET0 \(mm\): .*is not possible"):
        read_weather(path)


def test_no_equation_without_temperature(write):
    path = write("date,rain (mm),ET0 (mm)", ready)
    with pytest.raises(InputError, match="no temperature to work ET0 out from"):
        read_weather(path, method="hargreaves")


def test_it_is_described(write):
    found = describe_weather(write("date,rain (mm),ET0 (mm)", ready))
    assert found.problems == []
    (first, *_) = described(found.record, found.read, (), "").months
    assert first.highest_temperature_C is None
    found = describe_weather(write("date,rain (mm),ET0 (mm)", ready, above=[]))
    assert len(found.problems) == 1


def test_a_stay_leaves_shade_out(write):
    weather = read_weather(write("date,rain (mm),ET0 (mm)", ready, days=900))
    leave = datetime.date(2027, 7, 10)
    stay = away(example_bed(), weather, leave, days=7, measures=["shade", "mulch"])
    assert list(stay["measure"].values) == ["as it is", "mulch"]
    assert stay.attrs["measures_left_out"] == ["shade"]
