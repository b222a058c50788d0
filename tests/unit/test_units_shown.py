"""Lengths as people write them, and the units that a bed file is written in."""

import pytest

from bedtide.bed import example_text
from bedtide.units import length_text, written_in


@pytest.mark.parametrize(
    ("inches", "text"),
    [(4.75, "4 3/4 in"), (16.5, "16 1/2 in"), (3, "3 in"), (0.5, "1/2 in"), (4.77, "4.8 in")],
)
def test_a_fraction_of_an_inch_is_told_as_it_was_written(inches, text):
    assert length_text(inches * 0.0254, "us") == text


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
