"""The row of the feeders: the voltage at each section in the worst case, and the current on the way to it.

Over the plot stands, beside the figures of both ends, every row of `check` that does not hold there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

from linewright.findings import Finding
from linewright.pictures.charts.current import amount
from linewright.pictures.grammar import Spec, end, field, layer, pixels, told
from linewright.pictures.key import KeyEntry, stroke
from linewright.pictures.labels import fitting, spread, text_width_px
from linewright.pictures.style import GREY, HUE, INK, PAPER
from linewright.pictures.track.feeder_limits import limit_words, to_be_shown
from linewright.pictures.track.sheet import Row, Sheet

BOLD: Final = "Feeder voltage and current"
VOLTS_HIGH: Final = 4.4  # of the two plots and the gap between them, in sizes of the small letters
AMPERES_HIGH: Final = 2.4
BETWEEN: Final = 1.3
BAR_PX: Final = 4.0
THICK_PX: Final = 5.0
SAME: Final = 1e-9  # float noise, as a share of a voltage
NAME_HIGH: Final = 1.25  # of the name of a level, in sizes of its letters
DASHES: Final = [6, 3]
MOST_ABOVE: Final = 2.5
"""What the supplies give is drawn up to so many times the greatest current; above, an arrow and the number stand."""
LABEL_GAP: Final = 1.2  # between two labels of one feeder, in sizes of their letters
BEYOND: Final = 0.12  # how far the scale of the voltage goes on below its lowest mark, as a share of it


@dataclass(frozen=True)
class _Fed:
    """A feeder on its lane.

    Parameters
    ----------
    name, lane : of the feeder
    sections : its rows of the table ``sections``, from its head on
    heads_m, tails_m : axis places of the two ends of each. [m]
    row : the finding on its voltage; None where there is none
    supplies_A : what its supplies give. [A]
    """

    name: str
    lane: str
    sections: tuple[dict[str, Any], ...]
    heads_m: tuple[float, ...]
    tails_m: tuple[float, ...]
    row: Finding | None
    supplies_A: float

    @property
    def is_known(self) -> bool:
        """Whether cable and links are known, so that there are voltages."""
        return not math.isnan(self.sections[0]["voltage_V"])

    @property
    def is_delivered(self) -> bool:
        """Whether they can carry that power at all."""
        return self.is_known and math.isfinite(self.sections[0]["current_A"])


@dataclass(frozen=True)
class _Label:
    """Words over the row, held at one end to a place of the track: ``left`` or ``right`` is the end that is held."""

    axis_m: float
    align: str
    words: str
    told: str
    strong: bool = False


@dataclass(frozen=True)
class _Plan:
    """Heights from the top of the row, and the two scales. [px], [V], [A]

    That of the currents goes to `top_A`; `most_A` is the greatest current in a cable or link.
    """

    labels: float
    volts: float
    volts_foot: float
    amperes: float
    amperes_foot: float
    top_V: float
    foot_V: float
    most_A: float
    top_A: float

    def volt_px(self, voltage_V: float) -> float:
        """Height of a voltage. [px]"""
        return self.volts + (self.top_V - voltage_V) / (self.top_V - self.foot_V) * (self.volts_foot - self.volts)

    def ampere_px(self, current_A: float) -> float:
        """Height of a current. [px]"""
        return self.amperes_foot - current_A / self.top_A * (self.amperes_foot - self.amperes)


def feeder_row(sheet: Sheet) -> Row:
    """Voltage of each section as a step line from the feeder's entry on; the current of cable and links as bars."""
    if not sheet.line.feeders:
        return sheet.missing("feeder", BOLD, "no feeders are stated")
    limits = sheet.evaluation.limits
    if limits is None:
        return sheet.missing("feeder", BOLD, "no carrier can be moved, see the row on thrust")
    fed = _all_fed(sheet)
    electrics = limits.power.electrics
    if electrics is None or not any(one.is_known for one in fed):
        return sheet.missing("feeder", BOLD, _why(limits.power.findings))
    heading, top = sheet.heading(BOLD, _words(sheet, fed, electrics.low_V))
    ends = _end_labels(sheet, fed, electrics.lowest_V)
    lines = _in_lines(sheet, [*ends, *_bare_labels(sheet, fed), *_limit_labels(sheet, fed)])
    plan = _plan(sheet, fed, top, len(lines), electrics.low_V, electrics.lowest_V)
    layers = [
        *heading,
        *sheet.ground(plan.volts, plan.amperes_foot),
        *_levels(sheet, plan, fed, electrics.low_V, electrics.lowest_V),
        *_supplies(sheet, plan, fed),
        *_currents(sheet, plan, fed),
        *_voltages(sheet, plan, fed, electrics.low_V),
        *_too_low(sheet, plan, fed, electrics.lowest_V),
        *_pointed(sheet, plan, fed, electrics.lowest_V),
        *_label_layers(sheet, plan, lines),
    ]
    return sheet.row("feeder", layers, plan.amperes_foot + 6.0, _key(plan, fed, electrics.lowest_V))


def _all_fed(sheet: Sheet) -> tuple[_Fed, ...]:
    limits = sheet.evaluation.limits
    assert limits is not None  # the caller has seen to it
    voltage = [row for row in limits.power.findings if row.code == "far-end-voltage"]
    supplies_A = {str(row["feeder"]): float(row["supplies_A"]) for row in limits.power.feeders.rows()}
    fed = []
    for name, rows in groupby(limits.power.sections.rows(), key=lambda row: str(row["feeder"])):
        sections = tuple(rows)
        lane = str(sections[0]["lane"])
        heads = [row["head_m"] for row in sections]
        tails = [row["from_m"] + row["to_m"] - row["head_m"] for row in sections]
        fed.append(
            _Fed(
                name,
                lane,
                sections,
                tuple(sheet.axis_m(lane, head_m) for head_m in heads),
                tuple(sheet.axis_m(lane, tail_m) for tail_m in tails),
                next((row for row in voltage if row.where.startswith(f"feeder {name}: ")), None),
                supplies_A.get(name, math.nan),
            )
        )
    return tuple(fed)


def _why(findings: Sequence[Finding]) -> str:
    """What would make a voltage known: the remedy of the first row that names it."""
    codes = ("feeders", "far-end-voltage", "cable-size", "feeder-ends")
    rows = [row for code in codes for row in findings if row.code == code and row.verdict == "not checked"]
    return rows[0].remedy if rows else "the cables are not stated"


def _words(sheet: Sheet, fed: Sequence[_Fed], low_V: float) -> str:
    cases = sorted({str(one.sections[0]["case"]) for one in fed if one.is_known})
    case = cases[0] if len(cases) == 1 else "each feeder's own worst case, see its words"
    supply = f"supplies at their least, {amount(low_V, 'V')}"
    bars = "Bars: current of that case in the cable, at the entry, and in the links, at the joints."
    said = f"Worst case: {case}, {supply}. The scale of the voltage does not begin at 0. {bars}"
    rows = (row for one in fed if one.is_delivered for row in to_be_shown(sheet.evaluation.findings, one.name))
    if any(row.code == "all-restart" for row in rows):
        said += " The row all-restart of check takes all carriers to stand at the far end, which needs a little more."
    return said


def _plan(sheet: Sheet, fed: Sequence[_Fed], top: float, lines: int, low_V: float, lowest_V: float) -> _Plan:
    size = sheet.text.small_px
    volts = top + lines * 1.5 * size + 4.0
    foot = volts + VOLTS_HIGH * size
    amperes = foot + BETWEEN * size
    sections = [section for one in fed if one.is_delivered for section in one.sections]
    least_V = min([lowest_V, low_V, *(section["voltage_V"] for section in sections)])
    most_V = max(low_V, lowest_V)
    foot_V = least_V - BEYOND * (most_V - least_V) - 1e-6 * most_V
    most_A = max([section["current_A"] for section in sections], default=0.0) or 1.0
    drawn_A = [one.supplies_A for one in fed if one.supplies_A <= MOST_ABOVE * most_A]
    top_A = max([most_A, *drawn_A])
    return _Plan(top, volts, foot, amperes, amperes + AMPERES_HIGH * size, most_V, foot_V, most_A, top_A)


def _levels(sheet: Sheet, plan: _Plan, fed: Sequence[_Fed], low_V: float, lowest_V: float) -> list[Spec]:
    """The lines of both scales, and their names at the left, which keep apart where the lines do not."""
    thin: Spec = {"color": GREY, "strokeWidth": 0.8}
    named: list[tuple[float, str, Spec | None]] = [
        (plan.volt_px(low_V), f"supply {amount(low_V, 'V')}", thin),
        (plan.volt_px(lowest_V), f"lowest {amount(lowest_V, 'V')}", {}),
        (plan.amperes_foot, "0 A", thin),
    ]
    if plan.most_A == plan.top_A:
        named.append((plan.amperes, amount(plan.most_A, "A"), thin))
    named += [(y_px, words, None) for y_px, words in _supply_names(plan, fed)]
    named.sort(key=lambda one: one[0])
    layers = [one for y_px, _, look in named if look is not None for one in sheet.level(y_px, "", **look)]
    size = sheet.text.small_px
    room = [NAME_HIGH * size] * len(named)
    top = plan.volts - 0.7 * size
    high = max(plan.amperes_foot + 0.7 * size - top, sum(room))
    places = spread([y_px - top for y_px, _, _ in named], room, high)
    rows = [{"x": -6.0, "y": top + y_px, "words": words} for y_px, (_, words, _) in zip(places, named, strict=True)]
    look = {"align": "right", "baseline": "middle", "fontSize": size, "color": INK}
    at = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    return [*layers, layer(sheet.data.named(rows), "text", look, at)]


def _supply_names(plan: _Plan, fed: Sequence[_Fed]) -> list[tuple[float, str]]:
    """What supplies give, each at its height; an arrow where it is beyond the scale."""
    given_A = sorted({one.supplies_A for one in fed if math.isfinite(one.supplies_A)})
    beyond = [amount(one, "A") for one in given_A if one > plan.top_A]
    names = [(plan.ampere_px(one), f"supply {amount(one, 'A')}") for one in given_A if one <= plan.top_A]
    more = " or more" if len(beyond) > 1 else ""
    return [*names, (plan.amperes - 1.0, f"supply {beyond[0]}{more} ↑")] if beyond else names


def _voltages(sheet: Sheet, plan: _Plan, fed: Sequence[_Fed], low_V: float) -> list[Spec]:
    """A step line for each feeder: from the supply's voltage down at the entry, then level along each section."""
    rows: list[dict[str, Any]] = []
    for one in fed:
        if not one.is_delivered:
            continue
        points = [(one.heads_m[0], low_V)]
        for head_m, tail_m, section in zip(one.heads_m, one.tails_m, one.sections, strict=True):
            points += [(head_m, section["voltage_V"]), (tail_m, section["voltage_V"])]
        name = f"feeder {one.name}: voltage along it, {one.sections[0]['case']}"
        rows += [
            {"n": number, "x": sheet.value(axis_m), "y": plan.volt_px(voltage_V), "name": name}
            for number, (axis_m, voltage_V) in enumerate(points)
        ]
    way = {"x": sheet.x(), "y": pixels("y"), "detail": field("name", "nominal"), "order": field("n")}
    look = {"color": HUE, "strokeWidth": 2.2, "strokeJoin": "miter", "clip": True}
    return [layer(sheet.data.named(rows), "line", look, {**way, **told()})] if rows else []


def _too_low(sheet: Sheet, plan: _Plan, fed: Sequence[_Fed], lowest_V: float) -> list[Spec]:
    """A thicker stroke along each section whose voltage is below the lowest."""
    rows = []
    for one in fed:
        for head_m, tail_m, section in zip(one.heads_m, one.tails_m, one.sections, strict=True):
            if one.is_delivered and _is_too_low(section, lowest_V):
                y = plan.volt_px(section["voltage_V"])
                rows.append(sheet.span(head_m, tail_m, y - THICK_PX / 2, y + THICK_PX / 2))
    return [layer(sheet.data.named(rows), "rect", {"color": INK, "clip": True}, sheet.box())] if rows else []


def _is_too_low(section: dict[str, Any], lowest_V: float) -> bool:
    return bool(section["voltage_V"] < lowest_V * (1.0 - SAME))


def _supplies(sheet: Sheet, plan: _Plan, fed: Sequence[_Fed]) -> list[Spec]:
    """Along each feeder what its supplies give, where that is on the scale."""
    rows = []
    for one in fed:
        if one.supplies_A <= plan.top_A:
            y = plan.ampere_px(one.supplies_A)
            said = f"feeder {one.name}: its supplies give {amount(one.supplies_A, 'A')}"
            rows.append({**sheet.span(one.heads_m[0], one.tails_m[-1], y, y), "name": said})
    look = {"color": INK, "strokeWidth": 1.4, "strokeDash": DASHES, "clip": True}
    return [layer(sheet.data.named(rows), "rule", look, sheet.box(**told()))] if rows else []


def _currents(sheet: Sheet, plan: _Plan, fed: Sequence[_Fed]) -> list[Spec]:
    """A thin bar at the head of each section: the current in the run of cable or link that leads to it."""
    half_m = 0.5 * BAR_PX * sheet.m_a_px
    rows = [
        sheet.span(head_m - half_m, head_m + half_m, plan.ampere_px(section["current_A"]), plan.amperes_foot)
        for one in fed
        if one.is_delivered
        for head_m, section in zip(one.heads_m, one.sections, strict=True)
    ]
    return [layer(sheet.data.named(rows), "rect", {"color": INK, "clip": True}, sheet.box())] if rows else []


def _pointed(sheet: Sheet, plan: _Plan, fed: Sequence[_Fed], lowest_V: float) -> list[Spec]:
    """Over each section of a feeder an unseen box that tells its figures to a pointer and to a reader of the text."""
    rows = []
    for one in fed:
        for head_m, tail_m, section in zip(one.heads_m, one.tails_m, one.sections, strict=True):
            box = sheet.span(min(head_m, tail_m), max(head_m, tail_m), plan.volts, plan.amperes_foot)
            rows.append({**box, "name": _section_told(one, section, lowest_V)})
    look = {"color": PAPER, "opacity": 0, "clip": True}
    return [layer(sheet.data.named(rows), "rect", look, sheet.box(**told()))]


def _section_told(one: _Fed, section: dict[str, Any], lowest_V: float) -> str:
    place = f"section {section['number']} of lane {one.lane}, feeder {one.name}"
    if not one.is_known:
        return f"{place}: voltage not checked, {_lack(one)}"
    if not one.is_delivered:
        return f"{place}: fails, {section['case']}, its power does not get there at all"
    by = "cable" if section is one.sections[0] else "link"
    mark = "fails, " if _is_too_low(section, lowest_V) else ""
    voltage = f"{_volts(section['voltage_V'], lowest_V)}, lowest {amount(lowest_V, 'V')}"
    return f"{place}: {mark}{voltage}; {amount(section['current_A'], 'A')} in the {by} to it; {section['case']}"


def _volts(voltage_V: float, lowest_V: float) -> str:
    """A voltage in three digits, or four where it would look like the lowest one and is not."""
    words = amount(voltage_V, "V")
    alike = words == amount(lowest_V, "V") and abs(voltage_V - lowest_V) > SAME * lowest_V
    return f"{voltage_V:.4g} V" if alike else words


def _lack(one: _Fed) -> str:
    return "cable or link not known" if len(one.sections) > 1 else "cable not known"


def _end_labels(sheet: Sheet, fed: Sequence[_Fed], lowest_V: float) -> list[_Label]:
    """At both ends of each feeder its voltage, at the entry its current too."""
    labels = []
    for one in fed:
        first, last = one.sections[0], one.sections[-1]
        head_m, tail_m = one.heads_m[0], one.tails_m[-1]
        rises = tail_m > head_m
        near, far = ("left", "right") if rises else ("right", "left")
        room = abs(sheet.to_px(tail_m) - sheet.to_px(head_m)) - sheet.text.small_px

        def arrow(words: str, rises: bool = rises) -> str:
            return f"→ {words}" if rises else f"{words} ←"

        entry_told, far_told = (_section_told(one, section, lowest_V) for section in (first, last))
        if not one.is_delivered:
            why = "fails: the power does not get there" if one.is_known else f"not checked: {_lack(one)}"
            words = fitting([f"{one.name}: {why}", f"{one.name}: {why.split(':')[0]}"], room, sheet.text.small_px)
            labels.append(_Label(head_m, near, arrow(words), f"entry of feeder {one.name}: {entry_told}", True))
            continue
        entry_V, entry_A = _volts(first["voltage_V"], lowest_V), amount(first["current_A"], "A")
        choices = [
            f"{one.name} enters: {entry_V}, {entry_A}",
            f"{one.name}: {entry_V}, {entry_A}",
            f"{one.name}: {entry_V}",
        ]
        entry = fitting([arrow(words) for words in choices], room, sheet.text.small_px)
        labels.append(_Label(head_m, near, entry, f"entry of feeder {one.name}: {entry_told}"))
        verdict = "holds" if one.row is None else one.row.verdict
        mark = "" if verdict == "holds" else f"{verdict} "
        far_V = _volts(last["voltage_V"], lowest_V)
        end = [f"{mark}{far_V} at the far end", f"{mark}{far_V}"]
        words = fitting(
            [f"{one.name}: {end[0]}", *(f"{one.name}: {words}" for words in end)], room, sheet.text.small_px
        )
        told_far = f"far end of feeder {one.name}: {verdict}; {far_told}"
        labels.append(_Label(tail_m, far, words, told_far, verdict == "fails"))
    return labels


def _limit_labels(sheet: Sheet, fed: Sequence[_Fed]) -> list[_Label]:
    """Every row of a feeder that does not hold, one after the other along the feeder, a new line where it ends."""
    labels = []
    size = sheet.text.small_px
    known = {one.name: sorted((one.heads_m[0], one.tails_m[-1])) for one in fed}
    for feeder in sheet.line.feeders:
        lane = sheet.layout.lane(feeder.lane)
        from_m, to_m = known.get(feeder.name, [lane.start_axis_m, lane.end_axis_m])
        start_px, end_px = sheet.to_px(from_m), sheet.to_px(to_m)
        at_px = start_px
        for row in to_be_shown(sheet.evaluation.findings, feeder.name):
            words = f"{feeder.name}: {limit_words(row)}"
            wide = text_width_px(words, size) + LABEL_GAP * size
            if at_px > start_px and at_px + wide > end_px:
                at_px = start_px
            strong = row.verdict in ("fails", "not checked")
            labels.append(_Label(sheet.to_m(at_px), "left", words, f"feeder {words}", strong))
            at_px += wide
    return labels


def _bare_labels(sheet: Sheet, fed: Sequence[_Fed]) -> list[_Label]:
    """At the start of each stretch of sections that no feeder feeds."""
    labels = []
    for lane in sheet.layout.lanes:
        has = {section["number"] for one in fed if one.lane == lane.name for section in one.sections}
        borders = [0.0, *lane.joints_travel_m, lane.length_m]
        numbers = range(1, len(borders))
        for is_fed, run in groupby(numbers, key=lambda number: number in has):
            if is_fed:
                continue
            bare = list(run)
            from_m, to_m = (sheet.axis_m(lane.name, borders[number]) for number in (bare[0] - 1, bare[-1]))
            room = sheet.to_px(to_m) - sheet.to_px(from_m) - sheet.text.small_px
            words = fitting(["not checked: no feeder", "no feeder"], room, sheet.text.small_px)
            which = f"section {bare[0]}" if len(bare) == 1 else f"sections {bare[0]} to {bare[-1]}"
            labels.append(_Label(from_m, "left", words, f"{which} of lane {lane.name}: not checked, no feeder", True))
    return labels


def _in_lines(sheet: Sheet, labels: Sequence[_Label]) -> list[list[tuple[_Label, float]]]:
    """The labels in as few lines as keep them apart, each with its left end. [px]"""
    size = sheet.text.small_px
    ranges = []
    for label in labels:
        wide = text_width_px(label.words, size)
        held = sheet.to_px(label.axis_m) + (3.0 if label.align == "left" else -3.0)
        left = held if label.align == "left" else held - wide
        ranges.append((min(max(left, 2.0), sheet.width_px - wide - 2.0), wide, label))
    lines: list[list[tuple[_Label, float]]] = []
    ends: list[float] = []
    for left, wide, label in sorted(ranges, key=lambda one: (one[0], one[1])):
        free = next((number for number, end_px in enumerate(ends) if end_px + 0.6 * size <= left), len(lines))
        if free == len(lines):
            lines.append([])
            ends.append(0.0)
        lines[free].append((label, left))
        ends[free] = left + wide + 4.0
    return lines


def _label_layers(sheet: Sheet, plan: _Plan, lines: Sequence[Sequence[tuple[_Label, float]]]) -> list[Spec]:
    size, layers = sheet.text.small_px, []
    for align in ("left", "right"):
        for strong in (True, False):
            rows, boxes = [], []
            for number, line in enumerate(lines):
                y = plan.labels + (number + 0.5) * 1.5 * size
                for label, left in line:
                    if (label.align, label.strong) != (align, strong):
                        continue
                    wide = text_width_px(label.words, size)
                    share = 0.5 if strong else {"left": 0.0, "right": 1.0}[align]
                    rows.append({"x": left + share * wide, "y": y, "words": label.words, "name": label.told})
                    ends = {"x": left - 3.0, "x2": left + wide + 3.0}
                    boxes.append({**ends, "y": y - 0.68 * size, "y2": y + 0.68 * size, "name": label.told})
            if not rows:
                continue
            if strong:
                # Words of a whole feeder are of no one place: they stay where they are when the page zooms.
                area = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
                dark = {**area, "tooltip": told()["tooltip"]}
                layers.append(layer(sheet.data.named(boxes), "rect", {"color": INK}, dark))
            held_at = "center" if strong else align
            look: Spec = {"fontSize": size, "align": held_at, "baseline": "middle", "color": PAPER if strong else INK}
            at = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal"), **told()}
            layers.append(layer(sheet.data.named(rows), "text", look, at))
    return layers


def _key(plan: _Plan, fed: Sequence[_Fed], lowest_V: float) -> list[KeyEntry]:
    steps = ((0.0, 4.0), (10.0, 4.0), (10.0, 10.0), (20.0, 10.0), (20.0, 15.0), (28.0, 15.0))
    low = any(one.is_delivered and _is_too_low(section, lowest_V) for one in fed for section in one.sections)
    below = [stroke("fails: below the lowest voltage", (0, 10), (28, 10), color=INK, strokeWidth=THICK_PX)]
    given = [stroke("what a feeder's supplies give", (0, 10), (28, 10), color=INK, strokeWidth=1.4, strokeDash=DASHES)]
    return [
        stroke("voltage along a feeder; the arrow shows where it enters", *steps, color=HUE, strokeWidth=2.2),
        *(below if low else []),
        stroke("current in the cable or link", (14, 2), (14, 18), color=INK, strokeWidth=BAR_PX),
        *(given if any(one.supplies_A <= plan.top_A for one in fed) else []),
    ]
