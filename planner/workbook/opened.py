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

from planner import workbook
from planner.workbook import (
    beside_the_card,
    chart_and_gauge,
    choice_headings,
    finishing,
    handing_on,
    headings,
    mending,
    written_out,
    yarns,
)
from planner.workbook.desk import Desk, open_desk
from planner.workbook.folds import Fold, SideBySide, fold
from planner.workbook.panes import Pane
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
        return workbook.Painting(self.desk)

    def yarns(self) -> Fold:
        """The yarns, each with what its band says and what is in hand."""
        desk = self.desk
        return fold(desk, yarns.yarns_title, lambda: yarns.yarns_form(desk))

    def gauge(self) -> Fold:
        """The gauge as it was counted, and the size that it gives."""
        desk = self.desk
        return fold(
            desk, chart_and_gauge.gauge_title, lambda: chart_and_gauge.gauge_and_height_form(desk)
        )

    def how_it_is_worked(self) -> Fold:
        """Flat or in rounds, and which way the rows go."""
        desk = self.desk
        return fold(
            desk, chart_and_gauge.how_title, lambda: chart_and_gauge.construction_form(desk)
        )

    def chart_from_file(self) -> Fold:
        """A chart from a picture, a spreadsheet or written rows."""
        desk = self.desk
        title = "A chart from a file: picture, PDF, spreadsheet or written rows"
        return fold(desk, title, lambda: workbook.load_form(desk))

    def chart_into_a_piece(self) -> Fold:
        """The chart set into a larger piece, repeated, mirrored, or made whole from a half."""
        desk = self.desk
        title = "Into a piece: set into a larger one, repeated, mirrored, made whole"
        return fold(desk, title, lambda: chart_and_gauge.place_form(desk))

    def check_before_cast_on(self) -> Fold:
        """What in chart, yarns and gauge is worth a second look."""
        desk = self.desk
        return fold(desk, chart_and_gauge.check_title, lambda: chart_and_gauge.check_form(desk))

    def what_it_comes_to(self) -> Fold:
        """The plan in a few lines."""
        desk = self.desk
        return fold(
            desk, chart_and_gauge.comes_to_title, lambda: chart_and_gauge.comes_to_form(desk)
        )

    def chart_to_a_file(self) -> Fold:
        """The chart and the tables of the plan, written into the piece's folder."""
        desk = self.desk
        title = "Out again: spreadsheet, picture, written rows, all tables"
        return fold(desk, title, lambda: written_out.out_form(desk))

    def quick_sum(self) -> Fold:
        """How long a piece to wind for a single motif, without a chart."""
        desk = self.desk
        title = "A quick sum for a single motif, without a chart"
        return fold(desk, title, lambda: chart_and_gauge.quick_sum_form(desk))

    # ---- notebook 2: swatch and calibrate

    def measure(self) -> widgets.Widget:
        """What is known of the knitter's hand, and the form to measure."""
        desk = self.desk
        return SideBySide([workbook.hand_form(desk), workbook.measure_form(desk)])

    def measurements(self) -> Fold:
        """All that was measured."""
        desk = self.desk
        return fold(desk, workbook.log_in_words, lambda: workbook.log_pane(desk))

    def measure_next(self) -> Fold:
        """Which measurement would take most off the lengths to wind."""
        desk = self.desk
        return fold(desk, workbook.advice_in_words, lambda: workbook.advice_pane(desk))

    def plan_anew(self) -> Fold:
        """What lengths go by, and what changes if they go by what was measured."""
        desk = self.desk
        return fold(desk, workbook.lengths_in_words, lambda: workbook.apply_form(desk))

    def planned_against_used(self) -> Fold:
        """What supplies took, beside what was planned for them."""
        desk = self.desk
        return fold(desk, workbook.used_in_words, lambda: workbook.used_form(desk))

    def yarn_by_weight(self) -> Fold:
        """Metres from grams."""
        desk = self.desk
        return fold(desk, "Yarn by weight", lambda: workbook.weigh_form(desk))

    def swatch_from_chart(self) -> Fold:
        """A swatch cut from where the chart is hardest, as a piece of its own."""
        desk = self.desk
        return fold(desk, workbook.swatch_in_words, lambda: workbook.swatch_form(desk))

    def how_worked_out(self) -> Fold:
        """The figures behind what is known of the hand, and where they come from."""
        desk = self.desk
        return fold(desk, "How this is worked out", lambda: workbook.worked_out_form(desk))

    # ---- notebook 3: yarn plan

    def yarn_plan(self) -> widgets.Widget:
        """What the piece takes; the strands on the chart, and beside them what to wind."""
        return workbook.plan_form(self.desk, self.strand_map(), self.winding_list())

    def strand_map(self) -> Pane:
        """The chart by strands, each in a shade of its yarn."""
        return workbook.strand_map(self.desk)

    def winding_list(self) -> Pane:
        """What to wind, and what is fed from the ball, in the order of need."""
        return workbook.what_to_wind(self.desk)

    def carrying(self) -> Fold:
        """How far yarns may be carried."""
        desk = self.desk
        return fold(desk, headings.carrying, lambda: workbook.carrying_form(desk))

    def ways_of_holding(self) -> Fold:
        """How the yarns are held: the knitter's ways, section by section, and her own choices."""
        desk = self.desk
        return fold(desk, headings.ways_of_holding, lambda: workbook.holding_form(desk))

    def how_much_yarn(self) -> Fold:
        """The multiplier, tails and margin."""
        desk = self.desk
        return fold(desk, headings.how_much_yarn, lambda: workbook.how_much_form(desk))

    def order_of_strands(self) -> Fold:
        """Which strand lies where, row by row."""
        desk = self.desk
        return fold(desk, headings.ORDER, lambda: workbook.strand_order_form(desk))

    def lengths(self) -> Fold:
        """What makes up the length of each strand."""
        desk = self.desk
        return fold(desk, headings.lengths, lambda: workbook.lengths_pane(desk))

    def how_full(self) -> Fold:
        """How many lengths hang in each row."""
        desk = self.desk
        return fold(desk, headings.fullest_rows, lambda: workbook.how_full_pane(desk))

    def ends(self) -> Fold:
        """Where each end is sewn in."""
        desk = self.desk
        return fold(desk, headings.ends, lambda: workbook.where_sewn_in(desk))

    def shopping_list(self) -> Fold:
        """What to buy."""
        desk = self.desk
        return fold(desk, headings.shopping, lambda: workbook.shopping_pane(desk))

    def with_other_pieces(self) -> Fold:
        """Other pieces from the same purse of yarn: what to buy for all, what to wind for this."""
        return workbook.together_fold(self.desk)

    def how_to_wind(self) -> Fold:
        """How each kind of supply is wound, and the winding list in full."""
        desk = self.desk
        return fold(desk, headings.winding, lambda: workbook.winding_pane(desk))

    def on_paper(self) -> Fold:
        """The plan as a PDF to print, and the row cards for a phone."""
        desk = self.desk
        return fold(desk, headings.ON_PAPER, lambda: workbook.sheet_form(desk))

    # ---- notebook 4: row by row

    def card(self) -> widgets.Widget:
        """The card of the row on the needles, with the button that marks it worked."""
        return workbook.row_form(self.desk)

    def in_the_row(self) -> Fold:
        """What happens in the row on the needles, noted where it happens."""
        desk = self.desk
        return fold(desk, beside_the_card.notes_made, lambda: workbook.in_row_form(desk))

    def mend(self) -> Fold:
        """A wrong stitch or a hole: touched on the chart, with what each cure of it costs."""
        desk = self.desk
        return fold(desk, mending.mending_title, lambda: mending.mending_form(desk))

    def will_it_last(self) -> Fold:
        """Whether what is on the needles lasts, and the yarn in hand."""
        desk = self.desk
        return fold(desk, beside_the_card.lasting, lambda: workbook.lasts_pane(desk))

    def rows_worked(self) -> Fold:
        """Several rows marked as worked, or taken back."""
        desk = self.desk
        return fold(desk, beside_the_card.rows_marked, lambda: workbook.several_rows_form(desk))

    def where_strands_lie(self) -> Fold:
        """The order of the strands in the rows round the needles."""
        desk = self.desk
        return fold(desk, beside_the_card.order_around, lambda: workbook.order_pane(desk))

    def balls_on_the_table(self) -> Fold:
        """Where the balls lie, and what to do about their yarns."""
        desk = self.desk
        return fold(desk, beside_the_card.balls_now, lambda: workbook.balls_form(desk))

    def evenings(self) -> Fold:
        """Good rows to stop at, and those with most to do."""
        desk = self.desk
        return fold(desk, beside_the_card.evening, lambda: workbook.stops_pane(desk))

    def worth_reading(self) -> Fold:
        """Cards to read before their turn."""
        desk = self.desk
        return fold(desk, beside_the_card.worth_reading, lambda: workbook.stretches_pane(desk))

    def changing_the_plan(self) -> Fold:
        """Limits to change with work on the needles, and what that changes."""
        return workbook.changes_fold(self.desk)

    def ends_now(self) -> Fold:
        """The ends that can be sewn in by now."""
        desk = self.desk
        return fold(desk, beside_the_card.ends_by_now, lambda: workbook.ends_pane(desk))

    def pattern(self) -> Fold:
        """The chart in words, as a pattern writes it."""
        desk = self.desk
        return fold(desk, beside_the_card.as_written, lambda: workbook.pattern_pane(desk))

    # ---- notebook 5: choices

    def choices(self) -> widgets.Widget:
        """The chart with the offers on it."""
        return workbook.offers_form(self.desk)

    def what_is_offered(self) -> Fold:
        """How far is looked for offers, what an end costs, and where the round begins."""
        desk = self.desk

        def make() -> widgets.Widget:
            return workbook.Form([workbook.weighing_form(desk), workbook.start_form(desk)])

        return fold(desk, choice_headings.what_is_offered, make)

    def embroidery(self) -> Fold:
        """What is embroidered, and how."""
        desk = self.desk
        return fold(
            desk, choice_headings.what_is_embroidered, lambda: workbook.embroidery_pane(desk)
        )

    def ceiling(self) -> Fold:
        """What it takes never to have more at once than so many."""
        desk = self.desk
        return fold(desk, choice_headings.most_at_once, lambda: workbook.ceiling_form(desk))

    def limits_by_price(self) -> Fold:
        """What carrying farther saves, and what it costs."""
        desk = self.desk
        return fold(desk, choice_headings.limits_now, lambda: workbook.tradeoff_form(desk))

    def bobbins(self) -> Fold:
        """Which bobbin carries which piece when."""
        desk = self.desk
        return fold(desk, choice_headings.on_bobbins, lambda: workbook.bobbins_form(desk))

    def left_overs(self) -> Fold:
        """Both ends of one ball, splices, and left-overs that serve again."""
        desk = self.desk
        title = "Less to wind: both ends of a ball, left-overs, splices"
        return fold(desk, title, lambda: workbook.savings_pane(desk))

    def basket(self) -> Fold:
        """Part balls and left-overs: which strand lies on which, and what is left to buy."""
        desk = self.desk
        return fold(desk, choice_headings.in_the_basket, lambda: workbook.basket_form(desk))

    def buying(self) -> Fold:
        """Balls for one piece or several, with their chances, and dye lots."""
        desk = self.desk
        return fold(desk, choice_headings.to_buy, lambda: workbook.buying_form(desk))

    def summary(self) -> Fold:
        """What the plan comes to, in a few sentences."""
        desk = self.desk
        return fold(desk, choice_headings.comes_to, lambda: desk.words(lambda plan: plan.summary()))

    # ---- notebook 6: finish and hand on

    def finishing(self) -> widgets.Widget:
        """What is left to do off the needles: the size to block to, ends, embroidery."""
        return workbook.finishing_form(self.desk)

    def sew_in(self) -> Fold:
        """The ends, area by area, with where to run each, to be ticked."""
        desk = self.desk
        return fold(desk, finishing.ends_title, lambda: workbook.EndBoxes(desk))

    def tighten(self) -> Fold:
        """Long borders, new strands and middle starts, where stitches may lie loose."""
        desk = self.desk
        return fold(desk, finishing.tighten_title, lambda: desk.pane(finishing.tighten_html))

    def pick_up(self) -> Fold:
        """Stitches to pick up along an edge, by colour."""
        desk = self.desk
        return fold(desk, finishing.pick_up_title, lambda: finishing.pick_up_form(desk))

    def seams(self) -> Fold:
        """Where two edges meet colour to colour."""
        desk = self.desk
        return fold(desk, finishing.seams_title, lambda: finishing.seams_form(desk))

    def finishing_on_paper(self) -> Fold:
        """The finishing page as a PDF to print and to tick."""
        desk = self.desk
        title = "On paper: the finishing page to print and to tick"
        return fold(desk, title, lambda: workbook.finishing_page_form(desk))

    def pattern_for_others(self) -> Fold:
        """The piece as a pattern for others, with nothing private in it."""
        desk = self.desk
        title = handing_on.pattern_in_words
        return fold(desk, title, lambda: workbook.pattern_for_others_form(desk))

    def class_handout(self) -> Fold:
        """A practice piece for a class, with its handout."""
        desk = self.desk
        return fold(desk, handing_on.CLASS, lambda: workbook.class_handout_form(desk))

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
            lambda: workbook.units_form(desk, "lengths in"),
        )
