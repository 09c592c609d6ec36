"""The command line: reads its words, calls the one path, prints or writes, and says by its exit code how it went."""

from __future__ import annotations

import codecs
import contextlib
import io
import math
import os
import sys
from collections.abc import Callable, Iterator
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, NoReturn

import typer

from linewright.errors import LineFileError, LinewrightError
from linewright.findings import Finding
from linewright.handover.subjects import must_be_checked
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.planning.gains import Gains

HOLDS: Final = 0
FAILS: Final = 1
WRONG_INPUT: Final = 2
OUR_FAULT: Final = 3
INTERRUPTED: Final = 130
NOBODY_READS: Final = 141

# A run is counted in 48 bits of microseconds.
MOST_HOURS: Final = 78_000
MOST_RUNS: Final = 100_000
# More than any line file may have is told where the line is known.
MOST_CARRIERS: Final = 1_000_000
MOST_SEED: Final = 2**63 - 1
MOST_WORKERS: Final = 1024
# How finely a bar is told of work whose amount is known only once it has begun.
_PERMILLE: Final = 1000

# How a page is written where the terminal knows ASCII alone; any other sign becomes a question mark.
_PLAIN: Final = dict(zip("²³·×±≤≥−–μµ", ("2", "3", "*", "x", "+/-", "<=", ">=", "-", "-", "u", "u"), strict=True))

app = typer.Typer(
    name="linewright",
    help="Plans assembly lines whose parts ride on linear-motor carriers: does the line make its takt?",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _whole(least: int, most: int) -> Callable[[object], int]:
    """Reads a whole number of an option, in the program's own words where it is none."""

    def read(value: object) -> int:
        text = str(value).strip()
        found = int(text) if text.removeprefix("-").isdecimal() else None
        if found is None or not least <= found <= most:
            what = f"{value} is no whole number" if found is None else f"{value} is out of range"
            raise typer.BadParameter(f"{what}; write one from {least} to {most}")
        return found

    return read


class SchemaKind(StrEnum):
    """The files that have a schema."""

    line = "line"
    sheet = "sheet"


LineFile = Annotated[str, typer.Argument(metavar="LINE", help="The line file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for another program.")]


def _version(wanted: bool) -> None:
    if wanted:
        _print(f"linewright {__version__}\n")
        raise typer.Exit(HOLDS)


@app.callback(epilog="Exit codes: 0 nothing fails, 1 something does, 2 the input is wrong, 3 a fault of the program.")
def root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and exit.")
    ] = False,
) -> None:
    """Plans assembly lines whose parts ride on linear-motor carriers: does the line make its takt?"""


@app.command()
def start(
    pattern: Annotated[str, typer.Argument(metavar="PATTERN", help="two-deck, two-lane, ring, to-and-fro or branch.")],
    out: Annotated[str | None, typer.Option("--out", metavar="FILE", help="Write a new file instead.")] = None,
) -> None:
    """Print a commented line file to begin from."""
    with _faults_told(as_json=False):
        from linewright.line.patterns import PATTERNS, pattern_text

        if pattern not in PATTERNS:
            raise LinewrightError(f"there is no pattern {pattern!r}; write one of {', '.join(PATTERNS)}")
        _hand_out(pattern_text(pattern), out)


def _hours(value: object) -> float:
    try:
        hours = float(str(value))
    except ValueError:
        raise typer.BadParameter(f"{value} is no number; write hours, such as 8") from None
    if not (math.isfinite(hours) and hours > 0.0):
        raise typer.BadParameter(f"{hours:g} is not a time above 0 h")
    if hours > MOST_HOURS:
        raise typer.BadParameter(f"{hours:g} h is too long; a run has at most {MOST_HOURS} h")
    return hours


_runs = _whole(1, MOST_RUNS)
_count = _whole(1, MOST_CARRIERS)

Hours = Annotated[float, typer.Option("--hours", metavar="H", parser=_hours, help="Simulated hours of a run.")]
Seed = Annotated[int, typer.Option("--seed", metavar="S", parser=_whole(0, MOST_SEED), help="Seed of all luck.")]
Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", parser=_whole(1, MOST_WORKERS), help="Threads; the result is the same."),
]


@app.command()
def check(
    line: LineFile,
    as_json: AsJson = False,
    run: Annotated[bool, typer.Option("--run", help="Simulate the line too, as rate does.")] = False,
    hours: Annotated[
        float | None, typer.Option("--hours", metavar="H", parser=_hours, help="With --run: hours of a run; 8.")
    ] = None,
    runs: Annotated[
        int | None,
        typer.Option("--runs", metavar="N", parser=_runs, help="With --run: runs, each with its own luck; 20."),
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="S", parser=_whole(0, MOST_SEED), help="With --run: of all luck; 1.")
    ] = None,
) -> None:
    """Check every limit of a line, subject by subject. Exits with 1 if anything fails or if a row of strength, power or
    safety is not checked; some rows need --run."""
    with _faults_told(as_json):
        from linewright.evaluation import evaluate, evaluate_without_run
        from linewright.handover.answer import check_answer
        from linewright.handover.check_page import check_page
        from linewright.line.load import load_line

        stated = [
            f"--{name}" for name, value in (("hours", hours), ("runs", runs), ("seed", seed)) if value is not None
        ]
        if stated and not run:
            raise LinewrightError(f"{stated[0]}: nothing is simulated without --run; add --run, or leave it out")
        loaded = load_line(line)
        if run:
            hours, runs, seed = hours or 8.0, runs or 20, 1 if seed is None else seed
            with _bar(f"Simulating {runs} runs of {hours:g} h", runs) as progress:
                evaluation = evaluate(loaded, hours=hours, runs=runs, seed=seed, progress=progress)
        else:
            evaluation = evaluate_without_run(loaded)
        _show(evaluation, as_json, check_answer, check_page)
        raise typer.Exit(exit_code(evaluation.findings))


@app.command()
def rate(
    line: LineFile,
    hours: Hours = 8.0,
    runs: Annotated[int, typer.Option("--runs", metavar="N", parser=_runs, help="Runs, each with its own luck.")] = 20,
    seed: Seed = 1,
    as_json: AsJson = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Write page, JSON, CSV and the picture into a folder.")
    ] = None,
    workers: Workers = None,
    gains: Annotated[bool, typer.Option("--gains/--no-gains", help="Try what would help; takes longer.")] = True,
) -> None:
    """Simulate a line: whether it makes its takt, with what confidence, what limits it and what would help."""
    with _faults_told(as_json):
        from linewright.evaluation import evaluate
        from linewright.handover.answer import answer
        from linewright.handover.files import check_folder, write_folder
        from linewright.handover.rate_page import rate_page
        from linewright.line.load import load_line

        if out is not None:
            check_folder(out)  # before the work, not after it
        loaded = load_line(line)
        with _bar(f"Simulating {runs} runs of {hours:g} h", runs) as progress:
            evaluation = evaluate(loaded, hours=hours, runs=runs, seed=seed, workers=workers, progress=progress)
        tried = _tried(evaluation, workers) if gains else None
        if out is not None:
            from linewright.handover.rate_folder import rate_files

            with _progress(f"Writing {out}"):
                write_folder(out, rate_files(evaluation, tried))
        _show(evaluation, as_json, partial(answer, gains=tried), partial(rate_page, gains=tried))
        raise typer.Exit(exit_code(evaluation.findings, unchecked_binds=False))


@app.command()
def size(
    line: LineFile,
    fewest: Annotated[
        int | None, typer.Option("--from", metavar="N", parser=_count, help="Fewest carriers; 1 if not given.")
    ] = None,
    most: Annotated[
        int | None,
        typer.Option("--to", metavar="N", parser=_count, help="Most carriers; as many as may be if not given."),
    ] = None,
    hours: Hours = 8.0,
    runs: Annotated[int, typer.Option("--runs", metavar="N", parser=_runs, help="Runs of each count.")] = 10,
    seed: Seed = 1,
    stops: Annotated[bool, typer.Option("--stops", help="Judge the waiting stops too.")] = False,
    as_json: AsJson = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Write page, JSON and CSV into a folder.")
    ] = None,
    workers: Workers = None,
) -> None:
    """Simulate a line with each number of carriers: how many to buy. Exits with 1 if none can meet the takt."""
    with _faults_told(as_json):
        from linewright.handover.files import check_folder, write_folder
        from linewright.handover.size_answer import size_answer, size_files
        from linewright.handover.size_page import size_page
        from linewright.line.load import load_line
        from linewright.planning.size import size_line

        if out is not None:
            check_folder(out)  # before the work, not after it
        loaded = load_line(line)
        with _bar(f"Simulating {runs} runs of {hours:g} h for each count", _PERMILLE) as progress:
            told = None if progress is None else lambda done, total: progress(_PERMILLE * done // total)
            sizing = size_line(
                loaded, fewest, most, hours, runs, seed, judge_stops=stops, workers=workers, progress_of_all=told
            )
        if out is not None:
            write_folder(out, size_files(sizing))
        if as_json:
            _print_json(size_answer(sizing))
        else:
            _print(size_page(sizing))
        wrong = sizing.choices.all_fail or any(row.above_bounds for row in sizing.counts)
        raise typer.Exit(FAILS if wrong else HOLDS)


def _quantity(value: str, what: str, option: str) -> float:
    """A quantity with its unit, as in a line file: a time or a speed, above 0."""
    from linewright.line.units import SPEED, TIME, QuantityFault, parse_quantity

    try:
        found = parse_quantity(value, {"time": TIME, "speed": SPEED}[what])
    except QuantityFault as problem:
        # A bare number is more often meant in minutes than in the unit that the fault would propose.
        example = {"time": "90 min", "speed": "0.1 m/s"}[what]
        raise LinewrightError(f"{option}: {problem.found}; write a {what} with its unit, such as {example}") from None
    if not (math.isfinite(found) and found > 0.0):
        raise LinewrightError(f"{option}: {value} stands here; write a {what} above 0")
    return found


@app.command()
def restart(
    line: LineFile,
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="When the power goes, such as '90 min'.")] = "1 h",
    speed: Annotated[
        str, typer.Option("--speed", metavar="SPEED", help="Of carriers in the recovery, such as '0.1 m/s'.")
    ] = "0.1 m/s",
    seed: Seed = 1,
    as_json: AsJson = False,
) -> None:
    """Stop a line at an instant and let it go on: who stands where, what is rejected, when parts come again."""
    with _faults_told(as_json):
        from linewright.flow.restart import restart as stop_and_go
        from linewright.handover.restart_page import restart_answer, restart_page
        from linewright.line.load import load_line

        at_s, speed_m_s = _quantity(at, "time", "--at"), _quantity(speed, "speed", "--speed")
        if at_s > MOST_HOURS * 3600.0:
            raise LinewrightError(f"--at: {at} stands here; a run has at most {MOST_HOURS} h")
        loaded = load_line(line)
        with _progress("Simulating the stop"):
            found = stop_and_go(loaded, at_s, speed_m_s, seed)
        if as_json:
            _print_json(restart_answer(loaded, found))
        else:
            _print(restart_page(loaded, found))
        raise typer.Exit(HOLDS if found.first_good_s is not None else FAILS)


@app.command()
def prove(
    line: LineFile,
    seed: Seed = 1,
    stops: Annotated[
        int, typer.Option("--stops", metavar="N", parser=_runs, help="Random stops to start again from.")
    ] = 200,
    as_json: AsJson = False,
) -> None:
    """Prove that a line never locks up, or show how it does; judge a shift's moves; stop it and start it again."""
    with _faults_told(as_json):
        from linewright.handover.prove_answer import prove_answer
        from linewright.handover.prove_page import prove_page
        from linewright.line.load import load_line
        from linewright.proof import prove as prove_line

        loaded = load_line(line)
        with _stages() as progress:
            proof = prove_line(loaded, seed, stops, progress=progress)
        if as_json:
            _print_json(prove_answer(proof))
        else:
            _print(prove_page(proof))
        raise typer.Exit(HOLDS if proof.holds else FAILS)


@app.command()
def schema(
    kind: Annotated[SchemaKind, typer.Argument(help="Of which file.")] = SchemaKind.line,
    out: Annotated[str | None, typer.Option("--out", metavar="FILE", help="Write a new file instead.")] = None,
) -> None:
    """Print the JSON Schema of the line file or the conveyor sheet; editors complete and check with it."""
    with _faults_told(as_json=False):
        from linewright.handover.files import json_text
        from linewright.line.schema import line_schema, sheet_schema

        schemas = {SchemaKind.line: line_schema, SchemaKind.sheet: sheet_schema}
        _hand_out(json_text(schemas[kind]()), out)


def _tried(evaluation: Evaluation, workers: int | None) -> Gains | None:
    """What would help, tried; nothing where there is no run."""
    if evaluation.plan is None or evaluation.run is None:
        return None
    from linewright.planning.gains import find_gains

    with _progress("Trying what would help"):
        return find_gains(evaluation.line, evaluation.layout, evaluation.plan, evaluation.run, workers)


def exit_code(findings: tuple[Finding, ...], unchecked_binds: bool = True) -> int:
    """1 where a finding fails or, if unchecked binds, a row of strength, power or safety is not checked; else 0."""
    fails = any(finding.verdict == "fails" for finding in findings)
    return FAILS if fails or (unchecked_binds and must_be_checked(findings)) else HOLDS


def main() -> NoReturn:
    """Run the command line and leave with its exit code; no traceback reaches the user."""
    _make_printable()
    try:
        app()
        code: Any = HOLDS
    except SystemExit as leave:
        code = leave.code
    except KeyboardInterrupt:
        code = INTERRUPTED
    except Exception as problem:
        code = _tell_our_fault(problem)
    if code == INTERRUPTED:
        _say("interrupted")
    sys.exit(_flushed(code))


@contextlib.contextmanager
def _faults_told(as_json: bool) -> Iterator[None]:
    """Turn what the user can mend into one line a fault on stderr (or JSON on stdout) and exit code 2."""
    try:
        yield
    except LinewrightError as problem:
        if as_json:
            _print_json({"errors": _errors(problem)})
        else:
            _say(str(problem))
        raise typer.Exit(WRONG_INPUT) from None


def _errors(problem: LinewrightError) -> list[dict[str, Any]]:
    if isinstance(problem, LineFileError):
        return [fault.as_dict() for fault in problem.faults]
    return [{"file": None, "line": None, "column": None, "found": str(problem), "allowed": None}]


def _show(
    evaluation: Evaluation,
    as_json: bool,
    data: Callable[[Evaluation], dict[str, Any]],
    page: Callable[[Evaluation], str],
) -> None:
    if as_json:
        _print_json(data(evaluation))
    else:
        _print(page(evaluation))


def _hand_out(text: str, out: str | None) -> None:
    if out is None:
        _print(text)
        return
    from linewright.handover.files import write_new_file

    write_new_file(Path(out), text)


def _say(words: str) -> None:
    """A line on stderr; nothing where it is closed, which Python tells by having no such stream."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            sys.stderr.write(f"{words}\n")


def _print(text: str) -> None:
    if sys.stdout is None:
        _say("cannot write the output: standard output is closed")
        raise typer.Exit(WRONG_INPUT)
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        raise typer.Exit(NOBODY_READS) from None
    except OSError as problem:  # a full disk behind a redirection
        _say(f"cannot write the output: {problem.strerror}")
        raise typer.Exit(WRONG_INPUT) from None


def _print_json(value: Any) -> None:
    from linewright.handover.files import json_text

    encoding = None if sys.stdout is None else sys.stdout.encoding
    ascii_only = codecs.lookup(encoding or "ascii").name != "utf-8"
    _print(json_text(value, ascii_only))


def _on_a_terminal() -> bool:
    return sys.stderr is not None and sys.stderr.isatty()


@contextlib.contextmanager
def _progress(words: str) -> Iterator[None]:
    """A sign of life on a terminal; nothing in a pipe."""
    if not _on_a_terminal():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(words):
        yield


@contextlib.contextmanager
def _bar(words: str, runs: int) -> Iterator[Callable[[int], None] | None]:
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
def _stages() -> Iterator[Callable[[str, int, int], None] | None]:
    """What is being done and how much of it is, on a terminal; nothing in a pipe."""
    if not _on_a_terminal():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading the line", total=None)
        yield lambda words, done, of: bar.update(task, description=words, completed=done, total=of if of > 1 else None)


def _make_printable() -> None:
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


def _tell_our_fault(problem: Exception) -> int:
    if os.environ.get("LINEWRIGHT_DEBUG") == "1":
        import traceback

        traceback.print_exc()
    words = " ".join(str(problem).split())
    _say(
        f"linewright {__version__}: a fault of the program, not yours: {type(problem).__name__}: {words}; please "
        "report it with your line file (LINEWRIGHT_DEBUG=1 shows where it happened)"
    )
    return OUR_FAULT


def _flushed(code: Any) -> Any:
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
