"""Advice on balls: what to do about their yarns, row by row, for the piece and not for the moment.

In the knitter's sum two yarns hold as many full turns as they met in RS rows less as they met in WS
rows; the half turn of the work itself is left out. What grows matters, not whether all is clear at
one moment. So the advice is, in this order: to leave what goes by itself or stays at few turns; to
lay a new ball where its yarn is free of the others; to clear the few turns that would become too
many (`clearing`), before they do. What the log says was cleared is taken as it was done.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Protocol

from planner.piece import FIRST_EDGE, HAIRY, SAME_WAY, Project, rows_worked
from planner.strands import Strands
from planner.supplies import Held
from planner.twists.balls import Balls, HasBalls, Move
from planner.twists.braid import Braid
from planner.twists.clearing import Clearings
from planner.twists.fewest import Pair, sums_of
from planner.twists.hints import hints_by_ball
from planner.twists.words import TIMES, Laid, Stay, Words, clearings_in
from planner.units import counted, listed

# Full turns that two yarns keep if one is hairy: such yarns cling to each other (judgement).
MOST_OF_HAIRY = 1
# Turned always the same way, lengths that hang are dropped through each other so often (judgement).
DROP_EVERY = 8
# Rows that are named one by one in a sentence.
MOST_NAMED = 6
DROP = "Drop the lengths that hang through each other."


class HasPiece(HasBalls, Protocol):
    """What the advice is worked out from."""

    @property
    def project(self) -> Project: ...


@dataclass(frozen=True)
class BallAdvice:
    """What to do about the balls in one worked row, counted from 1.

    `table` is their order when the row begins, from the side where rows begin, and `news` says
    whether it has changed since the row before. `lies` and `needle` are the orders of the balls and
    of their yarns after the row, before the work is turned. `moves` are made then, and the work is
    turned by `turned` half turns. `stays` is what stays after that, and `stays_news` whether it was
    not so before; `clear` says that all yarns are free of each other.
    """

    row: int
    words: Words
    table: tuple[str, ...]
    news: bool
    laid: tuple[Laid, ...]
    lies: tuple[str, ...]
    needle: tuple[str, ...]
    stays: tuple[Stay, ...]
    stays_news: bool
    moves: tuple[Move, ...]
    turned: int
    clear: bool
    drop: bool

    @property
    def what(self) -> str:
        """What is most to be done, in a word: "clear", "lay" or "leave"; "" with one ball."""
        if self.moves:
            return "clear"
        if self.laid:
            return "lay"
        return "leave" if len(self.needle) > 1 else ""

    @property
    def before(self) -> tuple[str, ...]:
        """What is said before the row: where the balls lie, if that is new, and new balls."""
        lines = []
        # One ball alone has no order.
        if len(self.table) > 1 and (self.news or self.laid):
            lines.append(self.balls)
        lines += self._lay(later=False)
        in_lap = [laid.ball for laid in self.laid if laid.later]
        if in_lap:
            lines.append(self.words.lap(in_lap))
        return tuple(lines)

    @property
    def after(self) -> tuple[str, ...]:
        """What is said after the row: moves, what stays, if that is new, the turn, new balls."""
        passes: list[str] = []
        rounds: list[str] = []
        for move in self.moves:
            # A move that names no ball turns the work round.
            sentences = passes if move.ball else rounds
            sentences.append(self.words.move(move))
        stays = self.state if self.stays_news else ()
        drop = [DROP] if self.drop else []
        turn = []
        if self.turned:
            turn.append(self.words.turn(self.turned))
        laid = self._lay(later=True)
        # What lies in the lap turns with the work, so the work is turned round when it is laid.
        if laid:
            return (*passes, *turn, *laid, *rounds, *stays, *drop)
        return (*passes, *rounds, *stays, *drop, *turn)

    @property
    def balls(self) -> str:
        """The order of the balls on the table, for whoever asks."""
        return self.words.balls(self.table)

    @property
    def state(self) -> tuple[str, ...]:
        """What stays after the row, for whoever asks."""
        return tuple(self.words.stay(stay) for stay in self.stays)

    @property
    def log(self) -> str:
        """What the log says of the moves, once they are made."""
        return self.words.log(self.moves)

    def _lay(self, *, later: bool) -> list[str]:
        """The sentences on new balls that are laid now, or later."""
        lines = []
        for laid in self.laid:
            # A ball that is cut before the work is turned is never laid.
            is_laid = laid.at is not None
            if is_laid and laid.later == later:
                lines.append(self.words.lay(laid))
                if laid.hint:
                    lines.append(laid.hint)
        return lines

    def __str__(self) -> str:
        return " ".join([*self.before, *self.after])


def advise(plan: HasPiece) -> tuple[BallAdvice, ...]:
    """What to do about the balls in each worked row, as it follows from what the log says."""
    project = plan.project
    strands = plan.traced
    habits = project.habits
    first_turn = 1 if habits.first_turn == FIRST_EDGE else -1
    same_way = habits.turning == SAME_WAY and strands.how.is_turned
    cleared = clearings_in(project.progress, strands.how)
    balls = Balls(strands, plan.held, both_ends=habits.both_ends)
    braids = []
    for row in range(strands.runs.rows):
        # The second half turn of two, before the balls that are laid when it is made.
        rounds = first_turn if same_way and row % 2 else 0
        balls.work(row, rounds=rounds)
        if row in cleared:
            balls.clear(cleared[row])
        braids.append(balls.braid.copy())

    # What was worked was cleared as the log says, and not otherwise.
    start = max([rows_worked(project.progress), *cleared])
    allowed = _turns_allowed(project, plan.held)
    clearings = Clearings(
        balls.steps,
        sums_of(braids, allowed),
        start=start,
        good=good_rows(strands, habits.comfortable),
        fronts=[balls.front(row) for row in range(len(braids))],
        twins=balls.twins,
        turns_first=same_way,
    )
    turns = _turns_of_rows(strands, first_turn, same_way=same_way)
    # Only where turns alternate does a WS row take out what a RS row has twisted.
    alternates = strands.how.is_turned and not same_way
    hints = hints_by_ball(balls) if alternates else {}
    hanging = _rows_with_hanging(plan.held)
    return tuple(_advice_by_row(clearings, balls, turns, hints, hanging))


def said_before_cards(
    advice: Sequence[BallAdvice], *, casts_on: bool
) -> tuple[tuple[str, ...], ...]:
    """What is said of balls before each card: that of casting on, if there is one, then each row's.

    Balls are laid out to cast on from them, so the first row does not say it again.
    """
    before = tuple(each.before for each in advice)
    return (before[0], (), *before[1:]) if casts_on else before


def _rows_with_hanging(held: Sequence[Held]) -> set[int]:
    """The rows after which lengths hang that are fed from no ball."""
    rows: set[int] = set()
    for each in held:
        hangs = range(each.on_ball_until(), each.part.last_row)
        rows.update(hangs)
    return rows


def _turns_allowed(project: Project, held: Sequence[Held]) -> dict[str, int]:
    """The full turns that each yarn may hold with another."""
    most = project.habits.twists_allowed
    yarns = project.all_yarns
    allowed = {}
    for each in held:
        yarn = yarns[each.part.yarn]
        turns = most
        if yarn.surface == HAIRY:
            turns = min(most, MOST_OF_HAIRY)
        allowed[each.part.title] = turns
    return allowed


def _turns_of_rows(strands: Strands, first_turn: int, *, same_way: bool) -> list[int]:
    """The half turn of the work after each row: 1, −1, or 0 where it is not turned."""
    rows = strands.runs.rows
    if not strands.how.is_turned:
        return [0] * rows
    turns = [first_turn] * rows
    if not same_way:
        # What one turn twists the next one takes out.
        turns[1::2] = [-first_turn] * (rows // 2)
    # After the last row there is no other to turn the work for.
    turns[-1] = 0
    return turns


def good_rows(strands: Strands, comfortable: int) -> list[int]:
    """How good each row is to stop at, from 0 to 2.

    The knitter stops where something is joined or cut; and well at the end of a WS row, or of a
    round, when few lengths hang and nothing begins in the next.
    """
    how = strands.how
    row_of_run = strands.runs.row
    begins = set(row_of_run[strands.first_run].tolist())
    ends = set(row_of_run[strands.last_run].tolist())
    good = []
    for row, live in enumerate(strands.live.tolist()):
        begins_next = row + 1 in begins
        is_quiet = live <= comfortable and not begins_next
        # After a WS row the RS faces the knitter again, and so does the pattern.
        is_done = not how.is_turned or not how.is_right_side(row)
        is_good = is_quiet and is_done
        stops_anyway = row in begins or row in ends
        good.append(is_good + stops_anyway)
    return good


def _advice_by_row(
    clearings: Clearings,
    balls: Balls,
    turns: Sequence[int],
    hints: Mapping[str, str],
    hanging: set[int],
) -> Iterator[BallAdvice]:
    """The advice for each row, in order; `hanging` are the rows after which other lengths hang."""
    words = Words(balls.how)
    ways = set(turns) - {0}
    same_way = len(ways) == 1
    before = Braid()
    told_table: tuple[str, ...] = ()
    told_stays: tuple[Stay, ...] = ()
    for row, braid in enumerate(clearings.after):
        table = tuple(before.table)
        needle = tuple(braid.order)
        if balls.is_turned_in(row):
            needle = needle[::-1]
        moves = clearings.moves.get(row, [])
        stays = tuple(_stays(clearings, row))
        laid = _laid(balls, row, hints, before=before.table, after=braid.table)
        # Turned always the same way, what hangs winds up; turned back each time, it unwinds.
        winds_up = same_way and turns[row] != 0 and row in hanging
        yield BallAdvice(
            row=row + 1,
            words=words,
            table=table,
            news=table != told_table,
            laid=tuple(laid),
            lies=tuple(braid.table),
            needle=needle,
            stays=stays,
            stays_news=stays != told_stays,
            moves=tuple(moves),
            turned=turns[row],
            clear=braid.is_clear(),
            drop=winds_up and (row + 1) % DROP_EVERY == 0,
        )
        before = braid
        told_table = table
        told_stays = stays


def _laid(
    balls: Balls, row: int, hints: Mapping[str, str], *, before: list[str], after: list[str]
) -> Iterator[Laid]:
    """The balls that are laid in a row, among those on the table `before` it or `after` it.

    What begins when the work is turned is laid when it is turned back: only then it lies as its
    yarn hangs.
    """
    places: dict[str, int] = {}
    for name, values in balls.steps[row]:
        if name == "lay":
            ball, at_table, _ = values
            places[ball] = at_table
    later = balls.is_turned_in(row)
    lying = before.copy()
    if later:
        lying = [ball for ball in after if ball not in places]
    for ball, place in places.items():
        if later and ball not in after:
            yield Laid(ball, tuple(lying), None, "", later, "")
            continue
        if later:
            # Of those that lie farther towards the side where rows begin some come only after it.
            nearer = after[: after.index(ball)]
            place = sum(each in lying for each in nearer)
        twin = balls.twins.get(ball, "")
        if twin not in lying:
            twin = ""
        hint = hints.get(ball, "")
        yield Laid(ball, tuple(lying), place, twin, later, hint)
        lying.insert(place, ball)


def _stays(clearings: Clearings, row: int) -> Iterator[Stay]:
    """What stays after a row: the turns that the next one does not take out."""
    following = row + 1
    table = clearings.after[row].table
    for pair in clearings.hanging[row]:
        if following not in pair.rows:
            continue
        now = _full_turns(pair.after(row))
        then = _full_turns(pair.before_moves(following))
        # With nothing, or the other way round, the next row has taken out what is there.
        if now * then <= 0:
            continue
        # Named as they lie, so that the knitter finds them from one side to the other.
        first, second = sorted(pair.balls, key=table.index)
        # What the next row adds or takes out is not there both before it and after it.
        turns = min(now, then, key=abs)
        until, cleared = _until(clearings, pair, row)
        yield Stay(first, second, turns, until, cleared)


def _full_turns(half_turns: int) -> int:
    """The full turns of a pair; a half turn more is none, its yarns only lie across."""
    # Towards 0, whatever the sign.
    return int(half_turns / 2)


def _until(clearings: Clearings, pair: Pair, row: int) -> tuple[int | None, bool]:
    """The row in which the turns of a pair go by themselves, or after which some are cleared."""
    later = row + 1
    while later in pair.rows:
        for move in clearings.moves.get(later, []):
            turns_work = not move.ball
            passed = {move.ball, move.other}
            if turns_work or passed == set(pair.balls):
                return later, True
        if not _full_turns(pair.after(later)):
            return later, False
        later += 1
    return None, False


def clearings_in_words(advice: Sequence[BallAdvice]) -> str:
    """How often balls are cleared in the piece, and after which rows; "" if they never are."""
    cleared = [each for each in advice if each.moves]
    if not cleared:
        return ""
    what = "The work is turned round"
    hand_moves = 0
    for each in cleared:
        for move in each.moves:
            hand_moves += abs(move.turns)
            if move.ball:
                what = "Balls are cleared"
    times = TIMES.get(len(cleared), f"{len(cleared)} times")
    in_all = f"{counted(hand_moves, 'hand move')} in all"
    return f"{what} {times}, {_after_rows(cleared)}: {in_all}."


def _after_rows(cleared: Sequence[BallAdvice]) -> str:
    """After which rows balls are cleared: each named, or about how far apart they are."""
    words = cleared[0].words
    rows = [each.row for each in cleared]
    names = [words.row(row - 1) for row in rows]
    if len(rows) <= MOST_NAMED:
        return f"after {listed(names)}"
    apart = [later - row for row, later in pairwise(rows)]
    # A single long gap says nothing of the others.
    usual = int(median(apart))
    word = words.how.row_word
    every = word if usual == 1 else counted(usual, word)
    return f"first after {names[0]} and then about every {every}"
