"""Finding files: sheets by name and by path."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from linewright.errors import LineFileError
from linewright.line.load import load_line, load_sheet, read_line
from linewright.line.patterns import PATTERNS, pattern_text

DATA = Path(__file__).parents[2] / "data"


def test_a_sheet_is_found_from_the_line_files_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "line.yaml").write_text(
        pattern_text("two-deck").replace("conveyor: demo-heavy", "conveyor: sheets/own.yaml"), encoding="utf-8"
    )
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "own.yaml").write_bytes((DATA / "ideal-sheet.yaml").read_bytes())
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    line = load_line("../line.yaml")
    assert line.conveyor.name == "ideal-sheet"
    place = line.conveyor.place("least_pitch")
    assert place is not None
    assert Path(place.file).resolve() == tmp_path / "sheets" / "own.yaml"
    assert str(line.place("carriers")).startswith("../line.yaml:")


def test_a_built_in_name_wins_over_a_file_of_that_name(tmp_path: Path) -> None:
    (tmp_path / "demo-heavy").write_text("not a sheet", encoding="utf-8")
    assert read_line(pattern_text("two-deck"), folder=tmp_path).conveyor.name == "demo-heavy"


def test_a_sheet_that_cannot_be_read_is_told_once(tmp_path: Path) -> None:
    (tmp_path / "own.yaml").write_text("- a list\n", encoding="utf-8")
    text = pattern_text("two-deck").replace("conveyor: demo-heavy", "conveyor: own.yaml")
    with pytest.raises(LineFileError) as caught:
        read_line(text, folder=tmp_path)
    assert [fault.place.file for fault in caught.value.faults] == [str(tmp_path / "own.yaml")]
    with pytest.raises(LineFileError, match="a list stands at the top"):
        load_sheet("own.yaml", tmp_path)


@pytest.mark.parametrize("name", PATTERNS)
def test_patterns_are_sound_and_commented(name: str) -> None:
    text = pattern_text(name)
    line = read_line(text)
    assert 6 <= len(line.stations) <= 10
    assert line.demand is not None
    assert line.route[-1].stations
    assert text.count("#") >= 15
    assert "Invented scenario" in text


def test_an_unknown_pattern() -> None:
    with pytest.raises(ValueError, match=r"no pattern 'star'; there are two-deck, two-lane, ring, to-and-fro, branch"):
        pattern_text("star")


def test_loading_needs_no_heavy_library() -> None:
    code = (
        "import sys; from linewright.line.load import load_sheet; load_sheet('demo-light');"
        "print(*sorted({'pint', 'numpy', 'numba', 'scipy', 'pandas', 'altair'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.split() == []
