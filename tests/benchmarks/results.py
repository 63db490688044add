"""One line of the table of benchmarks: a figure, the floor or peer beside it, and the aim."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Result:
    """A figure measured in one run beside its floor or peer.

    what
        What was done, and on what: "Row worked → next card, 150 × 150".
    figure, unit
        As measured: 0.21, "s of processor".
    beside, beside_figure
        The floor or peer, measured in the same run, in the same unit: "HiGHS, same links", 12.4.
    grows
        How the figure grows with size, in words: "links^1.04".
    aim, met
        The aim in words, "at most 0.3 s", and whether this run met it; None where there is none.
    why
        Where the aim is not met: by how much not, and why.
    """

    what: str
    figure: float
    unit: str
    beside: str = ""
    beside_figure: float | None = None
    grows: str = ""
    aim: str = ""
    met: bool | None = None
    why: str = ""

    @property
    def ratio(self) -> float | None:
        """How many times its floor or peer the figure is; None without one."""
        if not self.beside_figure:
            return None
        return self.figure / self.beside_figure
