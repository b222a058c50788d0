"""What the marks of a stick mean."""

import datetime
import statistics
from dataclasses import replace

import numpy as np
import pytest

from bedtide.answers.now.forecast import Days, Standing, readings_of
from bedtide.answers.now.summary import now_of
from bedtide.balance import run_many, set_store
from bedtide.bed import Watering, dead_storage, open_store
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


def test_days_are_those_to_an_empty_store_in_the_middle_year():
    """Every mark of every middle of July by itself, its evenings counted one by one."""
    weather = plain_weather("2020-01-01", 1400, et0_mm=4.0)
    wetter = weather["time"].dt.year == 2022
    weather["et0"] = weather["et0"] * (1.5 - 0.8 * wetter)  # a mild year between thirsty ones
    bed = bed_with()
    marks = readings_of(bed, weather, "metric")
    for mark in (marks[3], marks[-1]):
        found = []
        for year in (2020, 2021, 2022, 2023):
            day = datetime.date(year, 7, 15)
            eve = run_many([bed], weather, [day - datetime.timedelta(days=30)], days=30).end
            begun = set_store(eve, [bed], np.array([open_store(mark.height_cm / 100, bed)]))
            alone = replace(bed, watering=Watering(when="never"))
            run = run_many([alone], weather, [day], days=60, start=begun)
            store = run.series.open_water[:, 0] - dead_storage(bed)
            # Half a millimetre is empty.
            found.append(next(n for n in range(60) if store[n] < 0.5e-3))
        assert len(set(found)) > 1
        assert mark.days[7] == statistics.median(found)
    assert marks[-1].days[7] > marks[3].days[7] > 0
    assert all(days < 60 for days in marks[-1].days.values())


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("et0_mm", [0.0, 4.0])
def test_the_table_fits_into_sixty_columns(units, et0_mm):
    bed, weather = bed_with(), plain_weather("2022-01-01", 900, et0_mm=et0_mm)
    stick = readings_of(bed, weather, units)
    told = now_of(Standing(bed), Days(weather), stick=stick)
    text = render("answers/now/text.j2", units=units, width=60, s=told)
    assert max(map(len, text.splitlines())) <= 60
    assert f"Stick {'cm' if units == 'metric' else 'in'}" in text
    assert ("Jul" in text) == (et0_mm > 0)
    assert all(each.isprintable() for each in text.splitlines())
