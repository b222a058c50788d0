"""What the marks of a stick mean."""

import pytest

from bedtide import run_season
from bedtide.answers.now.stick import readings_of
from bedtide.answers.now.summary import now_of
from bedtide.bed import plan_area
from bedtide.report.templates import render
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather


def test_litres_of_a_layer_by_hand():
    # 2 m by 60 cm are 12 L in each centimetre, less a tenth of legs with mix, less a tenth of
    # plastic: 12 x 0.9 x 0.9 = 9.72 L; the lip at 9 cm.
    marks = readings_of(layered("crates"), plain_weather("2022-01-01", 800), "metric")
    assert [mark.height_cm for mark in marks] == pytest.approx(list(range(1, 10)))
    assert [mark.litres for mark in marks] == pytest.approx([9.72 * n for n in range(1, 10)])
    inches = readings_of(layered("crates"), plain_weather("2022-01-01", 800), "us")
    assert [mark.height_cm for mark in inches[:2]] == pytest.approx([1.27, 2.54])
    assert inches[-1].height_cm == pytest.approx(9.0)


def test_days_are_the_usable_water_over_the_mean_use_of_a_month():
    bed, weather = bed_with(), plain_weather("2022-01-01", 900, et0_mm=4.0)
    whole = run_season(bed, weather)
    use = whole["rise"].groupby("time.month").mean() * plan_area(bed) * 1000  # L a day
    marks = readings_of(bed, weather, "metric")
    assert 7 in marks[-1].days
    for mark in marks:
        for month, days in mark.days.items():
            wanted = mark.usable_litres / float(use.sel(month=month))
            assert days == pytest.approx(wanted, abs=1e-9)
    full = marks[-1].usable_litres
    left_out = set(range(1, 13)) - set(marks[-1].days)
    assert all(full / float(use.sel(month=m)) >= 60 or use.sel(month=m) <= 0 for m in left_out)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("et0_mm", [0.0, 4.0])
def test_the_table_fits_into_sixty_columns(units, et0_mm):
    bed, weather = bed_with(), plain_weather("2022-01-01", 900, et0_mm=et0_mm)
    stick = readings_of(bed, weather, units)
    told = now_of(bed, weather, None, [], known_from="record", stick=stick)
    text = render("answers/now/text.j2", units=units, width=60, s=told)
    assert max(map(len, text.splitlines())) <= 60
    assert f"Stick {'cm' if units == 'metric' else 'in'}" in text
    assert ("Jul" in text) == (et0_mm > 0)
    assert all(each.isprintable() for each in text.splitlines())
