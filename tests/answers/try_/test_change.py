"""From sliders to a bed: bounds, units, what is written and what stays."""

import datetime
import itertools

import pytest

from bedtide.answers.try_.change import AS_FILED, changed, checked, controls_of
from bedtide.bed import bed_from_text, crown_height, example_text, surface_height
from bedtide.errors import InputError
from page.conftest import changed as example_with

DAY = datetime.date(2024, 7, 10)


def controls_for(text, units="metric"):
    return controls_of(bed_from_text(text), units, year=2024, leave=DAY, days=14)


def moved(given, text=None, units="metric"):
    """Description after what was given was moved."""
    text = example_text() if text is None else text
    controls = controls_for(text, units)
    return changed(text, bed_from_text(text), controls, checked(controls, given), units).as_string()


def test_nothing_moved_gives_the_file_to_the_byte():
    assert moved({}) == example_text()
    controls = controls_for(example_text())
    assert moved({c.key: c.value for c in controls}) == example_text()


def test_every_comment_stays():
    given = {
        "overflow.height": "6",
        "mix depth": "30",
        "reservoir.count": "3",
        "mix.top.medium": "potting mix",
        "surface.mulch_share": "20",
        "watering.when": "every n days",
        "watering.every": "5",
        "planting.0.planted": "2024-05-15",
    }
    text = moved(given)
    for comment in (line[line.index("#") :] for line in example_text().splitlines() if "#" in line):
        assert comment in text, comment
    bed = bed_from_text(text)
    assert bed.overflow.height == pytest.approx(0.06)
    # The pipes are 4 3/4 in high, the freeboard is 1 1/2 in: 12.065 + 30 + 3.81 cm.
    assert bed.box.depth == pytest.approx(0.45875)
    assert surface_height(bed) - crown_height(bed) == pytest.approx(0.30)
    assert bed.reservoir.count == 3
    assert bed.top_mix.name == "potting mix"
    assert bed.surface.mulch_share == pytest.approx(0.2)
    assert (bed.watering.when, bed.watering.every) == ("every n days", 5)
    assert bed.plantings[0].planted == (5, 15)
    assert bed.plantings[1].planted == (4, 10)


def test_inches_are_inches():
    assert bed_from_text(moved({"overflow.height": "3"}, units="us")).overflow.height == (
        pytest.approx(0.0762)
    )


def test_crates_keep_the_mix_as_deep_as_it_was():
    text = example_with("crates")
    before, after = bed_from_text(text), bed_from_text(moved({"reservoir.height": "20"}, text))
    assert crown_height(after) == pytest.approx(0.20)
    assert after.box.depth - before.box.depth == pytest.approx(0.05)


def test_a_full_date_keeps_its_year():
    text = example_text()
    winter = text.index('[[planting]]\ncrop = "green manure"')
    text = text[:winter] + text[text.index("# A crop of your own") :]
    for day in ("05-10", "04-10", "05-20"):
        text = text.replace(f'"{day}"', f'"2027-{day}"')
    bed = bed_from_text(moved({"planting.0.planted": "2027-05-01"}, text))
    assert bed.plantings[0].planted == datetime.date(2027, 5, 1)


def test_a_removal_moves_by_itself_and_never_before_its_planting():
    text = example_text()
    winter = bed_from_text(moved({"planting.3.removed": "2024-04-20"}, text)).plantings[3]
    assert (winter.planted, winter.removed) == ((10, 10), (4, 20))
    keys = [control.key for control in controls_for(text)]
    assert "planting.3.removed" in keys
    assert "planting.0.removed" not in keys  # left out in the file: the end of its stages
    with pytest.raises(InputError, match="removed"):
        bed_from_text(moved({"planting.3.removed": "2024-10-10"}, text))


def test_a_mix_loses_the_numbers_of_the_one_before():
    text = example_text().replace(
        'medium = "peat and vermiculite"', 'medium = "peat and vermiculite"\nk_s = "1 m/d"'
    )
    assert "k_s" not in moved({"mix.wick.medium": "potting mix"}, text)


@pytest.mark.parametrize(("units", "form"), [("us", None), ("metric", "crates"), ("metric", "tub")])
def test_both_ends_of_every_slider_give_a_bed_or_a_clear_refusal(units, form):
    text = example_text() if form is None else example_with(form)
    for control in controls_for(text, units):
        if control.kind == "choice":
            ends = control.choices
        elif control.kind == "date":
            ends = (control.first, control.last)
        else:
            ends = (f"{control.low:g}", f"{control.high:g}")
            steps = (float(control.value) - control.low) / control.step
            assert steps == pytest.approx(round(steps), abs=0.03)  # the slider can stand on it
            assert control.low <= float(control.value) <= control.high
        for end in ends:
            description = moved({control.key: end}, text, units)
            try:
                bed = bed_from_text(description)
            except InputError as error:
                told = str(error)
            else:
                told = bed.name
            assert told.startswith(("bed description", "Kitchen bed")), told


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("bed.name", "x"),
        ("site.latitude", "10"),
        ("../../etc/passwd", "1"),
        ("__class__", "1"),
        ("planting.9.planted", "2024-05-10"),
        ("planting.0.removed", "2024-09-10"),
        ("planting.0.crop", "kale"),
        ("--prices", "/etc/passwd"),
        ("overflow.height", ""),
        ("overflow.height", "nan"),
        ("overflow.height", "inf"),
        ("overflow.height", "1e99"),
        ("overflow.height", "-1"),
        ("overflow.height", '5 cm"\n[evil]'),
        ("mix depth", "100000"),
        ("reservoir.count", "1.5"),
        ("reservoir.count", "1000000000"),
        ("days", "121"),
        ("mix.top.medium", "/etc/passwd"),
        ("mix.top.medium", 'peat"\nevil = "1'),
        ("watering.when", "weekdays"),
        ("leave", "2024-02-30"),
        ("leave", "20240710"),
        ("planting.0.planted", "2024-W20-1"),
        ("leave", "0001-01-01"),
        ("planting.0.planted", "2025-01-01"),
        # float() takes more than digits; what it takes must not reach the file
        *(("overflow.height", odd) for odd in ("1_0", " 9 ", "\u0669", "+9", "9e0", "0x9")),
    ],
)
def test_all_else_is_refused(key, value):
    with pytest.raises(InputError):
        moved({key: value})


def test_what_is_on_offer():
    keys = [control.key for control in controls_for(example_text())]
    assert keys == list(dict.fromkeys(keys))
    for key in ("overflow.height", "mix depth", "reservoir.count", "surface.mulch_share"):
        assert key in keys
    assert "reservoir.height" in [c.key for c in controls_for(example_with("crates"))]
    choices = next(c for c in controls_for(example_text()) if c.key == "mix.top.medium").choices
    assert choices[0] == AS_FILED
    assert "overflow.height" not in [
        c.key for c in controls_for(example_with("false floor that nothing reaches, no outlet"))
    ]


def test_plantings_of_one_crop_are_told_apart():
    text = example_text().replace('crop = "kale"', 'crop = "lettuce"')
    names = [c.name for c in controls_for(text) if c.key.endswith(".planted")]
    assert names == ["tomato", "lettuce 1", "green bean", "green manure", "lettuce 2", "spinach"]


def test_rules_go_from_each_to_each():
    for rule, other in itertools.permutations(("below share", "every n days", "never"), 2):
        text = moved({"watering.when": rule})
        assert bed_from_text(text).watering.when == rule
        assert bed_from_text(moved({"watering.when": other}, text)).watering.when == other
