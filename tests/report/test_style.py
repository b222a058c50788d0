"""The palette stays apart for people with any kind of colour blindness.

Matrices of full colour-vision deficiency: Machado, Oliveira & Fernandes (2009), IEEE Trans. Vis.
Comput. Graph. 15(6):1291-1298, Table of severity 1.0, from memory. Distance: CIE 1976 L*a*b*.
"""

from itertools import combinations

import numpy as np
import pytest

from bedtide.report.style import COLOURS, STYLES, bar_keywords

SEEN = {
    "full colour": np.eye(3),
    "no red": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no green": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no blue": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
LINES = ("level", "rain", "refill", "overflow", "transpiration", "evaporation", "warning")
AREAS = ("water", "air", "mix_top", "mix_wick", "box", "pipe", "stone")
AIR = ("air0", "air1", "air2", "air3", "air4")


def _lab(colour, eye):
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    seen = np.clip(np.asarray(eye) @ linear, 0, 1)
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    xyz = np.asarray(to_xyz) @ seen / [0.9505, 1, 1.089]
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eye", SEEN.values(), ids=SEEN)
@pytest.mark.parametrize("names", [LINES, AREAS, AIR], ids=["lines", "areas", "air"])
def test_colours_stay_apart(names, eye):
    # A difference of 2.3 is just noticeable; 11 is seen at a glance (our choice of margin).
    for one, other in combinations(names, 2):
        apart = np.linalg.norm(_lab(COLOURS[one], eye) - _lab(COLOURS[other], eye))
        assert apart > 11, (one, other)


def test_a_poor_pair_is_seen_as_one():
    # Red and green of the same lightness: the check above would refuse them.
    eye = SEEN["no green"]
    assert np.linalg.norm(_lab("#a04040", eye) - _lab("#5f6a30", eye)) < 11


def test_colour_is_never_the_only_sign():
    looks = [(str(STYLES[name].dashes), STYLES[name].marker, STYLES[name].hatch) for name in LINES]
    assert len(set(looks)) == len(LINES)


def test_every_style_is_covered():
    assert set(STYLES) == set(LINES)


def test_keywords_draw():
    from matplotlib.figure import Figure

    ax = Figure().subplots()
    for name in LINES:
        ax.bar([0], [1], **bar_keywords(name))
    assert ax.patches[0].get_facecolor()[:3] == pytest.approx([0x1C / 255, 0x4F / 255, 0x8A / 255])
    assert ax.patches[1].get_hatch() == "///"
