"""Phrases: what a row card says at each run, in the knitter's words.

Every sentence comes from the links: a run is entered by yarn that starts, goes on, was carried or
hangs since earlier, and left by yarn that goes on, is carried or ends. A shift of one stitch is not
worth a word.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import groupby

import numpy as np

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Construction, Project
from planner.strands import ACROSS, ON, Strands, Walk
from planner.supplies import Held, Piece, balls_of_yarns, which_ball
from planner.units import counted, rounded_up, show, show_short

# Stitches; practitioners catch a float every 2 to 4 (shared/sources.csv).
CATCH_EVERY = 3
WIND = {
    LOOSE: "let it hang as a loose strand",
    BUTTERFLY: "wind a butterfly",
    BOBBIN: "wind it on a bobbin",
}
# Yarn brought up over more rows than this is caught on the way, so that no finger catches in it.
SLACK_ROWS = 2


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
            f"it over the new one to the {aside}, take the new one back between the needles and "
            "knit."
        )
    return (
        f"on the side that faces you, lay the old yarn over the new one to the {aside}; the new "
        "one comes up from under it."
    )


def _caught(stitches: int) -> str:
    # A shorter one is held by the stitches at both its sides.
    if stitches <= CATCH_EVERY:
        return ""
    return f", catching it every {CATCH_EVERY} stitches"


class Phrases:
    """The words for what is done at each run of some strands; runs are their numbers."""

    def __init__(self, strands: Strands, pieces: Sequence[Piece], project: Project):
        self.how = strands.how
        self.walk = Walk(strands)
        self.kind: list[int] = strands.links.kind.tolist()
        self.second_run: list[int] = strands.links.b.tolist()
        self.shift: list[int] = strands.links.shift.tolist()
        self.skipped: list[int] = strands.links.skipped.tolist()
        self.row: list[int] = strands.runs.row.tolist()
        # Most yarns simply go on with the next row: nothing is said of these links.
        goes_on = (strands.links.kind == ON) & (strands.links.shift <= 1)
        self.quiet: set[int | None] = set()
        for link in np.flatnonzero(goes_on).tolist():
            if not self.walk.across_join(link):
                self.quiet.add(link)
        self.last_row = strands.runs.rows - 1
        # Not turned, no row runs back the other way: what lies behind the stitches is a float.
        self.to_carry = "carry" if strands.how.is_turned else "float"
        self.units = project.units
        self.tail = show_short(project.allow.tail_cm, project.units)
        self.binds_off = bool(project.allow.bind_off)
        self.yarns, self.balls = project.all_yarns, balls_of_yarns(pieces, project.all_yarns)
        # A strand is begun with its first piece; what a refill is, is said where it falls due.
        self.piece = {piece.label: piece for piece in pieces if piece.is_first}

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
        begin = "after the turn" if row else "with the cast-on joined to a ring"
        return (
            f"{begin}, a yarn-over before the first stitch; work the last stitch together with it "
            f"({together}, leaning to the {lean} on the RS), for the first and the last yarn never "
            "cross by themselves."
        )

    def entering(self, run: int) -> str:
        """What to do where the yarn of a run comes in; "" if it simply goes on."""
        link = self.walk.into.get(run)
        if link in self.quiet:
            return ""
        if run in self.walk.middle:
            return self._at_its_middle(run)
        label = self.walk.title(run)
        if link is None:
            return f"start {label} ({self._supply(run)}), leaving a tail of {self.tail}"

        shift = self.shift[link]
        skipped = self.skipped[link]
        across_join = self.walk.across_join(link)
        if skipped:
            way = "across the join" if across_join else "sideways"
            aside = f" and {counted(shift, 'stitch')} {way}" if shift > 1 or across_join else ""
            caught = ", caught on the way" if skipped > SLACK_ROWS else ""
            return f"bring {label} up over {counted(skipped, 'row')}{aside}, loosely{caught}"
        # Even one stitch is worth a word there: the yarn hangs at the other end of the chart.
        if across_join:
            caught = _caught(shift)
            return f"bring {label} across the join, {counted(shift, 'stitch')} to here{caught}"
        # What was woven along on the row before, or carried behind this one, is here already.
        is_here = self.walk.woven(link) or self.kind[link] == ACROSS
        if shift > 1 and not is_here:
            along = f"along {counted(shift, 'stitch')} to here"
            return f"{self.to_carry} {label} {along}{_caught(shift)}"
        return ""

    def _at_its_middle(self, run: int) -> str:
        """What to do at the first run of either half of a strand begun from its middle."""
        name, strand = self.walk.title(run), self.walk.label(run)
        link = self.walk.middle[run]
        shift = self.shift[link]
        second = self.second_run[link]
        if run == second:
            along = ""
            if shift > 1:
                along = f", {counted(shift, 'stitch')} of it from where it was begun"
            return f"take up {name}, which hangs here since the middle of {strand}{along}"
        same_row = self.row[second] == self.row[run]
        until = "later in this row" if same_row else "the next row"
        other = self.walk.title(second)
        supply = self._supply(run)
        # The halves may differ: the end that was measured off is that of the half worked first.
        which_end = " with that end" if strand in self.piece else ""
        if strand not in self.piece:
            # A half stays on the ball. The other, if it does not, is measured off before anything
            # is knitted.
            both = {name: supply, other: self._supply(second)}
            words = []
            for half, held in both.items():
                is_fed = held.startswith("from")
                words.append(f"{half} {held}" + ("" if is_fed else ", measured off first"))
            supply = "; ".join(words)
        start = f"start {name} from the middle of {strand} ({supply}){which_end}"
        return f"{start}; {other} hangs here until {until}"

    def _supply(self, run: int) -> str:
        """How the yarn of a run is held, and how much of it to measure off, as it is wound."""
        # The halves of a strand are one length, unless one of them stays on the ball.
        strand = self.walk.label(run)
        piece = self.piece[strand if strand in self.piece else self.walk.title(run)]
        # A ball is not measured off, so its length would say nothing here.
        if piece.supply == BALL:
            return which_ball(piece.ball, self.yarns[piece.yarn], self.balls[piece.yarn])
        length = show(piece.to_measure_cm(self.units), self.units)
        return f"{piece.supply} of {length}{piece.begun_in_words(self.units)}"

    def leaving(self, run: int) -> tuple[str, str]:
        """What to do when a run is finished, and what that means for the next row."""
        link = self.walk.out.get(run)
        if link in self.quiet:
            return "", ""
        label = self.walk.title(run)
        if link is None:
            bind_off = ""
            if self.binds_off and self.row[run] == self.last_row:
                bind_off = "bind off with it, then "
            return f"{bind_off}cut {label}, leaving a tail of {self.tail}", ""

        shift = self.shift[link]
        kind = self.kind[link]
        # A yarn is carried behind stitches of its own row now, not when it is wanted again.
        if kind == ACROSS:
            behind = f"behind the next {counted(shift, 'stitch')}"
            return f"carry {label} {behind}{_caught(shift)}", ""
        # Up: nothing is done before the yarn is wanted, but it must not be cut by mistake.
        if kind != ON:
            next_run = self.second_run[link]
            wanted_in = self.how.row_name(self.row[next_run])
            return "", f"leave {label} hanging; it is wanted again in {wanted_in}"
        # Flat, what the next row starts earlier lies farther along in this one: the yarn is taken
        # there while this row passes the place anyway.
        if self.walk.woven(link):
            along = f"along {counted(shift, 'more stitch')}"
            return "", f"weave {label} {along}; the next row starts it earlier"
        if self.walk.across_join(link):
            return "", f"leave {label}; the next round brings it across the join"
        if shift > 1:
            return "", f"leave {label}; {self.to_carry} it {shift} on the next row"
        return "", ""


def refills_in_words(held: Sequence[Held], units: str) -> dict[int, list[str]]:
    """What to have ready where a piece runs out, by worked row from 0."""
    words: dict[int, list[str]] = defaultdict(list)
    for each in held:
        join = "join it at a border, two ends" if each.refill_ends else "splice it"
        for stage in each.stages[1 : each.refills + 1]:
            length = show(rounded_up(stage.length_cm, units), units)
            following = f"a refill of {length}"
            if each.supply == BALL:
                following = f"ball {stage.ball}" if stage.ball else "the next ball"
            runs_out = f"{each.part.title} runs out in this row: have {following} ready, {join}"
            words[stage.row].append(runs_out)
    return words


def measured_off_in_words(pieces: Sequence[Piece], units: str) -> dict[int, list[str]]:
    """What to measure off its ball and wind before a row, by worked row from 0."""
    words: dict[int, list[str]] = defaultdict(list)
    for piece in pieces:
        if piece.before_row is not None:
            length = show(piece.to_measure_cm(units), units)
            words[piece.before_row].append(
                f"before this row: from the work on, measure off {length} of {piece.part}, cut it "
                f"from its ball and {WIND[piece.supply]}"
            )
    return words


def embroidered_in_words(
    embroidered: np.ndarray, letters: tuple[str, ...], how: Construction
) -> Mapping[int, str]:
    """What a row's card says of stitches embroidered afterwards, by worked row from 0.

    `embroidered` is the yarn of each cell of the chart, −1 where there is none. In garter it is
    said at the second row of the ridge.
    """
    words = {}
    times = how.rows_per_chart_row
    # Most rows have none.
    for row in np.flatnonzero((embroidered >= 0).any(axis=1)).tolist():
        yarns = embroidered[row].tolist()
        places: dict[str, list[str]] = defaultdict(list)
        # Stitches are counted from the right; neighbours in one yarn are one stretch.
        first = 1
        for yarn, alike in groupby(reversed(yarns)):
            last = first + len(list(alike)) - 1
            if yarn >= 0:
                stitches = str(first) if first == last else f"{first}–{last}"
                places[letters[yarn]].append(stitches)
            first = last + 1
        in_each = []
        for letter, stretches in sorted(places.items()):
            in_each.append(f"{', '.join(stretches)} in {letter}")
        is_one = sum(yarn >= 0 for yarn in yarns) == 1
        noun = "stitch" if is_one else "stitches"
        # A ridge is embroidered over as a whole, when both its rows are there.
        words[row * times + times - 1] = (
            f"embroidered afterwards: {noun} {'; '.join(in_each)}, counted from the right"
        )
    return words
