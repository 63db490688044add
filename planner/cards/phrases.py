"""Phrases: what a row card says at each run, in the knitter's words.

Every sentence comes from the links: a run is entered by yarn that starts, goes on, was carried or
hangs since earlier, and left by yarn that goes on, is carried or ends. What is done to a carried
yarn is said at the run behind which it lies, where the hand can still do it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

import numpy as np

from planner.cards.carries import CATCH_EVERY, FLOAT, WAITING, Carries
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Construction, Project
from planner.rows import CAUGHT_OVER, can_be_caught
from planner.strands import ACROSS, MIDDLE, ON, SLACK, Strands, Walk
from planner.supplies import CAST_ON, TO_EMBROIDER, Held, Piece, balls_of_yarns, which_ball
from planner.units import counted, listed, nth, rounded_up, show, show_short

WIND = {
    LOOSE: "let it hang as a loose strand",
    BUTTERFLY: "wind a butterfly",
    BOBBIN: "wind it on a bobbin",
}
HANGS_NEAR = "hangs 1 stitch"  # how a step begins that says on which side of its place a yarn hangs
BEFORE_ALL = -1  # in the place of a row: what lies ready for casting on alone
COUNTED_TO = 10  # stitches that are counted from where a run begins
JOIN_WHILE_CM = 20  # what is left of a yarn that runs out; with less no hand joins well
# What the ends of a felted splice take of each yarn (2 to 3 in, common practice, no source).
SPLICE_CM = 7.5


def how_to_cross(how: Construction, side: str) -> str:
    """How old and new yarn are crossed at a border."""
    # The old yarn is laid on towards the stitches to come, so that the new one comes from under it.
    aside = "left" if how.hand == "right" else "right"
    # The yarns hang on the wrong side, which faces away from the knitter in a RS row.
    if side == "RS":
        return (
            f"behind the work, lay the old yarn over the new one to the {aside}; the new one comes "
            "up from under it."
        )
    if how.fabric == "garter":
        return (
            "first bring the old yarn forward between the needles, to the side that faces you; lay "
            f"it over the new one to the {aside}, take the new one up from under it and back "
            "between the needles, and knit."
        )
    return (
        f"on the side that faces you, lay the old yarn over the new one to the {aside}; the new "
        "one comes up from under it."
    )


class Need(NamedTuple):
    """What must lie ready before a row: what it is, and how it is held or what is done with it."""

    title: str
    words: str

    def __str__(self) -> str:
        return f"{self.title}: {self.words}"


NeedsByRow = dict[int, list[Need]]  # by worked row, from 0


class _Caught(NamedTuple):
    """How a carried yarn is caught (see `Catch`), and past what its stitches are counted."""

    link: int
    how: str
    past: str


class Phrases:
    """The words for what is done at each run of some strands; runs are their numbers."""

    def __init__(self, strands: Strands, pieces: Sequence[Piece], project: Project):
        self.how = strands.how
        self.walk = Walk(strands)
        self.carries = Carries(strands, self.walk)
        links = strands.links
        self.kind = links.kind
        self.first_run: list[int] = links.a.tolist()
        self.second_run: list[int] = links.b.tolist()
        self.skipped: list[int] = links.skipped.tolist()
        self.row: list[int] = strands.runs.row.tolist()
        # The link of the middle start of each strand that has one.
        self.middle_of: dict[str, int] = {}
        for run, link in self.walk.middle.items():
            strand = self.walk.label(run)
            self.middle_of[strand] = link
        self.last_row = strands.runs.rows - 1
        self.units = project.units
        allow = project.allow
        self.tail = show_short(allow.tail_cm, self.units)
        # What hangs from the cast-on is begun there, and what is bound off is cut after that.
        self.casts_on = bool(allow.section_cast_on)
        self.binds_off = bool(allow.bind_off)
        self.yarns = project.all_yarns
        self.balls = balls_of_yarns(pieces, self.yarns)
        self.pieces = pieces
        self.catches_tails = project.habits.tails_caught

    def closing(self, row: int) -> str:
        """How the join of a turned round (from 0) is closed; "" where nothing is joined.

        Common practice, from memory; no source.
        """
        how = self.how
        if not how.closes_join:
            return ""
        # Each lays the last stitch over the yarn-over as the RS shows it, so that this does not
        # show. The stitch leans as the row goes, which mirrors it for a left-handed knitter.
        on_ws = "k2tog" if how.fabric == "garter" else "p2tog"
        together = "ssk" if how.is_right_side(row) else on_ws
        lean = "left" if how.runs_leftwards(row) else "right"
        begin = "after the turn, " if row else ""
        return (
            f"{begin}a yarn-over before the first stitch; work the last stitch together with it "
            f"({together}, leaning to the {lean} on the RS), for the first and the last yarn never "
            "cross by themselves."
        )

    def steps(self, run: int, *, first: int, last: int) -> list[str]:
        """What is done at a run, in working order.

        Its stitches are those after the `first` of its row, up to the `last`.
        """
        coming_in = [] if self._is_cast_on(run) else self._entering(run)
        behind = self._behind(run, first, last)
        # When other yarns were spoken of, "it" might be one of them.
        name = self.walk.title(run) if behind else ""
        going_on = self._leaving(run, name)
        return coming_in + behind + going_on

    def _is_cast_on(self, run: int) -> bool:
        return self.casts_on and self.row[run] == 0

    def _entering(self, run: int) -> list[str]:
        """What to do where the yarn of a run comes in; nothing if it simply goes on."""
        middle = self.walk.middle.get(run)
        link = self.walk.into.get(run, middle)
        if link is None:
            return [f"new, tail {self.tail}{self._caught(run)}"]
        steps = []
        if self.kind[link] == MIDDLE:
            steps.append(self._at_its_middle(run))
        # The first half of a strand does not come from anywhere.
        if self.second_run[link] == run:
            steps.append(self._on_the_way_here(link))
        return list(filter(None, steps))

    def _caught(self, run: int) -> str:
        """How the tail of a run that starts its strand is caught, where the knitter does so."""
        if self.catches_tails and can_be_caught(self.walk.strands, run):
            return f", caught along its next {CAUGHT_OVER} stitches"
        return ""

    def cast_on_with(self, run: int, tail: str, begun: Container[str]) -> str:
        """How the yarn of a run of the first row is begun at the cast-on, with this tail.

        `begun` are the titles of those that are cast on before it.
        """
        strand = self.walk.label(run)
        link = self.middle_of.get(strand)
        if link is None:
            return f"new, tail {tail}"
        this_half = self.walk.title(run)
        second = self.second_run[link]
        other_half = self.walk.title(second)
        if other_half == this_half:
            other_half = self.walk.title(self.first_run[link])
        if other_half in begun:
            return self._taken_up(run)
        # The two threads of the cast-on are the halves, so both hang where its sections end.
        begin = f"begin {strand} from its middle and cast on with both ends"
        begin += f": this end is {this_half}"
        row_of_second = self.row[second]
        if row_of_second == self.row[run]:
            return f"{begin}, the other one {other_half}"
        return f"{begin}, {other_half} hangs beside it until {self.how.row_name(row_of_second)}"

    def _on_the_way_here(self, link: int) -> str:
        """How a carried yarn comes to the run that it is wanted for; "" if that needs no word."""
        way = ""
        skipped = self.skipped[link]
        if skipped:
            way = f" up {counted(skipped, self.how.row_word)}"
        if self.walk.across_join(link):
            way += " across the join"
        words = [f"comes{way}"] if way else []
        stitches = self.carries.stitches(link)
        if skipped and stitches != SLACK:
            words.append("loosely")
        # A longer way is caught, and said where that is done.
        to_another_row = self.kind[link] != ACROSS
        if to_another_row and 0 < stitches <= SLACK:
            words.append(self._short_way(link, stitches, comes=bool(words)))
        return ", ".join(words)

    def _short_way(self, link: int, stitches: int, *, comes: bool) -> str:
        """Where a yarn hangs that is wanted one stitch farther, or two: as its knitter sees it."""
        # On either side of the work a row begins at the knitter's same hand.
        first, last = ("right", "left") if self.how.hand == "right" else ("left", "right")
        is_passed_first = self.carries.is_passed_first(link)
        where = "away"
        if is_passed_first is not None:
            where = f"to the {first if is_passed_first else last}"
        away = f"{counted(stitches, 'stitch')} {where}"
        if comes:
            return f"from {away}"
        return f"loosely, from {away}" if stitches == SLACK else f"{HANGS_NEAR} {where}"

    def _at_its_middle(self, run: int) -> str:
        """What to do at the first run of either half of a strand begun from its middle."""
        link = self.walk.middle[run]
        second = self.second_run[link]
        if run == second:
            return self._taken_up(run)
        row_of_second = self.row[second]
        until = self.how.row_name(row_of_second)
        if row_of_second == self.row[run]:
            until = f"later in this {self.how.row_word}"
        this_half = self.walk.title(run)
        other_half = self.walk.title(second)
        ends = f"this end is {this_half}, {other_half} hangs here until {until}"
        strand = self.walk.label(run)
        return f"begin {strand} from its middle, hold the fold for 2 stitches: {ends}"

    def _taken_up(self, run: int) -> str:
        half = self.walk.title(run)
        strand = self.walk.label(run)
        return f"take up {half}, the other end of {strand}"

    def _behind(self, run: int, first: int, last: int) -> list[str]:
        """What is done to other yarns behind the stitches of a run."""
        caught = self._catching(run, first, last)
        left = self._letting_hang(run, first, last)
        return caught + left

    def _catching(self, run: int, first: int, last: int) -> list[str]:
        """Which carried yarns are caught behind a run, and at which of its stitches."""
        steps: list[str] = []
        title = self.walk.title(run)
        for caught, stitches in self._catches(run, first, last).items():
            name = self._carried(caught.link)
            at_stitches = f"at {_nths(stitches)}{caught.past}"
            # The yarn itself is at work again, so its float needs another name.
            if caught.how == FLOAT and name == title:
                steps.insert(0, f"catch its float {at_stitches}")
            elif caught.how == FLOAT:
                steps.append(f"catch the float of {name} {at_stitches}")
            elif caught.how == WAITING:
                steps.append(f"catch {name}, which waits here, as you pass it")
            else:
                steps.append(f"catch {name} {at_stitches}")
        return steps

    def _catches(self, run: int, first: int, last: int) -> dict[_Caught, list[int]]:
        """The stitches of a run at which each yarn is caught.

        They are counted from where the run begins, or past where the yarn hangs or begins.
        """
        is_cast_on = self._is_cast_on(run)
        in_row = self.carries.caught.get(self.row[run], [])
        catches: dict[_Caught, list[int]] = defaultdict(list)
        for catch in in_row:
            if not first < catch.stitch <= last:
                continue
            # Both halves of a strand are at their places since the cast-on.
            if is_cast_on and self.kind[catch.link] == MIDDLE:
                continue
            counted_from = first
            past = ""
            # Nobody counts to the 49th: in a wide run a yarn that it passes is counted from.
            is_far = catch.stitch - first > COUNTED_TO
            if is_far and first < catch.after < catch.stitch:
                begins = "begins" if catch.how == FLOAT else "hangs"
                counted_from = catch.after
                past = f" past where it {begins}"
            caught = _Caught(catch.link, catch.how, past)
            catches[caught].append(catch.stitch - counted_from)
        return catches

    def _letting_hang(self, run: int, first: int, last: int) -> list[str]:
        """Which yarns that were taken along are left behind a run for the next row, and where."""
        steps = []
        in_row = self.carries.left_after.get(self.row[run], [])
        for worked, link in in_row:
            if first < worked <= last:
                name = self._carried(link)
                which = "these" if worked == last else f"the {nth(worked - first)}"
                steps.append(f"let {name} hang after {which}")
        return steps

    def _carried(self, link: int) -> str:
        """The name of the yarn that a link carries; of a middle start that is its second half."""
        runs = self.second_run if self.kind[link] == MIDDLE else self.first_run
        return self.walk.title(runs[link])

    def _leaving(self, run: int, name: str) -> list[str]:
        """What to do when a run is finished; nothing if its yarn waits here for the next row.

        `name` is that of its yarn, "" where "it" is clear.
        """
        link = self.walk.out.get(run)
        if link is None:
            if self.binds_off and self.row[run] == self.last_row:
                return []
            cut = f"cut {name}" if name else "cut"
            return [f"{cut}, tail {self.tail}"]
        yarn = name or "it"
        if self.kind[link] == ACROSS:
            stitches = self.carries.stitches(link)
            loosely = ", loosely" if stitches <= SLACK else ""
            following = "stitch" if stitches == 1 else counted(stitches, "stitch")
            return [f"then take {yarn} along the wrong side of the next {following}{loosely}"]
        wanted_for = self.second_run[link]
        wanted_in = self.how.row_name(self.row[wanted_for])
        is_next = self.kind[link] == ON
        if self.carries.is_left[link]:
            begins_it = f"the next {self.how.row_word}" if is_next else wanted_in
            return [f"then take {yarn} along: {begins_it} begins it farther on"]
        if is_next:
            return []
        # Nothing is done before the yarn is wanted, but it must not be cut by mistake.
        return [f"leave {yarn} hanging for {wanted_in}"]

    def held(self, piece: Piece) -> str:
        """How a piece is held, and how much of it is measured off."""
        # A ball is not measured off, so its length would say nothing here.
        if piece.supply == BALL:
            return which_ball(piece.ball, self.yarns[piece.yarn], self.balls[piece.yarn])
        length = show(piece.to_measure_cm(self.units), self.units)
        # Of a length begun from its middle its title says which half goes with which end.
        halves = piece.title.removeprefix(piece.label)
        return f"{piece.supply}, {length}{piece.begun_in_words(self.units)}{halves}"

    def ready(self) -> NeedsByRow:
        """What must lie ready for each worked row, from 0: what begins, is wound, runs out."""
        needs: NeedsByRow = defaultdict(list)
        fed = {piece.part for piece in self.pieces if piece.supply == BALL}
        # Both halves of a strand lie ready when it begins, whatever row the second is worked in.
        begun_in: dict[str, int] = {}
        for piece in self.pieces:
            if piece.supply == TO_EMBROIDER:
                continue
            words = self.held(piece)
            if piece.cut_before is not None:
                wanted = f"its ball is in use when {self.how.row_name(piece.row)} wants it"
                at_once = Need(piece.label, f"{words}, cut off now, for {wanted}")
                needs[piece.cut_before].append(at_once)
            if piece.label == CAST_ON:
                needs[BEFORE_ALL].append(Need(CAST_ON, words))
            elif piece.is_first:
                row = begun_in.setdefault(piece.strand, piece.row)
                # A half may go on from a ball that feeds the other one.
                if piece.supply != BALL and _other_half(piece.part) in fed:
                    words += ", measured off the ball first and not cut from it"
                needs[row].append(Need(piece.label, words))
            elif piece.before_row is not None:
                length = show(piece.to_measure_cm(self.units), self.units)
                measure_off = f"from the work on, measure off {length}, cut it from its ball"
                wound = Need(piece.part, f"{measure_off} and {WIND[piece.supply]}")
                needs[piece.row].append(wound)
        return needs


def _other_half(part: str) -> str:
    """The title of the other half of a strand begun from its middle; a whole one has none."""
    strand, half = part[:-1], part[-1]
    if half == "a":
        return f"{strand}b"
    return f"{strand}a" if half == "b" else ""


def _nths(numbers: Sequence[int]) -> str:
    """ "the 3rd", "the 3rd and the 6th", "every 3rd from the 3rd to the 12th"."""
    first, last = numbers[0], numbers[-1]
    regular = range(first, last + 1, CATCH_EVERY)
    if len(numbers) > 2 and list(numbers) == list(regular):
        return f"every {nth(CATCH_EVERY)} from the {nth(first)} to the {nth(last)}"
    return listed([f"the {nth(number)}" for number in numbers])


def refills_in_words(held: Sequence[Held], units: str, word: str) -> NeedsByRow:
    """What to have ready where a piece runs out, by worked row from 0.

    `word` is what a row is called, "row" or "round".
    """
    needs: NeedsByRow = defaultdict(list)
    while_left = show_short(JOIN_WHILE_CM, units)
    eaten = show_short(SPLICE_CM, units)
    splice = f"felt the two ends together, which takes {eaten} of each"
    for each in held:
        strand = each.part.title
        join = "change over at a border, two ends" if each.refill_ends else splice
        refills = each.stages[1 : each.refills + 1]
        for stage in refills:
            length = show(rounded_up(stage.length_cm, units), units)
            following = f"a refill of {length}"
            if each.supply == BALL:
                following = f"ball {stage.ball}" if stage.ball else "the next ball"
            in_time = f"when {while_left} of {strand} are left in this {word}, {join}"
            need = Need(f"{following} for {strand}", in_time)
            needs[stage.row].append(need)
    return needs


def embroidered_in_words(
    embroidered: np.ndarray, letters: tuple[str, ...], how: Construction
) -> Mapping[int, str]:
    """What a row's card says of stitches embroidered afterwards, by worked row from 0.

    `embroidered` is the yarn of each cell of the chart, −1 where there is none. In garter it is
    said at the second row of the ridge.
    """
    words = {}
    times = how.rows_per_chart_row
    for chart_row, yarns in enumerate(embroidered.tolist()):
        places = _stretches_by_yarn(yarns, letters)
        if not places:
            continue
        in_each_yarn = []
        for letter, stretches in sorted(places.items()):
            in_each_yarn.append(f"{', '.join(stretches)} in {letter}")
        stitches = sum(yarn >= 0 for yarn in yarns)
        noun = "stitch" if stitches == 1 else "stitches"
        # A ridge is embroidered over as a whole, when both its rows are there.
        row = (chart_row + 1) * times - 1
        words[row] = (
            f"embroidered afterwards: {noun} {'; '.join(in_each_yarn)}, counted from the right"
        )
    return words


def _stretches_by_yarn(yarns: Sequence[int], letters: tuple[str, ...]) -> dict[str, list[str]]:
    """The stitches to embroider in each yarn, from the right: "3", "5–8"."""
    places: dict[str, list[str]] = defaultdict(list)
    last = 0
    # Neighbours in one yarn are one stretch.
    for yarn, alike in groupby(reversed(yarns)):
        first = last + 1
        last += len(list(alike))
        if yarn >= 0:
            stitches = str(first) if first == last else f"{first}–{last}"
            places[letters[yarn]].append(stitches)
    return places
