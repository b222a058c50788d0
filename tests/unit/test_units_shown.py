"""Lengths as people write them, and the units that a bed file is written in."""

import pytest

from bedtide.bed import example_text
from bedtide.units import (
    depth_text,
    length_text,
    mass_text,
    sawn_text,
    trimmed,
    volume_text,
    written_in,
)


@pytest.mark.parametrize(
    ("inches", "text"),
    [(4.75, "4 3/4 in"), (16.5, "16 1/2 in"), (3, "3 in"), (0.5, "1/2 in"), (4.77, "4.8 in")],
)
def test_a_fraction_of_an_inch_is_told_as_it_was_written(inches, text):
    assert length_text(inches * 0.0254, "us") == text


@pytest.mark.parametrize(
    ("metres", "text"),
    [
        (0.42449, "42.4 cm"), (0.4, "40 cm"), (0.999, "99.9 cm"), (1.0, "1 m"), (1.5, "1.5 m"),
        (12.345, "12.35 m"), (-1.5, "-1.5 m"),
    ],
)  # fmt: skip
def test_a_length_is_in_centimetres_up_to_a_metre(metres, text):
    assert length_text(metres) == text


@pytest.mark.parametrize(
    ("litres", "metric", "us"),
    [
        (9.94, "9.9 L", "2.6 US gal"),
        (12.4, "12 L", "3.3 US gal"),  # a gallon is 3.785411784 L
        (120.0, "120 L", "32 US gal"),
        (4096.0, "4,096 L", "1,082 US gal"),
    ],
)
def test_a_volume_has_tenths_up_to_ten(litres, metric, us):
    assert volume_text(litres / 1000) == metric
    assert volume_text(litres / 1000, "us") == us


@pytest.mark.parametrize(
    ("metres", "metric", "us"),
    [
        (0.1205, "120.5 mm", "4 3/4 in"),  # 4.744 in, and 3/4 is 12/16
        (2.4, "2400 mm", "94 1/2 in"),  # 94.488 in
        (0.0, "0 mm", "0 in"),
        (-0.0127, "-12.7 mm", "-1/2 in"),
    ],
)
def test_a_length_to_saw_by(metres, metric, us):
    assert sawn_text(metres) == metric
    assert sawn_text(metres, "us") == us


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(3.0, 1, "3"), (3.14, 1, "3.1"), (-0.01, 1, "0"), (1200, 0, "1,200"), (-2.5, 2, "-2.5")],
)
def test_numbers_without_noughts(value, digits, text):
    assert trimmed(value, digits) == text


def test_next_to_nothing_has_no_sign():
    told = length_text(-1e-5), depth_text(-1e-4), volume_text(-1e-6), mass_text(-0.1)
    assert told == ("0 cm", "0 mm", "0 L", "0 kg")
    assert depth_text(-1e-5, "us") == "0.00 in"


def test_centimetres_make_no_fractions_of_an_inch():
    assert length_text(0.10, "us") == "3.9 in"  # 3.937, near 3 15/16
    assert length_text(0.20, "us") == "7.9 in"  # 7.874, near 7 7/8


@pytest.mark.parametrize(
    ("text", "system"),
    [
        ('length = "8 ft"\nwidth = "24 in"\nvolume = "40 L"', "us"),
        ('length = "2.4 m"\nwidth = "60 cm"\nheight = "3 1/2 in"', "metric"),
        ('name = "Aunt Min"\nshare = "30 %"', "metric"),
        ('amount = "10 US gal"', "us"),
    ],
)
def test_the_units_that_a_bed_file_is_written_in(text, system):
    assert written_in(text) == system


def test_the_example_is_in_inches():
    assert written_in(example_text()) == "us"
