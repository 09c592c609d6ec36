"""Pages and program tell of the same rows: each code that lines give stands on its page, each code there is given."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path
from typing import Final

import pytest

from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.findings import Finding, judge
from linewright.line.load import load_line, read_line, read_sheet
from linewright.line.model import Line

ROOT: Final = Path(__file__).parents[2]
SUBJECTS: Final = ("accuracy", "bus", "motion", "power", "safety", "strength", "upkeep")
CODE: Final = re.compile(r"`([a-z]+(?:-[a-z]+)*)`")
# Hyphenated words of the source that are no codes.
NO_CODES: Final = {"cross-transfer", "dust-tight", "light-curtain", "two-deck"} | {
    f"{end}-{side}" for end in ("front", "rear") for side in ("left", "right")
}
EXAMPLES: Final = (
    "demo/line.yaml",
    *(f"limits/{subject}.yaml" for subject in SUBJECTS),
    *(f"ways/{name}.yaml" for name in ("ring", "to-and-fro", "operators", "outside")),
)
DEMO: Final = (ROOT / "examples/demo/line.yaml").read_text("utf-8")
LIGHT: Final = (ROOT / "src/linewright/line/sheets/demo-light.yaml").read_text("utf-8")
Edits = tuple[tuple[str, str], ...]
# Lines that give the rows which no example gives: what is changed in the demo line, and what in its sheet.
MADE: Final[dict[str, tuple[Edits, Edits]]] = {
    "no thrust is left": ((), (("friction: 1.1 N", "friction: 40 N"),)),
    "the sheet states no guides, magnets, forces, supply, image": (
        (),
        (
            (r"guides:\n  \{[^}]*\}\n", ""),
            (r"magnets: .*?\n", ""),
            (r"allowed_force: .*?\n", ""),
            (r"supply:\n  \{[^}]*\}\n", ""),
            (r"image:\n  \{[^}]*\}\n", ""),
        ),
    ),
    "the sheet states no emergency stop, magnets and wear parts, the tools no point and no greatest force": (
        (
            (r"force: \{down: 85 N, greatest: 125 N, at: .*?\}", "force: {down: 85 N, at: [4 mm, 2 mm, 42 mm]}"),
            (r"force: \{down: 18 N, greatest: 45 N, at: .*?\}", "force: {down: 18 N, greatest: 45 N}"),
        ),
        ((r"stopping: .*?\n", ""), (r"magnets: .*?\n", ""), (r"  wear_parts:\n(    .*\n)*", "")),
    ),
    "nothing is carried": (((r"part: .*?\n", ""), (r"fixture:\n(  .*\n)*", "")), ()),
    "thin links, ends within sections, a quick bus": (
        (
            (
                r"lower:\n    \{lane: lower, enters: west",
                "lower:\n    {lane: lower, from: 100 mm, to: 3000 mm, enters: west",
            ),
            (r"link: \{length: 0.8 m, area: 6 mm²\}", "link: {length: 0.8 m, area: 4 mm²}"),
            (r"bus_cycle: 1.5 ms", "bus_cycle: 1 ms"),
        ),
        (),
    ),
    "a door that stays locked": (
        (
            (
                r"\{kind: light-curtain, resolution: 14 mm, distance: 900 mm",
                "{kind: locked, unlocks_after: 2 s, distance: 900 mm",
            ),
        ),
        (),
    ),
    "a fixture that swings": (
        (
            (r"mass_height: 17 mm", "mass_height: 17 mm, natural_frequency: 14 Hz, damping: 2 %"),
            (r"    keep_clear: 70 mm", "    window: 0.05 mm\n    keep_clear: 70 mm"),
        ),
        (),
    ),
}


@cache
def sections(page: str) -> frozenset[str]:
    """The headings of a page of the manual, and the bold words with which its paragraphs begin."""
    text = (ROOT / "docs" / "limits" / f"{page}.md").read_text("utf-8")
    headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return frozenset(headings + re.findall(r"^\*\*([^*]+?)\.?\*\*", text, re.MULTILINE))


@cache
def documented(page: str) -> frozenset[str]:
    """Codes in the first column of the tables of a page that begin with `code` or `row`."""
    found: set[str] = set()
    head = ""
    for line in (ROOT / "docs" / "limits" / f"{page}.md").read_text("utf-8").splitlines():
        if not line.startswith("|"):
            head = ""
            continue
        first = line.split("|")[1].strip()
        head = head or first
        if head in ("code", "row"):
            found |= set(CODE.findall(first))
    return frozenset(found)


def literals(subject: str) -> set[str]:
    """Texts in the source of a subject that could be codes; of motion also those of the settling check."""
    files = list((ROOT / "src/linewright/checks" / subject).glob("*.py"))
    files += [ROOT / "src/linewright/checks/settling.py"] if subject == "motion" else []
    nodes = (node for path in files for node in ast.walk(ast.parse(path.read_text("utf-8"))))
    texts = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    return {text for text in texts if CODE.fullmatch(f"`{text}`")}


def edited(text: str, edits: Edits) -> str:
    """Each pattern is replaced wherever it stands; it must stand somewhere."""
    for pattern, new in edits:
        text, count = re.subn(pattern, new, text)
        assert count, pattern
    return text


def made(name: str) -> Line:
    of_line, of_sheet = MADE[name]
    line = read_line(edited(DEMO, of_line))
    return line.model_copy(update={"conveyor": read_sheet(edited(LIGHT, of_sheet))}) if of_sheet else line


def odd_cable() -> Line:
    """A cable of a size that does not exist; a line file with it is refused, a line made in Python is not."""
    line = load_line(ROOT / "examples/limits/power.yaml")
    feeder = line.feeders[0]
    assert feeder.cable is not None
    cable = feeder.cable.model_copy(update={"area_mm2": 5.0})
    return line.model_copy(update={"feeders": (feeder.model_copy(update={"cable": cable}),)})


@cache
def given() -> tuple[tuple[str, Finding], ...]:
    """Every row of the seven subjects that the lines of this file give, with the name of the line."""
    evaluations: dict[str, Evaluation] = {
        name: evaluate_without_run(load_line(ROOT / "examples" / name)) for name in EXAMPLES
    }
    evaluations |= {name: evaluate_without_run(made(name)) for name in MADE}
    evaluations["an odd cable"] = evaluate_without_run(odd_cable())
    evaluations["a run"] = evaluate(load_line(ROOT / "examples/demo/line.yaml"), hours=0.05, runs=1)
    rows = [(name, row) for name, one in evaluations.items() for row in one.findings]
    return tuple((name, row) for name, row in rows if row.subject in SUBJECTS)


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_code_of_the_source_stands_in_a_table_of_its_page_and_back(subject: str) -> None:
    texts, codes = literals(subject), documented(subject)
    assert len(codes) >= 5
    assert codes - texts == set(), "documented, but nowhere in the source"
    assert {text for text in texts if "-" in text} - codes - NO_CODES == set(), "not documented"


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_documented_code_is_given_and_every_code_that_is_given_is_documented(subject: str) -> None:
    assert {row.code for _, row in given() if row.subject == subject} == documented(subject)


def test_every_row_that_fails_or_is_not_checked_says_where_and_what_to_do() -> None:
    asking = [(name, row) for name, row in given() if row.verdict in ("fails", "not checked")]
    assert len(asking) > 60
    assert [(name, row.subject, row.code) for name, row in asking if not row.remedy or row.place is None] == []


def test_every_row_names_a_source_and_every_section_that_it_names_is_there() -> None:
    assert [(name, row.code) for name, row in given() if not row.source] == []
    named = {
        (row.code, page, section.strip())
        for _, row in given()
        for page, section in re.findall(r"docs/limits/(\w+)\.md, ([^;:(]+)", row.source)
    }
    assert len(named) > 40
    assert {one for one in named if one[2] not in sections(one[1])} == set()


# Moves in a curve and the pitch on a ring are planned up to their limits: that they reach them is no reason to worry.
AS_PLANNED: Final = {"curve-speed", "inside-gap"}


def test_a_margin_and_its_verdict_agree() -> None:
    for name, row in given():
        if row.margin is not None and row.verdict != "not checked" and row.code not in AS_PLANNED:
            assert row.verdict == judge(row.margin), (name, row.code)
        if row.limit is None:
            assert row.margin is None or row.verdict == "fails", (name, row.code)
