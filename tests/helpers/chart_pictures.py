"""Pictures of charts in many styles, as people draw, print, scan and copy them.

A `Style` draws a chart from a source of `chart_shapes`; what is drawn is known cell by cell
(`Drawn.cells`, −1 where there is no stitch). Three independent programs draw here: Pillow,
matplotlib, and reportlab by way of PDFium; a fourth, Chromium, in `chart_screens`.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

import numpy as np
import pypdfium2
from matplotlib.figure import Figure
from PIL import Image, ImageDraw, ImageFilter, ImageFont
from reportlab.pdfgen import canvas

from tests.helpers.chart_shapes import Rng, Source, areas

PAPER = (255, 255, 255)
YARNS = np.array(
    [
        (31, 58, 95),
        (242, 232, 207),
        (164, 36, 59),
        (91, 140, 90),
        (230, 159, 0),
        (120, 94, 160),
        (40, 40, 40),
        (150, 200, 220),
    ]
)
SIGNS = "XO+/▲●■◆"
NO_STITCH = -1


@dataclass(frozen=True)
class Drawn:
    """A picture as a file, and what it shows: cells from the top, by yarn, −1 for no stitch.

    `others` are further charts on the same page. `asks` says that the picture leaves something
    open, so that a question is right.
    """

    data: bytes
    cells: np.ndarray
    others: int = 0
    asks: bool = False


@dataclass(frozen=True)
class Look:
    """How a grid is drawn by Pillow."""

    cell: tuple[float, float] = (18, 18)
    line: int = 1
    ink: tuple[int, int, int] = (90, 90, 90)
    tens: int = 0  # how much thicker every tenth line is
    margin: int = 40
    numbers: str = ""  # the sides with numbers: "right", "left bottom", …
    title: str = ""
    key: bool = False
    sign: str = ""  # "letter", "sign", "stitch": what stands in the cells
    shape: str = "cell"  # or "disc", "gap", "shaded"
    paper: tuple[int, int, int] = PAPER
    blank: str = "blank"  # how no-stitch cells look: blank, grey, hatched, crossed, lined
    frame: int = 0  # a thick line around the worked stitches
    grey: bool = False
    yarns: np.ndarray = field(default_factory=lambda: YARNS)


def png(image: Image.Image, **how) -> bytes:
    file = io.BytesIO()
    image.save(file, how.pop("format", "PNG"), **how)
    return file.getvalue()


def font(size: float):
    return ImageFont.load_default(max(6, size))


def drawn_page(cells: np.ndarray, look: Look) -> Image.Image:
    """A page with a chart on it."""
    rows, stitches = cells.shape
    wide, high = look.cell
    margin = look.margin
    key = 30 * (cells.max() + 2) if look.key else 0
    top = margin + (40 if look.title else 0)
    size = round(stitches * wide) + 2 * margin, round(rows * high) + top + margin + key
    page = Image.new("RGB", size, look.paper)
    draw = ImageDraw.Draw(page)
    if look.title:
        draw.text((margin, 12), look.title, fill="black", font=font(24))
    for (row, column), yarn in np.ndenumerate(cells):
        box = (
            round(margin + column * wide),
            round(top + row * high),
            round(margin + (column + 1) * wide),
            round(top + (row + 1) * high),
        )
        if yarn == NO_STITCH:
            _draw_blank(draw, box, look)
        else:
            _draw_cell(page, draw, box, yarn, look)
    _draw_lines(draw, cells, (margin, top), look)
    _draw_numbers(draw, cells, (margin, top), look)
    if look.key:
        for yarn in range(cells.max() + 1):
            y = round(rows * high) + top + 20 + 30 * yarn
            draw.rectangle((margin, y, margin + 18, y + 18), fill=tuple(look.yarns[yarn]))
            draw.text((margin + 28, y), f"yarn {yarn + 1}", fill="black", font=font(14))
    return page


def _draw_cell(page, draw, box, yarn, look):
    left, top, right, bottom = box
    colour = tuple(int(each) for each in look.yarns[yarn])
    if look.grey:
        level = round(0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2])
        colour = (level,) * 3
    if look.shape == "gap":
        draw.rectangle((left + 2, top + 2, right - 2, bottom - 2), fill=colour)
    elif look.shape == "disc":
        draw.ellipse((left + 1, top + 1, right - 2, bottom - 2), fill=colour)
    elif look.shape == "shaded":
        for y in range(top, bottom):
            share = 1 - 0.25 * (y - top) / max(1, bottom - top)
            draw.line((left, y, right, y), fill=tuple(round(share * each) for each in colour))
    else:
        draw.rectangle(box, fill=colour)
    middle = (left + right) / 2, (top + bottom) / 2
    light = sum(colour) > 380
    ink = "black" if light else "white"
    if look.sign == "letter":
        text = chr(65 + yarn)
        draw.text(middle, text, fill=ink, font=font(0.55 * (bottom - top)), anchor="mm")
    elif look.sign == "stitch":
        third = (right - left) / 3
        for a, b in (((left + third / 2, top + 3), middle), ((right - third / 2, top + 3), middle)):
            draw.line((*a, b[0], bottom - 4), fill=ink)


def _draw_blank(draw, box, look):
    left, top, right, bottom = box
    if look.blank == "grey":
        draw.rectangle(box, fill=(200, 200, 200))
    elif look.blank == "hatched":
        for step in range(0, right - left + bottom - top, 5):
            x = left + step
            start = (min(x, right), top + max(0, x - right))
            end = (left + max(0, step - (bottom - top)), min(top + step, bottom))
            draw.line((*start, *end), fill=(120, 120, 120))
    elif look.blank == "crossed":
        draw.line((left + 3, top + 3, right - 3, bottom - 3), fill="black")
        draw.line((left + 3, bottom - 3, right - 3, top + 3), fill="black")


def _draw_lines(draw, cells, origin, look):
    """Lines around every cell that is drawn; blank ones have none."""
    rows, stitches = cells.shape
    wide, high = look.cell
    left, top = origin
    has_cell = (cells != NO_STITCH) | (look.blank != "blank")
    padded = np.pad(has_cell, 1)
    if look.line:
        for column in range(stitches + 1):
            thick = look.line + look.tens * (column % 10 == 0)
            for row in range(rows):
                if padded[row + 1, column] or padded[row + 1, column + 1]:
                    x = round(left + column * wide)
                    ends = round(top + row * high), round(top + (row + 1) * high)
                    draw.line((x, ends[0], x, ends[1]), fill=look.ink, width=thick)
        for row in range(rows + 1):
            thick = look.line + look.tens * (row % 10 == 0)
            for column in range(stitches):
                if padded[row, column + 1] or padded[row + 1, column + 1]:
                    y = round(top + row * high)
                    ends = round(left + column * wide), round(left + (column + 1) * wide)
                    draw.line((ends[0], y, ends[1], y), fill=look.ink, width=thick)
    if look.frame:
        worked = np.pad(cells != NO_STITCH, 1)
        for row, column in np.argwhere(worked[1:-1, :-1] != worked[1:-1, 1:]).tolist():
            x = round(left + column * wide)
            ends = round(top + row * high), round(top + (row + 1) * high)
            draw.line((x, ends[0], x, ends[1]), fill="black", width=look.frame)
        for row, column in np.argwhere(worked[:-1, 1:-1] != worked[1:, 1:-1]).tolist():
            y = round(top + row * high)
            ends = round(left + column * wide), round(left + (column + 1) * wide)
            draw.line((ends[0], y, ends[1], y), fill="black", width=look.frame)


def _draw_numbers(draw, cells, origin, look):
    rows, stitches = cells.shape
    wide, high = look.cell
    left, top = origin
    small = font(min(12, 0.7 * high))
    for row in range(rows):
        y = top + (row + 0.5) * high
        text = str(rows - row)
        if "right" in look.numbers:
            draw.text((left + stitches * wide + 6, y), text, fill="black", font=small, anchor="lm")
        if "left" in look.numbers:
            draw.text((left - 6, y), text, fill="black", font=small, anchor="rm")
    if "bottom" in look.numbers:
        for column in range(stitches):
            x = left + (column + 0.5) * wide
            text = str(stitches - column)
            if (stitches - column) % 5 == 0 or (stitches - column) == 1:
                at = x, top + rows * high + 4
                draw.text(at, text, fill="black", font=small, anchor="ma")


# ---- charts


def chart(rng: Rng, source: Source = areas) -> np.ndarray:
    """A chart of two to five yarns."""
    return source(rng, int(rng.integers(2, 6)))


def shaped(rng: Rng, source: Source = areas) -> np.ndarray:
    """A front with a slope at both sides and a neck cut out."""
    cells = chart(rng, source).copy()
    rows, stitches = cells.shape
    for row in range(rows):
        slope = max(0, (rows // 3 - row) // 2)
        slope = min(slope, stitches // 4)
        if slope:
            cells[row, :slope] = NO_STITCH
            cells[row, -slope:] = NO_STITCH
    neck = stitches // 3, stitches - stitches // 3
    cells[: rows // 5, neck[0] : neck[1]] = NO_STITCH
    return cells


# ---- styles


def by_pillow(
    rng: Rng,
    source: Source = areas,
    *,
    cells=chart,
    after=None,
    asks=False,
    others=0,
    **look,
) -> Drawn:
    made = cells(rng, source)
    page = drawn_page(made, Look(**look))
    if after:
        page = after(rng, page)
    data = page if isinstance(page, bytes) else png(page)
    return Drawn(data, made, others, asks)


def as_jpeg(rng, page, quality=60):
    return png(page, format="JPEG", quality=quality)


def scanned(rng, page, turn=0.0):
    """A scan: a little grain, a little soft, perhaps a little turned."""
    if turn:
        page = page.rotate(turn, Image.Resampling.BICUBIC, expand=True, fillcolor=(255, 255, 255))
    page = page.filter(ImageFilter.GaussianBlur(0.6))
    grain = rng.normal(0, 5, (page.height, page.width, 3))
    pixels = np.clip(np.asarray(page) * 0.97 + grain, 0, 255).astype(np.uint8)
    return png(Image.fromarray(pixels), format="JPEG", quality=80)


def with_watermark(rng, page):
    mark = Image.new("L", page.size, 0)
    size = page.width / 7
    ImageDraw.Draw(mark).text(
        (page.width / 2, page.height / 2), "sample", fill=90, font=font(size), anchor="mm"
    )
    mark = mark.rotate(25)
    grey = Image.new("RGB", page.size, (128, 128, 128))
    return Image.composite(grey, page, mark)


def among_words(rng, page):
    words = Image.new("RGB", (page.width + 200, page.height + 300), "white")
    draw = ImageDraw.Draw(words)
    for line in range(8):
        draw.text((60, 30 + 22 * line), "Work the rows of the chart from the " * 2, fill="black")
    words.paste(page, (100, 230))
    return words


def two_on_a_page(rng, page):
    """Another chart, of other size, below the first one."""
    other = drawn_page(chart(rng), Look())
    both = Image.new("RGB", (max(page.width, other.width), page.height + other.height), "white")
    both.paste(page, (0, 0))
    both.paste(other, (0, page.height))
    return both


def spreadsheet_screen(rng: Rng, source: Source = areas) -> Drawn:
    """What is seen of a spreadsheet: column letters above, row numbers at the left, thin lines."""
    cells = chart(rng, source)
    rows, stitches = cells.shape
    wide, high = 22, 18
    page = Image.new("RGB", ((stitches + 1) * wide + 12, (rows + 1) * high), "white")
    draw = ImageDraw.Draw(page)
    head = (230, 230, 230)
    draw.rectangle((0, 0, page.width, high), fill=head)
    draw.rectangle((0, 0, wide + 12, page.height), fill=head)
    for column in range(stitches):
        x = wide + 12 + column * wide
        name = (chr(64 + column // 26) if column >= 26 else "") + chr(65 + column % 26)
        draw.text((x + wide / 2, high / 2), name, fill="black", anchor="mm", font=font(10))
    for row in range(rows):
        y = (row + 1) * high
        draw.text((wide / 2, y + high / 2), str(row + 1), fill="black", anchor="mm", font=font(10))
        for column in range(stitches):
            x = wide + 12 + column * wide
            draw.rectangle((x, y, x + wide, y + high), fill=tuple(YARNS[cells[row, column]]))
    ink = (200, 200, 200)
    for column in range(stitches + 2):
        x = 0 if not column else wide + 12 + (column - 1) * wide
        draw.line((x, 0, x, page.height), fill=ink)
    for row in range(rows + 2):
        draw.line((0, row * high, page.width, row * high), fill=ink)
    return Drawn(png(page), cells)


def signs_alone(rng: Rng, source: Source = areas, *, ground: bool = True) -> Drawn:
    """Black signs on white, the ground left empty."""
    cells = chart(rng, source)
    look = Look(cell=(20, 20), yarns=np.full((8, 3), 255))
    page = drawn_page(cells, look)
    draw = ImageDraw.Draw(page)
    for (row, column), yarn in np.ndenumerate(cells):
        if yarn or not ground:
            x, y = look.margin + (column + 0.5) * 20, look.margin + (row + 0.5) * 20
            _draw_sign(draw, x, y, yarn)
    return Drawn(png(page), cells, asks=True)


def _draw_sign(draw, x, y, yarn):
    r = 6
    if yarn == 0:
        draw.line((x - r, y, x + r, y), fill="black", width=2)
    elif yarn == 1:
        draw.ellipse((x - r, y - r, x + r, y + r), fill="black")
    elif yarn == 2:
        draw.line((x - r, y - r, x + r, y + r), fill="black", width=2)
        draw.line((x - r, y + r, x + r, y - r), fill="black", width=2)
    elif yarn == 3:
        draw.ellipse((x - r, y - r, x + r, y + r), outline="black", width=2)
    else:
        draw.polygon(((x - r, y + r), (x + r, y + r), (x, y - r)), fill="black")


def by_matplotlib(rng: Rng, source: Source = areas, *, dpi=110, lines=0.4, numbers=True) -> Drawn:
    cells = chart(rng, source)
    rows, stitches = cells.shape
    figure = Figure(figsize=(stitches / 6 + 1, rows / 6 + 1), dpi=dpi)
    axes = figure.add_subplot()
    colours = YARNS[cells] / 255
    axes.imshow(colours, interpolation="nearest", extent=(0, stitches, 0, rows), aspect="equal")
    if lines:
        for x in range(stitches + 1):
            axes.axvline(x, color="black", linewidth=lines * (2.5 if x % 10 == 0 else 1))
        for y in range(rows + 1):
            axes.axhline(y, color="black", linewidth=lines * (2.5 if y % 10 == 0 else 1))
    axes.set_xlim(0, stitches)
    axes.set_ylim(0, rows)
    if not numbers:
        axes.axis("off")
    file = io.BytesIO()
    figure.savefig(file)
    return Drawn(file.getvalue(), cells)


def by_reportlab(
    rng: Rng, source: Source = areas, *, side=11.3, ink=0.4, scale=2.0, title=True
) -> Drawn:
    cells = chart(rng, source)
    rows, stitches = cells.shape
    file = io.BytesIO()
    page = canvas.Canvas(file, pagesize=(stitches * side + 140, rows * side + 180))
    if title:
        page.setFont("Helvetica-Bold", 18)
        page.drawString(60, rows * side + 140, "Meadow cushion, front")
    page.setLineWidth(ink)
    for (row, column), yarn in np.ndenumerate(cells):
        page.setFillColorRGB(*(YARNS[yarn] / 255))
        page.rect(60 + column * side, 80 + (rows - 1 - row) * side, side, side, fill=1)
    page.setFillColorRGB(0, 0, 0)
    page.setFont("Helvetica", 7)
    for row in range(rows):
        page.drawString(66 + stitches * side, 83 + row * side, str(row + 1))
    page.save()
    (drawn,) = pypdfium2.PdfDocument(file.getvalue())
    return Drawn(png(drawn.render(scale=scale).to_pil().convert("RGB")), cells)


Style = Callable[[Rng, Source], Drawn]
BLUE_INK, PALE_INK, BLACK_INK = (70, 110, 180), (205, 205, 205), (0, 0, 0)
STYLES: dict[str, Style] = {
    "thin grey lines": partial(by_pillow),
    "black lines": partial(by_pillow, ink=BLACK_INK),
    "heavy black lines": partial(by_pillow, ink=BLACK_INK, line=3, cell=(22, 22)),
    "pale lines": partial(by_pillow, ink=PALE_INK),
    "blue lines": partial(by_pillow, ink=BLUE_INK),
    "heavy every ten": partial(by_pillow, tens=2),
    "no lines": partial(by_pillow, line=0),
    "low cells": partial(by_pillow, cell=(20, 15)),
    "narrow cells": partial(by_pillow, cell=(12, 16)),
    "cells of a fraction": partial(by_pillow, cell=(17.37, 13.61)),
    "small cells": partial(by_pillow, cell=(7, 7), ink=BLACK_INK),
    "large cells": partial(by_pillow, cell=(46, 40), line=2),
    "no margin": partial(by_pillow, margin=0),
    "numbers right": partial(by_pillow, numbers="right"),
    "numbers left and below": partial(by_pillow, numbers="left bottom"),
    "numbers all round": partial(by_pillow, numbers="left right bottom"),
    "title and key": partial(by_pillow, title="Harbour", key=True, numbers="right"),
    "letters in the cells": partial(by_pillow, sign="letter"),
    "stitches drawn": partial(by_pillow, sign="stitch", cell=(24, 20)),
    "gaps between cells": partial(by_pillow, shape="gap", line=0),
    "discs": partial(by_pillow, shape="disc", cell=(20, 20)),
    "shaded cells": partial(by_pillow, shape="shaded"),
    "black paper": partial(by_pillow, paper=(20, 20, 24), ink=(90, 90, 90)),
    "jpeg": partial(by_pillow, after=as_jpeg),
    "strong jpeg": partial(by_pillow, after=partial(as_jpeg, quality=25)),
    "scanned": partial(by_pillow, after=scanned, tens=1, numbers="right"),
    "scanned, turned a little": partial(by_pillow, after=partial(scanned, turn=0.8)),
    "photocopied grey": partial(by_pillow, grey=True, ink=BLACK_INK),
    "watermark": partial(by_pillow, after=with_watermark),
    "among words": partial(by_pillow, after=among_words),
    "two on a page": partial(by_pillow, after=two_on_a_page, others=1, asks=True),
    "shaped, blank": partial(by_pillow, cells=shaped, asks=True),
    "shaped, framed": partial(by_pillow, cells=shaped, frame=3, asks=True),
    "shaped, grey": partial(by_pillow, cells=shaped, blank="grey", asks=True),
    "shaped, hatched": partial(by_pillow, cells=shaped, blank="hatched", asks=True),
    "shaped, crossed": partial(by_pillow, cells=shaped, blank="crossed", asks=True),
    "shaped, lined blanks": partial(by_pillow, cells=shaped, blank="lined", frame=3, asks=True),
    "screen of a spreadsheet": spreadsheet_screen,
    "signs on white": signs_alone,
    "signs on white, ground too": partial(signs_alone, ground=False),
    "matplotlib": by_matplotlib,
    "matplotlib, no numbers": partial(by_matplotlib, numbers=False),
    "matplotlib, blocks": partial(by_matplotlib, lines=0, numbers=False),
    "matplotlib, coarse": partial(by_matplotlib, dpi=60),
    "pdf": by_reportlab,
    "pdf, coarse": partial(by_reportlab, scale=1.2),
    "pdf, hairlines": partial(by_reportlab, ink=0.1, scale=2.7, title=False),
}
