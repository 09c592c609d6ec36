"""What a result rests on, in sentences: the same ones on every page and in every file."""

from __future__ import annotations

from linewright.evaluation import Evaluation
from linewright.handover.wording import number, percent
from linewright.line.model import Line

CAUTION = (
    "This is an aid to planning. Carriers pinch and crush, they coast when the power goes, and their magnets disturb "
    "implants. Nothing here was checked for safety. Follow local codes; a competent, licensed person decides."
)


def assumptions(evaluation: Evaluation) -> tuple[str, ...]:
    """The assumptions behind a result, the weightiest first.

    Parameters
    ----------
    evaluation : with or without a run

    Returns
    -------
    tuple of str   One sentence or two each.
    """
    line = evaluation.line
    rows = [_sheet(line), _not_looked_at(), _spread(line)]
    if evaluation.run is not None:
        rows += [_length(evaluation), _outside(), _start(line), _motion(line), *_failures(line), *_rejects(line)]
    return tuple(row for row in rows if row)


def losses_simulated(line: Line) -> str:
    """What the run itself takes off the rate, in words; these are never subtracted from the takt a second time."""
    failing = [station.name for station in line.stations if station.failures]
    rejecting = [station.name for station in line.stations if station.rejects > 0]
    words = []
    if failing:
        words.append(f"failures and repairs of {', '.join(failing)}")
    if rejecting:
        words.append(f"rejects of {', '.join(rejecting)}")
    return "; ".join(words) or "none: no station has failures or rejects"


def _sheet(line: Line) -> str:
    sheet = line.conveyor
    if sheet.invented:
        return (
            f"The conveyor sheet {sheet.name} is invented and matches no maker's conveyor. Type your maker's data "
            "sheet in before you rely on any figure here."
        )
    return f"The conveyor's figures are those of the sheet {sheet.name} as typed in, not confirmed."


def _not_looked_at() -> str:
    return (
        "Not looked at: lock-up of the line (gridlock), restart after a stop, strength under tool forces, accuracy, "
        "motor heat, vibration, part hold in an emergency stop, power supply, bus load, guarding."
    )


def _spread(line: Line) -> str:
    exact = [station.name for station in line.stations if station.time.kind == "fixed"]
    if not exact:
        return ""
    by_hand = [station.name for station in line.stations if station.time.kind == "fixed" and station.work == "manual"]
    words = f"Exactly the same work time for every part at: {', '.join(exact)}."
    if by_hand:
        words += f" Work by hand never is ({', '.join(by_hand)}): state mean and cv."
    return words


def _length(evaluation: Evaluation) -> str:
    run = evaluation.run
    assert run is not None
    if run.rate is None:
        warm_up = "no warm-up could be judged, so nothing is left out"
    elif run.warm_up_s == 0.0:
        warm_up = "no warm-up was found that would have to be left out"
    else:
        warm_up = f"the first {number(run.warm_up_s / 60, 1)} min of each are warm-up and left out"
    return f"Simulated: {run.runs} runs of {number(run.hours)} h, seed {run.seed}; {warm_up}."


def _outside() -> str:
    return (
        "Parts to load and room for finished ones never run out. Not simulated: breaks, shift change, changeover, "
        "material supply, operators shared by stations, wear, anything else that is not in the line file."
    )


def _start(line: Line) -> str:
    return (
        f"Each run starts with all {line.carriers} carriers empty and queued up to the first station, every tool ready."
    )


def _motion(line: Line) -> str:
    settling = [station.name for station in line.stations if station.settling_s is None]
    words = "A carrier under way ends its move before it starts another."
    if settling:
        words += f" Settling is the sheet's {line.conveyor.settling_s:g} s at: {', '.join(settling)}."
    return words


def _failures(line: Line) -> list[str]:
    kinds = [failure for station in line.stations for failure in station.failures]
    if not kinds:
        return ["No station is stated to fail: the rate is that of a line that never breaks down."]
    timed = {(kind.of, kind.every.kind) for kind in kinds if kind.every is not None}
    ways = []
    for of, counted in (("running", "after time in work"), ("clock", "by the clock, at work or not")):
        laws = sorted(law for other, law in timed if other == of)
        if laws == ["fixed"]:
            ways.append(f"at fixed intervals {counted}")
        elif laws:
            ways.append(f"at random ({' or '.join(laws)} law) {counted}")
    if any(kind.one_in is not None for kind in kinds):
        ways.append("at random (geometric law) after a number of works")
    return [f"Failures come {', '.join(ways)}; a part in work is finished after the repair."]


def _rejects(line: Line) -> list[str]:
    rows = [f"{station.name} {percent(station.rejects)}" for station in line.stations if station.rejects > 0]
    return [f"Parts are flagged at random, one by one: {', '.join(rows)}."] if rows else []
