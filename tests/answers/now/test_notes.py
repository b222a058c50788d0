"""Notes: every form that can be told is read, mistakes are named by line, nothing is ever lost."""

import datetime
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from bedtide.answers.now.forecast import Known, walk, water_at
from bedtide.answers.now.notes import (
    Note,
    add_note,
    meaning,
    noted,
    notes_beside,
    read_notes,
    standing_of,
)
from bedtide.bed import plan_area
from bedtide.errors import InputError
from helpers.beds import bed_with
from helpers.commands import left_in
from helpers.plain_weather import plain_weather

BED = bed_with()
ADDER = (
    "import datetime, pathlib, sys; from helpers.beds import bed_with; "
    "from bedtide.answers.now.notes import add_note; bed = bed_with(); print(1, flush=True); "
    "add_note(pathlib.Path(sys.argv[1]), bed, datetime.date(2024, 6, int(sys.argv[2])), 'fill', '')"
)
FIRST, LAST = datetime.date(2024, 5, 1), datetime.date(2024, 6, 30)


def written(tmp_path, text: str, **how):
    path = tmp_path / "notes.csv"
    path.write_text(text, **{"encoding": "utf-8"} | how)
    return path


PLAIN = [(datetime.date(2024, 6, 4), "dip", "6.5 cm"), (datetime.date(2024, 6, 14), "fill", "20 L")]


@pytest.mark.parametrize(
    "text",
    [
        "date,what,value\n2024-06-04,dip,6.5 cm\n2024-06-14,fill,20 L\n",
        "2024-06-04,dip,6.5 cm\n2024-06-14,fill,20 L",
        "Date;What;Value;Unit\n04.06.2024;Dip;6.5;cm;\n14.06.2024;fill;20;L\n;;;\n",
        "when\tevent\tamount\tremark\n6/4/2024\tdip\t6.5 cm\tslug\n6/14/2024\tfill\t20 L\t\n",
        "\n# bed: plain\n\nwhat,value,date\nfill,20 L,14 Jun 2024\n\ndip,6.5 cm,4 Jun 2024\n",
    ],
)
def test_every_form_that_can_be_told_is_read(tmp_path, text):
    found = read_notes(written(tmp_path, text), BED)
    assert [(note.day, note.what, note.value) for note in found] == PLAIN


def test_a_decimal_comma_and_a_spreadsheets_utf_16(tmp_path):
    text = "date;what;value\r\n2024-06-04;dip;6,5 cm\r\n"
    found = read_notes(written(tmp_path, text, encoding="utf-16"), BED)
    assert water_at(found[0].value, BED, LAST, where="") == water_at("6.5 cm", BED, LAST, where="")


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2024-06-04,dipp,6 cm\n", ["notes.csv, line 1, what", "Closest: dip"]),
        ("2024-06-04,dip,0.4\n", ["line 1, value", '"0.4" has no unit', '"40 %"']),
        ("2024-06-04,fill,3 gal\n", ["line 1, value", "which gallon", "US gal"]),
        ("2024-06-04,dip,\n", ["notes.csv, line 1, value", "no height, volume or share"]),
        ("date,what,value\n\n2024-06-04,dip,6 kg\n", ["line 3, value", "6 cm"]),
        ("2024-06-31,dip,6 cm\n", ["line 1", "2024-06-31", "does not exist"]),
        ("4/6/2024,dip,6 cm\n", ["line 1", "can be read as day/month or month/day"]),
        ("2024-06-04,fill,6\n", ["line 1, value", "has no unit", "20 L"]),
        ("2024-06-04,fill,0 L\n", ["line 1, value", "no water"]),
        ("2024-06-04,no overflow,2 L\n", ["line 1, value", '"2 L" says nothing here']),
        ("2024-06-04,harvest,lettuce\n", ["line 1, value", "lettuce"]),
        ("2024-06-04,dip,6,5 cm\n", ["line 1, value", "6 5 cm"]),
        ("2024-06-04,dip,6,5,cm,x\n", ["line 1", "a field more"]),
        ("date,value\n2024-06-04,6 cm\n", ["line 1", "no column what"]),
        ("# bed: Wall bed\n2024-06-04,dip,6 cm\n", ["line 1", 'the notes of "Wall bed"']),
        ("date,what,value\n", ["there is no note in it"]),
        ("2024-06-04,dip,6 cm\n2024-06-05,dip,x\nsoon,dip,6 cm\n", ["line 2, value", "line 3"]),
    ],
)
def test_a_mistake_is_named_by_its_line(tmp_path, text, parts):
    with pytest.raises(InputError) as caught:
        read_notes(written(tmp_path, text), BED)
    message = caught.value.told(str)
    for part in parts:
        assert part in message


def test_the_order_of_day_and_month_can_be_said(tmp_path):
    path = written(tmp_path, "4/6/2024,dip,6 cm\n")
    assert read_notes(path, BED, order="dmy")[0].day == datetime.date(2024, 6, 4)
    assert read_notes(path, BED, order="mdy")[0].day == datetime.date(2024, 4, 6)


def test_what_notes_mean(tmp_path):
    text = (
        "2024-04-20,dip,6 cm\n2024-06-01,fill,\n2024-06-02,fill,to the lip\n2024-06-03,fill,20 L\n"
        "2024-06-04,dip,30 L\n2024-06-05,overflow seen,\n2024-06-06,top watering,5 L\n"
        "2024-06-07,harvest,\n2024-06-07,No overflow,\n2024-06-08,harvest,tomato\n"
    )
    notes = read_notes(written(tmp_path, text), BED)
    bed, known, _, before = noted(notes, BED, plain_weather("2024-05-01", 61))
    june = [datetime.date(2024, 6, day) for day in range(1, 8)]
    assert before == 1
    assert [(each.day, each.what) for each in known] == [
        (june[0], "lip"), (june[1], "lip"), (june[2], "added"), (june[3], "is"), (june[5], "is"),
        (june[5], "top"), (june[6], "dry"),
    ]  # fmt: skip
    assert [known[at].water for at in (2, 3, 5)] == pytest.approx([0.020, 0.030, 0.005])
    # An overflow that runs leaves the store full up to the lip at 9 cm.
    assert known[4].water == pytest.approx(water_at("9 cm", BED, LAST, where=""))
    assert bed.plantings[0].removed == (6, 8)
    with pytest.raises(InputError, match="line 10: 2024-06-08 is after the weather") as caught:
        noted(notes, BED, plain_weather("2024-05-01", 36))  # to 5 June
    assert "2024-06-06 at the latest" in caught.value.told(str)


def test_a_fill_that_is_told_lies_within_the_record_or_on_the_day_after_it():
    weather, how = plain_weather(str(FIRST), 61), {"level": None, "notes": None, "order": None}
    for day in (FIRST, LAST, LAST + datetime.timedelta(days=1)):
        assert standing_of(BED, weather, filled=day, **how).known == [Known(day, "lip")]
    for day in (FIRST - datetime.timedelta(days=1), LAST + datetime.timedelta(days=2)):
        with pytest.raises(InputError, match=f"{day} is outside the weather record"):
            standing_of(BED, weather, filled=day, **how)


def harvested(plantings, *days, crop="tomato"):
    """When each planting is removed, after harvests on some days told to the end of June 2024."""
    bed = bed_with({"planting": [{"area_share": "30 %"} | each for each in plantings]})
    notes = [Note(datetime.date(*day), "harvest", crop, "notes.csv, line 2") for day in days]
    found = noted(notes, bed, plain_weather("2022-05-01", 792)).bed.plantings
    return [each.removed for each in found]


YEARLY = {"crop": "tomato", "planted": "05-10"}
SPRING = {"crop": "lettuce", "planted": "03-20", "removed": "06-01"}
SUMMER = {"crop": "lettuce", "planted": "06-20", "removed": "09-15"}


@pytest.mark.parametrize(
    ("plantings", "days", "crop", "removed"),
    [
        ([YEARLY], [(2024, 6, 8)], "tomato", [(6, 8)]),
        # What was harvested last year grows again.
        ([YEARLY], [(2023, 8, 20)], "tomato", [None]),
        ([YEARLY], [(2023, 8, 20), (2024, 6, 8)], "tomato", [(6, 8)]),
        # Planted in autumn, it has not come round since.
        ([{"crop": "tomato", "planted": "10-01"}], [(2024, 3, 2)], "tomato", [(3, 2)]),
        # It comes round on the day after the record, and on the day after that.
        ([YEARLY | {"planted": "07-01"}], [(2023, 8, 20)], "tomato", [None]),
        ([YEARLY | {"planted": "07-02"}], [(2023, 8, 20)], "tomato", [(8, 20)]),
        # 29 February is not in every year.
        ([{"crop": "tomato", "planted": "10-01"}], [(2024, 2, 29)], "tomato", [(2, 28)]),
        # Of two plantings of a crop the one that was planted last before is meant.
        ([SPRING, SUMMER], [(2024, 5, 25)], "lettuce", [(5, 25), (9, 15)]),
        ([SPRING, SUMMER], [(2024, 5, 25), (2024, 6, 25)], "lettuce", [(5, 25), (6, 25)]),
        # On the day on which it is planted anew, what stood there before.
        ([SPRING, SUMMER], [(2024, 6, 20)], "lettuce", [(6, 20), (9, 15)]),
    ],
)
def test_a_harvest_clears_what_was_planted_last_before(plantings, days, crop, removed):
    assert harvested(plantings, *days, crop=crop) == removed


def test_a_harvest_of_full_dates():
    days = [datetime.date(year, 5, 10) for year in (2023, 2024)]
    plantings = [{"crop": "tomato", "planted": str(day)} for day in days]
    noted_on = datetime.date(2024, 6, 8)
    assert harvested(plantings, (2024, 6, 8)) == [None, noted_on]
    with pytest.raises(InputError, match="line 2: tomato was not yet planted on 2024-05-10"):
        harvested(plantings[1:], (2024, 5, 10))


def test_no_overflow_can_have_run_where_there_is_none(tmp_path):
    path = written(tmp_path, "2024-06-05,overflow seen,\n")
    with pytest.raises(InputError, match=r"no overflow that could have run\.\nExpected a dip"):
        read_notes(path, bed_with({"overflow.state": "none"}))


def test_an_overflow_that_is_blocked_now_ran_at_its_lip_before(tmp_path):
    blocked = bed_with({"overflow.state": "blocked"})
    notes = read_notes(written(tmp_path, "2024-06-05,overflow seen,\n"), blocked)
    known = noted(notes, blocked, plain_weather("2024-05-01", 61)).known
    assert [each.day for each in known] == [datetime.date(2024, 6, 6)]
    assert known[0].water == pytest.approx(water_at("9 cm", BED, LAST, where=""))


def test_the_litres_of_a_fill_to_the_lip_are_kept():
    day = datetime.date(2024, 6, 10)
    for value in ("45 L to the lip", "45L, To the lip"):
        note = Note(day, "fill", value, "line 1")
        assert meaning(note, BED) == Known(day, "lip", pytest.approx(0.045))
    for wrong in ("much to the lip", "0 L to the lip"):
        with pytest.raises(InputError, match="line 1"):
            meaning(Note(day, "fill", wrong, "line 1"), BED)


def test_notes_move_the_water_that_they_say():
    weather = plain_weather("2024-05-01", 61, et0_mm=0.0)
    bed = bed_with({"watering": {"when": "never"}, "start": {"level": "0 %"}, "planting": []})
    area, day = plan_area(bed), datetime.date(2024, 6, 10)

    def total(known):
        state = walk([bed], weather, known).state
        return float((state.open_water + state.mix_water + state.standing)[0]) * area

    before = total([])
    assert total([Known(day, "added", 0.010)]) == pytest.approx(before + 0.010, abs=1e-9)
    assert total([Known(day, "top", 0.010)]) == pytest.approx(before + 0.010, abs=1e-9)
    assert total([Known(day, "added", 0.5)]) < before + 0.1  # the rest runs out of the overflow
    # A reading after a fill of the same morning is the last word.
    read = [Known(day, "added", 0.01), Known(day, "is", 0.02)]
    assert total(read) == pytest.approx(total(read[1:]), abs=1e-9)


@pytest.mark.parametrize("day", [datetime.date(2024, 6, 10), LAST + datetime.timedelta(days=1)])
@pytest.mark.parametrize("state", ["open", "none", "blocked"])
def test_no_water_is_lost_that_a_store_cannot_hold(day, state):
    """Four pipes of 10 cm, 2 m long, hold 62.8 L in all; 100 L are poured in, later 30 L more."""
    weather = plain_weather("2024-05-01", 61, et0_mm=0.0)
    overflow = {"state": state} | ({} if state == "none" else {"height": "9 cm"})
    changes = {"watering": {"when": "never"}, "start": {"level": "0 %"}, "planting": []}
    bed = bed_with(changes | {"overflow": overflow})
    area = plan_area(bed)

    def water(*known):
        walked = walk([bed], weather, known)
        state = walked.state
        held = float((state.open_water + state.mix_water + state.standing)[0]) * area
        return held, float(walked.overflow.sum()) * area

    before, _ = water()
    held, ran_out = water(Known(day, "added", 0.100), Known(day, "added", 0.030))
    if state != "open":
        assert ran_out == 0.0
        assert held == pytest.approx(before + 0.130, abs=1e-9)
    elif day <= LAST:
        assert ran_out > 0.02
        assert held + ran_out == pytest.approx(before + 0.130, abs=1e-9)
    else:  # that morning it runs out, before any day that is run
        full = water_at("9 cm", bed, LAST, where="")
        assert held == pytest.approx(before + full - 0.001 * walked_open(bed, weather), abs=1e-9)
    poured_on = water(Known(day, "top", 0.010))
    assert sum(poured_on) == pytest.approx(before + 0.010, abs=1e-9)


def walked_open(bed, weather):
    """Litres of open water on the last evening where nobody ever filled."""
    return float(walk([bed], weather, []).state.open_water[0]) * plan_area(bed) * 1e3


def test_a_note_is_added_as_the_file_is_written(cli, tmp_path, bed_file):
    path = notes_beside(bed_file)
    assert cli("note", bed_file, "dip", "6cm", "--on", "2024-06-04").exit_code == 0
    assert path.read_text() == "# bed: Kitchen bed\ndate,what,value\n2024-06-04,dip,6cm\n"
    assert cli("note", bed_file, "top", "watering", "5 L", "--on", "2024-06-05").exit_code == 0
    assert path.read_text().endswith("6cm\n2024-06-05,top watering,5 L\n")
    result = cli("note", bed_file, "fill", "6", "--on", "2024-06-04")
    assert result.exit_code == 2
    assert "has no unit" in result.stderr
    result = cli("note", bed_file, "filled", "45 L")
    assert result.exit_code == 2
    assert '"filled" is not known' in result.stderr
    own = tmp_path / "own.csv"
    own.write_text("Value;Remark;What;Date\n6 cm;;dip;13.06.2024", encoding="utf-8")
    words = ["note", bed_file, "fill", "--on", "2024-06-20", "--log", own]
    result = cli(*words)  # one date alone is not taken for a sign of the order
    assert result.exit_code == 2
    assert "--date-order dmy" in result.stderr
    assert cli(*words, "--date-order", "dmy").exit_code == 0
    assert own.read_text() == "Value;Remark;What;Date\n6 cm;;dip;13.06.2024\n;;fill;2024-06-20\n"


def test_a_bad_line_lets_nothing_be_added(cli, bed_file):
    path = notes_beside(bed_file)
    text = "date,what,value\n2024-06-04,dip,6 kg\n"
    path.write_text(text, encoding="utf-8")
    before = left_in(path.parent)
    result = cli("note", bed_file, "dip", "6cm", "--on", "2024-06-05")
    assert result.exit_code == 2
    assert "bed.notes.csv, line 2, value" in result.stderr
    assert path.read_text(encoding="utf-8") == text
    assert left_in(path.parent) == before


def test_now_uses_the_notes_beside_the_bed(cli, bed_file, two_years):
    day = datetime.date(2023, 7, 10)
    add_note(notes_beside(bed_file), bed_with({"bed.name": "Kitchen bed"}), day, "dip", "10 L")
    words = ["now", bed_file, two_years, "--to", "2023-07-09", "--units", "metric"]
    result = cli(*words)
    assert result.exit_code == 0, result.stderr
    said = " ".join(result.stdout.split())
    assert "In it now: 10 L" in said
    assert "from your notes, the last of 10 July" in said
    result = cli(*words, "--level", "20 L")
    assert "In it now: 20 L" in result.stdout


def test_notes_added_at_once_are_all_kept(tmp_path):
    path = tmp_path / "bed.notes.csv"
    days = [FIRST + datetime.timedelta(days=at) for at in range(24)]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda day: add_note(path, BED, day, "dip", "6 cm"), days))
    assert [note.day for note in read_notes(path, BED)] == days
    assert os.listdir(tmp_path) == [path.name]


@pytest.mark.slow
def test_processes_that_add_notes_at_once_lose_none(tmp_path):
    path, code = tmp_path / "bed.notes.csv", ADDER.replace("print(1, flush=True)", "input()")
    children = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(path), str(day)],
            env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
            stdin=subprocess.PIPE,
        )
        for day in range(1, 9)
    ]
    for child in children:  # all have loaded what they need; now they go
        assert child.stdin is not None
        with child.stdin as said:
            said.write(b"go\n")
    assert [child.wait() for child in children] == [0] * len(children)
    assert [note.day.day for note in read_notes(path, BED)] == list(range(1, 9))


@pytest.mark.slow
def test_killed_at_any_moment_old_or_new_notes_are_there(tmp_path):
    path = tmp_path / "bed.notes.csv"
    old = "date,what,value\n" + "2024-06-04,dip,6 cm\n" * 2000
    new = old + "2024-06-05,fill,\n"
    seen = set()
    for wait in np.linspace(0.0, 0.25, 12):
        path.write_text(old, encoding="utf-8")
        child = subprocess.Popen(
            [sys.executable, "-c", ADDER, str(path), "5"],
            env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
            stdout=subprocess.PIPE,
        )
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(wait)
        child.send_signal(signal.SIGKILL)
        child.communicate()
        assert path.read_text(encoding="utf-8") in (old, new)
        seen.add(path.read_text(encoding="utf-8") == new)
    assert False in seen
