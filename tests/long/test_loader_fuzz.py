"""Thousands of damaged files: the loader knows one kind of error only, and every fault of it has a place."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import linewright.line.load as loader
from linewright.errors import LineFileError
from linewright.line.document import decode
from linewright.line.load import read_line, read_sheet
from linewright.line.patterns import pattern_text

SHEET = (Path(loader.__file__).parent / "sheets" / "demo-heavy.yaml").read_text(encoding="utf-8")
FAULTY = Path(__file__).parents[1] / "e2e" / "faulty"
BASES = {
    "two-deck": pattern_text("two-deck"),
    "two-lane": pattern_text("two-lane"),
    **{name: (FAULTY / f"{name}.yaml").read_text(encoding="utf-8") for name in ("wide", "branch", "ring")},
    "sheet": SHEET,
}
TOKENS = (
    ": ", "- ", "{", "}", "[", "]", ",", "&a ", "*a", "!!int ", "!x ", "|\n", ">\n", "'", '"', "\\x00", "? ", "<<: ",
    "---\n", "...\n", "%YAML 1.2\n", "\t", "\n", "  ", "#", "~", "null", "true", "-1", "0", "1e400", ".nan", ".inf",
    "9" * 5000, " mm", " kg", " %", "é", "\ufeff", "\u2028", "\x85", "\U0001f600", "@", "`", "- - - ", "like: ", "load",
    "2.5 s", "-3 mm", "upper", "lower", "{}", "[]", "yes",
)  # fmt: skip


def try_to_read(content: bytes, is_sheet: bool) -> bool:
    """Whether the content is a sound file; fails where anything but a LineFileError comes out."""
    try:
        text = decode(content, "x.yaml")
        (read_sheet if is_sheet else read_line)(text, "x.yaml")
    except LineFileError as error:
        for fault in error.faults:
            assert fault.place.line >= 1
            assert fault.place.column >= 1
            assert fault.found
            assert fault.allowed
            assert "\n" not in str(fault)
            assert "Input should be" not in fault.allowed, "a message of the validator that nobody has written"
        return False
    return True


def damaged(text: str, luck: random.Random) -> bytes:
    """A file with one to four changes: bytes, tokens, lines, or pieces of itself."""
    content = text.encode()
    for _ in range(luck.randint(1, 4)):
        at = luck.randrange(len(content) + 1)
        end = min(len(content), at + luck.choice((0, 1, 1, 3, 10, 60)))
        kind = luck.randrange(5)
        if kind == 0:
            content = content[:at] + bytes((luck.randrange(256),)) + content[end:]
        elif kind == 1:
            content = content[:at] + luck.choice(TOKENS).encode() + content[end:]
        elif kind == 2:
            content = content[:at] + content[end:]
        else:
            lines = content.split(b"\n")
            one, two = luck.randrange(len(lines)), luck.randrange(len(lines))
            if kind == 3:
                lines[one], lines[two] = lines[two], lines[one]
            else:
                words = lines[one].split(b" ")
                words[luck.randrange(len(words))] = luck.choice(TOKENS).encode()
                lines[one] = b" ".join(words)
            content = b"\n".join(lines)
    return content


@pytest.mark.parametrize("base", BASES)
def test_damaged_files(base: str) -> None:
    luck = random.Random(f"damage to {base}")
    sound = sum(try_to_read(damaged(BASES[base], luck), base == "sheet") for _ in range(3000))
    assert 50 < sound < 2000, "the damage is too slight or too heavy to find anything"


KEYS = st.sampled_from([
    "linewright", "name", "conveyor", "lanes", "transfers", "carriers", "stations", "route", "part", "held", "fixture",
    "envelope", "demand", "upper", "lower", "load", "lane", "at", "time", "like", "rejects", "reject_exit", "failures",
    "law", "mean", "cv", "kind", "takes", "gives", "from", "to", "length", "level", "units", "variants", "share",
    "times", "skips", "sequence", "run_out", "fixture_sets", "operators", "walk", "calendar", "shift", "breaks",
    "admission", "most", "carrier_changes", "out", "in", "ring", "long", "short", "along", "two_way", "moves", "places",
    "returns", "nests", "each", "misses", "exit", "rework", "at_most", "rework_only", "release", "changeover", "feed",
    "take_away", "every", "buffer",
])  # fmt: skip
VALUES = st.one_of(
    st.sampled_from(TOKENS),
    KEYS,
    st.integers().map(str),
    st.floats().map(str),
    st.text(max_size=10),
    st.sampled_from(["430 mm", "1.4 s", "2 kg", "lift", "west", "east", "demo-heavy", "4 %", "true", "1"]),
)
FLOW = st.recursive(
    VALUES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4).map(lambda items: "[" + ", ".join(items) + "]"),
        st.lists(st.tuples(KEYS, inner), max_size=5).map(
            lambda pairs: "{" + ", ".join(f"{key}: {value}" for key, value in pairs) + "}"
        ),
    ),
    max_leaves=25,
)


@settings(max_examples=4000, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(KEYS, FLOW), max_size=12))
def test_made_up_files(pairs: list[tuple[str, str]]) -> None:
    text = "linewright: 1\n" + "".join(f"{key}: {value}\n" for key, value in pairs)
    assert not try_to_read(text.encode("utf-8", "replace"), is_sheet=False)


@settings(max_examples=3000)
@given(st.binary(max_size=200))
def test_any_bytes(content: bytes) -> None:
    assert not try_to_read(content, is_sheet=False)
    assert not try_to_read(content, is_sheet=True)
