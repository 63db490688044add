"""A yarn: what its band says, how much is in hand, and what may be done with it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from planner.errors import PlanError
from planner.units import check_number, exact


@dataclass(frozen=True)
class Yarn:
    """One yarn of the piece. What the band does not say is None; `colour` is #rrggbb; `balls_in_hand` may be a part of a ball.
    Balls of several dye lots stand in `dye_lot` as "2 of 114, 1 of 131"."""

    letter: str
    name: str = ""
    colour: str = "#b8b8b8"
    metres_per_ball: float | None = None
    grams_per_ball: float | None = None
    balls_in_hand: float = 0
    feltable: bool = False
    may_be_cut: bool = True
    dye_lot: str = ""
    label_stitches_10cm: float | None = None

    def __post_init__(self):
        for name in ("metres_per_ball", "grams_per_ball", "label_stitches_10cm"):
            value = getattr(self, name)
            if value is not None:
                check_number(
                    value,
                    f"Yarn {self.letter}: {name} (leave it empty if it is not known)",
                    above=0,
                )
        check_number(self.balls_in_hand, f"Yarn {self.letter}: balls_in_hand")
        if abs(sum(self.lots.values()) - self.balls_in_hand) > 1e-6:
            raise PlanError(
                f'Yarn {self.letter}: dye_lot counts {sum(self.lots.values()):g} balls ("{self.dye_lot}"), balls_in_hand says '
                f"{self.balls_in_hand:g}. Make them agree."
            )

    @property
    def lots(self) -> dict[str, float]:
        """Balls in hand by dye lot; all of one lot unless `dye_lot` counts them: "2 of 114, 1 of 131"."""
        lots: dict[str, float] = {}
        counted = [
            re.fullmatch(r"\s*([\d.]+) of (?:lot )?(.+?)\s*", part)
            for part in re.split("[,;+]", self.dye_lot)
        ]
        if not all(counted):
            return {self.dye_lot: self.balls_in_hand}
        for number, lot in (match.groups() for match in counted):
            lots[lot] = lots.get(lot, 0.0) + float(
                exact(number, f"Yarn {self.letter}: the balls of dye lot {lot}")
            )
        return lots

    @property
    def title(self) -> str:
        return f"{self.letter} {self.name}".strip()

    def grams(self, length_cm: float) -> float | None:
        """Weight of a length, if the band gives metres and grams."""
        if self.metres_per_ball is None or self.grams_per_ball is None:
            return None
        return length_cm / 100 * self.grams_per_ball / self.metres_per_ball
