"""Folder: a piece as plain files that a spreadsheet and git both like.

files         text and tables read forgivingly, written whole, under a lock
settings      piece.toml: how the knitter wants the piece planned
usual         lengths that piece.toml need not say, round in the units of the piece
logs          measurements.csv, progress.csv and choices.csv, which only grow
project       the whole folder as a Project: chart.csv, yarns.csv, and the above
transaction   several files written together, or none, wherever it is cut off
merge         what was touched here put into what the folder holds by now
history       what was replaced, kept
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.folder.files import (
        append_row,
        csv_line,
        decoded,
        grid_of,
        locked,
        made_folder,
        read_grid,
        read_table,
        read_text,
        replace_bytes,
        replace_text,
    )
    from planner.folder.logs import (
        keep_choice,
        log_measurement,
        log_progress,
        read_choices,
        read_log,
        read_measurements,
        read_progress,
    )
    from planner.folder.project import (
        chart_csv,
        open_project,
        read_chart,
        read_yarns,
        save_chart,
        save_yarns,
        start_piece,
        weights_in,
        weights_text,
    )
    from planner.folder.settings import (
        read_settings,
        save_settings,
    )
    from planner.folder.usual import (
        with_units,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
