"""A page a station, to hang up at it, and the transfers: all that is known of each place."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from linewright.findings import counts_sentence
from linewright.handover.document.blocks import Block, Caution, Facts, Heading, Part, Words
from linewright.handover.dossier.chapter import (
    UNKNOWN,
    pairs,
    place_finding_blocks,
    plain,
    plus_minus,
    seconds,
    shown,
)
from linewright.handover.dossier.mentions import stations_named, transfers_named
from linewright.handover.dossier.place_facts import (
    basis_in_words,
    failure_in_words,
    guard_in_words,
    place_rows,
    supply_in_words,
    work_rows,
    zones_in_words,
)
from linewright.handover.pages.rate_page import MORE_STATES, STATES, against_takt
from linewright.handover.papers.rows import told_to
from linewright.handover.subjects import by_subject
from linewright.layout.lanes import SAME_PLACE_M
from linewright.pictures.floor.ground import docks
from linewright.pictures.nothing import why_no_run
from linewright.quantities import KEEP, counted, number, percent
from linewright.shares import rounded_shares

if TYPE_CHECKING:
    from linewright.findings import Finding
    from linewright.flow.run import Run
    from linewright.handover.papers.material import Material
    from linewright.layout import TransferLayout
    from linewright.line.model import Station
    from linewright.tables import Table

Rows = list[tuple[str, str]]

# A cause of less than this is not told. [s] per good part
_LEAST_S: Final = 0.0005
_BY_HAND: Final = (
    "Carriers pinch and crush here, coast when the power goes, and their magnets disturb implants. Power's return "
    "never starts motion: a person starts it, who sees the line. Follow local codes; a competent, licensed person "
    "decides."
)


def places_part(material: Material) -> tuple[Part, ...]:
    """A page for each station in the order of the line file.

    Parameters
    ----------
    material : of the line
    """
    findings = tuple(one for subject in by_subject(material.evaluation.findings) for one in subject.findings)
    return tuple(_station_page(station, findings, material) for station in material.evaluation.line.stations)


def transfers_part(material: Material) -> tuple[Part, ...]:
    """All transfers, each with its own figures and findings; nothing for a line without any.

    Parameters
    ----------
    material : of the line
    """
    findings = tuple(one for subject in by_subject(material.evaluation.findings) for one in subject.findings)
    transfers = material.evaluation.layout.transfers
    each = [_transfer_blocks(transfer, findings, material) for transfer in transfers]
    return (Part((Heading("Transfers"), *(block for blocks in each for block in blocks))),) if each else ()


def _station_page(station: Station, findings: tuple[Finding, ...], material: Material) -> Part:
    evaluation = material.evaluation
    line, layout = evaluation.line, evaluation.layout
    stop = layout.stop_of(station.name)
    mine = tuple(one for one in findings if station.name in stations_named(one, line))
    place = place_rows(station, stop, layout.lane(station.lane), material)
    work = work_rows(station, material)
    facts: Rows = [] if material.for_customer else _time_rows(station, material)
    facts += _failure_rows(station, material)
    facts += _force_rows(station, material) + _tolerance_rows(station, material)
    facts += _move_rows(stop.label, material)
    guard, zones = guard_in_words(station, material), zones_in_words(station, material)
    facts += [("guard", guard)] if guard else []
    work += [("motor zone", zones)] if zones else []
    work += [("motor supply", supply_in_words(stop, material)), ("in a year", _yearly(station, material))]
    blocks: list[Block] = [Heading(f"Station {station.name}"), Words(_step_words(station, material))]
    blocks += [Caution(_BY_HAND)] if station.work == "manual" else []
    blocks += [pairs(("where it is", "what it does"), place, work), Facts(tuple(facts))]
    told = _shortened(told_to(mine, material), f"station {station.name}")
    return Part((*blocks, *place_finding_blocks(told, material)))


def _step_words(station: Station, material: Material) -> str:
    """Which step of the route it does, and with whom it shares it."""
    steps = material.evaluation.line.route
    by = "by hand" if station.work == "manual" else "automatic"
    at = next((i for i, step in enumerate(steps) if station.name in step.stations), None)
    if at is None:
        return f"In no step of the route; {by}."
    others = [name for name in steps[at].stations if name != station.name]
    shared = f", shared with {', '.join(others)}" if others else ""
    return f"Step {at + 1} of {len(steps)} of the route{shared}; {by}."


def _shortened(findings: tuple[Finding, ...], head: str) -> tuple[Finding, ...]:
    """The same without the name of the place at the head of their words: the page's heading says it."""
    return tuple(replace(one, where=_without(one.where, head)) for one in findings)


def _without(where: str, head: str) -> str:
    for tail in (": ", ", "):
        if where.startswith(head + tail):
            return where[len(head + tail) :]
    return where


# ---- time ------------------------------------------------------------------------------------------------------------


def _time_rows(station: Station, material: Material) -> Rows:
    run = material.evaluation.run
    if run is None:
        return [("in the run", why_no_run(material.evaluation))]
    rows = [("time per good part", _step_time(station, material, run))]
    rows.append(("passes here", passes_here(run.cycle_causes_by_station, station.name)))
    row = next(one for one in run.stations.rows() if one["station"] == station.name)
    rows.append(("its time", _states(row)))
    # Failures stand in rows of their own, counted another way: two counts of one thing would read as a fault.
    counts = ((row["parts"], "work"), (row["rejected"], "part flagged", "parts flagged"))
    works = ", ".join(counted(int(count), *words) for count, *words in counts)
    length = f"{counted(run.runs, 'run')} of {number(run.hours)}{KEEP}h"
    rows.append(("in the run", f"{works}, in {length} after their warm-up"))
    return rows


def _step_time(station: Station, material: Material, run: Run) -> str:
    row = next((one for one in run.steps.rows() if station.name in str(one["stations"]).split(", ")), None)
    if row is None:
        return UNKNOWN
    time_s = float(row["time_per_good_part_s"])
    told = seconds(time_s)
    if told == UNKNOWN:
        return f"{UNKNOWN}: the run is too short to tell"
    of = f" of step {row['step']}" if row["step"] != station.name else ""
    return f"{told}{of}, waiting left out{against_takt(material.evaluation, time_s)}"


def passes_here(causes: Table, place: str) -> str:
    """What of the line cycle passes at a place, the largest first.

    Parameters
    ----------
    causes : a row a place, a column a kind of cause
    place : a station or transfer
    """
    row = next((one for one in causes.rows() if one["place"] == place), None)
    if row is None:
        return "nothing of the line cycle is known"
    kinds = {name: float(time_s) for name, time_s in row.items() if name not in ("place", "all_s")}
    large = sorted((name for name in kinds if abs(kinds[name]) >= _LEAST_S), key=lambda name: -kinds[name])
    if not large:
        return "nothing of the line cycle"
    told = ", ".join(f"{name.removesuffix('_s').replace('_', ' ')} {seconds(kinds[name])}" for name in large)
    return f"{seconds(float(row['all_s']))} of the line cycle: {told}"


def _states(row: dict[str, Any]) -> str:
    """Shares of a station's time, the largest first; as printed they add up to 100."""
    names = STATES | {column: word for column, (word, _) in MORE_STATES.items()}
    shares = dict(zip(names, rounded_shares([float(row[column]) for column in names]), strict=True))
    there = sorted((column for column in names if shares[column] > 0.0), key=lambda column: -shares[column])
    return ", ".join(f"{names[column]} {percent(shares[column] / 100)}" for column in there)


def _failure_rows(station: Station, material: Material) -> Rows:
    """What is stated, what a year brings, and for the builder what the run saw of it; empty where none is stated."""
    if not station.failures:
        return []
    evaluation = material.evaluation
    yearly = [] if evaluation.limits is None else evaluation.limits.upkeep.failures.rows()
    yearly = [one for one in yearly if one["station"] == station.name]
    run = evaluation.run
    seen = [] if run is None else run.failures.rows()
    seen = [one for one in seen if one["station"] == station.name]
    rows = []
    for i, failure in enumerate(station.failures):
        told = failure_in_words(failure, material)
        told += f"; {number(yearly[i]['per_year'])} a year" if i < len(yearly) else ""
        if i < len(seen) and run is not None and not material.for_customer:
            told += f"; {number(seen[i]['seen'])} seen in {counted(run.runs, 'whole run')}, warm-up included"
        rows.append((f"failure {i + 1}", told))
    return rows


# ---- forces and tolerance --------------------------------------------------------------------------------------------


def _force_rows(station: Station, material: Material) -> Rows:
    if station.force is None:
        return [("force", "not stated (key force)")]
    if not station.force:
        return [("force", "none")]
    rows = []
    for i, tool in enumerate(station.force, start=1):
        along = (("down", tool.down_N), ("across", tool.across_N), ("along", tool.along_N))
        told = ", ".join(f"{shown(force_N, 'N', material)} {way}" for way, force_N in along if force_N)
        most = "" if tool.greatest_N is None else f", greatest {shown(tool.greatest_N, 'N', material)}"
        at = "" if tool.at_m is None else f", at {_point(tool.at_m, material)} along, across, over the carrier's top"
        rows.append(("force" if len(station.force) == 1 else f"force {i}", f"{told}{most}{at}"))
    if station.support is not None:
        held = station.support
        takes = [("down", held.down_N), ("across", held.across_N), ("along", held.along_N)]
        told = ", ".join(f"{shown(force_N, 'N', material)} {way}" for way, force_N in takes if force_N is not None)
        rows.append(("support takes", told))
    limits = material.evaluation.limits
    strength = [] if limits is None else limits.strength.stations.rows()
    for row in (one for one in strength if one["station"] == station.name):
        case = "at the greatest force" if row["at_greatest"] else "at the stated force"
        allowed = f"{shown(row['allowed_N'], 'N', material)} allowed ({row['allowed_by']})"
        block = f"block {row['worst_block']} carries {shown(row['block_load_N'], 'N', material)}"
        safety = f"static safety {plain(row['static_safety'])}"
        of = f"{shown(row['force_N'], 'N', material)} of {allowed}; {block}, {safety}"
        rows.append((case, allowed if material.for_customer else of))
    return rows


def _point(at_m: tuple[float, ...], material: Material) -> str:
    return ", ".join(shown(one, "m", material) for one in at_m)


def _tolerance_rows(station: Station, material: Material) -> Rows:
    if station.tolerance is None:
        return []
    limits = material.evaluation.limits
    found = [] if limits is None else limits.accuracy.summary.rows()
    rows = []
    for row in (one for one in found if one["station"] == station.name):
        told = f"{plus_minus(row['tolerance_m'], material)}, Cpk {plain(row['asked_cpk'])} asked for"
        if not material.for_customer:
            told += f": {plain(row['cpk'])} reckoned; bias {shown(row['bias_m'], 'm', material)}"
            told += f", σ {shown(row['sigma_m'], 'm', material)}; most from {row['largest']}"
        rows.append((f"tolerance {row['axis']}", told))
    if not rows:
        axes = (("x", station.tolerance.x_m), ("y", station.tolerance.y_m), ("z", station.tolerance.z_m))
        told = ", ".join(f"{axis} {plus_minus(one_m, material)}" for axis, one_m in axes if one_m is not None)
        rows.append(("tolerance", f"{told}; no budget is known"))
    return rows


# ---- moves, and what a year brings -----------------------------------------------------------------------------------


def _move_rows(label: str, material: Material) -> Rows:
    """The move in and the move out that are made most; without a run the shortest."""
    limits = material.evaluation.limits
    legs = [] if limits is None else limits.motion.legs.rows()
    rows = []
    for name, here, there, way in (("move in", "end", "start", "from"), ("move out", "start", "end", "to")):
        mine = [row for row in legs if row[here] == label]
        if not mine:
            rows.append((name, "none is known"))
            continue
        row = min(mine, key=lambda one: (-one["made"], one["distance_m"], not one["loaded"]))
        load = "with a part" if row["loaded"] else "empty"
        which = ", mostly" if row["made"] else ", shortest"
        length, time = shown(row["distance_m"], "m", material), shown(row["time_s"], "s", material)
        told = f"{way} {row[there]}, {length} {load} in {time}"
        governs = "" if material.for_customer else f"; {row['governs']} governs"
        top = shown(row["peak_speed_m_s"], "m/s", material)
        rows.append((f"{name}{which}", f"{told}, up to {top}{governs}"))
    return rows


def _yearly(station: Station, material: Material) -> str:
    evaluation = material.evaluation
    use = None if evaluation.limits is None else evaluation.limits.upkeep.use
    if use is None:
        return "works not known: the row yearly-use says why"
    i = [one.name for one in evaluation.line.stations].index(station.name)
    works, hours = number(use.works[i]), number(use.work_s[i] / 3600.0)
    return f"{works} works, {hours}{KEEP}h in work ({basis_in_words(use, material)})"


# ---- transfers -------------------------------------------------------------------------------------------------------


def _transfer_blocks(transfer: TransferLayout, findings: tuple[Finding, ...], material: Material) -> tuple[Block, ...]:
    evaluation = material.evaluation
    line = evaluation.line
    mine = tuple(one for one in findings if transfer.name in transfers_named(one, line))
    facts: Rows = []
    if evaluation.run is not None and not material.for_customer:
        facts.append(("passes here", passes_here(evaluation.run.cycle_causes_by_station, transfer.name)))
    use = None if evaluation.limits is None else evaluation.limits.upkeep.use
    if use is not None:
        i = [one.name for one in evaluation.layout.transfers].index(transfer.name)
        taken = f"{number(use.transfer_cycles[i])} carriers taken ({basis_in_words(use, material)})"
        facts.append(("in a year", taken))
    # What holds stands in the chapters; a station's page repeats it because it hangs at the station.
    wrong = tuple(one for one in mine if one.verdict != "holds")
    told = _shortened(told_to(wrong, material), f"transfer {transfer.name}")
    facts.append(("findings", f"{counts_sentence(mine).removeprefix('Findings: ')}"))
    return (
        Heading(f"{transfer.kind.replace('-', ' ').capitalize()} {transfer.name}", 2),
        pairs(("where it is", "what it does"), _transfer_place(transfer, material), _ride(transfer, material)),
        Facts(tuple(facts)),
        *(place_finding_blocks(told, material)[1:] if wrong else ()),
    )


def _transfer_place(transfer: TransferLayout, material: Material) -> Rows:
    """The lanes on both sides, and how its platform lies to them; floor distances."""
    layout = material.evaluation.layout
    stops = {one.lane: one for one in layout.stops if one.kind == "dock" and one.transfer == transfer.name}
    mine = [one for one in docks(layout) if one.transfer.name == transfer.name]
    taking, giving = mine[: len(transfer.takes)], mine[len(transfer.takes) :]
    rows = [
        ("takes from", f"lane {one.lane.name}: dock {_on_floor(stops[one.lane.name].floor_m, material)}")
        for one in taking
    ]
    rows += [
        ("gives to", f"lane {one.lane.name}: begins {_on_floor(one.lane.travel_to_floor(0.0), material)}")
        for one in giving
    ]
    at_lane = {_on_floor(dock.middle_m, material): dock.lane.name for dock in mine}
    each = len(at_lane) > 1
    rows += [
        (f"platform's centre at {lane}" if each else "platform's centre", middle) for middle, lane in at_lane.items()
    ]
    rows += [
        ("platform", f"{shown(transfer.platform_m, 'm', material)} long, gap {shown(transfer.gap_m, 'm', material)}"),
        ("dock to platform", f"{shown(transfer.on_m, 'm', material)} centre to centre"),
        ("ride", shown(transfer.ride_m, "m", material)),
        ("places aboard", number(transfer.places)),
    ]
    return rows


def _on_floor(floor_m: float, material: Material) -> str:
    """A floor distance in words; platforms may stand west of where it is counted from."""
    if floor_m < -SAME_PLACE_M:
        return f"{shown(-floor_m, 'm', material)} west of the floor's west end"
    return f"{shown(abs(floor_m), 'm', material)} from the west end of the floor"


def _ride(transfer: TransferLayout, material: Material) -> Rows:
    sheet = material.evaluation.line.conveyor.transfers[transfer.kind]
    limits = (
        f"{shown(sheet.speed_m_s, 'm/s', material)}, {shown(sheet.acceleration_m_s2, 'm/s²', material)}, "
        f"{shown(sheet.jerk_m_s3, 'm/s³', material)}"
    )
    return [
        ("unlocks in", shown(sheet.unlock_s, "s", material)),
        ("rides with", limits),
        ("aligns in", shown(sheet.align_s, "s", material)),
        ("locks in", shown(sheet.lock_s, "s", material)),
        ("empty platform", "returns at once" if transfer.at_once else "returns when it is called"),
        ("part number", sheet.part_number or "not in the sheet (key part_number)"),
    ]
