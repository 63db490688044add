"""A yarn: what its band says, how much is in hand, and what may be done with it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from planner.errors import PlanError
from planner.units import check_number, exact

# Lots are parted by commas, semicolons or plus signs; "2 of 114" and "2 of lot 114" are the same.
BETWEEN_LOTS = re.compile("[,;+]")
BALLS_OF_A_LOT = re.compile(r"([\d.]+) of (?:lot )?(.+)")
SAME_BALLS = 1e-6  # part balls are sums of floats
MOST_BALLS = 1000  # of one yarn; more is a slip of the hand
SMOOTH, HAIRY, SLIPPERY = SURFACES = ("smooth", "hairy", "slippery")


@dataclass(frozen=True)
class Yarn:
    """One yarn of the piece. What its band does not say is None."""

    letter: str
    name: str = ""
    colour: str = "#b8b8b8"  # #rrggbb
    metres_per_ball: float | None = None
    grams_per_ball: float | None = None
    # 1.5 balls are a whole one and a half one.
    balls_in_hand: float = 0
    feltable: bool = False
    may_be_cut: bool = True
    # One lot as it is written on the band, or several, counted: "2 of 114, 1 of 131".
    dye_lot: str = ""
    label_stitches_10cm: float | None = None
    # Superwash wool does not felt, whatever else is said of it.
    superwash: bool = False
    # Hairy strands cling to each other; slippery ones slide out of a butterfly.
    surface: str = SMOOTH
    # Balls begun, weighed, beside those that are counted: what is left of each, g.
    part_balls_g: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("metres_per_ball", "grams_per_ball", "label_stitches_10cm"):
            value = getattr(self, name)
            if value is not None:
                what = f"Yarn {self.letter}: {name} (leave it empty if it is not known)"
                check_number(value, what, above=0)
        check_number(self.balls_in_hand, f"Yarn {self.letter}: balls_in_hand", most=MOST_BALLS)
        balls = sum(self.lots.values())
        if abs(balls - self.balls_in_hand) > SAME_BALLS:
            raise PlanError(
                f'Yarn {self.letter}: dye_lot counts {balls:g} balls ("{self.dye_lot}"), '
                f"balls_in_hand says {self.balls_in_hand:g}. Make them agree."
            )
        if self.surface not in SURFACES:
            raise PlanError(
                f'Yarn {self.letter}: its surface is "{self.surface}"; it is one of '
                f"{', '.join(SURFACES)}."
            )
        for grams in self.part_balls_g:
            check_number(grams, f"Yarn {self.letter}: the weight of a part ball", above=0)
        if self.part_balls_g and self.grams_per_ball is None:
            raise PlanError(
                f"Yarn {self.letter}: part balls are weighed, but grams_per_ball is missing. Give "
                "the weight of a whole ball from its band."
            )

    @property
    def can_be_spliced(self) -> bool:
        """Whether two ends of it felt together."""
        return self.feltable and not self.superwash

    @property
    def balls(self) -> tuple[float, ...]:
        """Each ball in hand as a share of a whole one, whole balls first."""
        # Counted lot by lot: the halves of two lots are two half balls, not a whole one.
        whole, begun = [], []
        for count in self.lots.values():
            full = math.floor(count + SAME_BALLS)
            rest = count - full
            whole += [1.0] * full
            begun += [rest] if rest > SAME_BALLS else []
        if self.grams_per_ball:
            begun += [grams / self.grams_per_ball for grams in self.part_balls_g]
        return (*whole, *begun)

    @property
    def lots(self) -> dict[str, float]:
        """Balls by dye lot, part balls left out: as `dye_lot` counts them, else all of one lot."""
        parts = BETWEEN_LOTS.split(self.dye_lot)
        counts = [match for part in parts if (match := BALLS_OF_A_LOT.fullmatch(part.strip()))]
        # The name of a single lot may hold a comma, or the word "of".
        if len(counts) < len(parts):
            return {self.dye_lot: self.balls_in_hand}
        lots: dict[str, float] = {}
        for count in counts:
            number, lot = count.groups()
            balls = exact(number, f"Yarn {self.letter}: the balls of dye lot {lot}")
            lots[lot] = lots.get(lot, 0.0) + float(balls)
        return lots

    @property
    def title(self) -> str:
        """Letter and name, as a table or a caption shows them."""
        return f"{self.letter} {self.name}".strip()

    def grams(self, length_cm: float) -> float | None:
        """Weight of a length, if the band gives metres and grams."""
        if self.metres_per_ball is None or self.grams_per_ball is None:
            return None
        return length_cm / 100 * self.grams_per_ball / self.metres_per_ball
