"""Words: what the words of the cards mean, told once for screen, sheet, phone and handout.

What they say of the hands is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

# By what is explained: where it is met on a card, and what it means.
EXPLAINED = {
    "Strand": (
        "",
        "A single length of yarn with a name, such as A1: the letter is its yarn. A row may work "
        "one yarn at several places, each with a strand of its own.",
    ),
    "a, b": (
        r"from its middle",
        "The two halves of a strand that is begun from its middle, such as C1a and C1b.",
    ),
    "Right side (RS), wrong side (WS)": (
        r"\b[RW]S\b",
        "RS is the side that is looked at in the end, WS the other; there the yarns hang.",
    ),
    "Left, right": (
        r"at your (?:left|right) hand|to the (?:left|right)\b",
        "As you sit and hold the work. Only the way of a row is told as the RS shows it.",
    ),
    "Ready": (r"^Ready: ", "What must lie at hand before the row is begun."),
    "New": (
        r"\bnew, tail ",
        "The strand begins here. Hold its tail with a finger for the first two stitches. Where you "
        "come from another yarn, lay it under that, as yarns are crossed.",
    ),
    "Tail": (
        r"\btail ",
        "So much of a strand hangs free where it begins or is cut, to be sewn in.",
    ),
    "Begin from its middle": (
        r"from its middle",
        "Fold the strand where the list says. Begin as with a new one, the fold at the needle in "
        "the place of the tail: work with the half that the card names, and hold the other one "
        "down with a finger for two stitches. It hangs where the fold is until it is taken up.",
    ),
    "Take up": (r"\btake up ", "Work with the half that hangs since its strand was begun."),
    "Border": (r"^At each border: ", "Where a row changes from one strand to another."),
    "Cross": (
        r"^At each border: ",
        "Lay the old yarn, from which you come, and the new one round each other at each border, "
        "or a hole stays. Cross also where the new yarn has just begun, and where the old one has "
        "been cut: then with its tail. The first card with a border says how, and the next one for "
        "the other side.",
    ),
    "Hangs 1 stitch to the left or right": (
        r"hangs 1 stitch |, from [12] stitch(?:es)? ",
        "The row before has left it there. Lead it along the WS behind that stitch, or those, just "
        "so loosely that it lies flat; then cross and go on.",
    ),
    "Take along, carry": (
        r"\btake \S+ along\b",
        "Let the yarn run along the WS of the stitches that follow, as wide as they lie. Where it "
        "runs behind another yarn, cross going in and coming out.",
    ),
    "Catch": (
        r"\bcatch ",
        "Lay the yarn that runs behind over the working yarn, so that the next stitch holds it.",
    ),
    "Float": (r"\bfloat\b", "Yarn that lies loose behind the stitches of another."),
    "Let hang, leave hanging": (
        r"\blet \S+ hang\b|\bleave \S+ hanging\b",
        "Do not cut it: a later row goes on with it.",
    ),
    "Cut": (r"\bcut, tail |\bcut \S+, tail ", "After the stitches of that line, not before."),
    "Hang at once": (
        r"\bhangs?(?: at once)?: ",
        "The yarns to look after in the row, halves one by one: few are easy, more are "
        "comfortable, busy or crowded.",
    ),
    "Turn so that": (
        r"^Turn so that ",
        "How the yarns of the balls wind round each other depends on the way that this goes.",
    ),
    "Its yarn on top": (
        r"its yarn on top",
        "Over the yarns of the balls that lie on the table. At the needle cross as ever.",
    ),
}


def words_of_cards(texts: Iterable[str]) -> Mapping[str, str]:
    """The words that stand on these cards, each with what it means; no others."""
    text = "\n".join(texts)
    met = {}
    for word, (where, meaning) in EXPLAINED.items():
        if re.search(where, text, re.MULTILINE):
            met[word] = meaning
    return met
