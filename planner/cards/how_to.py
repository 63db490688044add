"""How each kind of supply is wound and hung, in words."""

from __future__ import annotations

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE

HOW_TO = {
    LOOSE: (
        "Cut it and let it hang free behind the work; to work, draw it out from among the others."
    ),
    BUTTERFLY: (
        "Leave the working end between thumb and palm. Wrap the rest in a figure of eight round "
        "thumb and little finger, loosely, never tight on a finger. Slip it off and tie the last "
        "end twice round the waist. The working end feeds from the middle."
    ),
    BOBBIN: (
        "Wind on from the far end, without stretching the yarn, and fix the working end in the "
        "slot. Keep the drop from fabric to bobbin short, a hand's length, and wind up again after "
        "the row. Keep bobbins and cords from small children and pets."
    ),
    BALL: "Nothing to wind: lay the ball on the table in the order the yarns are worked.",
}
