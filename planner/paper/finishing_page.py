"""The finishing page: what is left to do off the needles, to print and to tick."""

from __future__ import annotations

from typing import Any

from planner.finishing import (
    HOW_TO_TIGHTEN,
    Measure,
    areas_of_ends,
    edges_of,
    ends_apart,
    ends_left,
    ends_to_run,
    how_to_block,
    how_to_run,
    how_to_sew,
    loose_places,
    measures_of,
    pick_up,
    pick_up_in_words,
    seam_of,
    side_edges_of,
    size_of,
    to_cover,
    to_embroider,
    to_mind,
    unblocked,
)
from planner.paper.lists import Pieces
from planner.paper.papers import paper_named
from planner.paper.setter import set_pages
from planner.paper.sheet import SHORT_TITLE
from planner.paper.signs import BOLD, Signs, can_be_printed, shortened
from planner.plan import Plan
from planner.units import counted, show_measured

TEMPLATE = "finishing.typ"
FINISHING = "out/finishing.pdf"  # where it is kept in the folder of its piece


def finishing_files(plan: Plan, paper: str = "a4") -> dict[str, bytes]:
    """The finishing page of a plan, by where it is kept in the piece's folder."""
    return {FINISHING: finishing_pdf(plan, paper)}


def finishing_pdf(plan: Plan, paper: str = "a4") -> bytes:
    """What is left to do off the needles as a PDF on A4 or US Letter paper ("a4", "letter").

    Raises PlanError for another paper.
    """
    return set_pages(TEMPLATE, {"paper": paper_named(paper).setter_name, **_content(plan)})


def _content(plan: Plan) -> dict[str, Any]:
    signs = Signs(plan.project)
    pieces = Pieces(plan, signs)
    return {
        "title": signs.text(signs.title),
        "bold_title": can_be_printed(signs.title, BOLD),
        "short_title": signs.text(shortened(signs.title, SHORT_TITLE)),
        "size": size_of(plan),
        "left": _left_in_words(plan),
        "measures": [_measure(each, plan) for each in measures_of(plan)],
        "care": signs.texts(how_to_block(plan)),
        "unblocked": _unblocked(plan),
        "loose": signs.texts(loose_places(plan)),
        "how_to_tighten": HOW_TO_TIGHTEN,
        "how_to_sew": how_to_sew(plan),
        "areas": _areas(pieces),
        "apart": signs.texts(ends_apart(plan)),
        "embroidery": _embroidery(pieces),
        "wrong": signs.texts(f"Wrong stitches: {each}" for each in to_cover(plan)),
        "mind": signs.texts(to_mind(plan)),
        "edges": [_edge(pieces, edge) for edge in edges_of(plan)],
        "seam": signs.texts(_seam(plan)),
    }


def _left_in_words(plan: Plan) -> str:
    """How many ends are left of all."""
    return f"{ends_left(plan)} of {counted(plan.ends_in_all, 'end')} left to sew in"


def _unblocked(plan: Plan) -> str:
    found = unblocked(plan)
    return found.in_words(plan.project.units) if found else ""


def _measure(each: Measure, plan: Plan) -> dict[str, str]:
    units = plan.project.units
    across, up = (
        "" if length_cm is None else show_measured(length_cm, units)
        for length_cm in (each.across_cm, each.up_cm)
    )
    return {
        "where": each.where,
        "what": each.what,
        "stitches": str(each.stitches or ""),
        "across": across,
        "rows": str(each.rows or ""),
        "up": up,
    }


def _areas(pieces: Pieces) -> list[dict[str, Any]]:
    """Each colour area with its ends, a box for each."""
    plan, signs = pieces.plan, pieces.signs
    found = []
    for each in areas_of_ends(plan):
        rows = f"chart rows {each.first_row}–{each.last_row}"
        if each.first_row == each.last_row:
            rows = f"chart row {each.first_row}"
        told = [how_to_run(end, plan, signs.titled) for end in each.ends]
        ends = [
            {"done": end.is_sewn, "words": signs.text(f"{end.number}. {words}")}
            for end, words in zip(each.ends, told, strict=True)
        ]
        area = {"chip": pieces.chip(each.yarn), "name": signs.short_name(each.yarn)}
        found.append({**area, "rows": rows, "ends": ends})
    return found


def _embroidery(pieces: Pieces) -> list[dict[str, Any]]:
    """Each area to embroider, with a box for it and for each of its ends."""
    plan, signs = pieces.plan, pieces.signs
    ends: dict[str, list[bool]] = {}
    for each in ends_to_run(plan):
        ends.setdefault(each.end.strand, []).append(each.is_sewn)
    return [
        {
            "chip": pieces.chip(each.yarn),
            "words": signs.text(each.in_words(plan)),
            "ends": ends.get(each.label, []),
        }
        for each in to_embroider(plan)
    ]


def _edge(pieces: Pieces, edge: str) -> dict[str, Any]:
    """What to pick up along an edge, colour by colour."""
    plan, signs = pieces.plan, pieces.signs
    picked = pick_up(plan, edge)
    words = pick_up_in_words(plan, edge)
    colours = [
        {"chip": pieces.chip(each.yarn), "words": signs.text(line)}
        for each, line in zip(picked, words[-len(picked) :], strict=True)
    ]
    return {"edge": edge, "words": words[: -len(picked)], "colours": colours}


def _seam(plan: Plan) -> list[str]:
    """How its two sides meet; empty for a tube."""
    sides = side_edges_of(plan)
    if not sides:
        return []
    return seam_of(plan, sides[0], plan, sides[1]).in_words(plan)
