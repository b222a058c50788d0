"""Broken files of every format: a clear error, or the right numbers; never anything else.

A change of a figure inside a number makes another good file, which nobody can tell from a
measurement; such changes are not made here. All others that people, programs and bad lines do to
files are.
"""

import random
import re

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bedtide.errors import InputError
from bedtide.weather import read_weather
from helpers import weather_files as wf

pytestmark = pytest.mark.slow
CASES_OF_EACH_FORMAT = 120


def truncate(data, pick):
    return data[: pick.randrange(len(data))]


def byte_order_mark(data, pick):
    return b"\xef\xbb\xbf" + data


def line_ends(data, pick):
    end = pick.choice([b"\r\n", b"\r", b"\n"])
    return data.replace(b"\r\n", b"\n").replace(b"\n", end)


def other_encoding(data, pick):
    text = data.decode("utf-8", errors="replace")
    return text.encode(pick.choice(["utf-16", "latin-1", "cp1252", "utf-8"]), errors="replace")


def decimal_commas(data, pick):
    return re.sub(rb"(\d)\.(\d)", rb"\1,\2", data)


def thousands(data, pick):
    mark = pick.choice([b",", b".", b" ", b"'"])
    return re.sub(rb"(\d)(\d{3})(?!\d)", rb"\1" + mark + rb"\2", data)


def second_header(data, pick):
    lines = data.split(b"\n")
    lines.insert(pick.randrange(len(lines)), lines[pick.randrange(min(8, len(lines)))])
    return b"\n".join(lines)


def twice(data, pick):
    return data + data


def repeat_a_line(data, pick):
    lines = data.split(b"\n")
    at = pick.randrange(len(lines))
    lines.insert(pick.randrange(len(lines)), lines[at])
    return b"\n".join(lines)


def lose_a_line(data, pick):
    lines = data.split(b"\n")
    del lines[pick.randrange(len(lines))]
    return b"\n".join(lines)


def shuffle(data, pick):
    lines = data.rstrip(b"\n").split(b"\n")
    at = pick.randrange(len(lines))
    rest = lines[at:]
    pick.shuffle(rest)
    return b"\n".join(lines[:at] + rest) + b"\n"


def noise_line(data, pick):
    lines = data.split(b"\n")
    noise = bytes(pick.choice(b"abcXYZ,;:#?!\"'\t |=") for _ in range(pick.randrange(1, 60)))
    lines.insert(pick.randrange(len(lines)), noise)
    return b"\n".join(lines)


def odd_bytes(data, pick):
    for _ in range(pick.randrange(1, 4)):
        at = pick.randrange(len(data))
        odd = pick.choice(b"\x00\x01\x1a\x7f\xa0\xff\"',;:\t\n\r xyz#*/")
        data = data[:at] + bytes([odd]) + data[at:]
    return data


def lose_a_byte(data, pick):
    places = [i for i, c in enumerate(data) if c not in b"0123456789.-"]
    at = pick.choice(places)
    return data[:at] + data[at + 1 :]


def swap_names(data, pick):
    """Exchange the names of two of the columns that are wanted."""
    names = re.compile(
        rb"tmax \(C\)|tmin \(C\)|rain \(mm\)|\bTMAX\b(?!_)|\bTMIN\b(?!_)|\bPRCP\b(?!_)|\bTX\b|"
        rb"\bTN\b|\bRR\b|\bTXK\b|\bTNK\b|\bRSK\b|Max Temp \(\xc2\xb0C\)|Min Temp \(\xc2\xb0C\)|"
        rb"Total Precip \(mm\)|Maximum temperature \(.C\)|Minimum temperature \(.C\)|"
        rb"Rainfall \(mm\)|DailyM\w+DryBulbTemperature|DailyPrecipitation|m\w\w_air_temp"
    )
    found = list(dict.fromkeys(names.findall(data)))
    if len(found) < 2:
        return truncate(data, pick)
    a, b = pick.sample(found, 2)
    return names.sub(lambda m: b if m.group() == a else a if m.group() == b else m.group(), data)


def rubbish(data, pick):
    return pick.randbytes(pick.randrange(1, 4000))


FAULTS = (
    truncate,
    byte_order_mark,
    line_ends,
    other_encoding,
    decimal_commas,
    thousands,
    second_header,
    twice,
    repeat_a_line,
    lose_a_line,
    shuffle,
    noise_line,
    odd_bytes,
    lose_a_byte,
    swap_names,
    rubbish,
)


def right_or_refused(paths, name):
    """Whether the files were read; fails where they were read wrongly."""
    try:
        weather = read_weather(paths, latitude=48.0, elevation=200.0)
    except InputError as error:
        text = error.text
        assert len(text) > 20
        own_words = re.sub(r'".*?"', "", text)
        for word in (" nan", "None", "Traceback", "<class", "%s", "{}", "Option("):
            assert word not in own_words, text
        assert all(c.isprintable() or c == "\n" for c in text)
        return False
    days, v = wf.truth()
    _, of_temperature, of_rain = wf.STATIONS[name]
    at = (weather["time"].values.astype("datetime64[D]") - days[0]).astype(int)
    assert at[0] >= 0
    shift = 1 if weather.attrs["rain_day"] == "to morning" else 0
    assert at[-1] + shift < len(days)
    sure = ~weather["filled"].values
    assert sure[0]  # a record begins and ends with days that were measured
    assert sure[-1]
    if any("hours of a reading: no rain" in s for s in weather.attrs["assumptions"]):
        return True  # said: the extremes of that day may be those of other hours
    for key, tolerance in (("tmax", of_temperature), ("tmin", of_temperature)):
        np.testing.assert_allclose(
            weather[key].values[sure], v[key][at[sure]], atol=tolerance, err_msg=key
        )
    np.testing.assert_allclose(
        weather["rain"].values[sure] * 1000, v["rain"][at[sure] + shift], atol=of_rain
    )
    if (~sure).any():
        assert any(s.startswith("Gaps:") for s in weather.attrs["assumptions"])
    return True


@pytest.mark.parametrize("name", wf.STATIONS)
@settings(
    max_examples=CASES_OF_EACH_FORMAT,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(fault=st.sampled_from(FAULTS), seed=st.integers(0, 2**32 - 1))
def test_a_broken_file_is_refused_or_read_right(tmp_path, name, fault, seed):
    pick = random.Random(seed)
    makers = wf.STATIONS[name][0]
    broken = pick.randrange(len(makers))
    paths = []
    for i, maker in enumerate(makers):
        data = maker()
        paths.append(tmp_path / f"part{i}.txt")
        paths[-1].write_bytes(fault(data, pick) if i == broken else data)
    right_or_refused(paths if len(paths) > 1 else paths[0], name)


@pytest.mark.parametrize("fault", [byte_order_mark, line_ends])
@pytest.mark.parametrize("name", wf.STATIONS)
def test_what_does_no_harm_is_read(tmp_path, name, fault):
    """So that the test above can't pass by refusing everything."""
    pick = random.Random(1)
    paths = []
    for i, maker in enumerate(wf.STATIONS[name][0]):
        paths.append(tmp_path / f"part{i}.txt")
        data = maker()
        if not data.startswith(b"\xef\xbb\xbf"):
            data = fault(data, pick)
        paths[-1].write_bytes(data)
    assert right_or_refused(paths if len(paths) > 1 else paths[0], name)


@pytest.mark.parametrize("kind", ["text", "bytes", "one line", "commas", "quotes"])
def test_forty_megabytes_of_noise(tmp_path, kind):
    pick = random.Random(7)
    count = 40_000_000
    if kind == "bytes":
        data = pick.randbytes(count)
    else:
        alphabet = {
            "text": b"abc def,;12.3\n",
            "one line": b"abcdef 123",
            "commas": b",,,,\n",
            "quotes": b'"\n,a',
        }[kind]
        block = bytes(pick.choice(alphabet) for _ in range(40_000))
        data = block * (count // len(block))
    path = tmp_path / "noise.csv"
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_weather(path, latitude=48.0, elevation=200.0)
    assert "noise.csv" in caught.value.text
    assert len(caught.value.text) < 2000


def test_noise_below_a_good_header(tmp_path):
    pick = random.Random(7)
    block = bytes(pick.choice(b"abc,12.3\n") for _ in range(100_000))
    path = tmp_path / "noise.csv"
    path.write_bytes(wf.plain() + block * 50)
    with pytest.raises(InputError) as caught:
        read_weather(path)
    assert len(caught.value.text) < 4000
