"""The pages of a PDF, each drawn as a picture, and a drawing (.svg) drawn as one.

A PDF is drawn by PDFium, a drawing by Typst; neither runs what may be in the file, and nothing is
fetched. A page is drawn small to be chosen from, and as finely as a chart can use to be read.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cached_property
from math import sqrt
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pypdfium2
import typst
from PIL import Image

from planner.charts.palette import Rgb
from planner.charts.picture import ENOUGH_PIXELS, Artwork
from planner.errors import PlanError
from planner.guards import (
    MOST_BYTES_OF_A_DRAWING,
    MOST_BYTES_OF_A_PICTURE,
    MOST_PAGES,
    check_amount,
)
from planner.units import counted

PDF = b"%PDF-"
PDF_BEGINS_WITHIN = 1024  # bytes (ISO 32000-1, implementation notes, from memory)
SMALL_PX = 240  # the longer side of a page to be chosen from
MOST_DOTS_IN_A_POINT = 6.0  # 432 dots in an inch: finer than any chart is printed
# A square that a drawing is fitted into, whatever size it says it has.
SHEET_PT, DRAWN_PX = 500, 2_000
DRAWING = f"""
#set page(width: {SHEET_PT}pt, height: {SHEET_PT}pt, margin: 0pt, fill: none)
#image(bytes(sys.inputs.drawing), format: "svg", width: 100%, height: 100%, fit: "contain")
"""
SVG = "{http://www.w3.org/2000/svg}svg"
USE = "{http://www.w3.org/2000/svg}use"
LINKS = ("href", "{http://www.w3.org/1999/xlink}href")
MOST_SHAPES = 500_000  # of a drawing, as often as each is used

Part = tuple[float, float, float, float]  # left, top, right, bottom, each a share of the page


@dataclass(frozen=True, eq=False)
class Document:
    """An open PDF; `pages` is how many it has."""

    name: str
    _pdf: pypdfium2.PdfDocument

    @cached_property
    def pages(self) -> int:
        """How many pages it has."""
        return len(self._pdf)

    def small(self, page: int) -> Rgb:
        """A page, from 1, drawn small: rows (top first) × columns × 3 of 8-bit sRGB."""
        width, height = self._size(page)
        return self._drawn(page, SMALL_PX / max(width, height), None)

    def picture(self, page: int, part: Part | None = None) -> Artwork:
        """A page, from 1, or a part of it, drawn as finely as a chart can use."""
        width, height = self._size(page)
        if part is not None:
            left, top, right, bottom = part
            if not (0 <= left < right <= 1 and 0 <= top < bottom <= 1):
                raise PlanError(
                    "The part of the page is empty. Draw a frame around the chart, from one corner "
                    "to the other."
                )
            width *= right - left
            height *= bottom - top
        dots = min(MOST_DOTS_IN_A_POINT, sqrt(ENOUGH_PIXELS / (width * height)))
        pixels = self._drawn(page, dots, part)
        where = f"page {page} of {counted(self.pages, 'page')}"
        notes = (where if part is None else f"a part of {where}",)
        return Artwork(pixels, self.name, notes)

    def _size(self, page: int) -> tuple[float, float]:
        """Width and height of a page in points of 1/72 inch."""
        if not 1 <= page <= self.pages:
            raise PlanError(f"{self.name} has {counted(self.pages, 'page')}, and no page {page}.")
        try:
            width, height = self._pdf.get_page_size(page - 1)
        except pypdfium2.PdfiumError as error:
            raise self._cannot(page, error) from error
        # A page without a size would have no end of dots in a point.
        return max(1.0, width), max(1.0, height)

    def _drawn(self, page: int, dots: float, part: Part | None) -> Rgb:
        width, height = self._size(page)
        left, top, right, bottom = part or (0.0, 0.0, 1.0, 1.0)
        crop = (left * width, (1 - bottom) * height, (1 - right) * width, top * height)
        try:
            drawn = self._pdf[page - 1].render(scale=dots, crop=crop, rev_byteorder=True)
            pixels = np.array(drawn.to_pil().convert("RGB"))
        except (pypdfium2.PdfiumError, ValueError) as error:
            raise self._cannot(page, error) from error
        pixels.setflags(write=False)
        return pixels

    def _cannot(self, page: int, error: Exception) -> PlanError:
        return PlanError(
            f"Page {page} of {self.name} cannot be drawn ({error}). Open it in another program and "
            "take a picture of the screen."
        )


def is_pdf(data: bytes) -> bool:
    """Whether a file is a PDF, by how it begins."""
    return PDF in data[:PDF_BEGINS_WITHIN]


def open_document(data: bytes, name: str) -> Document:
    """The PDF in a file. Raises PlanError where it is damaged, locked or too long."""
    check_amount(len(data), name, most=MOST_BYTES_OF_A_PICTURE)
    try:
        document = Document(name, pypdfium2.PdfDocument(data))
        pages = document.pages
    except pypdfium2.PdfiumError as error:
        if "password" in str(error).lower():
            raise PlanError(
                f"{name} is protected by a password. Open it where you can read it and print it "
                "into a new PDF."
            ) from error
        raise PlanError(
            f"{name} is damaged or was cut short ({error}). Save it once more, or copy it again."
        ) from error
    if not 1 <= pages <= MOST_PAGES:
        raise PlanError(
            f"{name} has {counted(pages, 'page')}; 1 to {MOST_PAGES} can be looked through. Print "
            "the page with the chart into a PDF of its own."
        )
    return document


def is_drawing(data: bytes) -> bool:
    """Whether a file is a drawing (.svg), by its first tag."""
    try:
        # Its first tag stands at its beginning; nothing behind it is looked at.
        for _, part in ElementTree.iterparse(io.BytesIO(data), events=("start",)):
            return part.tag == SVG
    except ElementTree.ParseError:
        pass
    return False


def open_drawing(data: bytes, name: str) -> Artwork:
    """A drawing (.svg) as a picture. Raises PlanError where it cannot be drawn."""
    check_amount(len(data), name, most=MOST_BYTES_OF_A_DRAWING)
    try:
        shapes = _shapes_in(ElementTree.fromstring(data))
        if shapes > MOST_SHAPES:
            raise PlanError(
                f"{name} comes to more than {MOST_SHAPES:,} shapes. It was not drawn. Save it as "
                "PNG from your drawing program."
            )
        png = typst.compile(
            DRAWING.encode(),
            sys_inputs={"drawing": data.decode("utf-8")},
            format="png",
            ppi=72 * DRAWN_PX / SHEET_PT,
        )
    except (typst.TypstError, ElementTree.ParseError, UnicodeDecodeError, RecursionError) as error:
        first_line, *_ = str(error).splitlines() or [""]
        raise PlanError(
            f"{name} cannot be drawn ({first_line}). Save it as PNG from your drawing program."
        ) from error
    assert isinstance(png, bytes)
    with Image.open(io.BytesIO(png)) as sheet:
        drawn = sheet.convert("RGBA")
    # Around a drawing that is no square the sheet is left free.
    place = drawn.getchannel("A").getbbox()
    if place is None:
        raise PlanError(f"{name} is a drawing with nothing in it.")
    drawn = drawn.crop(place)
    white = Image.new("RGBA", drawn.size, "white")
    pixels = np.array(Image.alpha_composite(white, drawn).convert("RGB"))
    pixels.setflags(write=False)
    return Artwork(pixels, name, ("a drawing, drawn as a picture",))


def _shapes_in(drawing: Element) -> int:
    """How many shapes a drawing comes to: one that is used again counts each time.

    A few lines that use each other ten times each would come to thousands of millions.
    """
    by_name = {each.get("id"): each for each in drawing.iter() if each.get("id")}
    counted_already: dict[Element, int] = {}

    def count(part: Element) -> int:
        if part not in counted_already:
            # One that uses itself counts once: whoever draws it stops there.
            counted_already[part] = 1
            shapes = 1 + sum(map(count, part))
            if part.tag == USE:
                link = next((part.get(name) for name in LINKS if part.get(name)), "") or ""
                used = by_name.get(link.removeprefix("#"))
                shapes += 0 if used is None else count(used)
            counted_already[part] = shapes
        return counted_already[part]

    return count(drawing)
