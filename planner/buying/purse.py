"""The purse of a set: what several pieces take of each yarn, what to buy for all, and which lots.

Each piece is planned as it is by itself. Here its lengths are added up: the swatch is counted once
a yarn, what is in hand once, and what one piece leaves of a ball goes into the next. No piece is of
two dye lots if that can be helped (see `lots_of_set`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

import numpy as np

from planner.buying import sharing
from planner.buying.balls import Make, copies
from planner.buying.lots import TO_BUY, LotLength, lengths_of_copies
from planner.buying.lots_of_set import Copy, LotsOfSet, lots_of_set
from planner.buying.same_yarns import NO_LOT, Given, Question, SameYarn, Use, yarns_of_set
from planner.piece import BALL, Yarn, rows_worked
from planner.plan import Plan, make_plan
from planner.supplies import YarnNeeded, yarn_needed

PART_BALLS = "part balls"  # that were weighed: nobody has said of which lot they are
ROUNDING = 1e-9  # of balls that are added up
# The balls of each lot, in the order in which they are used, each as a share of a whole one.
Balls = dict[str, list[float]]


@dataclass(frozen=True)
class Member:
    """A piece of the set, with a plan for each time that it is knitted, in the order of work.

    The first `finished` are done; the next is the one whose rows are marked, and `used_cm` what is
    likely used for it so far, by letter.
    """

    folder: str
    title: str
    plans: tuple[Plan, ...]
    finished: int = 0
    used_cm: Mapping[str, float] = field(default_factory=dict)

    @property
    def on_needles(self) -> int | None:
        """Which copy is on the needles or comes next, from 0; None if all are finished."""
        return self.finished if self.finished < len(self.plans) else None

    @property
    def rows_done(self) -> int:
        """The worked rows of the copy on the needles."""
        if self.on_needles is None:
            return 0
        return rows_worked(self.plans[self.on_needles].project.progress)

    @property
    def rows(self) -> int:
        """The worked rows of one copy."""
        return self.plans[0].traced.runs.rows

    def name_of(self, copy: int) -> str:
        """The title of a copy, from 0: with its number if there are several."""
        return f"{self.title} {copy + 1}" if len(self.plans) > 1 else self.title


def plans_in_order(
    plan: Plan, times: int, *, mirrored: int = 0, finished: int = 0, make: Make = make_plan
) -> tuple[Plan, ...]:
    """The plan of each copy of a piece in the order of work, mirrored ones last.

    `plan` is that of the copy whose rows are marked: it comes after those that are finished.
    """
    plans = copies(plan, times, mirrored_count=mirrored, make=make)
    straight = times - mirrored
    if straight:
        # Rows cannot be marked of a mirrored one: it is another chart.
        plans.insert(min(finished, straight - 1), plans.pop(0))
    return tuple(plans)


@dataclass(frozen=True)
class Taken:
    """What a copy takes of one lot: cm, and balls.

    It begins with `rest` of a ball that `rest_of` has left, if any, and leaves `leaves` of its
    last ball.
    """

    lot: str
    length_cm: float
    balls: float
    rest: float
    rest_of: str
    leaves: float


@dataclass(frozen=True)
class Share:
    """What a copy of a piece takes of a yarn: its length, cm, and from which lots.

    `lot_of` gives the lot of each length by its label; it is empty where nothing is known of balls.
    """

    member: Member
    copy: int
    length_cm: float
    lot_of: Mapping[str, str]
    taken: tuple[Taken, ...] = ()


@dataclass(frozen=True)
class PurseYarn:
    """A yarn of the set.

    `singly` is what would be bought for each of its `shares` by itself, with a swatch of its own
    and without what others leave of a ball; empty where balls cannot be counted. `buy` are the
    balls of a new lot that the share among lots takes, `more` how many more keep each piece to one
    lot, and `all_new` how many would make one lot of all.
    """

    title: str
    same: SameYarn
    needed: YarnNeeded
    shares: tuple[Share, ...]
    used_cm: float
    singly: tuple[int, ...]
    lots: LotsOfSet | None = None
    buy: int = 0
    more: int = 0
    all_new: int = 0

    @property
    def is_known(self) -> bool:
        """Whether its balls can be counted."""
        return self.needed.to_buy is not None

    @property
    def lots_used(self) -> list[str]:
        """The lots that the pieces come from, in the order in which they are first needed."""
        used = [taken.lot for share in self.shares for taken in share.taken]
        return list(dict.fromkeys(used))

    @property
    def mixed(self) -> list[Share]:
        """The pieces that are of more than one lot."""
        return [share for share in self.shares if len(share.taken) > 1]


@dataclass(frozen=True)
class Purse:
    """The yarns of a set, and what has to be asked before they can be counted."""

    members: tuple[Member, ...]
    yarns: tuple[PurseYarn, ...]
    questions: tuple[Question, ...]

    @property
    def to_buy(self) -> int:
        """Balls to buy for the whole set, of the yarns that can be counted."""
        return sum(each.buy for each in self.yarns)

    @property
    def not_known(self) -> list[PurseYarn]:
        """The yarns of which nobody can say how many balls are to be bought."""
        return [each for each in self.yarns if not each.is_known]

    @property
    def pieces(self) -> int:
        """How many pieces are knitted, each as often as it is."""
        return sum(len(member.plans) for member in self.members)

    def member(self, folder: str) -> Member | None:
        """The piece of the set with this folder."""
        found = [member for member in self.members if member.folder == folder]
        return found[0] if found else None


def fill_purse(members: Sequence[Member], answers: Given) -> Purse:
    """What the pieces of a set take of each yarn, and what is to be bought for them.

    `answers` are those to earlier questions, by what they are about.
    """
    uses = []
    for member in members:
        project = member.plans[0].project
        for each in member.plans[0].needed:
            yarn = project.all_yarns[each.yarn.letter]
            uses.append(Use(member.folder, member.title, each.yarn.letter, yarn))
    same, questions = yarns_of_set(uses, answers)
    titles = _titles(same)
    yarns = [_yarn_of(one, title, members) for one, title in zip(same, titles, strict=True)]
    return Purse(tuple(members), tuple(yarns), tuple(questions))


def _titles(same: Sequence[SameYarn]) -> list[str]:
    """A title for each yarn that no other one has."""
    titles = [one.title for one in same]
    told = []
    for title, one in zip(titles, same, strict=True):
        if titles.count(title) > 1:
            pieces = dict.fromkeys(use.piece for use in one.uses)
            title = f"{title} ({', '.join(pieces)})"
        told.append(title)
    return told


def _yarn_of(same: SameYarn, title: str, members: Sequence[Member]) -> PurseYarn:
    yarn = same.yarn
    if same.is_open:
        # Nothing is counted in balls before it is known which balls these are.
        yarn = replace(yarn, balls_in_hand=0, dye_lot="", part_balls_g=())
        yarn = replace(yarn, metres_per_ball=None, grams_per_ball=None)
    letters = defaultdict(set)
    for use in same.uses:
        letters[use.folder].add(use.letter)
    shares, lengths = [], []
    for member in members:
        of_letters = sorted(letters[member.folder])
        # Copies that are alike share one plan.
        of_plan = {id(plan): _lengths_of(plan, of_letters) for plan in member.plans}
        for copy, plan in enumerate(member.plans):
            of_copy = of_plan[id(plan)]
            if not of_copy:
                continue
            length_cm = sum(length.length_cm for length in of_copy)
            share = Share(member, copy, length_cm, {})
            shares.append(share)
            lengths.append(of_copy)
    needed = _needed(yarn, members, letters)
    counted = PurseYarn(
        title=title,
        same=same,
        needed=needed,
        shares=tuple(shares),
        used_cm=_used_cm(shares, letters),
        singly=_bought_singly(needed, shares, letters),
    )
    return counted if needed.to_buy is None else _with_lots(counted, lengths)


def _lengths_of(plan: Plan, letters: Sequence[str]) -> list[LotLength]:
    """The lengths of these yarns in a piece, letter by letter."""
    lengths = []
    for letter in letters:
        lengths += lengths_of_copies([plan], letter)
    return lengths


# ---- how much


def _needed(yarn: Yarn, members: Sequence[Member], letters: Mapping[str, set[str]]) -> YarnNeeded:
    """What all pieces take together of a yarn, its swatch counted once."""
    piece_cm = embroidered_cm = spare_cm = label_error = 0.0
    using = [member for member in members if letters[member.folder]]
    for member in using:
        first = member.plans[0]
        project = first.project
        measured_off = _measured_off(member, letters[member.folder])
        for each in yarn_needed(project, first.multipliers, measured_off):
            piece_cm += each.piece_cm
            embroidered_cm += each.embroidered_cm
            spare_cm += each.spare_cm
        label_error = max(label_error, project.allow.label_error)
    return YarnNeeded(
        yarn=yarn,
        piece_cm=piece_cm,
        embroidered_cm=embroidered_cm,
        swatch_cm=_swatch_cm(using, letters, piece_cm),
        spare_cm=spare_cm,
        label_error=label_error,
    )


def _measured_off(member: Member, letters: Collection[str]) -> list[tuple[str, str, float]]:
    """The yarn, the supply and the length, cm, of all that is measured off for a piece's copies."""
    units = member.plans[0].project.units
    lengths = []
    for plan in member.plans:
        for piece in plan.pieces:
            if piece.yarn in letters:
                length_cm = piece.to_measure_cm(units)
                lengths.append((piece.yarn, piece.supply, length_cm))
    return lengths


def _swatch_cm(
    members: Sequence[Member], letters: Mapping[str, set[str]], piece_cm: float
) -> float:
    """The swatch of a yarn: one for all pieces, the largest that one of them asks for."""
    largest_cm = 0.0
    for member in members:
        plan = member.plans[0]
        for letter in letters[member.folder]:
            # Told by all that is knitted of the yarn: nobody swatches more than that.
            [each] = yarn_needed(plan.project, plan.multipliers, [(letter, BALL, piece_cm)])
            largest_cm = max(largest_cm, each.swatch_cm)
    return largest_cm


def _bought_singly(
    needed: YarnNeeded, shares: Sequence[Share], letters: Mapping[str, set[str]]
) -> tuple[int, ...]:
    """Balls to buy for each share, as its own shopping list has it; empty if not to be counted."""
    metres = needed.yarn.metres_per_ball
    if not metres:
        return ()
    ball_cm = 100 * metres * (1 - needed.label_error)
    of_shares = [_on_own_list(share, letters) for share in shares]
    swatches_cm = sum(each.swatch_cm for own in of_shares for each in own)
    # A swatch that no single piece is large enough for is knitted of all of them together: then
    # the first piece has it.
    more_cm = max(0.0, needed.swatch_cm - swatches_cm)
    # What is in hand is used up by the first pieces, which buy only what is missing then.
    in_hand = sum(needed.yarn.balls)
    bought = []
    for own in of_shares:
        total_cm = sum(each.total_cm for each in own)
        balls = (total_cm + more_cm) / ball_cm
        missing = max(0.0, balls - in_hand)
        in_hand = max(0.0, in_hand - balls)
        more_cm = 0.0
        bought.append(math.ceil(missing - ROUNDING))
    return tuple(bought)


def _on_own_list(share: Share, letters: Mapping[str, set[str]]) -> list[YarnNeeded]:
    """What the shopping list of this piece alone counts of a yarn."""
    plan = share.member.plans[share.copy]
    of_piece = letters[share.member.folder]
    return [each for each in plan.needed if each.yarn.letter in of_piece]


def _used_cm(shares: Sequence[Share], letters: Mapping[str, set[str]]) -> float:
    """What is used of a yarn so far: all of what is finished, and of the rest what is worked."""
    used_cm = 0.0
    for share in shares:
        member = share.member
        if share.copy < member.finished:
            used_cm += share.length_cm
        elif share.copy == member.on_needles:
            used_cm += sum(member.used_cm.get(letter, 0.0) for letter in letters[member.folder])
    return used_cm


# ---- from which lots


def _with_lots(counted: PurseYarn, lengths: Sequence[list[LotLength]]) -> PurseYarn:
    """The yarn with each of its lengths in a lot, and what would keep pieces to one lot."""
    needed = counted.needed
    assert needed.yarn.metres_per_ball is not None  # asked before
    ball_cm = 100 * needed.yarn.metres_per_ball * (1 - needed.label_error)
    in_hand = _balls_by_lot(needed.yarn)
    folders = [share.member.folder for share in counted.shares]
    pieces, spare = [], 0.0
    for share, of_copy in zip(counted.shares, lengths, strict=True):
        # Copies of one piece match.
        match = folders.index(share.member.folder)
        lengths_cm = [each.length_cm for each in of_copy]
        pieces.append(Copy(match, lengths_cm))
        allow = share.member.plans[0].project.allow
        spare = max(spare, allow.spare)

    buy, balls, found = _with_fewest_to_buy(
        pieces, in_hand, needed.to_buy or 0, ball_cm=ball_cm, spare=spare
    )
    places = _tidied(found, lengths, _room_cm(balls, ball_cm))
    found = replace(found, places=places)
    shares = _trace(counted.shares, lengths, places, balls, ball_cm)
    return replace(
        counted,
        shares=shares,
        lots=found,
        buy=buy,
        more=_more_for_one_lot(pieces, in_hand, buy, ball_cm) if found.cost[0] else 0,
        all_new=math.ceil(needed.total_cm / ball_cm - ROUNDING),
    )


def _with_fewest_to_buy(
    pieces: Sequence[Copy], in_hand: Balls, at_least: int, *, ball_cm: float, spare: float
) -> tuple[int, Balls, LotsOfSet]:
    """The fewest balls of a new lot that it takes, the balls of each lot then, and the share."""
    # A length is of one lot, so that now and then it takes a ball more than all lengths together.
    proven = True
    for buy in count(at_least):
        balls = {**in_hand, **({TO_BUY: [1.0] * buy} if buy else {})}
        room_cm = _room_cm(balls, ball_cm)
        # What is in hand is used before what is new.
        found = lots_of_set(pieces, room_cm, spare=spare, last=len(in_hand) if buy else None)
        if found is not None and found.places:
            return buy, balls, replace(found, proven=proven and found.proven)
        # A search that was cut short does not say that so many are too few.
        proven = proven and found is None
    raise AssertionError("a new lot that is large enough holds everything")


def _room_cm(balls: Balls, ball_cm: float) -> list[float]:
    """What each lot surely holds, cm."""
    return [sum(shares) * ball_cm for shares in balls.values()]


def _balls_by_lot(yarn: Yarn) -> Balls:
    """The balls in hand by lot, those that are begun first."""
    balls: Balls = {}
    for lot, number in yarn.lots.items():
        whole = math.floor(number + ROUNDING)
        begun = [number - whole] if number - whole > ROUNDING else []
        if number:
            balls[lot or NO_LOT] = [*begun, *[1.0] * whole]
    if yarn.part_balls_g and yarn.grams_per_ball:
        balls[PART_BALLS] = sorted(grams / yarn.grams_per_ball for grams in yarn.part_balls_g)
    return balls


def _more_for_one_lot(pieces: Sequence[Copy], in_hand: Balls, buy: int, ball_cm: float) -> int:
    """How many balls more, beside `buy`, let each piece be of one lot."""
    whole = [Copy(piece.match, [sum(piece.lengths_cm)]) for piece in pieces]
    held_cm = _room_cm(in_hand, ball_cm)
    for more in count(1):
        found = lots_of_set(whole, [*held_cm, (buy + more) * ball_cm])
        if found is not None and found.places:
            return more
    raise AssertionError("a new lot that is large enough holds everything")


def _tidied(
    found: LotsOfSet, lengths: Sequence[list[LotLength]], room_cm: Sequence[float]
) -> tuple[tuple[int, ...], ...]:
    """The same share; pieces that are of several lots keep each colour area to one, if they can."""
    free_cm = list(room_cm)
    for place, of_copy in zip(found.places, lengths, strict=True):
        for lot, length_cm in _taken_by_lot(place, of_copy).items():
            free_cm[lot] -= length_cm
    places = list(found.places)
    for number, of_copy in enumerate(lengths):
        own_cm = _taken_by_lot(places[number], of_copy)
        if len(own_cm) == 1:
            continue
        # It may have all that it has now, and what no other piece takes.
        lots = sorted(own_cm)
        room = {str(lot): own_cm[lot] + free_cm[lot] for lot in lots}
        share = _kept_to_areas(of_copy, room)
        if share is None:
            continue
        places[number] = tuple(lots[place] for place in share.place)
        now_cm = _taken_by_lot(places[number], of_copy)
        for lot in lots:
            free_cm[lot] += own_cm[lot] - now_cm.get(lot, 0.0)
    return tuple(places)


def _taken_by_lot(place: Sequence[int], of_copy: Sequence[LotLength]) -> dict[int, float]:
    """What the lengths of a piece take of each lot that it has, cm."""
    taken_cm: dict[int, float] = defaultdict(float)
    for lot, length in zip(place, of_copy, strict=True):
        taken_cm[lot] += length.length_cm
    return dict(taken_cm)


def _kept_to_areas(of_copy: Sequence[LotLength], room: Mapping[str, float]) -> sharing.Share | None:
    """The share of a piece's lengths among lots that keeps most areas to one; None if none fits."""
    return sharing.best_share(
        np.array([length.length_cm for length in of_copy]),
        np.array([length.begins for length in of_copy]),
        np.array([length.done for length in of_copy]),
        [length.areas for length in of_copy],
        room,
    )


def _trace(
    shares: Sequence[Share],
    lengths: Sequence[list[LotLength]],
    places: Sequence[Sequence[int]],
    balls: Balls,
    ball_cm: float,
) -> tuple[Share, ...]:
    """The shares with their lots: lot by lot one ball after the other, in the order of work."""
    names = list(balls)
    left = {lot: list(each) for lot, each in balls.items()}
    # Who began the ball that is next in a lot.
    begun_by: dict[str, str] = {}
    traced = []
    for share, of_copy, place in zip(shares, lengths, places, strict=True):
        by_lot: dict[str, float] = defaultdict(float)
        lot_of = {}
        for at, length in zip(place, of_copy, strict=True):
            by_lot[names[at]] += length.length_cm
            lot_of[length.label] = names[at]
        taken = []
        for lot, length_cm in by_lot.items():
            taken.append(_take(left[lot], lot, length_cm, length_cm / ball_cm, begun_by))
            begun_by[lot] = share.member.name_of(share.copy)
        traced.append(replace(share, lot_of=lot_of, taken=tuple(taken)))
    return tuple(traced)


def _take(
    left: list[float], lot: str, length_cm: float, balls: float, begun_by: Mapping[str, str]
) -> Taken:
    """Take so many balls off what is left of a lot, one after the other."""
    first = left[0] if left else 0.0
    rest_of = begun_by.get(lot, "") if first < 1 - ROUNDING else ""
    to_take = balls
    while left and to_take >= left[0] - ROUNDING:
        to_take -= left.pop(0)
    leaves = 0.0
    if left and to_take > ROUNDING:
        left[0] -= to_take
        leaves = left[0]
    rest = first if first < 1 - ROUNDING else 0.0
    return Taken(lot, length_cm, balls, rest, rest_of, leaves)
