"""The knitter's own choices of supply: which strand each of them is about now."""

from __future__ import annotations

from collections.abc import Iterable

from planner.piece import PARTS, OwnChoice
from planner.strands import Strands


def own_supplies(
    strands: Strands, choices: Iterable[OwnChoice]
) -> tuple[dict[tuple[str, str], str], list[str]]:
    """The choices of supply by (strand, part), and a note for each whose place is gone.

    A choice names the place where its strand began, for strands change their names when the chart
    does. It is kept where no strand begins there now.
    """
    first_run = strands.first_run
    letters = [strands.chart.letters[yarn] for yarn in strands.yarn.tolist()]
    rows = strands.runs.row[first_run].tolist()
    stitches = strands.stitch_number(first_run).tolist()
    strand_at = {
        (letter, row + 1, stitch): strand
        for strand, (letter, row, stitch) in enumerate(zip(letters, rows, stitches, strict=True))
    }

    own, notes = {}, []
    for choice in choices:
        if choice.about != "supply":
            continue
        strand = strand_at.get((choice.yarn, choice.row, choice.stitch))
        if strand is None:
            gone = "no strand begins there now"
        elif choice.part == PARTS[0] or (strands.has_middle[strand] and choice.part in PARTS):
            own[strands.labels[strand], choice.part] = choice.choice
            continue
        else:
            gone = f"{strands.labels[strand]} has no {choice.part}"
        notes.append(
            f"Your choice of a {choice.choice} for the strand of {choice.yarn} that began in row "
            f"{choice.row} at stitch {choice.stitch} is kept, but {gone}."
        )
    return own, notes
