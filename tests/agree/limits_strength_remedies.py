"""What a remedy of strength names, put into the line: the row must hold then, and must not with clearly less."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from agree.limits_strength import Row, strength_rows
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.line.tooling import Support, ToolForce

# As defined for the pound and for standard gravity; a file in inches is told forces and masses in these.
_SI: dict[str, float] = {"N": 1.0, "lbf": 0.45359237 * 9.80665, "kg": 1.0, "lb": 0.45359237}
# Remedies are rounded to three digits, which may be 1 % away from the bound; so much more must be too much.
CLEARLY = 1.02


def scaled(station: Station, factor: float) -> Station:
    """The same tools, stated force and greatest alike times a factor."""
    forces = tuple(
        ToolForce(
            down_N=one.down_N * factor,
            across_N=one.across_N * factor,
            along_N=one.along_N * factor,
            greatest_N=None if one.greatest_N is None else one.greatest_N * factor,
            at_m=one.at_m,
        )
        for one in station.force or ()
    )
    return station.model_copy(update={"force": forces})


def with_support(station: Station, axis: str, takes_N: float) -> Station:
    now = {} if station.support is None else station.support.model_dump()
    return station.model_copy(update={"support": Support(**{**now, f"{axis}_N": takes_N})})


def with_station(line: Line, station: Station) -> Line:
    stations = tuple(station if one.name == station.name else one for one in line.stations)
    return line.model_copy(update={"stations": stations})


def with_guides(line: Line, **figures: Any) -> Line:
    assert line.conveyor.guides is not None
    guides = line.conveyor.guides.model_copy(update=figures)
    return line.model_copy(update={"conveyor": line.conveyor.model_copy(update={"guides": guides})})


def with_fixture_kg(line: Line, mass_kg: float) -> Line:
    assert line.fixture is not None
    return line.model_copy(update={"fixture": line.fixture.model_copy(update={"mass_kg": mass_kg})})


def largest_N(station: Station, stated: bool) -> float:
    return max(one.size_N if stated or one.greatest_N is None else one.greatest_N for one in station.force or ())


def in_si(found: re.Match[str], first: int = 1) -> float:
    """A figure of a remedy and its unit, the two groups of a match from there on."""
    return float(found.group(first)) * _SI[found.group(first + 1)]


def changes(line: Line, found: Finding) -> Iterator[tuple[str, Callable[[float], Line], str]]:
    """Of each figure in a remedy: its words, the line with that figure times a factor, and the code that must hold."""
    text = found.remedy
    named = re.match(r"station ([\w-]+)", found.where)
    if named is not None:
        station = line.station(named.group(1))
        yield from _at_station(line, station, found, text)
    for pattern, key in ((r"static rating of ([\d.]+) (N|lbf) or more", "static_rating_N"),
                         (r"dynamic rating of ([\d.]+) (N|lbf) or more", "dynamic_rating_N")):  # fmt: skip
        if rating := re.search(pattern, text):
            figure = in_si(rating)
            yield rating.group(0), lambda f, key=key, figure=figure: with_guides(line, **{key: figure / f}), found.code  # type: ignore[misc]
    if mass := re.search(r"a fixture of ([\d.]+) (kg|lb) or less", text):
        mass_kg = in_si(mass)
        yield mass.group(0), lambda f: with_fixture_kg(line, mass_kg * f), found.code


def _at_station(
    line: Line, station: Station, found: Finding, text: str
) -> Iterator[tuple[str, Callable[[float], Line], str]]:
    stated = found.code == "deflection"
    if force := re.search(r"(?:work with|a tool that pushes) (inf|[\d.]+) (N|lbf) at most", text):
        share = in_si(force) / largest_N(station, stated)
        yield force.group(0), lambda f: with_station(line, scaled(station, share * f)), found.code
    if step := re.search(r"up to ([\d.]+) % of", text):
        factor = float(step.group(1)) / 100.0
        yield step.group(0), lambda f: with_station(line, scaled(station, factor * f)), found.code
    if support := re.search(r"support: \{(\w+): ([\d.]+) (N|lbf)\}", text):
        axis, takes_N = support.group(1), in_si(support, 2)
        yield support.group(0), lambda f: with_station(line, with_support(station, axis, takes_N / f)), "support"
    if more := re.search(r"a support that takes ([\d.]+) (N|lbf) or more (\w+)", text):
        axis_2, takes_2 = more.group(3), in_si(more)
        yield more.group(0), lambda f: with_station(line, with_support(station, axis_2, takes_2 / f)), "support"


def fails(rows: list[Row], code: str, found: Finding, bad: tuple[str, ...]) -> bool:
    """Whether a row of that code, at the same station and along the same axis, has one of those verdicts."""
    about = {row for row in rows if row.code == code and row.verdict in bad}
    if code == "support":
        axis = re.search(r"support: \{(\w+)|or more (\w+)", found.remedy)
        assert axis is not None
        about = {row for row in about if (axis.group(1) or axis.group(2)) in row.words}
    return any(not row.words or row.words == ("carrier",) or row.words[0] in found.where.split(",")[0] for row in about)


def untrue_remedies(line: Line, layout: Layout, findings: tuple[Finding, ...]) -> tuple[int, list[str]]:
    """How many figures of remedies were tried, and which do not do what they say."""
    told, tried = [], 0
    for found in findings:
        if found.verdict not in ("fails", "tight"):
            continue
        for words, change, code in changes(line, found):
            tried += 1
            # What a tight row names may leave a tenth to spare, as it does not have it now, or just hold.
            bounds = (("fails", "tight"), ("fails",)) if found.verdict == "tight" else (("fails",),)
            try:
                after, less = strength_rows(change(1.0), layout), strength_rows(change(CLEARLY), layout)
            except ValueError as error:
                told.append(f"{found.code} {found.where}: {words}: {str(error)[:200]}")
                continue
            true = [
                not fails(after, found.code, found, bad)
                and not fails(after, code, found, bad)
                and fails(less, code, found, bad)
                for bad in bounds
            ]
            if not any(true):
                told.append(f"{found.code} {found.where}: {words}")
    return tried, told
