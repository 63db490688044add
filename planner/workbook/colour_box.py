"""A box for a colour, typed or picked, of which both parts say their label to a screen reader.

ipywidgets has one, but leaves its patch of colour nameless. The page's side stands in
colour_box.mjs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets

from planner.colour import hex_of


class ColourBox(anywidget.AnyWidget):
    """A box for a colour, #rrggbb, to be typed or picked."""

    _esm = Path(__file__).with_name("colour_box.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode().tag(sync=True)
    value = traitlets.Unicode("#b8b8b8").tag(sync=True)

    @traitlets.validate("value")
    def _as_hex(self, proposal: Any) -> str:
        try:
            return hex_of(proposal["value"])
        except ValueError:
            raise traitlets.TraitError(f"{proposal['value']!r} is no colour") from None
