"""The event kernel without its causes, to see what they cost: a copy of its sources with the lines of the marks out."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import linewright.flow.kernel as kernel

NAME: Final = "kernel_without_causes"
_NOTHING_MARKED: Final = "    return np.int64(0)\n"
# File, what stands in it once, and what instead.
_EDITS: Final = (
    ("marks.py", "    number = counters[MARKS]\n", _NOTHING_MARKED + "    number = counters[MARKS]\n"),
    # The luck that it is handed is of the kernel's own class, not of the copy's.
    ("run.py", "is_plain or not isinstance(luck, Luck):", "is_plain:"),
    ("release.py", "    me, ahead, platform = ", _NOTHING_MARKED + "    me, ahead, platform = "),
    ("release.py", "from numba import njit\n", "import numpy as np\nfrom numba import njit\n"),
    ("release.py", '        me["ready_us"] = ready_us\n        me["ready"] = (number << 2) | tag\n', ""),
    ("station.py", '    here["tool"] = (ended << 2) | TOOL_READY\n', ""),
    ("station.py", '    me["ready"] = (ended << 2) | CARRIER_READY\n    me["ready_us"] = ready\n', ""),
    ("station.py", '    state.carrier[carrier]["start"] = waits_for\n', ""),
    ("station.py", "    totals.first_us[row] = min(totals.first_us[row], end)\n", ""),
    ("station.py", '    _note_last(state.counters, me["stop"], ended, end)\n', ""),
)


def run_without_causes(folder: Path) -> Callable[..., Any]:
    """`run_once` of a kernel that sets no marks, its sources in a folder made for them.

    Raises
    ------
    ValueError   A line to take out does not stand in its file once: the kernel has changed, and this must follow.
    """
    package = folder / NAME
    package.mkdir()
    (package / "__init__.py").touch()
    for file in Path(kernel.__file__).parent.glob("[!_]*.py"):
        source = file.read_text("utf-8").replace(kernel.__name__, NAME)
        for name, line, becomes in _EDITS:
            if name == file.name:
                if source.count(line) != 1:
                    raise ValueError(f"{name} has {source.count(line)} times, not once: {line}")
                source = source.replace(line, becomes)
        (package / file.name).write_text(source, "utf-8")
    sys.path.insert(0, str(folder))
    try:
        run_once: Callable[..., Any] = importlib.import_module(f"{NAME}.run").run_once
    finally:
        sys.path.remove(str(folder))
    return run_once
