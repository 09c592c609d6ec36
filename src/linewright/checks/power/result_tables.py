"""The tables behind the rows on power: feeders, their sections, their runs of cable and link, and their currents."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.checks.power.braking_rows import without_resistor_V
from linewright.checks.power.cable_rows import proposed_areas
from linewright.checks.power.chain import ChainVoltages
from linewright.checks.power.feeders import Electrics, FeederPower, is_size
from linewright.checks.power.trace import BIN_S, FeederTrack
from linewright.layout import Layout
from linewright.tables import Column, Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

Floats = NDArray[np.float64]

TRACE_S: Final = 20.0
"""So much of the run the trace holds, about the worst bin of all feeders. [s]"""


def _end_V(chain: ChainVoltages | None) -> float | None:
    return None if chain is None else chain.far_end_V


def feeders_table(layout: Layout, electrics: Electrics | None, powers: tuple[FeederPower, ...]) -> Table:
    """One row a feeder; what is not known is not a number."""

    def floats(name: str, unit: str, values: list[float | None], meaning: str) -> Column:
        return Column(name, unit, np.array([np.nan if one is None else one for one in values], np.float64), meaning)

    def names(name: str, values: list[str], meaning: str) -> Column:
        return Column(name, None, np.array(values, dtype=np.str_), meaning)

    def counts(name: str, values: list[int], meaning: str) -> Column:
        return Column(name, None, np.array(values, dtype=np.int64), meaning)

    runs = [power.run for power in powers]
    return Table(
        (
            names("feeder", [p.feeder.name for p in powers], "feeder"),
            names("lane", [layout.lanes[p.track.lane].name for p in powers], "lane"),
            counts("sections", [len(p.track.sections) for p in powers], "sections fed"),
            counts("carriers", [p.carriers for p in powers], "carriers on it at once"),
            floats("supplies_A", "A", [p.limit_A for p in powers], "current of its supplies together"),
            floats("peak_A", "A", [None if r is None else r.peak_A for r in runs], "worst bin of the run"),
            floats("rms_A", "A", [None if r is None else r.rms_A for r in runs], "effective current of the run"),
            floats("mean_A", "A", [None if r is None else r.mean_A for r in runs], "mean current of the run"),
            floats("mean_W", "W", [None if r is None else r.power_W for r in runs], "mean power of the run"),
            floats(
                "given_back_W", "W", [None if r is None else r.back_W for r in runs], "mean power given back in the run"
            ),
            floats(
                "resistor_W",
                "W",
                [None if r is None else r.resistor_W for r in runs],
                "mean power of the resistor in the run",
            ),
            floats("restart_A", "A", [p.restart_A for p in powers], "all carriers start at once"),
            floats("braking_J", "J", [p.back_J for p in powers], "given back when all brake at once"),
            floats("braking_V", "V", [p.braking_V for p in powers], "highest voltage then"),
            floats("resistor_J", "J", [p.resistor_J for p in powers], "of it into the braking resistor"),
            floats(
                "unaided_V",
                "V",
                [None if electrics is None else without_resistor_V(electrics, (p,)) for p in powers],
                "highest voltage then without its braking resistor",
            ),
            floats("restart_V", "V", [_end_V(p.restart) for p in powers], "far end, all start at once"),
            floats(
                "coinciding_V",
                "V",
                [_end_V(p.coinciding) for p in powers],
                "far end, worst bins of all sections at once",
            ),
        )
    )


def trace_table(powers: tuple[FeederPower, ...], duty: Duty | None) -> Table:
    """All feeders over one stretch of time, about the worst bin of all as a share of its limit; that feeder first."""
    ran = [(power, power.run) for power in powers if power.run is not None]
    names: list[str] = []
    times: Floats = np.zeros(0)
    currents: list[Floats] = []
    if ran and duty is not None:
        ran.sort(key=lambda pair: -pair[1].peak_A / pair[0].limit_A)
        worst_A = ran[0][1].current_A
        bins = min(len(worst_A), round(TRACE_S / BIN_S))
        first = min(max(int(worst_A.argmax()) - bins // 2, 0), len(worst_A) - bins)
        times = np.tile(duty.from_s + np.arange(first, first + bins, dtype=np.float64) * BIN_S, len(ran))
        names = [power.feeder.name for power, _ in ran for _ in range(bins)]
        currents = [run.current_A[first : first + bins] for _, run in ran]
    return Table(
        (
            Column("time_s", "s", times, "start of the bin, time of the run"),
            Column("feeder", None, np.array(names, dtype=np.str_), "feeder"),
            Column("current_A", "A", np.concatenate([np.zeros(0), *currents]), "current from its supplies"),
        )
    )


def sections_table(layout: Layout, tracks: tuple[FeederTrack, ...], powers: tuple[FeederPower, ...]) -> Table:
    """Every section that a feeder feeds, from the head of the feeder on, with what it comes to in the worst case."""
    worst = {power.feeder.name: power.worst for power in powers}
    rows: list[tuple[str, str, int, float, float, float, float, float, str]] = []
    for track in tracks:
        case, chain = worst.get(track.name) or ("", None)
        lane = layout.lanes[track.lane].name
        for i, section in enumerate(track.sections):
            voltage_V = np.nan if chain is None else float(chain.node_V[i])
            current_A = np.nan if chain is None else float(chain.link_A[i])
            ends = track.low_m[i], track.high_m[i], (track.low_m if track.along else track.high_m)[i]
            rows.append((track.name, lane, section + 1, *ends, current_A, voltage_V, case))
    columns = list(zip(*rows, strict=True)) if rows else [()] * 9
    texts = {0: ("feeder", "feeder"), 1: ("lane", "lane"), 8: ("case", "the feeder's worst case; empty where unknown")}
    numbers = {
        3: ("from_m", "m", "travel at its start"),
        4: ("to_m", "m", "travel at its end"),
        5: ("head_m", "m", "travel at the end of it that is nearer the feeder's head"),
        6: ("current_A", "A", "in the run of cable or link before it, in that case"),
        7: ("voltage_V", "V", "at the section, then"),
    }
    made = []
    for at, values in enumerate(columns):
        if at in texts:
            made.append(Column(texts[at][0], None, np.array(values, dtype=np.str_), texts[at][1]))
        elif at == 2:
            made.append(Column("number", None, np.array(values, dtype=np.int64), "of the section in travel, from 1"))
        else:
            name, unit, meaning = numbers[at]
            made.append(Column(name, unit, np.array(values, dtype=np.float64), meaning))
    return Table(tuple(made))


def schedule_table(electrics: Electrics | None, powers: tuple[FeederPower, ...]) -> Table:
    """Every run of cable and link of which resistance and currents are known."""
    rows: list[tuple[str, str, str, float, float, str, float, float, float, float]] = []
    for power in powers:
        worst, cable, link = power.worst, power.feeder.cable, power.feeder.link
        if electrics is None or worst is None or cable is None:
            continue
        chain, areas = worst[1], proposed_areas(electrics, power)
        for i, section in enumerate(power.track.sections):
            run = cable if i == 0 else link
            assert run is not None and is_size(run.area_mm2)  # noqa: PT018  the chain is known
            proposed = np.nan if areas is None else areas[0 if i == 0 else 1]
            rows.append(
                (
                    power.feeder.name,
                    "supply" if i == 0 else f"section {power.track.sections[i - 1] + 1}",
                    f"section {section + 1}",
                    run.length_m,
                    run.area_mm2,
                    cable.conductor,
                    float(chain.link_A[i]),
                    float(chain.drop_V[i]),
                    float(chain.loss_W[i]),
                    np.nan if proposed is None else float(proposed),
                )
            )
    texts = {0: "feeder", 1: "from", 2: "to", 5: "conductor"}
    numbers = {
        3: ("length_m", "m", "one way"),
        4: ("area_mm2", "mm2", "of one conductor, as stated"),
        6: ("current_A", "A", "in the feeder's worst case"),
        7: ("drop_V", "V", "then, go and return"),
        8: ("loss_W", "W", "then, go and return"),
        9: ("proposed_mm2", "mm2", "area with which the far end keeps its voltage"),
    }
    columns = []
    for at in range(10):
        values = [row[at] for row in rows]
        if at in texts:
            columns.append(Column(texts[at], None, np.array(values, dtype=np.str_), texts[at]))
        else:
            name, unit, meaning = numbers[at]
            columns.append(Column(name, unit, np.array(values, dtype=np.float64), meaning))
    return Table(tuple(columns))
