"""The form that reads a file: a picture, a spreadsheet or written rows, looked at before it counts.

Each kind of file has a `Reader`: the boxes of its settings, and a function that reads it by them.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from io import BytesIO
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets
import numpy as np

from planner import charts
from planner.colour import apart
from planner.errors import PlanError
from planner.folder import decoded
from planner.piece import Chart, Gauge, Project, Yarn
from planner.units import CM_PER
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    LINE,
    LengthBox,
    button,
    labelled,
    length,
    one_of,
    text,
    unit_box,
    unit_changes,
    whole,
)
from planner.workbook.panes import Form, Pane, notice, table_html

if TYPE_CHECKING:
    from PIL import Image

FLAT, PHOTO, GRID = "flat art", "a photograph", "a chart drawn on a grid"
PICKED, IN_HAND = "colours picked from the picture", "the yarns of this piece"
WHOLE, ONTO = "in place of the chart on the desk", "onto the chart on the desk"
FOUND = "find out"
PICTURES = (".png", ".jpg", ".jpeg")
PICTURE_BEGINS = (b"\x89PNG", b"\xff\xd8\xff")
READABLE = ".png,.jpg,.jpeg,.xlsx,.xlsm,.csv,.tsv,.txt"
DOUBTS_NAMED = 5  # places in doubt that are said in words; all are ringed in the preview


@dataclass(frozen=True)
class Loaded:
    """What a file turned out to hold.

    `colours` of its letters (#rrggbb) as far as it shows them; `said` what was done and chosen;
    `asks` what is in doubt; `doubtful` cells, rows × columns from the bottom; `table` is HTML.
    """

    chart: Chart
    colours: Mapping[str, str] = field(default_factory=dict)
    said: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    doubtful: np.ndarray | None = None
    table: str = ""


@dataclass(frozen=True)
class Reader:
    """The boxes of a file's settings by name, and what reads the file by their values."""

    boxes: Mapping[str, widgets.Widget]
    read: Callable[..., Loaded]

    # A reader's boxes and the arguments of its function have the same names.
    def loaded(self) -> Loaded:
        """What the file holds by the settings as they stand."""
        return self.read(**{name: box.value for name, box in self.boxes.items()})


# ---- pictures


@dataclass(frozen=True)
class PictureSettings:
    """How a picture is to be read; a count of 0 is to be found out.

    Those that begin with `grid_` are for a chart drawn on a grid. `across`, `up` and `zoom` say
    which part is taken if the piece has another shape; `tidy` is a place among the LEVELS.
    """

    what: str
    width: float
    stitches: int
    rows: int
    grid_stitches: int
    grid_rows: int
    yarns: str
    count: int
    grid_count: int
    across: float
    up: float
    zoom: float
    tidy: int


# The settings that matter only for some kinds of picture.
FREE = ("unit", "width", "stitches", "rows", "count", "across", "up", "zoom")
OF_A_GRID = ("grid_stitches", "grid_rows", "grid_count")


def letters_for(palette: Sequence[str], yarns: Mapping[str, Yarn]) -> list[str]:
    """A letter for each colour: that of a yarn which looks the same, else a free one."""
    letters: list[str] = []
    for colour in palette:
        # Two colours of the picture may look like one yarn; only the first of them takes it.
        alike = (
            yarn.letter
            for yarn in yarns.values()
            if yarn.letter not in letters and _look_alike(colour, yarn.colour)
        )
        letter = next(alike, None)
        letters.append(letter or charts.free_letter({*yarns, *letters}))
    return letters


def _look_alike(a: str, b: str) -> bool:
    return apart(a, b) < charts.SAME


def picture_as_chart(
    art: charts.Artwork, project: Project, in_hand: Mapping[str, Yarn], settings: PictureSettings
) -> Loaded:
    """The chart in a picture, tidied as it is asked, with what each way of tidying would cost.

    `in_hand` are the yarns whose letters its colours may take.
    """
    # In the yarns of the piece each stitch takes the nearest; else colours are picked first.
    in_these_yarns = settings.yarns == IN_HAND
    colours = [yarn.colour for yarn in in_hand.values()] if in_these_yarns else []
    picture = _read_picture(art, project, colours, settings)
    letters = list(in_hand) if in_these_yarns else letters_for(picture.palette, in_hand)
    levels = charts.tidied(picture, tube=project.how.is_tube)
    table = charts.compare_levels(
        levels,
        project.how,
        project.gauge,
        project.limits,
        by_yarn=project.by_yarn,
        letters=letters,
    )
    # All levels are priced, so that the knitter sees what tidying saves before choosing one.
    chosen = ["→" if level == settings.tidy else "" for level in range(len(table))]
    table.insert(0, "chosen", chosen)
    doubtful, said = None, list(picture.notes)
    if isinstance(picture, charts.GridReading):
        doubtful = picture.doubtful
        if doubtful.any():
            said.append(_doubts(picture))
    return Loaded(
        chart=levels[settings.tidy].chart(letters),
        colours=dict(zip(letters, picture.palette, strict=False)),
        said=tuple(said),
        doubtful=doubtful,
        table=table_html(table),
    )


def _read_picture(
    art: charts.Artwork, project: Project, colours: list[str], settings: PictureSettings
) -> charts.ChartedPicture:
    if settings.what == GRID:
        return charts.read_grid_picture(
            art,
            stitches=settings.grid_stitches or None,
            rows=settings.grid_rows or None,
            yarns=colours,
            count=settings.grid_count or None,
        )
    aspect = _aspect(project)
    return charts.chart_picture(
        art,
        settings.stitches,
        settings.rows or art.rows_for(settings.stitches, aspect),
        aspect,
        flat=settings.what == FLAT,
        yarns=colours,
        count=settings.count,
        across=settings.across,
        up=settings.up,
        zoom=settings.zoom,
    )


def _aspect(project: Project) -> float:
    """Height of a chart row ÷ width of a stitch."""
    return float(project.gauge.aspect) * project.how.rows_per_chart_row


def _doubts(picture: charts.GridReading) -> str:
    """Where a picture of a chart could not be read for sure, a few places in words."""
    # In the order of work: from the bottom row, stitches counted from the right.
    places = np.argwhere(picture.doubtful)
    stitches = picture.cells.shape[1]
    doubts = [
        f"row {row + 1} stitch {stitches - column}: {picture.why[row, column]}"
        for row, column in places[:DOUBTS_NAMED].tolist()
    ]
    left_out = len(places) - DOUBTS_NAMED
    more = f" and {left_out} more" if left_out > 0 else ""
    return f"Look again at the cells marked below: {'; '.join(doubts)}{more}."


def _looks_like_a_grid(art: charts.Artwork) -> str:
    """A question to ask about a picture that seems to be one of a chart; "" about another one."""
    try:
        rows, columns = charts.read_grid_picture(art).cells.shape
    except PlanError:
        return ""
    size = f"{columns} stitches × {rows} rows"
    return f"This looks like a chart drawn on a grid, {size}: say so above."


def _share(label: str, value: float = 0.5, **range_of: float) -> widgets.FloatSlider:
    """A slider that is heard when it is let go."""
    reach = {"min": 0.0, "max": 1.0, "step": 0.05} | range_of
    return labelled(widgets.FloatSlider, label, value=value, continuous_update=False, **reach)


def _picture_boxes(art: charts.Artwork, desk: Desk) -> dict[str, widgets.Widget]:
    """The boxes of PictureSettings and the unit of the width, for a picture just chosen."""
    project = desk.project
    stitches = project.chart.columns
    width = stitches * _stitch_width(project.gauge, project.units)
    # It begins as wide as the chart on the desk; the rows follow the picture's shape.
    kind = FLAT if art.looks_flat else PHOTO
    levels = [(words, level) for level, (*_, words) in enumerate(charts.LEVELS)]
    return {
        "unit": unit_box(desk),
        "what": one_of("it is", (FLAT, PHOTO, GRID), kind),
        "width": length("width", round(width, 1)),
        "stitches": whole("or stitches across", stitches, least=1, most=1000),
        "rows": whole("rows (0: as its shape asks)", most=2000),
        "grid_stitches": whole("stitches (0: counted from the grid)", most=1000),
        "grid_rows": whole("rows (0: counted from the grid)", most=2000),
        "yarns": one_of("in", (PICKED, IN_HAND)),
        "count": whole("number of yarns", art.suggested_yarns, least=1, most=40),
        "grid_count": whole("number of yarns (0: find out)", most=40),
        "across": _share("if it is cropped: from the left"),
        "up": _share("from below"),
        "zoom": _share("enlarged", 1.0, min=1, max=8, step=0.25),
        "tidy": one_of("tidied", levels),
    }


def _stitch_width(gauge: Gauge, unit: str) -> float:
    return gauge.stitch_cm / float(CM_PER[unit])


def _tie_width_to_stitches(
    width: LengthBox, stitches: widgets.BoundedIntText, gauge: Gauge, unit: widgets.Dropdown
) -> None:
    """Let the width and the number of stitches say the same, whichever is typed."""

    # Each leaves the other alone if that says the same already, rounded in its own way. Without
    # this they would set each other back and forth.
    def by_width(_: Any) -> None:
        stitch = _stitch_width(gauge, unit.value)
        if round(stitches.value * stitch, 1) != width.value and width.value > 0:
            stitches.value = charts.stitches_for(width.meant(unit.value), gauge, unit.value)

    def by_stitches(_: Any) -> None:
        stitch = _stitch_width(gauge, unit.value)
        if charts.stitches_for(max(width.value, stitch), gauge, unit.value) != stitches.value:
            width.value = round(stitches.value * stitch, 1)

    width.observe(by_width, names="value")
    stitches.observe(by_stitches, names="value")


def _show_if(box: widgets.Widget, wanted: bool) -> None:
    """Show a box, or hide it and keep its place."""
    display = None if wanted else "none"
    box.layout = widgets.Layout(width=LINE.width, display=display)


def _picture(desk: Desk, data: bytes, name: str) -> Reader:
    art, project = charts.open_artwork(data, name), desk.project
    boxes = _picture_boxes(art, desk)
    what, unit = boxes["what"], boxes["unit"]
    # First, so that the width is in the unit that is chosen when it is compared with stitches.
    unit_changes(unit, boxes.values())
    _tie_width_to_stitches(boxes["width"], boxes["stitches"], project.gauge, unit)

    def by_kind(_: Any = None) -> None:
        for name in FREE:
            _show_if(boxes[name], what.value != GRID)
        for name in OF_A_GRID:
            _show_if(boxes[name], what.value == GRID)

    what.observe(by_kind, names="value")
    by_kind()
    # Looking for a grid takes a while, so that it is done once.
    on_grid = _looks_like_a_grid(art)

    def read(unit: str, **typed: Any) -> Loaded:
        settings = PictureSettings(**typed)
        # Yarns that an earlier picture brought along and nobody kept are not in hand.
        in_hand = yarns_in_hand(desk.project) or desk.project.all_yarns
        loaded = picture_as_chart(art, desk.project, in_hand, settings)
        if on_grid and settings.what != GRID:
            return replace(loaded, asks=(on_grid,))
        return loaded

    return Reader(boxes, read)


# ---- spreadsheets and written rows

SHEET_SETTINGS = {
    "by": "the yarns are told by",
    "row_1": "row 1 is at the",
    "blanks": "blank cells are",
    "hidden": "hidden rows are",
}


def _sheet(desk: Desk, data: bytes, name: str) -> Reader:
    colours = {letter: yarn.colour for letter, yarn in desk.project.yarns.items()}
    # Read once as it is, to know its sheets and what there is to be asked.
    first = charts.read_sheet(data, name, yarns=colours)
    boxes: dict[str, widgets.Widget] = {}
    if len(first.sheets) > 1:
        boxes["sheet"] = one_of("sheet", first.sheets, first.sheet)
    boxes["area"] = text(
        "its cells (empty: find out)", placeholder=first.area, continuous_update=False
    )
    for setting, choices in charts.CHOICES.items():
        # What is hidden cannot be found out from the sheet, it can only be told.
        options = choices if setting == "hidden" else (FOUND, *choices)
        boxes[setting] = one_of(SHEET_SETTINGS[setting], options)

    def read(area: str, sheet: str | None = None, **typed: str) -> Loaded:
        told: dict[str, Any] = {
            setting: None if value == FOUND else value for setting, value in typed.items()
        }
        found = charts.read_sheet(data, name, sheet=sheet, area=area or None, yarns=colours, **told)
        asks = tuple(f"{ask.words} Taken: {ask.taken}." for ask in found.asks)
        return Loaded(found.chart, found.colours, found.notes, asks)

    return Reader(boxes, read)


def _rows(desk: Desk, text: str) -> Reader:
    def read() -> Loaded:
        chart = charts.read_rows(text, desk.project.how)
        return Loaded(chart, said=("Written rows, read as your piece is worked.",))

    return Reader({}, read)


def reader_for(desk: Desk, data: bytes, name: str) -> Reader:
    """What reads a file, chosen by what it holds rather than by its name alone."""
    lowered = name.lower()
    if data.startswith(PICTURE_BEGINS) or lowered.endswith(PICTURES):
        return _picture(desk, data, name)
    # Workbooks are zip files, whatever they are called; these begin with PK.
    if not data.startswith(b"PK") and lowered.endswith((".txt", ".text")):
        text = decoded(data, name)
        if charts.has_written_rows(text):
            return _rows(desk, text)
    return _sheet(desk, data, name)


# ---- the form


def preview_html(
    chart: Chart, yarns: Mapping[str, Yarn], aspect: float, doubtful: np.ndarray | None = None
) -> str:
    """The chart small, with the letters of its colours; doubtful cells ringed."""
    # Here and below: whoever opens no file need not wait for it.
    from PIL import Image

    image = Image.open(BytesIO(charts.chart_png(chart, yarns, aspect))).convert("RGB")
    if doubtful is not None:
        _ring(image, chart, doubtful)
    # Few colours keep the notebook small, which holds the picture as text.
    reduced = BytesIO()
    image.quantize(64).save(reduced, "PNG")
    source = f"data:image/png;base64,{base64.b64encode(reduced.getvalue()).decode()}"
    legend = " &ensp; ".join(
        _legend(yarns[letter], count) for letter, count in chart.stitches().items()
    )
    return (
        f'<img src="{source}" alt="The chart as it was read" '
        'style="max-width:520px; max-height:420px; border:1px solid #888">'
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
        draw.rectangle(box, outline="#d00000", width=2)


def _legend(yarn: Yarn, stitches: int) -> str:
    look = f"width:1em; height:1em; border:1px solid #222; background:{yarn.colour}"
    patch = f'<span style="display:inline-block; {look}"></span>'
    return f"{patch} {html.escape(f'{yarn.title}, {stitches:,} st')}"


def loaded_html(project: Project, loaded: Loaded, yarns: Mapping[str, Yarn]) -> str:
    """What was read, as it is looked at before it goes on the desk."""
    chart = loaded.chart
    # A letter that the file gives no colour, and the piece does not know, is shown all the same.
    nameless = {letter: Yarn(letter) for letter in chart.letters}
    picture = preview_html(chart, nameless | dict(yarns), _aspect(project), loaded.doubtful)
    notes = [html.escape(note) for note in loaded.said]
    questions = [notice(ask, trouble=True) for ask in loaded.asks]
    lines = "<br>".join(notes + questions)
    size = f"<b>{chart.columns} stitches × {chart.rows} rows</b>"
    return f"{size}<br>{lines}<br>{loaded.table}{picture}"


def yarns_in_hand(project: Project) -> dict[str, Yarn]:
    """The yarns of which something is known beside letter and colour, as a picture gives them."""
    yarns = project.yarns.items()
    return {letter: yarn for letter, yarn in yarns if yarn != Yarn(letter, colour=yarn.colour)}


def yarns_with(
    project: Project, kept: Mapping[str, Yarn], loaded: Loaded, *, stays: bool
) -> dict[str, Yarn]:
    """The yarns of the piece with those that a file brings along.

    `kept` are those in hand. What an earlier file brought goes again with its chart, unless that
    `stays`.
    """
    chart = loaded.chart
    new = {
        letter: Yarn(letter, colour=loaded.colours[letter])
        for letter in chart.letters
        if letter in loaded.colours
    }
    # Needed are yarns that are kept, new ones, and those of a chart that stays under a motif.
    needed = {*kept, *new}
    if stays:
        needed |= set(project.chart.letters)
    old = {letter: yarn for letter, yarn in project.yarns.items() if letter in needed}
    return new | old


class _Loading:
    """A form that is reading a file: what was read last, and where it is to go."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.message, self.seen = Pane(), Pane()
        self.settings = widgets.VBox()
        self.goes = one_of("it goes", (WHOLE, ONTO))
        self.stitch = whole("its lower right corner at stitch", 1)
        self.row = whole("and row", 1)
        put_button = button("Put it on the desk")
        put_button.on_click(heard(self.message)(self.put))
        # Where it goes is asked once there is something to put on the desk.
        self.after = widgets.VBox([self.goes, self.stitch, self.row, put_button])
        self.after.layout.display = "none"
        self.goes.observe(self._place, names="value")
        self._place()
        self._loaded: Loaded | None = None

    def begin(self, reader: Reader) -> None:
        """Read a file, and again whenever one of its settings is changed."""
        again = heard(self.message)(partial(self._show, reader))
        for box in reader.boxes.values():
            box.observe(again, names="value")
        self.settings.children = list(reader.boxes.values())
        again()

    def put(self) -> None:
        """Put what was read on the desk."""
        loaded = self._loaded
        if loaded is None:
            raise PlanError("Nothing is read yet. Choose a file first.")
        chart = loaded.chart
        # A motif is laid over the chart as it is now, however long ago the file was read.
        if self.goes.value == ONTO:
            stitch, row = self.stitch.value, self.row.value
            chart = charts.set_on(self.desk.project.chart, chart, stitch=stitch, row=row)
        self.desk.change(
            chart=chart, yarns=self._yarns(loaded), doing="taking in a chart", much=True
        )
        self.message.value = notice(
            "it is on the desk. Look at it above; the chart before it stands among the earlier "
            "versions."
        )

    def _show(self, reader: Reader) -> None:
        # Until the file is read anew, nothing can be put on the desk.
        self._loaded = None
        self.seen.value, self.after.layout.display = "", "none"
        loaded = self._loaded = reader.loaded()
        self.seen.value = loaded_html(self.desk.project, loaded, self._yarns(loaded))
        self.after.layout.display = None

    def _yarns(self, loaded: Loaded) -> dict[str, Yarn]:
        desk, stays = self.desk, self.goes.value == ONTO
        return yarns_with(desk.project, yarns_in_hand(desk.project), loaded, stays=stays)

    def _place(self, _: Any = None) -> None:
        for box in (self.stitch, self.row):
            _show_if(box, self.goes.value == ONTO)


def load_form(desk: Desk) -> Form:
    """Choose a file, see what it is read as, put it on the desk."""
    loading = _Loading(desk)
    message = loading.message
    upload = widgets.FileUpload(
        accept=READABLE, description="Choose a file", layout=widgets.Layout(width="210px")
    )
    pasted = labelled(
        widgets.Textarea,
        "or paste written rows",
        rows=4,
        placeholder="Row 1 (RS): 32 A\nRow 2 (WS): 10 A, 3 B, 19 A",
    )
    read_pasted = button("Read these rows")

    @heard(message)
    def opened() -> None:
        if upload.value:
            file = upload.value[0]
            upload.value = ()  # or it would travel to the browser again with every reload
            loading.settings.children = ()
            loading.begin(reader_for(desk, bytes(file["content"]), file["name"]))

    @heard(message)
    def read_text() -> None:
        loading.begin(_rows(desk, pasted.value))

    upload.observe(opened, names="value")
    read_pasted.on_click(read_text)
    return Form(
        [upload, pasted, read_pasted, loading.settings, message, loading.seen, loading.after]
    )
