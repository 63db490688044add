"""Offers: choices that the tool has found, each with its price (see `pricing`)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace

import numpy as np
import pandas as pd

from planner.choices.cautions import NO_SOURCE, cautions_in_brief, find_cautions
from planner.choices.places import REFUSED, choice_at
from planner.choices.pricing import Price, Pricing
from planner.choices.small_areas import Shape, SmallArea, areas_to_embroider
from planner.piece import CarryLimits, Construction, OwnChoice, Project
from planner.strands import MIDDLE, Links, Strands, allowed_links
from planner.units import counted, shown_totals

HANDFUL = 8  # offers that are priced where only the best are wanted


@dataclass(frozen=True)
class Offer:
    """Choices that may be made together.

    `about` is embroider, carry or middle; `what` says them in words; `choices` accept the offer;
    `price` is what they change; `mind` what speaks against it, in words. `strand` is begun from its
    middle now, and would not be any more.
    """

    about: str
    what: str
    choices: tuple[OwnChoice, ...]
    price: Price
    mind: str = ""
    strand: str = ""

    @property
    def refusal(self) -> tuple[OwnChoice, ...]:
        """The choices that refuse it."""
        return tuple(replace(choice, choice=REFUSED) for choice in self.choices)


def find_offers(project: Project, pricing: Pricing | None = None) -> list[Offer]:
    """All offers that gain something, best first, and the middle starts that can be given up.

    Areas that look alike are offered together as well as singly. To embroider a small area and to
    begin its strand plainly stand side by side. What was refused is left out. `pricing` may be
    given where there is one of the project.
    """
    pricing = pricing or Pricing(project)
    embroideries = sorted(_embroideries(pricing), key=_best_first)
    # By strand the best embroidery that does without its middle start. The last put in stays.
    beside = {offer.strand: offer for offer in reversed(embroideries)}

    def place(offer: Offer) -> tuple[tuple[float, ...], str, bool]:
        plainly = offer.about == "middle" and offer.strand in beside
        leader = beside[offer.strand] if plainly else offer
        return (*_best_first(leader), plainly)

    return sorted(embroideries + _carries(pricing) + _middle_starts(pricing), key=place)


def _best_first(offer: Offer) -> tuple[tuple[float, ...], str]:
    # Of offers at one price the order is that of their words, the same every time.
    return offer.price.rank, offer.what


# Embroidery


def _embroideries(pricing: Pricing) -> list[Offer]:
    """Small areas to embroider: singly, with all that look alike, and with all of their yarn."""
    middles = _middle_starts_by_area(pricing)
    by_yarn = _by_yarn(areas_to_embroider(pricing.project, pricing.asked))
    offers = []
    for of_yarn in by_yarn.values():
        found = []
        for alike in _by_shape(of_yarn).values():
            found += [_embroider(pricing, [area], middles) for area in alike]
            if len(alike) > 1:
                found.append(_embroider(pricing, alike, middles))
        # All of a yarn together where that does better than any part of it.
        if found and len(of_yarn) > 1:
            together = _embroider(pricing, of_yarn, middles)
            if together.price.rank < min(offer.price.rank for offer in found):
                found.append(together)
        offers += found
    # Where the yarns beside an area do not meet beneath it, nothing may be gained. Beside a middle
    # start it is offered all the same, so that the knitter sees what each of them costs.
    return [offer for offer in offers if offer.price.gains or offer.strand]


def _by_yarn(areas: Iterable[SmallArea]) -> dict[str, list[SmallArea]]:
    by_yarn = defaultdict(list)
    for area in areas:
        by_yarn[area.choice.yarn].append(area)
    return by_yarn


def _by_shape(areas: Iterable[SmallArea]) -> dict[Shape, list[SmallArea]]:
    by_shape = defaultdict(list)
    for area in areas:
        by_shape[area.shape].append(area)
    return by_shape


def _embroider(
    pricing: Pricing,
    areas: Sequence[SmallArea],
    middles: Mapping[int, str],
) -> Offer:
    """The offer to embroider these areas of one yarn together."""
    choices = tuple(area.choice for area in areas)
    price, embroidery = pricing.change_and_embroidery(*choices)
    numbers = {area.number for area in areas}
    cautions = find_cautions(pricing.project, embroidery, areas=numbers)
    what = _embroidery_in_words(areas, pricing.project.how)
    strand = ""
    begun = {middles[number] for number in numbers if number in middles}
    if len(begun) == 1:
        [strand] = begun
        what += f", instead of beginning {strand} from its middle"
    return Offer("embroider", what, choices, price, cautions_in_brief(cautions), strand)


def _embroidery_in_words(areas: Sequence[SmallArea], how: Construction) -> str:
    """Which areas of one yarn are embroidered."""
    choice, shape = areas[0].choice, areas[0].shape
    size = shape.size(how.rows_per_chart_row)
    if len(areas) == 1:
        row = how.row_name(choice.row - 1)
        return f"embroider {size} in {choice.yarn}, from {row}, stitch {choice.stitch}"
    if len(_by_shape(areas)) == 1:
        return f"embroider {len(areas)} × {size} in {choice.yarn}"
    stitches = sum(len(area.shape.rows) for area in areas) * how.rows_per_chart_row
    all_of_them = "both" if len(areas) == 2 else f"all {len(areas)}"
    of_yarn = f"{all_of_them} small or thin areas in {choice.yarn}"
    return f"embroider {of_yarn} ({counted(stitches, 'stitch')})"


def _middle_starts_by_area(pricing: Pricing) -> dict[int, str]:
    """By area the strand that is begun there from its middle."""
    strands, areas = pricing.strands, pricing.asked.areas
    runs, links = strands.runs, strands.links
    middle = links.kind == MIDDLE
    begun = {}
    # Both halves begin there, each in its run.
    for run in np.concatenate((links.a[middle], links.b[middle])).tolist():
        area = areas[runs.chart_row[run], runs.lo[run]]
        begun[int(area)] = strands.labels[strands.of_run[run]]
    return begun


def worth_embroidering(pricing: Pricing) -> list[Offer]:
    """For each yarn the best that embroidering its small areas does, where that saves something.

    Something is saved where there are fewer ends in all, or fewer at once and no end more.
    To be quick, no more than a handful of offers is priced: all areas of a yarn and those that look
    alike, the most stitches first.
    """
    by_yarn = _by_yarn(areas_to_embroider(pricing.project, pricing.asked))
    groups = list(by_yarn.values())
    for of_yarn in by_yarn.values():
        groups += [alike for alike in _by_shape(of_yarn).values() if len(alike) < len(of_yarn)]
    groups.sort(key=_stitches_of, reverse=True)

    best: dict[str, Offer] = {}
    for group in groups[:HANDFUL]:
        offer = _embroider(pricing, group, {})
        yarn = group[0].choice.yarn
        change = offer.price
        saves = change.ends < 0 or (change.ends == 0 and change.live < 0)
        if saves and (yarn not in best or offer.price.rank < best[yarn].price.rank):
            best[yarn] = offer
    return sorted(best.values(), key=_best_first)


def _stitches_of(areas: Iterable[SmallArea]) -> int:
    return sum(len(area.shape.rows) for area in areas)


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
        offers.append(Offer("middle", what, (choice,), price, strand=label))
    return offers


# Tables


def offer_table(offers: list[Offer], units: str) -> pd.DataFrame:
    """One row an offer, best first: what it is, what changes (yarn in m or yd), what to mind."""
    prices = [field.name for field in fields(Price)]
    rows = []
    for offer in offers:
        row = {"about": offer.about, "what": offer.what}
        mind = f"{offer.mind} ({NO_SOURCE})" if offer.mind else ""
        rows.append(row | asdict(offer.price) | {"mind": mind})
    table = pd.DataFrame(rows, columns=["about", "what", *prices, "mind"])
    return shown_totals(table, units)
