"""Plans the yarn of an intarsia piece: strands, lengths, supplies, what to wind and what to buy.

Nothing heavy is imported until a name is asked for, so that `python3 -m planner` runs on a bare
Python.
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

__version__ = "2.0"

if TYPE_CHECKING:
    from planner.buying import quick_sum
    from planner.errors import PlanError
    from planner.folder import open_project, read_chart
    from planner.multiplier import Multiplier
    from planner.piece import CarryLimits, Chart, Construction, Gauge, Project, Yarn
    from planner.plan import make_plan
    from planner.strands import trace_strands
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
