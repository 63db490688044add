"""The menu of pieces at the top of every notebook: choose one, make a new one, read the news.

What is chosen is remembered for all notebooks: those that are open go there as well, as they take
up what changes in the piece's folder.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

from planner.errors import PlanError
from planner.folder import (
    Stamp,
    choose_piece,
    chosen_piece,
    read_chart,
    read_settings,
    stamp_of,
    start_piece,
)
from planner.piece import Chart, Project, Yarn
from planner.workbook import desk as desks
from planner.workbook.asking import DeskBoxes, asking
from planner.workbook.desk import COPY, DEMO, Desk, folder_of, open_desk, shows_the_demo
from planner.workbook.fields import colour, offer, one_of, text, whole
from planner.workbook.folds import fold
from planner.workbook.keeping import news_form
from planner.workbook.panes import Form, Pane, notice
from planner.workbook.yarn_letters import check_letter

# As much as a chart to paint may have; a slip of the finger must not fill the memory.
MOST_STITCHES, MOST_ROWS = 1000, 2000
LETTER_OF_GROUND = "letter of its ground"
NO_PIECES = (
    "There is no piece in the folder data. Put a folder there that holds your chart, saved as "
    "chart.csv, and open this notebook again."
)
NOT_THERE = "The piece opened last, data/{}, is not there any more."
NOT_OPENED = "The piece opened last, data/{}, cannot be opened. {}"
ANOTHER_INSTEAD = "This is another one; choose above."


# ---- the pieces there are


def piece_names(data: Path | None = None) -> list[str]:
    """The names of the folders in data, or in another folder, that hold a piece, sorted."""
    data = data or desks.DATA
    found = {path.parent.name for path in data.glob("*/chart.csv")}
    found |= {path.parent.name for path in data.glob("*/piece.toml")}
    # Who has a copy of the demo goes on with that.
    if COPY in found and not shows_the_demo():
        found.discard(DEMO)
    # What is being copied is not a piece yet.
    return sorted(name for name in found if not name.endswith(".part"))


def pieces_to_choose(desk: Desk) -> list[tuple[str, str]]:
    """What the menu lists: each piece by its name and the size of its chart, and its folder."""
    places = piece_names()
    own = _place(desk)
    if own not in places:
        places.append(own)
    titles = [_title_in(place, desk) for place in places]
    listed = []
    for place, title in zip(places, titles, strict=True):
        # Two pieces may have one name, but not one folder.
        is_alone = titles.count(title) == 1
        listed.append((title if is_alone else f"{title} · {place}", place))
    return listed


def _place(desk: Desk) -> str:
    """Where the piece on the desk lies: the name of its folder in data, or the whole path."""
    folder = desk.project.folder
    if folder is None:
        return ""
    return folder.name if folder.parent == desks.DATA else str(folder)


def _title_in(place: str, desk: Desk) -> str:
    if not place:
        return desk.project.name
    # A whole path stays what it is.
    folder = desks.DATA / place
    return title_of(folder)


def title_of(folder: Path) -> str:
    """The title of the piece in a folder: its name and the size of its chart."""
    return _title(folder, stamp_of(folder))


@lru_cache(maxsize=256)
def _title(folder: Path, stamp: Stamp) -> str:
    """A piece's name and the size of its chart, read again when its files have changed."""
    name = folder.name
    try:
        settings = folder / "piece.toml"
        if settings.exists():
            name = read_settings(settings).get("name", name)
        chart = read_chart(folder / "chart.csv")
    except PlanError:
        return f"{name} · cannot be read"
    return f"{name} · {chart.columns} × {chart.rows}"


# ---- the one that is open


def open_chosen() -> tuple[Desk, str]:
    """The piece that was chosen last, on a desk that follows the choice; and what went wrong.

    If it cannot be opened, another one is, the demo first. Raises PlanError where there is none.
    """
    words = ""
    for name in _to_open():
        try:
            desk = open_desk(name, follows_choice=not shows_the_demo())
        except PlanError as error:
            is_there = folder_of(name).is_dir()
            words = words or (NOT_OPENED if is_there else NOT_THERE).format(name, error)
        else:
            return desk, f"{words} {ANOTHER_INSTEAD}" if words else ""
    raise PlanError(words or NO_PIECES)


def _to_open() -> Iterator[str]:
    """The names of the pieces to open, the later ones where those before cannot be."""
    chosen = "" if shows_the_demo() else chosen_piece(desks.DATA)
    names = [chosen or DEMO, DEMO, *piece_names()]
    yield from dict.fromkeys(names)


def go_to_piece(desk: Desk, folder: Path, *, news: str = "") -> None:
    """Put the piece of a folder on the desk, and remember it for all notebooks."""
    desk.go_to(folder, news=news)
    if folder.parent == desks.DATA:
        choose_piece(desks.DATA, folder.name)


# ---- a new one


def start_new_piece(*, name: str, stitches: int, rows: int, letter: str, colour: str) -> Path:
    """The folder, in data, of a new piece that is made all in one yarn."""
    if not (1 <= stitches <= MOST_STITCHES and 1 <= rows <= MOST_ROWS):
        raise PlanError(
            f"{stitches} stitches × {rows} rows: give 1 to {MOST_STITCHES:,} stitches and 1 to "
            f"{MOST_ROWS:,} rows."
        )
    ground = letter.strip()
    check_letter(ground, LETTER_OF_GROUND)
    chart = Chart.from_rows([[ground] * stitches] * rows)
    return start_piece(desks.DATA, name, chart, {ground: Yarn(ground, colour=colour)})


def new_piece_form(desk: Desk, *, made: Callable[[], None]) -> Form:
    """A name, a size and a first yarn; makes the piece and opens it; `made` is called then."""

    def make(**typed: Any) -> str:
        folder = start_new_piece(**typed)
        go_to_piece(desk, folder, news=f"{folder.name} is made, and open in all notebooks.")
        made()
        return ""

    return asking(
        make,
        button="Make the piece",
        name=text("name of the piece", placeholder="such as hill scarf"),
        stitches=whole("stitches", 60),
        rows=whole("rows (garter: ridges)", 80),
        letter=text(LETTER_OF_GROUND, "A"),
        colour=colour("colour of it", "#d9d2c3"),
    )


def name_form(desk: Desk) -> Form:
    """What the piece is called; its folder keeps the name that it has."""
    message, box = Pane(), text("name of this piece", continuous_update=False)

    def show(project: Project) -> None:
        box.value = project.name

    def changes() -> dict[str, Any]:
        name = " ".join(box.value.split())
        if not name:
            raise PlanError("A piece needs a name. Type one, such as hill scarf.")
        return {"name": name}

    boxes = DeskBoxes(desk, message, show)
    boxes.hear(box, changes)
    boxes.follow()
    return Form([box, message])


# ---- the menu


class Menu(Form):
    """The menu of pieces; beside it, for the tests of the notebooks, the plan in a line."""

    def __init__(self, desk: Desk, said: str = ""):
        self._desk = desk
        message = Pane(value=notice(said, trouble=True))
        which = one_of("piece", [("", "")])

        def show(_: Any) -> None:
            offer(which, pieces_to_choose(desk))
            which.value = _place(desk)

        def choose() -> dict[str, Any]:
            go_to_piece(desk, desks.DATA / which.value)
            return {}  # nothing of the piece is to be changed

        boxes = DeskBoxes(desk, message, show)
        boxes.follow()
        boxes.hear(which, choose)

        def forms() -> Form:
            return Form([new_piece_form(desk, made=shut), name_form(desk)])

        new = fold(desk, "New piece, or another name", forms)

        def shut() -> None:
            new.heading.is_open = False

        super().__init__([which, new, news_form(desk), message])
        self.add_class("plan-menu")

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        return super()._repr_mimebundle_(**kwargs) | {"text/plain": repr(self._desk.plan)}
