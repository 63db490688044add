"""What a file is read by: the boxes of its settings, in groups that say how things stand.

What reads the file knows no boxes: it is a function of the file and of the values.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any, ClassVar

import ipywidgets as widgets

from planner import charts
from planner.charts import CARRIED, FLAT, GRID, PHOTO, PRINTED, Loaded
from planner.colour import ALIKE
from planner.piece import Gauge, Project, Yarn
from planner.units import CM_PER, counted
from planner.workbook.asking import typed_values
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    LengthBox,
    labelled,
    length,
    one_of,
    text,
    unit_box,
    unit_changes,
    whole,
)
from planner.workbook.framing import corner_frame, part_frame
from planner.workbook.panes import table_html
from planner.workbook.slider import FineSlider

Goal = Callable[[], Project]  # the piece that a chart is read for
PICKED, IN_HAND = "colours picked from the picture", "the yarns of this piece"
FOUND = "find out"


def _unread_or_asked(loaded: Loaded | None) -> bool:
    """What could not be read as it is, or not for sure, may be read by other settings."""
    return loaded is None or bool(loaded.asks)


def _unread(loaded: Loaded | None) -> bool:
    return loaded is None


@dataclass(frozen=True)
class Choices:
    """Some boxes under one heading, which says of what was read how things stand.

    A title of "" leaves them out. They `open` by themselves for what this tells of what was read
    first, None where nothing could be.
    """

    names: Sequence[str]
    title: Callable[[Loaded], str]
    # What the boxes cost or mean, as HTML; looked at only while they are in sight.
    worth_knowing: Callable[[Loaded], str] | None = None
    opens: Callable[[Loaded | None], bool] = _unread_or_asked


class Reader(ABC):
    """The boxes of a file's settings by name, in their `groups`, and what reads the file by them.

    What reads knows no boxes: it is a function of the file and of the values.
    """

    groups: Sequence[Choices]

    def __init__(self, goal: Goal, boxes: Mapping[str, widgets.Widget]):
        self._goal = goal
        self.boxes = dict(boxes)

    @property
    def project(self) -> Project:
        """The piece that the chart is read for, which may be a new one."""
        return self._goal()

    @abstractmethod
    def loaded(self) -> Loaded:
        """What the file holds by the settings as they stand."""

    def for_piece(self, loaded: Loaded, project: Project) -> Loaded:
        """What was read, with letters that fit the yarns of another piece.

        Letters of the file's own stay.
        """
        yarns = {letter: yarn.colour for letter, yarn in yarns_in_hand(project).items()}
        within = charts.SAME if loaded.levels else ALIKE
        letters = charts.letters_among(
            loaded.chart.letters, loaded.given, dict(loaded.colours), yarns, within=within
        )
        return loaded.lettered(letters)

    def answers(self, setting: str) -> bool:
        """Whether a question is settled by one of the boxes."""
        return setting in self.boxes

    def answer(self, setting: str, choice: str) -> None:
        """Settle a question."""
        self.boxes[setting].value = choice


def letters_anew(before: Loaded, after: Loaded) -> dict[str, str]:
    """The letter of each yarn after what was read was read once more, by its letter before."""
    old, new = before.chart.to_rows(), after.chart.to_rows()
    if (len(old), len(old[0])) != (len(new), len(new[0])):
        return dict(zip(before.letters, after.letters, strict=False))
    return dict(zip(chain(*old), chain(*new), strict=True))


def with_names_of(before: Loaded, after: Loaded) -> Loaded:
    """What was read once more, with the names that its yarns had before."""
    anew = letters_anew(before, after)
    names = {anew[letter]: name for letter, name in before.names.items() if letter in anew}
    return replace(after, names=names)


class PictureReader(Reader):
    """A picture, as it opened or as is said: see the kinds of `charts.PictureFile`."""

    # The settings that matter only for some kinds of picture.
    FREE: ClassVar = ("unit", "width", "stitches", "rows", "count", "across", "up", "zoom")
    COUNTED: ClassVar = ("grid_stitches", "grid_rows", "grid_count")
    OF_A_GRID: ClassVar = ("by", "blanks")

    def __init__(self, desk: Desk, file: charts.PictureFile, goal: Goal):
        self.file, self.desk = file, desk
        super().__init__(goal, _picture_boxes(file, desk, goal))
        self.frame, self.corners = self.boxes["part"], self.boxes["corners"]
        self._parts: Mapping[str, charts.Part] = {}
        unit = self.boxes["unit"]
        # First, so that the width is in the unit that is chosen when it is compared with stitches.
        unit_changes(unit, self.boxes.values())
        _tie_width_to_stitches(self.boxes["width"], self.boxes["stitches"], goal, unit)
        self.boxes["what"].observe(self._by_kind, names="value")
        self.frame.observe(self._framed, names="value")
        self._by_kind()
        shape = ("what", *self.FREE[:4], *self.COUNTED[:2], *self.OF_A_GRID, *self.FREE[5:])
        self.groups = (
            Choices(("part", "corners"), self._place_in_words, opens=self._is_to_be_placed),
            Choices(shape, self._kind_in_words, opens=_unread),
            Choices(("yarns", "count", "grid_count"), self._yarns_in_words, opens=_not_at_first),
            Choices(("tidy",), self._tidied_in_words, self._prices, opens=_not_at_first),
        )

    def loaded(self) -> Loaded:
        return self._read(self.project)

    def for_piece(self, loaded: Loaded, project: Project) -> Loaded:
        # How many rows a picture of other things takes, its gauge says: it is charted anew.
        if loaded.taken not in (FLAT, PHOTO):
            return super().for_piece(loaded, project)
        return with_names_of(loaded, self._read(project))

    def _read(self, goal: Project) -> Loaded:
        typed = typed_values(self.boxes, "unit")
        own_yarns = typed.pop("yarns") == IN_HAND
        for of_the_form in ("unit", "width"):
            del typed[of_the_form]
        for setting in ("by", "blanks"):
            typed[setting] = None if typed[setting] == FOUND else typed[setting]
        typed |= {"part": self.frame.part, "corners": self.corners.corners}
        settings = charts.PictureSettings(own_yarns=own_yarns, **typed)
        # Those of the open piece are chosen from, also for a new one.
        project = self.desk.project if own_yarns else goal
        # Yarns that an earlier picture brought along and nobody kept are not in hand.
        in_hand = yarns_in_hand(project) or (project.all_yarns if own_yarns else {})
        loaded = self.file.read(settings, goal, in_hand)
        self._parts = loaded.parts
        return loaded

    def answer(self, setting: str, choice: str) -> None:
        if setting == "part":
            self.frame.put(self._parts[choice])
        elif setting.startswith("grid_"):
            self.boxes[setting].value = int(choice)
        else:
            super().answer(setting, choice)

    def _by_kind(self, _: Any = None) -> None:
        kind = self.boxes["what"].value
        shown = {
            self.FREE: kind in (FLAT, PHOTO),
            self.COUNTED: kind in (GRID, PRINTED),
            self.OF_A_GRID: kind == GRID,
            ("part",): kind in (GRID, FLAT, PHOTO),
            ("corners",): kind == PRINTED,
        }
        for names, wanted in shown.items():
            for name in names:
                show_if(self.boxes[name], wanted)

    def _framed(self, _: Any) -> None:
        """A part of a picture may be a chart on a grid where the whole is none."""
        what = self.boxes["what"]
        if what.value in (FLAT, PHOTO) and self.file.has_grid(self.frame.part):
            what.value = GRID

    def _is_to_be_placed(self, loaded: Loaded | None) -> bool:
        is_a_page = self.file.finer is not None
        return is_a_page or loaded is None or loaded.taken == PRINTED

    def _place_in_words(self, loaded: Loaded) -> str:
        if loaded.taken == CARRIED:
            return ""
        if loaded.taken == PRINTED:
            as_found = self.corners.value == self.corners.home
            how = "as they were found" if as_found else "as you put them"
            return f"Its corners: {how}"
        what = "all of the picture" if self.frame.part is None else "a part, by your frame"
        return f"Where it was read: {what}"

    def _kind_in_words(self, loaded: Loaded) -> str:
        if loaded.taken in (GRID, PRINTED):
            told = [self.boxes[name].value for name in self.COUNTED[:2]]
            cells = "as you say" if all(told) else "counted"
            return f"Read as: {loaded.taken} (stitches and rows {cells})"
        if loaded.taken == CARRIED:
            return f"Read as: {loaded.taken}"
        return f"Read as: {loaded.taken}, {loaded.chart.columns} stitches wide"

    def _yarns_in_words(self, loaded: Loaded) -> str:
        many = len(loaded.chart.letters)
        if loaded.taken == CARRIED:
            return ""
        if self.boxes["yarns"].value == IN_HAND:
            return f"Yarns: {many} of this piece"
        return f"Yarns: {counted(many, 'colour')} of the picture"

    def _tidied_in_words(self, loaded: Loaded) -> str:
        if loaded.taken == CARRIED:
            return ""
        return f"Tidied: {charts.LEVELS[self.boxes['tidy'].value].words}"

    def _prices(self, loaded: Loaded) -> str:
        return table_html(loaded.prices(self.project)) if loaded.levels else ""


def _not_at_first(loaded: Loaded | None) -> bool:
    return False


class SheetReader(Reader):
    """A spreadsheet, which is read as it stands; what it leaves in doubt is asked."""

    LABELS: ClassVar = {
        "by": "the yarns are told by",
        "row_1": "row 1 is at the",
        "blanks": "blank cells are",
        "hidden": "hidden rows are",
        "ridges": "in garter the chart has",
    }

    def __init__(self, file: charts.SheetFile, goal: Goal):
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
        asked = {question.setting for question in file.first.asks}
        for setting, answers in charts.SELDOM_ASKED.items():
            if setting in asked:
                boxes[setting] = one_of(self.LABELS[setting], (FOUND, *answers))
        super().__init__(goal, boxes)
        self.groups = (Choices(tuple(boxes), _place_in_words),)

    def loaded(self) -> Loaded:
        told: dict[str, str | None] = {}
        for name, box in self.boxes.items():
            told[name] = None if box.value in (FOUND, "") else box.value
        return self.file.read(colours_of(self.project), **told)


def _place_in_words(loaded: Loaded) -> str:
    return f"Read from: {loaded.taken.removeprefix('Taken from ').rstrip('.')}"


class RowsReader(Reader):
    """Written rows; only what they leave in doubt is to be chosen."""

    LABELS: ClassVar = {
        "direction": "the rows are written",
        "repeats": "times that are named are",
        "order": "the first line is",
        "capitals": "a small and a capital letter are",
        "slips": "the words for slipped stitches are",
        "last_row": "the last row is",
        "to_end": "stitches to the end are in",
        "ridges": "of garter there is",
        "size": "the chart has as many rows",
    }

    def __init__(self, file: charts.RowsFile, goal: Goal):
        self.file = file
        boxes: dict[str, widgets.Widget] = {}
        for setting, answers in charts.ROW_CHOICES.items():
            boxes[setting] = one_of(self.LABELS[setting], (FOUND, *answers))
        super().__init__(goal, boxes)
        self.groups = (Choices(tuple(boxes), self._asked_in_words, opens=_not_at_first),)

    def loaded(self) -> Loaded:
        told = self._told()
        loaded = self.file.read(self.project, **told)
        asked = {ask.setting for ask in loaded.asks}
        for name, box in self.boxes.items():
            show_if(box, name in asked or told[name] is not None)
        return loaded

    def for_piece(self, loaded: Loaded, project: Project) -> Loaded:
        # By the names of its yarns, which are told in the rows themselves.
        return with_names_of(loaded, self.file.read(project, **self._told()))

    def _told(self) -> dict[str, str | None]:
        return {name: None if box.value == FOUND else box.value for name, box in self.boxes.items()}

    def _asked_in_words(self, loaded: Loaded) -> str:
        answered = sum(box.value != FOUND for box in self.boxes.values())
        if not answered and not loaded.asks:
            return ""
        return f"What was in doubt: {counted(answered, 'answer')} of yours"


def reader_for(
    desk: Desk, file: charts.PictureFile | charts.SheetFile | charts.RowsFile, goal: Goal
) -> Reader:
    """What reads a file, by what it is, for the piece that is its goal."""
    if isinstance(file, charts.PictureFile):
        return PictureReader(desk, file, goal)
    if isinstance(file, charts.RowsFile):
        return RowsReader(file, goal)
    return SheetReader(file, goal)


def colours_of(project: Project) -> dict[str, str]:
    """The colours of a piece's yarns, by letter."""
    return {letter: yarn.colour for letter, yarn in project.yarns.items()}


def _share(label: str, value: float = 0.5, **range_of: float) -> FineSlider:
    """A slider from 0 to 1, or over another range."""
    return labelled(FineSlider, label, **range_of, value=value)


def _picture_boxes(file: charts.PictureFile, desk: Desk, goal: Goal) -> dict[str, widgets.Widget]:
    """The boxes of PictureSettings and the unit of the width, for a picture just chosen."""
    project = goal()
    stitches = project.chart.columns
    width = stitches * _stitch_width(project.gauge, project.units)
    levels = [(words, level) for level, (*_, words) in enumerate(charts.LEVELS)]
    # It begins as wide as the chart on the desk; the rows follow the picture's shape.
    return {
        "unit": unit_box(desk),
        "what": one_of("it is", file.kinds, file.what),
        "part": part_frame(file.art.pixels, "the page" if file.finer else "the picture"),
        "corners": corner_frame(file.art.pixels, file.corners),
        "width": length("width", round(width, 1)),
        "stitches": whole("or stitches across", stitches, least=1, most=1000),
        "rows": whole("rows (0: as its shape asks)", most=2000),
        "grid_stitches": whole("stitches (0: counted from the grid)", most=1000),
        "grid_rows": whole("rows (0: counted from the grid)", most=2000),
        "by": one_of("the yarns are told by", (FOUND, "colours", "signs")),
        "blanks": one_of("blank cells are", (FOUND, *charts.CHOICES["blanks"])),
        "yarns": one_of("in", (PICKED, IN_HAND)),
        "count": whole("number of yarns", file.art.suggested_yarns, least=1, most=40),
        "grid_count": whole("number of yarns (0: counted)", most=40),
        "across": _share("if it is cropped: from the left"),
        "up": _share("from below"),
        "zoom": _share("enlarged", 1.0, min=1, max=8, step=0.25),
        "tidy": one_of("tidied", levels),
    }


def _stitch_width(gauge: Gauge, unit: str) -> float:
    return gauge.stitch_cm / float(CM_PER[unit])


def _tie_width_to_stitches(
    width: LengthBox, stitches: widgets.BoundedIntText, goal: Goal, unit: widgets.Dropdown
) -> None:
    """Let the width and the number of stitches say the same, whichever is typed."""

    # Each leaves the other alone if that says the same already, rounded in its own way. Without
    # this they would set each other back and forth.
    def by_width(_: Any) -> None:
        gauge = goal().gauge
        stitch = _stitch_width(gauge, unit.value)
        if round(stitches.value * stitch, 1) != width.value and width.value > 0:
            stitches.value = charts.stitches_for(width.meant(unit.value), gauge, unit.value)

    def by_stitches(_: Any) -> None:
        gauge = goal().gauge
        stitch = _stitch_width(gauge, unit.value)
        if charts.stitches_for(max(width.value, stitch), gauge, unit.value) != stitches.value:
            width.value = round(stitches.value * stitch, 1)

    width.observe(by_width, names="value")
    stitches.observe(by_stitches, names="value")


def show_if(box: widgets.Widget, wanted: bool) -> None:
    """Show a box, or hide it and keep its place."""
    # A layout of its own: boxes may share one.
    box.layout = widgets.Layout(display=None if wanted else "none")


def yarns_in_hand(project: Project) -> dict[str, Yarn]:
    """The yarns of which something is known beside letter and colour, as a picture gives them."""
    yarns = project.yarns.items()
    return {letter: yarn for letter, yarn in yarns if yarn != Yarn(letter, colour=yarn.colour)}
