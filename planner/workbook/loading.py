"""The form that takes in a file: what it was read as stands above the choices that led to it.

`planner.charts.open_file` says what a file is and reads it. Here are the boxes of its settings,
in folds that say how things stand; a setting changed shows the chart anew at once.
"""

from __future__ import annotations

import base64
import html
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, ClassVar

import ipywidgets as widgets
import numpy as np

from planner import charts
from planner.charts import FLAT, GRID, PHOTO, Loaded
from planner.errors import PlanError
from planner.folder import folder_name, start_piece
from planner.piece import Chart, Gauge, Project, Yarn
from planner.units import CM_PER, counted
from planner.workbook import desk as desks
from planner.workbook.asking import heard, typed_values
from planner.workbook.choosing import FileChoice
from planner.workbook.desk import Desk
from planner.workbook.fields import (
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
from planner.workbook.folds import Fold
from planner.workbook.panes import Form, Pane, notice, table_html
from planner.workbook.pieces import go_to_piece
from planner.workbook.slider import FineSlider

if TYPE_CHECKING:
    from PIL import Image

PICKED, IN_HAND = "colours picked from the picture", "the yarns of this piece"
WHOLE, ONTO = "in place of the piece's chart", "into the piece's chart"
PUT = {WHOLE: "Make it the chart of this piece", ONTO: "Set it into the chart of this piece"}
DONE = "it is on the chart now. Undo above the chart takes it back; nothing kept is lost."
NEW_PIECE = "Begin a new piece with it"
BEGUN = "{} is a piece of its own now, and open in all notebooks."
FOUND = "find out"
READABLE = ".png,.jpg,.jpeg,.webp,.gif,.xlsx,.xlsm,.ods,.xls,.csv,.tsv,.txt"


# ---- what a file is read by


@dataclass(frozen=True)
class Choices:
    """Some boxes under one heading, which says of what was read how things stand."""

    names: Sequence[str]
    title: Callable[[Loaded], str]
    # What the boxes cost or mean, as HTML; looked at only while they are in sight.
    worth_knowing: Callable[[Loaded], str] | None = None


class Reader(ABC):
    """The boxes of a file's settings by name, in their `groups`, and what reads the file by them.

    What reads knows no boxes: it is a function of the file and of the values.
    """

    groups: Sequence[Choices]

    def __init__(self, desk: Desk, boxes: Mapping[str, widgets.Widget]):
        self.desk = desk
        self.boxes = dict(boxes)

    @abstractmethod
    def loaded(self) -> Loaded:
        """What the file holds by the settings as they stand."""

    def box_of(self, setting: str) -> widgets.Widget | None:
        """The box that settles a question, if there is one."""
        return self.boxes.get(setting)


class PictureReader(Reader):
    """A picture: a chart drawn on a grid, flat art or a photograph, as it opened or as is said."""

    # The settings that matter only for some kinds of picture.
    FREE: ClassVar = ("unit", "width", "stitches", "rows", "count", "across", "up", "zoom")
    OF_A_GRID: ClassVar = ("grid_stitches", "grid_rows", "by", "blanks", "grid_count")

    def __init__(self, desk: Desk, file: charts.PictureFile):
        self.file = file
        super().__init__(desk, _picture_boxes(file, desk))
        unit = self.boxes["unit"]
        # First, so that the width is in the unit that is chosen when it is compared with stitches.
        unit_changes(unit, self.boxes.values())
        _tie_width_to_stitches(self.boxes["width"], self.boxes["stitches"], desk, unit)
        self.boxes["what"].observe(self._by_kind, names="value")
        self._by_kind()
        shape = ("what", *self.FREE[:4], *self.OF_A_GRID[:4], *self.FREE[5:])
        self.groups = (
            Choices(shape, self._kind_in_words),
            Choices(("yarns", "count", "grid_count"), self._yarns_in_words),
            Choices(("tidy",), self._tidied_in_words, self._prices),
        )

    def loaded(self) -> Loaded:
        typed = typed_values(self.boxes, "unit")
        own_yarns = typed.pop("yarns") == IN_HAND
        for of_the_form in ("unit", "width"):
            del typed[of_the_form]
        for setting in ("by", "blanks"):
            typed[setting] = None if typed[setting] == FOUND else typed[setting]
        settings = charts.PictureSettings(own_yarns=own_yarns, **typed)
        # Yarns that an earlier picture brought along and nobody kept are not in hand.
        project = self.desk.project
        return self.file.read(settings, project, yarns_in_hand(project) or project.all_yarns)

    def _by_kind(self, _: Any = None) -> None:
        is_grid = self.boxes["what"].value == GRID
        for names, wanted in ((self.FREE, not is_grid), (self.OF_A_GRID, is_grid)):
            for name in names:
                _show_if(self.boxes[name], wanted)

    def _kind_in_words(self, loaded: Loaded) -> str:
        cells = " (stitches and rows counted)" if loaded.taken == GRID else ""
        width = f", {loaded.chart.columns} stitches wide" if loaded.taken != GRID else ""
        return f"Read as: {loaded.taken}{cells}{width}"

    def _yarns_in_words(self, loaded: Loaded) -> str:
        many = len(loaded.chart.letters)
        if self.boxes["yarns"].value == IN_HAND:
            return f"Yarns: {many} of this piece"
        return f"Yarns: {counted(many, 'colour')} of the picture"

    def _tidied_in_words(self, loaded: Loaded) -> str:
        return f"Tidied: {charts.LEVELS[self.boxes['tidy'].value].words}"

    def _prices(self, loaded: Loaded) -> str:
        return table_html(loaded.prices(self.desk.project))


class SheetReader(Reader):
    """A spreadsheet, which is read as it stands; what it leaves in doubt is asked."""

    LABELS: ClassVar = {
        "by": "the yarns are told by",
        "row_1": "row 1 is at the",
        "blanks": "blank cells are",
        "hidden": "hidden rows are",
    }

    def __init__(self, desk: Desk, file: charts.SheetFile):
        self.file = file
        boxes: dict[str, widgets.Widget] = {}
        if len(file.first.sheets) > 1:
            boxes["sheet"] = one_of("sheet", (FOUND, *file.first.sheets))
        boxes["area"] = text(
            "its cells (empty: find out)", placeholder=file.first.area, continuous_update=False
        )
        for setting, answers in charts.CHOICES.items():
            # What is hidden cannot be found out from the sheet, it can only be told.
            options = answers if setting == "hidden" else (FOUND, *answers)
            boxes[setting] = one_of(self.LABELS[setting], options)
        super().__init__(desk, boxes)
        self.groups = (Choices(tuple(boxes), _place_in_words),)

    def loaded(self) -> Loaded:
        told: dict[str, str | None] = {}
        for name, box in self.boxes.items():
            told[name] = None if box.value in (FOUND, "") else box.value
        return self.file.read(colours_of(self.desk), **told)


def _place_in_words(loaded: Loaded) -> str:
    return f"Read from: {loaded.taken.removeprefix('Taken from ').rstrip('.')}"


class RowsReader(Reader):
    """Written rows, of which nothing is to be chosen."""

    groups = ()

    def __init__(self, desk: Desk, file: charts.RowsFile):
        super().__init__(desk, {})
        self.file = file

    def loaded(self) -> Loaded:
        return self.file.read(self.desk.project)


def reader_for(desk: Desk, data: bytes, name: str) -> Reader:
    """What reads a file, chosen by what it holds rather than by its name alone."""
    file = charts.open_file(data, name, colours_of(desk))
    if isinstance(file, charts.PictureFile):
        return PictureReader(desk, file)
    if isinstance(file, charts.RowsFile):
        return RowsReader(desk, file)
    return SheetReader(desk, file)


def colours_of(desk: Desk) -> dict[str, str]:
    """The colours of the piece's yarns, by letter."""
    return {letter: yarn.colour for letter, yarn in desk.project.yarns.items()}


def _share(label: str, value: float = 0.5, **range_of: float) -> FineSlider:
    """A slider from 0 to 1, or over another range."""
    return labelled(FineSlider, label, **range_of, value=value)


def _picture_boxes(file: charts.PictureFile, desk: Desk) -> dict[str, widgets.Widget]:
    """The boxes of PictureSettings and the unit of the width, for a picture just chosen."""
    project = desk.project
    stitches = project.chart.columns
    width = stitches * _stitch_width(project.gauge, project.units)
    levels = [(words, level) for level, (*_, words) in enumerate(charts.LEVELS)]
    # It begins as wide as the chart on the desk; the rows follow the picture's shape.
    return {
        "unit": unit_box(desk),
        "what": one_of("it is", (GRID, FLAT, PHOTO), file.what),
        "width": length("width", round(width, 1)),
        "stitches": whole("or stitches across", stitches, least=1, most=1000),
        "rows": whole("rows (0: as its shape asks)", most=2000),
        "grid_stitches": whole("stitches (0: counted from the grid)", most=1000),
        "grid_rows": whole("rows (0: counted from the grid)", most=2000),
        "by": one_of("the yarns are told by", (FOUND, "colours", "signs")),
        "blanks": one_of("blank cells are", (FOUND, *charts.CHOICES["blanks"])),
        "yarns": one_of("in", (PICKED, IN_HAND)),
        "count": whole("number of yarns", file.art.suggested_yarns, least=1, most=40),
        "grid_count": whole("number of yarns (0: find out)", most=40),
        "across": _share("if it is cropped: from the left"),
        "up": _share("from below"),
        "zoom": _share("enlarged", 1.0, min=1, max=8, step=0.25),
        "tidy": one_of("tidied", levels),
    }


def _stitch_width(gauge: Gauge, unit: str) -> float:
    return gauge.stitch_cm / float(CM_PER[unit])


def _tie_width_to_stitches(
    width: LengthBox, stitches: widgets.BoundedIntText, desk: Desk, unit: widgets.Dropdown
) -> None:
    """Let the width and the number of stitches say the same, whichever is typed."""

    # Each leaves the other alone if that says the same already, rounded in its own way. Without
    # this they would set each other back and forth.
    def by_width(_: Any) -> None:
        gauge = desk.project.gauge
        stitch = _stitch_width(gauge, unit.value)
        if round(stitches.value * stitch, 1) != width.value and width.value > 0:
            stitches.value = charts.stitches_for(width.meant(unit.value), gauge, unit.value)

    def by_stitches(_: Any) -> None:
        gauge = desk.project.gauge
        stitch = _stitch_width(gauge, unit.value)
        if charts.stitches_for(max(width.value, stitch), gauge, unit.value) != stitches.value:
            width.value = round(stitches.value * stitch, 1)

    width.observe(by_width, names="value")
    stitches.observe(by_stitches, names="value")


def _show_if(box: widgets.Widget, wanted: bool) -> None:
    """Show a box, or hide it and keep its place."""
    # A layout of its own: boxes may share one.
    box.layout = widgets.Layout(display=None if wanted else "none")


# ---- what was read, to look at


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
        draw.rectangle(box, outline="#d00000", width=2)


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


def loaded_html(project: Project, loaded: Loaded, yarns: Mapping[str, Yarn]) -> str:
    """What was read, as it is looked at before it is taken."""
    chart = loaded.chart
    # A letter that the file gives no colour, and the piece does not know, is shown all the same.
    nameless = {letter: Yarn(letter) for letter in chart.letters}
    aspect = charts.aspect_of(project)
    picture = preview_html(chart, nameless | dict(yarns), aspect, loaded.doubtful)
    line = f'<div class="plan-headline">{html.escape(headline_of(project, loaded))}</div>'
    notes = "<br>".join(html.escape(note) for note in loaded.said)
    return f'{line}{picture}<div class="plan-note">{notes}</div>'


# ---- the yarns of the piece with those of a file


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


def free_name(title: str) -> str:
    """A name for a new piece that no other has: "fish", "fish 2"."""
    number = 1
    while True:
        name = title if number == 1 else f"{title} {number}"
        if not (desks.DATA / folder_name(name)).exists():
            return name
        number += 1


# ---- the form


class _ChoicesFold(Fold):
    """A fold with the boxes of some choices, under a heading that follows what was read."""

    def __init__(self, choices: Choices, reader: Reader):
        self._choices = choices
        self._told = Pane()
        self._loaded: Loaded | None = None
        boxes = [reader.boxes[name] for name in choices.names]
        super().__init__("", lambda: Form([*boxes, self._told]))

    def _follow(self) -> None:
        super()._follow()
        self._tell()

    def follow(self, loaded: Loaded) -> None:
        """Say how things stand in what was just read."""
        self._loaded = loaded
        self.heading.description = self._choices.title(loaded)
        self._tell()

    def _tell(self) -> None:
        worth_knowing = self._choices.worth_knowing
        if self.is_open and worth_knowing and self._loaded:
            self._told.value = worth_knowing(self._loaded)


class _Loading:
    """A form that is reading a file: what was read last, and where it is to go."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.message, self.seen = Pane(), Pane()
        self.asked = widgets.VBox()
        self.choices = widgets.VBox()
        self.put_button = button(PUT[WHOLE], icon="check", width="320px")
        self.put_button.on_click(heard(self.message)(self.put))
        self.put_button.button_style = "primary"
        self.new_button = button(NEW_PIECE, icon="plus", width="260px")
        self.new_button.on_click(heard(self.message)(self.begin_piece))
        self.title = ""
        self.goes = one_of("it goes", (WHOLE, ONTO))
        self.stitch = whole("its lower right corner at stitch", 1)
        self.row = whole("and row", 1)
        self.place = Fold("", lambda: Form([self.goes, self.stitch, self.row]))
        for box in (self.goes, self.stitch, self.row):
            box.observe(self._place, names="value")
        self._place()
        self._folds: list[_ChoicesFold] = []
        self._loaded: Loaded | None = None
        self.clear()
        # A file is read by the gauge and the yarns of the piece that lies here.
        desk.on_arrival(self.clear)

    def begin(self, reader: Reader, title: str) -> None:
        """Read a file, and again whenever one of its settings is changed.

        `title` is what a new piece is called that begins with it.
        """
        self.title = title
        again = heard(self.message)(lambda: self._show(reader))
        for box in reader.boxes.values():
            box.observe(again, names="value")
        self._folds = [_ChoicesFold(choices, reader) for choices in reader.groups]
        self.choices.children = [*self._folds, self.place]
        again()
        # What could not be read as it is may be read by other settings.
        if self._loaded is None or self._loaded.asks:
            for fold in self._folds[:1]:
                fold.heading.is_open = True

    def put(self) -> None:
        """Make what was read the chart of the piece, or set it into that."""
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
        self.message.value = notice(DONE)

    def begin_piece(self) -> None:
        """Make what was read a piece of its own, and go to it."""
        loaded = self._loaded
        if loaded is None:
            raise PlanError("Nothing is read yet. Choose a file first.")
        # Its colours are the file's own: what is in hand is the business of the other piece.
        yarns = {}
        for letter in loaded.chart.letters:
            colour = loaded.colours.get(letter)
            yarns[letter] = Yarn(letter, colour=colour) if colour else Yarn(letter)
        name = free_name(self.title)
        go_to_piece(self.desk, start_piece(desks.DATA, name, loaded.chart, yarns))
        self.message.value = notice(BEGUN.format(name))

    def _show(self, reader: Reader) -> None:
        # Until the file is read anew, there is nothing to be taken.
        self._forget()
        loaded = self._loaded = reader.loaded()
        self.seen.value = loaded_html(self.desk.project, loaded, self._yarns(loaded))
        self.asked.children = [self._question(reader, ask) for ask in loaded.asks]
        for fold in self._folds:
            fold.follow(loaded)
        for action in (self.put_button, self.new_button):
            action.layout.display = None

    def clear(self) -> None:
        """Forget the file that was read."""
        self._forget()
        self.choices.children = ()
        self.message.value = ""

    def _forget(self) -> None:
        self._loaded = None
        self.seen.value, self.asked.children = "", ()
        for action in (self.put_button, self.new_button):
            action.layout.display = "none"

    def _question(self, reader: Reader, ask: charts.Question) -> widgets.Widget:
        """What is in doubt, with a button for each answer but the one that is taken."""
        words = Pane(value=notice(f"{ask.words} Taken: {ask.taken}.", trouble=True))
        answers = widgets.HBox()
        answers.add_class("plan-actions")
        box = reader.box_of(ask.setting)
        if box is not None:
            answers.children = [_answer(box, ask, choice) for choice in ask.choices]
        return widgets.VBox([words, answers])

    def _yarns(self, loaded: Loaded) -> dict[str, Yarn]:
        desk, stays = self.desk, self.goes.value == ONTO
        return yarns_with(desk.project, yarns_in_hand(desk.project), loaded, stays=stays)

    def _place(self, _: Any = None) -> None:
        is_set_in = self.goes.value == ONTO
        for box in (self.stitch, self.row):
            _show_if(box, is_set_in)
        where = f", at stitch {self.stitch.value} and row {self.row.value}" if is_set_in else ""
        self.place.heading.description = f"It goes: {self.goes.value}{where}"
        self.put_button.description = PUT[self.goes.value]


def _answer(box: widgets.Widget, ask: charts.Question, choice: str) -> widgets.Button:
    is_taken = choice == ask.taken
    press = button(f"Yes, {choice}" if is_taken else f"No, {choice}", width="auto")
    press.on_click(lambda _: setattr(box, "value", choice))
    return press


def load_form(desk: Desk) -> Form:
    """Choose a file, see what it is read as, and make it the chart of the piece."""
    loading = _Loading(desk)
    message = loading.message
    pasted = labelled(
        widgets.Textarea,
        "written rows",
        rows=4,
        placeholder="Row 1 (RS): 32 A\nRow 2 (WS): 10 A, 3 B, 19 A",
    )
    read_pasted = button("Read these rows")
    paste = Fold("Or paste written rows", lambda: Form([pasted, read_pasted]))

    def opened(name: str, data: bytes) -> None:
        loading.clear()
        loading.begin(reader_for(desk, data, name), PurePath(name).stem)

    def take(name: str, data: bytes) -> None:
        heard(message)(lambda: opened(name, data))()

    @heard(message)
    def read_text() -> None:
        loading.begin(RowsReader(desk, charts.RowsFile(pasted.value)), "written rows")

    upload = FileChoice("Choose a file", READABLE, take)
    read_pasted.on_click(read_text)
    actions = widgets.HBox([upload, loading.put_button, loading.new_button])
    actions.add_class("plan-actions")
    actions.layout.flex_flow = "row wrap"
    return Form([actions, message, loading.asked, loading.seen, loading.choices, paste])
