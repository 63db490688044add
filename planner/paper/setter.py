"""The setter: pages set by Typst from a template of this room and what it is to say.

What is set is data, never markup: no name can be taken for an instruction. The same data gives the
same bytes on every computer.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typst

from planner.paper.signs import font_folder

TEMPLATES = Path(__file__).parent


def set_pages(template: str, content: Mapping[str, Any]) -> bytes:
    """A PDF, tagged so that it can be read aloud, of the content set as the template says."""
    # Neither the fonts of this computer nor the setter's own: every machine sets the same.
    fonts = typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_folder())],
    )
    return typst.compile(
        TEMPLATES / template,
        None,
        TEMPLATES,
        fonts,
        sys_inputs={"content": json.dumps(content, ensure_ascii=False, sort_keys=True)},
        format="pdf",
        # ISO 14289-1.
        pdf_standards="ua-1",
    )
