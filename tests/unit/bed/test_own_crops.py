"""Crops of the keeper's own in a description, and names that people use."""

from dataclasses import replace

import pytest

from bedtide.bed import bed_from_mapping, bed_from_text, bed_text, document_of, set_value
from bedtide.crop import Planting, crop
from bedtide.errors import ChoiceError, FieldError, InputError, RangeError, UnitError
from helpers.beds import bed_with, described

OWN = {
    "name": "balcony tomato",
    "like": "tomato",
    "kcb_mid": 0.9,
    "height": "80 cm",
    "root_depth": "16 in",
    "stages": ["20 days", "30 days", "50 days", "20 days"],
    "h3_high": "2 m",
    "h3_low": "4 m",
}


def with_own(*own, grows="balcony tomato"):
    return described({"crop": list(own), "planting.0.crop": grows})


def test_it_is_the_one_it_is_like_with_what_was_changed():
    bed = bed_from_mapping(with_own(OWN))
    found = bed.plantings[0].crop
    tomato = crop("tomato")
    assert (found.name, found.kcb_mid, found.height) == ("balcony tomato", 0.9, 0.8)
    assert found.root_depth == pytest.approx(0.4064)
    assert found.stages == (20, 30, 50, 20)
    assert (found.h3_high, found.h3_low, found.h4) == (2.0, 4.0, 80.0)
    assert (found.kcb_ini, found.kcb_end, found.p) == (tomato.kcb_ini, tomato.kcb_end, tomato.p)
    assert found.standing == "stated"
    assert bed.own_crops == (found,)


def test_one_by_the_name_of_the_table_stands_in_its_place():
    bed = bed_from_mapping(with_own({**OWN, "name": "Tomato"}, grows="tomato"))
    assert bed.plantings[0].crop.kcb_mid == 0.9
    assert crop("tomato").kcb_mid == 1.1


def test_with_a_dormant_stage_it_is_a_perennial():
    bed = bed_from_mapping(with_own({**OWN, "kcb_dormant": 0.0}))
    assert bed.plantings[0].perennial
    assert not bed_with().plantings[0].perennial


def test_one_that_nothing_grows_yet_is_checked_as_well():
    assert bed_from_mapping(described({"crop": [OWN]})).own_crops[0].name == "balcony tomato"
    with pytest.raises(ChoiceError, match=r"crop\.0\.like"):
        bed_from_mapping(described({"crop": [{**OWN, "like": "tomatto"}]}))


@pytest.mark.parametrize(
    ("changes", "kind", "words"),
    [
        ({"like": "tomatto"}, ChoiceError, ['crop.0.like = "tomatto"', '"tomato"', "list crops"]),
        ({"like": "balcony tomato"}, ChoiceError, ["crop.0.like", "not in the table of crops"]),
        ({"root_depth": "40"}, UnitError, ["crop.0.root_depth"]),
        ({"root_depth": "4 m"}, RangeError, ["crop.0.root_depth", "at most 3 m"]),
        ({"kcb_mid": 3}, RangeError, ["crop.0.kcb_mid = 3", "between 0 and 2"]),
        ({"kcb_mid": 0}, RangeError, ["crop.0.kcb_mid = 0", "more than 0"]),
        ({"height": "0 m"}, RangeError, ["crop.0.height"]),
        ({"stages": ["20 days"]}, FieldError, ["crop.0.stages", "four"]),
        ({"stages": ["100 days"] * 4}, RangeError, ["crop.0.stages", "400 days", "365"]),
        ({"h3_low": "1 m"}, RangeError, ["crop.0.h3_high", "h3_low = 1 m", "h4"]),
        ({"h4": "3 m"}, RangeError, ["crop.0.h3_high", "don't rise"]),
        ({"name": " "}, FieldError, ["crop.0.name", "empty"]),
        ({"roots": "40 cm"}, FieldError, ["crop.0.roots", "no such key", "root_depth"]),
    ],
)
def test_what_cant_be_is_told_once_with_its_key(changes, kind, words):
    with pytest.raises(InputError) as caught:
        bed_from_mapping(with_own({**OWN, **changes}), where="bed.toml")
    assert len(caught.value.errors) == (2 if "name" in changes else 1)
    assert type(caught.value.errors[0]) is kind
    for word in words:
        assert word in str(caught.value)


def test_what_is_missing_or_doubled_is_told():
    with pytest.raises(FieldError, match=r"crop\.0\.like: missing"):
        bed_from_mapping(described({"crop": [{"name": "mine"}]}))
    with pytest.raises(FieldError, match=r"crop\.1\.name"):
        bed_from_mapping(with_own(OWN, {**OWN, "name": "Balcony Tomato"}))
    with pytest.raises(FieldError, match="not a list of crops"):
        bed_from_mapping(described({"crop": OWN}))


def test_a_planting_is_offered_the_names_of_both():
    with pytest.raises(ChoiceError) as caught:
        bed_from_mapping(with_own(OWN, grows="balcony tomatoe"))
    assert '"balcony tomato"' in str(caught.value)


@pytest.mark.parametrize(("called", "name"), [("aubergine", "eggplant"), ("Arugula", "rocket")])
def test_a_crop_of_the_table_goes_by_its_other_names(called, name):
    assert bed_with({"planting.0.crop": called}).plantings[0].crop is crop(name)
    assert bed_from_mapping(with_own({**OWN, "like": called})).own_crops[0].p == crop(name).p


def test_comments_stay_when_one_of_its_numbers_is_set():
    text = bed_text(bed_from_mapping(described()))
    text += """
[[crop]]  # mine
name = "tub sage"
like = "sage"
root_depth = "30 cm"  # it gets no deeper
"""
    document = document_of(text)
    set_value(document, "crop.0.root_depth", "25 cm")
    set_value(document, "planting.0.crop", "tub sage")
    out = document.as_string()
    assert 'root_depth = "25 cm"  # it gets no deeper' in out
    assert "[[crop]]  # mine" in out
    bed = bed_from_text(out)
    assert bed.plantings[0].crop.root_depth == 0.25
    assert bed.plantings[0].perennial


@pytest.mark.parametrize("name", ["tomato", "my tomato"])
def test_one_put_together_in_python_is_written_and_read_back(name):
    own = replace(crop("tomato"), name=name, h3_high=0.5, h3_low=1.0, kcb_dormant=0.0)
    made = replace(bed_with(), plantings=(Planting(own, (5, 10), 0.6, part="left"),), source=None)
    back = bed_from_text(bed_text(made)).plantings[0]
    for key in ("name", "kcb_ini", "kcb_mid", "kcb_end", "kcb_dormant", "height", "stages"):
        assert getattr(back.crop, key) == getattr(own, key), key
    for key in ("root_depth", "h3_high", "h3_low", "h4"):
        assert getattr(back.crop, key) == pytest.approx(getattr(own, key), rel=1e-14), key
    assert (back.planted, back.area_share, back.part) == ((5, 10), 0.6, "left")
