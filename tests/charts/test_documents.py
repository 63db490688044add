"""Pages of PDFs, drawn by matplotlib and reportlab, and drawings, read back as charts."""

from __future__ import annotations

import io
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pypdf
import pytest
from matplotlib.figure import Figure
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen import canvas

from planner.charts import (
    documents,
    is_drawing,
    is_pdf,
    open_document,
    open_drawing,
    read_grid_picture,
)
from planner.errors import PlanError

CELLS = np.random.default_rng(17).integers(0, 4, (24, 31))
COLOURS = ["#1f3a5f", "#f2e8cf", "#a4243b", "#5b8c5a"]


def by_matplotlib(kind):
    figure = Figure(figsize=(7, 5))
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    palette = matplotlib.colors.ListedColormap(COLOURS)
    axes.pcolormesh(CELLS, cmap=palette, edgecolors="black", linewidth=0.5)
    axes.set_aspect("equal")
    axes.axis("off")
    file = io.BytesIO()
    figure.savefig(file, format=kind)
    return file.getvalue()


def by_reportlab():
    """Three pages: a title, the chart with numbers at its sides, and words."""
    file = io.BytesIO()
    page = canvas.Canvas(file, pagesize=A4)
    page.drawString(72, 700, "A cushion in four yarns")
    page.showPage()
    side = 12
    for (row, column), cell in np.ndenumerate(CELLS):
        page.setFillColor(COLOURS[cell])
        page.rect(80 + side * column, 200 + side * row, side, side, stroke=1, fill=1)
    page.setFillColor("black")
    for row in range(0, len(CELLS), 5):
        page.drawString(460, 203 + side * row, str(row + 1))
    page.showPage()
    page.drawString(72, 700, "Sew the ends in.")
    page.save()
    return file.getvalue()


def is_the_chart(art):
    read = read_grid_picture(art)
    assert read.cells.shape == CELLS.shape
    # Each colour stands for the same cells, whatever their order.
    pairs = set(zip(read.cells.ravel().tolist(), CELLS.ravel().tolist(), strict=True))
    assert len(pairs) == len(COLOURS)


def test_a_page_of_a_pdf():
    data = by_reportlab()
    assert is_pdf(data)
    document = open_document(data, "cushion.pdf")
    assert document.pages == 3
    small = document.small(2)
    assert max(small.shape) == documents.SMALL_PX
    art = document.picture(2)
    assert art.notes == ("page 2 of 3 pages",)
    is_the_chart(art)


def test_a_part_of_a_page():
    data = by_reportlab()
    whole = open_document(data, "cushion.pdf").picture(2)
    part = open_document(data, "cushion.pdf").picture(2, (0.1, 0.3, 0.9, 0.8))
    is_the_chart(part)
    assert part.notes == ("a part of page 2 of 3 pages",)
    # The part is drawn more finely than it was in the whole.
    assert part.pixels.shape[1] > 0.8 * whole.pixels.shape[1]


def test_what_matplotlib_draws():
    is_the_chart(open_document(by_matplotlib("pdf"), "chart.pdf").picture(1))
    drawing = by_matplotlib("svg")
    assert is_drawing(drawing)
    is_the_chart(open_drawing(drawing, "chart.svg"))


def test_a_drawing_keeps_its_shape():
    svg = """<svg xmlns="http://www.w3.org/2000/svg" width="30" height="10">
    <rect width="30" height="10" fill="#a4243b"/><rect width="10" height="10" fill="#f2e8cf"/></svg>
    """
    art = open_drawing(svg.encode(), "flag.svg")
    height, width = art.pixels.shape[:2]
    assert width == documents.DRAWN_PX
    assert width / height == pytest.approx(3, rel=0.01)
    assert art.pixels[height // 2, width // 6].tolist() == [0xF2, 0xE8, 0xCF]


def locked():
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(by_reportlab()))
    writer.encrypt("swordfish")
    file = io.BytesIO()
    writer.write(file)
    return file.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"%PDF-1.4 and no more", "damaged or was cut short"),
        (by_reportlab()[:800], "damaged or was cut short"),
        (locked(), "protected by a password"),
    ],
)
def test_refused_documents(data, words):
    with pytest.raises(PlanError, match=words):
        open_document(data, "cushion.pdf")


def test_pages_and_parts_that_are_none():
    document = open_document(by_reportlab(), "cushion.pdf")
    with pytest.raises(PlanError, match="has 3 pages, and no page 4"):
        document.picture(4)
    with pytest.raises(PlanError, match="The part of the page is empty"):
        document.picture(2, (0.5, 0.2, 0.5, 0.8))


def test_too_many_pages(monkeypatch):
    monkeypatch.setattr(documents, "MOST_PAGES", 2)
    with pytest.raises(PlanError, match="has 3 pages; 1 to 2 can be looked through"):
        open_document(by_reportlab(), "cushion.pdf")


def uses(depth):
    """A drawing whose parts use each other ten times each."""
    parts = ""
    for i in range(depth):
        ten = f'<use href="#a{i}"/>' * 10
        parts += f'<g id="a{i + 1}">{ten}</g>'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><defs>'
        f'<rect id="a0" width="1" height="1"/>{parts}</defs><use href="#a{depth}"/></svg>'
    )


LAUGH = ""
for number in range(9):
    LAUGH += f'<!ENTITY a{number + 1} "' + f"&a{number};" * 10 + '">'
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="5" height="5">{}</svg>'


@pytest.mark.parametrize(
    ("drawing", "words"),
    [
        (uses(9), "comes to more than 500,000 shapes"),
        (f'<!DOCTYPE svg [<!ENTITY a0 "a">{LAUGH}]>{SVG.format("<text>&a9;</text>")}', "cannot be"),
        (SVG.format("<g>" * 20_000 + "</g>" * 20_000), "cannot be drawn"),
        (SVG.format('<image href="/etc/hostname" width="5" height="5"/>'), "cannot be drawn"),
        (SVG.format(""), "with nothing in it"),
        ("<svg", "cannot be drawn"),
    ],
)
def test_refused_drawings(drawing, words):
    with pytest.raises(PlanError, match=words):
        open_drawing(drawing.encode(), "leaf.svg")


def test_what_uses_itself_counts_once():
    part = SVG.format('<g id="a"><use href="#a"/></g>')
    assert documents._shapes_in(ElementTree.fromstring(part)) < 10
    few = ElementTree.fromstring(uses(3))
    assert documents._shapes_in(few) > 1000
