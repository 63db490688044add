"""An open piece: what the notebooks show of it, a call a cell.

    piece = open_piece()
    piece.chart()
    piece.winding_list()

Each call returns a widget that follows the piece. What changes the result folds under a heading
that says its present state.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from IPython.display import display

from planner import pictures, workbook
from planner.workbook import states
from planner.workbook.desk import Desk, open_desk
from planner.workbook.folds import Fold, fold
from planner.workbook.pieces import Menu, open_chosen

if TYPE_CHECKING:
    import ipywidgets as widgets


def open_piece(name: str = "") -> Piece:
    """The piece that was chosen last, or the one of this name, with the menu of pieces above it."""
    desk, said = (open_desk(name), "") if name else open_chosen()
    display(Menu(desk, said))
    return Piece(desk)


class Piece:
    """A piece on the desk; every method is a cell of a notebook."""

    def __init__(self, desk: Desk):
        self.desk = desk

    # ---- notebook 1: chart and gauge

    def chart(self) -> widgets.Widget:
        """The chart to paint on, with what it comes to."""
        return workbook.paint_form(self.desk)

    # ---- notebook 2: swatch and calibrate

    def measure(self) -> widgets.Widget:
        """What is known of the knitter's hand, and the form to measure."""
        return workbook.measure_form(self.desk)

    # ---- notebook 3: yarn plan

    def strand_map(self) -> widgets.Widget:
        """The chart by strands, each in a shade of its yarn."""
        words = "The chart coloured by strand: {!r}"
        return self.desk.picture(pictures.draw_strands, lambda plan: words.format(plan.traced))

    def winding_list(self) -> widgets.Widget:
        """What to wind, in the order of first need."""
        return self.desk.table(lambda plan: plan.winding_list)

    # ---- notebook 4: row by row

    def card(self) -> widgets.Widget:
        """The card of the row on the needles."""
        return workbook.row_form(self.desk)

    # ---- notebook 5: choices

    def choices(self) -> widgets.Widget:
        """The chart with the offers on it."""
        return workbook.offers_form(self.desk)

    def what_is_offered(self) -> Fold:
        """How far is looked for offers, what an end costs, and where the round begins."""
        desk = self.desk

        def make() -> widgets.Widget:
            return workbook.Form([workbook.weighing_form(desk), workbook.start_form(desk)])

        return fold(desk, states.what_is_offered, make)

    def embroidery(self) -> Fold:
        """What is embroidered, and how."""
        desk = self.desk
        return fold(desk, states.what_is_embroidered, lambda: workbook.embroidery_pane(desk))

    def ceiling(self) -> Fold:
        """What it takes never to have more at once than so many."""
        desk = self.desk
        return fold(desk, states.most_at_once, lambda: workbook.ceiling_form(desk))

    def limits_by_price(self) -> Fold:
        """What carrying farther saves, and what it costs."""
        desk = self.desk
        return fold(desk, states.limits_now, lambda: workbook.tradeoff_form(desk))

    def bobbins(self) -> Fold:
        """Which bobbin carries which piece when."""
        desk = self.desk
        return fold(desk, states.on_bobbins, lambda: workbook.bobbins_form(desk))

    def left_overs(self) -> Fold:
        """Both ends of one ball, splices, and left-overs that serve again."""
        desk = self.desk
        title = "Less to wind: both ends of a ball, left-overs, splices"
        return fold(desk, title, lambda: workbook.savings_pane(desk))

    def buying(self) -> Fold:
        """Balls for one piece or several, with their chances, and dye lots."""
        desk = self.desk
        return fold(desk, states.to_buy, lambda: workbook.buying_form(desk))

    def summary(self) -> Fold:
        """What the plan comes to, in a few sentences."""
        desk = self.desk
        return fold(desk, states.comes_to, lambda: desk.words(lambda plan: plan.summary()))

    # ---- in several notebooks

    def earlier_versions(self) -> Fold:
        """What was replaced, to go back to."""
        desk = self.desk
        return fold(desk, "Earlier versions", lambda: workbook.versions_form(desk))

    def units(self) -> Fold:
        """Centimetres and metres, or inches and yards."""
        desk = self.desk
        return fold(
            desk,
            lambda plan: f"Shown in {'inches' if plan.project.units == 'in' else 'centimetres'}",
            lambda: workbook.units_form(desk),
        )
