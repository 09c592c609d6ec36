"""The command line: `main` runs it and leaves with its exit code."""

from __future__ import annotations

import sys
from typing import Any, NoReturn

from linewright.cli.commands import app
from linewright.cli.terminal import HOLDS, INTERRUPTED, exit_code, flushed, make_printable, say, tell_our_fault

__all__ = ["app", "exit_code", "main"]


def main() -> NoReturn:
    """Run the command line and leave with its exit code; no traceback reaches the user."""
    make_printable()
    try:
        app()
        code: Any = HOLDS
    except SystemExit as leave:
        code = leave.code
    except KeyboardInterrupt:
        code = INTERRUPTED
    except Exception as problem:
        code = tell_our_fault(problem)
    if code == INTERRUPTED:
        say("interrupted")
    sys.exit(flushed(code))
