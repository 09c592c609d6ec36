"""Linewright plans assembly lines whose parts ride on the carriers of a linear-motor conveyor.

A line file says what the line is to do and what it is built of; the answer says whether it makes its takt, with what
confidence, and which station limits it.

>>> import linewright as lw
>>> lw.__version__.count(".")
2

Everything here loads when it is first used: importing the package alone costs nothing and prints nothing. SI floats go
in and come out; names carry the unit (``travel_m``, ``time_s``). ``docs/glossary.md`` says what each name means.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from linewright.errors import Fault, LineFileError, LinewrightError, Place, SimulationError
from linewright.findings import Finding
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright import checks, flow, layout, line, motion, pictures, planning, traffic
    from linewright.evaluation import Evaluation, evaluate
    from linewright.flow.gridlock import gridlock
    from linewright.flow.run import Run, simulate
    from linewright.line.load import load_line as load
    from linewright.line.model import Line
    from linewright.tables import Table

__all__ = [
    "Evaluation",
    "Fault",
    "Finding",
    "Line",
    "LineFileError",
    "LinewrightError",
    "Place",
    "Run",
    "SimulationError",
    "Table",
    "__version__",
    "checks",
    "evaluate",
    "flow",
    "gridlock",
    "layout",
    "line",
    "load",
    "motion",
    "pictures",
    "planning",
    "simulate",
    "traffic",
]

# Public name -> where it stands. A room is its own module; of a name the module and the name in it.
_LATE: dict[str, tuple[str, str | None]] = {
    "Evaluation": ("linewright.evaluation", "Evaluation"),
    "Line": ("linewright.line.model", "Line"),
    "Run": ("linewright.flow.run", "Run"),
    "Table": ("linewright.tables", "Table"),
    "checks": ("linewright.checks", None),
    "evaluate": ("linewright.evaluation", "evaluate"),
    "flow": ("linewright.flow", None),
    "gridlock": ("linewright.flow.gridlock", "gridlock"),
    "layout": ("linewright.layout", None),
    "line": ("linewright.line", None),
    "load": ("linewright.line.load", "load_line"),
    "motion": ("linewright.motion", None),
    "pictures": ("linewright.pictures", None),
    "planning": ("linewright.planning", None),
    "simulate": ("linewright.flow.run", "simulate"),
    "traffic": ("linewright.traffic", None),
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module 'linewright' has no attribute {name!r}; it has {', '.join(__all__)}")
    module, attribute = _LATE[name]
    found = import_module(module)
    value = found if attribute is None else getattr(found, attribute)
    globals()[name] = value  # the next look-up does not come here
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
