"""Measurements to begin from: a good one made in each way, changed as a test needs it."""

from dataclasses import replace

from planner.piece.log import MARKED, SUPPLY, UNRAVELLED, WEIGHED, WRAPS, Measurement

# What each way asks for. The fabric has 20 stitches to 10 cm, so a stitch is half a cm wide.
ASKED = {
    MARKED: {"stitches": 54, "length_cm": 100, "length_step_cm": 0.5},
    UNRAVELLED: {"stitches": 60, "length_cm": 90},
    WEIGHED: {
        "stitches": 884,
        "grams": 8.3,
        "grams_step": 0.1,
        "metres_per_gram": 2,
        "edges_cm": 130,
        "tails_cm": 30,
    },
    WRAPS: {"wraps": 10, "length_cm": 17.145},
    SUPPLY: {
        "stitches": 595,
        "strand": "K1",
        "wound_cm": 1260,
        "left_cm": 168,
        "length_step_cm": 0.5,
        "carried_cm": 7,
        "tails_cm": 30,
    },
}


def measured(way=MARKED, number=1, **changes):
    """A good measurement made this way, but for what is said otherwise."""
    basics = {"number": number, "date": "2026-03-02", "way": way, "yarn": "A", "gauge_stitches": 20}
    return Measurement(**basics | ASKED[way] | changes)


def with_ratio(ratio, number=1, **changes):
    """54 stitches, 27 cm wide, from a marked length that gives this multiplier."""
    return measured(number=number, length_cm=27 * ratio, **changes)


def corrected(old, number, **changes):
    """A new line that takes the place of an old one."""
    return replace(old, number=number, corrects=old.number, **changes)
