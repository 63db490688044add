"""The form that reads a file: a picture, a spreadsheet or written rows becomes a chart, is looked at, and goes on the desk."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable
from dataclasses import dataclass, field
from io import BytesIO

import ipywidgets as widgets
import numpy as np
from coloraide import Color
from ipywidgets import Layout
from PIL import Image, ImageDraw

from planner.charts import (
    CHOICES,
    LEVELS,
    SAME,
    WRITTEN_ROW,
    ChartedPicture,
    chart_picture,
    chart_png,
    compare_levels,
    free_letter,
    open_artwork,
    read_grid_picture,
    read_rows,
    read_sheet,
    set_on,
    stitches_for,
    tidied,
)
from planner.errors import PlanError
from planner.folder import decoded
from planner.piece import Chart, Yarn
from planner.units import CM_PER
from planner.workbook.desk import Desk, Form, Pane, notice, table_html
from planner.workbook.forms import LINE, heard, labelled

FLAT, PHOTO, GRID = "flat art", "a photograph", "a chart drawn on a grid"
PICKED, IN_HAND = "colours picked from the picture", "the yarns of this piece"
WHOLE, ONTO = "in place of the chart on the desk", "onto the chart on the desk"
FOUND = "find out"
PICTURES = (".png", ".jpg", ".jpeg")


@dataclass(frozen=True)
class Loaded:
    """What a file turned out to hold. `colours` of its letters (#rrggbb) as far as it shows them; `said` what was done and
    chosen; `asks` what is in doubt; `doubtful` cells, rows × columns from the bottom; `table` is HTML."""

    chart: Chart
    colours: dict[str, str] = field(default_factory=dict)
    said: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    doubtful: np.ndarray | None = None
    table: str = ""


# Each kind of file gives the boxes of its settings and a function that reads it by them.
Reader = tuple[list[widgets.Widget], Callable[[], Loaded]]


def _letters_for(palette, yarns: dict[str, Yarn]) -> list[str]:
    """A letter for each colour: that of a yarn which looks the same, else a free one."""
    letters: list[str] = []
    for colour in palette:
        same = (
            y
            for y in yarns.values()
            if y.letter not in letters and Color(colour).delta_e(y.colour, method="2000") < SAME
        )
        known = next(same, None)
        letters.append(known.letter if known else free_letter({*yarns, *letters}))
    return letters


def _picture(desk: Desk, data: bytes, name: str) -> Reader:
    art, project = open_artwork(data, name), desk.project
    gauge, unit = project.gauge, project.units
    aspect = float(gauge.aspect) * project.how.rows_per_chart_row
    stitch = gauge.stitch_cm / float(CM_PER[unit])
    start = project.chart.columns
    what = labelled(
        widgets.Dropdown,
        "it is",
        options=(FLAT, PHOTO, GRID),
        value=FLAT if art.looks_flat else PHOTO,
    )
    width = labelled(widgets.FloatText, f"width ({unit})", value=round(start * stitch, 1))
    stitches = labelled(widgets.BoundedIntText, "or stitches across", value=start, min=1, max=1000)
    rows = labelled(widgets.BoundedIntText, "rows (0: as its shape asks)", value=0, max=2000)
    grid_stitches = labelled(
        widgets.BoundedIntText, "stitches (0: counted from the grid)", value=0, max=1000
    )
    grid_rows = labelled(
        widgets.BoundedIntText, "rows (0: counted from the grid)", value=0, max=2000
    )
    yarns = labelled(widgets.Dropdown, "in", options=(PICKED, IN_HAND))
    grid_count = labelled(widgets.BoundedIntText, "number of yarns (0: find out)", value=0, max=40)
    count = labelled(
        widgets.BoundedIntText, "number of yarns", value=art.suggested_yarns, min=1, max=40
    )
    slider = {"min": 0, "max": 1, "step": 0.05, "value": 0.5, "continuous_update": False}
    across = labelled(widgets.FloatSlider, "if it is cropped: from the left", **slider)
    up = labelled(widgets.FloatSlider, "from below", **slider)
    zoom = labelled(
        widgets.FloatSlider, "enlarged", **slider | {"min": 1, "max": 8, "step": 0.25, "value": 1}
    )
    tidy = labelled(
        widgets.Dropdown, "tidied", options=[(words, i) for i, (*_, words) in enumerate(LEVELS)]
    )

    def by_width(_):
        if round(stitches.value * stitch, 1) != width.value and width.value > 0:
            stitches.value = stitches_for(width.value, gauge, unit)

    def by_stitches(_):
        if stitches_for(max(width.value, stitch), gauge, unit) != stitches.value:
            width.value = round(stitches.value * stitch, 1)

    def by_kind(_=None):
        for boxes, kinds in ((free, (FLAT, PHOTO)), (counted_boxes, (GRID,))):
            for box in boxes:
                box.layout = Layout(
                    width=LINE.width, display=None if what.value in kinds else "none"
                )

    width.observe(by_width, names="value")
    stitches.observe(by_stitches, names="value")
    what.observe(by_kind, names="value")
    free, counted_boxes = (
        (width, stitches, rows, count, across, up, zoom),
        (grid_stitches, grid_rows, grid_count),
    )
    by_kind()

    try:
        grid = read_grid_picture(art)
        on_grid = f"This looks like a chart drawn on a grid, {grid.cells.shape[1]} stitches × {grid.cells.shape[0]} rows: say so above."
    except PlanError:
        on_grid = ""

    def read() -> Loaded:
        own = yarns.value == IN_HAND
        in_hand = dict(desk.kept.yarns) or project.all_yarns
        colours = [yarn.colour for yarn in in_hand.values()] if own else ()
        if what.value == GRID:
            size = {"stitches": grid_stitches.value or None, "rows": grid_rows.value or None}
            picture = read_grid_picture(art, **size, yarns=colours, count=grid_count.value or None)
        else:
            high = rows.value or art.rows_for(stitches.value, aspect)
            place = {"across": across.value, "up": up.value, "zoom": zoom.value}
            ways = {"flat": what.value == FLAT, "yarns": colours, "count": count.value}
            picture = chart_picture(art, stitches.value, high, aspect, **ways, **place)
        letters = list(in_hand) if own else _letters_for(picture.palette, in_hand)
        levels = tidied(picture, tube=project.how.in_rounds)
        table = compare_levels(
            levels, project.how, gauge, project.limits, by_yarn=project.by_yarn, letters=letters
        )
        table.insert(0, "chosen", ["→" if i == tidy.value else "" for i in range(len(table))])
        chosen: ChartedPicture = levels[tidy.value]
        doubtful = getattr(picture, "doubtful", None)
        return Loaded(
            chosen.chart(letters),
            dict(zip(letters, picture.palette, strict=False)),
            (
                *picture.notes,
                *([] if doubtful is None or not doubtful.any() else [_doubts(picture)]),
            ),
            asks=(on_grid,) if on_grid and what.value != GRID else (),
            doubtful=doubtful,
            table=table_html(table),
        )

    return [
        what,
        width,
        stitches,
        rows,
        grid_stitches,
        grid_rows,
        yarns,
        count,
        grid_count,
        across,
        up,
        zoom,
        tidy,
    ], read


def _doubts(picture) -> str:
    """Where a picture of a chart could not be read for sure, a few places in words."""
    places = np.argwhere(picture.doubtful)
    stitch = picture.cells.shape[1]
    said = [
        f"row {row + 1} stitch {stitch - column}: {picture.why[row, column]}"
        for row, column in places[:5].tolist()
    ]
    more = f" and {len(places) - 5} more" if len(places) > 5 else ""
    return f"Look again at the cells marked below: {'; '.join(said)}{more}."


def _sheet(desk: Desk, data: bytes, name: str) -> Reader:
    colours = {letter: yarn.colour for letter, yarn in desk.project.yarns.items()}
    first = read_sheet(data, name, yarns=colours)
    sheet = labelled(widgets.Dropdown, "sheet", options=first.sheets, value=first.sheet)
    area = labelled(
        widgets.Text, "its cells (empty: find out)", placeholder=first.area, continuous_update=False
    )
    labels = {
        "by": "the yarns are told by",
        "row_1": "row 1 is at the",
        "blanks": "blank cells are",
        "hidden": "hidden rows are",
    }
    boxes = {
        key: labelled(
            widgets.Dropdown, labels[key], options=choices if key == "hidden" else (FOUND, *choices)
        )
        for key, choices in CHOICES.items()
    }

    def read() -> Loaded:
        chosen = {key: None if box.value == FOUND else box.value for key, box in boxes.items()}
        only = sheet.value if len(first.sheets) > 1 else None
        found = read_sheet(data, name, sheet=only, area=area.value or None, yarns=colours, **chosen)
        asks = tuple(f"{ask.words} Taken: {ask.taken}." for ask in found.asks)
        return Loaded(found.chart, dict(found.colours), found.notes, asks)

    return [*([sheet] if len(first.sheets) > 1 else []), area, *boxes.values()], read


def _rows(desk: Desk, text: str) -> Reader:
    return [], lambda: Loaded(
        read_rows(text, desk.project.how), said=("Written rows, read as your piece is worked.",)
    )


def reader_for(desk: Desk, data: bytes, name: str) -> Reader:
    """The boxes and the reading function for a file, by what it holds rather than by its name alone."""
    if data[:4] == b"\x89PNG" or data[:3] == b"\xff\xd8\xff" or name.lower().endswith(PICTURES):
        return _picture(desk, data, name)
    if data[:2] != b"PK" and name.lower().endswith((".txt", ".text")):
        text = decoded(data, name)
        if any(WRITTEN_ROW.fullmatch(line.strip()) for line in text.splitlines()):
            return _rows(desk, text)
    return _sheet(desk, data, name)


def preview_html(
    chart: Chart, yarns: dict[str, Yarn], aspect: float, doubtful: np.ndarray | None = None
) -> str:
    """The chart small, with the letters of its colours; doubtful cells ringed."""
    image = Image.open(BytesIO(chart_png(chart, yarns, aspect))).convert("RGB")
    wide, high = image.width / chart.columns, image.height / chart.rows
    draw = ImageDraw.Draw(image)
    for row, column in np.argwhere(doubtful).tolist() if doubtful is not None else ():
        box = (
            column * wide,
            (chart.rows - 1 - row) * high,
            (column + 1) * wide - 1,
            (chart.rows - row) * high - 1,
        )
        draw.rectangle(box, outline="white", width=3)
        draw.rectangle(box, outline="#d00000", width=2)
    out = BytesIO()
    image.quantize(64).save(out, "PNG")
    picture = (
        f'<img src="data:image/png;base64,{base64.b64encode(out.getvalue()).decode()}" alt="The chart as it was read" '
        f'style="max-width:520px; max-height:420px; border:1px solid #888">'
    )
    counts = chart.stitches()
    patch = '<span style="display:inline-block; width:1em; height:1em; border:1px solid #222; background:{}"></span> {}'
    legend = " &ensp; ".join(
        patch.format(yarns[y].colour, html.escape(f"{yarns[y].title}, {n:,} st"))
        for y, n in counts.items()
    )
    return f"{picture}<br>{legend}"


def load_form(desk: Desk) -> Form:
    """Choose a file, see what it is read as, put it on the desk."""
    message, seen = Pane(), Pane()
    upload = widgets.FileUpload(
        accept=".png,.jpg,.jpeg,.xlsx,.xlsm,.csv,.tsv,.txt",
        description="Choose a file",
        layout=widgets.Layout(width="210px"),
    )
    pasted = labelled(
        widgets.Textarea,
        "or paste written rows",
        rows=4,
        placeholder="Row 1 (RS): 32 A\nRow 2 (WS): 10 A, 3 B, 19 A",
    )
    read_pasted = widgets.Button(
        description="Read these rows", layout=widgets.Layout(width="210px")
    )
    settings = widgets.VBox()
    goes = labelled(widgets.Dropdown, "it goes", options=(WHOLE, ONTO))
    stitch = labelled(widgets.IntText, "its lower right corner at stitch", value=1)
    row = labelled(widgets.IntText, "and row", value=1)
    button = widgets.Button(description="Put it on the desk", layout=widgets.Layout(width="210px"))
    after = widgets.VBox([goes, stitch, row, button])
    now: dict[str, Loaded] = {}

    def place(_=None):
        for box in (stitch, row):
            box.layout = Layout(width=LINE.width, display=None if goes.value == ONTO else "none")

    def with_yarns(loaded: Loaded) -> dict[str, Yarn]:
        new = {
            y: Yarn(y, colour=loaded.colours[y])
            for y in loaded.chart.letters
            if y in loaded.colours
        }
        # What an earlier picture brought along and was never kept goes again with it.
        stay = new.keys() if goes.value == WHOLE else new.keys() | set(desk.project.chart.letters)
        return new | {
            y: yarn for y, yarn in desk.project.yarns.items() if y in desk.kept.yarns or y in stay
        }

    def show(read: Callable[[], Loaded]):
        now.clear()
        seen.value, after.layout.display = "", "none"
        loaded = read()
        now["loaded"] = loaded
        project = desk.project
        aspect = float(project.gauge.aspect) * project.how.rows_per_chart_row
        said = "<br>".join(
            [html.escape(text) for text in loaded.said]
            + [notice(text, trouble=True) for text in loaded.asks]
        )
        yarns = {letter: Yarn(letter) for letter in loaded.chart.letters} | with_yarns(loaded)
        size = f"{loaded.chart.columns} stitches × {loaded.chart.rows} rows"
        picture = preview_html(loaded.chart, yarns, aspect, loaded.doubtful)
        seen.value = f"<b>{size}</b><br>{said}<br>{loaded.table}{picture}"
        after.layout.display = None

    def begin(reader: Reader):
        boxes, read = reader
        again = heard(message)(lambda: show(read))
        for box in boxes:
            box.observe(again, names="value")
        settings.children = boxes
        again()

    @heard(message)
    def opened():
        if upload.value:
            file = upload.value[0]
            upload.value = ()  # or it would travel to the browser again with every reload
            settings.children = ()
            begin(reader_for(desk, bytes(file["content"]), file["name"]))

    @heard(message)
    def read_text():
        begin(_rows(desk, pasted.value))

    @heard(message)
    def put():
        loaded = now["loaded"]
        chart = loaded.chart
        if goes.value == ONTO:
            chart = set_on(desk.project.chart, chart, stitch=stitch.value, row=row.value)
        desk.change(chart=chart, yarns=with_yarns(loaded))
        message.value = notice(
            "it is on the desk. Look at it above, where Undo takes it back; keep it when it is right."
        )

    upload.observe(opened, names="value")
    read_pasted.on_click(read_text)
    goes.observe(place, names="value")
    button.on_click(put)
    after.layout.display = "none"
    place()
    return Form([upload, pasted, read_pasted, settings, message, seen, after])
