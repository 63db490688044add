"""The desk: one open piece in a notebook, a view of its folder.

Forms change what the knitter asks for, panes show the plan that follows. Every change goes into the
folder at once: there is nothing to be saved, and nothing is acted on that is stale, for before each
action, and every two seconds, the desk takes up what has changed there. Callbacks may run on a
second thread while a cell runs, hence one lock, and pictures that never touch pyplot.
"""

from __future__ import annotations

import asyncio
import os
import threading
import traceback
import weakref
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from planner.errors import PlanError
from planner.folder import (
    NO_FOLDER,
    Seen,
    Stamp,
    Version,
    brought_back,
    change_piece,
    chosen_piece,
    copy_piece,
    merged,
    stamp_of,
)
from planner.folder import note_trouble as note_details
from planner.piece import Chart, Project, rows_worked
from planner.plan import Plan, make_plan
from planner.workbook.drawing import Drawing, Step
from planner.workbook.news import changes_in_words, what_changes
from planner.workbook.panes import WENT_WRONG, Pane, lines_html, notice, picture_html, table_html
from planner.workbook.troubles import Trouble, open_anyway
from planner.workbook.waiting import plan_or_stop

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Where the pieces lie: beside planner, in the project's own folder.
DATA = Path(__file__).resolve().parents[2] / "data"
# The demo stays as it is: the first change in it goes into a copy, which is opened from then on.
# Where this variable is set, as in tests, the demo itself is opened.
DEMO, COPY = "harbour-cushion", "my-harbour-cushion"
OPEN_THE_DEMO = "PLANNER_DEMO"
LOOK_EVERY_S = 1.5
OPENED_ELSEWHERE = "This piece was opened in another notebook, and is shown here, too."
# It stays until there is other news: whoever is at the chart looks up later.
NOW_A_COPY = f'the example stays as it is: this is a copy of it now, "{{}}" in data/{COPY}.'
IN_TROUBLE = "First one of the ways out at the top has to be chosen: {}"

# The piece that was opened last: what goes wrong is noted in its folder.
_open: list[weakref.ref[Desk]] = []
Content = Callable[[Plan], str]  # the HTML of a pane, made from a plan


def pictured(plan: Plan) -> Any:
    """What pictures are drawn from, to be compared: all of a plan but which rows are worked."""
    links = plan.traced.links
    chosen = (links.a.tobytes(), links.b.tobytes(), links.is_middle.tobytes())
    return replace(plan.project, progress=()), chosen


def unless_same(content: Content, made_from: Callable[[Plan], Any]) -> Content:
    """The same content, made anew only where `made_from` gives something else than last time."""
    last: tuple[Any, str] | None = None

    def made(plan: Plan) -> str:
        nonlocal last
        now_from = made_from(plan)
        if last is None or last[0] != now_from:
            last = now_from, content(plan)
        return last[1]

    return made


def _drawn(draw: Callable[[Plan], Figure], words: Content, plan: Plan) -> str:
    return picture_html(draw(plan), words(plan))


class Desk:
    """An open piece: its `project`, the `plan` for it, and the panes that follow the plan.

    `seen` is the piece as its folder had it when the desk looked last; `troubles` what is wrong
    with that, if it is only shown as far as can be; `news` what has changed elsewhere.
    """

    def __init__(
        self,
        opened: Project | Seen,
        troubles: tuple[Trouble, ...] = (),
        plan: Plan | None = None,
    ):
        # One thread may take it several times: forms that follow a change set their own boxes.
        self.lock = threading.RLock()
        self.seen = opened if isinstance(opened, Seen) else Seen(opened, ())
        if self.seen.project.folder is not None and not self.seen.stamp:
            self.seen = replace(self.seen, stamp=stamp_of(self.seen.folder))
        self.troubles = troubles
        self.news = ""
        self.plan: Plan = plan or make_plan(self.project, say=print)
        # Whether it goes to whatever piece is chosen in another notebook.
        self.follows_choice = False
        self._looking: asyncio.Task[None] | None = None
        self._not_shown: tuple[Path, Stamp] | None = None
        _open.append(weakref.ref(self))
        # In the order in which they are brought up to date, the later ones by and by.
        self._arrivals: list[Step] = []
        self._watchers: list[Step] = []
        self._quick: list[Step] = []
        self._slow: list[Step] = []
        self._drawing = Drawing(self.lock, note_trouble)

    @property
    def project(self) -> Project:
        """The piece as the desk shows it."""
        return self.seen.project

    def change(self, *, doing: str = "", much: bool = False, **changes: Any) -> None:
        """Ask for something else: keep it in the folder, plan anew, and show it.

        Only what differs from what the desk shows is changed in the folder. What is replaced by a
        change of `much` at once is kept in any case. PlanError leaves everything as it was.
        """
        with self.lock:
            shown, touched = self.project, replace(self.project, **changes)
            # What follows from a touch that changes nothing is nothing.
            if touched == shown:
                return
            doing = doing or f"changing {', '.join(what_changes(shown, touched))}"
            self.act(lambda held: merged(shown, touched, held), doing=doing, much=much)

    def act(
        self,
        change: Callable[[Project], Project],
        *,
        doing: str = "a change",
        strand_then: str = "",
        much: bool = False,
    ) -> None:
        """Change the piece in its folder: `change` makes of what that holds what it is to hold."""
        with self.lock:
            shown = self.seen
            try:
                if self.project.folder is not None and not self._leave_the_demo():
                    # What was new before the last action is none any more.
                    is_told = self._take_up() or self.news == NOW_A_COPY.format(self.project.name)
                    self.news = self.news if is_told else ""
                if self.troubles:
                    raise PlanError(IN_TROUBLE.format(self.troubles[0].what))
                self._make(change, doing=doing, strand_then=strand_then, much=much)
            finally:
                # What was taken up is shown, also where the change is refused.
                if self.seen is not shown:
                    self.show_all()

    def _make(self, change: Callable[[Project], Project], **how: Any) -> None:
        def checked(held: Project) -> Project:
            wanted = change(held)
            _check_worked_rows(held, wanted.chart)
            return wanted

        if self.project.folder is None:
            wanted = checked(self.project)
            self.plan, self.seen = plan_or_stop(wanted), Seen(wanted, ())
        else:
            # Nothing is kept before the plan is made: it may be refused.
            self.seen, self.plan = change_piece(self.seen, checked, check=plan_or_stop, **how)

    def go_back(self, version: Version) -> None:
        """Bring back what was asked for in an earlier version."""
        change, doing = brought_back(version)
        self.act(change, doing=doing, much=True)

    def _leave_the_demo(self) -> bool:
        """Go on with a copy of the demo, if it is the demo itself that lies here; whether it is."""
        folder = self.folder()
        copy = own_copy(folder)
        if copy == folder:
            return False
        # A copy that was there already may be quite another by now.
        self.seen, self.plan, self.troubles = open_anyway(copy)
        self.news = NOW_A_COPY.format(self.project.name)
        return True

    def go_to(self, folder: Path, *, news: str = "") -> None:
        """Put another piece on the desk, and show it everywhere.

        Raises PlanError where there is nothing to show; then everything is as it was.
        """
        with self.lock:
            self.seen, self.plan, self.troubles = open_anyway(folder, plan=plan_or_stop)
            self.news = news
            for arrived in self._arrivals:
                arrived()
            self.show_all()

    def look(self) -> bool:
        """Take up what has changed in the folder, and show it; whether anything has."""
        with self.lock:
            if not self._take_up():
                return False
            self.show_all()
            return True

    def _take_up(self) -> bool:
        if self.project.folder is None or stamp_of(self.folder()) == self.seen.stamp:
            return False
        before = self.project
        self.seen, self.plan, self.troubles = open_anyway(self.folder())
        self.news = changes_in_words(before, self.project)
        return True

    def watch(self) -> None:
        """Look every other second, as long as the notebook's kernel runs."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return  # a script, or a test

        async def keep_looking() -> None:
            while True:
                await asyncio.sleep(LOOK_EVERY_S)
                self._look_quietly()

        # A notebook that is run again has a new desk. The one before may be seen in a second tab
        # of the browser, older ones by nobody.
        older = [desk for desk in _open_desks() if desk._looking and desk._is_like(self)]
        for desk in older[:-1]:
            desk._stop_looking()
        # Kept here, or it would be thrown away while it sleeps.
        self._looking = loop.create_task(keep_looking())

    def _is_like(self, other: Desk) -> bool:
        """Whether both show the same piece, now and later."""
        if self.follows_choice or other.follows_choice:
            return self.follows_choice and other.follows_choice
        return self.project.folder == other.project.folder

    def _stop_looking(self) -> None:
        if self._looking is not None:
            self._looking.cancel()
            self._looking = None

    def _look_quietly(self) -> None:
        """Look; what cannot be shown now is said where somebody acts on it."""
        folder = self._folder_to_show()
        # Tried once for each state of the folder, for it may take long.
        tried = folder, stamp_of(folder)
        if tried == self._not_shown:
            return
        try:
            if folder == self.folder():
                self.look()
            else:
                self.go_to(folder, news=OPENED_ELSEWHERE)
        except Exception as error:
            self._not_shown = tried
            if not isinstance(error, PlanError | OSError):
                note_trouble(error)

    def _folder_to_show(self) -> Path:
        """The folder of the piece that was chosen last, if the desk follows that; or its own."""
        if self.follows_choice:
            chosen = folder_of(chosen_piece(DATA) or DEMO)
            if chosen.is_dir():
                return chosen
        return self.folder()

    def show_all(self) -> None:
        """Bring everything up to date: forms at once, then tables, then what takes longest."""
        for watcher in self._watchers:
            watcher()
        # Each travels to the browser as soon as it is done; the page hears the answer before.
        self._drawing.begin([*self._quick, *self._slow])

    @property
    def is_drawing(self) -> bool:
        """Whether something is still to be brought up to date."""
        return self._drawing.is_due

    def _html(self, content: Content) -> str:
        # A pane that cannot be made says why in its own place, and the others are made.
        try:
            return content(self.plan)
        except PlanError as error:
            return notice(str(error), trouble=True)

    def pane(self, content: Content, *, slow: bool = False) -> Pane:
        """A pane whose HTML is made from the plan, now and whenever the plan changes."""
        with self.lock:
            pane = Pane(value=self._html(content))

            def follow() -> None:
                try:
                    pane.value = self._html(content)
                except Exception as error:
                    # What it shows is outdated, and nobody may be there to hear of it.
                    words = WENT_WRONG.format(type(error).__name__)
                    pane.value = notice(words, trouble=True)
                    raise

            steps = self._slow if slow else self._quick
            steps.append(follow)
            return pane

    def words(self, content: Content) -> Pane:
        """A pane of plain text, a line to a line."""
        return self.pane(lambda plan: lines_html(content(plan)))

    def table(self, content: Callable[[Plan], pd.DataFrame], *, first: int | None = None) -> Pane:
        """A pane with a table; a long one folds to its `first` lines."""

        def made(plan: Plan) -> str:
            yarns = plan.project.all_yarns
            return table_html(content(plan), first=first, yarns=yarns)

        return self.pane(made)

    def picture(self, draw: Callable[[Plan], Figure], words: Content = repr) -> Pane:
        """A pane with a picture of what is planned; `words` says the same for who cannot see it.

        It stays as it is while rows are marked, as long as the same links are planned.
        """
        drawn = unless_same(partial(_drawn, draw, words), pictured)
        return self.pane(drawn, slow=True)

    def on_change(self, watcher: Step, *, later: bool = False) -> None:
        """Call this whenever the plan has changed or what is kept has.

        At once, before the change is answered; what takes its time may come `later`, with the
        pictures.
        """
        watchers = self._slow if later else self._watchers
        watchers.append(watcher)

    def on_arrival(self, watcher: Step) -> None:
        """Call this when another piece is on the desk, before it is shown anywhere.

        What a form remembers of a piece, such as how it was at first, it forgets then.
        """
        self._arrivals.append(watcher)

    @property
    def place(self) -> str:
        """Where the piece lies, as it is told: data/NAME, or the whole path; "" if nowhere."""
        folder = self.project.folder
        if folder is None:
            return ""
        return f"{DATA.name}/{folder.name}" if folder.parent == DATA else str(folder)

    def folder(self, otherwise: str = NO_FOLDER) -> Path:
        """The piece's folder; a PlanError that says `otherwise` if it has none."""
        if self.project.folder is None:
            raise PlanError(otherwise)
        return self.project.folder

    def __repr__(self) -> str:
        return repr(self.project)


def _open_desks() -> list[Desk]:
    return [desk for each in _open if (desk := each()) is not None]


def note_trouble(error: BaseException) -> None:
    """Note the details of an error in the folder of the piece that was opened last."""
    details = "".join(traceback.format_exception(error))
    for desk in reversed(_open_desks()):
        if desk.project.folder is not None:
            # Where nothing can be written there is nothing more to be done.
            with suppress(OSError):
                note_details(desk.project.folder, details, datetime.now())
            return


def _check_worked_rows(project: Project, chart: Chart) -> None:
    """Refuse a chart in which a row that is knitted already would look otherwise."""
    rows = rows_worked(project.progress)
    # A ridge of garter that is begun stays as it is, so the count is rounded up.
    worked = -(-rows // project.how.rows_per_chart_row)
    # Charts list their top row first, so that the worked rows are the last ones.
    if worked and chart.to_rows()[-worked:] != project.chart.to_rows()[-worked:]:
        raise PlanError(
            f"Rows 1 to {worked} of the chart are worked and stay as they are, but the new chart "
            "has them otherwise. Change only rows above them, or take rows back in notebook 4."
        )


def own_copy(folder: Path) -> Path:
    """The folder to write to instead of this one: of the demo its copy, made if it is not there."""
    if folder.resolve() != (DATA / DEMO).resolve():
        return folder
    copy_piece(folder, DATA / COPY)
    return DATA / COPY


def shows_the_demo() -> bool:
    """Whether the demo itself is opened, whatever was chosen or changed: in tests."""
    return bool(os.environ.get(OPEN_THE_DEMO))


def folder_of(name: str) -> Path:
    """The folder data/NAME; of the demo its copy, once there is one."""
    if name == DEMO and (DATA / COPY).is_dir() and not shows_the_demo():
        return DATA / COPY
    return DATA / name


def open_desk(name: str, *, follows_choice: bool = False) -> Desk:
    """The piece in data/NAME, or in any folder, laid out on a desk.

    `follows_choice`: go to whatever piece is chosen later on in another notebook.
    """
    # A piece of the workbook's own comes first, whatever the notebook's folder holds.
    folder = folder_of(name)
    if not folder.is_dir():
        folder = Path(name)
    if not folder.is_dir():
        pieces = sorted(path.parent.name for path in DATA.glob("*/chart.csv"))
        raise PlanError(
            f'There is no piece "{name}" in the folder data. There are: {", ".join(pieces)}.'
        )
    seen, plan, troubles = open_anyway(folder, plan=partial(make_plan, say=print))
    desk = Desk(seen, troubles, plan)
    desk.follows_choice = follows_choice
    desk.watch()
    return desk
