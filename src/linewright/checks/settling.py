"""Does the fixture's vibration keep a station waiting, after which move, and what would shorten it."""

from __future__ import annotations

from typing import Final

from linewright.findings import Finding, Verdict
from linewright.layout import Layout
from linewright.layout.stops import INCH_M, length_text
from linewright.line.model import Fixture, Line
from linewright.line.spoken import plain, rounded, unit_of
from linewright.motion.limits import NoAccelerationError, carrier_limits
from linewright.motion.settling import quickest_jerk, zero_vibration_shaper
from linewright.traffic.compile import vibration_at_stations
from linewright.traffic.plan import LOADED
from linewright.traffic.settling import Arrival, StationSettling

RULE: Final = "docs/settling.md; one degree of freedom, envelope of the residual vibration"
# A gain under this is not proposed: the stated frequency and damping are never that good.
LEAST_GAIN_S: Final = 1e-3


def check_settling(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """How long each station with a window waits for the fixture, and what would shorten that.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    tuple of Finding   Code ``settling``, subject ``motion``, one for each station that states a window. value: the time
                       from the end of the move until the vibration is within the window, the longest over the moves
                       that end there [s]; no limit. Empty where no traffic is possible: other findings say so.

    Notes
    -----
    Nothing is out of bounds here: the plan waits until the vibration is within the window, and the rate pays. So the
    verdict is ``holds`` where the sheet's own settling covers it and ``tight`` where the station waits for its fixture;
    never ``fails``, since a damped vibration always settles. Remedies are named where they pay: less time for the
    shortest move and the settling together.

    Source
    ------
    docs/semantics.md, "Settling"; docs/settling.md.
    """
    if layout.blocking:
        return ()
    try:
        found = vibration_at_stations(line, layout)
    except NoAccelerationError:
        return ()
    return tuple(_finding(line, layout, one) for one in found)


def _finding(line: Line, layout: Layout, one: StationSettling) -> Finding:
    fixture, worst, sheet_s = line.fixture, one.worst, line.conveyor.settling_s
    assert fixture is not None
    assert fixture.natural_frequency_hz is not None
    waits = worst.settling_s > sheet_s
    where = (
        f"station {one.station}: the fixture, {rounded(fixture.natural_frequency_hz, 4)} Hz, swings "
        f"±{_small(worst.residual.amplitude_m, line.units)} after its worst move ({_origin(line, layout, worst)}), "
        f"{_stillness(one, worst, line.units)}; the sheet's settling is {sheet_s:.3f} s"
    )
    place = line.place("stations", one.station, "window")
    remedy = _remedy(line, fixture, one) if waits else ""
    verdict: Verdict = "tight" if waits else "holds"
    return Finding("settling", "motion", verdict, where, place, worst.settling_s, None, "s", None, RULE, remedy)


def _origin(line: Line, layout: Layout, arrival: Arrival) -> str:
    load = "loaded" if arrival.load == LOADED else "empty"
    way = length_text(arrival.move.distance_m, line.units)
    return f"{load}, {way} from {layout.stops[arrival.start].label}"


def _stillness(one: StationSettling, worst: Arrival, units: str) -> str:
    window = f"±{_small(one.window_m, units)}"
    if worst.settling_s == 0.0:
        return f"within {window} from the first"
    return f"within {window} {worst.settling_s:.3f} s after it"


def _remedy(line: Line, fixture: Fixture, one: StationSettling) -> str:
    """What shortens shortest move and settling together, the best first, and what needs no figures."""
    assert fixture.natural_frequency_hz is not None
    assert fixture.damping is not None
    sheet_s = line.conveyor.settling_s
    ways: list[tuple[float, str]] = []
    moves = sorted({(arrival.load, arrival.move.distance_m) for arrival in one.arrivals})
    legs = tuple((distance_m, carrier_limits(line, load == LOADED, distance_m).limits) for load, distance_m in moves)
    choice = quickest_jerk(legs, fixture.natural_frequency_hz, fixture.damping, one.window_m, sheet_s)
    if choice.saved_s >= LEAST_GAIN_S:
        text = (
            f"a jerk of {_jerk(choice.jerk_m_s3, line.units)} instead of "
            f"{_jerk(line.conveyor.drive.jerk_m_s3, line.units)} in the moves to it saves "
            f"{choice.saved_s:.3f} s: the shortest takes {choice.longer_s:.3f} s longer, settling is then "
            f"{choice.settling_s:.3f} s"
        )
        ways.append((choice.saved_s, text))
    added_s = zero_vibration_shaper(fixture.natural_frequency_hz, fixture.damping).added_s
    saved_s = one.worst.settling_s - sheet_s - added_s
    if saved_s >= LEAST_GAIN_S:
        text = f"a zero-vibration shaper in the drive saves {saved_s:.3f} s: each move takes {added_s:.3f} s longer"
        ways.append((saved_s, text))
    texts = [text for _, text in sorted(ways, reverse=True)]
    texts.append("a stiffer or better damped fixture, or a wider window, shortens it too")
    waits_s = one.worst.settling_s - sheet_s
    return f"the station waits {waits_s:.3f} s longer than the drive needs: " + "; ".join(texts)


def _small(length_m: float, units: str) -> str:
    """A window or an amplitude: three digits, since it may be a few micrometres."""
    unit_m, unit = (INCH_M, "in") if units == "inch" else (1e-3, "mm")
    return f"{rounded(length_m / unit_m, 3)} {unit}"


def _jerk(jerk_m_s3: float, units: str) -> str:
    name, size = unit_of("m/s³", units)
    return f"{plain(float(f'{jerk_m_s3 / size:.4g}'))} {name}"
