"""What was measured on a day, what stands in for what was not, and how both are told."""

import datetime

import numpy as np
import pytest

from bedtide.errors import InputError, Option
from bedtide.weather import read_weather
from bedtide.weather.et0 import clear_sky_radiation, extraterrestrial_radiation, saturation_pressure
from bedtide.weather.fill import DailyColumns, fill_in

PLACE = {"latitude": 48.0, "elevation": 200.0}
DAYS = np.arange(np.datetime64("2021-05-01"), np.datetime64("2021-05-05"))


def daily(**columns):
    full = {"tmax": [20.0, 22.0, 24.0, 40.0], "tmin": [10.0, 12.0, 14.0, 1.0], **columns}
    arrays = {key: np.array(values, dtype=float) for key, values in full.items()}
    return DailyColumns(DAYS, arrays, np.zeros(4, dtype=bool), np.zeros(4, dtype=np.int8))


def test_what_was_measured_is_flagged_day_by_day(table):
    def change(rows):
        rows[4][2] = ""  # one temperature is not both
        rows[5][4] = ""
        return [[*row, "60", "" if i == 6 else "5"] for i, row in enumerate(rows)]

    header = "date,tmax (C),tmin (C),rain (mm),wind at 2 m (m/s),RHmax (%),RHmin (%)"
    flag = read_weather(table(change, header=header))["measured"]
    assert flag.attrs["flag_meanings"] == "temperature rain humidity wind radiation"
    assert flag.attrs["flag_masks"].tolist() == [1, 2, 4, 8, 16]
    assert flag.values.tolist() == [15, 15, 15, 15, 14, 7, 15, 15, 15, 15]


def test_nothing_measured_takes_all_stand_ins():
    whole = fill_in(daily(), **PLACE)
    np.testing.assert_allclose(
        whole.columns["vapour_pressure"], saturation_pressure([10, 12, 14, 1])
    )
    np.testing.assert_array_equal(whole.columns["wind_speed"], 2.0)
    above = extraterrestrial_radiation(DAYS, 48.0)
    guess = 0.16 * np.sqrt([10, 10, 10, 39]) * above
    assert guess[3] > clear_sky_radiation(above, 200.0)[3]  # so the cap is tried
    np.testing.assert_allclose(
        whole.columns["solar_radiation"], np.minimum(guess, clear_sky_radiation(above, 200.0))
    )
    assert whole.estimated.tolist() == [3, 3, 3, 3]
    ratio = saturation_pressure([10, 12, 14, 1]) / saturation_pressure([20, 22, 24, 40])
    np.testing.assert_allclose(whole.columns["rh_min"], 100 * ratio)
    assert whole.sentences == [
        "Humidity: the dew point was taken as the lowest temperature on every day.",
        "Wind: 2 m/s was assumed on every day.",
        "Solar radiation: estimated from the day's range of temperature on every day (away from "
        "the coast).",
    ]


def test_what_is_measured_stays_and_the_rest_is_counted():
    whole = fill_in(
        daily(
            dew_point=[8.0, np.nan, np.nan, np.nan],
            rh_mean=[np.nan, 70.0, np.nan, np.nan],
            rh_min=[np.nan, np.nan, np.nan, 20.0],
            wind_speed=[1.0, np.nan, 3.0, 0.0],
            solar_radiation=[15.0, np.nan, np.nan, np.nan],
            sunshine=[9.0, 7.0, np.nan, np.nan],
        ),
        **PLACE,
        setting="coast",
    )
    assert whole.estimated.tolist() == [0, 1, 2, 1]
    assert whole.columns["wind_speed"].tolist() == [1.0, 2.0, 3.0, 0.0]
    assert whole.columns["solar_radiation"][0] == 15.0
    both = saturation_pressure([22.0, 12.0]).mean()
    expected = [saturation_pressure(8.0), 0.7 * both, saturation_pressure(14.0)]
    np.testing.assert_allclose(whole.columns["vapour_pressure"][:3], expected)
    assert whole.columns["vapour_pressure"][3] == pytest.approx(0.2 * saturation_pressure(40.0))
    assert whole.columns["rh_min"][3] == 20.0
    assert whole.sentences == [
        "Humidity: the dew point was taken as the lowest temperature on 1 of 4 days.",
        "Wind: 2 m/s was assumed on 1 of 4 days.",
        "Solar radiation: worked out from hours of sunshine on 1 of 4 days.",
        "Solar radiation: estimated from the day's range of temperature on 2 of 4 days (near a "
        "coast).",
    ]


def test_air_holds_no_more_than_it_can():
    most = (saturation_pressure([20, 22, 24, 40]) + saturation_pressure([10, 12, 14, 1])) / 2
    whole = fill_in(daily(vapour_pressure=most * [1.006, 1.004, 0.5, 1.0]), **PLACE)
    np.testing.assert_allclose(whole.columns["vapour_pressure"], most * [1.0, 1.0, 0.5, 1.0])
    told = "Humidity: more than the air can hold, taken as saturated, on 1 of 4 days."
    assert whole.sentences[0] == told
    assert (whole.columns["rh_min"] <= 100.0).all()


def test_fog_all_day_is_wholly_damp():
    """Where no day is warmer than its night and the air is saturated, so it is at its driest."""
    fog = daily(tmax=[7.0] * 4, tmin=[7.0] * 4, rh_mean=[100.0] * 4)
    assert fill_in(fog, **PLACE).columns["rh_min"] == pytest.approx([100.0] * 4)


def test_short_gaps_are_straight_lines_but_in_ready_made_et0(table):
    """Wind of 1 and 4 m/s, two days between; ET0 of one day is missing as well."""

    def change(rows):
        wind, et0 = ["1.0", "", "", "4.0"], ["", "3.0", "3.0", "3.0"]
        return [[*row[:4], wind[at], et0[at]] for at, row in enumerate(rows)]

    header = "date,tmax (C),tmin (C),rain (mm),wind at 2 m (m/s),ET0 (mm)"
    record = read_weather(table(change, days=4, header=header))
    assert record["wind_speed"].values == pytest.approx([1.0, 2.0, 3.0, 4.0])
    assert record["filled"].values.tolist() == [False, True, True, False]
    assert record.attrs["et0_given_days"] == 3
    told = "Gaps: wind filled from the days on either side on 2 of 4 days."
    assert told in record.attrs["assumptions"]
    assert not any("ET0" in said for said in record.attrs["assumptions"])


def gaps(count):
    """Change rows so that of every six days but the first the last four have no rain."""

    def change(rows):
        for at in range(6, 6 * count + 6):
            rows[at][3] = rows[at][3] if at % 6 < 2 else ""

    return change


@pytest.mark.parametrize("count", [2, 11])
def test_long_gaps_are_refused_each_with_its_line_and_the_way_out_once(table, count):
    """With the last of them, or with the first where not all are told; the header is line 3."""
    with pytest.raises(InputError) as refusal:
        read_weather(table(gaps(count), days=6 * count + 20))
    errors = refusal.value.errors
    assert len(errors) == count
    assert errors[0].where == "garden.csv, after line 11"
    assert errors[0].problem == "rain missing from 2021-05-09 to 2021-05-12 (4 days)"
    assert errors[1].where == "garden.csv, after line 17"
    (hint,) = [error.hint for error in errors if error.hint]
    assert hint is errors[0 if count > 10 else -1].hint
    options = {part.name: part.value for part in hint.parts if isinstance(part, Option)}
    # fourteen days after the gaps
    last = datetime.date(2021, 5, 1) + datetime.timedelta(days=6 * count + 19)
    assert options["start"] == str(last - datetime.timedelta(days=13))
    assert options["end"] == str(last)


def test_a_part_before_all_gaps_may_be_the_longest(table):
    def change(rows):
        for at in range(20, 25):
            rows[at][3] = ""

    with pytest.raises(InputError) as refusal:
        read_weather(table(change, days=40))
    options = [part.value for part in refusal.value.hint.parts if isinstance(part, Option)]
    assert options[:2] == ["2021-05-01", "2021-05-20"]


def test_days_at_the_ends_that_lack_something_are_cut_off_and_counted(table):
    def change(rows):
        rows[0][3], rows[1][1], rows[-1][2] = "", "", ""

    record = read_weather(table(change))
    assert record["time"].values[[0, -1]].astype("M8[D]").astype(str).tolist() == [
        "2021-05-03",
        "2021-05-09",
    ]
    told = [said for said in record.attrs["assumptions"] if "at the ends" in said]
    assert told == [
        "3 days at the ends of the record lack temperature or rain; it is used from 2021-05-03 to "
        "2021-05-09."
    ]
    whole = read_weather(table())
    assert not any("at the ends" in said for said in whole.attrs["assumptions"])


def test_a_gap_is_as_long_as_that_of_one_column(table):
    """Two days without rain, the next two without a temperature: no gap is longer than two."""

    def change(rows):
        for at in (3, 4):
            rows[at][3], rows[at + 2][1] = "", ""

    record = read_weather(table(change), max_gap_days=2)
    assert record["filled"].values.nonzero()[0].tolist() == [3, 4, 5, 6]
    with pytest.raises(InputError, match=r"missing from 2021-05-04 to 2021-05-07 \(4 days\)"):
        read_weather(table(change), max_gap_days=1)


def test_a_record_without_one_whole_day_says_what_its_days_have(table, write):
    def change(rows):
        for at, row in enumerate(rows):
            row[1 if at < 6 else 3] = ""

    with pytest.raises(InputError) as refusal:
        read_weather(table(change))
    assert refusal.value.problem == "no day has both temperatures and rain"
    told = "highest temperature 4, lowest temperature 10, rain 6"
    assert str(refusal.value.hint) == f"Days that have each: {told}"
    place = "# latitude: 48\n# elevation: 0\n"
    path = write(place + "date,ET0 (mm),rain (mm)\n2021-05-01,3,\n2021-05-02,,0\n", "et0.csv")
    with pytest.raises(InputError, match="no day has both ET0 and rain"):
        read_weather(path)


def test_twelve_columns_that_are_not_understood_are_named(write):
    odd = [f"odd{at}" for at in range(14)]
    head = ",".join(["date", "tmax (C)", "rain (mm)", *odd])
    body = [f"2021-05-{day:02},20,0{',1' * 14}" for day in range(1, 11)]
    with pytest.raises(InputError) as refusal:
        read_weather(write(["# latitude: 48", "# elevation: 0", head, *body]))
    assert f"not understood: {', '.join(odd[:12])}. Say which it is with" in str(refusal.value)
    path = write(["# latitude: 48", "# elevation: 0", "date,tmax (C),rain (mm)", "2021-05-01,20,0"])
    with pytest.raises(InputError, match=r"\(rain\). Take it from another file with  borrow"):
        read_weather(path)
