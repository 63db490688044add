"""A button to choose a file with: its name and what is in it go to a function."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget
import traitlets

Taken = Callable[[str, bytes], None]  # what is done with a file: its name, and what is in it


class FileChoice(anywidget.AnyWidget):
    """The button, as choosing.mjs has it; `accept` says which kinds of files are offered."""

    _esm = Path(__file__).with_name("choosing.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode().tag(sync=True)
    accept = traitlets.Unicode().tag(sync=True)

    def __init__(self, description: str, accept: str, take: Taken):
        super().__init__(description=description, accept=accept)
        self.take = take
        self.on_msg(self._chosen)

    def _chosen(self, _: Any, content: dict[str, Any], buffers: list[Any]) -> None:
        # A message of another kind, or one that lost its file on the way, is nobody's choice.
        if "name" in content and len(buffers) == 1:
            try:
                self.take(str(content["name"]), bytes(buffers[0]))
            finally:
                self.send({"read": content["name"]})
