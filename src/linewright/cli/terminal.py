"""What the commands write: pages, JSON, faults in the user's words, signs of life; and their exit codes."""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import typer

from linewright.errors import LineFileError, LinewrightError
from linewright.findings import Finding
from linewright.handover.subjects import must_be_checked
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation

HOLDS: Final = 0
FAILS: Final = 1
WRONG_INPUT: Final = 2
OUR_FAULT: Final = 3
INTERRUPTED: Final = 130
NOBODY_READS: Final = 141

# How finely a bar is told of work whose amount is known only once it has begun.
PERMILLE: Final = 1000

# How a page is written where the terminal knows ASCII alone; any other sign becomes a question mark.
_PLAIN: Final = dict(zip("²³·×±≤≥−–μµ", ("2", "3", "*", "x", "+/-", "<=", ">=", "-", "-", "u", "u"), strict=True))


def exit_code(findings: tuple[Finding, ...], unchecked_binds: bool = True) -> int:
    """1 where a finding fails or, if unchecked binds, a row of strength, power or safety is not checked; else 0."""
    fails = any(finding.verdict == "fails" for finding in findings)
    return FAILS if fails or (unchecked_binds and must_be_checked(findings)) else HOLDS


@contextlib.contextmanager
def faults_told(as_json: bool) -> Iterator[None]:
    """Turn what the user can mend into one line a fault on stderr (or JSON on stdout) and exit code 2."""
    try:
        yield
    except LinewrightError as problem:
        if as_json:
            print_json({"errors": _errors(problem)})
        else:
            say(str(problem))
        raise typer.Exit(WRONG_INPUT) from None


def _errors(problem: LinewrightError) -> list[dict[str, Any]]:
    if isinstance(problem, LineFileError):
        return [fault.as_dict() for fault in problem.faults]
    return [{"file": None, "line": None, "column": None, "found": str(problem), "allowed": None}]


def show(
    evaluation: Evaluation,
    as_json: bool,
    data: Callable[[Evaluation], dict[str, Any]],
    page: Callable[[Evaluation], str],
) -> None:
    if as_json:
        print_json(data(evaluation))
    else:
        print_text(page(evaluation))


def hand_out(text: str, out: str | None) -> None:
    if out is None:
        print_text(text)
        return
    from linewright.handover.files import write_new_file

    write_new_file(Path(out), text)


def say(words: str) -> None:
    """A line on stderr; nothing where it is closed, which Python tells by having no such stream."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            sys.stderr.write(f"{words}\n")


def print_text(text: str) -> None:
    if sys.stdout is None:
        say("cannot write the output: standard output is closed")
        raise typer.Exit(WRONG_INPUT)
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        raise typer.Exit(NOBODY_READS) from None
    except OSError as problem:  # a full disk behind a redirection
        say(f"cannot write the output: {problem.strerror}")
        raise typer.Exit(WRONG_INPUT) from None


def print_json(value: Any) -> None:
    from linewright.handover.files import json_text

    encoding = None if sys.stdout is None else sys.stdout.encoding
    ascii_only = codecs.lookup(encoding or "ascii").name != "utf-8"
    print_text(json_text(value, ascii_only))


def _on_a_terminal() -> bool:
    return sys.stderr is not None and sys.stderr.isatty()


@contextlib.contextmanager
def progress_sign(words: str) -> Iterator[None]:
    """A sign of life on a terminal; nothing in a pipe."""
    if not _on_a_terminal():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(words):
        yield


@contextlib.contextmanager
def progress_bar(words: str, runs: int) -> Iterator[Callable[[int], None] | None]:
    """A bar of finished runs on a terminal; nothing in a pipe. The first use after an installation compiles."""
    if not _on_a_terminal():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(f"{words} (the first time: half a minute more, to compile)", total=runs)
        yield lambda finished: bar.update(task, completed=finished)


@contextlib.contextmanager
def progress_stages() -> Iterator[Callable[[str, int, int], None] | None]:
    """What is being done and how much of it is, on a terminal; nothing in a pipe."""
    if not _on_a_terminal():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading the line", total=None)
        yield lambda words, done, of: bar.update(task, description=words, completed=done, total=of if of > 1 else None)


def make_printable() -> None:
    """Let no sign on a page stop the program, whatever the terminal can show."""
    codecs.register_error("linewright", _plain_sign)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="linewright")


def _plain_sign(problem: UnicodeError) -> tuple[str, int]:
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    signs = problem.object[problem.start : problem.end]
    return "".join(_PLAIN.get(sign, "?") for sign in signs), problem.end


def tell_our_fault(problem: Exception) -> int:
    if os.environ.get("LINEWRIGHT_DEBUG") == "1":
        import traceback

        traceback.print_exc()
    words = " ".join(str(problem).split())
    say(
        f"linewright {__version__}: a fault of the program, not yours: {type(problem).__name__}: {words}; please "
        "report it with your line file (LINEWRIGHT_DEBUG=1 shows where it happened)"
    )
    return OUR_FAULT


def flushed(code: Any) -> Any:
    """Empty the streams now: a reader that has gone away must not raise when Python shuts down."""
    for stream in (sys.stdout, sys.stderr):
        if stream is None:  # closed before the program began
            continue
        try:
            stream.flush()
        except (OSError, ValueError):
            with contextlib.suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
            code = NOBODY_READS
    return code
