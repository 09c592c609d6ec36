"""Files and folders written whole or not at all, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
import os
from pathlib import Path

import numpy as np
import pytest

from linewright.handover import files
from linewright.handover.files import (
    WriteError,
    check_folder,
    csv_bytes,
    json_text,
    rows_csv_bytes,
    write_folder,
    write_new_file,
)
from linewright.tables import Column, Table


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != files.CONTENTS}


def raises() -> bytes:
    raise KeyboardInterrupt


def test_new_folder_with_its_list(tmp_path: Path) -> None:
    out = write_folder(tmp_path / "a" / "result", {"one.txt": b"1", "two.txt": lambda: b"22"})
    assert out == tmp_path / "a" / "result"
    assert held(out) == {"one.txt": b"1", "two.txt": b"22"}
    assert set(json.loads((out / files.CONTENTS).read_text("utf-8"))["sha256"]) == {"one.txt", "two.txt"}


def test_our_folder_is_replaced_whole(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", {"one.txt": b"1", "gone.txt": b"0"})
    write_folder(tmp_path / "out", {"one.txt": b"2"})
    assert held(tmp_path / "out") == {"one.txt": b"2"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_folder(tmp_path / "out", {"one.txt": b"1"})
    assert held(tmp_path / "out") == {"one.txt": b"1"}


@pytest.mark.parametrize("exchange", [True, False])
def test_broken_off_in_the_middle_leaves_the_former(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, exchange: bool
) -> None:
    if not exchange:
        monkeypatch.setattr(files, "_exchange", lambda one, other: False)
    write_folder(tmp_path / "out", {"one.txt": b"old", "two.txt": b"old"})
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "out", {"one.txt": b"new", "two.txt": raises})
    assert held(tmp_path / "out") == {"one.txt": b"old", "two.txt": b"old"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    write_folder(tmp_path / "out", {"one.txt": b"newer"})
    assert held(tmp_path / "out") == {"one.txt": b"newer"}


def test_broken_off_in_the_middle_leaves_nothing_where_nothing_was(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "out", {"one.txt": b"1", "two.txt": raises})
    assert list(tmp_path.iterdir()) == []


@pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")  # the child only writes two files
def test_a_killed_process_leaves_the_former(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", {"one.txt": b"old"})
    child = os.fork()
    if child == 0:  # the child dies in the middle of the second file and cleans nothing up
        write_folder(tmp_path / "out", {"one.txt": b"new", "two.txt": lambda: os._exit(9)})
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    assert held(tmp_path / "out") == {"one.txt": b"old"}
    write_folder(tmp_path / "out", {"one.txt": b"newer"})
    assert held(tmp_path / "out") == {"one.txt": b"newer"}


def test_failed_move_brings_the_former_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path / "out", {"one.txt": b"old"})
    monkeypatch.setattr(files, "_exchange", lambda one, other: False)
    rename = Path.rename

    def refuse(path: Path, target: Path) -> Path:
        if ".new-" in path.name:
            raise OSError(28, "No space left on device")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(WriteError, match="No space left on device"):
        write_folder(tmp_path / "out", {"one.txt": b"new"})
    assert held(tmp_path / "out") == {"one.txt": b"old"}


def test_foreign_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "cat.jpg").write_bytes(b"cat")
    with pytest.raises(WriteError, match="did not write"):
        write_folder(tmp_path / "photos", {"one.txt": b"1"})
    assert held(tmp_path / "photos") == {"cat.jpg": b"cat"}


def test_our_folder_with_a_foreign_file_is_refused(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", {"one.txt": b"1"})
    (tmp_path / "out" / "my-notes.txt").write_bytes(b"keep me")
    with pytest.raises(WriteError, match=r"my-notes.txt"):
        check_folder(tmp_path / "out")
    assert (tmp_path / "out" / "my-notes.txt").read_bytes() == b"keep me"


@pytest.mark.parametrize("record", [b"", b"[]", b'{"written_by": "someone", "sha256": {}}', b"\xff"])
def test_folder_with_a_foreign_list_is_refused(tmp_path: Path, record: bytes) -> None:
    (tmp_path / files.CONTENTS).write_bytes(record)
    with pytest.raises(WriteError, match="did not write"):
        check_folder(tmp_path)


def test_file_in_the_way_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"mine")
    with pytest.raises(WriteError, match="it is a file"):
        write_folder(tmp_path / "out", {})
    with pytest.raises(WriteError, match="is a file; name a place in a folder"):
        write_folder(tmp_path / "out" / "deeper", {})
    assert (tmp_path / "out").read_bytes() == b"mine"


@pytest.mark.parametrize("name", ["a\0b", "x" * 300])
def test_unusable_name_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(WriteError, match="cannot write"):
        write_folder(f"{tmp_path}/{name}", {"one.txt": b"1"})
    with pytest.raises(WriteError, match="cannot write"):
        write_new_file(f"{tmp_path}/{name}", "text")


def test_link_to_a_folder_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_folder(tmp_path / "link", {"one.txt": b"1"})
    assert (tmp_path / "link").is_symlink()
    assert held(tmp_path / "real") == {"one.txt": b"1"}


def test_new_file_never_over_another(tmp_path: Path) -> None:
    write_new_file(tmp_path / "line.yaml", "größer\n")
    assert (tmp_path / "line.yaml").read_bytes() == "größer\n".encode()
    with pytest.raises(WriteError, match="not overwritten"):
        write_new_file(tmp_path / "line.yaml", "other")
    assert [path.name for path in tmp_path.iterdir()] == ["line.yaml"]
    with pytest.raises(WriteError, match="No such file"):
        write_new_file(tmp_path / "absent" / "line.yaml", "text")


def test_new_file_on_a_disk_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(source: Path, target: Path) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    write_new_file(tmp_path / "line.yaml", "text")
    assert (tmp_path / "line.yaml").read_text("utf-8") == "text"
    assert [path.name for path in tmp_path.iterdir()] == ["line.yaml"]


def test_csv_is_read_back_as_it_was() -> None:
    names = np.array(["plain", "with, comma", 'with "quotes"', "two\nlines", "größer"])
    table = Table((Column("station", None, names), Column("time_s", "s", np.array([0.1, 1 / 3, np.nan, 0.0, 1e-9]))))
    data = csv_bytes(table)
    assert data.startswith(b"station,time_s\r\n")
    rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
    assert [row[0] for row in rows[1:]] == names.tolist()
    assert [row[1] for row in rows[1:]] == ["0.1", "0.3333333333333333", "", "0.0", "1e-09"]


def test_csv_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="a row of 1 fields"):
        rows_csv_bytes(("a", "b"), [(1,)])


def test_json_keeps_order_and_is_strict() -> None:
    text = json_text({"z": 1, "a": [float("inf"), (0.5, None)], "unit": "m/s²"})
    assert text.index('"z"') < text.index('"a"')
    assert json.loads(text) == {"z": 1, "a": [None, [0.5, None]], "unit": "m/s²"}
    assert json_text("m/s²", ascii_only=True).isascii()
