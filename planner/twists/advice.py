"""Advice on balls: what to do about their yarns, row by row, for the piece and not for the moment.

In the knitter's sum two yarns hold as many full turns as they met in RS rows less as they met in WS
rows; the half turn of the work itself is left out. What grows matters, not whether all is clear at
one moment. So the advice is, in this order: to leave what goes by itself or stays at few turns; to
lay a new ball where its yarn is free of the others; to clear the few turns that would become too
many (`clearing`), before they do. What the log says was cleared is taken as it was done.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple, Protocol

from planner.piece import ALTERNATE, FIRST_EDGE, HAIRY, SAME_WAY, Project, rows_worked
from planner.strands import Strands
from planner.supplies import Held
from planner.twists.balls import Balls, HasBalls, Move
from planner.twists.braid import Braid
from planner.twists.clearing import Clearings
from planner.twists.fewest import Pair, sums_of
from planner.twists.words import TIMES, Words, clearings_in, listed
from planner.units import counted

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


class Laid(NamedTuple):
    """A new ball: at which place of the table, among those that lie there then.

    `later` where it is kept in the lap until the work is turned; if it is cut before, it has no
    place. `hint` is what would be better.
    """

    ball: str
    table: tuple[str, ...]
    at: int | None
    twin: str
    later: bool
    hint: str


class Stay(NamedTuple):
    """Full turns that stay between two balls; more than 0 as a RS row makes them.

    `until` is the row, from 0, in which they go by themselves, or after which some are cleared if
    `cleared`; None if they stay.
    """

    first: str
    second: str
    turns: int
    until: int | None
    cleared: bool


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
        lines = [self.balls] if self.table and (self.news or self.laid) else []
        lines += self._lay(later=False)
        lap = [laid.ball for laid in self.laid if laid.later]
        if lap:
            lines.append(self.words.lap(lap))
        return tuple(lines)

    @property
    def after(self) -> tuple[str, ...]:
        """What is said after the row: moves, what stays, if that is new, the turn, new balls."""
        passes = [self.words.move(move) for move in self.moves if move.ball]
        rounds = [self.words.move(move) for move in self.moves if not move.ball]
        stays = self.state if self.stays_news else ()
        drop = [DROP] if self.drop else []
        turn = [self.words.turn(self.turned)] if self.turned else []
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
        lines = []
        for stay in self.stays:
            line = self.words.stays(stay.first, stay.second, stay.turns)
            verb = "it goes" if abs(stay.turns) == 1 else "they go"
            if stay.until is None:
                lines.append(f"{line}.")
            elif stay.cleared:
                lines.append(f"{line} until {self.words.row(stay.until)} is worked.")
            else:
                lines.append(f"{line}; {verb} in {self.words.row(stay.until)}.")
        return tuple(lines)

    @property
    def log(self) -> str:
        """What the log says of the moves, once they are made."""
        return self.words.log(self.moves)

    def _lay(self, *, later: bool) -> list[str]:
        """The sentences on new balls that are laid now, or later."""
        lines = []
        for laid in self.laid:
            if laid.later == later and laid.at is not None:
                lines.append(self.words.lay(laid.ball, laid.table, laid.at, laid.twin))
            if laid.hint and laid.later == later:
                lines.append(laid.hint)
        return lines

    def __str__(self) -> str:
        return " ".join([*self.before, *self.after])


def advise(plan: HasPiece) -> tuple[BallAdvice, ...]:
    """What to do about the balls in each worked row, as it follows from what the log says."""
    project, strands = plan.project, plan.traced
    habits, how = project.habits, strands.how
    first_turn = 1 if habits.first_turn == FIRST_EDGE else -1
    same_way = habits.turning == SAME_WAY and how.is_turned
    cleared = clearings_in(project.progress, how)
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
    clearings = Clearings(
        balls.steps,
        sums_of(braids, _turns_allowed(project, plan.held)),
        start=start,
        good=good_rows(strands, habits.comfortable),
        fronts=[balls.front(row) for row in range(len(braids))],
        twins=balls.twins,
    )
    turns = _turns_of_rows(strands, first_turn, same_way=same_way)
    hints = _hints(balls) if habits.turning == ALTERNATE and how.is_turned else {}
    return tuple(_advice_by_row(clearings, balls, turns, hints))


def _turns_allowed(project: Project, held: Sequence[Held]) -> dict[str, int]:
    """The full turns that each yarn may hold with another."""
    most = project.habits.twists_allowed
    yarns = project.all_yarns
    allowed = {}
    for each in held:
        is_hairy = yarns[each.part.yarn].surface == HAIRY
        allowed[each.part.title] = min(most, MOST_OF_HAIRY) if is_hairy else most
    return allowed


def _turns_of_rows(strands: Strands, first_turn: int, *, same_way: bool) -> list[int]:
    """The half turn of the work after each row: 1, −1, or 0 where it is not turned."""
    rows = strands.runs.rows
    if not strands.how.is_turned:
        return [0] * rows
    turns = [first_turn if same_way or row % 2 == 0 else -first_turn for row in range(rows)]
    # After the last row there is no other to turn the work for.
    turns[-1] = 0
    return turns


def good_rows(strands: Strands, comfortable: int) -> list[int]:
    """How good each row is to stop at, from 0 to 2.

    The knitter stops where something is joined or cut; and well at the end of a WS row, or of a
    round, when few lengths hang and nothing begins in the next.
    """
    runs, how = strands.runs, strands.how
    begins = set(runs.row[strands.first_run].tolist())
    ends = set(runs.row[strands.last_run].tolist())
    good = []
    for row, live in enumerate(strands.live.tolist()):
        is_at_rest = not how.is_turned or not how.is_right_side(row)
        is_quiet = live <= comfortable and row + 1 not in begins
        stops_anyway = row in begins or row in ends
        good.append(int(is_at_rest and is_quiet) + int(stops_anyway))
    return good


def _hints(balls: Balls) -> dict[str, str]:
    """For each ball that will leave a turn between its neighbours, how it would leave none.

    Two yarns that meet in each row but those in which a third lies between them hold no turn after
    it if it lay there for as many RS rows as WS rows.
    """
    met = _meetings(balls)
    rows_of: dict[str, list[int]] = {}
    for row, in_row in enumerate(balls.rows):
        for ball in {balls.ball[run] for run in in_row if run in balls.ball}:
            rows_of.setdefault(ball, []).append(row)
    hints = {}
    for ball, rows in rows_of.items():
        first, last = rows[0], rows[-1]
        apart = range(first, last + 1)
        is_odd = first < last and len(apart) % 2 == 1
        if not is_odd or rows != list(apart) or first == 0 or last + 1 == len(met):
            continue
        beside = [pair for pair in met[first] if ball in pair]
        others = {name for pair in beside for name in pair} - {ball}
        if len(beside) != 2 or len(others) != 2:
            continue
        pair = tuple(sorted(others))
        between = [row for row in apart if met[row].count(pair)]
        if met[first - 1].count(pair) == met[last + 1].count(pair) == 1 and not between:
            hints[ball] = f"Begun a {balls.how.row_word} later, {ball} would leave no turn behind."
    return hints


def _meetings(balls: Balls) -> list[list[tuple[str, ...]]]:
    """The pairs of balls that meet at a border, row by row."""
    met = []
    for in_row in balls.rows:
        in_order = [balls.ball.get(run) for run in in_row]
        pairs = [tuple(sorted((a, b))) for a, b in pairwise(in_order) if a and b]
        met.append(pairs)
    return met


def _advice_by_row(
    clearings: Clearings, balls: Balls, turns: Sequence[int], hints: dict[str, str]
) -> Iterator[BallAdvice]:
    """The advice for each row, in order."""
    words = Words(balls.how)
    live: list[int] = balls.walk.strands.live.tolist()
    same_way = len({turn for turn in turns if turn}) == 1
    before = Braid()
    told_table: tuple[str, ...] = ()
    told_stays: tuple[Stay, ...] = ()
    for row, braid in enumerate(clearings.after):
        table = tuple(before.table)
        stays = tuple(_stays(clearings, row))
        backwards = balls.is_turned_in(row)
        hang = live[row] > len(braid.order)
        yield BallAdvice(
            row=row + 1,
            words=words,
            table=table,
            news=table != told_table,
            laid=tuple(_laid(balls, row, [before.table, braid.table], hints)),
            lies=tuple(braid.table),
            needle=tuple(reversed(braid.order) if backwards else braid.order),
            stays=stays,
            stays_news=stays != told_stays,
            moves=tuple(clearings.moves.get(row, [])),
            turned=turns[row],
            clear=braid.is_clear(),
            drop=same_way and hang and (row + 1) % DROP_EVERY == 0 and bool(turns[row]),
        )
        before, told_table, told_stays = braid, table, stays


def _laid(
    balls: Balls, row: int, tables: Sequence[list[str]], hints: dict[str, str]
) -> Iterator[Laid]:
    """The balls that are laid in a row; `tables` is how the balls lie before it and after it.

    What begins when the work is turned is laid when it is turned back: only then it lies as its
    yarn hangs.
    """
    before, after = tables
    later = balls.is_turned_in(row)
    new = [
        (str(values[0]), int(str(values[1]))) for name, values in balls.steps[row] if name == "lay"
    ]
    names = {ball for ball, _ in new}
    lying = [ball for ball in after if ball not in names] if later else list(before)
    for ball, at in new:
        if later and ball not in after:
            yield Laid(ball, tuple(lying), None, "", later, "")
            continue
        if later:
            at = sum(other in lying for other in after[: after.index(ball)])
        twin = balls.twins.get(ball, "")
        lies_there = twin if twin in lying else ""
        yield Laid(ball, tuple(lying), at, lies_there, later, hints.get(ball, ""))
        lying.insert(at, ball)


def _stays(clearings: Clearings, row: int) -> Iterator[Stay]:
    """What stays after a row: the turns that the next one does not take out."""
    if row + 1 == len(clearings.after):
        return
    places = {ball: place for place, ball in enumerate(clearings.after[row].table)}
    for pair in clearings.hanging[row]:
        if row + 1 not in pair.rows:
            continue
        turns = [_full_turns(pair.after(row)), _full_turns(pair.before_moves(row + 1))]
        if turns[0] * turns[1] <= 0:
            continue
        first, second = sorted(pair.balls, key=places.__getitem__)
        until, cleared = _until(clearings, pair, row)
        yield Stay(first, second, min(turns, key=abs), until, cleared)


def _full_turns(half_turns: int) -> int:
    """The full turns of a pair; a half turn more is none, its yarns only lie across."""
    # Towards 0, whatever the sign.
    return int(half_turns / 2)


def _until(clearings: Clearings, pair: Pair, row: int) -> tuple[int | None, bool]:
    """The row in which the turns of a pair go by themselves, or after which some are cleared."""
    later = row + 1
    while later in pair.rows:
        for move in clearings.moves.get(later, []):
            if not move.ball or {move.ball, move.other} == set(pair.balls):
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
    moves = [move for each in cleared for move in each.moves]
    what = "Balls are cleared" if any(move.ball for move in moves) else "The work is turned round"
    number = sum(abs(move.turns) for move in moves)
    times = TIMES.get(len(cleared), f"{len(cleared)} times")
    rows = [each.words.row(each.row - 1) for each in cleared]
    if len(rows) <= MOST_NAMED:
        return f"{what} {times}, after {listed(rows)}: {counted(number, 'hand move')} in all."
    apart = sorted(two.row - one.row for one, two in pairwise(cleared))
    usual, word = apart[len(apart) // 2], cleared[0].words.how.row_word
    every = word if usual == 1 else counted(usual, word)
    return (
        f"{what} {times}, first after {rows[0]} and then about every {every}: "
        f"{counted(number, 'hand move')} in all."
    )
