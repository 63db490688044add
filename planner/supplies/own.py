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
    # No two strands of a yarn begin at one stitch, so the place tells which strand is meant.
    letters = [strands.chart.letters[yarn] for yarn in strands.yarn]
    rows = strands.runs.row[strands.first_run] + 1
    stitches = strands.stitch_number(strands.first_run)
    places = zip(letters, rows.tolist(), stitches.tolist(), strict=True)
    strand_at = {place: strand for strand, place in enumerate(places)}

    own, notes = {}, []
    for choice in choices:
        # Choices about embroidery and carries are kept in the same list.
        if choice.about != "supply":
            continue
        strand = strand_at.get((choice.yarn, choice.row, choice.stitch))
        if strand is None:
            gone = "no strand begins there now"
        # Only a strand that is begun from its middle has halves to choose for.
        elif choice.part not in (PARTS if strands.has_middle[strand] else PARTS[:1]):
            gone = f"{strands.labels[strand]} has no {choice.part}"
        else:
            own[strands.labels[strand], choice.part] = choice.choice
            continue
        # The chart may yet be changed back, so nothing that was chosen is thrown away.
        notes.append(
            f"Your choice of a {choice.choice} for the strand of {choice.yarn} that began in row "
            f"{choice.row} at stitch {choice.stitch} is kept, but {gone}."
        )
    return own, notes
