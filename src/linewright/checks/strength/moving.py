"""The rows of the carrier itself: its blocks while it moves, and the life of its guides."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.strength.riding import LifeRecord, RidingCase, riding_cases
from linewright.checks.strength.statics import BLOCKS
from linewright.checks.strength.stations import PAGE, least_safety, safety_source
from linewright.errors import Place
from linewright.findings import Finding, judge, margin_above, margin_below
from linewright.flow.yearly_use import Unknown, YearlyUse
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.line.ratings import GuideSheet
from linewright.line.spoken import in_words, to_write, travel_in_words
from linewright.motion.limits import drive_figures
from linewright.remedies import spare_for, value_that_holds

COMMON_FACTORS: Final = ((0.25, 1.0, 1.2), (1.0, 1.2, 1.5), (2.0, 1.5, 2.0), (math.inf, 2.0, 3.5))
"""Up to which speed [m/s] which load factors are common, from and to; from memory."""


def moving_rows(line: Line, layout: Layout, guides: GuideSheet, cases: tuple[RidingCase, ...]) -> list[Finding]:
    """Static safety of the worst block in the worst state of motion, and the block that presses least in any."""
    worst = max(cases, key=lambda case: case.load_N)
    least = least_safety(line)
    safety = guides.static_rating_N / worst.load_N if worst.load_N > 0.0 else math.inf
    margin = margin_above(safety, least)
    verdict = judge(margin)
    where = f"{_carrier(worst)}: block {worst.loads.worst} carries {in_words(worst.load_N, 'N', line.units)}"
    place, remedy = line.conveyor.place("guides"), ""
    if verdict != "holds":
        place, remedy = _lighter(line, layout, guides, (1.0 + spare_for(verdict)) * least)
    figures = (safety, least, None, margin)
    code = "static-safety-moving"
    rows = [Finding(code, "strength", verdict, where, place, *figures, safety_source(line), remedy)]
    lightest = min(cases, key=lambda case: float(case.loads.normal_N.min()))
    lowest_N = float(lightest.loads.normal_N.min())
    block = BLOCKS[int(lightest.loads.normal_N.round(9).argmin())]
    lifts = "is pulled off its rail and held by its grip alone" if lowest_N < 0.0 else "stays pressed on its rail"
    where = f"{_carrier(lightest)}: block {block}, which presses least, {lifts}"
    source, place = f"{PAGE}, Loads of the blocks", line.conveyor.place("guides")
    figures_of_load = (lowest_N, None, "N", None)
    rows.append(Finding("block-uplift", "strength", "holds", where, place, *figures_of_load, source, ""))
    return rows


def life_rows(line: Line, guides: GuideSheet, life: LifeRecord, use: YearlyUse | Unknown) -> list[Finding]:
    """Life in travel and in years, and whether the load is within the range of the formula."""
    source = f"{PAGE}, Life"
    place = line.conveyor.place("guides")
    rows = []
    if life.equivalent_N is not None:
        over = "over the moves of the run" if life.from_duty else "at the greatest acceleration all the way, at most"
        load = in_words(life.equivalent_N, "N", line.units)
        where = f"the worst block carries {load} {over}, times the load factor {life.load_factor:g}"
        where += _common_factor(line, guides)
        if guides.load_factor is None:
            where = f"not stated: the load factor; with 1 in its place {where}"
            remedy = "state the key load_factor under guides in the conveyor sheet"
            rows.append(_life_row("not checked", where, place, life, source, remedy))
            rows += [row for row in [_load_row(line, guides, life, life.equivalent_N)] if row.verdict == "fails"]
        else:
            rows.append(_life_row("holds", f"nine of ten blocks live longer: {where}", place, life, source, ""))
            rows.append(_load_row(line, guides, life, life.equivalent_N))
    else:
        where = "travel that the sheet states for its guides, which are no ball guides"
        rows.append(_life_row("holds", where, place, life, f"the conveyor sheet ({line.conveyor.name})", ""))
    rows.append(_years_row(line, life, use, guides.load_factor is None and guides.kind == "ball"))
    return rows


def _common_factor(line: Line, guides: GuideSheet) -> str:
    """What load factor is common at the greatest speed of the moves, where the stated one is below or none is."""
    speed_m_s = drive_figures(line).speed_m_s
    up_to_m_s, low, high = next(row for row in COMMON_FACTORS if speed_m_s <= row[0])
    if guides.load_factor is not None and guides.load_factor >= low:
        return ""
    at = f"beyond {in_words(COMMON_FACTORS[-2][0], 'm/s', line.units)}"
    if math.isfinite(up_to_m_s):
        at = f"up to {in_words(up_to_m_s, 'm/s', line.units)}"
    return f"; common values {at}: {low:g} to {high:g}, from memory"


def _life_row(verdict: str, where: str, place: Place | None, life: LifeRecord, source: str, remedy: str) -> Finding:
    km = life.travel_m / 1000.0
    if verdict == "holds":
        return Finding("guide-life", "strength", "holds", where, place, km, None, "km", None, source, remedy)
    return Finding("guide-life", "strength", "not checked", where, place, km, None, "km", None, source, remedy)


def _load_row(line: Line, guides: GuideSheet, life: LifeRecord, load_N: float) -> Finding:
    """Whether the load lies in the range in which the formula of the life holds."""
    value_N, limit_N = life.load_factor * load_N, guides.dynamic_rating_N / 2.0
    margin = margin_below(value_N, limit_N)
    verdict = judge(margin)
    needs = to_write(2.0 * value_N / (1.0 - spare_for(verdict)), "N", line.units, since=0.0)
    remedy = "" if verdict == "holds" else f"blocks with a dynamic rating of {needs} or more"
    where = "load of the worst block with its load factor, against half the dynamic rating, to which the formula of "
    where += "the life holds"
    source = f"{PAGE}, Life (from memory)"
    place = line.conveyor.place("guides", "dynamic_rating")
    return Finding("guide-load", "strength", verdict, where, place, value_N, limit_N, "N", margin, source, remedy)


def _years_row(line: Line, life: LifeRecord, use: YearlyUse | Unknown, bare: bool) -> Finding:
    """Life in years, by the travel of a year that upkeep is reckoned from too."""
    code, source = "guide-years", f"{PAGE}, Life"
    if isinstance(use, Unknown) or life.years is None or life.travel_per_year_m is None:
        where, remedy = ("nothing moves", "") if isinstance(use, YearlyUse) else (use.why, use.remedy)
        where = f"life of the guides in years: {where}"
        place = line.place("demand") if line.demand is None else line.place("carriers")
        figures = (None, None, "years", None)
        return Finding(code, "strength", "not checked", where, place, *figures, source, remedy)
    which = (
        "of the carrier that travels most in the run" if use.basis == "run" else "that the demand asks of each carrier"
    )
    where = f"at {travel_in_words(life.travel_per_year_m, 'm/year', line.units)}, {which}"
    figures_of_life = (life.years, None, "years", None)
    if bare:
        where += "; with a load factor of 1, which is not stated: they live shorter with shock and vibration"
        remedy = "state the key load_factor under guides in the conveyor sheet"
        return Finding(code, "strength", "not checked", where, line.place("demand"), *figures_of_life, source, remedy)
    return Finding(code, "strength", "holds", where, line.place("demand"), *figures_of_life, source, "")


def _lighter(line: Line, layout: Layout, guides: GuideSheet, least: float) -> tuple[Place | None, str]:
    """The mass of the fixture at which the static safety holds while the carrier moves, else the rating that is due."""
    limit_N = guides.static_rating_N / least
    fixture = line.fixture

    def margin(mass_kg: float) -> float:
        assert fixture is not None
        lighter = line.model_copy(update={"fixture": fixture.model_copy(update={"mass_kg": mass_kg})})
        return 1.0 - max(case.load_N for case in riding_cases(lighter, layout, guides)) / limit_N

    worst_N = max(case.load_N for case in riding_cases(line, layout, guides))
    if fixture is not None and fixture.mass_kg > 0.0:
        mass_kg = value_that_holds(margin, fixture.mass_kg, 0.0)
        if mass_kg is not None:
            lighter = to_write(mass_kg, "kg", line.units, since=fixture.mass_kg)
            return line.place("fixture", "mass"), f"a fixture of {lighter} or less"
    needs = to_write(worst_N * least, "N", line.units, since=0.0)
    place = line.conveyor.place("guides", "static_rating")
    return place, f"a conveyor whose blocks have a static rating of {needs} or more"


def _carrier(case: RidingCase) -> str:
    return f"{'loaded' if case.loaded else 'empty'} carrier, {case.name}"
