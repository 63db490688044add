"""Waiting: where a plan takes long, a bar says so, and it can be stopped.

While Python works, the page hears what is sent but is not heard. So the bar moves by itself, and
its button asks the server to interrupt the kernel, as JupyterLab's own does. What the bar shows and
how it stops stands in waiting.mjs.
"""

from __future__ import annotations

import time
from pathlib import Path

import anywidget
import traitlets

from planner.errors import PlanError
from planner.piece import Project
from planner.plan import Plan, make_plan

# So long the kernel rests after it has told the page something: what works may leave no time to
# the thread that sends it.
TO_BE_SENT_S = 0.02
# Told oftener, the page would only be kept busy.
TOLD_EVERY_S = 0.25


class Stopped(PlanError):
    """What was asked for was stopped before it was planned."""

    def __init__(self) -> None:
        super().__init__("Stopped; the plan is the one before.")


class Bar(anywidget.AnyWidget):
    """A bar at the foot of the page; it shows itself where the work takes long."""

    _esm = Path(__file__).with_name("waiting.mjs").read_text(encoding="utf-8")
    busy = traitlets.Bool(False).tag(sync=True)
    words = traitlets.Unicode().tag(sync=True)
    # Which share of the work is done; None where nobody knows.
    share = traitlets.Float(None, allow_none=True).tag(sync=True)


class _Telling:
    """What is told to the page while one plan is made; nothing where it is quick."""

    def __init__(self) -> None:
        # When each thing was told last.
        self._told_at: dict[str, float] = {}
        self._begun_at = time.monotonic()

    def say(self, words: str) -> None:
        """Say on the bar what is being done."""
        self._tell("words", words)

    def progress(self, share: float) -> None:
        """Say on the bar which share of the work is done, once it takes its time."""
        # A plan that is made at once would only open and close the bar.
        is_long = time.monotonic() - self._begun_at > TOLD_EVERY_S
        if is_long:
            self._tell("share", share)

    def _tell(self, name: str, value: str | float) -> None:
        now = time.monotonic()
        if now - self._told_at.get(name, -TOLD_EVERY_S) < TOLD_EVERY_S:
            return
        self._told_at[name] = now
        bar = _the_bar()
        with bar.hold_sync():
            bar.busy = True
            setattr(bar, name, value)
        time.sleep(TO_BE_SENT_S)


_bars: list[Bar] = []  # one for the whole page, made when it is needed


def _the_bar() -> Bar:
    if not _bars:
        _bars.append(Bar())
    return _bars[0]


def plan_or_stop(project: Project) -> Plan:
    """The plan for a project; where it takes long a bar says so.

    Raises Stopped.
    """
    telling = _Telling()
    try:
        return make_plan(project, say=telling.say, progress=telling.progress)
    except KeyboardInterrupt:
        raise Stopped from None
    finally:
        for bar in _bars:
            bar.busy, bar.share, bar.words = False, None, ""
