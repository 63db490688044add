"""Every picture, as the pixels it comes to: these hang on matplotlib and its FreeType."""

from __future__ import annotations

import hashlib
import io
import tempfile
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from tests.net.names import house
from tests.net.pieces import demo, patches, piece, project
from tests.net.sections import section
from tests.net.text import Titled


def pixels(figure) -> str:
    """The size of a picture drawn small, and a digest of its pixels."""
    figure.set_dpi(50)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    drawn = np.asarray(canvas.buffer_rgba())
    return f"{drawn.shape} {hashlib.sha256(drawn.tobytes()).hexdigest()}"


def drawn_plans():
    """The demo, a small piece in rounds with embroidery and a middle start, one in garter."""
    yield "demo", house.make_plan(demo())
    tiny = piece("tiny")
    taken = house.find_offers(tiny)[0].choices
    yield "tiny", house.make_plan(replace(tiny, choices=taken, units="in"))
    chart = patches(200, stitches=16, rows=9, yarns=4, shaped=True)
    how = house.Construction(fabric="garter", hand="left", first_row="WS")
    limits = house.CarryLimits(2, 5, 2)
    yield "garter", house.make_plan(project(chart, how=how, limits=limits))


@section
def strand_colours() -> Titled:
    """Which strand each cell shows and in which shade; black or white on a colour."""
    for name, plan in drawn_plans():
        grid = house.strand_grid(plan)
        yield name, [grid, house.strand_shades(plan, grid)]
    inks = [house.ink_on(f"#{grey:02x}{grey:02x}{grey:02x}") for grey in range(0, 256, 15)]
    yield "inks", inks


def reported() -> Titled:
    """The pictures that the report writes of a tall, narrow piece."""
    chart = patches(201, stitches=7, rows=44, yarns=2)
    letters = house.Chart.from_cells(chart.cells, ("Aa", "Bbb"))
    with tempfile.TemporaryDirectory() as place, redirect_stdout(io.StringIO()):
        folder = house.start_piece(Path(place), "tall", letters, {})
        house.report_main([str(folder)])
        for path in sorted((folder / "plan").glob("*.png")):
            with Image.open(path) as picture:
                drawn = picture.convert("RGB")
            yield f"report: {path.name}", [*drawn.size, drawn.tobytes()]


@section
def pictures() -> Titled:
    """All pictures of three plans, of the log, the trade-off, and of bobbins."""
    for name, plan in drawn_plans():
        yield f"{name}: chart", pixels(house.draw_chart(plan))
        yield f"{name}: strands", pixels(house.draw_strands(plan))
        yield f"{name}: order", pixels(house.draw_strand_order(plan, 3))
        yield f"{name}: load", pixels(house.draw_load(plan))
        table = house.bobbin_table(plan, kinds=("bobbin", "butterfly"))
        yield f"{name}: bobbins", pixels(house.draw_bobbins(plan, table))
    yield from reported()
    table = house.tradeoff(piece("tiny"))
    yield "trade-off", pixels(house.draw_tradeoff(table, "Tiny V"))
    log = demo().measurements
    for some in ((), log):
        used = house.planned_against_used(some)
        yield "used", pixels(house.draw_used_against_planned(used))
        yield "multipliers", pixels(house.draw_multipliers(some))
