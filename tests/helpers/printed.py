"""A PDF read back by others than its maker: text and fonts by pypdf, pictures and words by Poppler.

Poppler's tools are used where they are installed; `needs_poppler` skips a test where not.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess

import numpy as np
import pypdf
import pytest
from PIL import Image

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="Poppler's tools are not installed (poppler-utils)"
)
INVISIBLE = {"\u200b": "", "\xa0": " "}  # where a word may be broken, and where not
# Where letters are moved together, pypdf sees a space: "T urn", "Y ou".
KERNED = re.compile(r"\b([TVWY]) (?=[a-z])")
WORD = re.compile(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*)<')


def opened(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def texts(pdf: bytes) -> list[str]:
    """The text of each page."""
    return [plain(page.extract_text()) for page in opened(pdf).pages]


def plain(text: str) -> str:
    for sign, stands_for in INVISIBLE.items():
        text = text.replace(sign, stands_for)
    return KERNED.sub(r"\1", text)


def part(pages: list[str], title: str) -> str:
    """The text from the line that is a title to the next such; the chart has one a page."""
    titles = (
        *("Chart", "Strand map", "Winding list", "Tags", "Row cards"),
        *("Shopping list", "Ends", "Measurements"),
    )
    lines = [line for page in pages for line in page.split("\n")]
    first = [line.strip() for line in lines]
    start = first.index(title)
    end = start + 1
    while end < len(lines) and first[end] not in set(titles) - {title}:
        end += 1
    return "\n".join(lines[start:end])


def picture(pdf: bytes, page: int, dpi: int, *, grey: bool = False) -> np.ndarray:
    """A page, from 1, as pixels: rows × columns × 3, or rows × columns in grey."""
    which = ["-f", str(page), "-l", str(page), "-r", str(dpi), *(["-gray"] if grey else [])]
    made = subprocess.run(
        ["pdftoppm", *which, "-png", "-"], input=pdf, stdout=subprocess.PIPE, check=True
    )
    return np.asarray(Image.open(io.BytesIO(made.stdout)).convert("L" if grey else "RGB"))


def png(pdf: bytes, page: int, dpi: int) -> bytes:
    """A page, from 1, as a PNG."""
    saved = io.BytesIO()
    Image.fromarray(picture(pdf, page, dpi)).save(saved, "PNG")
    return saved.getvalue()


def is_white(pdf: bytes, page: int, *, within_mm: float) -> bool:
    """Whether nothing is printed so near to the edges of a page, where printers leave out."""
    dpi = 50
    pixels = picture(pdf, page, dpi, grey=True)
    edge = round(within_mm / 25.4 * dpi)
    rims = (pixels[:edge], pixels[-edge:], pixels[:, :edge], pixels[:, -edge:])
    return all(rim.min() == 255 for rim in rims)


def words(pdf: bytes, page: int) -> list[tuple[float, float, float, float, str]]:
    """The words of a page, from 1: left, top, right, bottom in points, and what they say."""
    asked = ["pdftotext", "-bbox", "-f", str(page), "-l", str(page), "-", "-"]
    made = subprocess.run(asked, input=pdf, stdout=subprocess.PIPE, check=True)
    found = WORD.findall(made.stdout.decode())
    return [(*map(float, box), said) for *box, said in found]


def overlaps(found: list[tuple[float, float, float, float, str]]) -> list[tuple[str, str]]:
    """The words of a page that lie on each other.

    Boxes are as high as the font's tallest signs: those of lines set close touch, so a quarter is
    taken off at the top and at the bottom.
    """
    slim = []
    for left, top, right, bottom, said in found:
        off = (bottom - top) / 4
        slim.append((top + off, bottom - off, left + 0.5, right - 0.5, said))
    slim.sort()
    meeting = []
    for number, (_, bottom, left, right, said) in enumerate(slim):
        for top, _, other_left, other_right, other in slim[number + 1 :]:
            if top >= bottom:
                break
            if left < other_right and other_left < right:
                meeting.append((said, other))
    return meeting
