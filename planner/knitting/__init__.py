"""Knitting: with work on the needles.

marking       rows marked and taken back, and what happens in mid-row
stretches     rows worth reading before their turn
sitting       where to stop, and what to have ready until then
hours         how long the rows to come take, learnt from those marked
progress      what is left on each supply, and whether the yarn will last
comparison    planned against used
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.knitting.comparison import (
        balls_before_and_after,
        before_and_after,
        by_yarn,
        comparison_in_words,
        most_useful_next,
        planned_against_used,
        planned_interval,
    )
    from planner.knitting.hours import (
        LEAST_ROWS,
        TimeLeft,
        rows_tonight,
        time_in_words,
        time_left,
    )
    from planner.knitting.marking import (
        Mark,
        check_supply,
        free_notes,
        hanging_parts,
        note_in_words,
        noted_now,
        notes_about,
        place_in_words,
        row_notes,
        run_in_words,
        taken_back_to,
        taken_out,
        what_comes_undone,
        worked_up_to,
    )
    from planner.knitting.progress import (
        YarnByRun,
        YarnLasts,
        how_yarns_last,
        left_on_supplies,
        will_it_last,
        will_yarns_last,
        yarn_used,
    )
    from planner.knitting.sitting import (
        A_SITTING,
        GOOD_STOP,
        Sitting,
        Wanted,
        end_of_sitting,
        good_rows_to_stop,
        is_begun,
        ready_for_sitting,
        sitting_now,
    )
    from planner.knitting.stretches import (
        Stretch,
        stretches_to_read,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
