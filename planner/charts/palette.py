"""Colours of a picture as the eye sees them, and the few of them that can stand for all.

Colours are compared in CIELAB, where a straight distance (CIE 1976 ΔE*ab) is about what the eye
calls a difference. Yarns for a picture are found by k-means there; in flat art each is then a
colour the picture really has, not an average blurred by its edges.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.random import Generator
from scipy.cluster.vq import kmeans, vq

from planner.colour import rgb_of
from planner.errors import PlanError

Rgb = np.ndarray  # colours (…, 3) of 8-bit sRGB: red, green, blue
Lab = np.ndarray  # colours (…, 3) of CIELAB: lightness 0–100, green to red, blue to yellow
Numbers = np.ndarray
Matches = tuple[Numbers, Numbers]  # places in a palette, and the distances (ΔE*ab) from there
Mask = np.ndarray  # true and false

# Linear sRGB to XYZ (IEC 61966-2-1); white is D65 as that matrix has it.
TO_XYZ = np.array(
    [
        [0.4124, 0.3576, 0.1805],
        [0.2126, 0.7152, 0.0722],
        [0.0193, 0.1192, 0.9505],
    ]
)
WHITE = TO_XYZ.sum(axis=1)
TO_SHARE_OF_WHITE = TO_XYZ / WHITE[:, None]
FROM_XYZ = np.linalg.inv(TO_XYZ)

# The linear light of each of the 256 steps of a channel (IEC 61966-2-1).
_STEPS = np.arange(256) / 255
_DARK = _STEPS <= 0.04045
_CURVE = ((_STEPS + 0.055) / 1.055) ** 2.4
LINEAR = np.where(_DARK, _STEPS / 12.92, _CURVE)

# CIELAB takes the cube root of light, and a straight line of this slope for the darkest (CIE 15).
KNEE = 6 / 29
SLOPE = 3 * KNEE**2
OFFSET = 4 / 29

ALL_COLOURS = 1 << 24  # as many as 8-bit sRGB has
MOST_COLOURS_IN_A_PICTURE = 26
SAMPLE = 20_000  # pixels that stand for all when colours are picked
RANKED = 1_000  # most frequent colours among which the flat ones are looked for
STARTS = 6  # of k-means; the best is kept
SEED = 5


def check_count(count: int, sentence: str, *, most: int) -> int:
    """The count, if it is a whole number from 1 to `most`; the sentence says what was given."""
    whole = isinstance(count, int | np.integer)
    if isinstance(count, bool):  # an int to Python, but nobody's count
        whole = False
    if whole and 1 <= count <= most:
        return int(count)
    raise PlanError(f"{sentence}; a whole number from 1 to {most:,} was expected.")


def _planes(colours: Numbers) -> Numbers:
    """The three parts of colours (…, 3), each by itself: 3 × …"""
    return np.moveaxis(colours, -1, 0)


def _together(*planes: Numbers) -> Numbers:
    """Colours (…, 3) of their three parts."""
    return np.stack(planes, axis=-1)


def lab_of(rgb: Rgb) -> Lab:
    """CIELAB of 8-bit sRGB colours (…, 3), by CIE 15."""
    linear = LINEAR[rgb]
    share = linear @ TO_SHARE_OF_WHITE.T
    bright = share > KNEE**3
    line = share / SLOPE + OFFSET
    root = np.cbrt(share)
    x, y, z = _planes(np.where(bright, root, line))
    lightness = 116 * y - 16
    red = 500 * (x - y)
    yellow = 200 * (y - z)
    return _together(lightness, red, yellow)


def rgb_of_lab(lab: Lab) -> Rgb:
    """8-bit sRGB of CIELAB colours (…, 3); what a screen cannot show is clipped."""
    # Each step undoes one of `lab_of`, the last first.
    lightness, red, yellow = _planes(lab)
    y = (lightness + 16) / 116
    x = y + red / 500
    z = y - yellow / 200
    root = _together(x, y, z)
    line = SLOPE * (root - OFFSET)
    bright = root > KNEE
    share = np.where(bright, root**3, line)
    xyz = share * WHITE
    linear = xyz @ FROM_XYZ.T
    linear = np.clip(linear, 0, 1)
    curve = 1.055 * linear ** (1 / 2.4) - 0.055
    dark = linear <= 0.0031308
    srgb = np.where(dark, 12.92 * linear, curve)
    return _in_bytes(srgb)


def _in_bytes(channels: Numbers) -> Rgb:
    """Channels between 0 and 1 as whole numbers up to 255."""
    steps = np.round(255 * channels)
    return steps.astype(np.uint8)


def from_hex(colours: Sequence[str]) -> Rgb:
    """8-bit sRGB (n, 3) of colours written as #rrggbb or by a web colour name."""
    found = np.empty((len(colours), 3))
    for place, colour in enumerate(colours):
        try:
            found[place] = rgb_of(colour)
        except ValueError:
            raise PlanError(
                f'A yarn has the colour "{colour}"; write it as #rrggbb, such as #1f3a5f.'
            ) from None
    return _in_bytes(np.clip(found, 0, 1))


def to_hex(rgb: Rgb) -> tuple[str, ...]:
    """#rrggbb of each of the 8-bit sRGB colours (n, 3)."""
    return tuple(f"#{bytes(colour).hex()}" for colour in rgb.tolist())


def nearest(lab: Lab, palette: Lab) -> Matches:
    """For each CIELAB colour (…, 3) its place in the palette (n, 3), and its distance from that.

    Of colours that are equally near the first is taken.
    """
    # `vq` wants a plain list of colours.
    listed = lab.reshape(-1, 3)
    place, distance = vq(listed, palette.astype(float))
    shape = lab.shape[:-1]
    place = place.reshape(shape)
    return place, distance.reshape(shape)


def nearest_rgb(rgb: Rgb, palette: Rgb) -> Matches:
    """As `nearest`, for 8-bit sRGB colours."""
    return nearest(lab_of(rgb), lab_of(palette))


def delta_e(lab: Lab, other: Lab) -> Numbers:
    """How far CIELAB colours (…, 3) are apart: ΔE*ab, CIE 1976."""
    difference = lab - other
    return np.linalg.norm(difference, axis=-1)


def codes_of(rgb: Rgb) -> Numbers:
    """One whole number for each 8-bit colour (…, 3), below `ALL_COLOURS`."""
    shape = rgb.shape[:-1]
    codes = np.zeros(shape, dtype=np.int32)
    for plane in _planes(rgb):
        codes = codes << 8 | plane
    return codes


def rgb_of_codes(codes: Numbers) -> Rgb:
    """The 8-bit colours that `codes_of` made these numbers of."""
    red = codes >> 16
    green = codes >> 8 & 255
    blue = codes & 255
    rgb = _together(red, green, blue)
    return rgb.astype(np.uint8)


def has_few(pixels: Rgb, most: int) -> bool:
    """Whether a picture (rows, columns, 3) has at most so many different colours."""
    seen = np.zeros(ALL_COLOURS, dtype=bool)
    # A few rows are looked at first: they are enough to tell most photographs.
    for part in (pixels[::31], pixels):
        seen[codes_of(part)] = True
        if np.count_nonzero(seen) > most:
            return False
    return True


def lies_flat(pixels: Rgb) -> Mask:
    """Which pixels of a picture (rows, columns, 3) equal a neighbour beside and one above or below.

    Pixels that an edge blends do not.
    """
    codes = codes_of(pixels)
    beside = _equal_a_neighbour(codes.T).T
    return beside & _equal_a_neighbour(codes)


def _equal_a_neighbour(codes: Numbers) -> Mask:
    """Which numbers equal the one before or after them along the first axis."""
    equal = np.zeros(codes.shape, dtype=bool)
    before = codes[:-1]
    same = codes[1:] == before
    equal[1:] |= same
    equal[:-1] |= same
    return equal


def flat_pixels(pixels: Rgb) -> Rgb:
    """The pixels (n, 3) of a picture that tell the colours of flat art.

    They are those that lie flat; all of them where little does, or where there are few colours,
    so that nothing is blended.
    """
    flat = lies_flat(pixels)
    if flat.mean() < 0.25:
        return pixels.reshape(-1, 3)
    if has_few(pixels, MOST_COLOURS_IN_A_PICTURE):
        return pixels.reshape(-1, 3)
    return pixels[flat]


def distinct(pixels: Rgb) -> tuple[Rgb, Numbers]:
    """The different colours of pixels (n, 3), most frequent first, and how often each occurs."""
    every = codes_of(pixels)
    codes, counts = np.unique(every, return_counts=True)
    # Stable, so that equally frequent ones keep one order on every machine.
    order = np.argsort(-counts, kind="stable")
    colours = rgb_of_codes(codes[order])
    return colours, counts[order]


def flat_colours(
    pixels: Rgb,
    *,
    apart: float = 10,
    least: float = 0.002,
) -> Rgb:
    """The colours (n, 3) that a flat picture really has, most frequent first.

    Each is `apart` (ΔE*ab) or more from those before it. With what is nearer to it than that, it
    has at least a share `least` of the pixels (n, 3).
    """
    colours, counts = distinct(pixels)
    fewest = least * counts.sum()
    lab = lab_of(colours[:RANKED])
    left = counts[:RANKED].copy()
    found = []
    while left.any():
        top = int(left.argmax())
        distance = delta_e(lab, lab[top])
        near = distance < apart
        if left[near].sum() >= fewest:
            found.append(top)
        # They are counted with this colour, so they found none of their own.
        left[near] = 0
    return colours[found]


def pick_colours(pixels: Rgb, count: int, *, flat: bool) -> Rgb:
    """At most `count` colours (n, 3) that stand for the pixels (n, 3), those of most pixels first.

    They have the least squared distance in CIELAB: the most frequent colour of each group in flat
    art, else its mean. k-means (Lloyd) from seeded k-means++ starts (Arthur and Vassilvitskii
    2007); the same pixels give the same colours.
    """
    sentence = f"The number of yarns is {count!r}"
    count = check_count(count, sentence, most=MOST_COLOURS_IN_A_PICTURE)
    random = np.random.default_rng(SEED)
    # Some of very many pixels stand for all, or this would take seconds.
    sample = pixels
    if len(pixels) > SAMPLE:
        drawn = random.integers(len(pixels), size=SAMPLE)
        sample = pixels[drawn]
    colours, _ = distinct(sample)
    if len(colours) <= count:
        return colours
    lab = lab_of(sample)
    centres = _best_centres(lab, count, random)
    group_of, _ = nearest(lab, centres)
    groups = []
    for group in np.unique(group_of):
        members = sample[group_of == group]
        groups.append(members)
    groups.sort(key=len, reverse=True)
    stand_in = _commonest if flat else _mean
    return np.array([stand_in(members) for members in groups])


def _best_centres(lab: Lab, count: int, random: Generator) -> Lab:
    """The centres of groups with the least distortion of several runs of k-means."""
    best = lab
    least = np.inf
    for _ in range(STARTS):
        start = _scattered(lab, count, random)
        centres, distortion = kmeans(lab, start)
        if distortion < least:
            best, least = centres, distortion
    return best


def _scattered(lab: Lab, count: int, random: Generator) -> Lab:
    """So many of the colours, each drawn by the square of its distance from those before it."""
    first = random.integers(len(lab))
    drawn = [int(first)]
    while len(drawn) < count:
        before = lab[drawn]
        _, distance = nearest(lab, before)
        squares = distance**2
        odds = squares / squares.sum()
        further = random.choice(len(lab), p=odds)
        drawn.append(int(further))
    return lab[drawn]


def _commonest(group: Rgb) -> Rgb:
    colours, _ = distinct(group)
    return colours[0]


def _mean(group: Rgb) -> Rgb:
    return rgb_of_lab(lab_of(group).mean(axis=0))
