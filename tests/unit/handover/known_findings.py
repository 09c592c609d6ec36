"""Whether a row of findings of a paper is one very finding: its words, value, limit, margin and source."""

from __future__ import annotations

import math
import re
from typing import Any

from unit.handover.known_numbers import PaperFacts, is_about
from unit.handover.numbers_of_papers import Said, is_four, units_of
from unit.pictures.numbers_of import Fields, plain


def finding_wrong(one: Any, said: Said, what: str, f: PaperFacts, sources: dict[str, str]) -> list[str]:
    """What of a row of findings is not this finding's; empty where it is this one's row."""
    wrong = []
    told = re.fullmatch(r"(.*?)(?: \[(\d+)\])?", what)
    words, number = told[1], told[2]
    where, _, remedy = words.partition(" → ")
    if not _same_where(where, one, said.names, f):
        wrong.append(f"it says {plain(one.where)!r}")
    if remedy != ("" if one.verdict == "holds" else plain(one.remedy)):
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
