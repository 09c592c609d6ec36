"""The rows of upkeep once more, from docs/limits/upkeep.md alone."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from scipy.stats import poisson

from agree.limits_rows import Row
from linewright.flow.duty import Duty
from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.line.ratings import WearPart

MONTHS = 12.0


@dataclass(frozen=True)
class Use:
    """What a line does in a year."""

    most_m: float
    mean_m: float
    cycles: dict[str, float]
    works: dict[str, float]
    work_s: dict[str, float]
    planned_s: float
    usable_s: float


def planned_s(line: Line) -> float | None:
    demand = line.demand
    return None if demand is None else demand.shifts_per_day * demand.paid_time_per_shift_s * demand.days_per_year


def usable_s(line: Line) -> float | None:
    planned = planned_s(line)
    if planned is None or line.demand is None:
        return None
    return planned * (1.0 - line.demand.losses_not_modelled)


def lap_m(line: Line, layout: Layout) -> float:
    """Once round: lanes, platforms and gaps."""
    length = sum(line.lane_length_m(lane.name) for lane in line.lanes)
    for transfer in line.transfers:
        sheet = line.conveyor.transfers[transfer.kind]
        length += sheet.platform_m + 2.0 * sheet.gap_m
    return length


def laps(line: Line, layout: Layout) -> int:
    """How often a good load goes round from one first step to the next: stop by stop, exits passed by."""
    order = {stop.station: k for k, stop in enumerate(layout.stops) if stop.station is not None}
    way = [step.stations[0] for step in line.route if not step.reject_exit and not step.rework_only]
    rounds = 0
    for before, after in zip(way, [*way[1:], way[0]], strict=True):
        rounds += order[after] <= order[before]
    return rounds


def station_time_s(line: Line, station: Station) -> float:
    nests = 1 if line.fixture is None else line.fixture.nests
    return station.time.mean_s * (nests if station.each == "part" else 1)


def use_by_demand(line: Line, layout: Layout) -> Use | None:
    demand, planned, usable = line.demand, planned_s(line), usable_s(line)
    if demand is None or planned is None or usable is None or not layout.is_closed or line.variants:
        return None
    if any(station.rework is not None for station in line.stations) or line.carrier_changes or layout.blocking:
        return None
    nests = 1 if line.fixture is None else line.fixture.nests
    passed = Fraction(1)
    for step in line.route:
        passed *= 1 - Fraction(line.station(step.stations[0]).rejects)
    missed = Fraction(line.station(line.route[0].stations[0]).misses)
    if passed == 0 or missed == 1:
        return None
    loads = float(Fraction(demand.good_parts_per_year) / (nests * passed * (1 - missed)))
    rounds, works = laps(line, layout), {}
    for step in line.route:
        share = 1.0 - float(passed) ** nests if step.reject_exit else 1.0
        for name in step.stations:
            works[name] = loads * share / len(step.stations)
    travel = loads * rounds * lap_m(line, layout) / line.carriers
    times = {name: works[name] * station_time_s(line, line.station(name)) for name in works}
    cycles = {transfer.name: loads * rounds for transfer in line.transfers}
    return Use(travel, travel, cycles, works, times, planned, usable)


def use_by_run(line: Line, layout: Layout, duty: Duty) -> Use | None:
    planned, usable = planned_s(line), usable_s(line)
    if planned is None or usable is None:
        return None
    scale = usable / (duty.to_s - duty.from_s)
    gone: Counter[int] = Counter()
    taken: Counter[str] = Counter()
    way = dict.fromkeys(range(duty.carriers), 0.0)
    for carrier, leg in zip(duty.carrier.tolist(), duty.leg.tolist(), strict=True):
        way[carrier] = way.get(carrier, 0.0) + duty.legs[leg].move.distance_m
        gone[leg] += 1
    for leg, times in gone.items():
        start, end = layout.stops[duty.legs[leg].start], layout.stops[duty.legs[leg].end]
        if end.kind == "aboard" and (start.kind != "aboard" or start.transfer != end.transfer):
            taken[end.transfer or ""] += times
    works: Counter[str] = Counter()
    as_it_was: Counter[str] = Counter()
    span = zip(duty.work_station.tolist(), duty.work_start_us.tolist(), duty.work_end_us.tolist(), strict=True)
    for number, start_us, end_us in span:
        works[line.stations[number].name] += 1
        as_it_was[line.stations[number].name] += end_us - start_us
    own = {name for variant in line.variants for name, _ in variant.times}
    work_s = {
        station.name: (
            as_it_was[station.name] / 1e6 * scale
            if station.name in own
            else works[station.name] * station_time_s(line, station) * scale
        )
        for station in line.stations
    }
    return Use(
        max(way.values()) * scale,
        sum(way.values()) / line.carriers * scale,
        {transfer.name: taken[transfer.name] * scale for transfer in line.transfers},
        {station.name: works[station.name] * scale for station in line.stations},
        work_s,
        planned,
        usable,
    )


def replaced(line: Line, layout: Layout, part: WearPart, use: Use | None) -> float | None:
    """Replacements a year of all of them; None where that is not known."""
    planned = planned_s(line)
    owners = {
        "carrier": line.carriers,
        "transfer": len(line.transfers),
        "section": sum(len(lane.sections) for lane in layout.lanes),
        "line": 1,
    }[part.per]
    if part.travel_m is not None:
        return None if use is None else part.count * line.carriers * use.mean_m / part.travel_m
    if part.cycles is not None:
        return None if use is None else part.count * sum(use.cycles.values()) / part.cycles
    if part.months is not None:
        return part.count * owners * MONTHS / part.months
    assert part.every_s is not None
    return None if planned is None else part.count * owners * planned / part.every_s


def stock(expected: float, level: float) -> int:
    fewest = int(poisson.ppf(level, expected))
    while fewest > 0 and poisson.cdf(fewest - 1, expected) >= level:
        fewest -= 1
    while poisson.cdf(fewest, expected) < level:
        fewest += 1
    return fewest


def failures(line: Line, use: Use | None) -> float | None:
    """Failures a year of all stations; None without any, or where one of them is not known."""
    told, found, usable = 0.0, False, usable_s(line)
    for station in line.stations:
        for failure in station.failures:
            found = True
            if failure.of == "clock" and failure.one_in is None:
                if usable is None:
                    return None
                assert failure.mean_every_s is not None
                told += usable / (failure.mean_every_s + failure.repair.mean_s)
            elif use is None:
                return None
            elif failure.one_in is not None:
                told += use.works[station.name] / failure.one_in
            else:
                assert failure.mean_every_s is not None
                told += use.work_s[station.name] / failure.mean_every_s
    return told if found else None


def hangs_on_use(line: Line) -> bool:
    """Whether any row waits for the year's use: greasing, parts worn by use, failures but those of the clock."""
    of_use = [
        failure
        for station in line.stations
        for failure in station.failures
        if failure.of != "clock" or failure.one_in is not None or line.demand is None
    ]
    return bool(of_use) or line.conveyor.upkeep is not None


def upkeep_rows(line: Line, layout: Layout, duty: Duty | None) -> list[Row]:
    """Every row of upkeep."""
    use = use_by_demand(line, layout) if duty is None else use_by_run(line, layout, duty)
    sheet, rows = line.conveyor.upkeep, []
    if use is not None:
        rows.append(Row("yearly-use", "holds", use.most_m))
    elif hangs_on_use(line):
        rows.append(Row("yearly-use", "not checked"))
    if sheet is None:
        rows.append(Row("relubrication", "not checked"))
    elif use is not None:
        often = max(use.most_m / sheet.relubrication_travel_m, MONTHS / sheet.relubrication_months)
        rows.append(Row("relubrication", "holds", MONTHS / often))
    rows += wear_rows(line, layout, use)
    if (expected := failures(line, use)) is not None:
        rows.append(Row("station-failures", "holds", expected))
    return rows + surroundings(line)


def wear_rows(line: Line, layout: Layout, use: Use | None) -> list[Row]:
    sheet = line.conveyor.upkeep
    if sheet is None:
        return []
    if not sheet.wear_parts:
        return [Row("wear-parts", "not checked")]
    rows, stocked, swaps = [], [], None
    for part in sheet.wear_parts:
        if part.per == "transfer" and not line.transfers:
            continue
        a_year = replaced(line, layout, part, use)
        if a_year is None:
            continue
        rows.append(Row("wear-part", "holds", a_year))
        stocked.append(a_year)
        if part.per == "section":
            swaps = (swaps or 0.0) + a_year * sheet.section_swap_s
    if stocked and line.upkeep is None:
        rows.append(Row("spares", "not checked"))
    elif stocked and line.upkeep is not None:
        ahead = line.upkeep.lead_time_months / MONTHS
        rows.append(
            Row("spares", "holds", float(sum(stock(one * ahead, line.upkeep.service_level) for one in stocked)))
        )
    if swaps is not None and line.demand is not None:  # set against the planned hours
        rows.append(Row("section-swap", "holds", swaps))
    return rows


def surroundings(line: Line) -> list[Row]:
    environment = line.environment
    keys = {"chips": "iron-chips", "spatter": "spatter", "wash_down": "wash-down", "static": "static-electricity"}
    stated = {key: None if environment is None else getattr(environment, key) for key in keys}
    rows = [Row("environment", "not checked")] if None in stated.values() else []
    if all(value is False for value in stated.values()):
        rows.append(Row("environment", "holds"))
    for key, code in keys.items():
        if stated[key] and key != "wash_down":
            rows.append(Row(code, "tight"))
    if stated["wash_down"]:
        rows.append(wash_down(line.conveyor.protection))
    return rows


def wash_down(protection: str | None) -> Row:
    numerals = [] if protection is None else re.findall(r"\bIP\s?[0-9X]([0-9])(?![0-9])", protection)
    if not numerals or protection is None:
        return Row("wash-down", "not checked")
    best = max(int(one) for one in numerals)
    for order in "965":
        if order in numerals:
            best = int(order)
            break
    refused = re.search(r"(not for|no) wash.?down", protection, re.IGNORECASE) is not None
    fails = refused or best not in (5, 6, 9)
    return Row("wash-down", "fails" if fails else "tight", float(best), 5.0)
