"""Plans the yarn of an intarsia piece: strands, lengths, supplies, a winding list and a shopping list.

Nothing heavy is imported until a name is asked for, so that `python3 -m planner` runs on a bare Python.
"""

import importlib

_HOME = {
    "Chart": "chart",
    "Construction": "construction",
    "Gauge": "gauge",
    "CarryLimits": "limits",
    "PlanError": "errors",
    "Multiplier": "multiplier",
    "Project": "project",
    "Yarn": "yarn",
    "make_plan": "plan",
    "open_project": "folder",
    "quick_sum": "quicksum",
    "read_chart": "folder",
    "trace_strands": "strands",
}
__all__ = sorted(_HOME)


def __getattr__(name: str):
    if name in _HOME:
        return getattr(importlib.import_module(f"planner.{_HOME[name]}"), name)
    raise AttributeError(f"planner has no name {name!r}")


def __dir__():
    return sorted([*globals(), *_HOME])
