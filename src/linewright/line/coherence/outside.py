"""Feeds and take-aways: machines outside the line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linewright.line.coherence.known import as_far_as_known
from linewright.line.coherence.route import Steps, steps_of
from linewright.line.fields import PathFault
from linewright.line.units import shown

if TYPE_CHECKING:
    from linewright.line.model import Line, Outside, Station


def outside_faults(line: Line) -> Iterator[PathFault]:
    """Machines outside fail while they run; a feed's start fits its buffer; parts leave where one takes them away."""
    for station in line.stations:
        for key in ("feed", "take_away"):
            yield from as_far_as_known(_machine(station, key))
    steps = steps_of(line)
    for i, stations in enumerate(steps):
        for station in stations:
            yield from as_far_as_known(_leaving(line, steps, i, station))


def _machine(station: Station, key: str) -> Iterator[PathFault]:
    machine: Outside | None = station.feed if key == "feed" else station.take_away
    if machine is None:
        return
    at = ("stations", station.name, key)
    for i, failure in enumerate(machine.failures):
        if failure.one_in is not None:
            found = "a jam of a machine outside the line"
            yield (*at, "failures", i, "one_in"), found, "write every: its failures are of running"
        elif failure.of == "clock":
            found = "a clock failure of a machine outside the line"
            yield (*at, "failures", i, "of"), found, "leave of out: its failures are of running"
    if key == "take_away" and machine.start is not None:
        yield (*at, "start"), "a take-away with a start", "leave it out: its buffer is empty at the start"
    elif machine.start is not None and machine.start > machine.buffer:
        yield (*at, "start"), f"{machine.start} parts in a buffer of {machine.buffer}", "write at most the buffer"


def _leaving(line: Line, steps: Steps, step: int, station: Station) -> Iterator[PathFault]:
    """A take-away stands where parts leave their carriers: at an exit, or at the last step of all or of a variant."""
    if station.take_away is None or station.reject_exit:
        return
    after = [[x for x in stations if not x.reject_exit and not x.rework_only] for stations in steps[step + 1 :]]
    for skips in [variant.skips for variant in line.variants] or [()]:
        if not any(x.name not in skips for stations in after for x in stations):
            return
    found = f"no part leaves its carrier at {shown(station.name)}"
    yield ("stations", station.name, "take_away"), found, "write it at the last step or at a reject exit"
