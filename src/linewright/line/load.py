"""From a file to a Line: every fault of the line file and of its conveyor sheet at once, each with its place."""

from __future__ import annotations

import os
import types
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from linewright.errors import Fault, LineFileError, Place
from linewright.line.coherence import choice, coherence_faults, sketch_tree
from linewright.line.document import LineDocument, PathKey, decode, kind_of, parse, read_bytes
from linewright.line.fields import FROM_FILE, NAME_KEY, PathFault, format_version
from linewright.line.model import Line
from linewright.line.sheet import DOCUMENT_KEY, Sheet
from linewright.line.units import shown

BUILT_IN_SHEETS: Final = ("demo-light", "demo-heavy")
_SHEETS: Final = Path(__file__).parent / "sheets"
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
    faults += [_fault(document, *found) for found in like_faults]
    if sheet is not None:
        tree["conveyor"] = sheet
    else:
        tree.pop("conveyor", None)
    try:
        line = Line.model_validate({**tree, DOCUMENT_KEY: document}, context=FROM_FILE, by_alias=True, by_name=False)
    except ValidationError as error:
        found = [x for x in _path_faults(error, Line, tree) if not _is_told_elsewhere(x, document, copied, sheet)]
        if not any(not error_item["loc"] for error_item in error.errors(include_url=False)):
            kinds = None if sheet is None else frozenset(sheet.transfers)
            found += coherence_faults(sketch_tree(tree, kinds))
        faults += [_fault(document, *one) for one in found]
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
        path, file = (folder or Path()) / given, given
    return read_sheet(decode(read_bytes(path, file), file), file)


def read_sheet(text: str, file: str = "sheet.yaml") -> Sheet:
    """Read the text of a conveyor sheet; LineFileError lists every fault."""
    document = parse(text, file, _SHEET_START)
    _check_version(document, "conveyor_sheet", _SHEET_START)
    tree = document.tree
    try:
        return Sheet.model_validate({**tree, DOCUMENT_KEY: document}, context=FROM_FILE, by_alias=True, by_name=False)
    except ValidationError as error:
        found = [_fault(document, *one) for one in _path_faults(error, Sheet, tree)]
        raise LineFileError(_distinct(found)) from None


def _check_version(document: LineDocument, key: str, start: str) -> None:
    """A file of another format version is not looked at any further: its other keys may mean something else."""
    if key not in document.tree:
        others = [k for k in ("linewright", "conveyor_sheet") if k in document.tree and k != key]
        what = {"linewright": "a line file", "conveyor_sheet": "a conveyor sheet"}
        found = f"this is {what[others[0]]}" if others else f"the key {shown(key)} is missing"
        raise LineFileError((Fault(Place(document.file, 1, 1), found, start),))
    try:
        format_version(document.tree[key])
    except Exception as error:
        found, allowed = str(error).split("; ", 1)
        raise LineFileError((Fault(document.place((key,)), found, allowed),)) from None


def _sheet_of(document: LineDocument, folder: Path) -> tuple[Sheet | None, list[Fault]]:
    """The conveyor sheet that the line names, or the faults that keep it from being read."""
    if "conveyor" not in document.tree:
        return None, []
    named, place = document.tree["conveyor"], document.place(("conveyor",))
    listed = f"a built-in sheet ({', '.join(BUILT_IN_SHEETS)}) or the path of a sheet"
    if not isinstance(named, str):
        return None, [Fault(place, f"{kind_of(named)} stands here", f"write {listed}")]
    is_path = named not in BUILT_IN_SHEETS
    if is_path and not (folder / named).exists():
        looks_like_path = named.endswith((".yaml", ".yml")) or "/" in named or "\\" in named
        hint = f"write {listed}" if looks_like_path else choice(named, BUILT_IN_SHEETS, "built-in sheets")
        return None, [Fault(place, f"there is no conveyor sheet {shown(named)}", hint)]
    try:
        return load_sheet(named, folder), []
    except LineFileError as error:
        return None, list(error.faults)


def _copied(document: LineDocument) -> tuple[dict[str, Any], dict[str, str], list[PathFault]]:
    """The tree with every ``like`` carried out: copied tree, station -> model station, faults."""
    tree = dict(document.tree)
    stations = tree.get("stations")
    copied: dict[str, str] = {}
    faults: list[PathFault] = []
    if not isinstance(stations, dict):
        return tree, copied, faults
    spread = dict(stations)
    for name, item in stations.items():
        if not isinstance(item, dict) or "like" not in item:
            continue
        own = {key: value for key, value in item.items() if key != "like"}
        fault = _like_fault(name, item["like"], stations)
        if fault is not None:
            faults.append((("stations", name, "like"), *fault))
        else:
            copied[name] = item["like"]
            source = {key: value for key, value in stations[item["like"]].items() if key not in ("lane", "at")}
            own = {**source, **own}
        spread[name] = own
    tree["stations"] = spread
    return tree, copied, faults


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


def _is_told_elsewhere(
    found: PathFault, document: LineDocument, copied: Mapping[str, str], sheet: Sheet | None
) -> bool:
    """Whether a fault is a copy: it belongs to the station that was copied, or to the sheet that could not be read."""
    path = found[0]
    if path == ("conveyor",):
        return sheet is None and "conveyor" in document.tree
    if len(path) < 2 or path[0] != "stations" or path[1] not in copied:
        return False
    own = document.tree["stations"][path[1]]
    key = path[2] if len(path) > 2 else None
    return key not in own and not (key is None and ("lane" not in own or "at" not in own) and "'" in found[0])


def _fault(document: LineDocument, path: PathKey, found: str, allowed: str) -> Fault:
    return Fault(document.place(path), found, allowed)


def _distinct(faults: list[Fault]) -> list[Fault]:
    return list(dict.fromkeys(faults))


def _path_faults(error: ValidationError, model: type[BaseModel], tree: Mapping[str, Any]) -> list[PathFault]:
    """The errors of a validation as faults with paths of the file's keys."""
    found: list[PathFault] = []
    for item in error.errors(include_url=False):
        path = _file_path(item["loc"], tree)
        found += _of_kind(item, path, model, tree)
    return found


def _of_kind(item: Any, path: PathKey, model: type[BaseModel], tree: Mapping[str, Any]) -> Iterator[PathFault]:
    kind, context = item["type"], item.get("ctx", {})
    if kind == "faults":
        for below, found, allowed in context["faults"]:
            yield (*path, *below), found, allowed
    elif kind == "fault":
        yield path, context["found"], context["allowed"]
    elif kind == "missing" and isinstance(path[-1], str):
        known = _keys_of(model, item["loc"][:-1])
        yield path[:-1], f"the key {shown(path[-1])} is missing", _say_keys(known)
    elif kind == "extra_forbidden":
        known = _keys_of(model, item["loc"][:-1])
        yield path, f"unknown key {shown(path[-1])}", choice(str(path[-1]), known, "keys")
    elif kind in ("model_type", "model_attributes_type", "dict_type"):
        yield path, f"{kind_of(item['input'])} stands here", _say_keys(_keys_of(model, item["loc"]))
    else:
        yield path, f"{kind_of(item['input'])} stands here", str(item["msg"])


def _say_keys(keys: list[str]) -> str:
    return f"write a mapping with the keys {', '.join(keys)}" if keys else "write a mapping"


def _file_path(loc: tuple[str | int, ...], tree: Any) -> PathKey:
    """The path of the file's keys that belongs to pydantic's: an index into named items becomes their name."""
    path: list[str | int] = []
    for step in loc:
        if step == "[key]":
            continue
        if isinstance(step, int) and isinstance(tree, dict) and step < len(tree):
            step = list(tree)[step]
        path.append(step)
        if isinstance(tree, dict) and step in tree:
            tree = tree[step]
        elif isinstance(tree, list) and isinstance(step, int) and step < len(tree):
            tree = tree[step]
        else:
            tree = None
    if path and path[-1] == NAME_KEY:
        path.pop()
    return tuple(path)


def _keys_of(model: type[BaseModel], loc: tuple[str | int, ...]) -> list[str]:
    """The keys that a file may have at a place of the model."""
    annotation: Any = model
    for step in loc:
        annotation = _below(annotation, step)
    found = _model_in(annotation)
    if found is None:
        return []
    keys = [info.alias or name for name, info in found.model_fields.items()]
    keys = [key for key in keys if not key.startswith("\x00")]
    return [*keys, "like"] if "keep_clear" in keys else keys


def _below(annotation: Any, step: str | int) -> Any:
    model = _model_in(annotation)
    if model is not None and isinstance(step, str):
        for name, info in model.model_fields.items():
            if step in (info.alias, name):
                return info.annotation
    if get_origin(_stripped(annotation)) in (tuple, dict):
        args = [arg for arg in get_args(_stripped(annotation)) if arg is not Ellipsis]
        return args[-1]
    return None


def _stripped(annotation: Any) -> Any:
    """The annotation without ``Annotated`` and without ``None``."""
    while True:
        origin, args = get_origin(annotation), get_args(annotation)
        if origin is Literal or not args or origin in (tuple, dict):
            return annotation
        if origin in (Union, types.UnionType):
            args = tuple(arg for arg in args if arg is not type(None))
        annotation = args[0]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    plain = _stripped(annotation)
    return plain if isinstance(plain, type) and issubclass(plain, BaseModel) else None
