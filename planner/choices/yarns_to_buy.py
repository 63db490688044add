"""Before buying: dye that may run, yarns of unlike thickness, wool that does not felt, dye lots.

Facts of the trade are marked where they stand; none of them has a source that measured it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from planner.choices.finding import Finding
from planner.colour import lightness_chroma_hue
from planner.piece import Project, Yarn
from planner.strands import Strands
from planner.supplies import Held, YarnNeeded
from planner.units import counted, listed, show_total

BLEEDING, THICKNESS, FELTING, LOTS = ("bleeding", "thickness", "felting", "dye lots")

# In CIELAB. That reds and deep colours are those that lose dye is common practice, no source; where
# they begin is judgement. A grey, dark as it may be, is no deep colour until it is nearly black.
PALE = 75  # L*: what takes up dye is seen from here on
RED_HUES = (345, 45)  # degrees, through 0
RED_CHROMA, RED_LIGHTNESS = 40, 65
DARK_LIGHTNESS, DARK_CHROMA = 35, 15
BLACK_LIGHTNESS = 20
# Yarns of one weight differ by less (common practice, no source).
AS_THICK = 1.25
SAME_BALLS = 1e-6  # balls are sums of floats
MOST_NAMED = 4

Yarns = Mapping[str, Yarn]


def before_buying(
    strands: Strands, project: Project, held: Sequence[Held], needed: Sequence[YarnNeeded]
) -> list[Finding]:
    """What to mind before yarn is bought, of the listed yarns that are on the chart."""
    letters = strands.chart.letters
    yarns = {letter: project.yarns[letter] for letter in letters if letter in project.yarns}
    return [
        *_dye_that_may_run(yarns),
        *_unlike_thickness(yarns, strands.chart.stitches(), project.units),
        *_joins_that_do_not_felt(yarns, held),
        *_lots_that_fall_short([each for each in needed if each.yarn.letter in yarns]),
    ]


# ---- dye


def may_bleed(colour: str) -> bool:
    """Whether yarn of this colour is red or deep, and so may lose dye."""
    lightness, chroma, hue = lightness_chroma_hue(colour)
    first, last = RED_HUES
    is_red = chroma >= RED_CHROMA and lightness <= RED_LIGHTNESS and not last < hue < first
    is_deep = lightness <= DARK_LIGHTNESS and chroma >= DARK_CHROMA
    return is_red or is_deep or lightness <= BLACK_LIGHTNESS


def is_pale(colour: str) -> bool:
    """Whether dye from another yarn would show on this colour."""
    lightness, _, _ = lightness_chroma_hue(colour)
    return lightness >= PALE


def _dye_that_may_run(yarns: Yarns) -> Iterator[Finding]:
    """One finding for all pairs: each of the strong colours is washed with each of the pale."""
    strong = [letter for letter, yarn in yarns.items() if may_bleed(yarn.colour)]
    pale = [letter for letter, yarn in yarns.items() if is_pale(yarn.colour)]
    if not strong or not pale:
        return
    yield Finding(
        BLEEDING,
        f"{_named(strong)} beside {_named(pale)}",
        f"reds and deep colours may lose dye; it shows on {_named(pale)}",
        "Before you knit, swatch them together and wash that as the label says. If dye runs, take "
        "another yarn.",
    )


def _named(letters: Sequence[str]) -> str:
    """Letters in words: "N", "N and R", "N, R and 5 more"."""
    if len(letters) <= MOST_NAMED:
        return listed(letters)
    first = letters[: MOST_NAMED - 1]
    return f"{', '.join(first)} and {len(letters) - len(first)} more"


# ---- thickness


def _unlike_thickness(yarns: Yarns, stitches: Mapping[str, int], units: str) -> Iterator[Finding]:
    """The yarns that are more than a quarter thicker or thinner than the one of most stitches."""
    lengths_cm = {}
    for letter, yarn in yarns.items():
        if yarn.metres_per_ball and yarn.grams_per_ball:
            metres_in_gram = yarn.metres_per_ball / yarn.grams_per_ball
            lengths_cm[letter] = 100 * 100 * metres_in_gram
    if not lengths_cm:
        return
    usual = max(lengths_cm, key=lambda letter: stitches[letter])
    unlike = [each for each in lengths_cm if _is_unlike(lengths_cm[each], lengths_cm[usual])]
    if not unlike:
        # All may be near the usual one, and yet two of them far from each other.
        thick = min(lengths_cm, key=lambda letter: lengths_cm[letter])
        thin = max(lengths_cm, key=lambda letter: lengths_cm[letter])
        usual = thin
        unlike = [thick] if _is_unlike(lengths_cm[thick], lengths_cm[thin]) else []
    for letter in unlike:
        word = "thicker" if lengths_cm[letter] < lengths_cm[usual] else "thinner"
        length = show_total(lengths_cm[letter], units)
        usual_length = show_total(lengths_cm[usual], units)
        yield Finding(
            THICKNESS,
            f"yarns {letter} and {usual}",
            f"{letter} is {word}: {length} in 100 g, {usual} has {usual_length}",
            "Swatch them side by side: stitches of unlike yarns pull at the border. Else take one "
            "weight throughout.",
        )


def _is_unlike(length_cm: float, other_cm: float) -> bool:
    return max(length_cm, other_cm) > AS_THICK * min(length_cm, other_cm)


# ---- felting


def _joins_that_do_not_felt(yarns: Yarns, held: Sequence[Held]) -> Iterator[Finding]:
    """Superwash yarns, which do not felt (common practice, no source), that are to be joined."""
    joins: Counter[str] = Counter()
    for each in held:
        joins[each.part.yarn] += len(each.refill_rows)
    for letter, yarn in yarns.items():
        if yarn.superwash and joins[letter]:
            planned = counted(joins[letter], "join")
            yield Finding(
                FELTING,
                f"yarn {letter}",
                f"{planned} planned, and superwash does not felt",
                "Nothing, if you join at a border and sew two ends in; for splices take a wool "
                "that felts.",
            )


# ---- dye lots


def _lots_that_fall_short(needed: Sequence[YarnNeeded]) -> Iterator[Finding]:
    """Yarns of which no lot in hand is enough: lots differ in shade (common practice, no source).

    Of a yarn that is still to be bought whole nothing is said.
    """
    for each in needed:
        yarn = each.yarn
        lots = {lot: balls for lot, balls in yarn.lots.items() if balls}
        if each.balls is None or not lots:
            continue
        largest = max(lots.values())
        if largest + SAME_BALLS >= each.balls:
            continue
        takes = f"{each.balls:.2f} balls are needed"
        if each.to_buy:
            lot = _lots_in_words([lot for lot in lots if lot])
            yield Finding(
                LOTS,
                f"yarn {yarn.letter}",
                f"{takes}, {yarn.balls_in_hand:g} in hand",
                f"Buy {counted(each.to_buy, 'ball')} of {lot}; of another lot, buy enough for all.",
            )
        elif len(lots) > 1:
            yield Finding(
                LOTS,
                f"yarn {yarn.letter}",
                f"{takes}, the largest lot has {largest:g}",
                "Share the lots out by colour area, in notebook 5 under the balls to buy.",
            )


def _lots_in_words(lots: Sequence[str]) -> str:
    if not lots:
        return "the same lot"
    return f"lot {lots[0]}" if len(lots) == 1 else f"lots {_named(lots)}"
