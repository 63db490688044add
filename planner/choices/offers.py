"""Offers: choices that the tool has found, each with its price (see `pricing`)."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import asdict, dataclass, fields, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.choices.asked import Asked
from planner.choices.places import REFUSED, choice_at, choice_of_area
from planner.choices.pricing import Price, Pricing
from planner.piece import CarryLimits, OwnChoice, Project
from planner.strands import MIDDLE, Links, Strands, allowed_links, knitted_of
from planner.units import counted, shown_totals


@dataclass(frozen=True)
class Offer:
    """Choices that may be made together.

    `about` is embroider, carry or middle; `what` says them in words; `choices` accept the offer;
    `price` is what they change.
    """

    about: str
    what: str
    choices: tuple[OwnChoice, ...]
    price: Price

    @property
    def refusal(self) -> tuple[OwnChoice, ...]:
        """The choices that refuse it."""
        return tuple(replace(choice, choice=REFUSED) for choice in self.choices)


def find_offers(project: Project) -> list[Offer]:
    """All offers that gain something, best first, and the middle starts that can be given up.

    Areas that look alike are offered together as well as singly. What was refused is left out.
    """
    pricing = Pricing(project)
    offers = _embroideries(pricing)
    offers += _carries(pricing)
    offers += _middle_starts(pricing)
    # Of offers at one price the order is that of their words, the same every time.
    return sorted(offers, key=lambda offer: (offer.price.rank, offer.what))


# Embroidery


def small_areas(project: Project, asked: Asked) -> list[int]:
    """The areas of the chart as drawn that are small or narrow enough to embroider.

    Those that are knitted, embroidered or refused already are left out.
    """
    areas = asked.areas
    weighing = project.weighing
    stitches, widest = _sizes(areas)
    small = (stitches > 0) & (stitches <= weighing.embroider_stitches)
    narrow = (stitches > 0) & (widest <= weighing.embroider_wide)
    good = small | narrow
    knitted = knitted_of(project)
    if knitted is not None:
        # A ridge of which one row is knitted counts as knitted.
        ridges = len(knitted.rows) / project.how.rows_per_chart_row
        begun = areas[: math.ceil(ridges)]
        good[np.unique(begun)] = False
    # Area 0 is no stitch.
    settled = [0, *asked.on, *asked.refused["embroider"]]
    good[settled] = False
    return np.flatnonzero(good).tolist()


def _sizes(areas: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """By area its stitches, and the most that it has in one row."""
    rows, columns = np.nonzero(areas)
    area = areas[rows, columns]
    count = int(areas.max()) + 1
    stitches = np.bincount(area, minlength=count)
    # One number for each row of each area.
    height = len(areas)
    line = area * height + rows
    lines, in_line = np.unique(line, return_counts=True)
    area_of_line = lines // height
    widest = np.zeros(count, dtype=int)
    np.maximum.at(widest, area_of_line, in_line)
    return stitches, widest


class _Shape(NamedTuple):
    """What areas that look alike have in common: their yarn, and the places of their stitches."""

    yarn: str
    rows: tuple[int, ...]
    columns: tuple[int, ...]

    def size(self, rows_per_chart_row: int) -> str:
        """In words: "a single stitch", "a line of 5 stitches"."""
        stitches = len(self.rows) * rows_per_chart_row
        if stitches == 1:
            return "a single stitch"
        in_row = Counter(self.rows)
        widest = max(in_row.values())
        noun = "line" if widest == 1 or len(in_row) == 1 else "patch"
        return f"a {noun} of {counted(stitches, 'stitch')}"


def _embroideries(pricing: Pricing) -> list[Offer]:
    """Small areas to embroider, singly and with all that look alike."""
    project = pricing.project
    how = project.how
    offers = []
    for shape, choices in _areas_by_shape(pricing).items():
        size = shape.size(how.rows_per_chart_row)
        for choice in choices:
            row = how.row_name(choice.row - 1)
            begins = f"{row}, stitch {choice.stitch}"
            what = f"embroider {size} in {choice.yarn}, from {begins}"
            price = pricing.change(choice)
            offers.append(Offer("embroider", what, (choice,), price))
        if len(choices) > 1:
            what = f"embroider {len(choices)} × {size} in {shape.yarn}"
            price = pricing.change(*choices)
            offers.append(Offer("embroider", what, tuple(choices), price))
    # Where the yarns beside an area do not meet beneath it, nothing may be gained.
    return [offer for offer in offers if offer.price.gains]


def _areas_by_shape(pricing: Pricing) -> dict[_Shape, list[OwnChoice]]:
    """The choices to embroider small areas, those of one shape together."""
    areas = pricing.asked.areas
    # Rows and columns are counted from those of the area, so that its place does not matter.
    left_to_knit = _left_to_knit(pricing)
    by_shape = defaultdict(list)
    for area in small_areas(pricing.project, pricing.asked):
        rows, columns = np.nonzero(areas == area)
        if len(rows) == left_to_knit:
            continue  # there would be nothing to embroider it on
        choice = choice_of_area(pricing.project, areas, area)
        rows = rows - rows.min()
        columns = columns - columns.min()
        shape = _Shape(
            choice.yarn,
            tuple(rows.tolist()),
            tuple(columns.tolist()),
        )
        by_shape[shape].append(choice)
    return by_shape


def _left_to_knit(pricing: Pricing) -> int:
    """The cells of the chart that are knitted and not embroidered."""
    drawn = pricing.project.chart.cells
    knit = pricing.asked.chart.cells
    left = (drawn >= 0) & (drawn == knit)
    return int(left.sum())


# Carries


def reach(project: Project, limits: CarryLimits) -> tuple[int, int, int, bool]:
    """How far carries are looked for: the limits, or the weighing's reach where that is farther."""
    across, sideways, up, middle_start = limits.at(project.gauge)
    weighing = project.weighing
    across = max(across, weighing.carry_stitches)
    sideways = max(sideways, weighing.carry_stitches)
    up = max(up, weighing.carry_rows)
    return across, sideways, up, middle_start


def _carries(pricing: Pricing) -> list[Offer]:
    """Carries beyond the limits that join two strands, the shortest from or to a run."""
    # From or to one run there may be dozens; whoever carries at all takes the shortest.
    strands = pricing.strands
    joining = _carries_that_join(pricing)
    aspect = float(pricing.project.gauge.aspect)
    length = joining.shift + joining.skipped * aspect
    nearest = _nearest(joining, length)
    carries = joining[nearest]
    prices = pricing.changes_by_carries(carries, length[nearest])
    offers = []
    for i, price in enumerate(prices):
        a = int(carries.a[i])
        b = int(carries.b[i])
        what = _carry_in_words(
            strands,
            a,
            b,
            shift=int(carries.shift[i]),
            skipped=int(carries.skipped[i]),
        )
        choice = choice_at(strands, "carry", a, "yes", b)
        offers.append(Offer("carry", what, (choice,), price))
    return offers


def _carries_that_join(pricing: Pricing) -> Links:
    """The carries within reach from an edge where a strand ends to one where another begins."""
    project = pricing.project
    asked = pricing.asked
    letters = project.chart.letters
    farther = []
    for letter in letters:
        limits = project.by_yarn.get(letter, project.limits)
        farther.append(reach(project, limits))
    links, _, _ = allowed_links(
        pricing.runs,
        letters,
        farther,
        knitted=pricing.knitted,
        cuts=[*asked.cuts, *asked.refused["carry"]],
    )
    carries = links[links.kind != MIDDLE]
    # Only edges that no link has taken, so that the price is exact: see `changes_by_carries`.
    strands = pricing.strands
    taken = np.concatenate(strands.links.ports)
    leaves, enters = carries.ports
    is_taken = np.isin(leaves, taken)
    is_taken |= np.isin(enters, taken)
    first = strands.of_run[carries.a]
    second = strands.of_run[carries.b]
    return carries[~is_taken & (first != second)]


def _nearest(links: Links, length: np.ndarray) -> np.ndarray:
    """Which links are the shortest at one of the two edges that they join."""
    leaves, enters = links.ports
    # Of links of one length the first in working order.
    shortest_first = np.lexsort((enters, leaves, length))
    nearest = np.zeros(links.count, dtype=bool)
    for port in (leaves, enters):
        _, first = np.unique(port[shortest_first], return_index=True)
        best_at_port = shortest_first[first]
        nearest[best_at_port] = True
    return nearest


def _carry_in_words(
    strands: Strands,
    a: int,
    b: int,
    *,
    shift: int,
    skipped: int,
) -> str:
    """A carry from run a to run b, so many stitches and skipped rows long."""
    parts = []
    if shift:
        parts.append(counted(shift, "stitch"))
    if skipped:
        parts.append(counted(skipped, "row"))
    length = " and ".join(parts)
    row, how = strands.runs.row, strands.how
    goes_on = strands.labels[strands.of_run[a]]
    begins = strands.labels[strands.of_run[b]]
    from_row = how.row_name(int(row[a]))
    to_row = how.row_name(int(row[b]))
    return f"carry {goes_on} on to {begins} over {length}, {from_row} to {to_row}"


# Middle starts


def _middle_starts(pricing: Pricing) -> list[Offer]:
    """Middle starts that can be given up: those not knitted and not refused.

    They seldom gain anything, but where a middle start suits no supply the knitter wants to know
    what a plain beginning costs.
    """
    strands = pricing.strands
    links = strands.links
    refused = pricing.asked.refused["middle"]
    knitted_rows = len(pricing.knitted.rows) if pricing.knitted else 0
    offers = []
    for run in links.a[links.kind == MIDDLE].tolist():
        row = int(strands.runs.row[run])
        if row < knitted_rows or run in refused:
            continue
        label = strands.labels[strands.of_run[run]]
        where = strands.how.row_name(row)
        what = f"begin {label} plainly, not from its middle, in {where}"
        choice = choice_at(strands, "middle", run, "no")
        price = pricing.change(choice)
        offers.append(Offer("middle", what, (choice,), price))
    return offers


# Tables


def offer_table(offers: list[Offer], units: str) -> pd.DataFrame:
    """One row an offer, best first: what it is, and what changes (yarn in m or yd)."""
    prices = [field.name for field in fields(Price)]
    rows = []
    for offer in offers:
        row = {"about": offer.about, "what": offer.what}
        rows.append(row | asdict(offer.price))
    table = pd.DataFrame(rows, columns=["about", "what", *prices])
    return shown_totals(table, units)


def rows_above(strands: Strands, most_live: int) -> pd.DataFrame:
    """The stretches of worked rows with more than `most_live` at once.

    First and last row, from 1, the most live in it and how many too many.
    """
    above = np.flatnonzero(strands.live > most_live)
    stretches = []
    if len(above):
        gaps = np.flatnonzero(np.diff(above) > 1)
        stretches = np.split(above, gaps + 1)
    rows = []
    for stretch in stretches:
        live = strands.live[stretch].max()
        first_row = stretch[0] + 1
        last_row = stretch[-1] + 1
        rows.append((first_row, last_row, live, live - most_live))
    columns = ["first_row", "last_row", "live", "too_many"]
    return pd.DataFrame(rows, columns=columns)
