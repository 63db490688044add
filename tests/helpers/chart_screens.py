"""Charts as a web page shows them: tables, boxes and drawings, laid out by Chromium.

`screen_styles` are styles as those of `chart_pictures`, each a page of HTML that `taken_by` a
browser becomes a picture. At a scale of 110 % or 125 % lines fall between the pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from shutil import which

import numpy as np

from tests.helpers.chart_pictures import NO_STITCH, YARNS, Drawn, Style, chart, shaped
from tests.helpers.chart_shapes import Rng, Source

Camera = Callable[[str, float], bytes]  # a page of HTML and its scale, as a PNG
OPTIONS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking")

PAGE = """<!doctype html><meta charset="utf-8"><style>
body {{ margin: 24px; width: max-content; font: 13px sans-serif; {body} }}
td, th {{ padding: 0; box-sizing: border-box; }}
{style}
</style>{content}"""
TABLE = "table {{ border-collapse: collapse; }} td {{ width: {w}px; height: {h}px; {td} }}"
SIZE = """() => {
  const { right, bottom } = document.body.getBoundingClientRect();
  const margin = parseFloat(getComputedStyle(document.body).marginRight);
  return [Math.ceil(right + margin), Math.ceil(bottom + margin)];
}"""
# Paths in a square of 10 × 10, for yarns told by signs; the first is the ground.
SIGNS = (
    "",
    "M2 2 L8 8 M8 2 L2 8",
    "M5 1 A4 4 0 1 0 5.01 1 Z",
    "M5 1 L9 9 L1 9 Z",
    "M1 5 H9 M5 1 V9",
)


@contextmanager
def chromium() -> Iterator[object]:
    """Chromium without a window; what is asked of it outside of pytest."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=which("chromium"), args=list(OPTIONS))
        yield browser
        browser.close()


def taken_by(browser) -> Camera:
    """What makes pictures of pages, by one page of a browser for each scale."""
    pages: dict[float, object] = {}

    def picture(html: str, scale: float) -> bytes:
        if scale not in pages:
            size = {"width": 500, "height": 300}
            pages[scale] = browser.new_page(viewport=size, device_scale_factor=scale)
        page = pages[scale]
        page.set_content(html)
        width, height = page.evaluate(SIZE)
        clip = {"x": 0, "y": 0, "width": width, "height": height}
        return page.screenshot(full_page=True, clip=clip)

    return picture


def screen_styles(camera: Camera) -> dict[str, Style]:
    """The styles, each taken by this camera."""
    return {f"page: {name}": partial(style, camera=camera) for name, style in SCREENS.items()}


def _hex(yarn: int) -> str:
    return "#{:02x}{:02x}{:02x}".format(*YARNS[yarn])


def _rows(cells: np.ndarray, cell: Callable[[int], str], *, after=lambda number: "") -> str:
    lines = []
    for number, row in zip(range(len(cells), 0, -1), cells.tolist(), strict=True):
        lines.append(f"<tr>{''.join(map(cell, row))}{after(number)}</tr>")
    return f"<table>{''.join(lines)}</table>"


def _filled(yarn: int) -> str:
    return "<td class=none></td>" if yarn == NO_STITCH else f'<td bgcolor="{_hex(yarn)}"></td>'


def table(
    rng: Rng,
    source: Source,
    *,
    camera: Camera,
    cells=chart,
    td="border: 1px solid #888;",
    size=(18, 18),
    body="",
    scale=1.0,
    asks=False,
) -> Drawn:
    """A table with a filled cell for each stitch."""
    made = cells(rng, source)
    style = TABLE.format(w=size[0], h=size[1], td=td) + " td.none { border: none; }"
    page = PAGE.format(body=body, style=style, content=_rows(made, _filled))
    return Drawn(camera(page, scale), made, asks=asks)


def boxes(
    rng: Rng, source: Source, *, camera: Camera, gap=0, radius=0, side=16.0, scale=1.0
) -> Drawn:
    """Boxes in a grid, without borders."""
    made = chart(rng, source)
    style = (
        f".chart {{ display: grid; gap: {gap}px; "
        f"grid-template-columns: repeat({made.shape[1]}, {side}px); grid-auto-rows: {side}px; }}"
        f".chart div {{ border-radius: {radius}px; }}"
    )
    cells = "".join(f'<div style="background: {_hex(yarn)}"></div>' for yarn in made.ravel())
    page = PAGE.format(body="", style=style, content=f"<div class=chart>{cells}</div>")
    return Drawn(camera(page, scale), made)


def signs(rng: Rng, source: Source, *, camera: Camera, scale=1.0) -> Drawn:
    """A drawing (SVG) of black signs in a grid, the ground left empty."""
    made = chart(rng, source)
    rows, stitches = made.shape
    defined = "".join(f'<path id="s{i}" d="{path}"/>' for i, path in enumerate(SIGNS))
    used = "".join(
        f'<use href="#s{yarn}" x="{10 * column}" y="{10 * row}"/>'
        for (row, column), yarn in np.ndenumerate(made)
    )
    lines = "".join(f"M{10 * x} 0 V{10 * rows} " for x in range(stitches + 1))
    lines += "".join(f"M0 {10 * y} H{10 * stitches} " for y in range(rows + 1))
    drawing = (
        f'<svg width="{20 * stitches + 2}" viewBox="-0.5 -0.5 {10 * stitches + 1} {10 * rows + 1}">'
        f"<defs>{defined}</defs>"
        f'<path d="{lines}" fill="none" stroke="#999" stroke-width="0.5"/>'
        f'<g fill="black" stroke="black" stroke-width="1">{used}</g></svg>'
    )
    return Drawn(camera(PAGE.format(body="", style="", content=drawing), scale), made, asks=True)


def drawing(rng: Rng, source: Source, *, camera: Camera, wide=13.7, scale=1.0) -> Drawn:
    """A drawing (SVG) of squares with thin lines, laid out to a width of its own."""
    made = chart(rng, source)
    rows, stitches = made.shape
    squares = "".join(
        f'<rect x="{column}" y="{row}" width="1" height="1" fill="{_hex(yarn)}"/>'
        for (row, column), yarn in np.ndenumerate(made)
    )
    content = (
        f'<svg width="{wide * stitches}" viewBox="-0.1 -0.1 {stitches + 0.2} {rows + 0.2}">'
        f'<g stroke="#333" stroke-width="0.06">{squares}</g></svg>'
    )
    return Drawn(camera(PAGE.format(body="", style="", content=content), scale), made)


def headings(rng: Rng, source: Source, *, camera: Camera, scale=1.0) -> Drawn:
    """A table whose headings stay: letters above and numbers at the left, as a spreadsheet has."""
    made = chart(rng, source)
    head = "".join(f"<th>{_column(number)}</th>" for number in range(made.shape[1]))
    lines = [f"<tr><th></th>{head}</tr>"]
    for number, row in enumerate(made.tolist(), 1):
        lines.append(f"<tr><th>{number}</th>{''.join(map(_filled, row))}</tr>")
    style = TABLE.format(w=24, h=20, td="border: 1px solid #d0d0d0;") + (
        "body { margin: 0; } th { position: sticky; top: 0; left: 0; min-width: 36px; height: 20px;"
        " border: 1px solid #c0c0c0; background: #eeeeee; color: #444; font: 11px sans-serif; }"
        "tr:first-child th { min-width: 24px; }"
    )
    page = PAGE.format(body="", style=style, content=f"<table>{''.join(lines)}</table>")
    return Drawn(camera(page, scale), made)


def _column(number: int) -> str:
    return (chr(64 + number // 26) if number >= 26 else "") + chr(65 + number % 26)


def leaflet(rng: Rng, source: Source, *, camera: Camera, scale=1.0) -> Drawn:
    """A page with words above and below, rows numbered at the right, and a key of the yarns."""
    made = chart(rng, source)
    words = "Work the rows of the chart from the bottom, right-side rows from the right. " * 3
    key = "".join(
        f'<p><span style="background: {_hex(yarn)}"></span> yarn {yarn + 1}</p>'
        for yarn in range(made.max() + 1)
    )
    chart_html = _rows(made, _filled, after=lambda number: f"<th>{number}</th>")
    style = TABLE.format(w=17, h=17, td="border: 1px solid #777;") + (
        "h1 { font-size: 24px; } div { max-width: 640px; }"
        "th { font: 10px sans-serif; padding-left: 5px; text-align: left; }"
        "span { display: inline-block; width: 16px; height: 16px; border: 1px solid black; }"
    )
    content = (
        f"<h1>Meadow cushion</h1><div>{words}</div><br>{chart_html}<h2>Key</h2>{key}"
        f"<div>{words}</div>"
    )
    return Drawn(camera(PAGE.format(body="", style=style, content=content), scale), made)


SCREENS = {
    "table": table,
    "table, low cells": partial(table, size=(21, 16)),
    "table, heavy borders": partial(table, td="border: 2px solid black;"),
    "table, dark": partial(
        table, td="border: 1px solid #555;", body="background: #1b1b1f; color: #ddd;"
    ),
    "table, shaped": partial(table, cells=shaped, asks=True),
    "table at 110 %": partial(table, scale=1.1),
    "table at 125 %": partial(table, scale=1.25),
    "table at 67 %": partial(table, scale=0.67, size=(20, 20)),
    "boxes": boxes,
    "boxes with gaps": partial(boxes, gap=2, radius=3),
    "boxes at 110 %": partial(boxes, scale=1.1, side=14),
    "signs": signs,
    "signs at 125 %": partial(signs, scale=1.25),
    "drawing": drawing,
    "drawing at 150 %": partial(drawing, scale=1.5, wide=9.3),
    "headings": headings,
    "headings at 110 %": partial(headings, scale=1.1),
    "words and key": leaflet,
    "words and key at 125 %": partial(leaflet, scale=1.25),
}
