"""A picture with a frame on it, and the pages of a PDF to choose from.

A frame is a rectangle around a part of the picture, or four corners that move freely. The page's
side of both stands in framing.mjs and leafing.mjs.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget
import numpy as np
import traitlets

from planner.charts import Corners, Part

Pixels = np.ndarray  # rows (top first) × columns × 3 of 8-bit sRGB

WHOLE: Corners = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
SHOWN_PX = 1_400  # the longer side of a picture as it is sent to the page
DRAW_A_FRAME = (
    "Draw a frame around the chart, or drag its corners; with the keys, Tab to a corner and move "
    "it by the arrows (Shift: 10 pixels), or type its numbers below."
)
DRAG_CORNERS = (
    "Drag each corner to the outer corner of the outermost cells; with the keys, Tab to a corner "
    "and move it by the arrows (Shift: 10 pixels), or type its numbers below."
)
PAGES_AT_ONCE = 24  # drawn small


class Frame(anywidget.AnyWidget):
    """A picture with four corners on it, clockwise from the top left, as shares of its size.

    They make a rectangle unless they are `free`. `home` is where a button takes them back to.
    """

    _esm = Path(__file__).with_name("framing.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode().tag(sync=True)
    alt = traitlets.Unicode().tag(sync=True)
    hint = traitlets.Unicode().tag(sync=True)
    picture = traitlets.Bytes().tag(sync=True)
    is_free = traitlets.Bool(False).tag(sync=True)
    home: traitlets.List[Any] = traitlets.List().tag(sync=True)
    home_label = traitlets.Unicode().tag(sync=True)
    value: traitlets.List[Any] = traitlets.List().tag(sync=True)

    @property
    def corners(self) -> Corners:
        """Where the four corners are."""
        return tuple((float(x), float(y)) for x, y in self.value)

    @property
    def part(self) -> Part | None:
        """The part of the picture within the rectangle; None where that is all of it."""
        if self.corners == WHOLE:
            return None
        across, down = zip(*self.corners, strict=True)
        return min(across), min(down), max(across), max(down)

    def put(self, part: Part) -> None:
        """Lay the rectangle around a part of the picture."""
        left, top, right, bottom = part
        self.value = [[left, top], [right, top], [right, bottom], [left, bottom]]


def part_frame(pixels: Pixels, what: str) -> Frame:
    """A frame around a part of a picture, around all of it to begin with; `what` names that."""
    return Frame(
        description=f"the part of {what} that is read",
        alt=f"{what}, with a frame around the part that is read",
        hint=DRAW_A_FRAME,
        picture=as_jpeg(pixels, SHOWN_PX),
        home=_as_list(WHOLE),
        home_label=f"Read {what} as a whole",
        value=_as_list(WHOLE),
    )


def corner_frame(pixels: Pixels, corners: Corners) -> Frame:
    """Four corners on a photograph of a chart."""
    return Frame(
        description="the corners of the chart",
        alt="the photograph, with four corners around the chart",
        hint=DRAG_CORNERS,
        picture=as_jpeg(pixels, SHOWN_PX),
        is_free=True,
        home=_as_list(corners),
        home_label="Corners as they were found",
        value=_as_list(corners),
    )


def _as_list(corners: Corners) -> list[list[float]]:
    return [list(corner) for corner in corners]


def as_jpeg(pixels: Pixels, longest: int) -> bytes:
    """A picture as JPEG, made smaller where a side of it is longer than so many pixels."""
    # Whoever opens no file need not wait for it.
    from PIL import Image

    image = Image.fromarray(np.ascontiguousarray(pixels))
    image.thumbnail((longest, longest))
    file = io.BytesIO()
    image.save(file, "JPEG", quality=85)
    return file.getvalue()


class PageChoice(anywidget.AnyWidget):
    """The pages of a PDF, small, one of which is chosen: `value`, from 1."""

    _esm = Path(__file__).with_name("leafing.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode("page").tag(sync=True)
    pages = traitlets.Int().tag(sync=True)
    # Of the first pages, as addresses that hold them.
    pictures: traitlets.List[Any] = traitlets.List().tag(sync=True)
    value = traitlets.Int(1).tag(sync=True)

    def __init__(self, pages: int, small: Callable[[int], Pixels], value: int):
        super().__init__(pages=pages, value=value)
        self._small = small
        # The chosen page is in sight.
        while len(self.pictures) < value:
            self.draw_more()
        self.on_msg(self._asked)

    def draw_more(self) -> None:
        """Draw the next pages small."""
        begun = len(self.pictures)
        numbers = range(begun + 1, min(self.pages, begun + PAGES_AT_ONCE) + 1)
        drawn = []
        for number in numbers:
            jpeg = as_jpeg(self._small(number), SHOWN_PX)
            drawn.append(f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}")
        self.pictures = [*self.pictures, *drawn]

    def _asked(self, _: Any, content: dict[str, Any], buffers: list[Any]) -> None:
        if content.get("more"):
            self.draw_more()
