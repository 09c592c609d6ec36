"""Whether the moves of a log are within what drive, thrust, part and curve allow."""

from __future__ import annotations

import math

import numpy as np

from linewright.line.model import Line
from linewright.motion.limits import hold_limits, moving_mass_kg
from linewright.motion.thrust import THRUST_SHARE
from linewright.traffic.plan import LOADED
from linewright.traffic.referee.log import Log
from linewright.traffic.referee.profiles import Profile
from linewright.traffic.referee.report import GreatestUse, Violation

ROUNDING = 1e-9
"""A move that uses all of a limit reaches it to rounding."""


def judge_limits(line: Line, log: Log) -> tuple[GreatestUse | None, list[Violation]]:
    """The greatest speed, acceleration and jerk of all moves, against the limits of each.

    Notes      The limits are asked for twice: those of the leg, which the profile was integrated with, and those of the
               conveyor sheet and the line file themselves: drive, 80 % of the thrust at the move's peak speed and
               lowest voltage less friction and cogging, what holds the part, in a curve its speed and the side pull.
    Source     docs/theory.md, Limits of a move, Moves in a curve; the reserve of 20 %: common practice.
    """
    if not log.profiles:
        return None, []
    found: list[Violation] = []
    uses = []
    for number, profile in enumerate(log.profiles):
        shares = _shares(line, profile, int(log.load_of[number]) == LOADED, bool(log.curved[number]))
        share, limit = max(shares)
        uses.append((share, limit))
        if share > 1.0 + ROUNDING:
            row = int(np.flatnonzero(log.profile == number)[0])
            carrier = int(log.carrier[row])
            what = f"carrier {carrier}, stop {log.start[row]} to {log.end[row]}, uses more than the {limit} allows"
            found.append(Violation("limits", int(log.departure_us[row]), (carrier,), what, share, 1.0, ""))
    peaks = [profile.peaks for profile in log.profiles]
    share, limit = max(uses)
    speed, acceleration, jerk = (max(peak[k] for peak in peaks) for k in range(3))
    return GreatestUse(speed, acceleration, jerk, share, limit), found


def _shares(line: Line, profile: Profile, loaded: bool, curved: bool) -> list[tuple[float, str]]:
    """What share of each limit a move uses."""
    speed, acceleration, jerk = profile.peaks
    drive, own = line.conveyor.drive, profile.limits
    scale = drive.lowest_voltage_V / drive.nominal_voltage_V
    speeds, forces = ([point[k] for point in drive.thrust] for k in range(2))
    thrust_N = THRUST_SHARE * float(np.interp(speed / scale, speeds, forces))
    needed_N = moving_mass_kg(line, loaded) * acceleration + drive.friction_N + drive.cogging_N
    shares = [
        (speed / own.speed_m_s, "speed of the leg"),
        (acceleration / max(own.acceleration_m_s2, own.braking_m_s2), "acceleration of the leg"),
        (jerk / own.jerk_m_s3, "jerk of the leg"),
        (speed / drive.speed_m_s, "drive speed"),
        (speed / (scale * speeds[-1]), "end of the thrust curve"),
        (acceleration / drive.acceleration_m_s2, "drive acceleration"),
        (jerk / drive.jerk_m_s3, "drive jerk"),
        (needed_N / thrust_N, "thrust"),
    ]
    if line.move_limits is not None:
        ceiling = line.move_limits
        own_stated = (("speed", speed, ceiling.speed_m_s), ("acceleration", acceleration, ceiling.acceleration_m_s2))
        shares += [
            (used / most, f"line's own {name}")
            for name, used, most in (*own_stated, ("jerk", jerk, ceiling.jerk_m_s3))
            if most is not None
        ]
    curve = line.conveyor.curve
    side = 0.0
    if curved and curve is not None:
        side = speed * speed / curve.radius_m
        shares.append((speed / curve.speed_m_s, "curve speed"))
    if loaded:
        pull = math.hypot(acceleration, side)
        shares += [(pull / hold.value, hold.name) for hold in hold_limits(line.part) if hold.value is not None]
    return shares
