"""The stitches of written rows: how wide the piece is, and each row laid out to that width.

A cell is the key of its yarn, or NO_STITCH. Parts are counted before they are laid out, for
repeats in repeats grow without end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.charts.written_asks import MORE, RowRemarks
from planner.charts.written_numbers import Rows, WrittenRow
from planner.charts.written_runs import Fill, Node, Run, Times
from planner.errors import PlanError
from planner.guards import MOST_IN_ALL, MOST_STITCHES, check_amount
from planner.piece import NO_STITCH
from planner.units import counted

Cells = list[str]


@dataclass(frozen=True)
class _Sizes:
    """The stitches that the parts of a row have, if repeats count as more, and if in all.

    `open`: it has a part that goes on to the end, which is not in them.
    """

    more: int
    in_all: int
    open: bool

    @property
    def is_vague(self) -> bool:
        return self.more != self.in_all


def cells_of(rows: Rows, remarks: RowRemarks, *, told: int | None) -> dict[int, Cells]:
    """The cells of each row in working order; those that go by other rows are left out.

    `told` is the width that the text says of itself. Raises PlanError where a row does not fit.
    """
    sizes = {}
    for row, written in rows.items():
        if written.body.parts:
            sizes[row] = _sizes(written)
    width = _width(rows, sizes, remarks, told)
    check_amount(width * len(rows), "The text of written rows", most=MOST_IN_ALL, what="stitches")
    laid: dict[int, Cells] = {}
    by_entry: dict[int, Cells] = {}
    for row in sorted(sizes):
        written = rows[row]
        # What is written for many rows is laid out once.
        if written.entry not in by_entry:
            by_entry[written.entry] = _laid_out(row, written, sizes[row], width, remarks)
        laid[row] = by_entry[written.entry]
    return laid


def count(nodes: Sequence[Node], *, more: bool) -> int:
    """The stitches of parts, without those that go on to the end."""
    total = 0
    for node in nodes:
        if isinstance(node, Run):
            total += node.count
        elif isinstance(node, Times):
            times = node.times + (node.more and more)
            total += times * count(node.part, more=more)
    return total


def _sizes(written: WrittenRow) -> _Sizes:
    parts, line = written.body.parts, written.line
    fills = [node for node in parts if isinstance(node, Fill)]
    if len(fills) > 1:
        raise PlanError(
            f"Line {line} goes on to the end more than once, so nobody can tell how far each "
            "goes. Count the others again, and write one of them as a number."
        )
    sizes = _Sizes(count(parts, more=True), count(parts, more=False), bool(fills))
    check_amount(sizes.in_all, f"Line {line}", most=MOST_STITCHES, what="stitches")
    if not sizes.is_vague:
        check_amount(sizes.more, f"Line {line}", most=MOST_STITCHES, what="stitches")
    return sizes


def _width(rows: Rows, sizes: Mapping[int, _Sizes], remarks: RowRemarks, told: int | None) -> int:
    """The width that most rows have, of those that say it."""
    plain = []
    stated = []
    vague = []
    for row, size in sizes.items():
        if size.is_vague and not size.open:
            vague.append(size)
        elif not size.open:
            plain.append(size.more)
        total = rows[row].body.total or rows[row].title.total
        if total is not None:
            stated.append(total)
    # The odd one out is named in a message, not taken for the width.
    for widths in (plain, stated, [told] if told else []):
        if widths:
            return _commonest(widths)
    if vague:
        return _width_of_vague(vague, rows, remarks)
    if sizes:
        raise PlanError(
            "Every row repeats to its end, so nobody can tell how wide the piece is. "
            "Write one row out."
        )
    raise PlanError(
        'No row says its stitches. Write at least the first one out, like "Row 1 (RS): 32 A".'
    )


def _commonest(widths: Sequence[int]) -> int:
    ((width, _),) = Counter(widths).most_common(1)
    return width


def _width_of_vague(vague: Sequence[_Sizes], rows: Rows, remarks: RowRemarks) -> int:
    """The width where all rows say "repeat n times": the count on which they agree, or asked."""
    more = {size.more for size in vague}
    in_all = {size.in_all for size in vague}
    if len(more) != len(in_all):
        return more.pop() if len(more) == 1 else in_all.pop()
    question = (
        '"Repeat from * 4 times": is that 4 times more, or 4 times in all? No other row says how '
        "wide the piece is."
    )
    answer = remarks.settle("repeats", question, MORE)
    return _commonest([size.more if answer == MORE else size.in_all for size in vague])


def _laid_out(
    row: int, written: WrittenRow, sizes: _Sizes, width: int, remarks: RowRemarks
) -> Cells:
    """The cells of one row, at the width of the piece."""
    more = _counts_as_more(row, written, sizes, width, remarks)
    cells: Cells = []
    for place, node in enumerate(written.body.parts):
        if isinstance(node, Fill):
            rest = count(written.body.parts[place + 1 :], more=more)
            cells += _filled(node, width - len(cells), rest, written.line, width, more=more)
        else:
            cells += _expanded(node, more=more)
    _check_width(row, written, cells, width)
    return cells


def _counts_as_more(
    row: int, written: WrittenRow, sizes: _Sizes, width: int, remarks: RowRemarks
) -> bool:
    """Whether "repeat from * 4 times" is four times more, as the width of the piece tells."""
    if not sizes.is_vague:
        return True
    line = written.line
    fits = [sizes.more == width, sizes.in_all == width]
    if sizes.open or all(fits):
        question = (
            f'Line {line} says "repeat" so many times: are they more, or in all? The row goes on '
            "to its end, so its stitches do not tell."
        )
        return remarks.settle("repeats", question, MORE) == MORE
    if not any(fits):
        raise PlanError(
            f"Line {line}: row {row + 1} has {counted(sizes.more, 'stitch')} if its repeats come "
            f"on top of the first time, or {sizes.in_all} if not; the others {width}. Count its "
            "runs and repeats again."
        )
    words = "on top of the first time" if fits[0] else "with the first time among them"
    remarks.note(f"Line {line}: repeats are counted {words}, which makes {width} stitches.")
    return fits[0]


def _expanded(node: Node, *, more: bool) -> Cells:
    if isinstance(node, Run):
        key = NO_STITCH if node.yarn is None else node.yarn.key
        return [key] * node.count
    assert isinstance(node, Times)
    cells = []
    for part in node.part:
        cells += _expanded(part, more=more)
    return cells * (node.times + (node.more and more))


def _filled(fill: Fill, left: int, rest: int, line: int, width: int, *, more: bool) -> Cells:
    """The cells of a part that goes on until `rest` stitches of the row are left."""
    part: Cells = []
    for node in fill.part:
        if isinstance(node, Fill):
            raise PlanError(f"Line {line}: one part to the end stands in another. Write one out.")
        size = count([node], more=more)
        check_amount(size + len(part), f"Line {line}", most=MOST_STITCHES, what="stitches")
        part += _expanded(node, more=more)
    if fill.leave is not None and fill.leave != rest:
        raise PlanError(
            f'Line {line}: "to last {fill.leave}" is followed by {counted(rest, "stitch")}. '
            f'Write "to last {rest}", or count what follows again.'
        )
    size = len(part)
    to_fill = left - rest
    if not part or to_fill < size or to_fill % size:
        raise PlanError(
            f"Line {line}: {size} stitches repeated to the end do not fit the {to_fill} "
            f"that are left of {width}. Count the others again."
        )
    return part * (to_fill // size)


def _check_width(row: int, written: WrittenRow, cells: Cells, width: int) -> None:
    """Refuse a row that is not as wide as the others, or as it says itself."""
    line = written.line
    # Places without a stitch take room in the chart, but nobody counts them.
    total = len(cells) - cells.count(NO_STITCH)
    for stated in (written.body.total, written.title.total):
        if stated not in (None, total):
            raise PlanError(
                f"Line {line} says {stated} stitches, but its runs add up to {total}. Count it "
                "again."
            )
    if len(cells) != width:
        by = abs(len(cells) - width)
        what = "too many" if len(cells) > width else "too few"
        raise PlanError(
            f"Line {line}: row {row + 1} has {len(cells)} stitches, the others {width}: {by} "
            f"{what}. Count its runs and repeats again."
        )
