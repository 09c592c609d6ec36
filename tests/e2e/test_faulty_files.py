"""Faulty files, each with exactly the messages that it must give: place, what was found, what may stand there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from linewright.errors import LineFileError
from linewright.line.document import DEEPEST, LARGEST_FILE_BYTES, MOST_VALUES
from linewright.line.load import load_line, load_sheet, read_line, read_sheet

FAULTY = Path(__file__).parent / "faulty"
BASE = (FAULTY / "base.yaml").read_text(encoding="utf-8")
SHEET = (Path(load_line.__code__.co_filename).parent / "sheets" / "demo-heavy.yaml").read_text(encoding="utf-8")
START = "write a line file; its first key is linewright: 1 (linewright start two-deck writes one)"


@dataclass(frozen=True)
class Case:
    name: str
    base: str
    old: str
    new: str
    messages: tuple[str, ...]


def read_cases(name: str, base: str) -> list[Case]:
    cases = []
    for block in (FAULTY / f"{name}_cases.txt").read_text(encoding="utf-8").split("\n## ")[1:]:
        title, old, new, *messages = block.strip().split("\n")
        assert (old[:1], new[:1], {m[:2] for m in messages}) == ("-", "+", {"! "}), title
        plain = [text[2:].replace("\\n", "\n").replace("\\t", "\t") for text in (old, new)]
        cases.append(Case(title, base, *plain, tuple(message[2:] for message in messages)))
    return cases


OTHERS = ("wide", "branch", "ring", "limits")
BASES = {"line": BASE, **{name: (FAULTY / f"{name}.yaml").read_text("utf-8") for name in OTHERS}}
LINE_CASES = [case for name, base in BASES.items() for case in read_cases(name, base)]
SHEET_CASES = read_cases("sheet", SHEET)


def messages_of(error: LineFileError, file: str) -> tuple[str, ...]:
    lines = [str(fault) for fault in error.faults]
    assert all(line.startswith(f"{file}:") for line in lines)
    return tuple(line[len(file) + 1 :] for line in lines)


def test_the_base_of_all_cases_is_sound() -> None:
    for base in BASES.values():
        assert read_line(base).name.endswith(" line")
    assert read_sheet(SHEET).name == "demo-heavy"
    assert len(LINE_CASES) >= 340
    assert len({case.name for case in LINE_CASES}) == len(LINE_CASES)


@pytest.mark.parametrize("case", LINE_CASES, ids=lambda case: case.name)
def test_faulty_line_file(case: Case) -> None:
    assert case.old in case.base
    with pytest.raises(LineFileError) as caught:
        read_line(case.base.replace(case.old, case.new, 1), "line.yaml", folder=FAULTY)
    assert messages_of(caught.value, "line.yaml") == case.messages


@pytest.mark.long
@pytest.mark.parametrize("case", [case for case in LINE_CASES if case.base != BASE], ids=lambda case: case.name)
def test_a_fault_elsewhere_hides_nothing_and_adds_nothing(case: Case) -> None:
    """What does not fit together is told alike whether or not the file has faults of single values."""
    text = case.base.replace(case.old, case.new, 1)
    with pytest.raises(LineFileError) as caught:
        read_line(f"{text}units: cm\n", "line.yaml", folder=FAULTY)
    further = f"{text.count(chr(10)) + 1}:1: 'cm' stands here; write mm or inch"
    assert messages_of(caught.value, "line.yaml") == (*case.messages, further)


@pytest.mark.parametrize("case", SHEET_CASES, ids=lambda case: case.name)
def test_faulty_sheet(case: Case) -> None:
    assert case.old in case.base
    with pytest.raises(LineFileError) as caught:
        read_sheet(case.base.replace(case.old, case.new, 1), "sheet.yaml")
    assert messages_of(caught.value, "sheet.yaml") == case.messages


SAVE = "save the file as UTF-8"
FEW = "a line needs a few hundred"
AT_MOST = "a file may have at most 1000000 bytes"
BREAK = "break lines of more than 10000"
TAB = "a tab stands in the indentation"
TABS = "\n".join(
    [
        *(f"{line}:1: {TAB}; indent with spaces" for line in range(1, 101)),
        f"101:1: {TAB}, as in 29 more lines; indent with spaces",
    ]
)
NESTED = "linewright: 1\nname: " + "[" * 100 + "]" * 100 + "\n"
MANY = "linewright: 1\nname: [\n" + "1,\n" * (MOST_VALUES + 10) + "]\n"
LAUGHS = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nlinewright: 1\n"

FILES = {
    "empty": (b"", f"1:1: the file is empty; {START}"),
    "comments only": (b"# nothing\n\n# yet\n", f"1:1: the file is empty; {START}"),
    "explicit null": (b"---\n~\n", f"2:1: the file is empty; {START}"),
    "a list at the top": (b"- a\n- b\n", f"1:1: a list stands at the top of the file; {START}"),
    "a word at the top": (b"hello\n", f"1:1: 'hello' stands at the top of the file; {START}"),
    "binary": (b"\x7fELF\x02\x01\x01\x00\x00", "1:1: the character U+007F is not text; a file holds plain text only"),
    "a NUL within": (b"name: a\nb: \x00\n", "2:4: the character U+0000 is not text; a file holds plain text only"),
    "picture": (b"\x89PNG\r\n\x1a\n", "1:1: the byte 0x89 is not UTF-8; " + SAVE),
    "UTF-16": ("name: Prüfer".encode("utf-16"), "1:1: the file is written in UTF-16; save it as UTF-8"),
    "UTF-32": ("name: a".encode("utf-32"), "1:1: the file is written in UTF-16; save it as UTF-8"),
    "Latin-1": ("linewright: 1\nname: Prüfer\n".encode("latin-1"), "2:9: the byte 0xfc is not UTF-8; " + SAVE),
    "sheet in place of a line": (SHEET.encode(), f"1:1: this is a conveyor sheet; {START}"),
    "nesting": (NESTED.encode(), f"2:{7 + DEEPEST - 1}: more than {DEEPEST} levels of nesting; a line needs six"),
    "number of values": (MANY.encode(), f"{MOST_VALUES - 2}:1: more than {MOST_VALUES} values; {FEW}"),
    "a long tag": (b"linewright: 1\nname: !" + b"t" * 500_000, "2:10001: a line of 500007 characters; " + BREAK),
    "a hundred tabs": (b"\tx\n" * 100 + b"\ty: 1\n" * 30, TABS),
    "over-large": (b"#" * (LARGEST_FILE_BYTES + 1), f"1:1: the file has 1000001 bytes; {AT_MOST}"),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_faulty_bytes(name: str, tmp_path: Path) -> None:
    content, message = FILES[name]
    path = tmp_path / "line.yaml"
    path.write_bytes(content)
    with pytest.raises(LineFileError) as caught:
        load_line(path)
    assert messages_of(caught.value, str(path)) == tuple(message.split("\n"))


def test_fifty_megabytes_are_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "line.yaml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)
    with pytest.raises(LineFileError) as caught:
        load_line(path)
    assert messages_of(caught.value, str(path)) == (f"1:1: the file has 50000000 bytes; {AT_MOST}",)


def test_aliases_that_would_multiply_are_named_one_by_one(tmp_path: Path) -> None:
    with pytest.raises(LineFileError) as caught:
        read_line(LAUGHS)
    found = [fault.found for fault in caught.value.faults]
    assert [text for text in found if "alias" in text or "anchor" in text] == [
        "an anchor '&a'",
        "an anchor '&b'",
        "an alias '*a'",
        "an alias '*a'",
        "an anchor '&c'",
        "an alias '*b'",
        "an alias '*b'",
    ]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LineFileError) as caught:
        load_line(tmp_path / "none.yaml")
    assert messages_of(caught.value, str(tmp_path / "none.yaml")) == (
        "1:1: there is no such file; give the path of a file that exists",
    )


def test_a_folder_for_a_file(tmp_path: Path) -> None:
    with pytest.raises(LineFileError) as caught:
        load_line(tmp_path)
    assert messages_of(caught.value, str(tmp_path)) == ("1:1: this is a folder; give the path of a file",)


def test_a_name_no_file_can_have() -> None:
    with pytest.raises(LineFileError, match="the file cannot be read"):
        load_line("a\0b")
    with pytest.raises(LineFileError, match="the file cannot be read: File name too long"):
        load_sheet("x" * 5000)


def test_a_byte_order_mark_is_tolerated(tmp_path: Path) -> None:
    path = tmp_path / "line.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.encode())
    assert load_line(path) == read_line(BASE)


def test_windows_line_ends_are_read_alike(tmp_path: Path) -> None:
    path = tmp_path / "line.yaml"
    path.write_bytes(BASE.replace("\n", "\r\n").encode())
    line = load_line(path)
    assert line == read_line(BASE)
    assert str(line.place("stations", "press", "at")).endswith("line.yaml:17:24")


def test_faults_of_line_and_sheet_come_together(tmp_path: Path) -> None:
    (tmp_path / "ours.yaml").write_text(SHEET.replace("least_pitch: 265 mm", "least_pitch: 265"), encoding="utf-8")
    text = BASE.replace("conveyor: demo-heavy", "conveyor: ours.yaml").replace("carriers: 8", "carriers: 0")
    (tmp_path / "line.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(LineFileError) as caught:
        load_line(tmp_path / "line.yaml")
    assert [str(fault) for fault in caught.value.faults] == [
        f"{tmp_path}/line.yaml:14:1: 0 is out of range; write a whole number from 1 to 10000",
        f"{tmp_path}/ours.yaml:13:1: 265 has no unit; write 265 mm",
    ]
