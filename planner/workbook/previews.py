"""What was read from a file, as HTML: the chart small, what it comes to, cells from near."""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np

from planner import charts
from planner.charts import Doubt, Loaded
from planner.piece import Chart, Project, Yarn
from planner.units import CM_PER, counted

if TYPE_CHECKING:
    from PIL import Image

RING = "#d00000"
CELLS_AROUND = 4  # a cell in doubt is shown with so many cells on each side
NEAR_PX = 220  # the longer side of such a picture


def preview_html(
    chart: Chart, yarns: Mapping[str, Yarn], aspect: float, doubtful: np.ndarray | None = None
) -> str:
    """The chart small, with the letters of its colours; doubtful cells ringed."""
    # Here and below: whoever opens no file need not wait for it.
    from PIL import Image

    image = Image.open(BytesIO(charts.chart_png(chart, yarns, aspect))).convert("RGB")
    if doubtful is not None:
        _ring(image, chart, doubtful)
    legend = " &ensp; ".join(
        _legend(yarns[letter], count) for letter, count in chart.stitches().items()
    )
    return (
        f'<img src="{_source(image)}" alt="The chart as it was read" '
        'style="max-width:100%; max-height:420px; border:1px solid #888">'
        f"<br>{legend}"
    )


def _ring(image: Image.Image, chart: Chart, doubtful: np.ndarray) -> None:
    """Draw a ring round each doubtful cell, red on white so that it shows on any yarn."""
    wide, high = image.width / chart.columns, image.height / chart.rows
    from PIL import ImageDraw

    draw = ImageDraw.Draw(image)
    for row, column in np.argwhere(doubtful).tolist():
        # Cells are counted from the bottom row, pixels from the top.
        from_top = chart.rows - 1 - row
        left, top = column * wide, from_top * high
        box = (left, top, left + wide - 1, top + high - 1)
        draw.rectangle(box, outline="white", width=3)
        draw.rectangle(box, outline=RING, width=2)


def _legend(yarn: Yarn, stitches: int) -> str:
    look = f"width:1em; height:1em; border:1px solid #222; background:{yarn.colour}"
    patch = f'<span style="display:inline-block; {look}"></span>'
    return f"{patch} {html.escape(f'{yarn.title}, {stitches:,} st')}"


def headline_of(project: Project, loaded: Loaded) -> str:
    """The size of what was read, its yarns, and what it takes to knit it, in a line."""
    chart, gauge = loaded.chart, project.gauge
    unit_cm = float(CM_PER[project.units])
    width = chart.columns * gauge.stitch_cm / unit_cm
    height = chart.rows * project.how.rows_per_chart_row * gauge.row_cm / unit_cm
    strands = loaded.traced(project)
    return (
        f"{chart.columns} stitches × {chart.rows} rows, {width:.0f} × {height:.0f} {project.units}"
        f" · {counted(len(chart.letters), 'yarn')} · {counted(strands.count, 'strand')} · "
        f"{strands.ends} ends · at most {int(strands.live.max())} at once"
    )


AS_DRAWN = "It is shown with cells as they are drawn."
BY_GAUGE = "It is shown by the gauge of {}: {}."
NOT_COUNTED = "It is shown by {}, which a new piece begins with: count yours."


def _shown_by(project: Project, loaded: Loaded, *, is_new: bool) -> str:
    """By what the chart is as high as it is shown."""
    if loaded.aspect:
        return AS_DRAWN
    gauge = project.gauge.in_words(project.units)
    return NOT_COUNTED.format(gauge) if is_new else BY_GAUGE.format(project.name, gauge)


def loaded_html(
    project: Project, loaded: Loaded, yarns: Mapping[str, Yarn], *, is_new: bool
) -> str:
    """What was read for a piece, which may be a new one, as it is looked at before it is taken."""
    chart = loaded.chart
    # A letter that the file gives no colour, and the piece does not know, is shown all the same.
    nameless = {letter: Yarn(letter) for letter in chart.letters}
    aspect = loaded.aspect or charts.aspect_of(project)
    picture = preview_html(chart, nameless | dict(yarns), aspect, loaded.doubtful)
    line = f'<div class="plan-headline">{html.escape(headline_of(project, loaded))}</div>'
    said = (_shown_by(project, loaded, is_new=is_new), *loaded.said)
    notes = "<br>".join(html.escape(note) for note in said)
    return f'{line}{picture}<div class="plan-note">{notes}</div>'


def near_html(loaded: Loaded, doubt: Doubt) -> str:
    """A cell in doubt as it was seen, with those around it, and a ring round it; "" if not kept."""
    if loaded.seen is None:
        return ""
    from PIL import Image, ImageDraw

    pixels = loaded.seen()
    chart = loaded.chart
    wide, high = pixels.shape[1] / chart.columns, pixels.shape[0] / chart.rows
    left, top = (chart.columns - doubt.stitch) * wide, (chart.rows - doubt.row) * high
    first_x, last_x = _around(left, wide, pixels.shape[1])
    first_y, last_y = _around(top, high, pixels.shape[0])
    part = Image.fromarray(np.ascontiguousarray(pixels[first_y:last_y, first_x:last_x]))
    scale = NEAR_PX / max(part.size)
    image = part.resize((max(1, round(part.width * scale)), max(1, round(part.height * scale))))
    x, y = (left - first_x) * scale, (top - first_y) * scale
    box = (x - 2, y - 2, x + wide * scale + 1, y + high * scale + 1)
    draw = ImageDraw.Draw(image)
    draw.rectangle(box, outline="white", width=4)
    draw.rectangle(box, outline=RING, width=2)
    words = f"Row {doubt.row}, stitch {doubt.stitch} in the picture, with the cells around it"
    return f'<img src="{_source(image)}" alt="{words}">'


def _around(start: float, cell: float, end: int) -> tuple[int, int]:
    """The first pixel of a cell and of those before it, and the last of those behind it."""
    first = max(0, int(start - CELLS_AROUND * cell))
    last = min(end, int(start + (CELLS_AROUND + 1) * cell) + 1)
    return first, last


def _source(image: Image.Image) -> str:
    """A picture in few colours as an address that holds it: a notebook keeps it as text."""
    reduced = BytesIO()
    image.quantize(64).save(reduced, "PNG")
    return f"data:image/png;base64,{base64.b64encode(reduced.getvalue()).decode()}"
