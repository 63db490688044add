"""Folder: a piece as plain files that a spreadsheet and git both like, and the truth about it.

files         text and tables read forgivingly
settings      piece.toml: how the knitter wants the piece planned
usual         round lengths in the units of the piece
logs          measurements.csv, progress.csv and choices.csv, which only grow
project       the whole folder as a Project: chart.csv, yarns.csv, and the above
transaction   several files written together, or none, wherever it is cut off
merge         what was touched here put into what the folder holds by now
changes       the one way in which a folder is changed
history       what was replaced, kept
chosen        which piece the notebooks open
sets          set.toml: pieces that are knitted from one purse of yarn
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.folder.changes import (
        NO_FOLDER,
        Seen,
        Stamp,
        brought_back,
        change_piece,
        folder_name,
        go_back,
        keep,
        project_of,
        see,
        set_aside,
        stamp_of,
        start_piece,
        start_project,
    )
    from planner.folder.chosen import (
        choose_piece,
        chosen_piece,
    )
    from planner.folder.files import (
        csv_line,
        decoded,
        grid_of,
        read_grid,
        read_table,
        read_text,
    )
    from planner.folder.history import (
        FILES,
        Version,
        note_trouble,
        versions,
    )
    from planner.folder.logs import (
        choices_as_taken,
        next_number,
        read_choices,
        read_log,
        read_measurements,
        read_progress,
        settled,
        with_entry,
        with_measurement,
    )
    from planner.folder.merge import (
        merged,
    )
    from planner.folder.project import (
        chart_csv,
        open_project,
        read_chart,
        read_yarns,
        weights_in,
        weights_text,
    )
    from planner.folder.sets import (
        APART,
        ONE_YARN,
        SET,
        TOGETHER,
        Answer,
        PieceSet,
        SetPiece,
        change_set,
        dissolve_set,
        read_set,
        set_text,
    )
    from planner.folder.settings import (
        read_settings,
    )
    from planner.folder.transaction import (
        cannot_write,
        copy_piece,
        locked_folder,
        write_together,
    )
    from planner.folder.usual import (
        with_units,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
