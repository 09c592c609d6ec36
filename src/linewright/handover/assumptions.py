"""What a result rests on, in sentences: the same ones on every page and in every file."""

from __future__ import annotations

from typing import Final

from linewright.evaluation import Evaluation
from linewright.line.model import Line
from linewright.quantities import counted, number, percent

MOST_NAMES: Final = 16
# What each subject of the checks looks at, for an evaluation in which it has no row.
_SUBJECTS: Final = {
    "strength": "strength under tool forces",
    "accuracy": "accuracy",
    "power": "power supply",
    "bus": "bus load",
    "safety": "stopping distances and guards",
    "upkeep": "upkeep and spares",
}
CAUTION: Final = (
    "This is an aid to planning. Carriers pinch and crush, they coast when the power goes, and their magnets disturb "
    "implants. Of safety only distances, times, voltages and energies are reckoned, from figures as stated, which "
    "nobody has confirmed: that is no conformity and no risk assessment. Follow local codes; a competent, licensed "
    "person decides."
)


def assumptions(evaluation: Evaluation, tried: bool = False, proved: bool = False) -> tuple[str, ...]:
    """The assumptions behind a result, the weightiest first.

    Parameters
    ----------
    evaluation : with or without a run
    tried : whether changes of the line were tried too
    proved : whether the same paper tells whether the line can lock up

    Returns
    -------
    tuple of str   One sentence or two each.
    """
    line = evaluation.line
    rows = [sheet_sentence(line), _not_looked_at(evaluation, proved), _spread(line), _measured(line)]
    if evaluation.run is not None:
        rows += [_length(evaluation), _outside(line), _start(line), _motion(line), *_failures(line), *_rejects(line)]
        rows += [*_variants(line), *_operators(line), *_shifts(line)]
    if tried:
        rows.append(
            "What would help was tried in simulated runs, one change at a time. Whether a change can be built and what "
            "it costs nobody has asked, and gains of several changes do not add up."
        )
    return tuple(row for row in rows if row)


def _names(names: list[str]) -> str:
    """Names in a row; of many the first three."""
    return ", ".join(names) if len(names) <= MOST_NAMES else f"{', '.join(names[:3])} and {len(names) - 3} more"


def losses_simulated(line: Line) -> str:
    """What the run itself takes off the rate, in words; these are never subtracted from the takt a second time."""
    changing = [station.name for station in line.stations if station.changeover is not None]
    outside = [station.name for station in line.stations if station.feed is not None or station.take_away is not None]
    causes = (
        ("failures and repairs of", [station.name for station in line.stations if station.failures]),
        ("rejects of", [station.name for station in line.stations if station.rejects > 0]),
        ("rework from", [station.name for station in line.stations if station.rework is not None]),
        ("parts missing at", [station.name for station in line.stations if station.misses > 0]),
        ("changeover at", changing),
        ("waiting for operators of", [pool.name for pool in line.operators]),
        ("feeds and take-aways of", outside),
        ("breaks", _breaks(line)),
    )
    words = [f"{what} {_names(names)}" for what, names in causes if names]
    return "; ".join(words) or "none: no station has failures or rejects"


def _breaks(line: Line) -> list[str]:
    if line.calendar is None:
        return []
    return [one.name for one in line.calendar.breaks] + (["run-down"] if line.calendar.run_down_s is not None else [])


def sheet_sentence(line: Line) -> str:
    """What the figures of the conveyor sheet are worth.

    Parameters
    ----------
    line : with its sheet
    """
    sheet = line.conveyor
    if sheet.invented:
        return (
            f"The conveyor sheet {sheet.name} is invented and matches no maker's conveyor. Type your maker's data "
            "sheet in before you rely on any figure here."
        )
    return f"The conveyor's figures are those of the sheet {sheet.name} as typed in, not confirmed."


def _not_looked_at(evaluation: Evaluation, proved: bool) -> str:
    """What nobody looks at, whatever the files state; a row that is not checked is told on the page itself."""
    line, subjects = evaluation.line, {finding.subject for finding in evaluation.findings}
    watched = any(station.window_m is not None for station in line.stations)
    left = [words for subject, words in _SUBJECTS.items() if subject not in subjects]
    left += ["vibration but the fixture's after a move" if watched else "vibration"]
    left += [
        "how frame and floor give and shake",
        "fatigue of fixtures and frame",
        "what wear, dirt and cogging do to accuracy",
        "whether the part itself bears the forces",
        "electromagnetic disturbance (EMC)",
        "short-circuit currents and earthing",
        "other traffic on the bus",
        "noise",
        "whether a protective function works when it must (performance level)",
    ]
    words = f"Not looked at: {', '.join(left)}."
    if proved:
        return words
    return f"{words} Whether the line can lock up (gridlock) is not looked at here either: linewright prove does that."


def _spread(line: Line) -> str:
    exact = [station.name for station in line.stations if station.time.kind == "fixed"]
    if not exact:
        return ""
    by_hand = [station.name for station in line.stations if station.time.kind == "fixed" and station.work == "manual"]
    words = f"Exactly the same work time for every part at: {_names(exact)}."
    if by_hand:
        words += f" Work by hand never is ({_names(by_hand)}): state mean and cv."
    return words


def _measured(line: Line) -> str:
    """What is lost of a list of measured times."""
    listed = [station.name for station in line.stations if station.time.kind == "empirical"]
    if not listed:
        return ""
    return (
        f"Listed times are drawn one by one, in no order, so that trends in them are lost, and none is ever shorter or "
        f"longer than those listed: {_names(listed)}."
    )


def _length(evaluation: Evaluation) -> str:
    run = evaluation.run
    assert run is not None
    if run.rate is None:
        warm_up = "no warm-up could be judged, so nothing is left out"
    elif evaluation.line.calendar is not None:
        shift = f"{number(run.warm_up_s / 3600)} h" if run.warm_up_s else ""
        warm_up = (
            f"the first shift of each, {shift}, is left out"
            if shift
            else "every shift is to begin with an empty line, so nothing is left out"
        )
    elif run.warm_up_s == 0.0:
        warm_up = "no warm-up was found that would have to be left out"
    else:
        warm_up = f"the first {number(run.warm_up_s / 60, 1)} min of each are warm-up and left out"
    shifts = "" if evaluation.line.calendar is None else " (whole shifts)"
    return f"Simulated: {run.runs} runs of {number(run.hours)} h{shifts}, seed {run.seed}; {warm_up}."


def _outside(line: Line) -> str:
    """What the run takes for granted: what the line file does not state."""
    fed = any(station.feed is not None for station in line.stations)
    taken = any(station.take_away is not None for station in line.stations)
    never = "" if fed and taken else "Parts to load and room for finished ones never run out"
    if never and (fed or taken):
        never += " but where the line file says so"
    stated = {
        "breaks": line.calendar is not None,
        "shift change": line.calendar is not None,
        "changeover": any(station.changeover is not None for station in line.stations) or line.run_out,
        "material supply": fed,
        "operators shared by stations": bool(line.operators),
    }
    left = [what for what, told in stated.items() if not told]
    left += ["what guards and doors cost"] if any(one.guard is not None for one in line.stations) else []
    left += ["the time of pins"] if any(one.pin_m is not None for one in line.stations) else []
    return (f"{never}. " if never else "") + (
        f"Not simulated: {', '.join([*left, 'wear'])}, anything else that is not in the line file."
    )


def _start(line: Line) -> str:
    carriers = f"{'its' if line.carriers == 1 else 'all'} {counted(line.carriers, 'carrier')}"
    return f"Each run starts with {carriers} empty and queued up to the first station, every tool ready."


def _motion(line: Line) -> str:
    unstated = [station for station in line.stations if station.settling_s is None]
    windows = [station.name for station in unstated if station.window_m is not None]
    others = [station.name for station in unstated if station.window_m is None]
    words = "A carrier under way ends its move before it starts another."
    if line.going_on:
        words = "A carrier under way goes on without a halt where its way opens in time."
    if others:
        words += f" Settling is the sheet's {line.conveyor.settling_s:g} s at: {_names(others)}."
    if windows:
        words += (
            f" At {_names(windows)} it is that or, if longer, the time in which the fixture's vibration dies down "
            "to the window, reckoned with one frequency and damping for full and empty fixtures."
        )
    return words


def _failures(line: Line) -> list[str]:
    kinds = [failure for station in line.stations for failure in station.failures]
    if not kinds:
        return ["No station is stated to fail: the rate is that of a line that never breaks down."]
    ways = []
    for of, by in (("running", "after time in work"), ("clock", "by the clock, at work or not")):
        laws = sorted({kind.every.kind for kind in kinds if kind.every is not None and kind.of == of})
        at_random = [law for law in laws if law != "fixed"]
        how = [f"at random ({' or '.join(at_random)} law)"] if at_random else []
        how += ["at fixed intervals"] if "fixed" in laws else []
        if how:
            ways.append(f"{' or '.join(how)} {by}")
    cycles = [kind.one_in for kind in kinds if kind.one_in is not None]
    if any(count > 1 for count in cycles):
        ways.append("at random (geometric law) after a number of works")
    if any(count == 1 for count in cycles):
        ways.append("at every work")
    return [f"Failures come {'; '.join(ways)}. A part in work is finished after the repair."]


def _rejects(line: Line) -> list[str]:
    rows = [f"{station.name} {percent(station.rejects)}" for station in line.stations if station.rejects > 0]
    return [f"Parts are flagged at random, one by one: {_names(rows)}."] if rows else []


def _variants(line: Line) -> list[str]:
    if not line.variants:
        return []
    names = [one.name for one in line.variants]
    if line.sequence:
        order = ", ".join(f"{count} of {name}" for name, count in line.sequence)
        how = f"in this order, again and again: {order}"
    elif line.fixture_sets:
        how = "as the carriers' fixtures allow, at random within a set"
    else:
        how = "at random, one by one, by their shares"
    words = f"Variants ({_names(names)}) are loaded {how}."
    if line.run_out:
        words += " Before each change the line runs empty."
    return [words]


def _operators(line: Line) -> list[str]:
    """What is taken for granted of people."""
    if not line.operators:
        return []
    pools = [f"{pool.operators} for {_names(list(pool.stations))}" for pool in line.operators]
    words = (
        f"Operators: {'; '.join(pools)}. Each goes at once to where he is called, first named station first, walks at "
        "the stated pace, and does nothing else."
    )
    return [words]


def _shifts(line: Line) -> list[str]:
    if line.calendar is None:
        return []
    words = "In a break the work in hand is finished and none begun; it begins and ends to the second."
    if line.calendar.run_down_s is not None:
        words += (
            f" In the last {number(line.calendar.run_down_s / 60)} min of each shift no new part is begun; what that "
            "does not suffice to finish stays on the line for the next."
        )
    return [words]
