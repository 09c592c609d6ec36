"""The worked examples of the theory pages run, and give what stands there."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pytest

LIMITS = Path(__file__).parents[2] / "docs" / "limits"
PAGES = sorted(page for page in LIMITS.glob("*.md") if page.name != "index.md")
SUBJECTS = ("accuracy", "bus", "motion", "power", "safety", "strength", "upkeep")
EXAMPLE = re.compile(r"^```pycon\n(.*?)^```", re.MULTILINE | re.DOTALL)


def test_every_subject_has_a_page() -> None:
    assert tuple(page.stem for page in PAGES) == SUBJECTS


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_the_worked_examples_of_a_page_give_what_stands_there(page: Path) -> None:
    blocks = EXAMPLE.findall(page.read_text(encoding="utf-8"))
    examples = doctest.DocTestParser().get_doctest("\n".join(blocks), {}, page.name, str(page), 0)
    assert any(example.want for example in examples.examples), "a worked example shows results"
    told: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    outcome = runner.run(examples, out=told.append)
    assert outcome.failed == 0, "".join(told)
