"""The chapters for the electrician who wires the line, and for whoever sets up its bus."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

from linewright.handover.document.blocks import Block, Caution, Facts, Heading, Part, Points, Tag, Words
from linewright.handover.dossier.chapter import (
    NO_LIMITS,
    UNKNOWN,
    chapter,
    columns,
    finding_blocks,
    findings_of,
    plain,
    share,
    shown,
)
from linewright.handover.dossier.limits import drawn
from linewright.handover.wording import TAGS
from linewright.quantities import KEEP, number, percent

if TYPE_CHECKING:
    from linewright.findings import Finding, Verdict
    from linewright.handover.papers.material import Material
    from linewright.line.electrics import Feeder
    from linewright.line.model import Line

Rows = list[tuple[str, str]]

_FEEDER: Final = re.compile(r"feeder ([\w.-]+)(?:: |$)")
_FEEDERS: Final = re.compile(r"(?<![\w.-])feeders? ([\w.-]*\w(?:(?:, | and )[\w.-]*\w)*)")
_WORST: Final[tuple[Verdict, ...]] = ("fails", "not checked", "tight")
_LOADS: Final = (
    "All start: all carriers at once; far end: the voltage that is left there. Worst 10 ms, effective and mean: in the "
    "run. All brake: the energy that they give back at once, the voltage that the feeder comes to, and to which it "
    "would come without a braking resistor."
)
_AS_STATED: Final = (
    "This is no approval: mend, or look into, what is named on the right before it is wired; the rows at the end of "
    "this chapter say how."
)
_IN_TRAVEL: Final = "Sections are numbered in travel, from the start of their lane."
_CABLES: Final = (
    "In the feeder's worst case; most current: of the run that has most, a little less than all start, which puts all "
    "carriers at the far end; lost and loss: of all runs of a row, go and return."
)
_LEAST_AREA: Final = (
    "Least for voltage: the least area, from the one stated upwards, with which the far end keeps its voltage; no "
    "approval, since it looks neither at what a cable may carry nor at its protection."
)
_NOT_STATED: Final = "What these papers do not state, and who wires must ask"
_ADDRESSES: Final = (
    "Addresses on the bus, and what each byte means, come with the controller program; they are not in this paper."
)
_LOCAL_CODE: Final = (
    "Local codes rule the wiring: a licensed electrician decides on conductors, protection, earthing and "
    "disconnection. Short-circuit currents, earthing and EMC are not looked at here. Supplies hold a charge after "
    "switching off."
)


def power_part(material: Material) -> tuple[Part, ...]:
    """Supplies, feeders with their protection and cables, motor zones, the cabinet, and the findings.

    Parameters
    ----------
    material : of the line; who wires it for its customer needs currents and voltages as much as the builder does
    """
    from linewright.pictures import current_trace

    evaluation = material.evaluation
    line, limits = evaluation.line, evaluation.limits
    blocks: list[Block] = [Caution(_LOCAL_CODE), Facts(tuple(_supply(material)))]
    if not line.feeders:
        blocks.append(Words("No feeder is stated: the key feeders in the line file says what feeds each lane."))
    else:
        blocks += _stated(line.feeders, material)
    picture: tuple[Block, ...] = ()
    not_stated: tuple[Block, ...] = (Heading(_NOT_STATED, 2), Points(what_to_ask(line)))
    if limits is None:
        return chapter("Power", "power", [*blocks, *not_stated, Words(NO_LIMITS)], material)
    power = limits.power
    if len(power.feeders):
        blocks += [Heading("Currents and voltages", 2), Words(_LOADS), _loads(power.feeders.rows(), material)]
    if len(power.schedule):
        blocks += _schedule(power.schedule.rows(), material)
    if len(power.sections):
        blocks += [Heading("Voltage at each section", 2), Facts(tuple(_voltages(power.sections.rows(), material)))]
    if len(power.zones):
        blocks += [Heading("Motor zones", 2), _zones(power.zones.rows(), material)]
    if line.feeders:
        told = (
            "The current of the feeders about the worst instant of the run, and with all carriers starting or braking."
        )
        picture = drawn(current_trace, 1.0, told, 0.36, material)
    found = findings_of(material, "power")
    rows = finding_blocks(alike_feeders(found), material, counted=found)
    return (Part((Heading("Power"), *blocks, *not_stated, *rows, *picture)),)


def what_to_ask(line: Line) -> tuple[str, ...]:
    """What an electrician needs and no key of the line file or the sheet states.

    Parameters
    ----------
    line : what it does not have is not asked for
    """
    resistors = any(feeder.braking_resistor is not None for feeder in line.feeders)
    guards = any(station.guard is not None for station in line.stations)
    transfers = "the transfers and " if line.transfers else ""
    zones = "; what switches off a motor zone, within a section too" if line.motor_zones else ""
    return (
        f"Logic supply: which one, its cable and fuse, where it is fed in. What feeds {transfers}the controller.",
        "Mains side. Terminals, polarity. Place of fuses and breakers, which poles they cut; short-circuit currents.",
        "Whether the motor circuit is SELV or PELV, and where it is earthed; protective earth of track and cabinet.",
        f"Emergency stop{' and guards' if guards else ''}: devices, circuits, wiring{zones}.",
        f"{'Braking resistors: where they are mounted, their cable. ' if resistors else ''}Bus: cable, route, plugs.",
    )


def feeder_verdicts(findings: tuple[Finding, ...], feeder: str) -> dict[Verdict, tuple[str, ...]]:
    """Verdict, the worst first -> the codes that have it at a feeder; what holds is left out.

    Parameters
    ----------
    findings : of power
    feeder : by its name
    """
    found: dict[Verdict, tuple[str, ...]] = {}
    for verdict in _WORST:
        codes = (one.code for one in findings if one.verdict == verdict and feeder in _feeders_named(one))
        if told := tuple(dict.fromkeys(codes)):
            found[verdict] = told
    return found


def _feeders_named(finding: Finding) -> set[str]:
    return {name for match in _FEEDERS.finditer(finding.where) for name in re.split(r", | and ", match.group(1))}


def alike_feeders(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The same rows, those that differ in nothing but the feeder put together: ``feeders lower, upper: ...``.

    Parameters
    ----------
    findings : in the order in which they are to stand
    """
    of: dict[Finding, list[str]] = {}
    for one in findings:
        named = _FEEDER.match(one.where)
        rest = replace(one, where=_FEEDER.sub("", one.where), place=None if named else one.place)
        of.setdefault(rest, []).extend([named.group(1)] if named else [])
    return tuple(replace(rest, where=_of_feeders(names, rest.where)) for rest, names in of.items())


def _of_feeders(names: list[str], where: str) -> str:
    if not names:
        return where
    named = f"feeder{'s' if len(names) > 1 else ''} {', '.join(names)}"
    return f"{named}: {where}" if where else named


def _supply(material: Material) -> Rows:
    """The sheet's motor supply, the supply of the logic, and the cabinet."""
    line = material.evaluation.line
    supply, logic, cabinet = line.conveyor.supply, line.conveyor.logic, line.cabinet
    if supply is None:
        rows = [("motor supply", "not in the conveyor sheet (key supply)")]
    else:
        within = "" if supply.tolerance is None else f" ±{percent(supply.tolerance)}"
        told = (
            f"{shown(supply.voltage_V, 'V', material)}{within} direct current, {shown(supply.current_A, 'A', material)}"
        )
        trip = f"switches off above {shown(supply.trip_V, 'V', material)}"
        number_of = "" if supply.part_number is None else f"; part number {supply.part_number}"
        rows = [("motor supply, each", f"{told}; {trip}{number_of}")]
        holds = f"{shown(supply.capacitance_F, 'F', material)} a feeder"
        gone = "how long they hold charge is not in the sheet (key discharge)"
        if supply.discharge_s is not None:
            gone = f"no charge left {shown(supply.discharge_s, 's', material)} after switching off"
        rows.append(("capacitors", f"{holds}; {gone}"))
    if logic is None:
        rows.append(("logic supply", "not in the conveyor sheet (key logic)"))
    else:
        each = f"{shown(logic.section_current_A, 'A', material)} a section"
        rows.append(("logic supply", f"{shown(logic.voltage_V, 'V', material)}, {each}"))
    if cabinet is None:
        rows.append(("cabinet", "not stated (key cabinet)"))
    else:
        gives = f"gives off {shown(cabinet.heat_W, 'W', material)} at its greatest inner temperature"
        rows.append(("cabinet", f"{shown(cabinet.width_m, 'm', material)} of room on its rails; {gives}"))
    return rows


def _stated(feeders: tuple[Feeder, ...], material: Material) -> list[Block]:
    findings = findings_of(material, "power")
    verdicts = [feeder_verdicts(findings, one.name) for one in feeders]
    head: list[Block] = [Heading("Feeders, as the line file states them", 2)]
    head += [Words(_AS_STATED)] if any(verdicts) else []
    return [*head, _wired(feeders, verdicts, material)]


def _wired(feeders: tuple[Feeder, ...], verdicts: list[dict[Verdict, tuple[str, ...]]], material: Material) -> Block:
    def wrong(found: dict[Verdict, tuple[str, ...]]) -> str:
        return "; ".join(f"{TAGS[verdict]}: {', '.join(codes)}" for verdict, codes in found.items()) or "none"

    def cable(feeder: Feeder) -> str:
        found = feeder.cable
        if found is None:
            return "not stated (key cable)"
        rating = "rating not stated" if found.rating_A is None else f"rated {shown(found.rating_A, 'A', material)}"
        return f"{found.conductor} copper, {number(found.temperature_degC)}{KEEP}°C at work; {rating}"

    def protection(feeder: Feeder) -> str:
        if feeder.fuse_A is not None:
            return f"fuse gG {shown(feeder.fuse_A, 'A', material)}"
        return "none stated" if feeder.breaker_A is None else f"breaker {shown(feeder.breaker_A, 'A', material)}"

    def resistor(feeder: Feeder) -> str:
        found = feeder.braking_resistor
        if found is None:
            return "none"
        told = f"{shown(found.resistance_ohm, 'ohm', material)}, {shown(found.power_W, 'W', material)}"
        return f"{told}, on above {shown(found.on_V, 'V', material)}"

    def lane(feeder: Feeder) -> str:
        if feeder.from_m is None or feeder.to_m is None:
            return f"{feeder.lane}, all of it"
        return f"{feeder.lane}, {shown(feeder.from_m, 'm', material)} to {shown(feeder.to_m, 'm', material)}"

    return columns(
        material,
        (
            ("=", False, [Tag(next(iter(found), "holds")) for found in verdicts]),
            ("=feeder", False, [one.name for one in feeders]),
            ("lane", False, [lane(one) for one in feeders]),
            ("=enters", False, [one.enters for one in feeders]),
            (">supplies", False, [number(one.supplies) for one in feeders]),
            ("=protection", False, [protection(one) for one in feeders]),
            ("cable and links", False, [cable(one) for one in feeders]),
            ("braking resistor", False, [resistor(one) for one in feeders]),
            ("which checks", False, [wrong(found) for found in verdicts]),
        ),
    )


def _loads(rows: list[dict[str, Any]], material: Material) -> Block:
    def of(key: str, unit: str) -> list[str]:
        return [shown(row[key], unit, material) for row in rows]

    return columns(
        material,
        (
            ("=feeder", False, [str(row["feeder"]) for row in rows]),
            (">sections", False, [number(row["sections"]) for row in rows]),
            (">carriers", False, [number(row["carriers"]) for row in rows]),
            (">supplies", False, of("supplies_A", "A")),
            (">all start", False, of("restart_A", "A")),
            (">far end", False, of("restart_V", "V")),
            (">worst 10 ms", False, of("peak_A", "A")),
            (">effective", False, of("rms_A", "A")),
            (">mean", False, of("mean_W", "W")),
            (">give back", False, of("braking_J", "J")),
            (">all brake, to", False, of("braking_V", "V")),
            (">no resistor", False, of("unaided_V", "V")),
        ),
    )


def _schedule(rows: list[dict[str, Any]], material: Material) -> list[Block]:
    """Cables and links; runs that follow one another and are alike in one row, their losses added up."""

    def alike(row: dict[str, Any]) -> tuple[Any, ...]:
        return (*(row[key] for key in ("feeder", "length_m", "area_mm2", "conductor")), plain(row["proposed_mm2"]))

    runs = [list(group) for _, group in groupby(rows, key=alike)]
    most_A = [max(one["current_A"] for one in run) for run in runs]
    total = [(len(run), run[0], sum(one["drop_V"] for one in run), sum(one["loss_W"] for one in run)) for run in runs]
    grid = columns(
        material,
        (
            ("=feeder", False, [str(run[0]["feeder"]) for run in runs]),
            ("from, to", False, [f"{run[0]['from']} to {run[-1]['to']}" for run in runs]),
            (">runs", False, [number(count) for count, _, _, _ in total]),
            (">each, one way", False, [shown(one["length_m"], "m", material) for _, one, _, _ in total]),
            (">area", False, [_area(one["area_mm2"]) for _, one, _, _ in total]),
            ("=conductor", False, [str(one["conductor"]) for _, one, _, _ in total]),
            (">most current", False, [shown(one, "A", material) for one in most_A]),
            (">voltage lost", False, [shown(drop, "V", material) for _, _, drop, _ in total]),
            (">loss", False, [shown(loss, "W", material) for _, _, _, loss in total]),
            (">least for voltage", True, [_area(one["proposed_mm2"]) for _, one, _, _ in total]),
        ),
    )
    words = f"{_CABLES} {_IN_TRAVEL}" if material.for_customer else f"{_CABLES} {_LEAST_AREA} {_IN_TRAVEL}"
    return [Heading("Cable schedule", 2), Words(words), grid]


def _area(area_mm2: float) -> str:
    text = plain(area_mm2)
    return text if text == UNKNOWN else f"{text}{KEEP}mm²"


def _voltages(rows: list[dict[str, Any]], material: Material) -> Rows:
    """A row a feeder: the voltage at each of its sections from its head on."""
    told = []
    for feeder, group in groupby(rows, key=lambda row: str(row["feeder"])):
        mine = list(group)
        cases = Counter(str(row["case"]) for row in mine if row["case"])
        case = f", {' or '.join(cases)}" if cases else ""
        volts = ", ".join(f"{row['number']}: {shown(row['voltage_V'], 'V', material)}" for row in mine)
        told.append((f"feeder {feeder}{case}", f"section {volts}"))
    return told


def _zones(rows: list[dict[str, Any]], material: Material) -> Block:
    return columns(
        material,
        (
            ("=zone", False, [str(row["zone"]) for row in rows]),
            ("=lane", False, [str(row["lane"]) for row in rows]),
            (">from", False, [shown(row["from_m"], "m", material) for row in rows]),
            (">to", False, [shown(row["to_m"], "m", material) for row in rows]),
            ("fed by", False, [str(row["feeders"]) for row in rows]),
            ("stations in it", False, [str(row["stations"]) or "none" for row in rows]),
            ("logic stays alive", False, [str(row["own_logic_supply"]) for row in rows]),
        ),
    )


# ---- the bus ---------------------------------------------------------------------------------------------------------


def bus_part(material: Material) -> tuple[Part, ...]:
    """The process image, its time on the wire, the reaction budget, and the findings.

    Parameters
    ----------
    material : of the line
    """
    limits = material.evaluation.limits
    if limits is None:
        return chapter("Bus", "bus", (Words(NO_LIMITS),), material)
    bus = limits.bus
    blocks: list[Block] = []
    if bus.image is None:
        blocks.append(Words("The process image is not known: the rows below say which figure of the sheet is missing."))
    else:
        rows = bus.image.rows()
        all_bytes = [] if bus.image_bytes is None else [bus.image_bytes]
        grid = columns(
            material,
            (
                ("process image of", False, [str(row["part"]) for row in rows] + ["all" for _ in all_bytes]),
                (">how many", False, [number(row["count"]) for row in rows] + ["" for _ in all_bytes]),
                (">bytes each", False, [number(row["bytes_each"]) for row in rows] + ["" for _ in all_bytes]),
                (
                    ">bytes",
                    False,
                    [number(one) for one in (*(row["bytes"] for row in rows), *all_bytes)],
                ),
            ),
        )
        blocks.append(grid)
    blocks += [Words(_ADDRESSES), Facts(tuple(_bus_times(material)))]
    return chapter("Bus", "bus", blocks, material)


def _bus_times(material: Material) -> Rows:
    line, limits = material.evaluation.line, material.evaluation.limits
    assert limits is not None  # held by the caller
    bus, image, controls = limits.bus, line.conveyor.image, line.controls
    rows = []
    if image is not None:
        rate = "bit rate not in the sheet (key bit_rate)"
        if image.bit_rate_bit_s is not None:
            rate = f"{shown(image.bit_rate_bit_s, 'bit/s', material)} on the wire"
        rows.append(("the drive's cycle", f"{shown(image.cycle_s, 's', material)}; {rate}"))
    if bus.budget is not None and not material.for_customer:
        budget = bus.budget
        frames = f"{number(budget.frames)} {'frame' if budget.frames == 1 else 'frames'}"
        told = f"{shown(budget.wire_time_s, 's', material)} for {number(budget.wire_bytes)} bytes in {frames}"
        rows.append(("on the wire", f"{told}, {share(budget.utilisation)} of the cycle"))
    if controls is None:
        rows.append(("the controller", "not stated (key controls: scan and bus_cycle)"))
    else:
        scan, cycle = shown(controls.scan_s, "s", material), shown(controls.bus_cycle_s, "s", material)
        rows.append(("the controller", f"scan {scan} at most, bus cycle {cycle}"))
    if bus.reaction is not None and not material.for_customer:
        nominal, worst = shown(bus.reaction.nominal_s, "s", material), shown(bus.reaction.worst_s, "s", material)
        rows.append(("it reacts in", f"{nominal}; {worst} where a cycle of bus and program is missed"))
    rows.append(("the rate counts on", f"a reaction within {shown(bus.assumed_s, 's', material)}"))
    return rows
