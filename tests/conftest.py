"""What all tests share: which are long, and how Hypothesis searches."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

LONG = Path(__file__).parent / "long"

# Examples follow from the test alone, so that a run can be repeated; a deadline would measure machine and compiler.
settings.register_profile("short", derandomize=True, deadline=None, database=None, max_examples=60)
settings.register_profile("long", settings.get_profile("short"), max_examples=2000)


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("long" if config.getoption("markexpr") == "long" else "short")


@pytest.hookimpl(tryfirst=True)  # before the marks are read for -m
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if LONG in item.path.parents:
            item.add_marker(pytest.mark.long)
