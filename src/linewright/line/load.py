"""From a file to a Line: every fault of the line file and of its conveyor sheet at once, each with its place."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from linewright.errors import Fault, LineFileError, Place
from linewright.line.coherence import coherence_faults
from linewright.line.document import LineDocument, PathKey, decode, kind_of, parse, read_bytes
from linewright.line.fields import FROM_FILE, NAME_KEY, PathFault
from linewright.line.model import Line, Station
from linewright.line.sheet import DOCUMENT_KEY, Sheet
from linewright.line.sketch import sketch_tree
from linewright.line.units import shown
from linewright.line.validation import missing, path_faults
from linewright.line.words import choice

BUILT_IN_SHEETS: Final = ("demo-light", "demo-heavy")
_SHEETS: Final = Path(__file__).parent / "sheets"
_OWN_KEYS: Final = ("lane", "at", "along", "motor_zone")  # of a station: not copied by like
_LINE_START: Final = "write a line file; its first key is linewright: 1 (linewright start two-deck writes one)"
_SHEET_START: Final = "write a conveyor sheet; its first key is conveyor_sheet: 1"


def load_line(path: str | os.PathLike[str]) -> Line:
    """Read a line file and its conveyor sheet.

    Parameters
    ----------
    path : the line file; a sheet that it names by path is looked up from its folder

    Raises
    ------
    LineFileError   Anything is wrong with either file; it lists every fault with file, line and column.
    """
    file = os.fspath(path)
    text = decode(read_bytes(Path(file), file), file)
    return read_line(text, file, folder=Path(file).parent)


def read_line(text: str, file: str = "line.yaml", folder: Path | None = None) -> Line:
    """Read the text of a line file.

    Parameters
    ----------
    text : what stands in the file
    file : its name, for the places of faults
    folder : where paths of sheets start; None: the working folder

    Raises
    ------
    LineFileError   Every fault at once.
    """
    document = parse(text, file, _LINE_START)
    _check_version(document, "linewright", _LINE_START)
    sheet, faults = _sheet_of(document, folder or Path())
    tree, copied, like_faults = _copied(document)
    faults += document.faults
    faults += [_fault(document, *found) for found in like_faults if not _is_unread(found[0], document)]
    if sheet is not None:
        tree["conveyor"] = sheet
    else:
        tree.pop("conveyor", None)
    try:
        line = Line.model_validate({**tree, DOCUMENT_KEY: document}, context=FROM_FILE, by_alias=True, by_name=False)
    except ValidationError as error:
        found = path_faults(error, Line, tree)
        if all(item["loc"] for item in error.errors(include_url=False, include_context=False)):
            found += coherence_faults(sketch_tree(tree))
        found = [one for one in found if not _is_unread(one[0], document)]
        told = [one for one in found if not _is_told_elsewhere(one, document, copied, sheet is not None)]
        sound = {name: like for name, like in copied.items() if name not in {path[1] for path, _, _ in like_faults}}
        told += _copies_that_do_not_fit(found, told, sound)
        faults += [_fault(document, *one) for one in told]
        raise LineFileError(_distinct(faults)) from None
    if faults:
        raise LineFileError(_distinct(faults))
    return line


def load_sheet(name: str | os.PathLike[str], folder: Path | None = None) -> Sheet:
    """Read a conveyor sheet: a built-in one by name (``demo-light``, ``demo-heavy``), or a file.

    Raises
    ------
    LineFileError   There is no such sheet, or something is wrong with it: every fault at once.
    """
    given = os.fspath(name)
    if given in BUILT_IN_SHEETS:
        path, file = _SHEETS / f"{given}.yaml", f"built-in sheet {given}"
    else:
        path = (folder or Path()) / given
        file = os.fspath(path)
    return read_sheet(decode(read_bytes(path, file), file), file)


def read_sheet(text: str, file: str = "sheet.yaml") -> Sheet:
    """Read the text of a conveyor sheet; LineFileError lists every fault."""
    document = parse(text, file, _SHEET_START)
    _check_version(document, "conveyor_sheet", _SHEET_START)
    tree = document.tree
    try:
        sheet = Sheet.model_validate({**tree, DOCUMENT_KEY: document}, context=FROM_FILE, by_alias=True, by_name=False)
    except ValidationError as error:
        found = [one for one in path_faults(error, Sheet, tree) if not _is_unread(one[0], document)]
        faults = [*document.faults, *(_fault(document, *one) for one in found)]
        raise LineFileError(_distinct(faults)) from None
    if document.faults:
        raise LineFileError(document.faults)
    return sheet


def _is_unread(path: PathKey, document: LineDocument) -> bool:
    """Whether a fault of the YAML has already been told about this value."""
    return any(path[:length] in document.unread for length in range(1, len(path) + 1))


def _check_version(document: LineDocument, key: str, start: str) -> None:
    """A file of another format version is not looked at any further: its other keys may mean something else."""
    if key not in document.tree:
        others = [k for k in ("linewright", "conveyor_sheet") if k in document.tree and k != key]
        what = {"linewright": "a line file", "conveyor_sheet": "a conveyor sheet"}
        found = f"this is {what[others[0]]}" if others else missing(key)
        raise LineFileError((Fault(Place(document.file, 1, 1), found, start),))
    if (key,) in document.unread:
        raise LineFileError(document.faults)
    if document.tree[key] != 1 or isinstance(document.tree[key], bool):
        found = f"format version {kind_of(document.tree[key]).strip(chr(39))}"
        raise LineFileError((Fault(document.place((key,)), found, "this program reads format version 1"),))


def _sheet_of(document: LineDocument, folder: Path) -> tuple[Sheet | None, list[Fault]]:
    """The conveyor sheet that the line names, or the faults that keep it from being read."""
    if "conveyor" not in document.tree:
        return None, []
    if ("conveyor",) in document.unread:
        return None, []
    named, place = document.tree["conveyor"], document.place(("conveyor",))
    listed = f"a built-in sheet ({', '.join(BUILT_IN_SHEETS)}) or the path of a sheet"
    if not isinstance(named, str):
        return None, [Fault(place, f"{kind_of(named)} stands here", f"write {listed}")]
    if named not in BUILT_IN_SHEETS and not _is_file(folder / named):
        looks_like_path = named.endswith((".yaml", ".yml")) or "/" in named or "\\" in named
        hint = f"write {listed}" if looks_like_path else choice(named, BUILT_IN_SHEETS, "built-in sheets")
        return None, [Fault(place, f"there is no conveyor sheet {shown(named)}", hint)]
    try:
        return load_sheet(named, folder), []
    except LineFileError as error:
        return None, list(error.faults)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _copied(document: LineDocument) -> tuple[dict[str, Any], dict[str, Any], list[PathFault]]:
    """The tree with every ``like`` carried out: copied tree, station -> what it is like, faults."""
    tree = dict(document.tree)
    stations = tree.get("stations")
    copied: dict[str, Any] = {}
    faults: list[PathFault] = []
    if not isinstance(stations, dict):
        return tree, copied, faults
    spread = dict(stations)
    for name, item in stations.items():
        if not isinstance(item, dict) or "like" not in item:
            continue
        own = {key: value for key, value in item.items() if key != "like"}
        copied[name] = item["like"]
        fault = _like_fault(name, item["like"], stations)
        if fault is not None:
            faults.append((("stations", name, "like"), *fault))
            own = {**dict.fromkeys(_copied_keys()), **own}  # not known, and no fault of their own
        else:
            source = {key: value for key, value in stations[item["like"]].items() if key not in _OWN_KEYS}
            own = {**source, **own}
        spread[name] = own
    tree["stations"] = spread
    return tree, copied, faults


def _copied_keys() -> list[str]:
    """The keys that ``like`` copies."""
    keys = [str(info.validation_alias or name) for name, info in Station.model_fields.items()]
    return [key for key in keys if key not in (*_OWN_KEYS, NAME_KEY)]


def _like_fault(name: str, like: Any, stations: Mapping[str, Any]) -> tuple[str, str] | None:
    others = [other for other in stations if other != name]
    if not isinstance(like, str):
        return f"{kind_of(like)} stands here", "write the name of another station"
    if like == name:
        return "the station is like itself", "write the name of another station"
    if like not in stations:
        return f"there is no station {shown(like)}", choice(like, others, "stations")
    if not isinstance(stations[like], dict):
        return f"{shown(like)} is no station that can be copied", "write the name of another station"
    if "like" in stations[like]:
        return f"{shown(like)} is itself like another station", "name the station that is written out"
    return None


def _is_told_elsewhere(found: PathFault, document: LineDocument, copied: Mapping[str, Any], has_sheet: bool) -> bool:
    """Whether a fault is a copy: it belongs to the station that was copied, or to the sheet that could not be read."""
    path, text, _ = found
    if not path and text == missing("conveyor"):
        return not has_sheet and "conveyor" in document.tree
    if path[:1] != ("stations",) or len(path) < 2 or path[1] not in copied:
        return False
    own = document.tree["stations"][path[1]]
    if len(path) > 2:
        return path[2] not in own
    return text not in [missing(key) for key in _OWN_KEYS]


def _copies_that_do_not_fit(
    found: list[PathFault], told: list[PathFault], copied: Mapping[str, str]
) -> Iterator[PathFault]:
    """Faults of copied keys that are sound where they were written: told at ``like``, unless the copy is told already.

    A copied ``release`` may be at a station that no pool names.
    """
    stations = [path[1] for path, _, _ in told if path[:1] == ("stations",) and len(path) > 1]
    for path, text, allowed in found:
        if path[:1] == ("stations",) and len(path) > 2 and path[1] in copied:
            name = str(path[1])
            if name not in stations and copied[name] not in stations:
                yield ("stations", name, "like"), f"{shown(path[2])} is copied: {text}", allowed


def _fault(document: LineDocument, path: PathKey, found: str, allowed: str) -> Fault:
    return Fault(document.place(path), found, allowed)


def _distinct(faults: list[Fault]) -> list[Fault]:
    return list(dict.fromkeys(faults))
