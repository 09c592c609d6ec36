"""Whether a row of findings of a paper is one very finding: its words, value, limit, margin and source.

And whether a row of a change report is that of one finding as it was and as it is.
"""

from __future__ import annotations

import math
import re
from typing import Any

from unit.handover.known_numbers import PaperFacts, is_about
from unit.handover.numbers_of_papers import Said, is_four, is_shown, units_of
from unit.pictures.numbers_of import Fields, plain


def finding_wrong(one: Any, said: Said, what: str, f: PaperFacts, sources: dict[str, str]) -> list[str]:
    """What of a row of findings is not this finding's; empty where it is this one's row."""
    wrong = []
    told = re.fullmatch(r"(.*?)(?: \[(\d+)\])?", what)
    words, number = told[1], told[2]
    where, _, remedy = words.partition(" → ")
    if not _same_where(where, one, said.names, f):
        wrong.append(f"it says {plain(one.where)!r}")
    if remedy != _remedy(one, f):
        wrong.append(f"its remedy is {one.remedy!r}")
    if number is not None and sources.get(number) != plain(one.source):
        wrong.append(f"source {number} is {sources.get(number)!r}, its own is {one.source!r}")
    hidden = f.m.for_customer and one.verdict == "holds"
    # The heading over the verdicts is empty.
    cell = dict(zip(said.names["view"].removeprefix("| ").split(" | "), said.cells[1:], strict=False))
    value, limit, margin = (cell.get(one, "") for one in ("value", "limit", "margin"))
    hidden = hidden or "value" not in cell
    bound, size = re.fullmatch("(at least|at most|limit|) ?(.*)", limit).groups()
    if value != "" or not (hidden or one.value is None):
        wrong += _amiss(value, one.value, one.unit, f, "value")
    if limit != "" or one.limit is not None:
        wrong += _amiss(size, one.limit, one.unit, f, "limit")
    if margin != "" or not (hidden or one.margin is None or "margin" not in cell):
        wrong += _amiss_margin(margin, one.margin)
    if one.limit is not None and one.value is not None and one.margin is not None and not wrong:
        below = one.value < one.limit
        least = "at least" if (one.margin >= 0) != below else "at most"
        if bound != least and not math.isclose(one.value, one.limit, rel_tol=1e-6):
            wrong.append(f"{bound} is {least}")
    return wrong


def _remedy(one: Any, f: PaperFacts) -> str:
    """What to do as the reader is told it: a customer nothing that would better a row that is kept."""
    if one.verdict == "holds" or (f.m.for_customer and one.verdict == "tight"):
        return ""
    text = plain(one.remedy)
    return re.sub(r" \(the page of `?rate`? shows what would help\)", "", text) if f.m.for_customer else text


def _amiss(shown: str, figure: float | None, unit: str | None, f: PaperFacts, what: str) -> list[str]:
    number, _, told = shown.partition(" ")
    kinds = units_of(unit or "1", f.e.line.units)
    if figure is None or told not in kinds or not number or not is_four(number, figure * kinds[told]):
        return [f"{what} {shown!r} stands for {figure} {unit}"]
    return []


def _amiss_margin(shown: str, figure: float | None) -> list[str]:
    number = shown.removesuffix(" %")
    if figure is None or number == shown:
        return [f"margin {shown!r} stands for {figure}"]
    decimals = 1 if abs(figure) < 1.0 else 0
    good = len(number.partition(".")[2]) == decimals and abs(float(number) - 100 * figure) <= 0.5000001 * 10**-decimals
    return [] if good else [f"margin {shown!r} stands for {100 * figure:.6g} %"]


def _same_where(where: str, one: Any, names: Fields, f: PaperFacts) -> bool:
    """Whether words are a finding's: on a place's page without its name, shortened by dots, of feeders together."""
    own = plain(one.where)
    if f.m.for_customer and one.verdict in ("holds", "tight"):
        own = re.sub(r" \(halved: [^)]*\)", "", own)
    place = names.get("station") or names.get("transfer")
    if place is not None and not is_about(one, names):
        return False
    whole = [own]
    if place is not None:
        whole += [own.removeprefix(f"{kind} {place}{sign} ") for kind in ("station", "transfer") for sign in ":,"]
    if f.m.for_customer and one.verdict == "holds":
        whole += [re.split("[:;] ", some, maxsplit=1)[0] for some in tuple(whole)]
    if where.endswith(" ..."):
        return any(some.startswith(where[:-4]) for some in whole)
    feeders = re.fullmatch(r"feeders ([^:]+)(.*)", where)
    if feeders:
        return any(f"feeder {name}{feeders[2]}" in whole for name in feeders[1].split(", "))
    return where in whole


# ---- as it was and as it is ------------------------------------------------------------------------------------------


def place_of(one: Any, f: PaperFacts) -> tuple[str, ...]:
    """What sets a finding apart from others of its code: the names of the line's places in its words, its kind."""
    line = f.e.line
    groups = (line.lanes, line.transfers, line.stations, line.feeders, line.motor_zones)
    names = "|".join(sorted((re.escape(some.name) for group in groups for some in group), key=len, reverse=True))
    wear = one.where.split(",")[0] if one.code == "wear-part" else ""
    kinds = re.findall(r"failure \d+|empty|loaded|(?<=, )[xyz] \(|tolerance", one.where)
    return (one.subject, one.code, wear, *re.findall(rf"(?<![\w-])(?:{names})(?![\w-])", one.where), *kinds)


def figure_fits(shown: str, figure: float | None, unit: str | None, units: str) -> bool:
    """Whether a cell is a figure with its unit, a rate to a tenth; empty where there is none."""
    number, _, told = shown.partition(" ")
    if figure is None or shown == "":
        return figure is None and shown == ""
    kind = unit or "1"
    if kind == "1/h":
        return told == "per hour" and is_shown(number, "#1", figure, "", units)
    return told in units_of(kind, units) and is_shown(number, f"[{kind}]", figure, told, units)


def limit_fits(shown: str, old: Any, new: Any, units: str) -> bool:
    """Whether a cell is the limit of a finding as it is, and as it was where that was another."""
    now, _, was = shown.removesuffix(")").partition(" (was ")
    bare_now, bare_was = (re.sub("^(?:at least|at most|limit) ", "", text) for text in (now, was))
    if new is None:
        return figure_fits(bare_now, old.limit, old.unit, units)
    alike = old is None or (old.limit is None) or figure_fits(bare_now, old.limit, old.unit, units)
    moved = figure_fits(bare_was, old.limit, old.unit, units) if was else alike
    return moved and figure_fits("" if now == "none" else bare_now, new.limit, new.unit, units)


def moved_wrong(said: Said, old: Any, new: Any, f: PaperFacts) -> list[str]:
    """What of a row of a change report is not that of a finding as it was and as it is; None where there is none."""
    row, units = old if new is None else new, f.e.line.units
    headings = said.names["view"].removeprefix("| ").split(" | ")
    verdicts, cells = (said.cells[:2], said.cells[2:]) if headings[0] == "before" else (said.cells[:1], said.cells[1:])
    told = dict(zip(headings[len(verdicts) - (headings[0] != "before") :], cells, strict=True))
    code, _, what = told["what and where"].partition(": ")
    what = re.sub(r" \((?:new row|row is gone)\)$", "", what)
    where, _, remedy = what.partition(" → ")
    wrong = [] if code == row.code and _same_where(where, row, {}, f) else [f"it says {row.code}: {row.where!r}"]
    if remedy != ("" if len(verdicts) == 1 or new is None else _remedy(new, f)):
        wrong.append(f"its remedy is {row.remedy!r}")
    tags = ["no row" if one is None else f"<{one.verdict}>" for one in (old, new)]
    if list(verdicts) != (tags if len(verdicts) == 2 else [f"<{row.verdict}>"]):
        wrong.append(f"it was {tags[0]} and is {tags[1]}")
    for heading, one in (("before", old), ("now", new)):
        hidden = one is None or (f.m.for_customer and one.verdict == "holds")
        if not figure_fits(told[heading], None if hidden else one.value, row.unit, units):
            wrong.append(f"{heading} {told[heading]!r} stands for {None if one is None else one.value} {row.unit}")
    if not limit_fits(told["limit"], old, new, units):
        wrong.append(f"limit {told['limit']!r} is another")
    if "moved" in told and not _moved_fits(told["moved"], old, new, f):
        wrong.append(f"moved {told['moved']!r} is another share")
    if "margin" in told and (told["margin"] != "" or (new is not None and new.margin is not None)):
        wrong += _amiss_margin(told["margin"], None if new is None else new.margin)
    return wrong


def _moved_fits(shown: str, old: Any, new: Any, f: PaperFacts) -> bool:
    """Whether a cell is by how much of itself a finding's value moved."""
    values = [None if one is None else one.value for one in (old, new)]
    hidden = f.m.for_customer and (new or old).verdict == "holds"
    if None in values or values[0] == values[1] or hidden:
        return shown == ""
    if values[0] == 0.0:
        return figure_fits(shown.lstrip("+-"), abs(values[1]), new.unit, f.e.line.units)
    return share_fits(shown, values[1] / values[0] - 1.0)


def share_fits(shown: str, share: float) -> bool:
    """Whether a text is a share with its sign, to a tenth of a per cent."""
    if shown == "under 0.1 %":
        return abs(share) < 0.001
    return bool(re.fullmatch(r"[+-]\d+\.\d %", shown)) and abs(float(shown[:-2]) - 100.0 * share) <= 0.0500001
