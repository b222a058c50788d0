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
import pandas as pd
import pytest
import refet

from bedtide.errors import InputError, raise_all
from bedtide.weather import OPTIONS, read_weather
from bedtide.weather.check import drop_impossible, time_errors
from bedtide.weather.et0 import penman_monteith
from bedtide.weather.fill import fill_gaps, fill_in
from bedtide.weather.hourly import to_days
from bedtide.weather.join import level_wind
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
    "visualcrossing_csv_daily": {"units_of_file": "metric"},
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
    # stamps that end their hour, by which the expectation does not cut
    *(("dwd_poi_csv__1.csv", key) for key in NAMES if key != "rain"),
    ("ecowitt_console_csv_de__3.csv", "wind_speed"),  # a row that comes twice counts once with us
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


def rows_of(name):
    """The record as read, days or hours; skipped where it is refused."""
    options = dataclasses.replace(Options(), **said_of(name), impossible="drop",
                                  accept=("zeros", "columns", "sunshine"))  # fmt: skip
    try:
        (record,) = read_one(load(FOLDER / name), name, options)
        record.select(np.flatnonzero(~np.isnat(record.times)))
        raise_all([*record.errors, *time_errors(record)])
    except InputError as error:
        pytest.skip(error.text.splitlines()[0])
    return record


@pytest.mark.parametrize("name", sorted(filter(usable, KNOWN)))
def test_sums_and_means_of_hourly_files(name):
    """Rows put into days by pandas here: against the expectation, and against our own days."""
    record = rows_of(name)
    if record.daily:
        pytest.skip("one row a day")
    table = pd.DataFrame({key: column.values for key, column in record.columns.items()})
    times = pd.DatetimeIndex(record.times) - pd.Timedelta(seconds=int(record.ends))
    groups = table.groupby(times.floor("D"))
    if "rain_counter" in table and "rain" not in table:
        table["rain"] = table["rain_counter"]
    how = {
        "rain": groups["rain_counter"].max() if "rain_counter" in table else None,
        "tmax": groups["tmax" if "tmax" in table else "temperature"].max()
        if {"tmax", "temperature"} & set(table) else None,
        "tmin": groups["tmin" if "tmin" in table else "temperature"].min()
        if {"tmin", "temperature"} & set(table) else None,
        "rh_mean": groups["rh_mean"].mean() if "rh_mean" in table else None,
        "wind_speed": groups["wind_speed"].mean() if "wind_speed" in table else None,
    }  # fmt: skip
    per_hour = (record.times[1:] - record.times[:-1]).astype(float)
    share = float(np.median(per_hour[per_hour > 0])) / 86400.0  # of a day that a row stands for
    for key in ("rain", "sunshine", "solar_radiation"):
        if key in record.columns and how.get(key) is None:
            rate = record.columns[key].rate
            how[key] = groups[key].sum(min_count=1) * (share if rate else 1.0)
    expected, compared = expected_of(name), 0
    for key, days in how.items():
        word = NAMES[key]
        if days is None or word not in expected or (name, key) in OTHERWISE:
            continue
        days = days.dropna()
        if len(days) != expected[COUNTS[key]]:
            continue
        ours = days.sum() if key == "rain" else days.mean()
        assert ours == pytest.approx(expected[word], abs=HALF, rel=1e-5), key
        compared += 1
    whole = groups.size() == groups.size().max()
    made = to_days(dataclasses.replace(record, offset=None))
    own = pd.DataFrame({key: column.values for key, column in made.columns.items()},
                       index=pd.DatetimeIndex(made.times))  # fmt: skip
    for key in ("rain", "tmax", "tmin"):
        if how.get(key) is not None and key in own and share <= 1 / 24 + 1e-9:
            both = pd.concat([own[key], how[key]], axis=1).loc[whole[whole].index].dropna()
            np.testing.assert_allclose(both.iloc[:, 0], both.iloc[:, 1], atol=1e-6, err_msg=key)
            compared += len(both) > 0
    if not compared:
        pytest.skip("no column with the same days")


def with_et0():
    """Files that have temperature; what they say of their place, else 45 degrees and 100 m."""
    return [name for name in filter(usable, sorted(KNOWN)) if "tmax_c" in expected_of(name)]


OWN = {}  # how ET0 of a file's own compares with ours


@pytest.mark.parametrize("name", with_et0())
def test_et0_against_refet(name):
    """Within 1 % of an independent library, from the columns as they were read, day by day.

    Rain is not needed here, so files without it count too; days that lack a column are left out.
    """
    record = rows_of(name)
    record = record if record.daily else to_days(dataclasses.replace(record, offset=None))
    level_wind(record, None)
    if "tmax" not in record.columns:
        pytest.skip("no temperature is read")
    if "rain" not in record.columns:
        warm = record.columns["tmax"]
        nothing = np.zeros(len(record.times))
        record.columns["rain"] = dataclasses.replace(warm, values=nothing)
    latitude = 45.0 if record.latitude is None else record.latitude
    elevation = 100.0 if record.elevation is None else record.elevation
    try:
        daily = fill_gaps(record, max_gap_days=100_000, rain_day="midnight")
    except InputError as error:
        pytest.skip(error.text.splitlines()[0])
    whole = fill_in(daily, latitude=latitude, elevation=elevation)
    names = ("tmax", "tmin", "vapour_pressure", "wind_speed", "solar_radiation")
    needed = {name: whole.columns[name] for name in names}
    shared = {"latitude": latitude, "elevation": elevation}
    ours = 1000.0 * penman_monteith(days=daily.days, **needed, **shared)
    warm, cold, vapour, wind, sun = needed.values()
    index = pd.DatetimeIndex(daily.days)
    other = refet.Daily(
        tmin=cold, tmax=warm, ea=vapour, rs=sun, uz=wind, zw=2.0, elev=elevation, lat=latitude,
        doy=index.day_of_year.to_numpy(), method="asce", rso_type="simple",
    ).eto()  # fmt: skip
    assert ours.sum() == pytest.approx(np.maximum(other, 0.0).sum(), rel=0.01)
    assert np.abs(ours - np.maximum(other, 0.0)).max() < 0.15
    if (given := daily.columns.get("et0")) is not None and (known := ~np.isnan(given)).any():
        measured = (whole.estimated == 0) & known
        if measured.any():
            ratio = ours[measured].sum() / given[measured].sum() - 1.0
            off = np.abs(ours[measured] - given[measured]).mean()
            OWN[name] = f"{measured.sum():6d} days  {100 * ratio:+6.1f} %  {off:.2f} mm a day"


def test_et0_of_the_files_own(capsys):
    """The table of docs/weather.md; ours may lie as far from another equation as it does there."""
    with capsys.disabled():
        print()
        for name, line in OWN.items():
            print(f"{name:34s} {line}")
