"""Sliders: a number between two ends, moved by hand or by keys, with a label that is read out.

ipywidgets has sliders, but leaves their handles nameless. The page's side stands in slider.mjs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets


class _AnySlider(anywidget.AnyWidget):
    """A slider; a value beyond its ends becomes the nearer end."""

    _esm = Path(__file__).with_name("slider.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode().tag(sync=True)
    min: Any
    max: Any
    value: Any

    @traitlets.validate("value")
    def _within(self, proposal: Any) -> Any:
        return min(max(proposal["value"], self.min), self.max)

    @traitlets.observe("min", "max")
    def _ends_have_changed(self, _: Any) -> None:
        self.value = min(max(self.value, self.min), self.max)


class Slider(_AnySlider):
    """A slider for whole numbers."""

    min = traitlets.Int(1).tag(sync=True)
    max = traitlets.Int(100).tag(sync=True)
    step = traitlets.Int(1).tag(sync=True)
    value = traitlets.Int(1).tag(sync=True)


class FineSlider(_AnySlider):
    """A slider for numbers between the whole ones."""

    min = traitlets.Float(0.0).tag(sync=True)
    max = traitlets.Float(1.0).tag(sync=True)
    step = traitlets.Float(0.05).tag(sync=True)
    value = traitlets.Float(0.5).tag(sync=True)
