"""Notebook 3: the piece with others, from one purse of yarn: a set named beside their folders."""

from __future__ import annotations

import html
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import ipywidgets as widgets
import pandas as pd

from planner.buying import (
    Member,
    Purse,
    Question,
    Use,
    buy_in_words,
    by_piece_table,
    fill_purse,
    is_of_several_lots,
    lot_of_pieces,
    lots_in_words,
    member_in_words,
    plans_in_order,
    purse_in_words,
    set_shopping_list,
    singly_in_words,
    taken_table,
    used_table,
    yarns_of_set,
)
from planner.errors import PlanError
from planner.folder import (
    APART,
    ONE_YARN,
    SET,
    TOGETHER,
    Answer,
    PieceSet,
    SetPiece,
    Stamp,
    change_set,
    dissolve_set,
    open_project,
    read_set,
    set_aside,
    set_text,
    stamp_of,
)
from planner.guards import MOST_TIMES
from planner.knitting import yarn_used
from planner.piece import BALL, Project, Yarn
from planner.plan import Plan
from planner.supplies import alike_pieces
from planner.units import counted
from planner.workbook import desk as desks
from planner.workbook.asking import DeskBoxes, heard, title
from planner.workbook.desk import Desk, folder_of
from planner.workbook.fields import button, one_of, text, whole, yes
from planner.workbook.folds import Fold, fold
from planner.workbook.labels import put_label
from planner.workbook.panes import Form, Pane, notice, table_html
from planner.workbook.pieces import piece_names, title_of
from planner.workbook.waiting import plan_or_stop
from planner.workbook.what_follows import NOT_COUNTED, winding_table

HEADING = "With other pieces: {}"
NO_FOLDER = "This piece has no folder, so that nothing can be kept beside it. Open one that has."
WHICH = "Which pieces are knitted from one purse of yarn"
HOW_OFTEN = "How often each is knitted"
ABOUT = (
    "Back, fronts and sleeves, or the squares of a blanket: what one leaves of a ball goes into "
    "the next. Tick them in the order in which you knit them."
)
COUNTS = (
    "Mirrored ones are worked from the chart turned left to right. Finished are those cast off; "
    "take the rows back in notebook 4 when you cast on the next."
)
HOW_COUNTED = (
    "Each piece is planned by its own chart, gauge and choices; its row is marked in notebook 4. "
    "A swatch is counted once a yarn. Balls in hand are the same balls in whichever piece they are "
    "put down (notebook 1), those that are knitted up by now too. Each ball counts as short as its "
    "band may be wrong, and what is to spare comes on top."
)
NOT_THIS_ONE = "The piece that is open is not in this set. Tick it to count it in."
DISSOLVED = (
    f"The set is dissolved: each piece is bought for by itself again. {SET} lies in the folder "
    "history."
)
ALL_FINISHED = "Every one of this piece is finished."
NOT_ANSWERED = "please choose"
IN_WORDS = {TOGETHER: "one yarn, all these balls together", APART: "yarns that differ"}
ITS_BALL = "from its ball {}"
ITS_BALLS = (
    "Balls are numbered as this piece takes them: its ball 1 of a yarn is the first it goes on "
    "with or opens."
)
FIRST_LINES = 12  # of a long table
MOST_KEPT = 60  # plans

Change = Callable[[PieceSet], PieceSet]


# ---- the set beside the piece


def data_of(desk: Desk) -> Path:
    """The folder in which the piece's own folder lies."""
    return desk.folder(NO_FOLDER).parent


def own_name(desk: Desk) -> str:
    """The name of the open piece's folder, as a set names it."""
    return desk.folder(NO_FOLDER).name


def set_beside(desk: Desk, *, all_there: bool = True) -> PieceSet | None:
    """The set named beside the piece, None if there is none."""
    if desk.project.folder is None:
        return None
    data = data_of(desk)
    found = read_set(data, all_there=all_there)
    return found and _with_own_copies(found, data)


def _with_own_copies(found: PieceSet, data: Path) -> PieceSet:
    """The set with the knitter's copy of the demo in place of the demo, once there is one."""
    if data != desks.DATA:
        return found
    pieces: dict[str, SetPiece] = {}
    for piece in found.pieces:
        name = folder_of(piece.folder).name
        pieces.setdefault(name, replace(piece, folder=name))
    return replace(found, pieces=tuple(pieces.values()))


def change_beside(desk: Desk, change: Change, doing: str) -> PieceSet:
    """Change the set beside the piece; where there is none, one is made of this piece alone."""
    data = data_of(desk)

    def changed(held: PieceSet | None) -> PieceSet:
        return change(_with_own_copies(held or new_set(desk), data))

    return change_set(data, changed, doing=doing)


def names_of_yarns(desk: Desk, folder: str) -> dict[str, str]:
    """What the yarns of another piece of the set are called in the open one, by their letters.

    A yarn that is none of this piece's has its own name, with its piece's where both have that
    name. Nothing is said of pieces that are not in one set.
    """
    try:
        found = set_beside(desk)
    except PlanError:
        return {}
    folders = [piece.folder for piece in found.pieces] if found else []
    if found is None or not {own_name(desk), folder} <= set(folders):
        return {}
    uses = _uses_of(desk, folders)
    own_names = {_called(use) for use in uses if use.folder == own_name(desk)}
    names = {}
    same, _ = yarns_of_set(uses, _answers_of(found))
    for each in same:
        # Until it is answered, a yarn goes by its own name.
        if each.is_open:
            continue
        ours = [use for use in each.uses if use.folder == own_name(desk)]
        for use in each.uses:
            if use.folder == folder:
                names[use.letter] = _called(ours[0]) if ours else _told_from(own_names, use)
    return names


def _called(use: Use) -> str:
    return use.yarn.name or use.letter


def _told_from(names: Collection[str], use: Use) -> str:
    """What a yarn is called beside others of these names."""
    name = _called(use)
    return f"{name} of {use.piece}" if name in names else name


def _uses_of(desk: Desk, folders: Sequence[str]) -> list[Use]:
    """The yarns of the pieces in these folders, as each has them."""
    uses = []
    for folder in folders:
        is_own = folder == own_name(desk)
        project = desk.project if is_own else open_project(data_of(desk) / folder)
        for letter in project.chart.letters:
            uses.append(Use(folder, project.name, letter, project.all_yarns[letter]))
    return uses


def _answers_of(found: PieceSet) -> dict[tuple[str, str], tuple[str, str]]:
    """What was answered, by what it is about."""
    return {(each.about, each.of): (each.says, each.piece) for each in found.answers}


def new_set(desk: Desk) -> PieceSet:
    """A set of the open piece alone."""
    return PieceSet(f"{desk.project.name} set", (SetPiece(own_name(desk)),))


def with_piece(held: PieceSet, folder: str) -> PieceSet:
    """The set with one piece more."""
    if any(piece.folder == folder for piece in held.pieces):
        return held
    return replace(held, pieces=(*held.pieces, SetPiece(folder)))


def without_piece(held: PieceSet, folder: str) -> PieceSet | None:
    """The set without a piece; None if one piece is left that is knitted once: that is no set."""
    left = tuple(piece for piece in held.pieces if piece.folder != folder)
    is_set = len(left) > 1 or any(piece.times > 1 or piece.mirrored for piece in left)
    return replace(held, pieces=left) if is_set else None


def with_counts(held: PieceSet, folder: str, **counts: Any) -> PieceSet:
    """The set with other counts of a piece: times, mirrored, finished."""
    pieces = []
    for piece in held.pieces:
        pieces.append(replace(piece, **counts) if piece.folder == folder else piece)
    return replace(held, pieces=tuple(pieces))


def with_answer(held: PieceSet, answer: Answer | None, key: tuple[str, str]) -> PieceSet:
    """The set with another answer to a question, or with None, without one."""
    answers = [each for each in held.answers if (each.about, each.of) != key]
    if answer is not None:
        answers.append(answer)
    return replace(held, answers=tuple(answers))


# ---- the plans of its pieces


class KeptPlans:
    """Plans, each kept by what it was made of, so that none is made twice."""

    def __init__(self) -> None:
        self._plans: list[Plan] = []
        self._projects: dict[Path, tuple[Stamp, Project]] = {}

    def plan(self, project: Project) -> Plan:
        """The plan for a project; where it takes long a bar says so."""
        for place, kept in enumerate(self._plans):
            if kept.project == project:
                self._plans.append(self._plans.pop(place))
                return kept
        self._plans.append(plan_or_stop(project))
        del self._plans[:-MOST_KEPT]
        return self._plans[-1]

    def piece_in(self, folder: Path) -> Plan:
        """The plan of the piece that a folder holds now."""
        stamp = stamp_of(folder)
        kept = self._projects.get(folder)
        try:
            if kept is None or kept[0] != stamp:
                kept = stamp, open_project(folder)
                self._projects[folder] = kept
            return self.plan(kept[1])
        except PlanError as error:
            raise PlanError(f"The piece {folder.name} cannot be planned. {error}") from None


class _Filled(NamedTuple):
    """A purse, and the set and the plans that it was filled from."""

    found: PieceSet
    plans: Sequence[Plan]
    purse: Purse

    def is_of(self, found: PieceSet, plans: Sequence[Plan]) -> bool:
        if found != self.found:
            return False
        # Two that are made of the same are one and the same.
        return all(one is other for one, other in zip(plans, self.plans, strict=True))


class Together:
    """The purse of the set beside a desk's piece, filled anew where something has changed."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self._kept = KeptPlans()
        self._last: _Filled | None = None

    def purse(self) -> Purse | None:
        """What the set takes, None if there is none."""
        found = set_beside(self.desk)
        if found is None:
            return None
        plans = [self._plan_of(piece) for piece in found.pieces]
        # The same plans, counts and answers: then all of it is the same.
        if self._last is None or not self._last.is_of(found, plans):
            self._last = _Filled(found, plans, self._fill(found, plans))
        return self._last.purse

    def _fill(self, found: PieceSet, plans: Sequence[Plan]) -> Purse:
        members = []
        titles = _told_apart(plans, found)
        for piece, plan, name in zip(found.pieces, plans, titles, strict=True):
            members.append(self._member(piece, plan, name))
        return fill_purse(members, _answers_of(found))

    def _plan_of(self, piece: SetPiece) -> Plan:
        # What is on the desk is planned already.
        if piece.folder == own_name(self.desk):
            return self.desk.plan
        return self._kept.piece_in(data_of(self.desk) / piece.folder)

    def _member(self, piece: SetPiece, plan: Plan, name: str) -> Member:
        plans = plans_in_order(
            plan,
            piece.times,
            mirrored=piece.mirrored,
            finished=piece.finished,
            make=self._kept.plan,
        )
        used_cm = {}
        # Rows may have been marked of one that is finished, or that is not knitted any more.
        if piece.finished < piece.times and plans[piece.finished] is plan:
            used_cm = yarn_used(plan, plan.project.progress)
        return Member(piece.folder, name, plans, piece.finished, used_cm)


def _told_apart(plans: Sequence[Plan], found: PieceSet) -> list[str]:
    """The names of the pieces, with the folder where two are called alike."""
    names = [plan.project.name for plan in plans]
    titles = []
    for name, piece in zip(names, found.pieces, strict=True):
        titles.append(f"{name} · {piece.folder}" if names.count(name) > 1 else name)
    return titles


# ---- what is told


def heading_of(desk: Desk, purse: Purse | None) -> str:
    """How things stand with other pieces; with the purse what is to be bought, too."""
    try:
        found = set_beside(desk)
    except PlanError:
        return HEADING.format(f"{SET} has to be looked at")
    if found is None:
        return HEADING.format("none yet")
    pieces = sum(piece.times for piece in found.pieces)
    if pieces == 1:
        return HEADING.format("none yet")
    told = [found.name or "a set", counted(pieces, "piece")]
    if purse is not None:
        told.append(_heading_of_balls(purse))
        if purse.questions:
            told.append(f"{counted(len(purse.questions), 'question')} to answer")
    if own_name(desk) not in {piece.folder for piece in found.pieces}:
        told.append("this one is not among them")
    return HEADING.format(", ".join(told))


def _heading_of_balls(purse: Purse) -> str:
    """How many balls are to be bought: "2 balls to buy; A: not known"."""
    known, _, unknown = buy_in_words(purse).rpartition("; ")
    if not purse.not_known:
        return f"{unknown} to buy"
    return f"{known} to buy; {unknown}" if known else f"balls to buy of {unknown}"


def to_buy_table(purse: Purse, units: str) -> pd.DataFrame:
    """The shopping list of a set as it is shown: what is not known is said, and sums are shown."""
    table = set_shopping_list(purse, units)
    for column in ("balls_used", "balls_in_hand", "balls_to_buy"):
        cells = table[column].astype(object)
        table[column] = cells.where(table[column].notna(), NOT_COUNTED)
    return table.assign(
        bought_singly=[singly_in_words(each) or NOT_COUNTED for each in purse.yarns]
    )


def purse_html(purse: Purse, folder: str, units: str) -> str:
    """The lists of a set: what to buy, metres by piece, what the piece open takes, what is used."""
    yarns = {each.title: each.same.yarn for each in purse.yarns}

    def table(content: pd.DataFrame, yarns: dict[str, Yarn] = yarns) -> str:
        return table_html(content, first=FIRST_LINES, yarns=yarns)

    to_buy = f"<h4>To buy for all of them</h4>{table(to_buy_table(purse, units))}"
    lots = "".join(f"<p>{html.escape(words)}</p>" for words in lots_in_words(purse))
    by_piece = f"<h4>To measure off, piece by piece</h4>{table(by_piece_table(purse, units))}"
    used = used_table(purse, units)
    so_far = f"<h4>Used so far, likely</h4>{table(used)}" if len(used) else ""
    parts = [
        f"<p>{html.escape(purse_in_words(purse, units))}</p>",
        to_buy,
        lots,
        by_piece,
        _on_needles_html(purse, folder, units),
        so_far,
        f'<div class="plan-note">{html.escape(HOW_COUNTED)}</div>',
    ]
    return "".join(parts)


def _on_needles_html(purse: Purse, folder: str, units: str) -> str:
    """What the open piece takes of the purse, and what is wound for it, with its lots."""
    member = purse.member(folder)
    if member is None:
        return f"<p>{html.escape(NOT_THIS_ONE)}</p>"
    copy = member.on_needles
    if copy is None:
        return f"<p>{html.escape(ALL_FINISHED)}</p>"
    name = html.escape(member.name_of(copy))
    yarns = {each.title: each.same.yarn for each in purse.yarns}
    taken = table_html(taken_table(purse, member, units), yarns=yarns)
    plan = member.plans[copy]
    to_wind = winding_with_lots(purse, member)
    wound = table_html(to_wind, first=FIRST_LINES, yarns=plan.project.all_yarns)
    numbered = to_wind["held_as"].str.startswith(ITS_BALL.format("")).any()
    note = f'<div class="plan-note">{html.escape(ITS_BALLS)}</div>' if numbered else ""
    return (
        f"<h4>What {name} takes, on the needles or next</h4>{taken}"
        f"<h4>What to wind for {name}</h4>{wound}{note}"
    )


def winding_with_lots(purse: Purse, member: Member) -> pd.DataFrame:
    """The winding list of the copy on the needles, each line with its lot."""
    plan = member.plans[member.on_needles or 0]
    table = winding_table(plan)
    lots, held_as = [], table["held_as"].tolist()
    for line, alike in enumerate(alike_pieces(plan.pieces, plan.project.units)):
        lots.append(lot_of_pieces(purse, member, alike))
        # By itself the piece would begin with the balls in hand; here others may have those.
        if alike[0].supply == BALL and held_as[line] != BALL:
            is_mixed = is_of_several_lots(purse, member, alike[0].yarn)
            held_as[line] = "from a ball of its lot" if is_mixed else ITS_BALL.format(alike[0].ball)
    return table.assign(held_as=held_as, lot=lots)


# ---- the form


def _note(words: str) -> Pane:
    return Pane(value=f'<div class="plan-note">{html.escape(words)}</div>')


def together_fold(desk: Desk) -> Fold:
    """The piece with others: which, how often, what to buy for all, what to wind for this one."""
    together = Together(desk)
    form: TogetherForm | None = None

    def heading(_: Any = None) -> str:
        purse = None
        # Other pieces are planned only once somebody has asked.
        if form is not None:
            try:
                purse = together.purse()
            except PlanError:
                purse = None
        return heading_of(desk, purse)

    def make() -> widgets.Widget:
        nonlocal form
        form = TogetherForm(desk, together, told=retitle)
        retitle()
        return form

    def retitle() -> None:
        folded.heading.description = heading()

    folded = fold(desk, heading, make)
    return folded


class TogetherForm(Form):
    """The pieces beside this one to tick, counts of those that are, questions, and the lists.

    Boxes are kept as long as there is something to show in them, so that whoever goes through them
    by the keyboard stays where she is.
    """

    def __init__(self, desk: Desk, together: Together, told: Callable[[], None]):
        self._desk, self._together, self._told = desk, together, told
        self._message = Pane()
        self._boxes = DeskBoxes(desk, self._message, self._show)
        self._ticks, self._lines, self._asked = (widgets.VBox() for _ in range(3))
        self._ticks.add_class("plan-fields")
        self._tick_of: dict[Path, widgets.Checkbox] = {}
        self._counts_of: dict[Path, dict[str, widgets.Widget]] = {}
        self._line_of: dict[Path, Form] = {}
        self._question_of: dict[Question, list[widgets.Widget]] = {}
        self._name = text("name of the set", continuous_update=False)
        self._boxes.hear(self._name, self._rename)
        named = Form([self._name])
        self._counts = widgets.VBox([named, title(HOW_OFTEN), self._lines, _note(COUNTS)])
        self._aside = button(f"Put {SET} aside and begin anew")
        self._aside.on_click(heard(self._message)(self._put_aside))
        # Other pieces are planned for it, which takes longest.
        self._lists = desk.pane(lambda plan: self._lists_html(), slow=True)
        desk.on_arrival(lambda: setattr(self._message, "value", ""))
        self._boxes.follow(later=True)
        heads = [_note(ABOUT), title(WHICH), self._ticks, self._counts, self._aside, self._message]
        super().__init__([*heads, self._asked, self._lists])

    # What is shown

    def _show(self, _: Project) -> None:
        """Show the pieces that there are, what the set says of them, and its questions."""
        held, trouble = self._held()
        self._aside.layout.display = "" if trouble else "none"
        self._counts.layout.display = "" if held else "none"
        self._name.value = held.name if held else ""
        pieces = {piece.folder: piece for piece in held.pieces} if held else {}
        self._ticks.children = [self._tick(name) for name in self._names(held)]
        for name in self._names(held):
            self._tick(name).value = name in pieces
        self._lines.children = [self._line(name) for name in pieces]
        for name, piece in pieces.items():
            for field, box in self._counts_of[self._folder(name)].items():
                box.value = getattr(piece, field)
        self._asked.children = self._questions(held)

    def _held(self) -> tuple[PieceSet | None, str]:
        """The set as its file has it, and why that cannot be read."""
        try:
            return set_beside(self._desk, all_there=False), ""
        except PlanError as error:
            return None, str(error)

    def _names(self, held: PieceSet | None) -> tuple[str, ...]:
        """The folders that can be ticked: the open piece first, also those that are gone."""
        if self._desk.project.folder is None:
            return ()
        names = [own_name(self._desk), *piece_names(data_of(self._desk))]
        names += [piece.folder for piece in held.pieces] if held else []
        return tuple(dict.fromkeys(names))

    def _folder(self, name: str) -> Path:
        return data_of(self._desk) / name

    def _label(self, name: str) -> str:
        """The title of a piece beside this one, by the name of its folder."""
        folder = self._folder(name)
        return title_of(folder) if folder.is_dir() else f"{name} · not there any more"

    def _tick(self, name: str) -> widgets.Checkbox:
        """The box to tick for a piece, its title beside it."""
        folder = self._folder(name)
        if folder not in self._tick_of:
            box = self._tick_of[folder] = yes(name)

            def put() -> dict[str, Any]:
                if not box.value:
                    return self._take_out(name)
                return self._change(lambda held: with_piece(held, name), "pieces of the set")

            self._boxes.hear(box, put)
        put_label(self._tick_of[folder], self._label(name))
        return self._tick_of[folder]

    def _line(self, name: str) -> Form:
        """How often a piece is knitted, how many of these mirrored, and how many are finished."""
        folder = self._folder(name)
        if folder not in self._line_of:
            counts = self._counts_of[folder] = {
                "times": whole("times", 1, least=1, most=MOST_TIMES),
                "mirrored": whole("of these mirrored", most=MOST_TIMES),
                "finished": whole("finished", most=MOST_TIMES),
            }
            for field, box in counts.items():
                self._boxes.hear(box, partial(self._count, name, field, box))
            line = self._line_of[folder] = Form(list(counts.values()))
            line.add_class("plan-set-piece")
        titled = self._label(name).partition(" · ")[0]
        put_label(self._counts_of[folder]["times"], f"{titled}, times")
        return self._line_of[folder]

    def _questions(self, held: PieceSet | None) -> list[widgets.Widget]:
        """A choice for each question; for each answer a button to be asked again."""
        purse = self._purse()
        asked: list[widgets.Widget] = []
        if purse is not None:
            titles = {member.folder: member.title for member in purse.members}
            for question in purse.questions:
                if question not in self._question_of:
                    self._question_of[question] = self._question(question, titles)
                asked += self._question_of[question]
        for answer in held.answers if held else ():
            of = f"the letter {answer.of}" if answer.about == "letter" else answer.of
            again = button(f"Ask again about {of}")
            again.on_click(heard(self._message)(partial(self._ask_again, answer)))
            asked.append(again)
        return asked

    def _question(self, question: Question, titles: dict[str, str]) -> list[widgets.Widget]:
        about, of = question.key
        choices = [(NOT_ANSWERED, ("", ""))]
        for says, folder in question.options:
            words = f"one yarn, as {titles[folder]} has it" if says == ONE_YARN else IN_WORDS[says]
            choices.append((words, (says, folder)))
        box = one_of("are these", choices)

        def put() -> dict[str, Any]:
            says, folder = box.value
            answer = Answer(about, of, says, folder) if says else None
            return self._change(lambda held: with_answer(held, answer, question.key), "an answer")

        self._boxes.hear(box, put)
        return [Pane(value=notice(question.words, trouble=True)), box]

    def _purse(self) -> Purse | None:
        try:
            return self._together.purse()
        except PlanError:
            return None  # the lists say why

    def _lists_html(self) -> str:
        purse = self._together.purse()
        if purse is None:
            return ""
        states = []
        for member in purse.members:
            row = member.plans[0].project.how.row_word
            states.append(f"{member.title}: {member_in_words(member, row)}")
        words = html.escape("; ".join(states))
        folder, units = own_name(self._desk), self._desk.project.units
        return f"<p>{words}.</p>{purse_html(purse, folder, units)}"

    # What is done

    def _change(self, change: Change, doing: str) -> dict[str, Any]:
        change_beside(self._desk, change, doing)
        self._refresh()
        return {}  # nothing of the piece itself is changed

    def _take_out(self, name: str) -> dict[str, Any]:
        """Take a piece out of the set; where no set is left, dissolve it."""
        held = set_beside(self._desk, all_there=False)
        left = held and without_piece(held, name)
        if left:
            return self._change(lambda held: without_piece(held, name) or left, "pieces of the set")
        dissolve_set(data_of(self._desk))
        self._question_of.clear()
        self._refresh()
        self._message.value = notice(DISSOLVED)
        return {}

    def _count(self, name: str, field: str, box: widgets.Widget) -> dict[str, Any]:
        counts = {field: box.value}
        return self._change(lambda held: with_counts(held, name, **counts), "counts of the set")

    def _ask_again(self, answer: Answer) -> None:
        key = (answer.about, answer.of)
        # It may be the same question, and is not answered any more.
        self._question_of.clear()
        self._change(lambda held: with_answer(held, None, key), "an answer taken back")

    def _rename(self) -> dict[str, Any]:
        name = self._name.value.strip()
        return self._change(lambda held: replace(held, name=name), "the name of the set")

    def _put_aside(self) -> None:
        instead = set_text("", new_set(self._desk)).encode()
        set_aside(data_of(self._desk), SET, instead, datetime.now())
        self._refresh()
        self._message.value = notice(f"{SET} lies in the folder history now; a new set is begun.")

    def _refresh(self) -> None:
        """Show the set as it is now, though nothing of the piece has changed."""
        try:
            self._lists.value = self._lists_html()
        except PlanError as error:
            self._lists.value = notice(str(error), trouble=True)
        self._boxes.show()
        self._told()
