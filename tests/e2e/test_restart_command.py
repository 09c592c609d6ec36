"""The command restart as a user types it: what is wrong is told in words, with what may stand there."""

from __future__ import annotations

from pathlib import Path

import pytest

from e2e.commands import Call

RING = Path(__file__).parents[2] / "examples" / "ways" / "ring.yaml"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--at", "90"), "--at: 90 has no unit; write a time with its unit, such as 90 min"),
        (("--at", "0 h"), "--at: 0 h stands here; write a time above 0"),
        (("--speed", "100 m/s"), "the conveyor's drives reach 1.85 m/s"),
    ],
)
def test_a_wrong_option_is_answered_in_words(call: Call, words: tuple[str, ...], told: str) -> None:
    done = call("restart", str(RING), *words)
    assert done.code == 2
    assert told in done.err
