"""Weather of a place from a service: what is asked, what is kept, and every way it can fail."""

import datetime
import json
import os
import time

import numpy as np
import pytest

from bedtide import fetch_weather, read_weather
from bedtide.errors import ChoiceError, FieldError, FileError, RangeError, TimeAxisError
from bedtide.weather import fetch
from helpers.services import Reply, meteo, power, service, weather_of

PLACE = (51.9, 4.5)
MARCH = ("2021-03-01", "2021-03-31")


@pytest.fixture
def waited(monkeypatch):
    """How long it waited between its attempts [s], without waiting."""
    found = []
    real = time.sleep

    def sleep(seconds):
        if seconds >= 1.0:
            found.append(seconds)
        else:
            real(seconds)

    monkeypatch.setattr("bedtide.weather.fetch.time.sleep", sleep)
    return found


def get(tmp_path, *replies, place=PLACE, days=MARCH, **more):
    """The file that is made, and what the service was asked."""
    with service(*replies) as there:
        more = {"cache": tmp_path / "cache", "address": there.address, **more}
        return fetch_weather(*place, *days, **more), there.asked


@pytest.mark.parametrize(
    ("name", "answer", "wind_height", "elevation"),
    [("nasa-power", power, 2, 12.34), ("open-meteo", meteo, 10, 3.0)],
)
def test_the_file_is_read_with_no_option(tmp_path, name, answer, wind_height, elevation):
    path, _ = get(tmp_path, Reply(answer), service=name)
    weather = read_weather(path)
    assert weather.sizes["time"] == 31
    assert weather.attrs["latitude"] == 51.9
    assert weather.attrs["elevation"] == elevation
    assert weather.attrs["rain_day"] == "midnight"
    expected = np.array([weather_of(datetime.date(2021, 3, day)) for day in range(1, 32)]).T
    assert weather["tmax"].values == pytest.approx(expected[0])
    assert weather["tmin"].values == pytest.approx(expected[1])
    assert weather["solar_radiation"].values == pytest.approx(expected[4])
    assert weather["rain"].values == pytest.approx(expected[5] / 1000)
    # FAO-56 Eq. 47, as published: wind at 10 m is brought to 2 m
    level = 1.0 if wind_height == 2 else 4.87 / np.log(67.8 * 10 - 5.42)
    assert weather["wind_speed"].values == pytest.approx(expected[3] * level, rel=1e-6)
    vapour = 0.6108 * np.exp(17.27 * expected[2] / (expected[2] + 237.3))
    assert weather["vapour_pressure"].values == pytest.approx(vapour, rel=1e-3)
    assert not weather["estimated"].values.any()


@pytest.mark.parametrize(
    ("name", "answer", "words"),
    [
        ("nasa-power", power, ("NASA POWER", "LaRC", "12.34 m", "T2M_MAX", "about 50 km")),
        ("open-meteo", meteo, ("Open-Meteo.com", "CC BY 4.0", "3 m", "precipitation_sum")),
    ],
)
def test_the_file_says_whose_data_it_is_and_what_each_column_is(tmp_path, name, answer, words):
    path, _ = get(tmp_path, Reply(answer), service=name, save=tmp_path / "mine.csv")
    assert path == tmp_path / "mine.csv"
    head = [line for line in path.read_text().splitlines() if line.startswith("#")]
    text = "\n".join(head)
    for word in (*words, "51.90 N, 4.50 E", "# terms: ", str(datetime.date.today())):
        assert word in text
    names = path.read_text().splitlines()[len(head)].split(",")
    assert names[0] == "date"
    for heading in names[1:]:
        assert f"# {heading}: " in text


@pytest.mark.parametrize(
    ("name", "answer", "person"),
    [
        ("nasa-power", power, {"latitude", "longitude", "start", "end"}),
        ("open-meteo", meteo, {"latitude", "longitude", "start_date", "end_date"}),
    ],
)
def test_nothing_is_sent_but_place_and_dates(tmp_path, name, answer, person, monkeypatch):
    monkeypatch.setenv("USER", "someone")
    place = (51.923456, -4.567891)
    _, asked = get(tmp_path, Reply(answer), service=name, place=place)
    _, again = get(tmp_path / "b", Reply(answer), service=name, place=(-33.0, 7.0))
    query, other = asked[0].query, again[0].query
    # What is not of the person is the same for all persons.
    assert {key for key in query if query[key] != other[key]} <= person
    assert person <= set(query)
    assert (query["latitude"], query["longitude"]) == ("51.92", "-4.57")
    headers = {key.lower(): value for key, value in asked[0].headers.items()}
    assert set(headers) <= {"host", "accept", "accept-encoding", "connection", "user-agent"}
    assert headers["user-agent"] == "bedtide"


def test_many_years_are_asked_for_by_decades_and_put_together(tmp_path):
    told = []
    path, asked = get(tmp_path, Reply(power), days=("1995-06-01", "2012-02-03"), tell=told.append)
    assert [(one.query["start"], one.query["end"]) for one in asked] == [
        ("19950601", "19991231"),
        ("20000101", "20091231"),
        ("20100101", "20120203"),
    ]
    assert told == [
        "Downloading 1995 to 1999", "Downloading 2000 to 2009", "Downloading 2010 to 2012"
    ]  # fmt: skip
    weather = read_weather(path)
    assert str(weather["time"].values[0])[:10] == "1995-06-01"
    assert weather.sizes["time"] == 6092  # 214 days of 1995, 4 years, 10 years, 2 and 34 days


def test_what_is_kept_is_not_asked_for_again(tmp_path, waited):
    first, asked = get(tmp_path, Reply(power))
    assert len(asked) == 1
    text = first.read_text()
    with service(Reply("", 500)) as there, pytest.raises(FileError):
        # another address is another service
        fetch_weather(*PLACE, *MARCH, cache=tmp_path / "cache", address=there.address)
    with service(Reply(power), Reply("", 500)) as there:
        more = {"cache": tmp_path / "two", "address": there.address}
        fetch_weather(*PLACE, *MARCH, **more)
        again = fetch_weather(*PLACE, *MARCH, **more)
        assert len(there.asked) == 1
        assert again.read_text() == text
        with pytest.raises(FileError):  # another place, other days, another service: asked for
            fetch_weather(51.8, 4.5, *MARCH, **more)
        with pytest.raises(FileError):
            fetch_weather(*PLACE, "2021-03-02", "2021-03-31", **more)
        with pytest.raises(FileError):
            fetch_weather(*PLACE, *MARCH, service="open-meteo", **more)


def test_late_days_are_kept_for_a_day_and_a_spoilt_answer_not_at_all(tmp_path):
    end = datetime.date.today() - datetime.timedelta(days=20)
    span = (str(end - datetime.timedelta(days=9)), str(end))
    with service(Reply(power)) as there:
        more = {"cache": tmp_path, "address": there.address}
        fetch_weather(*PLACE, *span, **more)
        fetch_weather(*PLACE, *span, **more)
        assert len(there.asked) == 1
        for kept in tmp_path.glob("*.json"):
            old = time.time() - 2 * 86400
            os.utime(kept, (old, old))
        fetch_weather(*PLACE, *span, **more)
        assert len(there.asked) == 2
        for kept in tmp_path.glob("*.json"):
            kept.write_text("{")
        fetch_weather(*PLACE, *span, **more)
        assert len(there.asked) == 3


def test_a_folder_that_takes_nothing_is_no_hindrance(tmp_path):
    (tmp_path / "cache").write_text("a file")
    path, _ = get(tmp_path, Reply(power), save=tmp_path / "mine.csv")
    assert read_weather(path).sizes["time"] == 31


def test_a_piece_that_fails_keeps_those_before(tmp_path, waited):
    days = ("2005-01-01", "2014-12-31")
    with service(Reply(power), Reply("", 503)) as there:
        with pytest.raises(FileError, match="what was downloaded before is kept"):
            fetch_weather(*PLACE, *days, cache=tmp_path, address=there.address)
        assert len(there.asked) == 4
        assert waited == [2.0, 10.0]
        assert not list(tmp_path.glob("*.csv"))
        assert len(list(tmp_path.glob("*.json"))) == 1


@pytest.mark.parametrize(
    ("fault", "waits"),
    [
        (Reply(json.dumps({"error": True, "reason": "Minutely API request limit exceeded."}), 429),
         [5.0]),
        (Reply("slow down", 429, {"retry-after": "7"}), [7.0]),
        (Reply("", 503), [2.0]),
        (Reply(power, short=200), [2.0]),
        (Reply(lambda query: power(query)[:-200]), [2.0]),
        (Reply(power, wait=0.9), [2.0]),
    ],
    ids=["rate limit", "rate limit with a time", "out of order", "half an answer",
         "half an answer that says it is whole", "timeout"],
)  # fmt: skip
def test_what_passes_is_waited_for(tmp_path, waited, fault, waits):
    path, asked = get(tmp_path, fault, Reply(power), timeout=0.5)
    assert len(asked) == 2
    assert waited == waits
    assert read_weather(path).sizes["time"] == 31


@pytest.mark.parametrize(
    ("fault", "attempts", "words"),
    [
        (Reply(json.dumps({"error": True, "reason": "Daily API request limit exceeded."}), 429), 4,
         ("asked too often", "Daily API request limit exceeded.", "other service")),
        (Reply("", 429, {"retry-after": "3600"}), 1, ("asked too often",)),
        (Reply("<html>Bad gateway</html>", 502), 3, ("out of order (status 502)", "Try again")),
        (Reply(power, short=200), 3, ("broke off half way", "Try again later")),
        (Reply(power, wait=0.9), 3, ("no answer within 0.5 s", "Try again later")),
        (Reply(json.dumps({"header": "x", "messages": ["Longitude is out of range"]}), 422), 1,
         ("refused (status 422)", "Longitude is out of range", "Check the place and the dates")),
        (Reply(json.dumps({"error": True, "reason": "Parameter 'start_date' is out of range"})), 1,
         ("refused", "Parameter 'start_date' is out of range")),
        (Reply("Service closed for the night", 200), 1,
         ("no data but text", '"Service closed for the night"')),
        (Reply("<html><title>Log in</title></html>", 200), 1,
         ("a page for browsers", "wants you to log in")),
        (Reply("", 301, {"location": "http://127.0.0.1:9/"}), 1, ("it has moved (status 301)",)),
        (Reply("{}"), 1, ("geometry.coordinates.2: field required", "may have changed")),
        (Reply("{nothing}"), 1, ("it is no JSON",)),
        (Reply(lambda q: power(q).replace('"MJ/m^2/day"', '"kW-hr/m^2/day"')), 1,
         ('ALLSKY_SFC_SW_DWN is in "kW-hr/m^2/day", not MJ/m^2/day',)),
        (Reply(lambda q: power(q).replace('"T2MDEW"', '"T2MWET"')), 1, ("T2MDEW is not in it",)),
        (Reply(lambda q: power({**q, "end": "20210330"})), 1, ("1 of 31 days are not in it",)),
        (Reply(lambda q: power(q).replace("2.25", '"wet"')), 1,
         ("properties.parameter.PRECTOTCORR", "valid number")),
        (Reply(lambda q: power(q).replace("2.25", "NaN")), 1, ("finite number",)),
        (Reply(lambda q: power(q, lambda *_: True)), 1,
         ("no temperature and rain for 51.9, 4.5", "the sign of each")),
    ],
)  # fmt: skip
def test_what_does_not_pass_is_refused(tmp_path, waited, fault, attempts, words):
    with service(fault) as there:
        with pytest.raises(FileError) as refusal:
            fetch_weather(
                *PLACE, *MARCH, cache=tmp_path / "cache", address=there.address, timeout=0.5,
                save=tmp_path / "mine.csv",
            )  # fmt: skip
        assert len(there.asked) == attempts
    text = str(refusal.value)
    assert text.startswith("NASA POWER: ")
    for word in words:
        assert word in text
    assert not (tmp_path / "mine.csv").exists()
    assert not list((tmp_path / "cache").glob("*.csv"))
    assert sum(waited) <= 120.0


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (lambda q: meteo(q).replace("dew_point_2m_mean", "dew"), "dew_point_2m_mean is not in it"),
        (lambda q: meteo(q).replace('"mm"', '"inch"'), 'precipitation_sum is in "inch", not mm'),
        (lambda q: meteo(q).replace("2.25", '"2.25 mm"'), "daily.precipitation_sum"),
        (lambda q: meteo({**q, "start_date": "2021-03-03"}), "2 of 31 days are not in it"),
        (lambda q: meteo(q).replace("2021-03-07", "2021-03-08"), "1 of 31 days are not in it"),
        (lambda q: json.dumps({"error": True, "reason": "Cannot be null"}), "Cannot be null"),
        (lambda q: meteo(q, lambda *_: True), "no temperature and rain"),
    ],
)
def test_the_other_service_is_looked_at_as_closely(tmp_path, waited, fault, words):
    with pytest.raises(FileError, match="Open-Meteo: ") as refusal:
        get(tmp_path, Reply(fault), service="open-meteo")
    assert words in str(refusal.value)
    assert not waited


def test_no_network(tmp_path, waited):
    with service(Reply("")) as gone:
        pass
    with pytest.raises(FileError) as refusal:
        fetch_weather(*PLACE, *MARCH, cache=tmp_path, address=gone.address)
    text = str(refusal.value)
    assert "127.0.0.1 can't be reached" in text
    assert "Check the connection" in text
    assert waited == [1.0]


def test_an_answer_without_end_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(fetch, "_MOST_BYTES", 1000)
    with pytest.raises(FileError, match="larger than"):
        get(tmp_path, Reply(power))


def test_days_that_are_not_there_yet_are_left_out_and_gaps_stay_empty(tmp_path):
    def missing(name, day):
        late = day.day > 28 and name in ("T2M_MAX", "T2M_MIN", "PRECTOTCORR")
        return late or (name == "ALLSKY_SFC_SW_DWN" and day.day < 5)

    path, _ = get(tmp_path, Reply(lambda query: power(query, missing)))
    lines = [line for line in path.read_text().splitlines() if line.startswith("2021")]
    assert len(lines) == 28
    assert lines[0].split(",")[5] == ""
    assert "-999" not in path.read_text()
    weather = read_weather(path)
    assert int((weather["estimated"] > 0).sum()) == 4


@pytest.mark.parametrize(
    ("given", "kind", "words"),
    [
        ((91.0, 4.5, *MARCH), RangeError, "91 degrees is out of range"),
        ((51.9, 181.0, *MARCH), RangeError, "181 degrees is out of range"),
        ((float("nan"), 4.5, *MARCH), RangeError, "not finite"),
        ((51.9, 4.5, "1970-01-01"), TimeAxisError, "NASA POWER has no weather of 1970-01-01"),
        ((51.9, 4.5, "2021-03-01", "2199-01-01"), TimeAxisError, "2199-01-01 is not over yet"),
        ((51.9, 4.5, "2021-03-01", "2021-02-01"), TimeAxisError, "after the last day"),
        ((51.9, 4.5, "March"), FieldError, '"March" is not a date'),
    ],
)
def test_what_can_not_be_asked_for(tmp_path, given, kind, words):
    with service(Reply(power)) as there:
        with pytest.raises(kind, match=words):
            fetch_weather(*given, cache=tmp_path, address=there.address)
        with pytest.raises(ChoiceError, match="open-meteo"):
            fetch_weather(*PLACE, *MARCH, service="openmeteo", address=there.address)
        assert there.asked == []
