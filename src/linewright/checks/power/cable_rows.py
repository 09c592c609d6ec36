"""The rows of each feeder on its conductors: voltage along it, areas that hold, what is not stated."""

from __future__ import annotations

import math

import numpy as np

from linewright.checks.power.chain import chain_voltages
from linewright.checks.power.conductors import SIZES_MM2
from linewright.checks.power.feeders import Electrics, FeederPower, is_size, run_ohms
from linewright.checks.power.rows import PAGE, at_most, named, not_checked
from linewright.checks.power.trace import FeederTrack
from linewright.findings import Finding
from linewright.line.electrics import Cable, Feeder, Link
from linewright.line.model import Line
from linewright.line.spoken import rounded


def voltage_rows(line: Line, electrics: Electrics, power: FeederPower) -> list[Finding]:
    """Voltage lost on the way to the far end, in the worst case that is known."""
    if power.worst is None:
        return []
    case, chain = power.worst
    name, allowed_V = power.feeder.name, electrics.low_V - electrics.lowest_V
    at_V = f"{rounded(chain.far_end_V, 4)} V there" if chain.delivered else "that power does not get there at all"
    drop_V = electrics.low_V - chain.far_end_V if chain.delivered else math.inf
    place, _ = _thicker(electrics, power, 1.0)
    return [
        at_most(
            "far-end-voltage",
            f"feeder {name}: voltage lost from the supply's {rounded(electrics.low_V, 4)} V to the far end, {case}; "
            f"{at_V}",
            place,
            line,
            drop_V,
            allowed_V,
            "V",
            f"{PAGE}, Voltage along the feeder; the conveyor sheet's lowest voltage",
            lambda share: _thicker(electrics, power, share)[1],
        )
    ]


def holds_with(electrics: Electrics, power: FeederPower, feeder: Feeder, share: float = 1.0) -> bool:
    """Whether the far end of a feeder keeps the lowest voltage with other conductors, in both cases that are known, and
    loses no more than so much of what it may."""
    ohms = run_ohms(feeder, len(power.track.sections))
    if ohms is None:
        return False
    loads = [power.restart_W] if power.run is None else [power.restart_W, power.run.section_W]
    ends = [chain_voltages(electrics.low_V, ohms, np.asarray(watts)) for watts in loads]
    least_V = electrics.low_V - share * (electrics.low_V - electrics.lowest_V)
    return all(end.delivered and end.far_end_V >= (electrics.lowest_V if share == 1.0 else least_V) for end in ends)


def with_areas(feeder: Feeder, cable_mm2: float | None, link_mm2: float | None) -> Feeder:
    """The same feeder with other areas; None keeps one."""
    cable, link = feeder.cable, feeder.link
    if cable is not None and cable_mm2 is not None:
        cable = Cable.model_construct(**{**dict(cable), "area_mm2": cable_mm2})
    if link is not None and link_mm2 is not None:
        link = Link.model_construct(**{**dict(link), "area_mm2": link_mm2})
    return feeder.model_copy(update={"cable": cable, "link": link})


def proposed_areas(electrics: Electrics, power: FeederPower, share: float = 1.0) -> tuple[float, float | None] | None:
    """The areas of cable and links with which the far end keeps its voltage: those stated where it does.

    The next size of the cable alone that does, as long as the links are no thinner; else of the links alone; else the
    least size for both. None where no size does.
    """
    feeder = power.feeder
    if feeder.cable is None:
        return None
    cable_mm2, link_mm2 = feeder.cable.area_mm2, None if feeder.link is None else feeder.link.area_mm2
    if holds_with(electrics, power, feeder, share):
        return cable_mm2, link_mm2
    above = [size for size in SIZES_MM2 if size > cable_mm2 and (link_mm2 is None or size <= link_mm2)]
    choices: list[tuple[float, float | None]] = [(size, link_mm2) for size in above]
    if link_mm2 is not None:
        choices += [(cable_mm2, size) for size in SIZES_MM2 if size > link_mm2]
        choices += [(size, size) for size in SIZES_MM2 if size >= max(cable_mm2, link_mm2)]
    for choice in choices:
        if holds_with(electrics, power, with_areas(feeder, *choice), share):
            return choice
    return None


def _thicker(electrics: Electrics, power: FeederPower, share: float) -> tuple[tuple[str, ...], str]:
    """Where to change what, and how, so that no more than so much of the allowed voltage is lost."""
    feeder = power.feeder
    stated = ("feeders", feeder.name, "cable", "area")
    if electrics.low_V <= electrics.lowest_V:
        return stated, "a supply of closer tolerance: it may deliver no more than the drive's lowest voltage by itself"
    found = proposed_areas(electrics, power, share)
    if found is None or feeder.cable is None:
        return stated, "shorter feeders, each with a supply of its own: no size up to 50 mm² will do"
    cable_mm2, link_mm2 = found
    if feeder.link is None or link_mm2 == feeder.link.area_mm2:
        return stated, f"write area: {cable_mm2:g} mm² under cable"
    if cable_mm2 == feeder.cable.area_mm2:
        return ("feeders", feeder.name, "link", "area"), f"write area: {link_mm2:g} mm² under link"
    return stated, f"write area: {cable_mm2:g} mm² under cable and {link_mm2:g} mm² under link"


def missing_rows(line: Line, tracks: tuple[FeederTrack, ...]) -> list[Finding]:
    """One row for each figure of the feeders that is not stated, with the feeders that lack it."""
    fed = {track.name: len(track.sections) for track in tracks if track.sections}
    feeders = [feeder for feeder in line.feeders if feeder.name in fed]
    several = {name for name, sections in fed.items() if sections > 1}
    drop, fuse = f"{PAGE}, Voltage along the feeder", f"{PAGE}, Protection"
    lacks = [
        ("far-end-voltage", "cable", [f for f in feeders if f.cable is None], drop, "state the key cable"),
        (
            "far-end-voltage",
            "link",
            [f for f in feeders if f.link is None and f.name in several],
            drop,
            "state the key link, from one section to the next,",
        ),
        (
            "fuse-cable",
            "fuse",
            [f for f in feeders if f.fuse_A is None and f.breaker_A is None],
            fuse,
            "state the key fuse (class gG) or the key breaker (a circuit-breaker)",
        ),
        (
            "fuse-cable",
            "rating",
            [f for f in feeders if f.cable is not None and f.cable.rating_A is None],
            fuse,
            "state the key rating under cable",
        ),
    ]
    rows = []
    for code, key, without, source, remedy in lacks:
        if without:
            stated = "neither fuse nor breaker is stated" if key == "fuse" else f"{key} is not stated"
            where = f"{named(without)}: {stated}"
            path = ("feeders", without[0].name, *(("cable",) if key == "rating" else ()), key)
            rows.append(not_checked(code, where, path, line, source, f"{remedy} under the feeder in the line file"))
    return [*rows, *_odd_sizes(line, feeders), *_thin_links(line, [f for f in feeders if f.name in several])]


def _odd_sizes(line: Line, feeders: list[Feeder]) -> list[Finding]:
    rows = []
    for feeder in feeders:
        for key, run in (("cable", feeder.cable), ("link", feeder.link)):
            if run is not None and not is_size(run.area_mm2):
                sizes = ", ".join(f"{size:g}" for size in SIZES_MM2)
                rows.append(
                    not_checked(
                        "cable-size",
                        f"feeder {feeder.name}: {run.area_mm2:g} mm² of its {key} is no size of the table",
                        ("feeders", feeder.name, key, "area"),
                        line,
                        f"{PAGE}, Conductors; IEC 60228",
                        f"write one of {sizes} mm²",
                    )
                )
    return rows


def _thin_links(line: Line, feeders: list[Feeder]) -> list[Finding]:
    thin = [f for f in feeders if f.cable is not None and f.link is not None and f.link.area_mm2 < f.cable.area_mm2]
    if not thin:
        return []
    return [
        not_checked(
            "link-area",
            f"{named(thin)}: the links are thinner than the cable, and no rating of links is known",
            ("feeders", thin[0].name, "link", "area"),
            line,
            f"{PAGE}, Protection",
            "write area under link no smaller than that of cable: the protection is judged by the cable's rating",
        )
    ]
