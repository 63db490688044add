"""The sheet and the cards page of a plan, made together so that both say the same."""

from __future__ import annotations

from collections.abc import Callable

from planner.paper.page import cards_page
from planner.paper.sheet import SHEET, sheet_pdf
from planner.plan import Plan

CARDS = "out/cards.html"  # where the cards page is kept in the folder of its piece


def all_papers(
    plan: Plan, paper: str = "a4", *, say: Callable[[str], None] | None = None
) -> dict[str, bytes]:
    """The sheet on this paper and the cards page, by where each is kept in the piece's folder."""
    return {SHEET: sheet_pdf(plan, paper, say=say), CARDS: cards_page(plan)}
