"""The handout: a lesson as a document, for whoever knows how to knit and nothing of intarsia."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from planner.cards import Card, words_of_cards
from planner.charts import LINE, MIDDLE_START, SLANT, VERTICAL
from planner.edition.blocks import Block, Document, Items, Section, Steps, Table, Words
from planner.edition.lesson import Lesson, Tried
from planner.edition.pattern import CARE, chart_section, finishing_of, how_to_hold
from planner.edition.practice import IN_WORDS, PATCH, rows_drawn
from planner.edition.size import size_in_words
from planner.edition.sums import lengths_blocks
from planner.edition.words import abbreviations_in
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE
from planner.plan import Plan
from planner.twists import advise, said_before_cards
from planner.units import counted, show_measured, show_short, show_total

# What is seen when it goes right or wrong (common practice, no source).
LOOK_FOR = {
    VERTICAL: (
        "Cross the yarns in every row, on the right side and on the wrong side. A hole between two "
        "colours means that one row was not crossed.",
        "The last stitch of one colour and the first of the next tend to be large. Draw the new "
        "yarn snug before its second stitch, not its first.",
    ),
    SLANT: (
        "The border moves one stitch in each row, so one colour takes over a stitch of the other. "
        "Cross there as before.",
        "Where a card says that a yarn hangs 1 stitch to the right or to the left, lead it behind "
        "that stitch on the wrong side, so loosely that it lies flat, and then cross.",
        "Look at the steps: all alike. A long stitch says that the yarn came across too loosely, a "
        "pucker that it was drawn tight.",
    ),
    MIDDLE_START: (
        "Do not start at the end of the yarn: fold the strand at the place that the card says, and "
        "begin with the fold. So the point of the V has no tail.",
        "From the point each end goes its own way. Check that both branches are drawn alike.",
        "The ground inside the V can be reached from neither side: it is a strand of its own.",
    ),
    LINE: (
        "The ground does not stop at the line: it goes on behind the one stitch.",
        "Spread the stitches on the right needle before you go on, so that the yarn behind lies "
        "flat. A line that sinks in says it is too short, a loop on the wrong side too long.",
    ),
    PATCH: (
        "Left and right of the patch the ground is two strands: look for both before the row.",
        "The corners gape until the tails are sewn in; the sides should not.",
        "Look at the patch: if it bulges, its yarn is looser than the ground's.",
    ),
}
HOW_IT_FEELS = {
    LOOSE: "quick to make and to free, and gets in its own way when it is long",
    BUTTERFLY: "light, feeds from its middle, and cannot be wound up again",
    BOBBIN: "holds most, is wound up again after a row, and pulls at a few stitches",
    BALL: "nothing to wind; every strand needs a ball, and balls turn round each other",
}
# What whoever knows no knitting words has to be told; those of the cards are told with them.
WORDS = (
    "Row: all stitches of one needle. After each row turn the work. RS rows are knitted, WS rows "
    "purled.",
    "Knit: yarn behind the work; needle into the stitch from front to back; wrap; draw through. "
    "Purl: yarn in front; needle into the stitch from back to front, from the right; wrap; draw "
    "through.",
    "Cast on: make the first stitches. Long-tail cast-on: leave a tail as long as the card says, "
    "make a loop there; each stitch takes yarn from both ends, and the tail is used up. Any other "
    "cast-on that you know will do; one that works with a single end needs no long tail.",
    "Bind off: knit two stitches, lift the first over the second; knit one more, lift again; at "
    "the end cut, and draw the tail through the last loop. From the wrong side do it in purl.",
)


def handout_of(lesson: Lesson) -> Document:
    """The lesson as a document: what to have, to know, to wind, to look for, and the cards."""
    plan = lesson.plan
    cards = _cards(plan)
    said = [words for title, notes in cards for words in (title, *notes)]
    words = words_of_cards(said)
    explained = tuple(f"{word}: {meaning}" for word, meaning in words.items())
    sections = [
        Section("What you make", (Items(tuple(_facts(lesson))),)),
        Section("With care", (Items(CARE),)),
        Section("Words", (Items((*WORDS, *explained)),)),
        chart_section(plan, lesson.materials),
        Section("Lengths", lengths_blocks(plan, lesson.lengths, lesson.materials), True),
        Section("Four ways of holding yarn", tuple(_ways(lesson))),
        Section("What to look for", tuple(_techniques(lesson))),
        Section("A card for each row", (_how_to_read(), Steps(cards, boxes=True)), True),
        Section("Off the needles", tuple(finishing_of(plan))),
        Section("For the teacher", tuple(_for_teacher(lesson)), True),
    ]
    about = "A handout for a class in intarsia."
    short = abbreviations_in(Document("", about, tuple(sections)).texts())
    in_words = "; ".join(f"{each}: {meaning}" for each, meaning in short.items())
    sections.insert(3, Section("Abbreviations", (Words(f"{in_words}."),)))
    return Document(plan.project.name, about, tuple(sections))


def _facts(lesson: Lesson) -> Iterator[str]:
    plan = lesson.plan
    project, chart = plan.project, plan.traced.chart
    # In the order in which they are met from the cast-on.
    kinds = ", ".join(IN_WORDS[technique] for technique in lesson.techniques)
    yield f"A sample of {counted(chart.columns, 'stitch')} × {counted(chart.rows, 'row')}: {kinds}"
    yield f"Size: about {size_in_words(plan)}"
    yield f"Gauge: {project.gauge.in_words(project.units)}, in stockinette"
    needle = project.needle.strip() or "the size on the band of the yarn to begin with"
    yield f"Needle: {needle}; it is right when the gauge comes out"
    yarns = [f"{each.letter} {each.name.lower()}" for each in lesson.materials]
    yield f"Yarns of one thickness, {', '.join(yarns)}; any colours that are told apart at a glance"
    yield _tools(plan)
    yield f"Written for a {project.how.hand}-handed knitter"


def _tools(plan: Plan) -> str:
    """What to have beside yarn and needle: bobbins where the plan winds any, else only to try."""
    tools = "blunt sewing needle, scissors, a tape measure"
    # What is filled again goes on the same bobbin.
    bobbins = sum(held.supply == BOBBIN for held in plan.held)
    if bobbins:
        return f"{counted(bobbins, 'bobbin')}, a {tools}"
    return f"A {tools}; bobbins only for whoever tries that way of holding yarn"


# ---- ways of holding yarn


def _ways(lesson: Lesson) -> Iterator[Block]:
    yield Words(
        "Work the sample as the cards say, or once in each of these ways. The lengths stay the "
        "same; what differs is how they hang. A strand that is begun from its middle counts twice "
        "as one to wind, for its halves hang apart."
    )
    lines = tuple(_way_line(lesson.plan, way) for way in lesson.ways)
    heads = ("Way", "to wind", "longest", "joins", "what it is like", "bad for")
    yield Table(heads, lines, right=(1, 2, 3), wide=(3, 2, 2, 1, 6, 8))
    yield how_to_hold(way.supply for way in lesson.ways)


def _way_line(plan: Plan, way: Tried) -> tuple[str, ...]:
    # A reason that holds for ten lengths is said once.
    reasons: dict[str, list[str]] = {}
    for title, reason in way.bad:
        reasons.setdefault(reason, []).append(title)
    bad = [f"{', '.join(titles)}: {reason}" for reason, titles in reasons.items()]
    return (
        way.supply,
        "none" if way.supply == BALL else str(way.to_wind),
        show_total(way.longest_cm, plan.project.units),
        str(way.joins),
        HOW_IT_FEELS[way.supply],
        "; ".join(bad) or "nothing here",
    )


# ---- what to look for


def _techniques(lesson: Lesson) -> Iterator[Block]:
    for technique, (first, last) in rows_drawn(lesson.techniques).items():
        name = IN_WORDS[technique]
        yield Words(f"{name[0].upper()}{name[1:]}, rows {first} to {last}", is_sum=True)
        yield Items(LOOK_FOR[technique])


# ---- cards


def _how_to_read() -> Words:
    return Words(
        "Do what a card says from top to bottom. A line such as “12 Pale A1” is 12 stitches in "
        "yarn Pale with the strand A1; what is to be done at these stitches stands behind it. The "
        "lengths on the cards are ours: take yours from the list instead. What is “begun … from "
        "one end” is begun as far from that end as your first half, a, is long. The way a row "
        "goes, right to left or left to right, is told as the right side shows it; on the needles "
        "you work as always. All else that is left or right is so as you hold the work. Tick the "
        "card when its row is worked."
    )


def _cards(plan: Plan) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Each card as its title and what stands under it, that of casting on first."""
    cast_on, rows, bind_off = plan.all_cards
    balls = advise(plan)
    said_before = iter(said_before_cards(balls, casts_on=cast_on is not None))
    cards = []
    if cast_on is not None:
        cards.append(_card(cast_on, next(said_before)))
    for card, advice in zip(rows, balls, strict=True):
        cards.append(_card(card, next(said_before), advice.after))
    if bind_off is not None:
        cards.append(_card(bind_off))
    return tuple(cards)


def _card(
    card: Card, before: Sequence[str] = (), after: Sequence[str] = ()
) -> tuple[str, tuple[str, ...]]:
    """A card's title, and under it what lies ready, what is said, and its runs.

    `before` and `after` is what is said of balls beside it.
    """
    works = f", {card.how_worked}" if card.how_worked else ""
    notes = [f"Ready: {need}." for need in card.ready]
    notes += before
    notes += [f"{said[0].upper()}{said[1:]}" for said in card.said]
    notes += [" ".join(str(line).split()) for line in card.lines]
    notes += after
    if card.ahead:
        notes.append(card.ahead)
    return f"{card.title}{works}: {card.in_all}", tuple(notes)


# ---- for the teacher


def _for_teacher(lesson: Lesson) -> Iterator[Block]:
    units = lesson.plan.project.units
    students = counted(lesson.students, "student")
    lines = []
    for each in lesson.materials:
        low, high = (show_total(cm, units) for cm in (each.low_cm, each.high_cm))
        balls = each.balls(lesson.students)
        lines.append(
            (
                f"{each.letter} {each.name}",
                show_total(each.likely_cm, units),
                f"between {low} and {high}",
                show_total(each.buy_cm * lesson.students, units),
                "________" if balls is None else str(balls),
            )
        )
    heads = ("Yarn", "a student, about", "nine hands in ten", f"for {students}", "balls")
    yield Table(heads, tuple(lines), right=(1, 3, 4), wide=(2, 2, 3, 2, 1))
    yield Items(tuple(_advice(lesson)))


def _advice(lesson: Lesson) -> Iterable[str]:
    project = lesson.plan.project
    units = project.units
    # The teacher buys for all, so she must see what is counted in.
    swatch = show_measured(project.allow.swatch_cm, units)
    first = lesson.materials[0]
    metres = show_total(100 * first.metres_per_ball, units) if first.metres_per_ball else "yarn"
    tail = show_short(project.allow.tail_cm, units)
    return (
        f"Counted for the hand that uses most, with a swatch of {swatch} in yarn {first.letter}, "
        f"something to spare, and balls of {metres} that may be a tenth short. What is fed from "
        "the ball needs a small ball of its own for each student.",
        f"Have each student find her own figure first: it decides all lengths. Tails are {tail}.",
        "How long it takes is left out: hands differ too much.",
        "Worked from the bottom up, each technique asks for a little more than the one before it. "
        "Who stops after any of them has learned a whole thing.",
    )
