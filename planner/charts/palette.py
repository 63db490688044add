"""Colours of a picture as the eye sees them, and the few of them that can stand for all.

Colours are compared in CIELAB, where a straight distance (CIE 1976 ΔE*ab) is about what the eye calls a difference. Yarns
for a picture are found by k-means there; in flat art each is then a colour the picture really has, not an average blurred
by its edges.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from coloraide import Color
from scipy.cluster.vq import kmeans, vq

from planner.colour import ALIKE
from planner.errors import PlanError

# Linear sRGB to XYZ and its transfer curve, IEC 61966-2-1; white point D65 as that matrix has it, and CIELAB, CIE 15.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = TO_XYZ.sum(axis=1)
_SRGB = np.arange(256) / 255
LINEAR = np.where(_SRGB <= 0.04045, _SRGB / 12.92, ((_SRGB + 0.055) / 1.055) ** 2.4)
KNEE = 6 / 29

MOST_YARNS = 26
SAMPLE = 20_000  # pixels that stand for all when colours are picked
RANKED = 1_000  # most frequent colours among which the flat ones are looked for
STARTS, SEED = 6, 5


def lab_of(rgb: np.ndarray) -> np.ndarray:
    """CIELAB (…, 3) of 8-bit sRGB colours (…, 3): lightness 0–100, green to red, blue to yellow."""
    x = LINEAR[rgb] @ (TO_XYZ / WHITE[:, None]).T
    f = np.where(x > KNEE**3, np.cbrt(x), x / (3 * KNEE**2) + 4 / 29)
    return np.stack(
        (116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])),
        axis=-1,
    )


def rgb_of(lab: np.ndarray) -> np.ndarray:
    """8-bit sRGB colours (…, 3) of CIELAB colours; what a screen cannot show is clipped."""
    y = (lab[..., 0] + 16) / 116
    f = np.stack((y + lab[..., 1] / 500, y, y - lab[..., 2] / 200), axis=-1)
    x = np.where(f > KNEE, f**3, 3 * KNEE**2 * (f - 4 / 29)) * WHITE
    linear = np.clip(x @ np.linalg.inv(TO_XYZ).T, 0, 1)
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(255 * srgb).astype(np.uint8)


def from_hex(colours: Sequence[str]) -> np.ndarray:
    """8-bit sRGB colours (n, 3) of colours written as #rrggbb or by a web colour name."""
    out = []
    for colour in colours:
        try:
            out.append(Color(colour).convert("srgb").clip()[:3])
        except ValueError:
            raise PlanError(
                f'A yarn has the colour "{colour}"; write it as #rrggbb, such as #1f3a5f.'
            ) from None
    return np.round(255 * np.array(out).reshape(-1, 3)).astype(np.uint8)


def to_hex(rgb: np.ndarray) -> tuple[str, ...]:
    """#rrggbb of each of the 8-bit sRGB colours (n, 3)."""
    return tuple("#{:02x}{:02x}{:02x}".format(*colour) for colour in rgb.tolist())


def nearest(lab: np.ndarray, palette: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each CIELAB colour (…, 3) the nearest of the palette (n, 3), the first of equals: its index, and its distance."""
    index, distance = vq(lab.reshape(-1, 3), palette.astype(float))
    return index.reshape(lab.shape[:-1]), distance.reshape(lab.shape[:-1])


def coded(pixels: np.ndarray) -> np.ndarray:
    """One whole number for each 8-bit colour (…, 3)."""
    return pixels[..., 0] * np.int32(65536) + pixels[..., 1] * np.int32(256) + pixels[..., 2]


def decoded(codes: np.ndarray) -> np.ndarray:
    return np.stack((codes >> 16, codes >> 8 & 255, codes & 255), axis=-1).astype(np.uint8)


def has_few(pixels: np.ndarray, most: int) -> bool:
    """Whether a picture (rows, columns, 3) has at most so many different colours."""
    seen = np.zeros(1 << 24, dtype=bool)
    for part in (pixels[::31], pixels):  # most photographs are told by their first rows
        seen[coded(part)] = True
        if np.count_nonzero(seen) > most:
            return False
    return True


def lies_flat(pixels: np.ndarray) -> np.ndarray:
    """Which pixels of a picture (rows, columns, 3) equal a neighbour at the side and one above or below: what edges blend
    does not."""
    like = np.zeros((2, *pixels.shape[:2]), dtype=bool)
    codes = coded(pixels)
    for found, colour in ((like[0], codes), (like[1].T, codes.T)):
        same = colour[1:] == colour[:-1]
        found[1:] |= same
        found[:-1] |= same
    return like.all(axis=0)


def flat_pixels(pixels: np.ndarray) -> np.ndarray:
    """The pixels (n, 3) of a picture that tell the colours of flat art: those that lie flat; all of them where little does, or
    where there are few colours, so that nothing is blended."""
    flat = lies_flat(pixels)
    return (
        pixels.reshape(-1, 3) if flat.mean() < 0.25 or has_few(pixels, MOST_YARNS) else pixels[flat]
    )


def distinct(pixels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The different 8-bit colours of (n, 3), most frequent first, and how often each occurs."""
    codes, counts = np.unique(coded(pixels), return_counts=True)
    order = np.argsort(-counts, kind="stable")
    return decoded(codes[order]), counts[order]


def flat_colours(pixels: np.ndarray, *, apart: float = 10, least: float = 0.002) -> np.ndarray:
    """The colours (n, 3) that a flat picture really has, most frequent first: each `apart` (ΔE*ab) or more from those before
    it and, with what is nearer to it than that, at least a share `least` of the pixels (n, 3)."""
    colours, counts = distinct(pixels)
    colours, left, found = colours[:RANKED], counts[:RANKED].astype(float), []
    lab = lab_of(colours)
    while left.any():
        top = int(left.argmax())
        near = np.linalg.norm(lab - lab[top], axis=1) < apart
        if left[near].sum() >= least * counts.sum():
            found.append(colours[top])
        left[near] = 0
    return np.array(found, dtype=np.uint8).reshape(-1, 3)


def pick_colours(pixels: np.ndarray, count: int, *, flat: bool) -> np.ndarray:
    """At most `count` colours (n, 3) that stand for the pixels (n, 3) with the least squared distance in CIELAB, those of
    most pixels first: the most frequent colour of each group in flat art, else its mean.

    k-means (Lloyd) from seeded k-means++ starts (Arthur and Vassilvitskii 2007); the same pixels give the same colours.
    """
    if (
        isinstance(count, bool)
        or not isinstance(count, int | np.integer)
        or not 1 <= count <= MOST_YARNS
    ):
        raise PlanError(
            f"The number of yarns is {count!r}; a whole number from 1 to {MOST_YARNS} was expected."
        )
    rng, best = np.random.default_rng(SEED), (np.inf, None)
    sample = pixels if len(pixels) <= SAMPLE else pixels[rng.integers(len(pixels), size=SAMPLE)]
    lab, colours = lab_of(sample), distinct(sample)[0]
    if len(colours) <= count:
        return colours
    for _ in range(STARTS):
        centres = lab[rng.integers(len(lab))][None]
        while len(centres) < count:
            squares = nearest(lab, centres)[1] ** 2
            centres = np.vstack((centres, lab[rng.choice(len(lab), p=squares / squares.sum())]))
        centres, distortion = kmeans(lab, centres)
        if distortion < best[0]:
            best = distortion, centres
    group = nearest(lab, best[1])[0]
    groups = sorted((sample[group == g] for g in np.unique(group)), key=len, reverse=True)
    return np.array([distinct(g)[0][0] if flat else rgb_of(lab_of(g).mean(axis=0)) for g in groups])


def look_alikes(colours: Sequence[str]) -> list[tuple[int, int, float]]:
    """Pairs of colours (#rrggbb) that are hard to tell apart, by their places, with their CIEDE2000, below 10."""
    pairs = (
        (a, b, Color(colours[a]).delta_e(colours[b], method="2000"))
        for a, b in combinations(range(len(colours)), 2)
    )
    return [(a, b, distance) for a, b, distance in pairs if distance < ALIKE]
