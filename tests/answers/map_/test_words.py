"""The report of a map in every state, and its page: words, widths, sheets, classes by hand."""

import calendar
import dataclasses
import re

import numpy as np
import pytest
import xarray as xr

from bedtide import example_bed
from bedtide.answers.map_.layers import Ground, ground_of, path_of, sheets_of
from bedtide.answers.map_.pictures import sheet_figure
from bedtide.answers.map_.run import Done
from bedtide.answers.map_.summary import at_text, drawn_of, summary_of, unstacked
from bedtide.many import Ask, no_figures
from bedtide.report.templates import render

DAYS = 730.5


def figures_of(beds=1, rows=2, columns=3, *, leave=True, days=DAYS, cold=True, grid=True):
    """Made-up figures of a region: all that is told differs from place to place."""
    given = [dataclasses.replace(example_bed(), name=f"Bed number {at + 1}") for at in range(beds)]
    found = no_figures(given, rows * columns, leave=leave)
    rise = np.arange(rows * columns) / 10 + np.arange(beds)[:, None]
    for name in found.data_vars:
        if found[name].dims == ("bed", "place"):
            found[name][:] = 5 + rise
        elif found[name].dims == ("bed", "place", "month"):
            found[name][:] = 5 + rise[..., None] + np.arange(12)
        elif found[name].dims == ("place",) and found[name].dtype == float:
            found[name][:] = rise[0]
    found["days"][:] = days
    found["rooted_days"][:] = 300
    found["last_frost"][:] = 90 + np.arange(rows * columns) if cold else np.nan
    found["first_frost"][:] = 290 if cold else np.nan
    found["latitude"][:] = np.repeat(50.0 + np.arange(rows), columns) + (0 if grid else rise[0])
    found["longitude"][:] = np.tile(4.0 + np.arange(columns), rows)
    return found


def told(figures, units="metric", width=60, **ask):
    drawn, given = drawn_of(figures), Ask(**ask)
    summary = summary_of(
        figures, drawn, Done(3, 0), source="region.nc", ask=given, assumptions=["Something."]
    )
    return render("answers/map_/text.j2", units=units, width=width, s=summary), summary


def spoilt(figures, *places):
    """Figures in which these places are unfit."""
    for name in figures.data_vars:
        if "place" in figures[name].dims and figures[name].dtype == float:
            figures[name].loc[{"place": list(places)}] = np.nan
    figures["unfit"][list(places)] = (
        "its rain has a hole of 31 days from 2022-03-04, too long to fill"
    )
    return figures


LEAVE = {"leave": np.datetime64("2027-07-10").item()}
SPAN = {"first": np.datetime64("1991-01-01").item(), "last": np.datetime64("2020-12-31").item()}
STATES = {
    "one bed": (figures_of(), LEAVE),
    "two beds": (figures_of(2), LEAVE),
    "six beds": (figures_of(6), SPAN),
    "no leave": (figures_of(leave=False), {}),
    "one place": (figures_of(1, 1, 1), LEAVE | SPAN),
    "two beds at one place": (figures_of(2, 1, 1), {"first": SPAN["first"]}),
    "a short run": (figures_of(days=200), {"last": SPAN["last"]}),
    "no frost": (figures_of(cold=False), {}),
    "many places": (figures_of(2, 10, 10), {}),
    "some unfit": (spoilt(figures_of(2, 5, 5), *range(15)), {}),
    "all unfit": (spoilt(figures_of(), *range(6)), LEAVE),
    "never filled": (
        figures_of().assign(interval_median=figures_of()["interval_median"] * np.nan),
        {},
    ),
}


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("state", STATES)
def test_every_state_is_told_within_60_columns(state, units):
    figures, ask = STATES[state]
    text, _ = told(figures, units, **ask)
    assert max(map(len, text.splitlines())) <= 60
    assert re.search(r"\bNone\b|\bnan\b|\binf\b|[{}]|Undefined", text) is None
    pictures = sheets_of(drawn_of(figures), units)
    assert all(len(sheet.colours) == len(sheet.words) for sheet in pictures)


def test_the_answer_comes_first():
    # Middle of 5.0 to 5.5 is 5.25, told as 5; the least is at the first place.
    text, _ = told(figures_of(), width=None)
    assert text.startswith(
        "Fill Bed number 1 about every 5 days in the middle of 6 places: every 5 days at 50 N, "
        "4 E, every 6 days at 51 N, 6 E."
    )
    # One number of days everywhere is said once.
    alike = figures_of()
    alike["interval_median"][:] = 4.0
    text, _ = told(alike, width=None)
    assert text.startswith("Fill Bed number 1 about every 4 days at all of 6 places.")
    # Both lack air or water on 10 to 13 of 300 days; the first has 2.5 fills a year, the other 3.
    text, summary = told(figures_of(2), width=None)
    assert text.startswith("Bed number 1 suits 6 of 6 places, Bed number 2 suits 0.")
    assert [bed.places_suited for bed in summary.beds] == [6, 0]


def test_amounts_are_of_a_year_of_365_and_a_quarter_days():
    _, summary = told(figures_of())
    (bed,) = summary.beds
    assert bed.refills.least == pytest.approx(5 / 2)
    assert bed.refill_litres.most == pytest.approx(5500 / 2)
    area = float(figures_of()["plan_area"][0])
    assert bed.overflow_litres.least == pytest.approx(5 * area * 1000 / 2)
    assert told(figures_of(days=200))[1].beds[0].refills.least == 5
    assert bed.months[11].days_between_refills_median == pytest.approx(5.25 + 11)


def test_every_figure_of_a_bed_by_hand():
    """Two years of six places that have 5, 5.1 ... 5.5 of everything."""
    _, summary = told(figures_of(), **LEAVE)
    (bed,) = summary.beds
    for name in ("refills", "wet_days", "dry_days"):
        over = getattr(bed, name)
        assert (over.least, over.median, over.most) == pytest.approx((2.5, 2.625, 2.75)), name
        assert (over.least_at, over.most_at) == ("50 N, 4 E", "51 N, 6 E")
    for name, factor in (("rain_share_percent", 100.0), ("days_safe", 1.0)):
        assert getattr(bed, name).median == pytest.approx(5.25 * factor)
    # Of 730.5 days 0, 0.1 ... 0.5 were estimated.
    assert summary.estimated_percent["wind"] == pytest.approx(100 * 0.25 / 730.5)
    drawn = drawn_of(figures_of())
    assert drawn["wind_estimated"].to_numpy()[-1] == pytest.approx(0.5 / 730.5)
    assert drawn["gaps_estimated"].to_numpy()[-1] == pytest.approx(0.5 / 730.5)
    assert [row.wet_days for row in summary.listed][1] == pytest.approx((2.55,))
    assert (summary.listed[1].latitude, summary.listed[1].longitude) == (50.0, 5.0)
    assert (summary.period, summary.mean_years) == ("a year", pytest.approx(2.0))
    assert summary.balance_error_mm == pytest.approx(5500.0)
    assert told(figures_of(days=500))[1].period == "a year"
    assert told(figures_of(days=400))[1].period == "in all"


def test_places_that_no_bed_suits_are_told_from_those_left_out():
    figures = spoilt(figures_of(2), 0, 1)
    figures["wet_days"][:, 5] = 26.0  # with 5.5 limited ones over a tenth of 300 days with roots
    _, summary = told(figures)
    assert (summary.places_left_out, summary.places_none_suits) == (2, 1)
    assert [bed.places_failing for bed in summary.beds] == [1, 1]
    assert drawn_of(figures)["suited"].attrs["flag_values"].tolist() == [-2, -1, 0, 1]
    sheet = sheet_named(figures, "suits")
    assert sheet.words == ("Bed number 1", "Bed number 2", "none")
    assert sheet.layers[0].classes == (-1, -1, 0, 0, 0, 2)


def test_where_all_are_left_out_nothing_was_estimated_and_no_water_lost():
    _, summary = told(STATES["all unfit"][0])
    assert set(summary.estimated_percent.values()) == {0.0}
    assert (summary.balance_error_mm, summary.mean_years) == (0.0, 1.0)


@pytest.mark.parametrize(("places", "listed"), [(12, 12), (13, 0)])
def test_up_to_a_dozen_places_are_told_one_by_one(places, listed):
    assert len(told(figures_of(1, 1, places))[1].listed) == listed


def test_a_bed_that_outlasts_what_is_followed():
    figures = figures_of()
    figures["days_safe"][0, :3] = np.inf
    text, summary = told(figures, **LEAVE)
    assert summary.beds[0].days_safe.most == 60
    assert re.search(r"left on 10 July +5 +33 +over 59", text)


def test_the_difference_of_two_beds_is_place_by_place():
    _, summary = told(figures_of(2))
    assert summary.difference.refills.least == pytest.approx(0.5)  # (6 + p - 5 - p) / 2
    assert summary.difference.refills.most == pytest.approx(0.5)
    assert told(figures_of(3))[1].difference is None


def test_places_left_out_are_counted_and_named():
    text, summary = told(STATES["some unfit"][0], width=None)
    assert "Left out, 15 places:" in text
    assert "50 N, 4 E: its rain has a hole of 31 days from 2022-03-04, too long to fill" in text
    assert "3 more places; see `unfit` in map.zarr" in text
    assert summary.places_left_out == 15
    assert (summary.counted, summary.places) == (10, 25)


def test_where_a_place_lies():
    assert at_text(-33.8679, 151.2) == "33.868 S, 151.2 E"
    assert at_text(0.0, -0.5) == "0 N, 0.5 W"
    assert at_text(52.0, float("nan")) == "52 N"


def test_places_of_one_name_are_told_apart_by_where_they_lie():
    figures = figures_of(1, 1, 3)
    figures["place_name"][:] = np.array(["Mill", "Mill", "Hill"], dtype=object)
    assert [row.place for row in told(figures)[1].listed] == ["50 N, 4 E", "50 N, 5 E", "Hill"]


# --- classes and drawings -----------------------------------------------------------------------


def sheet_named(figures, name, units="metric"):
    return next(each for each in sheets_of(drawn_of(figures), units) if each.name == name)


def test_classes_by_hand():
    # Of 5.0, 5.1 ... 5.5 the fifths lie between 5.1 and 5.4, all near 5; so even steps of 0.1.
    sheet = sheet_named(figures_of(), "interval_median")
    assert sheet.words == ("under 5.1", "5.1\u20135.2", "5.2\u20135.3", "5.3\u20135.4", "5.4 up")
    figures = figures_of(1, 1, 5)
    figures["interval_median"][0] = [1, 4, 11, 30, 80]
    # The fifths of five values: 3.4, 8.2, 18.6, 40; near 3, 8, 20, 40.
    sheet = sheet_named(figures, "interval_median")
    assert sheet.words == ("under 3", "3\u20138", "8\u201320", "20\u201340", "40 up")
    assert sheet.layers[0].classes == (0, 1, 2, 3, 4)


def test_ends_of_classes_are_near_the_fifths():
    figures = figures_of(1, 1, 6)  # of six values the inner ones are the fifths
    figures["interval_median"][0] = [1, 1.21, 2.6, 7.2, 9.1, 60]
    sheet = sheet_named(figures, "interval_median")
    assert sheet.words == ("under 1.2", "1.2\u20132.5", "2.5\u20137", "7\u20139", "9 up")
    assert sheet.colours == ("air4", "air3", "air2", "air1", "air0")
    figures["interval_median"][0] = [1, 2, 2, 2, 4, 9]
    sheet = sheet_named(figures, "interval_median")
    assert sheet.words == ("under 2", "2\u20134", "4 up")
    assert sheet.colours == ("air4", "air2", "air0")  # from end to end
    figures["interval_median"][0] = [1, 5, 5, 5, 5, 9]  # one end parts nothing: even steps then
    sheet = sheet_named(figures, "interval_median")
    assert sheet.words == ("under 2", "2\u20134", "4\u20136", "6\u20138", "8 up")


def test_amounts_are_drawn_in_the_readers_units():
    figures = figures_of(1, 1, 6)
    figures["refill_volume"][0] = [2, 4, 8, 12, 16, 20]  # m3 in two years
    sheet = sheet_named(figures, "refill_volume")
    assert sheet.title == "Water poured in, L a year"
    assert sheet.words[1:4] == ("2,000\u20134,000", "4,000\u20136,000", "6,000\u20138,000")
    figures["refill_volume"][0] *= 3.785411784
    sheet = sheet_named(figures, "refill_volume", "us")
    assert sheet.title == "Water poured in, US gal a year"
    assert sheet.words[1:4] == ("2,000\u20134,000", "4,000\u20136,000", "6,000\u20138,000")
    assert sheet_named(figures, "rain_share").title == "Share that rain meets, %"
    assert sheet_named(figures, "interval_median").title == "Days between fills"
    by_month = sheet_named(figures_of(2), "median_by_month_2")
    assert by_month.title == "Bed number 2: days between fills by month"
    apart = sheet_named(figures_of(2), "wet_days_difference")
    assert apart.title == "Wet days a year: Bed number 2 less Bed number 1"
    assert sheet_named(figures_of(), "estimated").words[0] == "under 0.015"  # a fifth have 0.0137


def test_classes_of_dates_and_of_a_difference_by_hand():
    figures = figures_of(2, 1, 5)
    figures["last_frost"][:] = [60, 70, 80, 90, 105]  # 1 and 11 March ... 15 April
    sheet = sheet_named(figures, "last_frost")
    assert sheet.words == ("before 11 March", "11 March to 21 March", "21 March to 31 March",
                           "31 March to 10 April", "from 10 April")  # fmt: skip
    assert sheet.layers[0].classes == (0, 1, 2, 3, 4)
    figures["refill_count"][:] = [[0, 0, 0, 0, 0], [-100, -22, 0, 22, 40]]  # a year half of that
    sheet = sheet_named(figures, "refill_count_difference")
    assert sheet.words == (
        "under \u221230",
        "\u221230 to \u221210",
        "\u221210 to 10",
        "10 to 30",
        "30 up",
    )
    assert sheet.layers[0].classes == (0, 1, 2, 3, 3)


def test_beds_that_differ_nowhere_are_said_so_in_one_word():
    unfit = sheet_named(spoilt(figures_of(2), *range(6)), "wet_days_difference")
    assert unfit.words == ("no figure",)
    assert set(unfit.layers[0].classes) == {-1}
    figures = figures_of(2)
    figures["wet_days"][:] = 3
    same = sheet_named(figures, "wet_days_difference")
    assert (same.alike, same.colours) == ("0", ("same",))
    assert sheet_named(figures, "wet_days").colours == ("air2",)  # the middle one


def test_a_place_without_a_figure_is_blank_and_the_key_says_so():
    sheet = sheet_named(spoilt(figures_of(), 2), "interval_median")
    assert sheet.layers[0].classes[2] == -1
    assert sheet.key[-1] == ("paper", "no figure")
    assert sheet.alike == ""
    same = figures_of()
    same["wet_days"][:] = 0
    assert sheet_named(same, "wet_days").alike == "0"


def test_ground_of_a_grid_and_of_points():
    drawn = drawn_of(figures_of())
    ground = ground_of(drawn)
    # Three degrees by two about 50.5 N: a cell is a third wide and 1 / (3 cos 50.5) tall.
    assert ground.wide == pytest.approx(1 / 3)
    assert ground.tall == pytest.approx(1 / (3 * np.cos(np.radians(50.5))))
    assert ground.x[:3] == pytest.approx((1 / 6, 0.5, 5 / 6))
    assert ground.y[0] > ground.y[3]  # the north is up
    ground = ground_of(drawn_of(figures_of(1, 3, 3)))  # about 51 N
    width = 3 * np.cos(np.radians(51))  # in degrees of latitude
    assert ground.y[::3] == pytest.approx((2.5 / width, 1.5 / width, 0.5 / width))
    assert ground.height == pytest.approx(3 / width)
    assert (ground.south, ground.north) == pytest.approx((49.5, 52.5))
    assert (ground.west, ground.east) == pytest.approx((3.5, 6.5))
    assert ground_of(drawn_of(figures_of(grid=False))).wide == 0
    none = figures_of()
    none["longitude"][:] = np.nan
    assert ground_of(drawn_of(none)) is None


def test_the_path_of_a_class_joins_cells_that_touch():
    ground = Ground(x=(0.25, 0.75, 0.25, 0.75), y=(0.25, 0.25, 0.75, 0.75), wide=0.5, tall=0.5,
                    height=1.0, south=0.0, north=2.0, west=0.0, east=2.0)  # fmt: skip
    assert path_of(ground, (1, 1, 1, 0), 1, 10, 20, 100) == (
        "M10.0 20.0H110.0v50.0H10.0zM10.0 70.0H60.0v50.0H10.0z"
    )
    assert path_of(ground, (1, 1, 1, 0), 2, 10, 20, 100) == ""
    assert path_of(ground, (1, 1, 1, 0), 0, 10, 20, 100) == "M60.0 70.0H110.0v50.0H60.0z"
    row = dataclasses.replace(ground, x=(0.125, 0.375, 0.875), y=(0.5,) * 3, wide=0.25)
    assert path_of(row, (1, 1, 1), 1, 10, 20, 100) == (
        "M10.0 45.0H60.0v50.0H10.0zM85.0 45.0H110.0v50.0H85.0z"  # a gap parts them
    )


def test_the_path_of_points_is_circles_about_them():
    nan = float("nan")
    ground = Ground(x=(0.25, 0.5, nan), y=(0.5, 0.75, nan), wide=0.0, tall=0.0,
                    height=1.0, south=0.0, north=2.0, west=0.0, east=2.0)  # fmt: skip
    circle = "a4 4 0 1 0 8 0a4 4 0 1 0-8 0"  # of 4 about its middle, from its left end
    assert path_of(ground, (1, 0, 1), 1, 10, 20, 100) == f"M31.0 70.0{circle}"
    assert path_of(ground, (1, 0, 1), 0, 10, 20, 100) == f"M56.0 95.0{circle}"


def test_cells_stand_where_the_figures_of_a_grid_do():
    drawn = drawn_of(figures_of(2))
    grid = unstacked(drawn)
    assert float(grid["refill_volume"].sel(latitude=51, longitude=5)[1]) == float(
        drawn["refill_volume"][1, 4]
    )
    assert unstacked(drawn_of(figures_of(grid=False))).sizes["place"] == 6


@pytest.mark.parametrize("grid", [True, False])
def test_names_on_a_picture_do_not_overprint(grid):
    figures = figures_of(2, grid=grid)
    figures["place_name"][:] = np.array(
        ["Ash", "Beech", "Cedar", "A long name of a mill", "Elm", "Fir"], object
    )
    drawn = drawn_of(figures)
    sheet = sheets_of(drawn, "metric")[0]
    figure = sheet_figure(sheet, ground_of(drawn), list(figures["place_name"].to_numpy()))
    figure.draw_without_rendering()
    texts = [text for text in figure.axes[0].texts if text.get_text()]
    assert bool(texts) is not grid
    boxes = [text.get_window_extent() for text in texts]
    for at, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[:at])


def test_a_picture_has_a_map_for_each_month_and_a_key():
    drawn = drawn_of(figures_of())
    sheet = sheet_named(figures_of(), "median_by_month")
    figure = sheet_figure(sheet, ground_of(drawn))
    texts = [text.get_text() for text in figure.axes[0].texts]
    assert texts == [*calendar.month_abbr][1:]
    assert [text.get_text() for text in figure.legends[0].get_texts()] == list(sheet.words)


def test_the_netcdf_of_a_map_has_units(tmp_path):
    from bedtide.files import write_netcdf

    write_netcdf(tmp_path / "map.nc", unstacked(drawn_of(figures_of(2))))
    with xr.open_dataset(tmp_path / "map.nc") as found:
        assert found["wet_days"].attrs["units"] == "d year-1"
        assert found["refill_count"].attrs["units"] == "year-1"
        assert found["overflow"].attrs["units"] == "m3 year-1"
        assert (
            found["suited"].attrs["flag_meanings"] == "unfit_weather none Bed_number_1 Bed_number_2"
        )


def test_two_stations_at_one_place_make_no_grid_of_four():
    figures = figures_of(1, 2, 2)
    figures["latitude"][:], figures["longitude"][:] = [50, 50, 50, 51], [4, 4, 5, 5]
    for unknown in (0, 1):  # and where one is not known
        figures["latitude"][:unknown] = np.nan
        drawn = drawn_of(figures)
        assert unstacked(drawn).sizes["place"] == 4
        assert ground_of(drawn).wide == 0
