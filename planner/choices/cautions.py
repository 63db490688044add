"""Cautions: embroideries that seldom come out well. All of it is common practice, no source.

A light yarn over a dark one lets the dark show through. A single row of duplicate stitch lies
badly, for nothing above or below it holds it flat; a line upwards does not. A long thread wears
thin, so a large embroidery is worked with several, each with ends of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from functools import lru_cache
from typing import NamedTuple

from planner.choices.embroidery import Embroidery
from planner.colour import lightness
from planner.piece import Project
from planner.units import counted, rounded_up, show

LIGHT_OVER_DARK, SINGLE_ROW, LONG = "light over dark", "single row", "long"
NO_SOURCE = "common practice, no source"
# Of 100 from black to white: by so much lighter, the ground is seen between the stitches.
MUCH_LIGHTER = 20
# A row of fewer stitches is a dot.
SHORTEST_ROW = 3  # stitches
NEEDLEFUL_CM = 150


class Caution(NamedTuple):
    """What speaks against some areas of a yarn: `first` is the place of the first of them."""

    about: str
    yarn: str
    ground: str
    first: int
    areas: int


def find_cautions(
    project: Project,
    embroidery: Embroidery,
    *,
    areas: Collection[int] | None = None,
) -> list[Caution]:
    """What to mind about an embroidery, each once for a yarn and its ground, in working order.

    With `areas` about these only.
    """
    found: dict[tuple[str, str, str], Caution] = {}
    for place, area in enumerate(embroidery.area.tolist()):
        if areas is not None and area not in areas:
            continue
        yarn = embroidery.yarn[place]
        for about, ground in _about_area(project, embroidery, place):
            before = found.get((about, yarn, ground), Caution(about, yarn, ground, place, 0))
            found[about, yarn, ground] = before._replace(areas=before.areas + 1)
    return list(found.values())


def _about_area(
    project: Project,
    embroidery: Embroidery,
    place: int,
) -> Iterator[tuple[str, str]]:
    """What to mind about one area, and about which ground if it is about one."""
    for ground in embroidery.grounds[place]:
        if _much_lighter(project, embroidery.yarn[place], ground):
            yield LIGHT_OVER_DARK, ground
    in_one_row = embroidery.first_chart_row[place] == embroidery.last_chart_row[place]
    columns = embroidery.stitches[place] / project.how.rows_per_chart_row
    if in_one_row and columns >= SHORTEST_ROW:
        yield SINGLE_ROW, ""
    if embroidery.length_cm[place] > NEEDLEFUL_CM:
        yield LONG, ""


def _much_lighter(project: Project, yarn: str, ground: str) -> bool:
    # A yarn that is not listed has a tint of the tool's own, which says nothing.
    listed = project.yarns
    if yarn not in listed or ground not in listed:
        return False
    difference = _lightness(listed[yarn].colour) - _lightness(listed[ground].colour)
    return difference > MUCH_LIGHTER


# Offers ask about the same few colours over and over.
_lightness = lru_cache(maxsize=256)(lightness)


def cautions_in_brief(cautions: Iterable[Caution]) -> str:
    """What to mind about an offer, in a few words; "" where there is nothing."""
    phrases = []
    for caution in cautions:
        phrase = {
            LIGHT_OVER_DARK: f"light over dark: {caution.ground} may show through",
            SINGLE_ROW: "a single row lies badly",
            LONG: "more than one needleful, each with two ends not counted here",
        }[caution.about]
        phrases.append(phrase)
    return "; ".join(phrases)


def cautions_in_full(project: Project, embroidery: Embroidery) -> list[str]:
    """A note for each thing to mind: what, where, and what to do."""
    notes = []
    for caution in find_cautions(project, embroidery):
        where = _where(project, embroidery, caution)
        yarn, ground = caution.yarn, caution.ground
        if caution.about == LIGHT_OVER_DARK:
            note = (
                f"{yarn} is embroidered over the much darker {ground}, {where}: {ground} may show "
                "through. Try it on your swatch; else choose another ground or knit it"
            )
        elif caution.about == SINGLE_ROW:
            note = (
                f"{yarn} is embroidered in a single row, {where}: such a row lies badly. Try it "
                "on your swatch, or knit it"
            )
        else:
            length_cm = float(embroidery.length_cm[caution.first])
            length = show(rounded_up(length_cm, project.units), project.units)
            note = (
                f"{yarn} takes {length} to embroider, {where}: more than one needleful. Cut it "
                "into several; each has two ends that are not counted"
            )
        notes.append(f"{note} ({NO_SOURCE}).")
    return notes


def _where(project: Project, embroidery: Embroidery, caution: Caution) -> str:
    """Where the first area begins, and how many more there are."""
    how, first = project.how, caution.first
    row = int(embroidery.first_chart_row[first] - 1) * how.rows_per_chart_row
    where = f"from {how.row_name(row)}, stitch {embroidery.first_stitch[first]}"
    if caution.areas > 1:
        where += f", and {counted(caution.areas - 1, 'area')} more"
    return where
