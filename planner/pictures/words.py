"""Words: short texts at many places, drawn as one collection of outlines.

Matplotlib sets and paints a text of its own anew, letter by letter, whenever it is drawn: half a
millisecond each, and a chart has hundreds. Here an outline is made once and kept, and texts that
are written alike are one collection, which is some twenty times as fast.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.collections import PathCollection
from matplotlib.font_manager import FontProperties
from matplotlib.patches import BoxStyle
from matplotlib.path import Path
from matplotlib.textpath import TextPath
from matplotlib.transforms import IdentityTransform
from numpy.typing import ArrayLike

FONT = FontProperties(family="DejaVu Sans")  # as in the style; matplotlib brings it along
# Shares of the size of the letters.
CAPITAL = 0.73  # how high a capital or a digit of that font is
LINE = 1.1  # from one line to the next
# Digits are kept one by one, so that a few outlines serve for thousands of labels.
PARTS = re.compile(r"\d|\D+")
MOST_KEPT = 2000
NOTHING = "#00000000"  # a colour that leaves no trace
FRAME = BoxStyle.Round(pad=0.15)


@dataclass(frozen=True)
class Lettering:
    """How texts are written: lengths in points.

    A text stands to the right of its place where `aside` is 1, to the left where it is −1, else
    across it; and above it where `above` is 1, below it where it is −1; `away` is how far from it.
    A rim parts the letters from what lies behind them.
    """

    size: float
    aside: int = 0
    above: int = 0
    away: float = 0.0
    rim: float = 0.0
    zorder: float = 6.0


@dataclass(frozen=True)
class Outline:
    """The outline of a text of size 1 that begins at 0, and how far it reaches."""

    vertices: np.ndarray
    codes: np.ndarray
    width: float


class Words(PathCollection):
    """Texts at places in the data of the axes: one text for all places, or one for each.

    `ink` is likewise one colour for all, or one for each, and so is that of their rims.
    """

    def __init__(
        self,
        ax: Axes,
        texts: str | Sequence[str],
        places: ArrayLike,
        *,
        look: Lettering,
        ink: str | Sequence[str],
        rims: str | Sequence[str] = "white",
    ):
        self.texts = [texts] if isinstance(texts, str) else list(texts)
        paths = [path_of(text, look) for text in self.texts]
        offsets = np.reshape(places, (-1, 2))
        fills = [ink] if isinstance(ink, str) else list(ink)
        edges = [NOTHING]
        widths = [0.0]
        # The rim of each text lies over the texts before it, as if they were written in turn.
        if look.rim:
            paths = [path for path in paths for _ in range(2)]
            offsets = np.repeat(offsets, 2, axis=0)
            fills = [colour for fill in fills for colour in (NOTHING, fill)]
            around = [rims] if isinstance(rims, str) else list(rims)
            edges = [colour for rim in around for colour in (rim, NOTHING)]
            widths = [look.rim, 0.0]
        super().__init__(
            paths,
            sizes=[look.size**2],
            offsets=offsets,
            offset_transform=ax.transData,
            facecolors=fills,
            edgecolors=edges,
            linewidths=widths,
            zorder=look.zorder,
        )
        # The paths are in points already; snapped to pixels, small letters would lose their shape.
        self.set(transform=IdentityTransform(), snap=False)
        ax.add_collection(self, autolim=False)
        # Some stand outside the axes, as numbers do.
        self.set_clip_on(False)


def frame(ax: Axes, texts: Sequence[str], places: ArrayLike, *, look: Lettering) -> None:
    """Draw a white box with round corners behind each text, that stands across its place."""
    boxes = []
    for text in texts:
        width = width_of(text) * look.size
        box = FRAME(-width / 2, -look.size / 2, width, look.size, look.size)
        boxes.append(box)
    frames = PathCollection(
        boxes,
        sizes=[1],
        offsets=np.reshape(places, (-1, 2)),
        offset_transform=ax.transData,
        facecolors="white",
        edgecolors="black",
        linewidths=0.5,
        zorder=look.zorder,
    )
    frames.set_transform(IdentityTransform())
    ax.add_collection(frames, autolim=False)
    frames.set_clip_on(False)


def path_of(text: str, look: Lettering) -> Path:
    """The outline of a text of one or more lines at its place, in shares of the letters' size."""
    lines = text.split("\n")
    away = look.away / look.size
    height = CAPITAL + LINE * (len(lines) - 1)
    middle = look.above * (away + height / 2)
    baseline = middle + height / 2 - CAPITAL
    # Even of a text without letters there is an outline.
    all_vertices = [np.empty((0, 2))]
    all_codes = [np.empty(0, Path.code_type)]
    for line in lines:
        width = width_of(line)
        begin = look.aside * (away + width / 2) - width / 2
        for part in PARTS.findall(line):
            outline = _outline_of(part)
            all_vertices.append(outline.vertices + np.array((begin, baseline)))
            all_codes.append(outline.codes)
            begin += outline.width
        baseline -= LINE
    return Path(np.concatenate(all_vertices), np.concatenate(all_codes))


def width_of(text: str) -> float:
    """How wide a text of one line is, in shares of the letters' size."""
    return sum(_outline_of(part).width for part in PARTS.findall(text))


@lru_cache(MOST_KEPT)
def _outline_of(text: str) -> Outline:
    # An outline ends with its ink; where a text ends, shows where a stroke after it would stand.
    with rc_context({"text.parse_math": False}):  # a yarn called $a$ is no formula
        stroke = TextPath((0, 0), "|", size=1, prop=FONT)
        both = TextPath((0, 0), f"{text}|", size=1, prop=FONT)
    width = both.vertices[:, 0].max() - stroke.vertices[:, 0].max()
    length = len(both) - len(stroke)
    return Outline(both.vertices[:length], both.codes[:length], float(width))
