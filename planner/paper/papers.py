"""Papers: the sizes of paper, and the room on them, in points."""

from __future__ import annotations

from dataclasses import dataclass

from planner.errors import PlanError

POINTS_PER_MM = 72 / 25.4
SIDE_MM, TOP_MM, BOTTOM_MM = 18, 15, 18  # margins


@dataclass(frozen=True)
class Paper:
    """A size of paper, and what the setter calls it."""

    name: str
    setter_name: str
    width_mm: float
    height_mm: float

    @property
    def room(self) -> tuple[float, float]:
        """Width and height within the margins, in points."""
        width = self.width_mm - 2 * SIDE_MM
        height = self.height_mm - TOP_MM - BOTTOM_MM
        return width * POINTS_PER_MM, height * POINTS_PER_MM


# ISO 216; ANSI/ASME Y14.1, size A: 8.5 × 11 in.
A4 = Paper("a4", "a4", 210, 297)
LETTER = Paper("letter", "us-letter", 215.9, 279.4)
PAPERS = {paper.name: paper for paper in (A4, LETTER)}


def paper_named(name: str) -> Paper:
    """The paper of this name, "a4" or "letter". Raises PlanError for another."""
    if name not in PAPERS:
        raise PlanError(f'The paper is "{name}"; it is one of {", ".join(PAPERS)}.')
    return PAPERS[name]
