"""A YAML file as it was written: its text, a plain tree of its values, and where each of them stands.

The file is read as events, never as Python objects: no tag is obeyed, an alias cannot multiply anything, and the
nesting and the number of values are bounded, so that a hostile file costs no more than an honest one.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from linewright.errors import Fault, LineFileError, Place
from linewright.line.units import shown

LARGEST_FILE_BYTES: Final = 1_000_000
DEEPEST: Final = 12
MOST_VALUES: Final = 20_000
LONGEST_LINE: Final = 10_000  # ruamel.yaml reads some long tokens in a time that grows with their square
MOST_TABS_TOLD: Final = 100

_INTEGER: Final = re.compile(r"[+-]?[0-9]{1,18}")
_DECIMAL: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_NULLS: Final = ("", "~", "null", "Null", "NULL")
_BOOLEANS: Final = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INDENT_TAB: Final = re.compile(r" *\t(?=\s*\S)")

PathKey = tuple[str | int, ...]
Mark = tuple[int, int]


@dataclass(frozen=True, eq=False)
class LineDocument:
    """What stands in one file.

    Parameters
    ----------
    file : the name as the user gave it
    text : the whole text
    tree : dictionaries with text keys, lists, text, numbers, true, false, None
    places : path -> (line, column) of the key, or of the item of a list, counted from 1
    faults : what a line file may not hold (anchors, tags, a key twice, a key without a value) but can be read past
    unread : the paths of values that have such a fault; whoever reads the tree says nothing more about them
    """

    file: str
    text: str
    tree: dict[str, Any]
    places: dict[PathKey, Mark] = field(repr=False)
    faults: tuple[Fault, ...] = ()
    unread: frozenset[PathKey] = frozenset()

    def place(self, path: PathKey) -> Place:
        """Where the key at the end of the path stands; of a path that is not in the file, its nearest ancestor."""
        for length in range(len(path), 0, -1):
            mark = self.places.get(path[:length])
            if mark is not None:
                return Place(self.file, *mark)
        return Place(self.file, 1, 1)

    @property
    def sha256(self) -> str:
        """The hash of the text."""
        return hashlib.sha256(self.text.encode("utf-8", "surrogatepass")).hexdigest()


def read_bytes(path: Path, file: str) -> bytes:
    """The content of a file that is not too large. A fault of the file system is a fault of the file."""
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE_BYTES + 1)
        size = path.stat().st_size
    except FileNotFoundError:
        raise _stop(file, "there is no such file", "give the path of a file that exists") from None
    except IsADirectoryError:
        raise _stop(file, "this is a folder", "give the path of a file") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _stop(file, f"the file cannot be read: {reason}", "give a file that can be read") from None
    if len(content) > LARGEST_FILE_BYTES:
        counted = f"{size} bytes" if size > LARGEST_FILE_BYTES else "no end in sight"
        raise _stop(file, f"the file has {counted}", f"a file may have at most {LARGEST_FILE_BYTES} bytes")
    return content


def decode(content: bytes, file: str) -> str:
    """The text of a file: UTF-8, with or without a byte order mark, and nothing that is not text."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _stop(file, "the file is written in UTF-16", "save it as UTF-8")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = error.object[: error.start].decode("utf-8", "replace")
        place = _place_of(before, len(before), file)
        found = f"the byte {error.object[error.start]:#04x} is not UTF-8"
        raise LineFileError((Fault(place, found, "save the file as UTF-8"),)) from None
    return text


def _place_of(text: str, index: int, file: str) -> Place:
    start = text.rfind("\n", 0, index) + 1
    return Place(file, text.count("\n", 0, index) + 1, index - start + 1)


def _stop(file: str, found: str, allowed: str, mark: Mark = (1, 1)) -> LineFileError:
    return LineFileError((Fault(Place(file, *mark), found, allowed),))


def resolve(text: str) -> Any:
    """The value of a plain scalar after the core rules of YAML 1.2.

    Numbers longer than a double can hold stay text: they are refused where they stand.

    Examples
    --------
    >>> resolve("12"), resolve("1.5"), resolve("true"), resolve("yes"), resolve("~")
    (12, 1.5, True, 'yes', None)
    """
    if text in _NULLS:
        return None
    if text in _BOOLEANS:
        return _BOOLEANS[text]
    if _INTEGER.fullmatch(text):
        return int(text)
    if len(text) <= 40 and _DECIMAL.fullmatch(text):
        value = float(text)
        return value if abs(value) != float("inf") else text
    return text


def parse(text: str, file: str, start_hint: str) -> LineDocument:
    """The document of one YAML text.

    Parameters
    ----------
    text : the whole file
    file : its name, for the places
    start_hint : what to write into an empty file

    Raises
    ------
    LineFileError   The text is no YAML, is several documents or goes beyond what is read. What can be read past
                    stands in the document's ``faults`` instead, to be told together with what is found later.
    """
    faults = list(_character_faults(text, file))
    if faults:
        raise LineFileError(faults)
    builder = _Builder(file)
    try:
        for event in _events(text):
            builder.take(event)
    except _TooMuch as stop:
        raise LineFileError([*builder.faults, stop.fault]) from None
    except LineFileError:
        raise
    except Exception as error:  # ruamel.yaml raises errors of several kinds for text that is no YAML
        raise LineFileError([*builder.faults, _syntax_fault(error, file, builder.last)]) from None
    root = builder.roots[0] if builder.roots else None
    if not isinstance(root, dict):
        empty = "the file is empty" if root is None else f"{kind_of(root)} stands at the top of the file"
        builder.fault(builder.root_mark, empty, start_hint)
        raise LineFileError(builder.faults)
    return LineDocument(file, text, root, builder.places, tuple(builder.faults), frozenset(builder.unread))


_NO_TEXT: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")


def _character_faults(text: str, file: str) -> Iterator[Fault]:
    """A character that is no text, or every line that is indented with tabs or longer than can be read in time."""
    stray = _NO_TEXT.search(text)
    if stray is not None:
        place = _place_of(text, stray.start(), file)
        yield Fault(place, f"the character U+{ord(stray[0]):04X} is not text", "a file holds plain text only")
        return
    lines = text.split("\n")
    for number, line in enumerate(lines, start=1):
        if len(line) > LONGEST_LINE:
            place = Place(file, number, LONGEST_LINE + 1)
            yield Fault(place, f"a line of {len(line)} characters", f"break lines of more than {LONGEST_LINE}")
    tabs = [(number, match.end()) for number, line in enumerate(lines, start=1) if (match := _INDENT_TAB.match(line))]
    for number, column in tabs[:MOST_TABS_TOLD]:
        yield Fault(Place(file, number, column), "a tab stands in the indentation", "indent with spaces")
    for number, column in tabs[MOST_TABS_TOLD:][:1]:
        more = f"a tab stands in the indentation, as in {len(tabs) - MOST_TABS_TOLD - 1} more lines"
        yield Fault(Place(file, number, column), more, "indent with spaces")


def _events(text: str) -> Iterator[Any]:
    from ruamel.yaml import YAML

    yaml = YAML(typ="safe", pure=True)
    yield from yaml.parse(text)


def _syntax_fault(error: Exception, file: str, last: Mark) -> Fault:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    place = Place(file, *((mark.line + 1, mark.column + 1) if mark is not None else last))
    problem = str(getattr(error, "problem", None) or "it cannot be read").strip().rstrip(".").replace("\n", " ")
    context = str(getattr(error, "context", None) or "").strip().replace("\n", " ")
    for part, allowed in _SYNTAX_HINTS.items():
        if part in problem or part in context:
            return Fault(place, f"this is no YAML: {problem}", allowed)
    return Fault(place, f"this is no YAML: {problem}", "check brackets, quotation marks, colons and indentation")


_SYNTAX_HINTS: Final = {
    "mapping values are not allowed": "one 'key: value' a line, keys of one level indented alike",
    "flow mapping": "close the mapping: {key: value, key: value}",
    "flow sequence": "close the list: [item, item]",
    "quoted scalar": "close the quotation mark",
    "undefined alias": "write the values out: anchors and aliases are not read",
    "block mapping": "indent the keys of one level alike",
    "block collection": "indent the items of one level alike",
    "simple key": "put a colon and a space after the key",
    "character '\\t'": "separate with spaces",
    "cannot start any token": "put text that starts with such a character between quotation marks",
}


class _TooMuch(Exception):
    """The file goes beyond what is read; nothing behind this point is looked at."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


@dataclass
class _Open:
    """A mapping or list that is being filled."""

    value: dict[str, Any] | list[Any]
    path: PathKey
    key: str | None = None  # of a mapping: the key whose value comes next
    skip: bool = False  # the value that comes next belongs to a key that cannot be used


class _Builder:
    """Builds the tree and the places out of parser events, without recursion."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.places: dict[PathKey, Mark] = {}
        self.unread: set[PathKey] = set()
        self.roots: list[Any] = []
        self.root_mark: Mark = (0, 0)
        self.last: Mark = (1, 1)
        self._open: list[_Open] = []
        self._values = 0

    def fault(self, mark: Mark, found: str, allowed: str) -> None:
        """Note a fault; the mark counts from 0, as the parser does."""
        self.faults.append(Fault(Place(self.file, mark[0] + 1, mark[1] + 1), found, allowed))

    def take(self, event: Any) -> None:
        """Take one parser event."""
        name = type(event).__name__
        mark = (event.start_mark.line, event.start_mark.column)
        self.last = (mark[0] + 1, mark[1] + 1)
        if name == "DocumentStartEvent":
            self._document(event, mark)
        elif name in ("MappingEndEvent", "SequenceEndEvent"):
            self._open.pop()
        elif name == "AliasEvent":
            self.fault(mark, f"an alias {shown('*' + str(event.anchor))}", "write the values out")
            self.unread.add(self._add(None, mark, is_alias=True))
        elif name in ("ScalarEvent", "MappingStartEvent", "SequenceStartEvent"):
            self._node(event, name, mark)

    def _document(self, event: Any, mark: Mark) -> None:
        if self.roots:
            raise _TooMuch(
                Fault(
                    Place(self.file, mark[0] + 1, mark[1] + 1), "a second document begins", "write one document a file"
                )
            )
        if event.tags or (event.version is not None and tuple(event.version) != (1, 2)):
            self.fault(mark, "a directive that is not %YAML 1.2", "leave the directive out")

    def _node(self, event: Any, name: str, mark: Mark) -> None:
        self._values += 1
        if self._values > MOST_VALUES or len(self._open) >= DEEPEST:
            place = Place(self.file, mark[0] + 1, mark[1] + 1)
            if self._values > MOST_VALUES:
                raise _TooMuch(Fault(place, f"more than {MOST_VALUES} values", "a line needs a few hundred"))
            raise _TooMuch(Fault(place, f"more than {DEEPEST} levels of nesting", "a line needs six"))
        if event.anchor is not None:
            self.fault(mark, f"an anchor {shown('&' + str(event.anchor))}", "write the values out")
        tagged = event.tag is not None and str(event.tag) != "!"
        if tagged:
            written = str(event.tag).replace("tag:yaml.org,2002:", "!!")
            self.fault(mark, f"a tag {shown(written)}", "leave the tag out: plain values only")
        if name == "ScalarEvent":
            value = event.value if event.style is not None or tagged else resolve(event.value)
            path = self._add(value, mark, event.value)
        else:
            container: dict[str, Any] | list[Any] = {} if name == "MappingStartEvent" else []
            path = self._add(container, mark)
            self._open.append(_Open(container, path))
        if tagged:
            self.unread.add(path)

    def _add(self, value: Any, mark: Mark, text: str | None = None, is_alias: bool = False) -> PathKey:
        """Put a value where it belongs; its path."""
        if not self._open:
            self.roots.append(value)
            self.root_mark = mark
            return ()
        top = self._open[-1]
        if isinstance(top.value, list):
            path: PathKey = (*top.path, len(top.value))
            top.value.append(value)
            self.places[path] = (mark[0] + 1, mark[1] + 1)
        elif top.skip or top.key is None:
            if top.skip:
                top.skip = False
            else:
                self._take_key(top, text, mark, is_alias)
            return (*top.path, "")
        else:
            path = (*top.path, top.key)
            top.value[top.key] = value
            top.key = None
        if value is None and not is_alias:
            line, column = self.places[path]
            self.unread.add(path)
            self.fault((line - 1, column - 1), "nothing stands here", "write a value, or leave the key out")
        return path

    def _take_key(self, top: _Open, text: str | None, mark: Mark, is_alias: bool) -> None:
        assert isinstance(top.value, dict)
        top.skip = True
        if text is None and is_alias:
            return
        if text is None:
            self.fault(mark, "a mapping or a list stands where a key is due", "a key is one word")
        elif not text.isprintable() or len(text) > 100:
            self.fault(mark, f"the key {shown(text)}", "a key is one word")
        elif text == "<<":
            self.fault(mark, "a merge key '<<'", "write the values out")
        elif text in top.value:
            first = self.places[(*top.path, text)]
            self.fault(mark, f"the key {shown(text)} stands twice, first in line {first[0]}", "keep one of the two")
        else:
            top.skip = False
            top.key = text
            self.places[(*top.path, text)] = (mark[0] + 1, mark[1] + 1)


def kind_of(value: Any) -> str:
    """What a value of the tree is, in words, for a message."""
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int | float) else shown(value)
