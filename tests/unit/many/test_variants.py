"""Keys varied over values: how the values are parted, which beds come out, what is refused."""

import pytest

from bedtide.bed import bed_text
from bedtide.errors import ChoiceError, FieldError, InputError, RangeError, SeveralErrors
from bedtide.many import parse_choices, varied_beds
from bedtide.many.variants import letters
from helpers.beds import PLAIN


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("box.depth=25cm,32cm,42cm", ["25cm", "32cm", "42cm"]),
        ("box.depth = 16 1/2 in, 18 in", ["16 1/2 in", "18 in"]),
        ('box.depth=16 1/2",18"', ['16 1/2"', '18"']),
        ("box.depth=1' 4\",1' 6\"", ["1' 4\"", "1' 6\""]),
        ("box.depth=25,5 cm;32 cm", ["25,5 cm", "32 cm"]),
        ("reservoir.count=3,4", ["3", "4"]),
        ("surface.open_to_rain=0,50 %,1", ["0", "50 %", "1"]),
        ("planting.0.area_share=40%,60%", ["40%", "60%"]),
        ("box.depth=25cm,25cm,32cm", ["25cm", "32cm"]),
        ('watering.weekdays=["mon","thu"],["mon"]', [["mon", "thu"], ["mon"]]),
        ("watering.weekdays=mon+thu,mon", ["mon+thu", "mon"]),
        ("mix.top.medium=peat,pine bark fine", ["peat", "pine bark fine"]),
        ("planting.0.planted=04-10,05-10", ["04-10", "05-10"]),
        ("overflow.state=open", ["open"]),
    ],
)
def test_values_are_parted_as_people_mean_them(text, values):
    assert list(parse_choices([text]).values()) == [values]


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        (["box.depth"], '"box.depth" is not a key with values'),
        (["box.depth="], "is not a key with values"),
        (["=25cm"], "is not a key with values"),
        (["box.depth=25cm,,32cm"], "is not a key with values"),
        (["box.depth=25,32cm"], '"25" has no unit'),
        (["box.depth=25,5cm"], "put a semicolon between them"),
        (["box.depth=25cm", "box.depth=32cm"], "given twice"),
        (['watering.weekdays=["mon'], "can't be read"),
    ],
)
def test_what_is_no_list_of_values_is_refused(texts, message):
    with pytest.raises(FieldError) as found:
        parse_choices(texts)
    assert message in str(found.value)


def test_all_that_is_wrong_is_said_at_once():
    with pytest.raises(SeveralErrors) as found:
        parse_choices(["box.depth", "overflow.height="])
    assert len(found.value.errors) == 2


def test_all_combinations_the_last_key_fastest():
    found = varied_beds(PLAIN, {"box.depth": ["32cm", "42 cm"], "overflow.height": ["6cm", "8cm"]})
    assert [(bed.bed.box.depth, bed.bed.overflow.height) for bed in found] == [
        (0.32, 0.06),
        (0.32, 0.08),
        (0.42, 0.06),
        (0.42, 0.08),
    ]
    assert found[0].label == "box depth 32 cm, overflow height 6 cm"
    assert dict(found[3].settings) == {
        "box.depth": "box depth 42 cm",
        "overflow.height": "overflow height 8 cm",
    }
    assert 'depth = "32cm"' in bed_text(found[0].bed)


def test_without_keys_it_is_the_bed_itself_under_its_name():
    (only,) = varied_beds(PLAIN, {})
    assert only.label == "plain"
    assert only.bed.box.depth == 0.42


def test_letters_run_on_after_z():
    assert [letters(n) for n in (0, 25, 26, 51, 52, 701, 702)] == [
        *("A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"),
    ]


@pytest.mark.parametrize(
    ("choices", "kind", "message"),
    [
        ({"box.dept": ["25 cm"]}, FieldError, "Closest: box.depth"),
        ({"box.depth": ["-25 cm"]}, RangeError, "negative"),
        ({"box.depth": ["2500 m"]}, RangeError, "too large"),
        ({"box.depth": ["25"]}, InputError, "no unit"),
        ({"mix.top.medium": ["peet"]}, ChoiceError, "peat"),
        ({"overflow.height": ["6 cm", "1 m"]}, RangeError, "above the rim"),
        ({"overflow.height": ["6 cm"], "overflow.centre": ["9 cm"]}, FieldError, "in two ways"),
        ({"planting.3.crop": ["tomato"]}, FieldError, "planting.0.crop"),
    ],
)
def test_what_is_no_bed_is_one_clear_message(choices, kind, message):
    with pytest.raises(kind) as found:
        varied_beds(PLAIN, choices, where="bed.toml")
    assert message in str(found.value)
    assert "None" not in str(found.value)


def test_a_fault_of_many_combinations_is_told_once_with_the_combination():
    choices = {"box.depth": ["10 cm"], "surface.open_to_rain": ["0", "0.5", "1"]}
    with pytest.raises(InputError) as found:
        varied_beds(PLAIN, choices, where="bed.toml")
    text = str(found.value)
    assert "bed.toml with box.depth = 10 cm, surface.open_to_rain = 0" in text
    assert text.count("reaches the mix surface at 7 cm") == 1


def test_a_key_that_is_varied_alone_is_named_once():
    with pytest.raises(InputError) as found:
        varied_beds(PLAIN, {"box.depth": ["-25 cm"]}, where="bed.toml")
    assert str(found.value).count("box.depth") == 1


def test_faults_of_several_combinations_are_told_together():
    with pytest.raises(SeveralErrors) as found:
        varied_beds(PLAIN, {"box.depth": ["10 cm", "42 cm"], "overflow.height": ["6 cm", "1 m"]})
    text = str(found.value)
    assert "reaches the mix surface at 7 cm" in text
    assert "box.depth = 42 cm, overflow.height = 1 m" in text


def test_too_many_beds_are_refused_before_any_is_made():
    choices = {"box.depth": [f"{n} mm" for n in range(300, 501)]}
    with pytest.raises(RangeError, match="that makes 201 beds") as found:
        varied_beds(PLAIN, choices)
    assert "at most 200" in str(found.value)
