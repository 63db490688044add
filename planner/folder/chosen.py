"""Which piece was chosen last, remembered for all notebooks in a small file beside the pieces."""

from __future__ import annotations

from pathlib import Path

from planner.errors import PlanError
from planner.folder.files import read_text
from planner.folder.transaction import locked_folder, write_together

CHOSEN = ".chosen-piece"
LONGEST = 4096  # bytes


def choose_piece(data: Path, name: str) -> None:
    """Remember the piece in data/NAME. Raises PlanError where that cannot be written."""
    with locked_folder(data):
        write_together(data, {CHOSEN: f"{name}\n".encode()})


def chosen_piece(data: Path) -> str:
    """The name of the folder of the piece that was chosen last; "" if there is none."""
    try:
        name = read_text(data / CHOSEN, most=LONGEST).strip()
    except PlanError:
        return ""
    # It names a folder in `data`, and nothing elsewhere.
    is_in_data = Path(name).name == name
    return name if is_in_data else ""
