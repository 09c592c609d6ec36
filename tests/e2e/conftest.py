"""What the tests of the command line share."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from e2e.commands import Call, Done
from linewright import cli


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command line in this process."""

    def run(*words: str | Path) -> Done:
        monkeypatch.setattr(sys, "argv", ["linewright", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        out, err = capsys.readouterr()
        code = left.value.code
        return Done(code if isinstance(code, int) else -1, out, err)

    return run
