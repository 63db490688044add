"""Phrases: what a row card says at each run, in the knitter's words.

Every sentence comes from the links: a run is entered by yarn that starts, goes on, was carried or
hangs since earlier, and left by yarn that goes on, is carried or ends. A shift of one stitch is not
worth a word.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from planner.piece import BALL, Construction, Project
from planner.strands import ACROSS, ON, Strands, Walk
from planner.supplies import Held
from planner.units import counted, show, show_short

CATCH_EVERY = 3  # stitches; practitioners catch a float every 2 to 4 (shared/sources.csv)
SLACK_ROWS = 2  # yarn brought up over more rows than this is caught on the way


def how_to_cross(how: Construction, side: str) -> str:
    """How old and new yarn are crossed at a border."""
    aside = "left" if how.hand == "right" else "right"
    if how.in_rounds or side == "RS":
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
    return f", catching it every {CATCH_EVERY} stitches" if stitches > CATCH_EVERY else ""


class Phrases:
    """The words for what is done at each run of some strands; runs are their numbers."""

    def __init__(self, strands: Strands, held: Sequence[Held], project: Project):
        self.strands = strands
        self.runs = strands.runs
        self.links = strands.links
        self.walk = Walk(strands)
        self.held = {int(run): each for each in held for run in each.part.runs}
        self.units = project.units
        self.tail = show_short(project.allow.tail_cm, project.units)
        self.binds_off = bool(project.allow.bind_off)

    def entering(self, run: int) -> str:
        """What to do where the yarn of a run comes in; "" if it simply goes on."""
        label = self.walk.label(run)
        if run in self.walk.middle:
            return self._at_its_middle(run)
        link = self.walk.into.get(run)
        if link is None:
            return f"start {label} ({self._supply(run)}), leaving a tail of {self.tail}"

        shift, skipped = int(self.links.shift[link]), int(self.links.skipped[link])
        if skipped:
            aside = f" and {counted(shift, 'stitch')} sideways" if shift > 1 else ""
            caught = ", caught on the way" if skipped > SLACK_ROWS else ""
            return f"bring {label} up over {counted(skipped, 'row')}{aside}, loosely{caught}"
        if self.links.kind[link] == ON and shift > 1 and not self.walk.woven(link):
            word = "float" if self.runs.tube else "carry"
            return f"{word} {label} along {counted(shift, 'stitch')} to here{_caught(shift)}"
        return ""

    def _at_its_middle(self, run: int) -> str:
        """What to do at the first run of either half of a strand begun from its middle."""
        label, link = self.walk.label(run), self.walk.middle[run]
        second = int(self.links.b[link])
        if run == second:
            shift = int(self.links.shift[link])
            along = (
                f", {counted(shift, 'stitch')} of it from where it was begun" if shift > 1 else ""
            )
            return f"take up the second half of {label}, which hangs here since its middle{along}"
        same_row = self.runs.row[second] == self.runs.row[run]
        until = "later in this row" if same_row else "the next row"
        return (
            f"start {label} from its middle ({self._supply(run)}); its other half hangs here until "
            f"{until}"
        )

    def _supply(self, run: int) -> str:
        """How the yarn of a run is held, and how much of it there is."""
        held = self.held[run]
        if held.supply == BALL:
            return BALL
        return f"{held.supply} of {show(held.part.wound_cm, self.units)}"

    def leaving(self, run: int) -> tuple[str, str]:
        """What to do when a run is finished, and what that means for the next row."""
        label = self.walk.label(run)
        link = self.walk.out.get(run)
        if link is None:
            in_last_row = self.runs.row[run] == self.runs.rows - 1
            bind_off = "bind off with it, then " if in_last_row and self.binds_off else ""
            return f"{bind_off}cut {label}, leaving a tail of {self.tail}", ""

        shift, kind = int(self.links.shift[link]), self.links.kind[link]
        if kind == ACROSS:
            behind = f"behind the next {counted(shift, 'stitch')}"
            return f"carry {label} {behind}{_caught(shift)}", ""
        if kind != ON:
            row = self.strands.how.row_name(int(self.runs.row[self.links.b[link]]))
            return "", f"leave {label} hanging; it is wanted again in {row}"
        if self.walk.woven(link):
            along = f"along {counted(shift, 'more stitch')}"
            return "", f"weave {label} {along}; the next row starts it earlier"
        if shift > 1:
            word = "float" if self.runs.tube else "carry"
            return "", f"leave {label}; {word} it {shift} on the next row"
        return "", ""


def refills_in_words(held: Sequence[Held]) -> dict[int, list[str]]:
    """What to have ready where a piece runs out, by worked row from 0."""
    words: dict[int, list[str]] = defaultdict(list)
    for each in held:
        join = "join it at a border, two ends" if each.refill_ends else "splice it"
        for row in each.refill_rows:
            words[row].append(
                f"{each.part.label} runs out in this row: have a refill ready, {join}"
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
    for row in np.flatnonzero((embroidered >= 0).any(axis=1)):
        from_the_right = embroidered[row, ::-1]  # stitch 1 first
        places = defaultdict(list)
        changes = np.flatnonzero(np.diff(from_the_right)) + 1
        for stretch in np.split(np.arange(len(from_the_right)), changes):
            yarn = from_the_right[stretch[0]]
            if yarn >= 0:
                first, last = stretch[0] + 1, stretch[-1] + 1
                stitches = str(first) if first == last else f"{first}–{last}"
                places[letters[yarn]].append(stitches)

        in_each = [f"{', '.join(where)} in {letter}" for letter, where in sorted(places.items())]
        noun = "stitch" if (from_the_right >= 0).sum() == 1 else "stitches"
        words[int(row) * times + times - 1] = (
            f"embroidered afterwards: {noun} {'; '.join(in_each)}, counted from the right"
        )
    return words
