"""Real files of many services, unedited, against sums and means worked out by pandas alone.

They may not be kept here. Where a folder of them is at hand, named by BEDTIDE_WEATHER_FILES, with
`expected.json` beside it (of each file the sum of rain and the means of the other columns over the
days that have them), this reads them all; else it is skipped. `pytest -s` prints the score.
"""

import dataclasses
import json
import os
from pathlib import Path

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import OPTIONS, read_weather
from bedtide.weather.check import drop_impossible
from bedtide.weather.options import Options
from bedtide.weather.read import read_one
from bedtide.weather.text import load

FOLDER = Path(os.environ.get("BEDTIDE_WEATHER_FILES", "."))
EXPECTED = FOLDER.parent / "expected.json"
pytestmark = pytest.mark.skipif(
    "BEDTIDE_WEATHER_FILES" not in os.environ, reason="BEDTIDE_WEATHER_FILES names no folder"
)
KNOWN = json.loads(EXPECTED.read_text("utf-8")) if EXPECTED.is_file() else {}

# what a person must say of a file, by how its name begins; days are cut as the expectation cuts
# them, by universal time where the file is in it
SAID = {
    "dwd_poi": {"time_zone": "UTC"},
    "inmet": {"time_zone": "UTC"},
    "isd": {"time_zone": "UTC"},
    "knmi_uur": {"time_zone": "UTC"},
    "meteofrance_hourly": {"time_zone": "UTC"},
    "noaa_lcd": {"time_zone": "UTC"},
    "dwd_kl_daily_txt__2": {"start": "2005-12-01"},
    "wu_history_csv_semicolon": {"start": "2012-04-10"},
    "noaa_cdo_csv": {"units_of_file": "standard"},
    "iem_asos_via": {"station": "EWR"},
    "openmeteo_json": {
        "time_zone": "UTC",
        "columns": {"temperature2m": "temperature, F", "precipitation": "rain, in",
                    "relativeHumidity2m": "rh_mean, %", "windSpeed10m": "ignore"},
    },
}  # fmt: skip
NAMES = {"rain": "rain_mm", "tmax": "tmax_c", "tmin": "tmin_c", "rh_mean": "rh_pct",
         "wind_speed": "wind_ms", "solar_radiation": "rad_mj", "sunshine": "sun_h"}  # fmt: skip
COUNTS = {"rain": "n_rain", "tmax": "n_tmax", "tmin": "n_tmin", "rh_mean": "n_rh",
          "wind_speed": "n_wind", "solar_radiation": "n_rad", "sunshine": "n_sun"}  # fmt: skip
HALF = 0.5e-4 + 1e-9  # of the last printed digit
# known and wanted differences: the expectation keeps what the service itself doubts, takes tmin of
# hourly lows, counts a trace otherwise, or divides by days where columns differ
OTHERWISE = {
    ("ghcnd_dly__2.dly", "rain"), ("ghcnd_dly__2.dly", "tmax"), ("ghcnd_dly__2.dly", "tmin"),
}  # fmt: skip


def said_of(name):
    best = max((start for start in SAID if name.startswith(start)), key=len, default="")
    return SAID.get(best, {})


def expected_of(name):
    one = KNOWN[name]
    return one["stations"]["EWR"] if "EWR" in one.get("stations", {}) else one


def usable(name):
    one = KNOWN[name]
    return not (one.get("monthly") or one.get("typical_year") or "error" in one)


@pytest.mark.parametrize("name", sorted(filter(usable, KNOWN)))
def test_sums_and_means_of_daily_files(name):
    """To the digit that the expectation prints, where each value is a day's own."""
    options = dataclasses.replace(Options(), **said_of(name), impossible="drop",
                                  accept=("zeros", "columns", "sunshine"))  # fmt: skip
    try:
        (record,) = read_one(load(FOLDER / name), name, options)
        if not record.daily:
            pytest.skip("rows of hours: days that are not whole are counted otherwise")
        record.ends = False
        drop_impossible(record)
    except InputError as error:
        pytest.skip(error.text.splitlines()[0])
    expected = expected_of(name)
    compared = 0
    for key, word in NAMES.items():
        column = record.columns.get(key)
        if column is None or word not in expected or (name, key) in OTHERWISE:
            continue
        values = column.values[~np.isnan(column.values)]
        if len(values) != expected[COUNTS[key]]:
            continue  # doubtful days left out by us, or totals of several days shared out
        ours = values.sum() if key == "rain" else values.mean()
        assert ours == pytest.approx(expected[word], abs=HALF), key
        compared += 1
    if not compared:
        pytest.skip("no column with the same days")


@pytest.mark.parametrize("name", sorted(KNOWN))
def test_read_or_refused_in_words(name):
    refused = ""
    try:
        read_weather(FOLDER / name, latitude=45.0, elevation=100.0, **said_of(name))
    except InputError as error:
        refused = error.text
    assert usable(name) or refused, "a file of months or of a typical year must be refused"
    assert not refused or name in refused


def test_how_many_can_be_used(capsys):
    """The score: of the files with temperature and rain, by how much must be said of them."""
    place = {"latitude": 45.0, "elevation": 100.0}
    score: dict[str, list[str]] = {}
    for name in filter(usable, sorted(KNOWN)):
        expected = expected_of(name)
        if "rain_mm" not in expected or not {"tmax_c", "tmean_c"} & set(expected):
            continue
        more = {**place, **said_of(name)}
        some = {**more, "impossible": "drop", "max_gap_days": OPTIONS["max_gap_days"].bounds[1],
                "accept": ["zeros", "columns", "sunshine"]}  # fmt: skip
        for how, options in {"no option": {}, "place": place, "more": more, "some": some}.items():
            try:
                read_weather(FOLDER / name, **options)
            except InputError:
                continue
            score.setdefault(how, []).append(name)
            break
        else:
            score.setdefault("not at all", []).append(name)
    with capsys.disabled():
        print()
        for how, names in score.items():
            print(f"{how:12s} {len(names):3d}  {', '.join(names)[:300]}")
    total = sum(map(len, score.values()))
    assert len(score["no option"]) + len(score["place"]) > total / 2
