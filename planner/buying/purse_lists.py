"""The lists of a set: what to buy, metres piece by piece, what one piece takes, what is used."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import groupby
from typing import Any

import pandas as pd

from planner.buying.lots import TO_BUY
from planner.buying.purse import Member, Purse, PurseYarn, Share, Taken
from planner.supplies import Piece, shopping_list
from planner.units import counted, figure, show, show_total, shown, shown_totals

NEW_LOT = "a new one"  # as a table says it under the heading "lot"


# ---- tables


def set_shopping_list(purse: Purse, units: str) -> pd.DataFrame:
    """One row a yarn: what all pieces take of it, balls in hand and to buy, and if bought singly.

    What cannot be counted yet is missing (<NA>).
    """
    table = shopping_list([each.needed for each in purse.yarns])
    titles, balls, singly, is_settled = [], [], [], []
    for each in purse.yarns:
        titles.append(each.title)
        balls.append(each.buy if each.is_known else None)
        singly.append(sum(each.singly) if each.is_known else None)
        is_settled.append(not each.same.is_open)
    table = table.assign(
        yarn=titles,
        # Nothing is said of balls in hand before it is known which they are.
        balls_in_hand=table["balls_in_hand"].where(is_settled),
        balls_to_buy=pd.array(balls, dtype="Int64"),
        bought_singly=pd.array(singly, dtype="Int64"),
    )
    # The title says the name; which lots there are stands below.
    table = table.drop(columns=["name", "dye_lot"])
    return shown_totals(table, units)


def by_piece_table(purse: Purse, units: str) -> pd.DataFrame:
    """One row a yarn and piece: how many times, what is measured off for one and in all, lots.

    Copies that take the same from the same lots stand on one line.
    """
    lines: dict[tuple[object, ...], dict[str, Any]] = {}
    for each in purse.yarns:
        for share in each.shares:
            lots = _lots_in_words(share, units)
            key = (each.title, share.member.folder, round(share.length_cm, 4), lots)
            line = lines.setdefault(
                key,
                {
                    "yarn": each.title,
                    "piece": share.member.title,
                    "times": 0,
                    "for_one_cm": share.length_cm,
                    "in_all_cm": 0.0,
                    "lot": lots,
                },
            )
            line["times"] += 1
            line["in_all_cm"] += share.length_cm
    columns = ["yarn", "piece", "times", "for_one_cm", "in_all_cm", "lot"]
    # Each is a sum of what is measured off, so that it is shown as exactly.
    table = pd.DataFrame(list(lines.values()), columns=columns)
    return shown(table, units)


def _lots_in_words(share: Share, units: str) -> str:
    """The lots of a share, each with its length if there are several."""
    if len(share.taken) == 1:
        [only] = share.taken
        return _lot(only.lot)
    told = []
    for taken in share.taken:
        length = show(taken.length_cm, units)
        told.append(f"{_lot(taken.lot)}: {length}")
    return ", ".join(told)


def _lot(lot: str) -> str:
    return NEW_LOT if lot == TO_BUY else lot


def taken_table(purse: Purse, member: Member, units: str) -> pd.DataFrame:
    """One row a yarn and lot of the copy on the needles: length and balls that it takes.

    Beside it which begun ball it goes on with, and what it leaves of its last one for the next.
    """
    lines = []
    for each in purse.yarns:
        for share in _shares_on_needles(each, member):
            for taken in share.taken:
                lines.append(_taken_line(each.title, taken))
            if not share.taken:
                lines.append((each.title, "", share.length_cm, math.nan, "", math.nan))
    columns = ["yarn", "lot", "takes_cm", "balls", "goes_on_with", "leaves_of_a_ball"]
    return shown(pd.DataFrame(lines, columns=columns), units)


def _taken_line(title: str, taken: Taken) -> tuple[object, ...]:
    balls, leaves = round(taken.balls, 2), round(taken.leaves, 2)
    return title, _lot(taken.lot), taken.length_cm, balls, _rest_in_words(taken), leaves


def _shares_on_needles(each: PurseYarn, member: Member) -> list[Share]:
    """What the copy of a piece on the needles takes of a yarn: one share or none."""
    shares = []
    for share in each.shares:
        if share.member is member and share.copy == member.on_needles:
            shares.append(share)
    return shares


def _rest_in_words(taken: Taken) -> str:
    if not taken.rest:
        return ""
    whose = f" that {taken.rest_of} left" if taken.rest_of else ", begun"
    return f"{figure(taken.rest, 2)} of a ball{whose}"


def lot_of_pieces(purse: Purse, member: Member, pieces: Iterable[Piece]) -> str:
    """The lots of pieces of yarn of the copy on the needles: "041", or "041: W2; 018: W3"."""
    labels: dict[str, list[str]] = {}
    for piece in pieces:
        length = piece.label if piece.refill else piece.strand
        share = _share_of(purse, member, piece.yarn)
        lot = share.lot_of.get(length, "")
        labels.setdefault(_lot(lot), []).append(piece.label)
    if len(labels) == 1:
        return next(iter(labels))
    return "; ".join(f"{lot}: {', '.join(named)}" for lot, named in labels.items())


def _share_of(purse: Purse, member: Member, letter: str) -> Share:
    """What the copy on the needles takes of the yarn that has this letter in its chart."""
    for each in purse.yarns:
        if any((use.folder, use.letter) == (member.folder, letter) for use in each.same.uses):
            return _shares_on_needles(each, member)[0]
    raise AssertionError("each yarn of a piece is in the purse")


def is_of_several_lots(purse: Purse, member: Member, letter: str) -> bool:
    """Whether the copy on the needles takes the yarn of this letter from several lots."""
    return len(_share_of(purse, member, letter).taken) > 1


def used_table(purse: Purse, units: str) -> pd.DataFrame:
    """One row a yarn of which something is used: in all, used so far, and still needed."""
    lines = []
    for each in purse.yarns:
        if each.used_cm:
            piece_cm = each.needed.piece_cm
            lines.append(
                {
                    "yarn": each.title,
                    "in_all_cm": piece_cm,
                    "used_so_far_cm": each.used_cm,
                    "still_needed_cm": max(0.0, piece_cm - each.used_cm),
                    "left_in_hand_cm": _left_in_hand_cm(each),
                }
            )
    columns = ["yarn", "in_all_cm", "used_so_far_cm", "still_needed_cm", "left_in_hand_cm"]
    return shown_totals(pd.DataFrame(lines, columns=columns), units)


def _left_in_hand_cm(each: PurseYarn) -> float | None:
    """What is left of the balls in hand, as their bands have it; None if nobody knows."""
    metres = each.needed.yarn.metres_per_ball
    if not metres:
        return None
    return max(0.0, 100 * metres * sum(each.needed.yarn.balls) - each.used_cm)


# ---- words


def purse_in_words(purse: Purse, units: str) -> str:
    """What the set comes to, and what is saved by buying for all pieces together."""
    yarn_cm = sum(each.needed.piece_cm for each in purse.yarns)
    pieces = counted(purse.pieces, "piece")
    to_buy = buy_in_words(purse)
    words = f"{pieces}, {show_total(yarn_cm, units)} of yarn to measure off. To buy: {to_buy}."
    singly = sum(sum(each.singly) for each in purse.yarns)
    if singly > purse.to_buy:
        words += (
            f" Bought piece by piece it would be {singly}: here one swatch serves all pieces, and "
            "what one leaves of a ball goes into the next."
        )
    asked = [each.title for each in purse.not_known if each.same.is_open]
    unknown = [each.title for each in purse.not_known if not each.same.is_open]
    if asked:
        words += f" Not counted before the questions are answered: {', '.join(asked)}."
    if unknown:
        words += f" No metres are known of {', '.join(unknown)}: fill them in from the band."
    return words


def buy_in_words(purse: Purse) -> str:
    """The balls to buy, and the yarns of which that is not known: "2 balls; A: not known"."""
    unknown = ", ".join(each.title for each in purse.not_known)
    if not unknown:
        return counted(purse.to_buy, "ball") if purse.to_buy else "nothing"
    # Of the rest nothing is to be bought: that is said only where all is known.
    known = f"{counted(purse.to_buy, 'ball')}; " if purse.to_buy else ""
    return f"{known}{unknown}: not known"


def singly_in_words(each: PurseYarn) -> str:
    """The balls of a yarn bought piece by piece, and their sum: "2 + 2 × 3 = 8"; "" if unknown."""
    terms = []
    bought = zip(each.shares, each.singly, strict=False)
    for (_, balls), alike in groupby(bought, key=lambda pair: (pair[0].member.folder, pair[1])):
        times = len(list(alike))
        terms.append(f"{times} × {balls}" if times > 1 else f"{balls}")
    if len(each.singly) < 2:
        return "".join(terms)
    return f"{' + '.join(terms)} = {sum(each.singly)}"


def lots_in_words(purse: Purse) -> list[str]:
    """Which pieces come from which lots, a sentence or two for each yarn of which that is asked."""
    return [words for each in purse.yarns if (words := _lots_of_yarn(each))]


def _lots_of_yarn(each: PurseYarn) -> str:
    lots = each.lots_used
    if not lots or each.lots is None:
        return ""
    new = counted(each.buy, "ball")
    if lots == [TO_BUY]:
        return f"{each.title}: buy all {new} of one lot." if each.buy > 1 else ""
    if len(lots) == 1:
        return ""
    told = f"{each.title} comes from {len(lots)} lots, "
    if each.mixed:
        names = ", ".join(share.member.name_of(share.copy) for share in each.mixed)
        more = counted(each.more, "ball")
        told += (
            f"and this cannot be of one: {names}. Buy {more} more, and each piece is of one lot; "
            f"buy {each.all_new} of one new lot, and all pieces are of one."
        )
    else:
        told += "each piece from one."
    if TO_BUY in lots:
        told += " If the shop has a lot that you have, take that."
    if not each.lots.proven:
        told += " A better share may exist: the search was cut short."
    return told


def member_in_words(member: Member, row: str) -> str:
    """How far a piece of the set is: "finished 1 of 2; on the needles: row 34 of 96"."""
    told = []
    times = len(member.plans)
    if member.finished:
        told.append("finished" if times == 1 else f"{member.finished} of {times} finished")
    if member.on_needles is not None and member.rows_done:
        if member.rows_done >= member.rows:
            told.append(f"all {member.rows} {row}s worked")
        else:
            told.append(f"{row} {member.rows_done} of {member.rows} worked")
    return ", ".join(told) or "not begun"
