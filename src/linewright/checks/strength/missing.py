"""Which figures of strength are not stated: one row for each, with what cannot be said without it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from linewright.checks.strength.tools import Tools
from linewright.errors import Place
from linewright.findings import Finding
from linewright.line.model import Line

RULE = "docs/limits/strength.md, What is not checked"


@dataclass(frozen=True)
class Known:
    """What can be computed of a line.

    Parameters
    ----------
    findings : the rows of what is missing
    at_rest : the loads of the blocks at rest, but for the tools' own points
    moving : those while the carrier moves
    stiffness : how far the tool point gives way
    """

    findings: tuple[Finding, ...]
    at_rest: bool
    moving: bool
    stiffness: bool


def find_known(line: Line, tools: tuple[Tools, ...]) -> Known:
    """What of a line is stated that strength asks for, with a row for each figure that is not."""
    sheet = line.conveyor
    guides = sheet.guides
    silent = [station.name for station in line.stations if station.force is None]
    rows = _tool_rows(line, tools, silent)
    if sheet.allowed_force is None and (tools or silent):
        where = "what a resting carrier may take at its top"
        rows.append(_row("allowed-force", where, sheet.place("allowed_force"), _key("allowed_force", "")))
    lifting = [one.station for one in tools if one.lift_N > 0.0]
    if guides is None:
        where = "the guide blocks: uplift, static safety, life and deflection cannot be told"
        rows.append(_row("guide-blocks", where, sheet.place("guides"), _key("guides", "")))
        if not lifting:
            return Known(tuple(rows), False, False, False)
    at_rest = True
    lost = "no load of a block can be told" if guides is not None else ""
    if lifting:
        lost += f"{', nor ' if lost else ''}whether the carrier is lifted off at {_stations(lifting)}"
    lost = lost if guides is not None else f"it cannot be told {lost}"
    if sheet.magnets is None:
        where = f"the attraction of the magnets: without it {lost}"
        rows.append(_row("magnet-attraction", where, sheet.place("magnets"), _key("attraction", "magnets")))
        at_rest = False
    # Lifting is held against the empty carrier: without guides no part is asked for.
    carried = (("part", line.part is not None or guides is None), ("fixture", has_fixture_mass(line)))
    unstated = [key for key, is_known in carried if not is_known]
    if unstated:
        where = f"mass of {' and '.join(unstated)}: without it {lost}"
        remedy = f"state the mass under the key {' and the key '.join(unstated)} of the line file"
        place = line.place("fixture") if unstated == ["fixture"] and line.fixture is not None else line.place()
        rows.append(_row("carried-mass", where, place, remedy))
        at_rest = False
    if guides is None:
        return Known(tuple(rows), False, False, False)
    heights = _missing_heights(line) if not unstated else []
    if heights:
        names = ", ".join(f"{key} of {owner}" for owner, key, _ in heights)
        where = f"{names}: loads while the carrier moves, and life, cannot be told"
        remedies = " and ".join(f"state the key {key} under {owner}" for owner, key, _ in heights)
        rows.append(_row("heights", where, heights[0][2], f"{remedies}{_in_sheet(owner for owner, _, _ in heights)}"))
    if guides.kind == "other" and guides.travel_life_m is None:
        where = "the travel that guides other than ball guides stand"
        rows.append(_row("guide-life", where, sheet.place("guides"), _key("travel_life", "guides")))
    if sheet.stopping is None:
        where = "the deceleration of an emergency stop: what it does to the blocks cannot be told"
        rows.append(_row("emergency-stop", where, sheet.place("stopping"), _key("deceleration", "stopping")))
    soft = _missing_stiffness(line) if tools else []
    if soft:
        names = " and ".join(f"{key} under {owner}" for owner, key in soft)
        where = f"{names}: how far the tool point gives way cannot be told"
        remedy = f"state the key {' and the key '.join(f'{key} under {owner}' for owner, key in soft)} in the sheet"
        rows.append(_row("deflection", where, sheet.place(soft[0][0]), remedy))
    return Known(tuple(rows), at_rest, at_rest and not heights, not soft)


def has_fixture_mass(line: Line) -> bool:
    """Whether the fixture's mass is stated: one that is left out counts 0 kg elsewhere, which is too light here."""
    return line.fixture is not None and "mass_kg" in line.fixture.model_fields_set


def has_heights(line: Line, tools: Tools) -> bool:
    """Whether the heights are stated that a station's loads depend on: a force that is level turns the carrier."""
    guides = line.conveyor.guides
    assert guides is not None
    level, along = tools.net_N[:, :2].any(), tools.net_N[:, 0].any()
    return not ((level and guides.plate_height_m is None) or (along and guides.thrust_height_m is None))


def _tool_rows(line: Line, tools: tuple[Tools, ...], silent: list[str]) -> list[Finding]:
    """Rows of what the stations leave out."""
    rows = []
    if silent:
        remedy = "state the key force under each of them, force: none where nothing presses on the carrier"
        place = line.place("stations", silent[0])
        rows.append(_row("tool-force", f"force of the tool at {_stations(silent)}", place, remedy))
    weak = [one.station for one in tools if not one.at_greatest]
    if weak:
        where = f"greatest force that the tool can push, whatever it is set to, at {_stations(weak)}"
        remedy = "state the key greatest under force of each of them"
        rows.append(_row("greatest-force", where, line.place("stations", weak[0], "force"), remedy))
    pointless = [one.station for one in tools if not one.has_points]
    if pointless and line.conveyor.guides is not None:
        where = f"where the force acts at {_stations(pointless)}: loads of the blocks cannot be told"
        remedy = "state the key at under force of each of them"
        rows.append(_row("tool-point", where, line.place("stations", pointless[0], "force"), remedy))
    return rows


def _missing_heights(line: Line) -> list[tuple[str, str, Place | None]]:
    """(owner, key, place) of each height that loads in motion depend on and that is not stated."""
    sheet, fixture, part = line.conveyor, line.fixture, line.part
    assert sheet.guides is not None
    assert fixture is not None
    assert part is not None
    figures = [
        ("guides", "plate_height", sheet.guides.plate_height_m, sheet.place("guides")),
        ("guides", "thrust_height", sheet.guides.thrust_height_m, sheet.place("guides")),
        ("carrier", "mass_height", sheet.carrier.mass_height_m, sheet.place("carrier")),
        ("fixture", "seat_height", fixture.seat_height_m, line.place("fixture")),
        ("part", "mass_height", part.mass_height_m, line.place("part")),
    ]
    if fixture.mass_kg > 0.0:
        figures.insert(3, ("fixture", "mass_height", fixture.mass_height_m, line.place("fixture")))
    return [(owner, key, place) for owner, key, value, place in figures if value is None]


def _missing_stiffness(line: Line) -> list[tuple[str, str]]:
    """(owner, key) of each stiffness and height that the deflection depends on and that is not stated."""
    guides, drive = line.conveyor.guides, line.conveyor.drive
    assert guides is not None
    figures = [
        ("guides", "stiffness", guides.stiffness_N_m),
        ("guides", "side_stiffness", guides.side_stiffness_N_m),
        ("guides", "plate_height", guides.plate_height_m),
        ("guides", "thrust_height", guides.thrust_height_m),
        ("drive", "servo_stiffness", drive.servo_stiffness_N_m),
    ]
    return [(owner, key) for owner, key, value in figures if value is None]


def _row(code: str, where: str, place: Place | None, remedy: str) -> Finding:
    told = f"not stated: {where}"
    return Finding(code, "strength", "not checked", told, place, None, None, None, None, RULE, remedy)


def _key(key: str, owner: str) -> str:
    return f"state the key {key}{f' under {owner}' if owner else ''} in the conveyor sheet"


def _in_sheet(owners: Iterable[str]) -> str:
    there = sorted({owner for owner in owners if owner in ("guides", "carrier")})
    return f" ({' and '.join(there)}: in the conveyor sheet)" if there else ""


def _stations(names: list[str]) -> str:
    return f"station {names[0]}" if len(names) == 1 else f"stations {', '.join(names)}"
