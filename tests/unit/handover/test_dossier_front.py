"""The dossier's own parts: page one against the Evaluation, the chart, the rate, and what all of it rests on."""

from __future__ import annotations

import functools
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Final, cast

import pypdf
import pytest

import linewright as lw
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.findings import WORST_FIRST, Finding
from linewright.handover.document.blocks import (
    Block,
    Caution,
    Drawn,
    Facts,
    Grid,
    Heading,
    Kept,
    Part,
    Points,
    SignHere,
    Tag,
    Words,
    opened,
)
from linewright.handover.document.pdf import pdf_of
from linewright.handover.dossier import track
from linewright.handover.dossier.answer import answer_part
from linewright.handover.dossier.chapter import sources_of
from linewright.handover.dossier.dossier import dossier_document
from linewright.handover.dossier.rate import rate_part
from linewright.handover.dossier.rests_on import rests_on_part
from linewright.handover.dossier.track import layout_part, track_part
from linewright.handover.pages.rate_page import rate_page
from linewright.handover.papers.material import Material, gather
from linewright.handover.papers.rows import document_of, told_to
from linewright.handover.wording import margin_in_words
from linewright.line.load import load_line
from linewright.pictures import Shown
from linewright.planning.assumed import MAY_FALL, find_effects
from linewright.planning.gains import Gains, find_gains
from linewright.quantities import number, quantity

EXAMPLES: Final = Path(__file__).parents[3] / "examples"
FIVE: Final = EXAMPLES / "charts" / "five.yaml"
DEMO: Final = EXAMPLES / "demo" / "line.yaml"
# Smallest letters of a picture on paper that are read without a glass. [mm]
LEAST_LETTERS_MM: Final = 2.0


def material_of(evaluation: Evaluation, for_customer: bool = False) -> Material:
    """What the dossier's own parts read; they ask neither for parts and prices nor for the proof itself."""
    gains = None
    if evaluation.plan is not None and evaluation.run is not None:
        gains = find_gains(evaluation.line, evaluation.layout, evaluation.plan, evaluation.run, workers=1)
    effects = find_effects(evaluation, workers=1)
    other = "not asked for"
    return Material(evaluation, gains, effects, other, other, cast(Any, None), other, other, for_customer=for_customer)


@functools.cache
def five() -> Material:
    """A line in inches that makes its rate while other checks fail."""
    return material_of(lw.evaluate(load_line(FIVE), hours=1, runs=3, workers=1))


LOCKS: Final = Finding(
    "gridlock", "traffic", "fails", "from any start", None, 9.0, 8.0, "carriers", -0.1, "a book", "x"
)
DEAD: Final = replace(LOCKS, code="dead-section", verdict="not checked", where="it coasts", limit=None, margin=None)


@functools.cache
def proved() -> Material:
    """The same with a proof of which one row fails, one is not checked and one holds."""
    found = (replace(LOCKS, code="recovery", verdict="holds", where="200 stops"), DEAD, LOCKS)
    return replace(five(), proving=cast(Any, SimpleNamespace(findings=found)))


@functools.cache
def five_for_customer() -> Material:
    return replace(five(), for_customer=True)


@functools.cache
def rate_parts() -> tuple[Part, ...]:
    """The builder's chapter on the rate; its picture takes a second."""
    return rate_part(five())


@dataclass(frozen=True)
class Asked:
    """A picture that is not drawn: its text tells what was asked for."""

    rows: tuple[str, ...]
    with_gains: bool

    def svg(self) -> str:
        return "".join(f"<text>{row}</text>" for row in (*self.rows, f"gains {self.with_gains}"))


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    def asked(evaluation: Evaluation, gains: Gains | None, shown: Shown) -> Asked:
        return Asked(shown.rows, gains is not None)

    monkeypatch.setattr(track, "track_chart", asked)


def blocks_of(parts: tuple[Part, ...]) -> list[Block]:
    return [block for part in parts for block in opened(part.blocks)]


def facts_of(parts: tuple[Part, ...]) -> dict[str, str]:
    return {
        label: plain(words) for block in blocks_of(parts) if isinstance(block, Facts) for label, words in block.rows
    }


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def grids_under(parts: tuple[Part, ...], heading: str) -> Grid:
    """The first grid under the heading that begins so."""
    blocks = blocks_of(parts)
    at = next(i for i, one in enumerate(blocks) if isinstance(one, Heading) and one.text.startswith(heading))
    return next(one for one in blocks[at:] if isinstance(one, Grid))


def words_of(block: Block) -> Iterator[str]:
    match block:
        case Heading(text) | Words(text) | Caution(text):
            yield text
        case Points(rows):
            yield from rows
        case Facts(rows):
            yield from (f"{label} {words}" for label, words in rows)
        case Grid():
            yield from (column.heading for column in block.columns)
            yield from (cell for row in block.rows for cell in row if isinstance(cell, str))
        case Drawn(svg, told, _):
            yield told
            yield from re.findall(r"<text[^>]*>([^<]*)", svg)
        case SignHere(people):
            yield from people


def text_of(parts: tuple[Part, ...]) -> str:
    return plain("\n".join(words for block in blocks_of(parts) for words in words_of(block)))


def test_page_one_has_the_figures_of_the_evaluation() -> None:
    evaluation, facts = five().evaluation, facts_of(answer_part(five()))
    run, takt, demand = evaluation.run, evaluation.takt, evaluation.line.demand
    assert run is not None
    assert run.rate is not None
    assert takt is not None
    assert demand is not None
    assert run.limiting is not None
    rate = [plain(number(value, 1)) for value in (run.rate.mean, run.rate.low, run.rate.high)]
    assert facts["Rate"] == f"{rate[0]} good parts per hour, 95 % interval {rate[1]} to {rate[2]}, from 3 runs"
    usable_h = 3600 * demand.good_parts_per_year * takt.takt_s / 3600**2
    per_year = [float(f"{value * usable_h:.4g}") for value in (run.rate.mean, run.rate.low, run.rate.high)]
    found = [float(one.replace(" ", "")) for one in re.findall(r"\d[\d ]*\d", facts["A year"])]
    assert found == [*per_year, demand.good_parts_per_year]
    assert facts["Takt"].startswith(f"{takt.takt_s:.3f} s")
    assert facts["Line cycle"].startswith(f"{run.line_cycle_s:.3f} s per good part")
    assert f"{run.limiting.by_s:.3f} s more than the next, {run.limiting.next_step}" in facts["Limited by"]
    first = run.cycle_causes.rows()[0]
    assert facts["Made of"].startswith(f"{first['kind']} {first['place']} {100 * first['share']:.1f} %")
    assert facts["Carriers"] == "11 for 5 stations"
    assert evaluation.line.input_hash in facts["Made from"]
    assert "seed 1" in facts["Made from"]
    assert "3 runs of 1 h" in facts["Made from"]


def test_the_shares_of_what_the_line_cycle_is_made_of_add_up() -> None:
    shares = re.findall(r"([\d.-]+) %", facts_of(answer_part(five()))["Made of"])
    assert len(shares) > 2
    assert sum(float(one) for one in shares) == pytest.approx(100.0, abs=1e-6)


def test_page_one_says_what_the_page_of_the_rate_says() -> None:
    page = " ".join(rate_page(five().evaluation).split())
    strong = [one.text for one in blocks_of(answer_part(five())) if isinstance(one, Words) and one.strong]
    assert strong[0] in page
    fails = sum(1 for one in five().evaluation.findings if one.verdict == "fails")
    assert strong[1] == f"BUT {fails} OTHER CHECKS FAIL: they stand below."
    counted = facts_of(answer_part(five()))["Findings"]
    assert counted.split(" The proof")[0] in page
    assert "The proof of the traffic is NOT CHECKED: not asked for." in counted
    unchecked = sum(1 for one in five().evaluation.findings if one.verdict == "not checked")
    assert f"{unchecked} NOT CHECKED" in counted


@pytest.mark.parametrize("whose", ["builder", "customer"])
def test_every_row_that_does_not_hold_is_on_page_one_and_no_other(whose: str) -> None:
    material = five() if whose == "builder" else five_for_customer()
    table = grids_under(answer_part(material), "What fails")

    def hidden(one: Finding) -> bool:
        return whose == "customer" and one.verdict == "tight"

    expected = [one for one in material.evaluation.findings if one.verdict != "holds"]
    assert len(expected) > 10
    units = material.evaluation.line.units
    wanted = [
        (
            one.verdict,
            f"{one.code}: {one.where}" + (f" → {one.remedy}" if one.remedy and not hidden(one) else ""),
            "" if one.value is None else quantity(one.value, one.unit, units, one.limit),
        )
        for one in expected
    ]
    assert any(one.verdict == "tight" and one.remedy for one in expected)
    found = [(tag.verdict, what, value) for tag, what, value, *_ in table.rows if isinstance(tag, Tag)]
    assert len(found) == len(table.rows)
    assert sorted(found) == sorted(wanted)
    order = [WORST_FIRST.index(verdict) for verdict, _, _ in found]
    assert order == sorted(order)


def test_rows_of_the_proof_stand_on_page_one_and_are_counted() -> None:
    blocks, facts = blocks_of(answer_part(proved())), facts_of(answer_part(proved()))
    assert "And of the proof of the traffic: 1 fail, 1 NOT CHECKED, 0 tight, 1 hold." in facts["Findings"]
    strong = [one.text for one in blocks if isinstance(one, Words) and one.strong]
    assert "BUT 1 ROW OF THE PROOF FAILS: it stands below." in strong
    found = [(row[0], row[1]) for row in grids_under(answer_part(proved()), "What fails").rows]
    alone = [(row[0], row[1]) for row in grids_under(answer_part(five()), "What fails").rows]
    more = [(Tag("fails"), "gridlock: from any start → x"), (Tag("not checked"), "dead-section: it coasts → x")]
    assert sorted(map(str, found)) == sorted(map(str, (*alone, *more)))
    heading = next(one.text for one in blocks if isinstance(one, Heading) and one.text.startswith("What fails"))
    assert heading.endswith(f": {len(found)} of {len(five().evaluation.findings) + 3} rows")


def test_page_one_says_what_signing_means_and_of_an_invented_sheet_that_it_is_not_to_be_signed() -> None:
    text = text_of(answer_part(proved()))
    count = [sum(one.verdict == verdict for one in five().evaluation.findings) for verdict in WORST_FIRST]
    know = f"know what fails ({count[0] + 1}), is not checked ({count[1] + 1}) or is tight ({count[2]})."
    assert f"Signed: both have read this answer and {know} It is no acceptance; that is the acceptance plan's." in text
    assert "Not to be signed for a real line: the conveyor sheet demo-heavy is invented." in text
    line = five().evaluation.line
    typed = line.model_copy(update={"conveyor": line.conveyor.model_copy(update={"invented": False})})
    real = replace(five(), evaluation=replace(five().evaluation, line=typed))
    assert "Not to be signed" not in text_of(answer_part(real))


def test_every_effect_is_told_and_the_page_is_to_be_signed() -> None:
    blocks = blocks_of(answer_part(five()))
    assert any(isinstance(one, Points) and one.rows == tuple(e.told for e in five().effects) for one in blocks)
    assert len(five().effects) > 5
    lines = blocks[-1]
    assert isinstance(lines, Grid)
    assert lines.row_mm > 0
    assert [column.heading for column in lines.columns] == ["", "name", "date", "signature"]
    assert lines.rows == (("builder", "", "", ""), ("customer", "", "", ""))
    (part,) = answer_part(five())
    assert isinstance(part.blocks[-1], Kept), "the lines to sign on stand with what is signed"


def test_what_may_fall_below_is_said_to_be_at_the_low_ends() -> None:
    plain = [one for one in five().effects if MAY_FALL not in one.told]
    told = plain[0].told.removesuffix(".") + f"; the rate {MAY_FALL} the required 990.0."
    may = [replace(plain[0], told=told), *plain[1:]]
    said = "“may”: at the low ends of all intervals"
    assert said in text_of(answer_part(replace(five(), effects=tuple(may))))
    assert said not in text_of(answer_part(replace(five(), effects=tuple(plain))))


def test_the_customer_is_told_neither_margins_nor_what_would_help() -> None:
    parts = (answer_part, rate_part, rests_on_part)
    builder = "\n".join(text_of(part) for part in (answer_part(five()), rate_parts(), rests_on_part(five())))
    customer = "\n".join(text_of(part(five_for_customer())) for part in parts)
    for words in ("margin", "than the takt", "of the takt", "What would help", "below it", "tried in simulated runs"):
        assert words in builder, words
        assert words not in customer, words
    held = [one for one in five().evaluation.findings if one.verdict == "holds" and one.margin is not None]
    cells = [cell for block in blocks_of(rate_part(five_for_customer())) for cell in words_of(block)]
    shown = [one for one in held if one.subject in ("rate", "layout")]
    assert len(shown) > 5
    for finding in shown:
        assert margin_in_words(finding.margin or 0.0) not in cells


def test_what_would_better_a_tight_row_is_the_builders() -> None:
    tight = replace(
        DEAD,
        code="capability",
        subject="accuracy",
        verdict="tight",
        remedy="a better nest",
        where="press: Cpk 1.4; largest: nest 21% (halved: Cpk 1.61), guide 19% (halved: Cpk 1.59)",
    )
    wrong = replace(tight, verdict="fails", remedy="relieve press (the page of `rate` shows what would help), or less")
    builder, customer = (told_to((tight, wrong), one) for one in (five(), five_for_customer()))
    assert [one.where for one in builder] == [tight.where, wrong.where]
    assert builder[0].remedy == "a better nest"
    assert builder[1].remedy == "relieve press (the page of rate shows what would help), or less"
    assert (customer[0].where, customer[0].remedy) == ("press: Cpk 1.4; largest: nest 21%, guide 19%", "")
    assert (customer[1].where, customer[1].remedy) == (wrong.where, "relieve press, or less")


@pytest.mark.usefixtures("undrawn")
def test_the_track_chart_stands_whole_on_a_large_page_and_has_no_margins_for_the_customer() -> None:
    def charts(material: Material) -> list[str]:
        return [" ".join(words_of(one)) for one in blocks_of(track_part(material)) if isinstance(one, Drawn)]

    (whole,) = charts(five())
    assert whole.endswith("track time states help strength accuracy heat feeder string-line gains True")
    (bare,) = charts(five_for_customer())
    assert bare.endswith("track time states string-line gains False")
    assert {part.shape for part in track_part(five())} == {"large"}


def test_the_takt_follows_from_the_numbers_above_it() -> None:
    rows = {str(row[0]): plain(str(row[2])) for row in grids_under(rate_parts(), "From demand").rows}
    value = {name: float(re.sub(r"[^\d.]", "", words.replace(" per hour", ""))) for name, words in rows.items()}
    demand, takt = five().evaluation.line.demand, five().evaluation.takt
    assert demand is not None
    assert takt is not None
    planned_h = demand.shifts_per_day * demand.paid_time_per_shift_s / 3600 * demand.days_per_year
    assert value["planned time a year"] == pytest.approx(planned_h, abs=0.05)
    usable_h = value["planned time a year"] * (1.0 - value["losses that the run does not show"] / 100.0)
    assert value["usable time a year"] == pytest.approx(usable_h, abs=0.15)
    assert value["takt"] == pytest.approx(3600.0 * usable_h / value["good parts a year"], abs=0.001)
    assert value["required rate"] == pytest.approx(value["good parts a year"] / usable_h, abs=0.1)


def test_the_rate_stands_between_its_bounds_with_steps_states_causes_and_gains() -> None:
    parts, evaluation, gains = rate_parts(), five().evaluation, five().gains
    run, bounds = evaluation.run, evaluation.bounds
    assert run is not None
    assert run.rate is not None
    assert bounds is not None
    assert gains is not None
    facts = facts_of(parts)
    assert facts["at most"].startswith(plain(number(bounds.upper_per_h, 1)))
    assert facts["simulated"].startswith(plain(number(run.rate.mean, 1)))
    steps = grids_under(parts, "Steps").rows
    assert [(row[0], row[2]) for row in steps] == [
        (row["step"], number(row["time_per_good_part_s"], 3)) for row in run.steps.rows()
    ]
    for row in grids_under(parts, "What the stations do").rows:
        assert sum(float(str(cell)) for cell in row[1:]) == pytest.approx(100.0, abs=1e-6)
    down = [str(column.heading) for column in grids_under(parts, "What the stations do").columns].index("down")
    shares = {str(row[0]): float(str(row[down])) for row in grids_under(parts, "What the stations do").rows}
    for station in run.stations.rows():
        assert shares[station["station"]] == pytest.approx(100.0 * station["down_share"], abs=0.1)
    customers = rate_part(five_for_customer())
    causes = grids_under(customers, "What the line cycle").rows
    assert causes[0][:2] == (run.cycle_causes.rows()[0]["kind"], run.cycle_causes.rows()[0]["place"])
    helps = grids_under(parts, "What would help").rows
    told = [one for one in gains.gains if one.effect in ("gains", "loses")]
    assert [row[0] for row in helps] == [one.change.words for one in told]
    assert [float(plain(str(row[1]))) for row in helps] == pytest.approx([g.per_h.mean for g in told], abs=0.051)
    text = text_of(parts)
    assert all(one.change.words in text for one in gains.gains), "what does nothing is told too"


def test_every_source_stands_once_and_each_finding_names_it_by_number() -> None:
    findings = five().evaluation.findings
    numbers = sources_of(five())
    assert list(numbers.values()) == list(range(1, len(numbers) + 1))
    assert set(numbers) == {one.source for one in findings if one.source}
    text = plain(text_of(rests_on_part(five())))
    for source, index in numbers.items():
        assert text.count(f"[{index}] ") == 1
        assert text.split(f"[{index}] ")[1].startswith(source) or source.startswith("docs/"), source
    rate = plain(text_of(rate_parts()))
    for one in findings:
        if one.subject == "rate":
            row = next(line for line in rate.splitlines() if line.startswith(f"{one.code}: {one.where}"))
            assert row.endswith(f" [{numbers[one.source]}]")


def test_that_a_line_may_lock_is_left_open_only_where_no_proof_is_there() -> None:
    words = "linewright prove does that"
    assert words in text_of(rests_on_part(five()))
    proved = replace(five(), proving=cast(Any, SimpleNamespace(findings=())))
    assert words not in text_of(rests_on_part(proved))


@pytest.mark.usefixtures("undrawn")
def test_without_a_run_it_says_so_and_shows_what_needs_none() -> None:
    bare = material_of(evaluate_without_run(load_line(FIVE)))
    facts = facts_of(answer_part(bare))
    assert facts["Rate"].startswith("not known: ")
    assert "Line cycle" not in facts
    assert "no run; input" in facts["Made from"]
    assert "shortens the takt" in text_of(answer_part(bare))
    assert "Not simulated: " in text_of(rate_part(bare))
    (chart,) = track_part(bare)
    assert chart.shape == "wide"
    assert "strength" in text_of((chart,))
    (bare_chart,) = track_part(replace(bare, for_customer=True))
    assert "strength" not in text_of((bare_chart,))


def test_the_text_of_the_pdf_is_that_of_the_evaluation() -> None:
    pdf = pypdf.PdfReader(io.BytesIO(pdf_of(document_of("Dossier", five(), answer_part(five())))))
    assert len(pdf.pages) <= 2
    text = re.sub(r"\s+", "", "".join(page.extract_text() for page in pdf.pages))
    run = five().evaluation.run
    assert run is not None
    assert run.rate is not None
    for words in (
        five().evaluation.line.input_hash,
        number(run.rate.mean, 1),
        *(f"{one.code}:{one.where}" for one in five().evaluation.findings if one.verdict != "holds"),
        *(one.told for one in five().effects),
    ):
        assert re.sub(r"\s+", "", words) in text, words
    assert text.count("NOTCHECKED") == 2 + sum(1 for f in five().evaluation.findings if f.verdict == "not checked")


@pytest.mark.long
@pytest.mark.parametrize("name", ["demo/line.yaml", "charts/five.yaml", "charts/forty.yaml"])
def test_letters_of_the_wide_pages_are_large_enough_and_each_fits_its_page(name: str) -> None:
    material = material_of(lw.evaluate(load_line(EXAMPLES / name), hours=1, runs=3))
    parts = (*track_part(material), *layout_part(material))
    assert [part.shape for part in parts] == ["large", "wide"]
    pages = pypdf.PdfReader(io.BytesIO(pdf_of(document_of("Dossier", material, parts)))).pages
    assert len(pages) == 2
    for page, part in zip(pages, parts, strict=True):
        width_mm, height_mm = (float(one) * 25.4 / 72.0 for one in page.mediabox[2:])
        for block in blocks_of((part,)):
            if not isinstance(block, Drawn):
                continue
            size = re.search(r'width="([\d.]+)" height="([\d.]+)"', block.svg)
            assert size is not None
            wide_px, high_px = (float(one) for one in size.groups())
            mm_px = min((width_mm - 30.0) / wide_px, (height_mm - 52.0) * block.share / high_px)
            least_px = min(float(one) for one in re.findall(r'font-size="([\d.]+)px"', block.svg))
            assert least_px * mm_px >= 0.9 * LEAST_LETTERS_MM * 10.5 / 12.0, block.told


@pytest.mark.long
def test_the_dossier_of_the_demo_line_has_10_to_25_pages_and_its_answer_takes_one() -> None:
    evaluation = lw.evaluate(load_line(DEMO))
    material = gather(evaluation, ("dossier",))
    for whose in (material, replace(material, for_customer=True)):
        pages = pypdf.PdfReader(io.BytesIO(pdf_of(dossier_document(whose)))).pages
        assert 10 <= len(pages) <= 25
        assert "The answer" in pages[0].extract_text()
        assert "Track chart" in pages[1].extract_text()
