"""A cure: what it costs, and what is done, in words to be followed one by one."""

from __future__ import annotations

from dataclasses import dataclass

COVER = "duplicate stitch over it"
LADDER = "down the ladder and up again"
PICK_UP = "picked up to the needle"
KNIT_BACK = "knitted back to it"
RIP = "ripped back"
CLOSE = "closed with a needle"
SECURE = "sewn fast"

NO_SOURCE = "common practice, no source"
MAY_STAY = f"A twisted stitch holds and hardly shows: it may stay as it is ({NO_SOURCE})."
# How cures are put in order, and nothing else: so many stitches are knitted while one minute goes
# (judgement), and a rung is handled twice, on the way down and on the way up.
STITCHES_A_MINUTE = 20
HANDLED_TWICE = 2


@dataclass(frozen=True)
class Cure:
    """One way to mend a fault.

    `barred` says why it is no cure there, "" where it is one. `rows` and `stitches` are knitted
    again, `rungs` let down and picked up again, `worked` stitches with a needle; `ends` to sew in
    and `yarn_cm` are those that it takes more. `steps` are what is done, in order, and `mind` what
    to mind about it. `stays` is the last worked row, from 1, that stays on the needles as it is;
    None where no row is taken back. `after` stitches of the next row stay, too.
    """

    name: str
    barred: str = ""
    rows: int = 0
    stitches: int = 0
    rungs: int = 0
    worked: int = 0
    ends: int = 0
    yarn_cm: float = 0.0
    steps: tuple[str, ...] = ()
    mind: tuple[str, ...] = ()
    stays: int | None = None
    after: int = 0

    def effort(self, minutes_per_end: float) -> float:
        """How much work it is, in stitches; it only puts cures in order."""
        ends = self.ends * minutes_per_end * STITCHES_A_MINUTE
        rungs = self.rungs * HANDLED_TWICE
        # What is ripped is handled twice, too: taken out, and knitted again.
        knitted = self.stitches * HANDLED_TWICE
        return knitted + rungs + self.worked + ends
