"""The commands: each reads its words, calls the one path, prints or writes, and says by its exit code how it went."""

from __future__ import annotations

from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from linewright.cli.options import (
    MOST_CARRIERS,
    MOST_HOURS,
    MOST_SEED,
    AsJson,
    Hours,
    LineFile,
    Runs,
    Seed,
    Workers,
    count_of,
    hours_of,
    names_of,
    quantity,
    runs_of,
    whole,
)
from linewright.cli.terminal import (
    FAILS,
    HOLDS,
    PERMILLE,
    exit_code,
    faults_told,
    hand_out,
    print_json,
    print_text,
    progress_bar,
    progress_sign,
    progress_stages,
    show,
)
from linewright.errors import LinewrightError, SimulationError
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.line.model import Line
    from linewright.planning.gains import Gains
    from linewright.planning.size import Sizing

app = typer.Typer(
    name="linewright",
    help="Plans assembly lines whose parts ride on linear-motor carriers: does the line make its takt?",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


class SchemaKind(StrEnum):
    """The files that have a schema."""

    line = "line"
    sheet = "sheet"


class Reader(StrEnum):
    """Who reads the papers."""

    builder = "builder"
    customer = "customer"


def _version(wanted: bool) -> None:
    if wanted:
        print_text(f"linewright {__version__}\n")
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
    with faults_told(as_json=False):
        from linewright.line.patterns import PATTERNS, pattern_text

        if pattern not in PATTERNS:
            raise LinewrightError(f"there is no pattern {pattern!r}; write one of {', '.join(PATTERNS)}")
        hand_out(pattern_text(pattern), out)


@app.command()
def check(
    line: LineFile,
    as_json: AsJson = False,
    run: Annotated[bool, typer.Option("--run", help="Simulate the line too, as rate does.")] = False,
    hours: Annotated[
        float | None, typer.Option("--hours", metavar="H", parser=hours_of, help="With --run: hours of a run; 8.")
    ] = None,
    runs: Annotated[
        int | None,
        typer.Option("--runs", metavar="N", parser=runs_of, help="With --run: runs, each with its own luck; 20."),
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="S", parser=whole(0, MOST_SEED), help="With --run: of all luck; 1.")
    ] = None,
) -> None:
    """Check every limit of a line, subject by subject. Exits with 1 if anything fails or if a row of strength, power or
    safety is not checked; some rows need --run."""
    with faults_told(as_json):
        from linewright.evaluation import evaluate, evaluate_without_run
        from linewright.handover.pages.answer import check_answer
        from linewright.handover.pages.check_page import check_page
        from linewright.line.load import load_line

        stated = [
            f"--{name}" for name, value in (("hours", hours), ("runs", runs), ("seed", seed)) if value is not None
        ]
        if stated and not run:
            raise LinewrightError(f"{stated[0]}: nothing is simulated without --run; add --run, or leave it out")
        loaded = load_line(line)
        if run:
            hours, runs, seed = hours or 8.0, runs or 20, 1 if seed is None else seed
            with progress_bar(f"Simulating {runs} runs of {hours:g} h", runs) as progress:
                evaluation = evaluate(loaded, hours=hours, runs=runs, seed=seed, progress=progress)
        else:
            evaluation = evaluate_without_run(loaded)
        show(evaluation, as_json, check_answer, check_page)
        raise typer.Exit(exit_code(evaluation.findings))


@app.command()
def rate(
    line: LineFile,
    hours: Hours = 8.0,
    runs: Runs = 20,
    seed: Seed = 1,
    as_json: AsJson = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Write page, JSON, CSV and the picture into a folder.")
    ] = None,
    workers: Workers = None,
    gains: Annotated[bool, typer.Option("--gains/--no-gains", help="Try what would help; takes longer.")] = True,
) -> None:
    """Simulate a line: whether it makes its takt, with what confidence, what limits it and what would help."""
    with faults_told(as_json):
        from linewright.evaluation import evaluate
        from linewright.handover.files import check_folder, write_folder
        from linewright.handover.pages.answer import answer
        from linewright.handover.pages.rate_page import rate_page
        from linewright.line.load import load_line

        if out is not None:
            check_folder(out)  # before the work, not after it
        loaded = load_line(line)
        with progress_bar(f"Simulating {runs} runs of {hours:g} h", runs) as progress:
            evaluation = evaluate(loaded, hours=hours, runs=runs, seed=seed, workers=workers, progress=progress)
        tried = _tried(evaluation, workers) if gains else None
        if out is not None:
            from linewright.handover.pages.rate_folder import rate_files

            with progress_sign(f"Writing {out}"):
                write_folder(out, rate_files(evaluation, tried))
        show(evaluation, as_json, partial(answer, gains=tried), partial(rate_page, gains=tried))
        raise typer.Exit(exit_code(evaluation.findings, unchecked_binds=False))


@app.command()
def size(
    line: LineFile,
    fewest: Annotated[
        int | None, typer.Option("--from", metavar="N", parser=count_of, help="Fewest carriers; 1 if not given.")
    ] = None,
    most: Annotated[
        int | None,
        typer.Option("--to", metavar="N", parser=count_of, help="Most carriers; as many as may be if not given."),
    ] = None,
    hours: Hours = 8.0,
    runs: Annotated[int, typer.Option("--runs", metavar="N", parser=runs_of, help="Runs of each count.")] = 10,
    seed: Seed = 1,
    stops: Annotated[bool, typer.Option("--stops", help="Judge the waiting stops too.")] = False,
    as_json: AsJson = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Write page, JSON and CSV into a folder.")
    ] = None,
    workers: Workers = None,
) -> None:
    """Simulate a line with each number of carriers: how many to buy. Exits with 1 if none can meet the takt."""
    with faults_told(as_json):
        from linewright.handover.files import check_folder, write_folder
        from linewright.handover.pages.size_answer import size_answer, size_files
        from linewright.handover.pages.size_page import size_page
        from linewright.line.load import load_line
        from linewright.planning.size import size_line

        if out is not None:
            check_folder(out)  # before the work, not after it
        loaded = load_line(line)
        with progress_bar(f"Simulating {runs} runs of {hours:g} h for each count", PERMILLE) as progress:
            told = None if progress is None else lambda done, total: progress(PERMILLE * done // total)
            sizing = size_line(
                loaded, fewest, most, hours, runs, seed, judge_stops=stops, workers=workers, progress_of_all=told
            )
        if out is not None:
            write_folder(out, size_files(sizing))
        if as_json:
            print_json(size_answer(sizing))
        else:
            print_text(size_page(sizing))
        wrong = sizing.choices.all_fail or any(row.above_bounds for row in sizing.counts)
        raise typer.Exit(FAILS if wrong else HOLDS)


@app.command()
def draw(
    line: LineFile,
    out: Annotated[str, typer.Option("--out", metavar="DIR", help="Write the pictures into this folder.")],
    only: Annotated[
        str | None,
        typer.Option(
            "--only", metavar="NAMES", help="Of: track-chart, floor, causes, carriers, move, accuracy, current, jam."
        ),
    ] = None,
    rows: Annotated[
        str | None,
        typer.Option(
            "--rows",
            metavar="NAMES",
            help="Of the track chart: track, time, states, help, strength, accuracy, heat, feeder, string-line.",
        ),
    ] = None,
    start_at: Annotated[
        str | None,
        typer.Option(
            "--start", metavar="TIME", help="The string line begins then, such as '90 min'; else after the warm-up."
        ),
    ] = None,
    span: Annotated[
        str | None, typer.Option("--span", metavar="TIME", help="And lasts so long, up to a shift; else 2 min.")
    ] = None,
    carrier: Annotated[
        int | None,
        typer.Option("--carrier", metavar="N", parser=whole(0, MOST_CARRIERS), help="The carrier to follow."),
    ] = None,
    text_size: Annotated[str, typer.Option("--text-size", metavar="SHARE", help="Of all letters, to 200 %.")] = "100 %",
    hours: Hours = 8.0,
    runs: Runs = 20,
    seed: Seed = 1,
    workers: Workers = None,
) -> None:
    """Draw a line: the track chart, where everything lines up under the track, the floor to scale, and more."""
    with faults_told(as_json=False):
        from linewright.evaluation import evaluate
        from linewright.handover.files import check_folder, former_files, write_folder
        from linewright.handover.pages.draw_folder import drawing_of, locks_of, sizing_of
        from linewright.line.load import load_line
        from linewright.pictures import PICTURES, ROWS, Shown, Text

        check_folder(out)  # before the work, not after it
        names, chosen = names_of(only, PICTURES, "--only"), names_of(rows, ROWS, "--rows")
        start_s = None if start_at is None else quantity(start_at, "time", "--start", least=-1e-9)
        span_s = None if span is None else quantity(span, "time", "--span")
        size = Text(quantity(text_size, "share", "--text-size", least=1.0, most=2.0))
        shown = Shown(chosen, start_s, span_s, carrier, size)
        asked = {"--rows": rows, "--start": start_at, "--span": span, "--carrier": carrier}
        if "track-chart" not in names:
            for option, value in asked.items():
                if value is not None:
                    raise LinewrightError(f"{option}: it is for the track chart alone; add track-chart to --only")
        for option, at_s in (("--start", start_s), ("--span", span_s)):
            if at_s is not None and at_s >= hours * 3600.0 + (1.0 if option == "--span" else 0.0):
                raise LinewrightError(f"{option}: {asked[option]} stands here; a run lasts {hours:g} h, see --hours")
        loaded = load_line(line)
        if carrier is not None and carrier >= loaded.carriers:
            raise LinewrightError(f"--carrier: {carrier} stands here; write one from 0 to {loaded.carriers - 1}")
        with progress_bar(f"Simulating {runs} runs of {hours:g} h", runs) as progress:
            evaluation = evaluate(loaded, hours=hours, runs=runs, seed=seed, workers=workers, progress=progress)
        helps = "track-chart" in names and "help" in chosen
        gains = _tried(evaluation, workers) if helps else None
        locks = locks_of(evaluation) if "jam" in names else "not asked for"
        sizing: Sizing | str = "not asked for"
        if "carriers" in names:
            with progress_bar("Simulating each number of carriers", PERMILLE) as progress:
                permille = None if progress is None else lambda done, total: progress(PERMILLE * done // total)
                sizing = sizing_of(evaluation, workers, permille)
        with progress_sign(f"Writing {out}"):
            try:
                drawing = drawing_of(evaluation, names, shown, gains, sizing, locks)
            except ValueError as problem:  # a stretch of time or a carrier that the run does not show
                told = str(problem).replace("start_s", "--start").replace("span_s", "--span")
                raise LinewrightError(f"{line}: {told}") from None
            files = drawing.files()
            removed = former_files(out, files) if files else ()
            if files:
                write_folder(out, files)
        print_text(drawing.page(out, removed))
        raise typer.Exit(HOLDS)


@app.command()
def handover(
    line: LineFile,
    out: Annotated[str, typer.Option("--out", metavar="DIR", help="Write the papers into this folder.")],
    only: Annotated[
        str | None,
        typer.Option(
            "--only",
            metavar="NAMES",
            help="Of: dossier, changes, drawing, tables, acceptance, recovery, upkeep, hazards.",
        ),
    ] = None,
    against: Annotated[
        str | None,
        typer.Option("--against", metavar="LINE", help="The line as it was: what changed of every promise."),
    ] = None,
    reader: Annotated[
        Reader, typer.Option("--for", help="Who reads them; for a customer prices and internal margins are left out.")
    ] = Reader.builder,
    hours: Hours = 8.0,
    runs: Runs = 20,
    seed: Seed = 1,
    workers: Workers = None,
) -> None:
    """Write the papers of a line: dossier, drawing, tables, acceptance plan, recovery sheet, upkeep, hazards."""
    with faults_told(as_json=False):
        from linewright.handover.files import check_folder, former_files, write_folder
        from linewright.handover.papers.aside import ProofAside
        from linewright.handover.papers.catalogue import PAPERS, write_papers
        from linewright.handover.papers.material import gather, tells_proof
        from linewright.line.load import load_line

        check_folder(out)  # before the work, not after it
        names = names_of(only, PAPERS, "--only")
        if only is None and against is None:
            names = tuple(name for name in names if name != "changes")
        elif ("changes" in names) != (against is not None):
            raise LinewrightError("--against: name the line as it was, and have changes in --only, or neither")
        loaded, former = load_line(line), None if against is None else load_line(against)
        proof = ProofAside(loaded, seed) if tells_proof(names) else None  # goes on beside everything else
        evaluation = _evaluated(loaded, hours, runs, seed, workers)
        before = None if former is None else _evaluated(former, hours, runs, seed, workers)
        with progress_stages() as stages:
            material = gather(evaluation, names, before, reader == Reader.customer, workers, stages, proof)
            papers = write_papers(material, names)
            files = papers.all_files()
            removed = former_files(out, files) if files else ()
            if files:
                write_folder(out, files, papers.record)
        print_text(papers.page(out, removed))
        raise typer.Exit(HOLDS if files else FAILS)


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
    with faults_told(as_json):
        from linewright.flow.restart import restart as stop_and_go
        from linewright.handover.pages.restart_page import restart_answer, restart_page
        from linewright.line.load import load_line

        at_s, speed_m_s = quantity(at, "time", "--at"), quantity(speed, "speed", "--speed")
        if at_s > MOST_HOURS * 3600.0:
            raise LinewrightError(f"--at: {at} stands here; a run has at most {MOST_HOURS} h")
        loaded = load_line(line)
        with progress_sign("Simulating the stop"):
            found = stop_and_go(loaded, at_s, speed_m_s, seed)
        if as_json:
            print_json(restart_answer(loaded, found))
        else:
            print_text(restart_page(loaded, found))
        raise typer.Exit(HOLDS if found.first_good_s is not None else FAILS)


@app.command()
def prove(
    line: LineFile,
    seed: Seed = 1,
    stops: Annotated[
        int, typer.Option("--stops", metavar="N", parser=runs_of, help="Random stops to start again from.")
    ] = 200,
    as_json: AsJson = False,
) -> None:
    """Prove that a line never locks up, or show how it does; judge a shift's moves; stop it and start it again."""
    with faults_told(as_json):
        from linewright.handover.pages.prove_answer import prove_answer
        from linewright.handover.pages.prove_page import prove_page
        from linewright.line.load import load_line
        from linewright.proof import prove as prove_line

        loaded = load_line(line)
        with progress_stages() as progress:
            proof = prove_line(loaded, seed, stops, progress=progress)
        if as_json:
            print_json(prove_answer(proof))
        else:
            print_text(prove_page(proof))
        raise typer.Exit(HOLDS if proof.holds else FAILS)


@app.command()
def schema(
    kind: Annotated[SchemaKind, typer.Argument(help="Of which file.")] = SchemaKind.line,
    out: Annotated[str | None, typer.Option("--out", metavar="FILE", help="Write a new file instead.")] = None,
) -> None:
    """Print the JSON Schema of the line file or the conveyor sheet; editors complete and check with it."""
    with faults_told(as_json=False):
        from linewright.handover.files import json_text
        from linewright.line.schema import line_schema, sheet_schema

        schemas = {SchemaKind.line: line_schema, SchemaKind.sheet: sheet_schema}
        hand_out(json_text(schemas[kind]()), out)


def _tried(evaluation: Evaluation, workers: int | None) -> Gains | None:
    """What would help, tried; nothing where there is no run."""
    if evaluation.plan is None or evaluation.run is None:
        return None
    from linewright.planning.gains import find_gains

    with progress_sign("Trying what would help"):
        return find_gains(evaluation.line, evaluation.layout, evaluation.plan, evaluation.run, workers)


def _evaluated(line: Line, hours: float, runs: int, seed: int, workers: int | None) -> Evaluation:
    """A line evaluated; without a run where it cannot be simulated, since most papers need none."""
    from linewright.evaluation import evaluate, evaluate_without_run

    try:
        with progress_bar(f"Simulating {runs} runs of {hours:g} h: {line.name}", runs) as progress:
            return evaluate(line, hours=hours, runs=runs, seed=seed, workers=workers, progress=progress)
    except SimulationError as problem:
        return evaluate_without_run(line, str(problem))
