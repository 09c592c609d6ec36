"""Row strength: how much of what carrier, guides and thrust stand each station uses, and which limit governs there.

A bar's full height to the limit line is the whole limit. Of a limit that asks for at least so much (static safety) the
share in use is the asked value over the found one, so that every limit reads alike: less is better, 100 % is just held.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from linewright.checks.accuracy.words import figure_text, length
from linewright.checks.strength.missing import has_fixture_mass
from linewright.checks.strength.stations import least_safety
from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Finding, Verdict
from linewright.line.model import Line
from linewright.pictures.labels import place_labels, text_width_px
from linewright.pictures.track.limit_bars import LimitBar, limit_key, limit_plot, named, percent
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.values import Value

_SHORT: Final = {
    "force-down": "down",
    "force-across": "across",
    "force-along": "along",
    "support": "support",
    "static-safety": "safety",
    "holding-lasting": "holding",
    "holding-short": "holding",
    "carrier-lift": "lift",
    "deflection": "bending",
    "force-off-carrier": "off body",
}

_FULL: Final = {
    "force-down": "allowed force down",
    "force-across": "allowed force across",
    "force-along": "allowed force along",
    "support": "what the support takes",
    "static-safety": "static safety",
    "holding-lasting": "thrust that holds for long",
    "holding-short": "thrust that holds for a moment",
    "carrier-lift": "weight and magnets against lifting",
    "deflection": "tolerance, by which the tool point gives way",
}

_NEWTON_COLUMN: Final = {
    "force-down": "down_N",
    "force-across": "across_N",
    "force-along": "along_N",
    "holding-lasting": "along_N",
    "holding-short": "along_N",
    "carrier-lift": "lift_N",
}


@dataclass(frozen=True)
class StationUse:
    """What the tools of one station use of everything that has to stand them.

    Parameters
    ----------
    station : name
    share : the greatest of its shares; not a number where none is known
    governs : code of the finding that this share belongs to; empty where none is known
    verdict : the worst of the station's findings; ``not checked`` where a figure is missing and none fails
    told : the whole sentence
    """

    station: str
    share: float
    governs: str
    verdict: Verdict
    told: str


def strength_row(sheet: Sheet) -> Row:
    """One bar a station with a force: the greatest share of its limits; what fails or is not checked says so."""
    limits, stations = sheet.evaluation.limits, sheet.line.stations
    bold = "Strength (% of the limit that governs)"
    if limits is None:
        return sheet.missing("strength", "Strength", "no carrier can move here: see the findings")
    if all(station.force is None for station in stations):
        return sheet.missing("strength", "Strength", "no station states the key force (or force: none)")
    uses = station_uses(sheet.evaluation)
    heading, top = sheet.heading(bold, f"{_worst_words(sheet.evaluation, uses)} {carrier_words(sheet.evaluation)}")
    if not uses:
        return sheet.row("strength", heading, top)
    values, half_m = _values(sheet, uses), sheet.bar_m() / 2
    bars = []
    for use in uses:
        at_m, known = sheet.station_m(use.station), use.verdict != "not checked"
        bars.append(LimitBar(at_m - half_m, at_m + half_m, use.share, known, use.told))
    layers, height = limit_plot(sheet, values, bars, top)
    return sheet.row("strength", [*heading, *layers], height, limit_key(bars))


# ---- what the evaluation says ------------------------------------------------------------------------------------


def station_uses(evaluation: Evaluation) -> tuple[StationUse, ...]:
    """Of each station with a force how much of its limits it uses, in the order of the line."""
    assert evaluation.limits is not None
    rows = evaluation.limits.strength.stations.rows()
    return tuple(_use(evaluation, row) for row in rows)


def findings_of(evaluation: Evaluation, subject: str, start: str) -> tuple[Finding, ...]:
    """The findings of a subject whose `where` starts so."""
    return tuple(one for one in evaluation.findings if one.subject == subject and one.where.startswith(start))


def _use(evaluation: Evaluation, row: Mapping[str, Any]) -> StationUse:
    line, name = evaluation.line, row["station"]
    mine = findings_of(evaluation, "strength", f"station {name},")
    shares = _shares(line, row, mine)
    missing = _missing(line, row)
    least: Verdict = "not checked" if missing else "holds"
    verdict = min((least, *(one.verdict for one in mine)), key=WORST_FIRST.index)
    ranked = sorted(shares, key=lambda code: -shares[code])
    off = any(one.code == "force-off-carrier" for one in mine)
    worst = ranked[0] if ranked else ""
    governs = "force-off-carrier" if off and shares.get(worst, 0.0) <= 1.0 else worst
    share = shares[worst] if worst else math.nan
    used = [_in_words(line, row, code, shares[code]) for code in ranked if shares[code] > 0.0]
    at = "at the tool's greatest force" if row["at_greatest"] else "at the stated force, its greatest is not stated"
    words = [f"{name}, {at}: {verdict}", *used]
    words += ["the force acts where no body is"] if off else []
    words += [f"not checked: {', '.join(missing)}"] if missing else []
    if math.isfinite(row["allowed_N"]):
        words.append(f"all limits together allow {figure_text(row['allowed_N'])} N")
    return StationUse(name, share, governs, verdict, "; ".join(words))


def _shares(line: Line, row: Mapping[str, Any], mine: Sequence[Finding]) -> dict[str, float]:
    """Code -> share of its limit that is used; what is not known is left out."""
    found = {
        "force-down": row["down_share"],
        "force-across": row["across_share"],
        "force-along": row["along_share"],
        "support": row["support_share"],
        "holding-lasting": row["holding_share"],
        "deflection": _bent_share(line, row)[0],
    }
    if math.isfinite(row["block_load_N"]):
        safety = row["static_safety"]
        found["static-safety"] = least_safety(line) / safety if safety > 0.0 else 0.0  # without load there is no safety
    # What the table has no column for: the finding tells it, or what all limits together allow where it is the least.
    for one in mine:
        if one.code in ("carrier-lift", "holding-short") and one.value is not None and one.limit is not None:
            found[one.code] = one.value / one.limit if one.limit > 0.0 else math.inf
    if row["allowed_by"] not in (*found, ""):
        found[row["allowed_by"]] = row["force_N"] / row["allowed_N"] if row["allowed_N"] > 0.0 else math.inf
    # A limit of nothing has no share in the table.
    for one in mine:
        if one.margin == -math.inf:
            found[one.code] = math.inf
    return {code: float(share) for code, share in found.items() if not math.isnan(share)}


def _bent_share(line: Line, row: Mapping[str, Any]) -> tuple[float, float, float]:
    """Greatest share of a tolerance by which the tool point gives way, that way, and the tolerance. [1], [m], [m]"""
    tolerance = line.station(row["station"]).tolerance
    best = (math.nan, math.nan, math.nan)
    if tolerance is None:
        return best
    for axis, limit_m in (("x", tolerance.x_m), ("y", tolerance.y_m), ("z", tolerance.z_m)):
        way_m = row[f"deflection_{axis}_m"]
        if limit_m is None or math.isnan(way_m):
            continue
        share = way_m / limit_m if limit_m > 0.0 else (math.inf if way_m > 0.0 else 0.0)
        if math.isnan(best[0]) or share > best[0]:
            best = (share, way_m, limit_m)
    return best


def _missing(line: Line, row: Mapping[str, Any]) -> list[str]:
    """What of a station cannot be told, in words."""
    sheet, found = line.conveyor, []
    if not row["at_greatest"]:
        found.append("the greatest force")
    if sheet.allowed_force is None:
        found.append("the allowed force, which the conveyor sheet does not state")
    if math.isnan(row["block_load_N"]):
        found.append("the loads of the blocks")
    if row["lift_N"] > 0.0 and (sheet.magnets is None or not has_fixture_mass(line)):
        found.append("whether the carrier is lifted off")
    if line.station(row["station"]).tolerance is not None and math.isnan(row["deflection_z_m"]):
        found.append("how far the tool point gives way")
    return found


def _in_words(line: Line, row: Mapping[str, Any], code: str, share: float) -> str:
    """``allowed force down 79 % (1070 N of 1350 N)``"""
    words = f"{_FULL.get(code, code)} {percent(share)}"
    if not math.isfinite(share):
        return words
    if code == "static-safety":
        return f"{words} ({figure_text(row['static_safety'])}, at least {figure_text(least_safety(line))})"
    if code == "deflection":
        _, way_m, limit_m = _bent_share(line, row)
        return f"{words} ({length(line, way_m)} of {length(line, limit_m)})"
    if code in _NEWTON_COLUMN:
        value_N = row[_NEWTON_COLUMN[code]]
        return f"{words} ({figure_text(value_N)} N of {figure_text(value_N / share)} N)"
    return words


def _worst_words(evaluation: Evaluation, uses: Sequence[StationUse]) -> str:
    silent = [station.name for station in evaluation.line.stations if station.force is None]
    words = []
    if not uses:
        words.append("Nothing presses on a carrier at any station that states its force.")
    known = [use for use in uses if not math.isnan(use.share)]
    if known:
        worst = max(known, key=lambda use: use.share)
        words.append(f"Most: {worst.station}, {percent(worst.share)} ({_FULL.get(worst.governs, worst.governs)}).")
    for verdict, said in (("fails", "Fails"), ("tight", "Tight"), ("not checked", "Not checked in full")):
        names = [use.station for use in uses if use.verdict == verdict]
        words += [f"{said}: {named(names)}."] if names else []
    words += [f"Force not stated: {named(silent)}."] if silent else []
    return " ".join(words)


def carrier_words(evaluation: Evaluation) -> str:
    """What belongs to no station: the blocks while a carrier moves, and the life of the guides."""
    found = {one.code: one for one in evaluation.findings if one.subject == "strength"}
    moving, life = found.get("static-safety-moving"), found.get("guide-life")
    words = ["not checked while a carrier moves"]
    if moving is not None and moving.value is not None and moving.limit is not None:
        least, safety = figure_text(moving.limit), figure_text(moving.value)
        words = [f"static safety while a carrier moves {safety}, at least {least}{_unless_held(moving)}"]
    if life is None or life.value is None:
        words.append("guide life not checked")
    else:
        years = found.get("guide-years")
        lasts = f", {_large(years.value)} years" if years is not None and years.value is not None else ""
        words.append(f"guide life {_large(life.value)} km{lasts}{_unless_held(life)}")
    load = found.get("guide-load")
    if load is not None and load.verdict != "holds" and load.value is not None and load.limit is not None:
        of = f"{figure_text(load.value)} N of {figure_text(load.limit)} N"
        words.append(f"load to which the life holds {of}{_unless_held(load)}")
    return f"Carriers: {'; '.join(words)}."


def _unless_held(finding: Finding) -> str:
    return "" if finding.verdict == "holds" else f" ({finding.verdict})"


def _large(value: float) -> str:
    return f"{figure_text(value / 1e6)} million" if value >= 1e6 else figure_text(value)


def _values(sheet: Sheet, uses: Sequence[StationUse]) -> list[Value]:
    """Over each bar its share; what governs too, where all of that finds room on the level."""
    long, short = [], []
    for use in uses:
        prefix = "" if use.verdict == "holds" else f"{use.verdict} "
        share = "" if math.isnan(use.share) else percent(use.share)
        kind = _SHORT.get(use.governs, use.governs)
        short.append(f"{prefix}{kind if use.governs == 'force-off-carrier' else share}".strip())
        long.append(f"{prefix}{kind if use.governs == 'force-off-carrier' else f'{share} {kind}'}".strip())
    values = []
    for use, words in zip(uses, long if is_level(sheet, uses, long) else short, strict=True):
        strong = use.verdict in ("fails", "not checked")
        values.append(Value(sheet.station_m(use.station), words, use.told, strong))
    for station in sheet.line.stations:
        at_m = sheet.station_m(station.name)
        if station.force is None:
            said = f"{station.name}: not checked, its force is not stated; write the key force, or force: none"
            values.append(Value(at_m, "not checked", said, True))
        elif not station.force:
            values.append(Value(at_m, "no force", f"{station.name}: force: none, nothing presses on the carrier"))
    return values


def is_level(sheet: Sheet, uses: Sequence[StationUse], words: Sequence[str]) -> bool:
    """Whether these words over those stations find room beside one another, the stations without a bar counted too."""
    bare = [station for station in sheet.line.stations if all(use.station != station.name for use in uses)]
    texts = [*words, *("not checked" if station.force is None else "no force" for station in bare)]
    places = [sheet.to_px(sheet.station_m(use.station)) for use in uses]
    places += [sheet.to_px(sheet.station_m(station.name)) for station in bare]
    size = sheet.text.small_px
    if sum(text_width_px(text, size) for text in texts) > sheet.width_px:
        return False
    return place_labels(texts, places, sheet.width_px, size).direction == "level"


# ---- the plot ----------------------------------------------------------------------------------------------------
