"""What is embroidered after blocking: how much yarn, where, over what, and what to mind."""

from __future__ import annotations

from dataclasses import dataclass

from planner.choices import cautions_in_full
from planner.piece import NOTED, standing
from planner.plan import Plan
from planner.units import counted, rounded_up, show

# How a note begins that keeps wrong stitches to be covered. They are no embroidery of the plan: of
# an area of the chart it embroiders all, and winds yarn for it.
TO_COVER = "To embroider after blocking: "
HOW_TO_COVER = (
    "Bring the needle up from the wrong side at the foot of the stitch, lead it behind both legs "
    "of the stitch above, and down again at the foot. Draw the yarn just as tight as the stitch "
    "beneath, so that it covers that."
)


@dataclass(frozen=True)
class ToEmbroider:
    """An area to embroider: a length of its yarn, and where it lies, chart rows from 1."""

    label: str
    yarn: str
    grounds: tuple[str, ...]
    length_cm: float
    stitches: int
    first_row: int
    last_row: int
    first_stitch: int

    def in_words(self, plan: Plan) -> str:
        """What is embroidered there: length, yarn, stitches, place."""
        yarns, units = plan.project.all_yarns, plan.project.units
        over = " and ".join(yarns[letter].title for letter in self.grounds)
        rows = f"row {self.first_row}"
        if self.last_row != self.first_row:
            rows = f"rows {self.first_row}–{self.last_row}"
        return (
            f"{self.label}: {show(self.length_cm, units)} of {yarns[self.yarn].title} for "
            f"{counted(self.stitches, 'stitch')} over {over}, chart {rows}, from stitch "
            f"{self.first_stitch} from the right"
        )


def to_embroider(plan: Plan) -> list[ToEmbroider]:
    """The areas to embroider, in the order of the chart; lengths as they are measured off."""
    asked, units = plan.to_embroider, plan.project.units
    found = []
    for place, piece in enumerate(asked.pieces(plan.project.how)):
        found.append(
            ToEmbroider(
                label=piece.label,
                yarn=piece.yarn,
                grounds=asked.grounds[place],
                length_cm=rounded_up(piece.length_cm, units),
                stitches=int(asked.stitches[place]),
                first_row=int(asked.first_chart_row[place]),
                last_row=int(asked.last_chart_row[place]),
                first_stitch=int(asked.first_stitch[place]),
            )
        )
    return found


def to_cover(plan: Plan) -> list[str]:
    """The wrong stitches that were kept to be covered, by the notes of their rows, lowest first."""
    notes = [entry for entry in standing(plan.project.progress) if entry.what == NOTED]
    kept = [entry for entry in notes if entry.note.startswith(TO_COVER)]
    kept.sort(key=lambda entry: entry.row)
    return [entry.note.removeprefix(TO_COVER) for entry in kept]


def to_mind(plan: Plan) -> list[str]:
    """What to mind in embroidering, such as a light yarn over a dark one, and how it is done."""
    how = [HOW_TO_COVER] if to_cover(plan) else []
    return [*cautions_in_full(plan.project, plan.to_embroider), *how]
