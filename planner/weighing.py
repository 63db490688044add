"""How choices are found and weighed: how far the tool looks for them, and what counts how much."""

from __future__ import annotations

from dataclasses import dataclass, fields

from planner.errors import PlanError
from planner.units import check_number, in_words


@dataclass(frozen=True)
class Weighing:
    """How far the tool looks for choices, and what an end costs.

    Areas of up to `embroider_stitches` or `embroider_wide` stitches in width are offered for embroidery (practitioners'
    pages: single stitches, thin lines, dots, patches to about 12 stitches); carries of up to `carry_stitches` and
    `carry_rows` beyond the limits (the longest that practitioners speak of). `most_live`: strands at once that are never to
    be exceeded. `minutes_per_end`: an assumption (one to two minutes, zhelle.dk/2015/01); time yours.
    """

    embroider_stitches: int = 12
    embroider_wide: int = 3
    carry_stitches: int = 7
    carry_rows: int = 4
    most_live: int = 12
    minutes_per_end: float = 2

    def __post_init__(self):
        for field in fields(self):
            value, what = getattr(self, field.name), f"Among the weights, {in_words(field.name)}"
            check_number(value, what, most=1e6)
            if field.name != "minutes_per_end" and value != int(value):
                raise PlanError(f"{what} is {value:g}; a whole number was expected.")
        if self.most_live < 1:
            raise PlanError(f"At most {self.most_live} strands at once is too few: any row needs one.")
