"""The pattern: an edition as a document."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from planner.cards import HOW_TO
from planner.edition.amounts import Material
from planner.edition.blocks import (
    Block,
    ChartHere,
    Document,
    Items,
    Key,
    Section,
    Steps,
    Table,
    Words,
)
from planner.edition.edition import Edition, WrittenRow
from planner.edition.size import WORKED, size_in_words
from planner.edition.sums import lengths_blocks
from planner.edition.words import abbreviations_in
from planner.finishing import (
    HOW_TO_TIGHTEN,
    areas_of_ends,
    how_to_block,
    loose_places,
    measures_of,
    to_embroider,
    to_mind,
)
from planner.plan import Plan
from planner.units import counted, figure, show_measured, show_total, stretches

BLANK_NEEDLE = "________"
# How its stitches are worked, by fabric and whether the work is turned.
FABRICS = {
    ("stockinette", True): "knit on RS, purl on WS",
    ("stockinette", False): "knit every round",
    ("garter", True): "knit every row; a ridge is two rows, the second back over the same stitches",
    (
        "garter",
        False,
    ): "a ridge is two rounds over the same stitches: knit the first, purl the second",
}
CHART = "Key to the chart"
CARE = (
    "Take breaks: long rows and heavy work tire hands and wrists; for pain see a professional.",
    "Wind yarn loosely, never tight round a finger.",
    "Keep yarn, cords and bobbins away from small children and pets.",
    "Hot water and steam scald, felt wool and can spoil yarn: for washing and blocking follow the "
    "yarn's label.",
)


def pattern_of(edition: Edition) -> Document:
    """The edition as a document: a pattern for others."""
    plan = edition.plan
    sections = [
        Section("At a glance", (Items(tuple(_facts(plan))),)),
        Section("Materials", materials_blocks(edition.materials, plan)),
        Section("With care", (Items(CARE),)),
        chart_section(plan, edition.materials),
        Section("Lengths", lengths_blocks(plan, edition.lengths, edition.materials), True),
        Section("How the yarn was held, and why", tuple(_holding(edition))),
        Section("Written rows", tuple(_written(edition)), True),
        Section("Finishing", tuple(finishing_of(plan))),
    ]
    about = "A pattern in intarsia: chart and written rows, lengths for every hand."
    # Only what the text uses is explained, so the text must be there first.
    document = Document(edition.title, about, tuple(sections))
    short = abbreviations_in(document.texts())
    in_words = "; ".join(f"{each}: {meaning}" for each, meaning in short.items())
    sections.insert(3, Section("Abbreviations", (Words(f"{in_words}."),)))
    return Document(edition.title, about, tuple(sections))


# ---- at a glance


def _facts(plan: Plan) -> Iterable[str]:
    """What a knitter wants to know before she begins."""
    project, traced = plan.project, plan.traced
    how, word = traced.how, traced.how.row_word
    # Whether she has the patience for it a reader judges by how many hang at once.
    live = [load.live for load in plan.loads]
    fullest = [load.row + 1 for load in plan.loads if load.live == max(live)]
    yield f"Finished size: {size_in_words(plan)}"
    yield (
        f"Chart: {counted(traced.chart.columns, 'stitch')} × "
        f"{counted(traced.chart.rows, 'chart row')}"
    )
    yield f"Gauge: {project.gauge.in_words(project.units)}, in {how.fabric}"
    yield f"Needle: {project.needle.strip() or BLANK_NEEDLE}, or the size that gives the gauge"
    yield (
        f"{WORKED[how.worked].capitalize()} in {how.fabric}; row 1 is a {how.side(0)} {word}; "
        f"written for a {how.hand}-handed knitter"
    )
    if how.selvedge:
        yield (
            f"Beside the chart {counted(how.selvedge, 'selvedge stitch')} at either side, in the "
            "yarn beside them; notes to a row count them in"
        )
    strands = counted(traced.count, "strand")
    yield f"{strands}, single lengths of yarn; {counted(plan.ends_in_all, 'end')} to sew in"
    words = word if len(fullest) == 1 else f"{word}s"
    yield f"Most at once: {max(live)}, in {words} {', '.join(stretches(fullest)[:4])}"


# ---- materials


def materials_blocks(materials: Iterable[Material], plan: Plan) -> tuple[Block, ...]:
    """What to have: yarn with its spread, and tools."""
    lines = tuple(_material_line(each, plan) for each in materials)
    # What nothing is held by need not be bought.
    kinds = sorted({each.supply for held in plan.held for each in held.stages})
    table = Table(
        heads=("Yarn", "name", "weight", "band", "about", "nine hands in ten", "balls"),
        lines=lines,
        right=(4, 6),
        wide=(1, 3, 2, 2, 1, 3, 1),
    )
    return (
        table.without_empty(),
        Words(
            "The amounts are what is knitted, tails included. Balls are counted for the hand that "
            "uses most, with a swatch in each yarn that takes more than one, something to spare, "
            "and bands that promise a tenth too much. Buy all of one colour from one dye lot."
        ),
        Words(f"Needles, a blunt sewing needle, and what you hold yarn by: {', '.join(kinds)}."),
    )


def _material_line(each: Material, plan: Plan) -> tuple[str, ...]:
    units = plan.project.units
    low, high = (show_total(cm, units) for cm in (each.low_cm, each.high_cm))
    balls = each.balls()
    return (
        each.letter,
        each.name or "any",
        each.weight,
        band_in_words(each, units),
        show_total(each.likely_cm, units),
        f"between {low} and {high}",
        BLANK_NEEDLE if balls is None else str(balls),
    )


def band_in_words(each: Material, units: str) -> str:
    """What the band of a yarn says: "100 m in 50 g"; "" where that is not known."""
    if each.metres_per_ball is None:
        return ""
    length = show_total(100 * each.metres_per_ball, units)
    return f"{length} in {figure(each.grams_per_ball)} g" if each.grams_per_ball else length


# ---- chart


def chart_section(plan: Plan, materials: Iterable[Material]) -> Section:
    """The key and the chart."""
    named = {each.letter: each for each in materials}
    yarns = []
    for letter in plan.project.chart.letters:
        yarn = plan.project.all_yarns[letter]
        grey = (
            f"in grey {named[letter].grey} of 100 (0 black, 100 white)" if letter in named else ""
        )
        stitches = counted(plan.project.chart.stitches()[letter], "stitch")
        words = [yarn.name or "yarn", f"on the chart {letter}", stitches, grey]
        yarns.append((letter, ", ".join(filter(None, words)), yarn.colour))
    # Printed in grey, or seen by another eye, two yarns of a chart may look the same.
    alike = [Words(f"{pair} {pair.what_to_do}") for pair in plan.alike]
    read = (
        "The chart shows the right side. Row 1 is at the bottom, stitch 1 at the right; each row "
        "is numbered at the side where it begins. In every run stands the letter of its yarn."
    )
    here = ChartHere("The chart itself is on the printed pages; the rows below say the same.")
    return Section(CHART, (Key(tuple(yarns)), *alike, Words(read), here))


# ---- how yarn was held


def _holding(edition: Edition) -> Iterable[Block]:
    plan = edition.plan
    word = plan.traced.how.row_word
    for section in edition.sections:
        ways = ", ".join(f"{number} × {way}" for way, number in section.held)
        yield Words(
            f"{word.capitalize()}s {section.first}–{section.last}, {section.load}: at most "
            f"{section.most} hang at once; {ways}."
        )
    reasons = []
    for held in edition.held:
        against = f" Against it: {held.against}." if held.against else ""
        reasons.append(f"{', '.join(held.titles)}: {held.supply}, because: {held.why}.{against}")
    yield Items(tuple(reasons))
    kinds = {stage.supply for held in plan.held for stage in held.stages}
    yield how_to_hold(kinds)


def how_to_hold(kinds: Iterable[str]) -> Items:
    """How each of these kinds is wound."""
    wanted = set(kinds)
    ways = [f"{kind.capitalize()}: {words}" for kind, words in HOW_TO.items() if kind in wanted]
    return Items(tuple(ways))


# ---- rows


def _written(edition: Edition) -> Iterable[Block]:
    how = edition.plan.traced.how
    fabric = FABRICS[how.fabric, how.is_turned]
    written = f"{how.row_word} is written as it is worked"
    if how.fabric == "garter":
        written = f"ridge is written as its first {how.row_word} is worked"
    yield Words(
        f"Each {written}: so many stitches in the yarn of that "
        f"letter, one after the other; {fabric}. Below it stands what is done with single "
        "strands, each by its name from the list of lengths. Where nothing is said, go on with the "
        "yarn that hangs there, and cross the yarns at each border. Where it hangs a stitch away, "
        "lead it behind that stitch on the wrong side first, so loosely that it lies flat."
    )
    # Said only where it occurs: most patterns have no yarn that is called K or P.
    if any('"' in row.line for row in edition.rows):
        yield Words("A letter in quotation marks is a yarn, where it could be read as a stitch.")
    rows = [row for row in (edition.cast_on, *edition.rows, edition.bind_off) if row]
    yield Steps(tuple(_step(row) for row in rows))


def _step(row: WrittenRow) -> tuple[str, tuple[str, ...]]:
    return row.line, row.notes


# ---- finishing


def finishing_of(plan: Plan) -> Iterator[Block]:
    """What is done when the piece is off the needles, in order."""
    yield Words(
        f"Sew in {counted(plan.ends_in_all, 'end')} on the back, each along a border of its own "
        "colour or, where there is none near, behind stitches of its own row. Where an end lies "
        "beside another yarn, first lead the needle once round the loop of that yarn, which shuts "
        "the border:"
    )
    yield Items(tuple(_ends_by_yarn(plan)))
    yield Words(f"Draw loose stitches even. {HOW_TO_TIGHTEN} Look at these places:")
    yield Items(tuple(loose_places(plan)))
    yield Words("Block, as the label allows, to these measurements:")
    yield Items(tuple(_measurements(plan)))
    yield Items(tuple(how_to_block(plan)))
    embroidered = [each.in_words(plan) for each in to_embroider(plan)]
    if embroidered:
        yield Words("After blocking embroider in duplicate stitch:")
        yield Items((*embroidered, *to_mind(plan)))


def _ends_by_yarn(plan: Plan) -> Iterator[str]:
    """How many ends of each yarn lie in which areas."""
    # By yarn, for a needle is threaded anew with each; the plan's own list goes by place.
    by_yarn: dict[str, list[str]] = defaultdict(list)
    for area in areas_of_ends(plan):
        rows = f"chart rows {area.first_row}–{area.last_row}"
        if area.first_row == area.last_row:
            rows = f"chart row {area.first_row}"
        by_yarn[area.yarn].append(f"{counted(len(area.ends), 'end')} in {rows}")
    for letter, areas in by_yarn.items():
        yield f"{letter}, area by area: {'; '.join(areas)}"


def _measurements(plan: Plan) -> Iterator[str]:
    for measure in measures_of(plan):
        sides = [cm for cm in (measure.across_cm, measure.up_cm) if cm is not None]
        long = " × ".join(show_measured(cm, plan.project.units) for cm in sides)
        yield f"{measure.where}, {measure.what}: {long}"
