"""The figures that the power of a line is reckoned from, and what they come to on each feeder."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.checks.power.chain import ChainVoltages, chain_voltages, farthest_loads, feeder_current_A
from linewright.checks.power.conductors import SIZES_MM2, conductor_ohm_per_m
from linewright.checks.power.energy import MoveEnergy, move_energy
from linewright.checks.power.storage import WorstReturn, braking_voltage_V, held_J, worst_braking_return
from linewright.checks.power.trace import (
    BIN_S,
    FeederBins,
    FeederTrack,
    feeder_bins,
    feeder_track,
    supply_bins,
)
from linewright.layout import Layout
from linewright.line.electrics import Feeder
from linewright.line.model import Line
from linewright.line.ratings import MotorSheet, SupplySheet
from linewright.motion.electric import hot_resistance_ohm
from linewright.motion.limits import carrier_limits, moving_mass_kg

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

Floats = NDArray[np.float64]

SAME: Final = 1e-9
"""A share of a value that is float noise: what a remedy names must hold where it is written."""
_DISTANCES: Final = 24


@dataclass(frozen=True)
class Electrics:
    """Figures of the sheet and of the moves that every feeder shares; the result of :func:`find_electrics`.

    Parameters
    ----------
    low_V, nominal_V, high_V, trip_V, lowest_V : of the supply with its tolerance, its trip, the drive's least. [V]
    supply_A, capacitance_F : of one supply, of one feeder. [A], [F]
    force_constant_N_A, cold_ohm, hot_ohm : of a coil group. [N/A], [ohm]
    restart_W : greatest electrical power of one carrier in any of its moves. [W]
    back : the most that one carrier gives back in a stop from full speed
    """

    low_V: float
    nominal_V: float
    high_V: float
    trip_V: float
    lowest_V: float
    supply_A: float
    capacitance_F: float
    force_constant_N_A: float
    cold_ohm: float
    hot_ohm: float
    friction_N: float
    restart_W: float
    back: WorstReturn


@dataclass(frozen=True, eq=False)
class RunPower:
    """What a feeder delivered in the run. [A], [W]

    Parameters
    ----------
    need_J : float64[bins]   Drawn less given back on the whole feeder. [J]
    current_A : float64[bins]   From the supplies, what a resistor that always conducts takes included
    power_W, resistor_W : means, from the supplies and into the braking resistor
    back_W : mean of what braking gave back
    section_W : float64[sections]   The worst bin of each section, from the head on
    held_J : the most that the capacitors held above the supply's voltage
    span_s : how much of the run. [s]
    """

    need_J: Floats
    current_A: Floats
    power_W: float
    resistor_W: float
    back_W: float
    section_W: Floats
    held_J: float
    span_s: float

    @property
    def peak_A(self) -> float:
        """The greatest bin. [A]"""
        return float(self.current_A.max())

    @property
    def rms_A(self) -> float:
        """Root of the mean square over the bins. [A]"""
        return float(np.sqrt(np.mean(self.current_A**2)))

    @property
    def mean_A(self) -> float:
        """Mean over the bins. [A]"""
        return float(self.current_A.mean())


@dataclass(frozen=True, eq=False)
class FeederPower:
    """One feeder with what it comes to.

    Parameters
    ----------
    feeder, track : as stated, and the sections that it feeds
    carriers : that can stand on it at once
    limit_A : of its supplies together. [A]
    run_ohm : float64[sections]   Cable, then links, go and return; None where one is not stated or no known size
    restart_W : float64[sections]   Where all carriers restart as far from the supply as they can stand
    restart_A : from the supplies, with all of that power at the far end of what is known of the runs. [A]
    standing_W : what a braking resistor takes from the supply for ever, its voltage being below the supply's highest
    back_J, back_peak_W : given back where all brake at once
    braking_V : the highest voltage then. [V]
    resistor_J : of it into the braking resistor
    restart, coinciding : voltages where all restart, and with the worst bins of all sections at once; None unknown
    run : None without a run
    """

    feeder: Feeder
    track: FeederTrack
    carriers: int
    limit_A: float
    run_ohm: Floats | None
    restart_W: Floats
    restart_A: float
    standing_W: float
    back_J: float
    back_peak_W: float
    braking_V: float
    resistor_J: float
    restart: ChainVoltages | None
    coinciding: ChainVoltages | None
    run: RunPower | None

    @property
    def worst(self) -> tuple[str, ChainVoltages] | None:
        """The case with the lower voltage at the far end, in words; None where the runs are not known."""
        if self.restart is None:
            return None
        if self.coinciding is not None and self.coinciding.far_end_V < self.restart.far_end_V:
            return "the worst bins of all sections at once", self.coinciding
        return "all carriers restart", self.restart


def find_electrics(line: Line, layout: Layout, supply: SupplySheet, motor: MotorSheet) -> Electrics:
    """The figures that every feeder shares.

    Parameters
    ----------
    line, layout : a line and its own layout
    supply, motor : of its sheet; the supply's tolerance and the winding's hottest temperature are stated

    Raises
    ------
    NoAccelerationError   The thrust leaves nothing to move a carrier with.
    ValueError            The tolerance or the hottest temperature is not stated.

    Notes      restart_W: the greatest power of the planned moves, empty and loaded, over 24 lengths evenly in ratio
               from the least pitch to the longest lane, with the winding at its hottest. What braking gives back: the
               heavier, loaded carrier from full speed, with the winding at 20 °C and the lesser of friction and least
               drag (none where the sheet states no coasting), at the worst deceleration up to the greater of the
               drive's and the emergency stop's.
    """
    if supply.tolerance is None or motor.hottest_degC is None:
        raise ValueError("tolerance of the supply and hottest of the motor must be stated")
    sheet, drive = line.conveyor, line.conveyor.drive
    hot_ohm = hot_resistance_ohm(motor.resistance_ohm, motor.hottest_degC)
    longest_m = max(layout.pitch_m, *(lane.length_m for lane in layout.lanes))
    peaks_W = [
        move_energy(
            carrier_limits(line, loaded, float(distance_m)).move,
            moving_mass_kg(line, loaded),
            drive.friction_N,
            motor.force_constant_N_A,
            hot_ohm,
        ).peak_W
        for distance_m in np.geomspace(layout.pitch_m, longest_m, _DISTANCES)
        for loaded in (False, True)
    ]
    greatest_m_s2 = drive.acceleration_m_s2
    if sheet.stopping is not None:
        greatest_m_s2 = max(greatest_m_s2, sheet.stopping.deceleration_m_s2)
    least_N = 0.0 if sheet.coasting is None else min(drive.friction_N, sheet.coasting.least_drag_N)
    back = worst_braking_return(
        moving_mass_kg(line, True),
        drive.speed_m_s,
        greatest_m_s2,
        least_N,
        motor.force_constant_N_A,
        motor.resistance_ohm,
    )
    return Electrics(
        low_V=supply.voltage_V * (1.0 - supply.tolerance),
        nominal_V=supply.voltage_V,
        high_V=supply.voltage_V * (1.0 + supply.tolerance),
        trip_V=supply.trip_V,
        lowest_V=drive.lowest_voltage_V,
        supply_A=supply.current_A,
        capacitance_F=supply.capacitance_F,
        force_constant_N_A=motor.force_constant_N_A,
        cold_ohm=motor.resistance_ohm,
        hot_ohm=hot_ohm,
        friction_N=drive.friction_N,
        restart_W=max(peaks_W),
        back=back,
    )


def find_powers(line: Line, layout: Layout, electrics: Electrics, duty: Duty | None) -> tuple[FeederPower, ...]:
    """What each feeder comes to; those that hold no whole section are left out."""
    energies: dict[int, MoveEnergy] = {}
    if duty is not None:
        known: dict[tuple[int, float], MoveEnergy] = {}
        for number, leg in enumerate(duty.legs):
            key = id(leg.move), leg.mass_kg
            if key not in known:
                known[key] = move_energy(
                    leg.move,
                    leg.mass_kg,
                    electrics.friction_N,
                    electrics.force_constant_N_A,
                    electrics.hot_ohm,
                )
            energies[number] = known[key]
    tracks = [(feeder, feeder_track(feeder, layout)) for feeder in line.feeders]
    return tuple(
        _power(line, layout, electrics, feeder, track, duty, energies) for feeder, track in tracks if track.sections
    )


def most_carriers(line: Line) -> int:
    """The greatest number of carriers at one time, with those that are put in and taken out on the way."""
    here = most = line.carriers
    for change in sorted(line.carrier_changes, key=lambda one: one.time_s):
        here += (change.in_ or 0) - (change.out or 0)
        most = max(most, here)
    return most


def run_ohms(feeder: Feeder, sections: int) -> Floats | None:
    """Resistance of the runs before each section, go and return: the cable's, then the links'. [ohm]

    None where the cable is not stated, the links are not though there are several sections, or an area is no size of
    IEC 60228.
    """
    cable, link = feeder.cable, feeder.link
    if cable is None or (link is None and sections > 1):
        return None
    areas = [cable.area_mm2, *([link.area_mm2] if link is not None else [])]
    if not all(is_size(area) for area in areas):
        return None
    ohm = np.zeros(sections)
    ohm[0] = 2.0 * cable.length_m * conductor_ohm_per_m(cable.area_mm2, cable.conductor, cable.temperature_degC)
    if link is not None:
        per_m = conductor_ohm_per_m(link.area_mm2, cable.conductor, cable.temperature_degC)
        ohm[1:] = 2.0 * link.length_m * per_m
    return ohm


def known_ohm(feeder: Feeder, sections: int) -> float:
    """Resistance of what is known of the way to the far end, go and return: cable, links, both or nothing. [ohm]"""
    cable, link = feeder.cable, feeder.link
    if cable is None:
        return 0.0
    runs = [(cable.length_m, cable.area_mm2)]
    if link is not None:
        runs.append(((sections - 1) * link.length_m, link.area_mm2))
    return sum(
        2.0 * length_m * conductor_ohm_per_m(area_mm2, cable.conductor, cable.temperature_degC)
        for length_m, area_mm2 in runs
        if is_size(area_mm2)
    )


def is_size(area_mm2: float) -> bool:
    """Whether the table of conductors knows an area."""
    return any(abs(area_mm2 - size) <= 1e-9 * size for size in SIZES_MM2)


def _power(
    line: Line,
    layout: Layout,
    electrics: Electrics,
    feeder: Feeder,
    track: FeederTrack,
    duty: Duty | None,
    energies: dict[int, MoveEnergy],
) -> FeederPower:
    carriers = min(most_carriers(line), track.places)
    run_ohm = run_ohms(feeder, len(track.sections))
    far_ohm = known_ohm(feeder, len(track.sections))
    stand = farthest_loads(track.lengths_m, layout.pitch_m, carriers)
    restart_W: Floats = stand.astype(np.float64) * electrics.restart_W
    resistor = feeder.braking_resistor
    on_V, ohm = (None, None) if resistor is None else (resistor.on_V, resistor.resistance_ohm)
    standing_A = 0.0
    if on_V is not None and ohm is not None and electrics.high_V > on_V * (1.0 + SAME):
        standing_A = electrics.high_V / ohm
    restart_A = float(feeder_current_A(electrics.low_V, np.array([carriers * electrics.restart_W]), far_ohm)[0])
    back_J, back_W = carriers * electrics.back.energy_J, carriers * electrics.back.peak_W
    braking_V = braking_voltage_V(electrics.high_V, back_J, back_W, electrics.capacitance_F, on_V, ohm)
    held = math.inf if on_V is None else held_J(electrics.high_V, on_V, electrics.capacitance_F)
    run, coinciding = None, None
    if duty is not None:
        lane = layout.lanes[track.lane]
        bins = feeder_bins(
            duty, track, lane, {i: one for i, one in energies.items() if duty.legs[i].lane == track.lane}
        )
        run = _run_power(bins, held, electrics, far_ohm, standing_A)
        if run_ohm is not None:
            coinciding = chain_voltages(electrics.low_V, run_ohm, run.section_W)
    return FeederPower(
        feeder=feeder,
        track=track,
        carriers=carriers,
        limit_A=feeder.supplies * electrics.supply_A,
        run_ohm=run_ohm,
        restart_W=restart_W,
        restart_A=restart_A + standing_A,
        standing_W=standing_A * electrics.high_V,
        back_J=back_J,
        back_peak_W=back_W,
        braking_V=braking_V,
        resistor_J=0.0 if resistor is None else max(0.0, back_J - held),
        restart=None if run_ohm is None else chain_voltages(electrics.low_V, run_ohm, restart_W),
        coinciding=coinciding,
        run=run,
    )


def _run_power(bins: FeederBins, held: float, electrics: Electrics, far_ohm: float, standing_A: float) -> RunPower:
    need_J: Floats = bins.net_J.sum(axis=0)
    supply = supply_bins(need_J, held)
    standing_W = standing_A * electrics.high_V
    return RunPower(
        need_J=need_J,
        current_A=feeder_current_A(electrics.low_V, supply.supply_J / BIN_S, far_ohm) + standing_A,
        power_W=float(supply.supply_J.sum()) / bins.span_s + standing_W,
        resistor_W=supply.resistor_J / bins.span_s + standing_W,
        back_W=bins.back_J / bins.span_s,
        section_W=bins.section_peak_W,
        held_J=supply.held_J,
        span_s=bins.span_s,
    )
