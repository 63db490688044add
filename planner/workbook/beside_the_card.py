"""Notebook 4, what folds away beside the card: each heading says how things stand."""

from __future__ import annotations

import html
from collections.abc import Sequence
from itertools import groupby
from typing import Any

import numpy as np

from planner import pictures
from planner.buying import LASTS
from planner.charts import write_rows
from planner.finishing import LeftEnd, ends_to_run, how_to_run, how_to_sew, not_there_yet
from planner.knitting import (
    A_SITTING,
    LEAST_ROWS,
    before_and_after,
    free_notes,
    how_yarns_last,
    noted_now,
    rows_tonight,
    sitting_now,
    stretches_to_read,
    time_in_words,
    time_left,
    will_it_last,
    will_yarns_last,
)
from planner.piece import Entry, rows_worked
from planner.plan import Plan
from planner.supplies import NOT_KNOWN, yarns_not_known
from planner.units import counted, listed, stretches
from planner.workbook.asking import asking
from planner.workbook.basket import others_html
from planner.workbook.card import card_html
from planner.workbook.common import limits_form
from planner.workbook.desk import Desk, pictured, unless_same
from planner.workbook.fields import whole
from planner.workbook.folds import Fold, fold
from planner.workbook.on_the_table import advice_of
from planner.workbook.panes import Form, Pane, lines_html, picture_html, table_html
from planner.workbook.results import of_yarns
from planner.workbook.row_by_row import rows_to_stop

PICTURED = 8  # rows in the picture of the order of strands
BUSIEST = 6  # rows that are named as those with most to do
MOST_NAMED = 4  # supplies that a heading names
NO_BALLS = "no balls noted in hand: tell in notebook 1, Yarns"
IN_HAND = ("in_hand", "left_likely")  # the columns that go by what is in hand, of any unit
# How each kind of end is told.
HANDS = "Long rows tire hands and wrists: take breaks, and for pain see a professional."
WHAT_IS_KNITTED_STAYS = (
    "What is knitted stays. Change a limit here, or the chart above the needles in notebook 1: the "
    "plan is then the best that can follow from the yarns as they hang."
)
AN_EVENING = 60  # minutes
NOT_TIMED = (
    "Mark each {word} when it is worked: once {least} are timed, this says how many hours are left."
)
FOUR_TIMES_IN_FIVE = (
    "Four times in five it comes out in that range. Pauses of more than 45 minutes are left out."
)
WITHOUT_A_CLOCK = (
    "What is to be wound and laid out, beside the card, goes to {word} {until}: it is listed for "
    "up to {most} {word}s at a time, whatever the clock says, and anew when they are worked."
)
TO_BE_SAFE = "to be safe the shopping list has {} of {}"
STILL_NEEDED = (
    "Still needed: the stitches to come and their tails, as is likely; no swatch, nothing to spare."
)


def _done(plan: Plan) -> int:
    """How many rows are worked."""
    return rows_worked(plan.project.progress)


def _quiet(words: str) -> str:
    return f'<p class="plan-note">{html.escape(words)}</p>'


# ---- will it last?


def lasting(plan: Plan) -> str:
    """Whether what is on the needles lasts, and the yarn in hand; those named that may not."""
    supplies = will_it_last(plan, plan.project.progress)
    short = supplies.strand[supplies.what_to_do != ""].tolist()
    yarns = how_yarns_last(plan, plan.project.progress)
    not_noted = _no_balls_noted(plan)
    unlikely = [each.letter for each in yarns if not each.is_likely]
    scarce = [letter for letter in unlikely if letter not in not_noted]
    told = []
    if short:
        told.append(f"look at {_named(short)}")
    if scarce:
        told.append(f"of yarn {_named(scarce)} too little may be in hand")
    if not_noted:
        told.append(f"{of_yarns(not_noted)}: {NO_BALLS}")
    unknown = yarns_not_known(plan.needed)
    if unknown:
        told.append(f"yarn in hand of {of_yarns(unknown)}: {NOT_KNOWN}")
    told = told or ["as far as can be told, yes"]
    # Nobody is to read here that all is well, and on the list that there is something to buy.
    spoken_of = {*scarce, *not_noted}
    listed = [each for each in plan.needed if each.to_buy and each.yarn.letter not in spoken_of]
    if listed:
        balls = counted(sum(each.to_buy or 0 for each in listed), "ball")
        told.append(TO_BE_SAFE.format(balls, _named([each.yarn.letter for each in listed])))
    return f"Will it last: {'; '.join(told)}"


def _no_balls_noted(plan: Plan) -> list[str]:
    """The yarns whose balls are known in length, and of which none is noted in hand."""
    known = [each.yarn for each in plan.needed if each.to_buy is not None]
    return [yarn.letter for yarn in known if not yarn.balls]


def _named(names: Sequence[str]) -> str:
    """Names, if they are few, else how many."""
    return ", ".join(names) if len(names) <= MOST_NAMED else f"{len(names)} of them"


def lasts_html(plan: Plan, log: Sequence[Entry]) -> str:
    """Whether what is on the needles lasts, and what is in hand of each yarn."""
    supplies, yarns = will_it_last(plan, log), plan.project.all_yarns
    on_needles = "<p>No supply is on the needles now.</p>"
    # A column in which nothing stands says nothing.
    says_nothing = supplies.isna() | (supplies == "")
    if len(supplies):
        on_needles = table_html(supplies.loc[:, ~says_nothing.all()], yarns=yarns)
    in_hand = will_yarns_last(plan, log)
    # Where nothing is known of what is in hand, nothing is said of whether it will do.
    chance = in_hand.chance_it_lasts_percent.astype(object)
    is_unknown = in_hand.yarn.isin(yarns_not_known(plan.needed))
    is_not_noted = in_hand.yarn.isin(_no_balls_noted(plan))
    chance = chance.mask(is_unknown, "not known").mask(is_not_noted, NO_BALLS)
    in_hand = in_hand.assign(chance_it_lasts_percent=chance)
    # Nothing is left of what nobody has noted.
    goes_by_stock = [column for column in in_hand if column.startswith(IN_HAND)]
    in_hand.loc[is_not_noted, goes_by_stock] = np.nan
    return on_needles + table_html(in_hand, yarns=yarns) + _quiet(STILL_NEEDED)


def lasts_pane(desk: Desk) -> Form:
    """Whether what is on the needles lasts, what is in hand, and where that is told otherwise."""
    lasts = desk.pane(lambda plan: lasts_html(plan, plan.project.progress))
    # Lengths are fitted to what is in hand, which takes its time.
    others = desk.pane(lambda plan: others_html(plan, LASTS), slow=True)
    return Form([lasts, others])


# ---- the row, and rows


def notes_made(plan: Plan) -> str:
    """How many notes there are, and how many of them about the row on the needles."""
    log, word = plan.project.progress, plan.traced.how.row_word
    noted = noted_now(log)
    others = sum(each not in noted for each in free_notes(log))
    told = [f"{len(noted)} in this {word}"] if noted else []
    told += [f"{others} about other {word}s"] if others else []
    return f"Notes, and what happens in the {word}: {', '.join(told) or 'none'}"


def rows_marked(plan: Plan) -> str:
    """How many rows are worked."""
    rows, word = len(plan.cards), plan.traced.how.row_word
    return f"{word.capitalize()}s worked: {_done(plan)} of {rows}"


def rows_around(plan: Plan) -> tuple[int, int]:
    """The rows, from 1, in the picture of the order of strands."""
    rows = len(plan.cards)
    # What lies below the needles shows where the yarns come from.
    first = max(1, min(_done(plan) - 2, rows - PICTURED + 1))
    return first, min(first + PICTURED - 1, rows)


def order_around(plan: Plan) -> str:
    """Which rows the picture of the order of strands shows."""
    first, last = rows_around(plan)
    return f"Where the strands lie: {plan.traced.how.row_word}s {first} to {last}"


def order_now_html(plan: Plan) -> str:
    """A picture of the order of the strands from two rows below the needles on."""
    first, last = rows_around(plan)
    done = _done(plan)
    now = done + 1 if done < len(plan.cards) else None
    marked = f", row {now} marked" if now else ""
    figure = pictures.draw_strand_order(plan, first, last, now=now)
    return picture_html(figure, f"Rows {first} to {last}{marked}")


def order_pane(desk: Desk) -> Pane:
    """A picture of the order of the strands round the needles."""
    order = unless_same(order_now_html, _order_made_from)
    return desk.pane(order, slow=True)


def _order_made_from(plan: Plan) -> Any:
    """What the picture of the order of the strands is made from, to be compared."""
    return pictured(plan), _done(plan)


# ---- evenings


def busiest_rows(plan: Plan) -> list[int]:
    """The rows with most to do; a start or an end counts as much as two borders."""
    rows = plan.rows
    to_do = rows.borders + 2 * (rows.starts + rows.ends)
    return sorted(rows.assign(to_do=to_do).nlargest(BUSIEST, "to_do").row)


def stops_html(plan: Plan) -> str:
    """The good rows to stop at, and those with most to do."""
    stops = rows_to_stop(plan)
    good = html.escape(", ".join(stretches(stops))) or "none"
    busiest, word = busiest_rows(plan), plan.traced.how.row_word
    words = word if len(busiest) == 1 else f"{word}s"
    busy = html.escape(f"{words} {', '.join(stretches(busiest))}")
    to_stop = f"<p>Good {word}s to stop at: after {good}.</p>"
    # A row with much to do may be a good one to stop after: then only its beginning is warned of.
    both = [str(row) for row in busiest if row in stops]
    then = f" After {listed(both)}, once worked, it is good to stop." if both else ""
    most = f"<p>Most to do in {busy}: begin none of these late in an evening.{then}</p>"
    return to_stop + most + _quiet(HANDS)


def evening(plan: Plan) -> str:
    """The row after which this sitting is to end."""
    done, rows, word = _done(plan), len(plan.cards), plan.traced.how.row_word
    if done == rows:
        return f"Evenings: all {word}s are worked"
    sitting = sitting_now(plan, plan.project.progress, rows_to_stop(plan))
    left = time_left(plan, plan.project.progress)
    told = f"{time_in_words(left)} left; " if left else ""
    return f"Evenings: {told}next, stop after {word} {sitting.until}"


def tonight_html(plan: Plan, minutes: int) -> str:
    """The hours left, and how far so many minutes go, to which good row to stop at."""
    done, rows, word = _done(plan), len(plan.cards), plan.traced.how.row_word
    if done == rows:
        return ""
    left = time_left(plan, plan.project.progress)
    if left is None:
        return _quiet(NOT_TIMED.format(word=word, least=LEAST_ROWS))
    learnt = f"learnt from {counted(left.timed, word)}"
    told = f"<p>{time_in_words(left).capitalize()} left, {learnt}.</p>"
    until = rows_tonight(left, done, minutes)
    later = [row for row in rows_to_stop(plan) if row > done]
    good = [row for row in later if row <= until]
    if until == done:
        return f"{told}<p>{minutes} minutes are less than the next {word} takes.</p>"
    far = f"In {minutes} minutes you come to the end of {word} {until}"
    if good and good[-1] < until:
        far += f"; {word} {good[-1]} is a good one to stop after"
    elif good:
        far += ", a good one to stop after"
    elif later:
        far += f"; the next good one to stop after is {word} {later[0]}"
    sitting = sitting_now(plan, plan.project.progress, rows_to_stop(plan))
    laid_out = ""
    if sitting.until not in good[-1:]:
        words = WITHOUT_A_CLOCK.format(word=word, most=A_SITTING, until=sitting.until)
        laid_out = f"<p>{words}</p>"
    return f"{told}<p>{far}.</p>{laid_out}{_quiet(FOUR_TIMES_IN_FIVE)}"


def stops_pane(desk: Desk) -> Form:
    """The hours left, how far tonight, the good rows to stop at, and those with most to do."""
    tonight = asking(
        lambda minutes: tonight_html(desk.plan, minutes),
        desk=desk,
        minutes=whole("minutes tonight", AN_EVENING, least=1, most=600),
    )
    return Form([tonight, desk.pane(stops_html)])


# ---- balls, and cards before their turn


def balls_now(plan: Plan) -> str:
    """How many balls lie on the table in the row on the needles."""
    done, word = _done(plan), plan.traced.how.row_word
    if done == len(plan.cards):
        return f"Balls on the table: all {word}s are worked"
    advice = advice_of(plan)[done]
    # Those that lie there before the row, and those that are laid out for it.
    balls = len({*advice.table, *advice.needle})
    return f"Balls on the table: {balls or 'none'} in {word} {done + 1}"


def worth_reading(plan: Plan) -> str:
    """How many stretches are worth reading before their turn, and where the next one begins."""
    found, word = stretches_to_read(plan), plan.traced.how.row_word
    ahead = [each.first for each in found if each.first > _done(plan)]
    told = counted(len(found), "stretch") if found else "none"
    if ahead:
        told += f", the next from {word} {min(ahead)}"
    return f"Worth reading before their turn: {told}"


def stretches_pane(desk: Desk) -> Pane:
    """Cards worth reading before their turn, each stretch under the reason why."""
    return desk.pane(stretches_html)


def stretches_html(plan: Plan) -> str:
    """Cards worth reading before their turn, folded away under the reason why."""
    yarns, word = plan.project.all_yarns, plan.traced.how.row_word
    parts = []
    for stretch in stretches_to_read(plan):
        cards = plan.cards[stretch.first - 1 : stretch.last]
        shown = "".join(card_html(card, yarns) for card in cards)
        why = f"{stretch.why[0].lower()}{stretch.why[1:]}"
        title = f"{word.capitalize()}s {stretch.first} to {stretch.last}: {why}"
        parts.append(f"<details><summary>{html.escape(title)}</summary>{shown}</details>")
    return "".join(parts) or f"The piece has one yarn from edge to edge in every {word}."


# ---- changing the plan on the way


def changes_html(opened: Plan, plan: Plan) -> str:
    """What is otherwise in a plan than in the one that was opened."""
    # What is as it was needs no attention; strands that are gone stand in no table.
    table = before_and_after(opened, plan)
    changed = table[table.what_to_do != "as it is"]
    gone = [label for label in opened.traced.labels if label not in plan.traced.labels]
    words = f"<p>No longer needed: {html.escape(', '.join(gone))}.</p>" if gone else ""
    if not len(changed):
        return f"{words}Nothing has changed since this notebook was opened."
    return words + table_html(changed)


def changes_fold(desk: Desk) -> Fold:
    """Limits to change on the way, and what has changed since this piece was opened here."""
    opened = desk.plan

    def arrived() -> None:
        nonlocal opened
        opened = desk.plan

    def heading(plan: Plan) -> str:
        table = before_and_after(opened, plan)
        changed = int((table.what_to_do != "as it is").sum())
        told = f"{counted(changed, 'length')} otherwise" if changed else "as it was"
        return f"Changing the plan on the way: {told}"

    def made() -> Form:
        told = Pane(value=_quiet(WHAT_IS_KNITTED_STAYS))
        changes = desk.pane(lambda plan: changes_html(opened, plan))
        return Form([told, limits_form(desk), changes])

    desk.on_arrival(arrived)
    return fold(desk, heading, made)


# ---- ends, and the chart in words


def ends_by_now(plan: Plan) -> str:
    """How many ends can be sewn in by now."""
    left = _left(plan)
    now = sum(not not_there_yet(plan, each) for each in left)
    return f"Ends: {now} of {len(left)} can be sewn in now"


def ends_html(plan: Plan) -> str:
    """The ends that can be sewn in by now, by area; those to come after them, folded away."""
    done, left = _done(plan), _left(plan)
    now = [each for each in left if not not_there_yet(plan, each)]
    later = [each for each in left if not_there_yet(plan, each)]
    word = plan.traced.how.row_word
    words = f"{counted(len(now), 'end')} can be sewn in now, when {word} {done} is worked."
    if not done:
        words = f"No {word} is worked yet, so there are no ends to sew in now."
    parts = [f"<p>{words}</p>", _quiet(how_to_sew(plan)), _ends_by_area(plan, now)]
    if len(later):
        summary = f"<summary>{counted(len(later), 'end')} to come</summary>"
        parts.append(f"<details>{summary}{_ends_by_area(plan, later)}</details>")
    return "".join(parts)


def _left(plan: Plan) -> list[LeftEnd]:
    """The ends that are not marked as sewn in, in notebook 6."""
    return [each for each in ends_to_run(plan) if not each.is_sewn]


def _ends_by_area(plan: Plan, ends: Sequence[LeftEnd]) -> str:
    """Ends as HTML, each colour area with those that lie in it, in the order of its first row."""
    yarns = plan.project.all_yarns
    areas = plan.areas.set_index("area")
    parts = []
    by_area = sorted(ends, key=lambda each: each.end.area)
    for area, in_area in groupby(by_area, key=lambda each: each.end.area):
        first, last = areas.first_chart_row[area], areas.last_chart_row[area]
        rows = f"row {first}" if first == last else f"rows {first} to {last}"
        title = f"{yarns[areas.yarn[area]].title}, chart {rows}"
        lines = (f"{each.number}. {how_to_run(each, plan)}" for each in in_area)
        items = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
        parts.append(f"<p><b>{html.escape(title)}</b></p><ul>{items}</ul>")
    return "".join(parts)


def ends_pane(desk: Desk) -> Pane:
    """The ends that can be sewn in by now, and those to come."""
    return desk.pane(ends_html)


def as_written(plan: Plan) -> str:
    """That a pattern writes the chart in words, too."""
    return f"As a pattern writes it: {counted(len(plan.cards), plan.traced.how.row_word)} in words"


def pattern_html(plan: Plan) -> str:
    """The chart in words, as a pattern writes it."""
    return lines_html(write_rows(plan.project.chart, plan.project.how))


def pattern_pane(desk: Desk) -> Pane:
    """The chart in words, as a pattern writes it."""
    return desk.pane(pattern_html)
