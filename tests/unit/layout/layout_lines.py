"""Small invented lines for the tests of the track, written as line files on the built-in sheet demo-heavy.

Its figures used here: carrier 236 mm, least pitch 265 mm, sections 385, 770 and 1155 mm.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from linewright.line.load import read_line
from linewright.line.model import Line

PITCH_M = 0.265
HALF_M = 0.118


@dataclass(frozen=True)
class LineText:
    """A two-deck line: stations as (name, lane, place in mm, further keys)."""

    stations: tuple[tuple[str, str, float, str], ...]
    length_mm: float = 3850.0
    lower_mm: float | None = None
    lower_keys: str = ""
    carriers: int = 3
    route: tuple[str, ...] = ()
    fixture_mm: float | None = None
    units: str = "mm"
    lower_first: bool = False
    platform_mm: float = 300.0
    further: tuple[str, ...] = field(default=())

    def text(self) -> str:
        """The line file."""
        lower_mm = self.length_mm if self.lower_mm is None else self.lower_mm
        upper = f"  upper: {{length: {self.length_mm:.10g} mm, from: west, to: east}}"
        lower = f"  lower: {{length: {lower_mm:.10g} mm, from: east, to: west, level: -520 mm{self.lower_keys}}}"
        rows = [
            "linewright: 1",
            "name: Test line (invented)",
            "conveyor: demo-heavy",
            f"units: {self.units}",
            "lanes:",
            *([lower, upper] if self.lower_first else [upper, lower]),
            "transfers:",
            "  east-lift: {kind: lift, takes: upper, gives: lower}",
            "  west-lift: {kind: lift, takes: lower, gives: upper}",
            f"carriers: {self.carriers}",
            "stations:",
        ]
        for name, lane, at_mm, keys in self.stations:
            rows.append(f"  {name}: {{lane: {lane}, at: {at_mm:.10g} mm, time: 1 s{keys}}}")
        route = self.route or tuple(name for name, *_ in self.stations)
        rows.append(f"route: [{', '.join(route)}]")
        if self.fixture_mm is not None:
            rows.append(f"fixture: {{mass: 1 kg, envelope: [{self.fixture_mm:.10g} mm, 100 mm, 80 mm]}}")
        return "\n".join([*rows, *self.further]) + "\n"

    def line(self) -> Line:
        """The line, read; its platform is by default long enough for a least pitch from the dock stop."""
        line = read_line(self.text(), file="test.yaml")
        lift = line.conveyor.transfers["lift"].model_copy(
            update={"platform_m": self.platform_mm / 1000, "gap_m": 0.004}
        )
        sheet = line.conveyor.model_copy(update={"transfers": {"lift": lift}})
        return line.model_copy(update={"conveyor": sheet})
