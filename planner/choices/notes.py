"""Notes: what the plan tells the knitter about her own choices."""

from __future__ import annotations

from planner.choices.asked import Asked
from planner.choices.cautions import cautions_in_full
from planner.choices.embroidery import Embroidery
from planner.choices.places import choice_at, name_of_choice
from planner.piece import Project
from planner.strands import MIDDLE, Strands


def notes_on_choices(
    project: Project,
    asked: Asked,
    strands: Strands,
    embroidery: Embroidery,
) -> list[str]:
    """What does not fit the chart, carries that are not made, and what to mind in embroidering."""
    return [
        *asked.notes,
        *_carries_not_made(asked, strands),
        *cautions_in_full(project, embroidery),
        *_strange_limits(project),
    ]


def _carries_not_made(asked: Asked, strands: Strands) -> list[str]:
    """A note for each carry asked for that is not made: its yarn is cut or goes elsewhere."""
    # A middle start may join the same two runs, but from their other edges.
    links = strands.links
    carries = links[links.kind != MIDDLE]
    pairs = zip(carries.a.tolist(), carries.b.tolist(), strict=True)
    made = set(pairs)
    notes = []
    for a, b in asked.carries:
        if (a, b) in made:
            continue
        carry = choice_at(strands, "carry", a, "yes", b)
        notes.append(f"{name_of_choice(carry)} is kept, but its yarn is cut or goes elsewhere.")
    return notes


def _strange_limits(project: Project) -> list[str]:
    """A note for each yarn with carry limits of its own that the chart does not have."""
    # Not refused: a yarn may be taken off the chart for a while.
    return [
        f"Yarn {letter} has carry limits of its own but is not on the chart. Is its letter right?"
        for letter in project.by_yarn
        if letter not in project.chart.letters
    ]
