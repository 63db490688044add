"""Folder: a piece as plain files that a spreadsheet and git both like.

files         text and tables read forgivingly, written whole, under a lock
project       a piece's folder, read into a Project and written back
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
        read_grid,
        read_table,
        read_text,
        replace_bytes,
        replace_text,
    )
    from planner.folder.project import (
        chart_csv,
        keep_choice,
        log_measurement,
        log_progress,
        open_project,
        read_chart,
        read_choices,
        read_log,
        read_measurements,
        read_progress,
        read_settings,
        read_yarns,
        save_chart,
        save_settings,
        save_yarns,
        start_piece,
    )
else:
    __getattr__, __dir__, __all__ = open_door(
        __name__,
        {
            "files": (
                "append_row",
                "csv_line",
                "decoded",
                "grid_of",
                "locked",
                "read_grid",
                "read_table",
                "read_text",
                "replace_bytes",
                "replace_text",
            ),
            "project": (
                "chart_csv",
                "keep_choice",
                "log_measurement",
                "log_progress",
                "open_project",
                "read_chart",
                "read_choices",
                "read_log",
                "read_measurements",
                "read_progress",
                "read_settings",
                "read_yarns",
                "save_chart",
                "save_settings",
                "save_yarns",
                "start_piece",
            ),
        },
    )
