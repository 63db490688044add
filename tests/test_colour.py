"""Colour: differences to any eye, to colour-blind ones and in grey; ink, contrast."""

import re

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000, lab2xyz, rgb2lab, xyz2lab

from planner.colour import ANY_EYE, EYES, IN_GREY, apart, contrast, ink_on, luminance
from planner.pictures.canvas import INK, NUMBER_INK, STYLE
from planner.workbook.panes import LOOKS
from tests.helpers.colours import PAIRS

# Severity 1.0 of table 1 of Machado, Oliveira and Fernandes, IEEE Transactions on Visualization and
# Computer Graphics 15 (2009), for linear light: from memory, and the same in the colour library.
MACHADO = {
    "to red-blind eyes": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "to green-blind eyes": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "to blue-blind eyes": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
# sRGB's linear light to CIE XYZ (IEC 61966-2-1).
TO_XYZ = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
YARNS = ["#243b63", "#3f8f8b", "#4b4a4d", "#f1e9d2", "#b5452c", "#e9bb3f", "#7a9b3e", "#000000"]

hexes = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")


def channels(colour):
    return np.array([*bytes.fromhex(colour[1:])]) / 255


def linear(colour):
    shares = channels(colour)
    return np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize(("one", "another", "difference"), PAIRS)
def test_ciede2000_by_two_programs(one, another, difference):
    a, b = Color("lab-d65", one), Color("lab-d65", another)
    assert a.delta_e(b, method="2000") == pytest.approx(difference, abs=5e-5)
    assert b.delta_e(a, method="2000") == pytest.approx(difference, abs=5e-5)
    assert deltaE_ciede2000(one, another) == pytest.approx(difference, abs=5e-5)


def as_seen(colour, eye):
    """CIELAB of a colour as an eye sees it, by another road than the planner's."""
    if eye == ANY_EYE:
        return rgb2lab(channels(colour))
    if eye == IN_GREY:
        return np.array([rgb2lab(channels(colour))[0], 0, 0])
    return xyz2lab(np.array(TO_XYZ) @ np.array(MACHADO[eye]) @ linear(colour))


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("first", YARNS)
def test_how_far_apart_to_each_eye(eye, first):
    for second in YARNS:
        expected = deltaE_ciede2000(as_seen(first, eye), as_seen(second, eye))
        assert apart(first, second, eye=eye) == pytest.approx(expected, abs=0.05)


def test_what_is_known_of_eyes():
    """By eye: red and green of one lightness are alike to two of them, and in grey."""
    red, green = "#c03020", "#6a7000"
    told = {eye: apart(red, green, eye=eye) for eye in EYES}
    assert told[ANY_EYE] > 40
    assert told["to green-blind eyes"] < told[ANY_EYE] / 2
    # Greys look alike to no eye that any other tells apart.
    distances = [apart("#303030", "#909090", eye=eye) for eye in EYES]
    assert np.ptp(distances) < 0.5
    assert lab2xyz(as_seen(red, IN_GREY)) == pytest.approx(
        lab2xyz(np.array([rgb2lab(channels(red))[0], 0, 0]))
    )


@given(hexes)
def test_letters_read_on_every_colour(colour):
    """WCAG 2.2, 1.4.3: 4.5, whatever a yarn's colour."""
    assert contrast(ink_on(colour), colour) >= 4.5


@pytest.mark.parametrize(
    ("ink", "ground", "expected"),
    [("#000", "#fff", 21), ("#fff", "#fff", 1), ("#777", "#fff", 4.48), ("#767676", "white", 4.54)],
)
def test_contrast_as_published(ink, ground, expected):
    """Grey on white as WCAG's techniques have it (G18, from memory)."""
    assert contrast(ink, ground) == pytest.approx(expected, abs=0.005)
    assert contrast(ground, ink) == contrast(ink, ground)


@given(hexes)
def test_luminance_by_another_road(colour):
    # The constants of TO_XYZ are rounded as WCAG's are.
    assert luminance(channels(colour)) == pytest.approx(np.dot(TO_XYZ[1], linear(colour)))


def test_the_card_in_the_notebook():
    """Its text has JupyterLab's own colours, which are dark on light and light on dark."""
    (look,) = re.findall(r"\.row-card {(.*?)}", LOOKS, re.DOTALL)
    assert "color: var(--jp-content-font-color1, inherit)" in look
    assert "background" not in look


def test_the_words_in_pictures():
    """Inks on white paper."""
    style = STYLE.read_text("utf-8")
    inks = [*re.findall(r'color: "(#\w+)"', style), INK, NUMBER_INK]
    assert len(inks) >= 5
    assert [ink for ink in inks if contrast(ink, "#ffffff") < 4.5] == []
