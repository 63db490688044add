"""The runs of one written row: what stands after its title, parsed into parts.

    row     = one yarn | { run | bracket | star | to the end | yarn in hand } [ total ]
    run     = [ k ] count [ sts ] [ in ] yarn  |  yarn [ x | : | k ] count
    bracket = ( row ) how often  |  count × ( row )
    star    = * row ; repeat from * how often
    how often    = 4 times | twice | × 4 | once more | to end | to last 5 sts
    to the end   = [ k ] to end [ in ] yarn  |  yarn to last 5 sts  |  all yarn
    yarn in hand = with yarn
    total   = ( 33 sts )

A method reads what it is called, from where the cursor stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.charts.written_phrases import TO_END, Name, Often, Phrases
from planner.charts.written_words import (
    ACROSS,
    ALL,
    AND,
    BEGIN_YARN,
    CRAFT,
    DOUBTFUL_YARNS,
    IN,
    IN_ALL,
    KNIT,
    LIKE,
    MOST_QUOTED,
    REPEAT,
    STITCH,
    TIME,
    words_of,
)
from planner.errors import PlanError

DEEPEST = 12  # brackets in brackets
STARS = words_of("from between star stars asterisk asterisks")
# Words round the yarn of a row that is worked in it alone: "knit all sts in A".
ONE_YARN = KNIT | IN | ALL | ACROSS | STITCH | BEGIN_YARN | AND
ONE_YARN |= words_of("the even row rows stockinette stocking stst")


@dataclass(frozen=True)
class Run:
    """So many stitches of one yarn; None for places without a stitch."""

    count: int
    yarn: Name | None


@dataclass(frozen=True)
class Times:
    """A part worked so many times.

    `more`: it is not clear whether these come on top of the first time.
    """

    part: tuple[Node, ...]
    times: int
    more: bool = False


@dataclass(frozen=True)
class Fill:
    """A part worked until so many stitches of the row are left; None: as many as follow it."""

    part: tuple[Node, ...]
    leave: int | None


Node = Run | Times | Fill


@dataclass(frozen=True)
class Runs:
    """The parts of a row in working order.

    `total`: the stitches that it says it has. `textured`: it both knits and purls.
    """

    parts: tuple[Node, ...]
    total: int | None
    textured: bool


def runs_of(pieces: Sequence[tuple[int, str]]) -> Runs:
    """The runs of a row; `pieces` are the stretches of its text with the number of their line."""
    return _Row(pieces).runs()


@dataclass
class _Star:
    """A star that waits for its repeat: where its part begins, and ends if a star closed it."""

    start: int
    end: int | None = None


class _Row(Phrases):
    """The parser of a row.

    `hand` is the yarn that was taken up by "with A" and has no stitches yet; `due` that it must get
    some. `last` is the yarn of the run before, `depth` counts open brackets, `verbs` are the k and
    p that the row has, `stated` is the total that it says.
    """

    def __init__(self, pieces: Sequence[tuple[int, str]]):
        super().__init__(pieces)
        self.depth = 0
        self.hand: Name | None = None
        self.due = False
        self.last: Name | None = None
        self.verbs: set[str] = set()
        self.stated: int | None = None

    def runs(self) -> Runs:
        self.stated = self._total()
        parts = self._in_one_yarn() or self._row()
        if self.peek():
            raise PlanError(f"Line {self.line}: a bracket closes that was never opened. {LIKE}")
        if not parts:
            raise PlanError(f"Line {self.line} begins a row, but has no stitches. {LIKE}")
        self._check_hand(None)
        return Runs(tuple(parts), self.stated, len(self.verbs) > 1)

    # The row

    def _total(self) -> int | None:
        """The total at the end, taken off: "(33 sts)", "– 33 sts.", ". 33 sts in all"."""
        rest = list(self.all)
        while rest and rest[-1].text == ".":
            rest.pop()
        closed = bool(rest) and rest[-1].kind == "close"
        if closed:
            rest.pop()
        while rest and rest[-1].word in IN_ALL | {"in", "all"}:
            rest.pop()
        if len(rest) < 3 or rest[-1].word not in STITCH or rest[-2].kind != "number":
            return None
        before = rest[-3]
        opened = before.kind == "open" and closed
        parted = before.kind == "mark" and before.text in "–—-=.:" and not closed
        if not (opened or parted or before.word in IN_ALL):
            return None
        self.at = len(rest) - 2
        total = self.number()
        self.all, self.at = rest[:-3], 0
        return total

    def _in_one_yarn(self) -> list[Node] | None:
        """A row in one yarn that gives no number: "knit in A", "all A", "with A, knit", "A"."""
        start = self.at
        led = self.skip(ONE_YARN)
        name = self.name(counted=True)
        end = self.at
        if name is not None:
            self._after_one_yarn()
        has_number = any(token.kind == "number" for token in self.all)
        if name is None or self.peek() or (has_number and not led):
            self.at = start
            return None
        # A name alone may have lost its count, or be a row written letter by letter.
        name = replace(name, sure=led or self.at > end)
        return [Fill((Run(1, name),), None)]

    def _after_one_yarn(self) -> None:
        while self.is_mark(",.;:") or self.word() in ONE_YARN:
            self.at += 1
        if self.word() == "to":
            self.to_end()
        self.skip_marks(".")

    def _row(self) -> list[Node]:
        """Runs, brackets and repeats, to the end or to a bracket that closes."""
        nodes: list[Node] = []
        star: _Star | None = None
        while token := self.peek():
            if token.kind == "close":
                break
            if self.gap():
                continue
            if token.kind == "stars":
                star = self._star(nodes, star)
            elif token.word in REPEAT and self.kind(1) != "open":
                self._repeat(nodes, star)
                star = None
            else:
                nodes += self._item()
        if star is not None:
            raise PlanError(
                f"Line {self.line}: a * begins a part to repeat, but nothing says how often. "
                'Write it like "*3 A, 2 B; repeat from * to end".'
            )
        return nodes

    def _star(self, nodes: list[Node], star: _Star | None) -> _Star | None:
        """Open a part to repeat, or close it; a closed one may say how often at once."""
        self.take()
        if star is None:
            return _Star(len(nodes))
        star.end = len(nodes)
        often = self.often(bracket=True)
        if often is None:
            return star
        self._repeated(nodes, star, often)
        return None

    def _repeat(self, nodes: list[Node], star: _Star | None) -> None:
        """ "repeat from * 3 more times", "rep to end"."""
        line = self.line
        self.skip(REPEAT)
        # "from * to *", "between * and *", "from star".
        while self.kind() == "stars" or self.word() in STARS or self._is_to_star():
            self.at += 1
        if star is None:
            raise PlanError(
                f'Line {line}: "repeat from *", but there is no * before it. Put a * where the '
                "part to repeat begins."
            )
        # "rep from *" alone goes on to the end.
        often = self.often(bracket=False) or Often(to_end=True)
        self._repeated(nodes, star, often)

    def _is_to_star(self) -> bool:
        return self.word() in ("to", "and") and self.kind(1) == "stars"

    def _repeated(self, nodes: list[Node], star: _Star, often: Often) -> None:
        end = len(nodes) if star.end is None else star.end
        part = tuple(nodes[star.start : end])
        after = nodes[end:]
        nodes[star.start :] = [self._worked(part, often), *after]

    def _worked(self, part: tuple[Node, ...], often: Often) -> Node:
        if not often.to_end:
            return Times(part, often.times, more=often.more)
        if self.depth:
            raise PlanError(
                f"Line {self.line}: a part within brackets goes on to the end. Write how often it "
                "is worked."
            )
        return Fill(part, often.leave)

    # Runs

    def _item(self) -> list[Node]:
        token = self.peek()
        assert token is not None
        if token.word in CRAFT:
            raise self.no_plain_row()
        if token.word in REPEAT:  # "rep (3 A, 2 B) 4 times"
            self.at += 1
        if self.kind() == "open":
            return self._bracket()
        if self.is_number():
            return self._count_first()
        if token.word in KNIT:
            return self._verb()
        if token.word in ALL or (token.word in TO_END and self.hand):
            return self._to_the_end()
        if token.word in IN or token.word in BEGIN_YARN:
            self._take_up()
            return []
        if token.kind in ("word", "quoted"):
            return self._name_first()
        raise self.wrong("cannot be read")

    def _verb(self) -> list[Node]:
        """ "k10 A", "knit to end in A", "k: 3 A, 2 B", "work (3 A, 2 B) twice"."""
        start = self.at
        self._take_verb()
        while self.is_mark(":") or self.word() == "even":
            self.at += 1
        if self.is_number():
            return self._count_first(start)
        if self.kind() in ("open", "stars"):
            return []
        if self.word() in IN:
            self._take_up()
            return []
        if self.word() in ALL or self.word() in TO_END:
            return self._to_the_end()
        name = self.name(counted=False)
        if name is None:
            self.at = start
            raise self.wrong("has no count")
        return self._after_name(name, start)

    def _take_verb(self) -> None:
        first = self.take().word[0]
        if first in "kp":
            self.verbs.add(first)

    def _count_first(self, start: int | None = None) -> list[Node]:
        """A number, and what it counts; `start` where its verb stands."""
        verb = start is not None
        start = self.at if start is None else start
        count = self.number()
        starred = self.kind() == "stars" and self.kind(1) == "open"  # "4*(3 A, 2 B)"
        timed = self.word() in TIME and not self._is_yarn_x()
        self.at += self.kind() == "times" or starred or timed
        if self.kind() == "open":
            return self._counted_bracket(count)
        if self.no_stitch():
            return [Run(count, None)]
        self.skip(words_of("more"))
        after = self.peek(1)
        if self.is_mark("-–") and after and after.glued:
            self.at += 1
        return [Run(count, self._yarn_of_count(start, verb=verb))]

    def _is_yarn_x(self) -> bool:
        """Whether an x after a count is the yarn itself, for nothing that it counts follows."""
        return self.word() == "x" and self.kind(1) not in ("word", "quoted", "open")

    def _yarn_of_count(self, start: int, *, verb: bool) -> Name:
        """The yarn of a count that was read: named after it, or in hand."""
        stitches = self.peek() if self.word() in STITCH else None
        self.skip(STITCH)
        self.skip(IN)
        name = self.name(counted=True)
        token = self.peek()
        # "3 P" may be a yarn, but "k3 P" and "3 sts P" are not written so.
        bare = name is None and not verb and not stitches and self.is_over(1)
        if bare and token and token.word in DOUBTFUL_YARNS:
            self.at += 1
            name = Name(token.text, token.line, sure=token.word == "x")
        if name is not None:
            self._work_with(name)
            self.remark()
            return name
        if token and token.word in CRAFT:
            self.at = start
            raise self.no_plain_row()
        if self.hand is None:
            self.at = start
            like = 'Write whose stitches they are, like "20 A".'
            taken = stitches or token
            if taken and taken.word:
                like += f' If "{taken.text[:MOST_QUOTED]}" is a yarn, put it in quotation marks.'
            raise self.wrong("has no yarn", like)
        name = self.hand
        self._work_with(name)
        return name

    def _name_first(self) -> list[Node]:
        start = self.at
        name = self.name(counted=False)
        if name is None:
            raise self.wrong("cannot be read")
        return self._after_name(name, start)

    def _after_name(self, name: Name, start: int) -> list[Node]:
        """What follows a yarn that is named before its stitches."""
        if self.word() in TO_END:
            return self._fill(name)
        bracketed = self.kind() == "open" and self.kind(1) == "number"
        if bracketed or self.is_mark(":=-–") or self.kind() == "times" or self.word() == "x":
            self.at += 1
        if self.word() in KNIT:
            self._take_verb()
        if self.skip(ALL | words_of("for")):
            self.skip(ALL | STITCH | words_of("the of row"))
            return self._fill(name)
        if not self.is_number():
            self.at = start
            raise self.wrong("has no count")
        count = self.number()
        self.skip(STITCH)
        if bracketed and self.kind() == "close":
            self.at += 1
        self._work_with(name)
        # M1 is "make one" unless a yarn is called M elsewhere.
        if count == 1 and name.text.upper() == "M":
            name = replace(name, sure=False)
        return [Run(count, name)]

    # Yarn in hand

    def _take_up(self) -> None:
        """ "with A": the yarn of the stitches that come next. Several at once say nothing."""
        start = self.take()
        if start.word in BEGIN_YARN:
            if self.word(1) in ("new", "ball"):
                self.skip(words_of("a"))
            self.skip(words_of("in to new ball the of"))
        name = self.name(counted=True)
        if name is None:
            self.at -= 1
            raise self.wrong("names no yarn")
        self._check_hand(name)
        self.hand, self.due = name, start.word in IN
        back = self.at
        if self.skip(words_of("and")) and self.word() not in KNIT and self.name(counted=True):
            self.hand = None
        elif self.hand:
            self.at = back
        self.skip_marks(":")

    def _work_with(self, name: Name) -> None:
        self._check_hand(name)
        self.hand = None
        self.last = name

    def _check_hand(self, name: Name | None) -> None:
        """Refuse a yarn that was taken up and gets no stitches before the next one."""
        hand = self.hand
        if hand is None or not self.due or (name and name.text == hand.text):
            return
        raise PlanError(
            f"Line {hand.line} takes up {hand.text}, but works no stitch with it. Write how many, "
            f'like "with {hand.text[:MOST_QUOTED]} k10".'
        )

    # To the end

    def _to_the_end(self) -> list[Node]:
        """ "to end in A", "rem sts in A", "all A", "rest of row with A"."""
        start = self.at
        often = self.to_end()
        if often is None:
            self.skip(ALL | STITCH | ACROSS | words_of("the of row round and"))
            if self.is_number():  # "remaining 5 sts A"
                count = self.number()
                return [Run(count, self._yarn_of_count(start, verb=False))]
            often = Often(to_end=True)
        self.skip(STITCH)
        bracketed = self.kind() == "open"  # "to end (in A)"
        self.at += bracketed
        self.skip(IN)
        name = self.name(counted=True) or self.hand
        if bracketed and self.kind() == "close":
            self.at += 1
        if name is None:
            before = self.last.text if self.last else ""
            name = Name(before, self.line, unnamed=True)
        return self._fill(name, often)

    def _fill(self, name: Name, often: Often | None = None) -> list[Node]:
        """The stitches to the end of the row, in a yarn that was named."""
        again = self.to_end()
        self.skip(ACROSS)
        self._work_with(name)
        return [self._worked((Run(1, name),), often or again or Often(to_end=True))]

    # Brackets

    def _bracket(self) -> list[Node]:
        start = self.at
        if self.kind(1) == "number" and self.kind(2) == "close" and self.peek(3) is None:
            self.at += 1
            self.stated = self.number()  # "(33)" at the end
            self.at += 1
            return []
        name = self._yarn_in_brackets()
        if name:  # "(A) 10"
            return self._after_name(name, start)
        part = self._within()
        often = self.often(bracket=True) or self.often_after_repeat()
        if often is None and len(part) == 1 and isinstance(part[0], Run):
            return list(part)  # "(5 A)"
        if often is None:
            self.at = start
            raise self.wrong(
                "is in brackets, but its number of times is missing",
                'Write it like "(3 A, 2 B) 4 times".',
            )
        return [self._worked(part, often)]

    def _counted_bracket(self, count: int) -> list[Node]:
        """ "4 × (3 A, 2 B)", or "10 (A)"."""
        name = self._yarn_in_brackets()
        if name:
            self._work_with(name)
            return [Run(count, name)]
        return [Times(self._within(), count)]

    def _yarn_in_brackets(self) -> Name | None:
        start = self.at
        self.at += 1
        self.skip(IN)
        name = self.name(counted=True)
        if name and self.kind() == "close":
            self.at += 1
            return name
        self.at = start
        return None

    def _within(self) -> tuple[Node, ...]:
        """What brackets hold."""
        opening = self.take()
        self.depth += 1
        if self.depth > DEEPEST:
            raise PlanError(
                f"Line {opening.line} has more than {DEEPEST} brackets in each other. Write it "
                "with fewer, part by part."
            )
        part = tuple(self._row())
        self.depth -= 1
        if self.kind() != "close":
            raise PlanError(
                f"Line {opening.line}: a bracket is opened but never closed, "
                f"or its number of times is missing. {LIKE}"
            )
        self.at += 1
        return part
