"""The form that takes in a file: what it was read as stands above the choices that led to it.

`planner.charts.open_file` says what a file is and reads it; `readers` has the boxes of its
settings, in folds that say how things stand. A setting changed shows the chart anew at once.
"""

from __future__ import annotations

import html
from dataclasses import replace
from pathlib import PurePath
from typing import Any

import ipywidgets as widgets

from planner import charts
from planner.charts import Loaded
from planner.errors import PlanError
from planner.folder import folder_name, start_project
from planner.piece import Project, Yarn, rows_worked
from planner.workbook import desk as desks
from planner.workbook.asking import heard
from planner.workbook.choosing import FileChoice
from planner.workbook.desk import Desk
from planner.workbook.doubts import DoubtsFold
from planner.workbook.fields import button, labelled, one_of, whole
from planner.workbook.folds import Fold
from planner.workbook.framing import PageChoice
from planner.workbook.panes import Form, Pane, notice
from planner.workbook.pieces import go_to_piece
from planner.workbook.previews import loaded_html
from planner.workbook.read_yarns import NamesFold, yarns_read, yarns_with
from planner.workbook.readers import (
    Choices,
    Reader,
    colours_of,
    letters_anew,
    reader_for,
    show_if,
    yarns_in_hand,
)

WHOLE, ONTO = "in place of the piece's chart", "into the piece's chart"
PUT = {WHOLE: "Make it the chart of this piece", ONTO: "Set it into the chart of this piece"}
DONE = (
    "it is on the chart now. The chart from before is kept under Earlier versions; Undo beside the "
    "chart takes it back, too."
)
REPLACES = (
    '"{}" replaces the chart of {}, {}, which is kept under Earlier versions. A new piece leaves '
    "it as it is."
)
OTHER_LETTERS = " Among the yarns of this piece {}."
NEW_PIECE = "Begin a new piece with it"
BEGUN = "{} is a piece of its own now, and open in all notebooks."
PASTE = "Or paste: written rows, or cells copied from a spreadsheet"
READABLE = ".png,.jpg,.jpeg,.webp,.gif,.svg,.pdf,.xlsx,.xlsm,.ods,.xls,.csv,.tsv,.txt"


# ---- the piece it goes into


def has_work(project: Project) -> bool:
    """Whether a piece is more than begun: rows are worked, or its chart has yarns that differ."""
    return bool(rows_worked(project.progress)) or len(project.chart.letters) > 1


def title_of_file(name: str) -> str:
    """What a new piece is called after its file: "sea_fish.png" is "Sea fish"."""
    words = " ".join(PurePath(name).stem.replace("_", " ").replace("-", " ").split())
    return words[:1].upper() + words[1:]


def free_name(title: str) -> str:
    """A name for a new piece that no other has: "Fish", "Fish 2"."""
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
        title = self._choices.title(loaded)
        self.heading.description = title
        show_if(self, bool(title))
        self._tell()

    def open_if_asked(self, loaded: Loaded | None) -> None:
        """Show the boxes where they are needed for what was read first."""
        if self._choices.opens(loaded):
            self.heading.is_open = True

    def _tell(self) -> None:
        worth_knowing = self._choices.worth_knowing
        if self.is_open and worth_knowing and self._loaded:
            self._told.value = worth_knowing(self._loaded)


class _Loading:
    """A form that is reading a file: what was read last, and where it is to go."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.message, self.seen = Pane(), Pane()
        self.asked, self.pages = widgets.VBox(), widgets.VBox()
        self.replaces = Pane()
        self.replaces.add_class("plan-note")
        self.doubts = DoubtsFold(self._mend)
        self.names = NamesFold(self._named)
        self._reader: Reader | None = None
        # Whether what is read is most likely the chart of a new piece.
        self.is_new = True
        self.choices = widgets.VBox()
        self.put_button = button(PUT[WHOLE], icon="check", width="320px")
        self.put_button.on_click(heard(self.message)(self.put))
        self.new_button = button(NEW_PIECE, icon="plus", width="260px")
        self.new_button.on_click(heard(self.message)(self.begin_piece))
        self.title = ""
        self.goes = one_of("it goes", (WHOLE, ONTO))
        self.stitch = whole("its lower right corner at stitch", 1)
        self.row = whole("and row", 1)
        self.place = Fold("", lambda: Form([self.goes, self.stitch, self.row]))
        for box in (self.goes, self.stitch, self.row):
            box.observe(self._place, names="value")
        self._folds: list[_ChoicesFold] = []
        self._loaded: Loaded | None = None
        self._place()
        self.clear()
        # A file is read by the gauge and the yarns of the piece that lies here.
        desk.on_arrival(self._another_piece)

    def begin(self, reader: Reader, title: str) -> None:
        """Read a file, and again whenever one of its settings is changed.

        `title` is what a new piece is called that begins with it.
        """
        self.title, self._reader = title, reader
        again = heard(self.message)(lambda: self._show(reader))
        for box in reader.boxes.values():
            box.observe(again, names="value")
        self._folds = [_ChoicesFold(choices, reader) for choices in reader.groups]
        self.choices.children = [*self._folds, self.place]
        again()
        for fold in self._folds:
            fold.open_if_asked(self._loaded)

    def begin_document(self, file: charts.DocumentFile, title: str) -> None:
        """Show the pages of a PDF, and read the one that is chosen."""
        document = file.document
        choice = PageChoice(document.pages, document.small, file.first_chart)

        @heard(self.message)
        def read_page() -> None:
            self._forget()
            self.begin(reader_for(self.desk, file.page(choice.value), self.goal), title)

        choice.observe(read_page, names="value")
        # Of one page alone there is nothing to choose.
        self.pages.children = [choice] if document.pages > 1 else []
        read_page()

    def goal(self) -> Project:
        """The piece that is read for: the open one, or a new one that is worked in the same way."""
        project = self.desk.project
        if not self.is_new:
            return project
        return Project("", project.chart, how=project.how, units=project.units)

    def put(self) -> None:
        """Make what was read the chart of the piece, or set it into that."""
        shown, desk = self._taken(), self.desk
        loaded = shown
        if self.is_new and self._reader:
            loaded = self._reader.for_piece(shown, desk.project)
        chart = loaded.chart
        # A motif is laid over the chart as it is now, however long ago the file was read.
        if self.goes.value == ONTO:
            stitch, row = self.stitch.value, self.row.value
            chart = charts.set_on(desk.project.chart, chart, stitch=stitch, row=row)
        desk.change(chart=chart, yarns=self._yarns(loaded), doing="taking in a chart", much=True)
        self.message.value = notice(DONE + _other_letters(shown, loaded))
        if self.is_new:
            # What is put right from now on is put right in this piece.
            self.is_new = False
            self.names.begin(loaded)
            self._look(loaded)

    def begin_piece(self) -> None:
        """Make what was read a piece of its own, and go to it."""
        loaded = self._taken()
        # Its colours are the file's own: what is in hand is the business of the other piece.
        yarns = {letter: Yarn(letter) for letter in loaded.chart.letters} | yarns_read(loaded)
        held = self.desk.project
        name = free_name(self.title)
        # It is worked as it was read.
        new = Project(name, loaded.chart, yarns, how=held.how, units=held.units)
        go_to_piece(self.desk, start_project(desks.DATA, new))
        self.message.value = notice(BEGUN.format(name))

    def _taken(self) -> Loaded:
        """What was read, with the names that its yarns were given."""
        if self._loaded is None:
            raise PlanError("Nothing is read yet. Choose a file first.")
        return replace(self._loaded, names=self.names.names)

    def _show(self, reader: Reader) -> None:
        # Until the file is read anew, there is nothing to be taken.
        self._forget()
        loaded = reader.loaded()
        self.names.begin(loaded)
        self._look(loaded)
        self.asked.children = [self._question(reader, ask) for ask in loaded.asks]
        for fold in self._folds:
            fold.follow(loaded)
        for action in (self.put_button, self.new_button):
            action.layout.display = None

    def _look(self, loaded: Loaded) -> None:
        """Show what was read, as it stands now."""
        self._loaded = loaded
        named = self._taken()
        yarns = yarns_read(named) if self.is_new else self._yarns(named)
        self.seen.value = loaded_html(self.goal(), loaded, yarns, is_new=self.is_new)
        self.doubts.follow(loaded, yarns)
        self._tell_what_is_replaced()

    def _named(self) -> None:
        """Show the chart with other names."""
        if self._loaded is not None:
            self._look(self._loaded)

    def _tell_what_is_replaced(self) -> None:
        project = self.desk.project
        size = f"{project.chart.columns} stitches × {project.chart.rows} rows"
        words = REPLACES.format(PUT[WHOLE], project.name, size)
        is_replaced = self._loaded is not None and self.goes.value == WHOLE
        self.replaces.value = html.escape(words) if is_replaced else ""
        # The main button is the one that can do no harm, unless it was said where it goes.
        is_new = self.is_new and self.goes.value == WHOLE
        self.new_button.button_style = "primary" if is_new else ""
        self.put_button.button_style = "" if is_new else "primary"

    def _mend(self, doubt: charts.Doubt, letter: str) -> None:
        """Take a cell in doubt to be of a yarn, as the knitter says."""
        if self._loaded is not None:
            self._look(self._loaded.mended(doubt, letter))

    def _another_piece(self) -> None:
        self.goes.value = WHOLE
        self.clear()

    def clear(self) -> None:
        """Forget the file that was read."""
        self._forget()
        self.names.forget()
        self.is_new = has_work(self.desk.project)
        self.choices.children = self.pages.children = ()
        self.message.value = ""

    def _forget(self) -> None:
        self._loaded = None
        self.seen.value, self.asked.children = "", ()
        self.replaces.value = ""
        self.doubts.forget()
        for action in (self.put_button, self.new_button):
            action.layout.display = "none"

    def _question(self, reader: Reader, ask: charts.Question) -> widgets.Widget:
        """What is in doubt, with a button for each answer but the one that is taken."""
        words = Pane(value=notice(f"{ask.words} Taken: {ask.taken}.", trouble=True))
        answers = widgets.HBox()
        answers.add_class("plan-actions")
        if reader.answers(ask.setting):
            answers.children = [_answer(reader, ask, choice) for choice in ask.choices]
        return widgets.VBox([words, answers])

    def _yarns(self, loaded: Loaded) -> dict[str, Yarn]:
        desk, stays = self.desk, self.goes.value == ONTO
        return yarns_with(desk.project, yarns_in_hand(desk.project), loaded, stays=stays)

    def _place(self, _: Any = None) -> None:
        is_set_in = self.goes.value == ONTO
        for box in (self.stitch, self.row):
            show_if(box, is_set_in)
        where = f", at stitch {self.stitch.value} and row {self.row.value}" if is_set_in else ""
        self.place.heading.description = f"In this piece it goes: {self.goes.value}{where}"
        self.put_button.description = PUT[self.goes.value]
        self._tell_what_is_replaced()


def _answer(reader: Reader, ask: charts.Question, choice: str) -> widgets.Button:
    # Of two answers the other one is no; of more each is itself.
    other = f"No, {choice}" if len(ask.choices) == 2 else choice
    press = button(f"Yes, {choice}" if choice == ask.taken else other)
    press.on_click(lambda _: reader.answer(ask.setting, choice))
    return press


def _other_letters(shown: Loaded, taken: Loaded) -> str:
    """Which yarns have other letters in the piece than they had when they were shown."""
    anew = letters_anew(shown, taken)
    changed = [f"{old} is {new}" for old, new in sorted(anew.items()) if old != new]
    return OTHER_LETTERS.format(", ".join(changed)) if changed else ""


def load_form(desk: Desk) -> Form:
    """Choose a file, see what it is read as, and make it the chart of the piece."""
    loading = _Loading(desk)
    message = loading.message
    pasted = labelled(
        widgets.Textarea,
        "written rows or cells",
        rows=4,
        placeholder="Row 1 (RS): 32 A\nRow 2 (WS): 10 A, 3 B, 19 A",
    )
    read_pasted = button("Read what is pasted")
    paste = Fold(PASTE, lambda: Form([pasted, read_pasted]))

    def opened(name: str, data: bytes) -> None:
        loading.clear()
        title = title_of_file(name)
        file = charts.open_file(data, name, colours_of(loading.goal()))
        if isinstance(file, charts.DocumentFile):
            loading.begin_document(file, title)
        else:
            loading.begin(reader_for(desk, file, loading.goal), title)

    def take(name: str, data: bytes) -> None:
        heard(message)(lambda: opened(name, data))()

    @heard(message)
    def read_text() -> None:
        loading.clear()
        file = charts.open_pasted(pasted.value, colours_of(loading.goal()))
        loading.begin(reader_for(desk, file, loading.goal), "Pasted chart")

    upload = FileChoice("Choose a file", READABLE, take)
    read_pasted.on_click(read_text)
    actions = widgets.HBox([upload, loading.new_button, loading.put_button])
    actions.add_class("plan-actions")
    actions.layout.flex_flow = "row wrap"
    form = Form(
        [
            actions,
            loading.replaces,
            message,
            loading.pages,
            loading.asked,
            loading.seen,
            loading.names,
            loading.doubts,
            loading.choices,
            paste,
        ]
    )
    # A file may be dropped anywhere on it.
    form.add_class("plan-drop")
    return form
