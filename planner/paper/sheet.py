"""The sheet: a plan as a PDF to take along, to tick with a pencil and to copy in grey.

It is set by Typst from `sheet.typ`. What is set is data, never markup: no name can be taken for an
instruction. The same plan gives the same bytes on every computer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from planner.cards import HOW_TO
from planner.finishing import how_to_sew
from planner.paper.chart_pages import ChartOnPaper, key_width, strand_map
from planner.paper.first_page import glance
from planner.paper.lists import (
    Pieces,
    ends_plan,
    key_to_yarns,
    not_known,
    shopping_list,
    tags,
    winding_list,
)
from planner.paper.papers import Paper, paper_named
from planner.paper.row_cards import row_cards, words_on_cards
from planner.paper.setter import set_pages
from planner.paper.signs import BOLD, Signs, can_be_printed, shortened
from planner.plan import Plan

SHEET = "out/sheet.pdf"  # where it is kept in the folder of its piece
TEMPLATE = "sheet.typ"
SHORT_TITLE = 48  # signs of the piece's name at the foot of a page
CARE = (
    "Wind loosely, never tight round a finger. Keep yarn, cords and bobbins away from small "
    "children and pets. For washing and blocking follow the yarn's label."
)


def sheet_pdf(plan: Plan, paper: str = "a4", *, say: Callable[[str], None] | None = None) -> bytes:
    """The plan as a PDF on A4 or US Letter paper ("a4", "letter").

    `say` is told what is being done. Raises PlanError for another paper.
    """
    size = paper_named(paper)
    if say is not None:
        say("Setting the pages …")
    return set_pages(TEMPLATE, content_of(plan, size))


def content_of(plan: Plan, paper: Paper) -> dict[str, Any]:
    """All that the sheet says and shows, for the template."""
    signs = Signs(plan.project)
    pieces = Pieces(plan, signs)
    chart = ChartOnPaper(plan, signs)
    how = plan.traced.how
    cards = row_cards(pieces)
    return {
        "paper": paper.setter_name,
        "title": signs.text(signs.title),
        "bold_title": can_be_printed(signs.title, BOLD),
        "short_title": signs.text(shortened(signs.title, SHORT_TITLE)),
        "word": how.row_word,
        "units": plan.project.units,
        "glance": glance(pieces),
        "overview": chart.overview(),
        "chart": chart.pages(paper),
        "key": key_to_yarns(pieces, key_width(paper)),
        "embroidered": bool((plan.embroidered >= 0).any()),
        "no_stitch": bool((plan.project.chart.cells < 0).any()),
        "strands": strand_map(plan, paper, signs),
        "winding": winding_list(pieces),
        "how_sure": plan.how_sure(),
        "how_to": how_to_wind(plan),
        "tags": tags(pieces),
        "cards": cards,
        "words": words_on_cards(cards),
        "chips": {letter: pieces.chip(letter) for letter in plan.project.all_yarns},
        "shopping": shopping_list(pieces),
        "not_known": signs.texts(not_known(plan)),
        "ends": ends_plan(pieces),
        "how_to_sew": how_to_sew(plan),
        "care": CARE,
    }


def how_to_wind(plan: Plan) -> list[dict[str, str]]:
    """How each kind of supply of the plan is wound."""
    held = {piece.supply for piece in plan.pieces}
    ways = []
    for kind, words in HOW_TO.items():
        if kind in held:
            ways.append({"kind": f"{kind.capitalize()}:", "words": words})
    return ways
