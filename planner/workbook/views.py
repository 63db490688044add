"""Views: the notebooks of the workbook show a piece, and are never written by JupyterLab.

What they show belongs to the moment, and widgets that are saved are dead the next day. The page
itself saves none of them (.lab/labextensions); whatever else might, the server refuses it. Any
other file is written as ever.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager
from tornado.web import HTTPError

PAGE_CONFIG = Path(__file__).resolve().parents[2] / ".lab" / "page_config.json"
NOT_WRITTEN = (
    "{} belongs to the workbook and is not written: your piece is kept in its folder as you work. "
    "Save the notebook under another name to change it."
)


class NotebooksAsViews(AsyncLargeFileManager):
    """The files as JupyterLab serves them, where the workbook's notebooks are only to be read."""

    def __init__(self, **settings: Any):
        super().__init__(**settings)
        names = json.loads(PAGE_CONFIG.read_text("utf-8"))["workbookNotebooks"]
        self._views = [Path(self.root_dir) / name for name in names]

    async def save(self, model: Any, path: str = "") -> Any:
        """Write a file, unless it is a notebook of the workbook."""
        self._refuse(path)
        return await super().save(model, path)

    async def create_checkpoint(self, path: str) -> Any:
        """Keep a copy of a file; of what is never written there need be none."""
        self._refuse(path)
        return await super().create_checkpoint(path)

    async def restore_checkpoint(self, checkpoint_id: str, path: str) -> Any:
        """Write a file as it was kept, unless it is a notebook of the workbook."""
        self._refuse(path)
        return await super().restore_checkpoint(checkpoint_id, path)

    def _refuse(self, path: str) -> None:
        asked = Path(self._get_os_path(path.strip("/")))
        # One file may be called by several names: a link, or other capitals.
        views = [view for view in self._views if asked.exists() and view.exists()]
        if any(asked.samefile(view) for view in views):
            raise HTTPError(403, NOT_WRITTEN.format(asked.name))
