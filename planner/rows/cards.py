"""Row cards: what the hands do in each worked row, and one row ahead.

Every sentence comes from the links: a run is entered by yarn that starts, goes on, was carried or hangs since earlier, and
left by yarn that goes on, is carried or ends. A shift of one stitch is not worth a word.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby

from planner.piece import BALL, Construction
from planner.rows.phrases import embroidered_in_words
from planner.strands import ACROSS, ON, Walk
from planner.units import LONG_UNIT, counted

CATCH_EVERY = 3  # stitches; practitioners catch a float every 2 to 4 (shared/sources.csv)


@dataclass(frozen=True)
class Card:
    """One worked row. `runs` are (strand, yarn, stitches, stitches so far) in working order; `steps` what to do at them;
    `ahead` what to do now, or to leave, for the next row; `hanging` (strand, edge from the left) as the yarns hang after it."""

    row: int
    chart_row: int
    name: str
    side: str
    works: str
    runs: tuple[tuple[str, str, int, int], ...]
    cross: str
    steps: tuple[str, ...]
    ahead: tuple[str, ...]
    hanging: tuple[tuple[str, int], ...]
    live: int
    load: str

    def aloud(self) -> str:
        """The runs as they are read aloud: "3 A1, 12 B1, 7 A2"."""
        return ", ".join(f"{count} {strand}" for strand, _, count, _ in self.runs)

    def written(self) -> str:
        """The row as a pattern writes it: "Row 5 (RS): 10 A, 3 B, 19 A"."""
        return f"{self.name[0].upper()}{self.name[1:]}: " + ", ".join(
            f"{n} {y}" for _, y, n, _ in self.runs
        )

    def __str__(self):
        lines = [
            f"{self.name[0].upper()}{self.name[1:]}, {self.works}: {self.aloud()} ({self.runs[-1][3]} stitches)"
        ]
        if len(self.runs) > 1:
            lines.append(f"At each border: {self.cross}")
        lines += [f"- {step}" for step in self.steps]
        lines += [f"- One row ahead: {word}" for word in self.ahead]
        lines.append(f"{counted(self.live, 'strand')} live: {self.load}")
        return "\n".join(lines)


def how_to_cross(how: Construction, side: str) -> str:
    """How old and new yarn are crossed at a border."""
    aside = "left" if how.hand == "right" else "right"
    if how.in_rounds or side == "RS":
        return f"behind the work, lay the old yarn over the new one to the {aside}; the new one comes up from under it."
    if how.fabric == "garter":
        return (
            "first bring the old yarn forward between the needles, to the side that faces you; lay it over the new one to the "
            f"{aside}, take the new one back between the needles and knit."
        )
    return f"on the side that faces you, lay the old yarn over the new one to the {aside}; the new one comes up from under it."


def _caught(stitches: int) -> str:
    return f", catching it every {CATCH_EVERY} stitches" if stitches > CATCH_EVERY else ""


class _Phrases(Walk):
    """The walk of a plan, with the words for what is done at each run."""

    def __init__(self, plan):
        super().__init__(plan.traced)
        self.plan, self.traced = plan, plan.traced
        self.supply = {(s.strand, s.part): s for s in plan.supplies.itertuples()}
        self.tail = show_tail(plan)

    def entering(self, run: int) -> str:
        links, label = self.traced.links, self.traced.labels[int(self.traced.of_run[run])]
        if run in self.middle:
            other = int(links.b[self.middle[run]])
            if run == other:
                shift = int(links.shift[self.middle[run]])
                along = (
                    f", {counted(shift, 'stitch')} of it from where it was begun"
                    if shift > 1
                    else ""
                )
                return (
                    f"take up the second half of {label}, which hangs here since its middle{along}"
                )
            where = (
                "later in this row"
                if self.runs.row[other] == self.runs.row[run]
                else "the next row"
            )
            return f"start {label} from its middle ({self.held(run)}); its other half hangs here until {where}"
        link = self.into.get(run)
        if link is None:
            return f"start {label} ({self.held(run)}), leaving a tail of {self.tail}"
        shift, skipped = int(links.shift[link]), int(links.skipped[link])
        if skipped:
            aside = f" and {counted(shift, 'stitch')} sideways" if shift > 1 else ""
            caught = ", caught on the way" if skipped > 2 else ""
            return f"bring {label} up over {counted(skipped, 'row')}{aside}, loosely{caught}"
        if links.kind[link] == ON and shift > 1 and not self.woven(link):
            word = "float" if self.runs.tube else "carry"
            return f"{word} {label} along {counted(shift, 'stitch')} to here{_caught(shift)}"
        return ""

    def held(self, run: int) -> str:
        part, unit = (
            self.supply[self.label(run), self.part(run)],
            LONG_UNIT[self.plan.project.units],
        )
        return (
            BALL
            if part.supply == BALL
            else f"{part.supply} of {getattr(part, f'wound_{unit}'):.2f} {unit}"
        )

    def leaving(self, run: int) -> tuple[str, str]:
        """What to do when a run is finished, and what that means for the next row."""
        links, label = self.traced.links, self.traced.labels[int(self.traced.of_run[run])]
        link = self.out.get(run)
        if link is None:
            last = self.runs.row[run] == self.runs.rows - 1 and self.plan.project.allow.bind_off
            return (
                f"{'bind off with it, then ' if last else ''}cut {label}, leaving a tail of {self.tail}",
                "",
            )
        shift, kind = int(links.shift[link]), links.kind[link]
        if kind == ACROSS:
            return f"carry {label} behind the next {counted(shift, 'stitch')}{_caught(shift)}", ""
        row = int(self.runs.row[links.b[link]])
        if kind != ON:
            return (
                "",
                f"leave {label} hanging; it is wanted again in {self.traced.how.row_name(row)}",
            )
        if self.woven(link):
            return (
                "",
                f"weave {label} along {counted(shift, 'more stitch')}; the next row starts it earlier",
            )
        if shift > 1:
            return (
                "",
                f"leave {label}; {'float' if self.runs.tube else 'carry'} it {shift} on the next row",
            )
        return "", ""


def show_tail(plan) -> str:
    units = plan.project.units
    return (
        f"{plan.project.allow.tail_cm:g} cm"
        if units == "cm"
        else f"{plan.project.allow.tail_cm / 2.54:.1f} in"
    )


def make_cards(plan) -> tuple[Card, ...]:
    """The card of each worked row of a plan, in order."""
    walk, traced, how = _Phrases(plan), plan.traced, plan.traced.how
    runs, hanging = traced.runs, walk.hanging()
    refills = defaultdict(list)
    for part in plan.supplies.itertuples():
        for row in filter(None, part.refill_rows.split(", ")):
            join = "splice it" if not part.refill_ends else "join it at a border, two ends"
            refills[int(row) - 1].append(
                f"{part.strand} runs out in this row: have a refill ready, {join}"
            )
    for row, text in embroidered_in_words(
        plan.embroidered, plan.project.chart.letters, how
    ).items():
        refills[row].append(text)
    cards = []
    for row, numbers in groupby(range(runs.count), key=lambda run: int(runs.row[run])):
        numbers = list(numbers)
        seen, steps, ahead, so_far = [], [], [], 0
        for place, run in enumerate(numbers):
            label, yarn = (
                traced.labels[int(traced.of_run[run])],
                traced.chart.letters[int(runs.yarn[run])],
            )
            count = int(runs.stitches[run]) + how.selvedge * (
                (place == 0) + (place == len(numbers) - 1)
            )
            so_far += count
            seen.append((label, yarn, count, so_far))
            after, next_row = walk.leaving(run)
            here = [text for text in (walk.entering(run), after) if text]
            steps += [f"at {count} {label}: {'; then '.join(here)}"] if here else []
            ahead += [next_row] if next_row else []
        if row == 0 and len(seen) > 1:
            from_right = seen if runs.leftwards[0] else seen[::-1]
            steps.insert(
                0,
                "cast on in sections, from the right: "
                + ", ".join(f"{n} {label}" for label, _, n, _ in from_right),
            )
        load = plan.rows.iloc[row]
        cards.append(
            Card(
                row=row + 1,
                chart_row=int(load.chart_row),
                name=how.row_name(row),
                side=how.side(row),
                works=load.works,
                runs=tuple(seen),
                cross=how_to_cross(how, how.side(row)),
                steps=tuple(steps + refills[row]),
                ahead=tuple(ahead),
                hanging=tuple(sorted(hanging[row], key=lambda entry: (entry[1], entry[0]))),
                live=int(load.live),
                load=load.load,
            )
        )
    return tuple(cards)
