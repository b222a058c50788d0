"""Units in, units out: a description in metric and in US units gives the same bed."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedtide.bed import bed_from_mapping, bed_text, capacity, walls_of, with_value
from helpers.beds import described

# Sixteenths of an inch: what a tape measure shows.
sixteenths = st.integers(16 * 20, 16 * 40)


def _inches(sixteenth):
    whole, rest = divmod(sixteenth, 16)
    return f"{whole} {rest}/16 in" if rest else f"{whole} in"


def _centimetres(sixteenth):
    return f"{sixteenth / 16 * 2.54!r} cm"


@settings(max_examples=25)
@given(depth=sixteenths, width=sixteenths, lip=st.integers(16, 16 * 6), litres=st.integers(1, 500))
def test_metric_and_us_descriptions_give_the_same_bed(depth, width, lip, litres):
    def build(length, volume):
        return bed_from_mapping(
            described(
                {
                    "box.depth": length(depth),
                    "box.width": length(width),
                    "overflow.height": length(lip),
                    "watering.amount": volume,
                }
            )
        )

    metric = build(_centimetres, f"{litres} L")
    us = build(_inches, f"{litres / 3.785411784!r} US gal")
    assert us.box.depth == pytest.approx(depth / 16 * 0.0254, rel=1e-14)
    assert walls_of(us) == pytest.approx(walls_of(metric), rel=1e-13)
    assert us.box.freeboard == pytest.approx(metric.box.freeboard, rel=1e-13)
    assert us.overflow.height == pytest.approx(metric.overflow.height, rel=1e-13)
    assert us.watering.volume == pytest.approx(metric.watering.volume, rel=1e-13)
    assert capacity(us, lip * 0.0254 / 16) == pytest.approx(capacity(metric, lip * 0.0254 / 16))


@pytest.mark.parametrize(
    ("key", "ways"),
    [
        ("box.depth", ["42 cm", "420 mm", "0.42 m", "0,42 m"]),
        ("box.depth", ["16 1/2 in", '16 1/2"', "16.5 in", "41.91 cm", "1 ft 4 1/2 in"]),
        ("box.length", ["8 ft", "96 in", "8'", "2.4384 m"]),
        ("surface.mulch_share", ["40 %", "0.4", 0.4]),
        ("surface.drying", ["0.4", 0.4]),
        ("watering.amount", ["120 L", "0.12 m3"]),
        ("site.elevation", ["0.1 km", "100 m"]),
        ("mix.wick.k_s", ["250 cm/day", "2.5 m/d"]),
        ("reservoir.count", [4, "4", 4.0]),
    ],
)
def test_ways_to_write_one_number(key, ways):
    first, *others = (bed_from_mapping(described({key: way})) for way in ways)
    assert all(other == first for other in others)


@settings(max_examples=25)
@given(st.integers(30, 90), st.integers(1, 4), st.sampled_from(["open", "blocked", "none"]))
def test_description_of_a_varied_bed_reads_back(depth, count, state):
    mapping = described()
    for key, value in (
        ("box.depth", f"{depth} cm"),
        ("reservoir.count", count),
        ("overflow.state", state),
    ):
        mapping = with_value(mapping, key, value)
    bed = bed_from_mapping(mapping)
    assert tomllib.loads(bed_text(bed)) == mapping
    assert bed_from_mapping(tomllib.loads(bed_text(bed))) == bed
