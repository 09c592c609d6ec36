"""The tree of a file and the place of each of its values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import LineFileError, Place
from linewright.line.document import LineDocument, parse, resolve

TEXT = """\
name: A line
lanes:
  upper: {length: 4 m, list: [1, 2.5]}
  lower:
    length: "5"
    empty: {}
route:
- load
- [leak-1, leak-2]
note: |
  two
  lines
"""


@pytest.fixture(scope="module")
def document() -> LineDocument:
    return parse(TEXT, "x.yaml", "")


def test_the_tree_holds_plain_values(document: LineDocument) -> None:
    assert document.tree == {
        "name": "A line",
        "lanes": {"upper": {"length": "4 m", "list": [1, 2.5]}, "lower": {"length": "5", "empty": {}}},
        "route": ["load", ["leak-1", "leak-2"]],
        "note": "two\nlines\n",
    }


@pytest.mark.parametrize(
    "path, line, column",
    [
        (("name",), 1, 1),
        (("lanes", "upper", "length"), 3, 11),
        (("lanes", "upper", "list", 1), 3, 34),
        (("lanes", "lower"), 4, 3),
        (("route", 1), 9, 3),
        (("route", 1, 1), 9, 12),
        (("lanes", "lower", "missing"), 4, 3),
        (("nothing",), 1, 1),
        ((), 1, 1),
    ],
)
def test_places(document: LineDocument, path: tuple[str | int, ...], line: int, column: int) -> None:
    assert document.place(path) == Place("x.yaml", line, column)


def test_the_hash_follows_the_text(document: LineDocument) -> None:
    assert document.sha256 == parse(TEXT, "other.yaml", "").sha256
    assert document.sha256 != parse(TEXT + "# more\n", "x.yaml", "").sha256
    assert len(document.sha256) == 64


@pytest.mark.parametrize(
    "text, value",
    [
        ("12", 12),
        ("+12", 12),
        ("012", 12),  # not octal: that was YAML 1.1
        ("1.5", 1.5),
        ("1e3", 1000.0),
        (".5", 0.5),
        ("true", True),
        ("FALSE", False),
        ("null", None),
        ("yes", "yes"),
        ("off", "off"),
        ("1:30", "1:30"),  # not 90: that was YAML 1.1
        ("0x10", "0x10"),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("1e999", "1e999"),
        ("9" * 30, float("9" * 30)),
        ("9" * 5000, "9" * 5000),
    ],
)
def test_plain_scalars(text: str, value: object) -> None:
    assert resolve(text) == value
    assert type(resolve(text)) is type(value)


def test_what_can_be_read_past_is_told_with_the_document() -> None:
    document = parse("a: &x 1\nb: *x\nc: !t {d: 1}\ne:\nf: 2\nf: 3\n", "x.yaml", "")
    assert [str(fault) for fault in document.faults] == [
        "x.yaml:1:4: an anchor '&x'; write the values out",
        "x.yaml:2:4: an alias '*x'; write the values out",
        "x.yaml:3:4: a tag '!t'; leave the tag out: plain values only",
        "x.yaml:4:1: nothing stands here; write a value, or leave the key out",
        "x.yaml:6:1: the key 'f' stands twice, first in line 5; keep one of the two",
    ]
    assert document.tree == {"a": 1, "b": None, "c": {"d": 1}, "e": None, "f": 2}
    assert document.unread == {("b",), ("c",), ("e",)}


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        parse(text, "x.yaml", "start")
    except LineFileError as error:
        for fault in error.faults:
            assert fault.place.line >= 1
            assert fault.place.column >= 1
            assert "\n" not in str(fault)
