"""Lists: what to wind, tags to tie on, what to buy, which ends to sew in."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import Any

from planner.cards import ready_before
from planner.colour import ink_on
from planner.finishing import WHATS, LeftEnd, ends_to_run, way_in_words
from planner.knitting import is_begun
from planner.paper.signs import Signs, shortened, width_of
from planner.piece import BALL, PARTS, part_title, rows_worked
from planner.plan import Plan
from planner.supplies import (
    CAST_ON,
    NOT_KNOWN,
    NOT_WOUND,
    TO_EMBROIDER,
    Piece,
    YarnNeeded,
    alike_pieces,
    balls_of_yarns,
    which_ball,
    wraps_of,
    yarns_not_known,
)
from planner.units import counted, figure, show, show_total

# Kitchen scales step by a gram: of less than this the length is measured, not the weight.
LEAST_WEIGHED_G = 5
MOST_OF_A_LOT = 20  # signs of a dye lot on a tag
# The letters in a patch, and the room for them; bold ones are a sixth wider.
LARGEST_IN_PATCH_PT, PATCH_PT = 7.0, 11.5
KEY_PT = 7.4  # the size of the names in the key


class Pieces:
    """The pieces of yarn of a plan, as lists and tags say them."""

    def __init__(self, plan: Plan, signs: Signs):
        self.plan = plan
        self.signs = signs
        self.units = plan.project.units
        self.yarns = plan.project.all_yarns
        self.balls = balls_of_yarns(plan.pieces, self.yarns)
        self.done = rows_worked(plan.project.progress)

    def chip(self, letter: str) -> dict[str, Any]:
        """A patch of a yarn's colour with its letter, and the size at which that fits."""
        colour, printed = self.yarns[letter].colour, self.signs.letter(letter)
        size = min(LARGEST_IN_PATCH_PT, PATCH_PT / width_of(printed))
        return {
            "letter": printed,
            "size": round(size, 2),
            "colour": colour,
            "ink": ink_on(colour),
        }

    def is_begun(self, piece: Piece) -> bool:
        """Whether the row before which it must be ready has been worked."""
        return is_begun(piece, self.done)

    def box(self, piece: Piece) -> dict[str, Any]:
        """A box to tick with what it stands for."""
        return {"label": self.signs.text(piece.label), "done": self.is_begun(piece)}

    def held(self, piece: Piece) -> str:
        """How a piece is held, in words."""
        word = self.plan.traced.how.row_word
        if piece.supply == BALL:
            return which_ball(piece.ball, self.yarns[piece.yarn], self.balls[piece.yarn])
        if piece.before_row is not None:
            return f"{piece.supply}, off its ball"
        supply = piece.supply
        if piece.cut_before is not None:
            supply = f"{supply} for {word} {piece.row + 1}, cut while its ball is free"
        if piece.refill:
            return f"{supply}, to join in {word} {piece.row + 1}"
        return supply

    def length(self, piece: Piece) -> str:
        """What to measure off, in words."""
        return show(piece.to_measure_cm(self.units), self.units)

    def wraps(self, piece: Piece) -> int | None:
        """How often that goes round what the knitter winds round; None for what is not wound."""
        if piece.supply in NOT_WOUND:
            return None
        length_cm = piece.to_measure_cm(self.units)
        return wraps_of(length_cm, self.plan.project.habits)

    def begun(self, piece: Piece) -> str:
        """How a length is begun from its middle, in words; "" where it is not."""
        words = piece.begun_in_words(self.units).removeprefix(", ")
        if not words:
            return ""
        first, second = (part_title(piece.strand, half) for half in PARTS[1:])
        return self.signs.text(f"{words}: {first} with that end, {second} with the other")

    def row(self, row: int) -> str:
        """A worked row, from 0: "30 WS"."""
        how = self.plan.traced.how
        return f"{row + 1} {how.side(row)}" if how.is_turned else f"{row + 1}"

    def ready_before(self, piece: Piece) -> str:
        """The row before which it must be ready, "30 WS", or the cast-on; "" for embroidery."""
        if piece.supply == TO_EMBROIDER:
            return ""
        before = ready_before(piece, self.plan.project.allow)
        return before if before == CAST_ON else self.row(piece.ready_row)


def winding_list(pieces: Pieces) -> list[dict[str, Any]]:
    """The lines of what to wind and to lay out, in the order of need."""
    signs = pieces.signs
    lines = []
    for group in alike_pieces(pieces.plan.pieces, pieces.units):
        first = group[0]
        lines.append(
            {
                "boxes": [pieces.box(piece) for piece in group],
                "chip": pieces.chip(first.yarn),
                "held": pieces.held(first),
                "begun": " ".join(filter(None, map(pieces.begun, group))),
                "length": pieces.length(first),
                "wraps": str(pieces.wraps(first) or ""),
                "row": pieces.ready_before(first),
                "from_ball": first.supply == BALL,
                "place": signs.text(_place(first)),
            }
        )
    return lines


def _place(piece: Piece) -> str:
    """Where a piece is begun; why it is cut earlier stands with how it is held."""
    return piece.place.rpartition("; ")[2] if piece.cut_before is not None else piece.place


def tags(pieces: Pieces) -> list[dict[str, Any]]:
    """A tag for each piece that is wound or cut off, in the order of need."""
    tagged = []
    for piece in pieces.plan.pieces:
        if piece.supply != BALL:
            tagged.append(_tag(pieces, piece))
    return tagged


def _tag(pieces: Pieces, piece: Piece) -> dict[str, Any]:
    signs, yarn = pieces.signs, pieces.yarns[piece.yarn]
    grams = yarn.grams(piece.to_measure_cm(pieces.units))
    lot = signs.lot(shortened(yarn.dye_lot, MOST_OF_A_LOT))
    wraps = pieces.wraps(piece)
    is_weighed = grams is not None and grams >= LEAST_WEIGHED_G
    return {
        "label": signs.text(piece.label),
        "chip": pieces.chip(piece.yarn),
        "name": signs.short_name(piece.yarn),
        "lot": f"lot {lot}" if lot else "",
        "held": piece.supply,
        "length": pieces.length(piece),
        "wraps": counted(wraps, "wrap") if wraps else "",
        "begun": pieces.begun(piece),
        "places": signs.texts(_places(pieces, piece)),
        "left_in": "g" if is_weighed else pieces.units,
    }


def _places(pieces: Pieces, piece: Piece) -> list[str]:
    """Where a piece starts and ends, in words."""
    how = pieces.plan.traced.how
    first = f"{how.row_word} {pieces.row(piece.row)}"
    if piece.label == CAST_ON:
        return ["cast on all stitches, then cut"]
    if piece.supply == TO_EMBROIDER:
        return [f"embroider after blocking, from {how.row_word} {piece.row + 1}", piece.place]
    ends = f"ends {how.row_word} {piece.to_row}"
    if piece.before_row is not None:
        return [f"measure off before {first}", f"from the ball of {piece.part}", ends]
    early = []
    if piece.cut_before is not None:
        before = ready_before(piece, pieces.plan.project.allow)
        cut = before if before == CAST_ON else f"{how.row_word} {pieces.row(piece.cut_before)}"
        early = [f"cut before {cut}"]
    if piece.refill:
        return [*early, f"join in {first}", ends]
    start = f"start {first}{_after(pieces, piece)}"
    if early or not piece.place:
        return [*early, start, ends]
    return [start, f"{piece.place} · {ends}"]


def _after(pieces: Pieces, piece: Piece) -> str:
    """After which run of its row a piece starts: ", after 1 Rock K2"."""
    titles = {piece.part, *(part_title(piece.strand, part) for part in PARTS)}
    lines = pieces.plan.cards[piece.row].lines
    for before, line in pairwise(lines):
        if line.strand in titles:
            name = pieces.signs.short_name(before.yarn)
            return f", after {before.stitches} {name} {before.strand}"
    return ""


def shopping_list(pieces: Pieces) -> list[dict[str, Any]]:
    """What each yarn takes, what is in hand and what to buy."""
    return [_to_buy(pieces, needed) for needed in pieces.plan.needed]


def _to_buy(pieces: Pieces, needed: YarnNeeded) -> dict[str, Any]:
    yarn, units = needed.yarn, pieces.units
    grams = yarn.grams(needed.total_cm)
    return {
        "chip": pieces.chip(yarn.letter),
        "name": pieces.signs.name(yarn.letter),
        "lot": pieces.signs.lot(yarn.dye_lot),
        "piece": show_total(needed.piece_cm, units),
        "swatch": show_total(needed.swatch_cm, units),
        "spare": show_total(needed.spare_cm, units),
        "total": show_total(needed.total_cm, units),
        "grams": "" if grams is None else f"{-int(-grams // 1)} g",
        "used": "?" if needed.balls is None else figure(needed.balls, 2),
        "in_hand": balls_in_hand(needed),
        "buy": balls_to_buy(needed),
    }


def balls_in_hand(needed: YarnNeeded) -> str:
    """How many balls are in hand; "?" where nothing was said of them."""
    balls = sum(needed.yarn.balls)
    return figure(balls, 2) if balls or needed.to_buy is not None else "?"


def not_known(plan: Plan) -> list[str]:
    """Of which yarns nobody can say whether they suffice, as a sentence; none where of none."""
    unknown = yarns_not_known(plan.needed)
    return [f"? {', '.join(unknown)}: {NOT_KNOWN}."] if unknown else []


def balls_to_buy(needed: YarnNeeded) -> str:
    """How many balls to buy; "?" where the band's length is not known."""
    return "?" if needed.to_buy is None else str(needed.to_buy)


def ends_plan(pieces: Pieces) -> list[dict[str, Any]]:
    """The ends to sew in, by the row after which that is done, each sitting area by area."""
    ends = sorted(ends_to_run(pieces.plan), key=lambda each: each.sew_after)
    sittings = []
    for after, to_sew in groupby(ends, key=lambda each: each.sew_after):
        lines = [_end(pieces, each) for each in to_sew]
        sittings.append({"after": after, "ends": lines})
    return sittings


def _end(pieces: Pieces, each: LeftEnd) -> dict[str, Any]:
    """An end: whose it is, where it lies, how it is run, and whether that is done."""
    plan, end = pieces.plan, each.end
    side = f" {end.side}" if plan.traced.how.is_turned else ""
    return {
        "label": pieces.signs.text(end.strand),
        "number": each.number,
        "done": each.is_sewn,
        "what": WHATS[end.what],
        "where": f"{end.row + 1}{side}, stitch {end.stitch}",
        "how": pieces.signs.text(way_in_words(each, plan, pieces.signs.titled)),
    }


def key_to_yarns(pieces: Pieces, width: float) -> list[dict[str, Any]]:
    """The key to the chart's yarns: patches, each with its name on one line of this width, pt."""
    key = []
    for letter in pieces.plan.project.chart.letters:
        name = pieces.signs.name_that_fits(letter, width, KEY_PT)
        key.append({"chip": pieces.chip(letter), "name": name})
    return key
