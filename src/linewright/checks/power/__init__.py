"""Power: supplies, capacitors and resistors, cables and fuses, cabinet and motor zones of a line.

>>> from linewright.checks import power
>>> ohm_per_m = power.conductor_ohm_per_m(2.5, "flexible", 60.0)
>>> round(power.voltage_drop_V(10.0, 20.0, ohm_per_m), 3)
3.694
"""

from linewright.checks.power.cabinet import supply_loss_W
from linewright.checks.power.chain import ChainVoltages, chain_voltages, farthest_loads, feeder_current_A
from linewright.checks.power.check import PowerResult, check_power
from linewright.checks.power.conductors import (
    FUSE_TRIPPING,
    IEC_60228,
    SIZES_MM2,
    TRIPPING,
    Device,
    GaugeSize,
    Protection,
    conductor_ohm_per_m,
    gauge_size,
    largest_fuse_A,
    measured_at_20_ohm,
    protection,
    tripping_current_A,
    voltage_drop_V,
)
from linewright.checks.power.energy import MoveEnergy, move_energy
from linewright.checks.power.feeders import Electrics
from linewright.checks.power.first_look import (
    MotorPower,
    Precharge,
    Regeneration,
    ResistorDuty,
    motor_power,
    precharge,
    regeneration,
    resistor_duty,
)
from linewright.checks.power.storage import (
    DRY_LIMIT_V,
    OTHER_LIMIT_V,
    BrakingReturn,
    WorstReturn,
    braking_return,
    braking_voltage_V,
    capacitance_that_holds_F,
    capacitor_voltage_V,
    held_J,
    worst_braking_return,
)
from linewright.checks.power.trace import SupplyBins, supply_bins

__all__ = [
    "DRY_LIMIT_V",
    "FUSE_TRIPPING",
    "IEC_60228",
    "OTHER_LIMIT_V",
    "SIZES_MM2",
    "TRIPPING",
    "BrakingReturn",
    "ChainVoltages",
    "Device",
    "Electrics",
    "GaugeSize",
    "MotorPower",
    "MoveEnergy",
    "PowerResult",
    "Precharge",
    "Protection",
    "Regeneration",
    "ResistorDuty",
    "SupplyBins",
    "WorstReturn",
    "braking_return",
    "braking_voltage_V",
    "capacitance_that_holds_F",
    "capacitor_voltage_V",
    "chain_voltages",
    "check_power",
    "conductor_ohm_per_m",
    "farthest_loads",
    "feeder_current_A",
    "gauge_size",
    "held_J",
    "largest_fuse_A",
    "measured_at_20_ohm",
    "motor_power",
    "move_energy",
    "precharge",
    "protection",
    "regeneration",
    "resistor_duty",
    "supply_bins",
    "supply_loss_W",
    "tripping_current_A",
    "voltage_drop_V",
    "worst_braking_return",
]
