"""What was changed in a line file and its conveyor sheet, by the files' own keys and in their own words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import BaseModel

from linewright.layout.placing import length_text
from linewright.line.document import PathKey
from linewright.line.fields import NAME_KEY
from linewright.line.model import Line, Step

NOT_STATED: Final = "not stated"
ALIKE: Final = "changed, though its text is the same"

_UNITS: Final = {
    "kg": "kg", "s": "s", "m_s": "m/s", "m_s2": "m/s²", "m_s3": "m/s³", "N": "N", "Nm": "N·m", "Hz": "Hz", "A": "A",
    "V": "V", "W": "W", "ohm": "ohm", "F": "F", "degC": "°C", "mm2": "mm²", "m3": "m³", "months": "months",
}  # fmt: skip


@dataclass(frozen=True)
class FileChange:
    """One thing that stands otherwise in the line file, or in its conveyor sheet.

    Parameters
    ----------
    key : path of the file's own keys, such as ``stations.press.time``; items of a list are counted from 1
    before, after : as written in the file; ``not stated`` where it is not there
    """

    key: str
    before: str
    after: str


@dataclass(frozen=True)
class _Difference:
    path: PathKey
    attribute: str
    before: Any
    after: Any


def file_changes(before: Line, after: Line) -> tuple[FileChange, ...]:
    """What stands otherwise in two line files and their sheets, by the files' own keys.

    Parameters
    ----------
    before, after : the line as it was and as it is

    Notes      What a line and its sheet mean is compared, not how their files look. Another sheet is one change.
    """
    found: dict[str, FileChange] = {}
    trees = (_tree(before), _tree(after))
    for one in _differences(before, after, (), ""):
        path = _written_path(one.path, trees)
        texts = [_text_at(tree, path) for tree in trees]
        if texts[0] == texts[1]:  # a line made in Python: its document, if any, is that of the line it was made from
            path = one.path
            texts = [_said(value, one.attribute, after.units) for value in (one.before, one.after)]
        if texts[0] == texts[1]:
            texts = [str(texts[0]), ALIKE]
        key = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
        found.setdefault(key, FileChange(key, *(NOT_STATED if text is None else text for text in texts)))
    return tuple(found.values())


def _tree(line: Line) -> Mapping[str, Any]:
    """What stands in the files of a line, its sheet under ``conveyor``; what ``like`` copies stands in its place."""
    if line.document is None:
        return {}
    tree = dict(line.document.tree)
    stations = tree.get("stations")
    if isinstance(stations, dict):
        own = ("lane", "at", "along", "motor_zone")
        tree["stations"] = {
            name: {**{key: value for key, value in stations.get(item["like"], {}).items() if key not in own}, **item}
            if isinstance(item, dict) and "like" in item
            else item
            for name, item in stations.items()
        }
    if line.conveyor.document is not None:
        tree["conveyor"] = line.conveyor.document.tree
    return tree


def _differences(before: Any, after: Any, path: PathKey, attribute: str) -> Iterator[_Difference]:
    """Where two models differ, the deepest place each."""
    if isinstance(before, BaseModel) and type(before) is type(after):
        if path == ("conveyor",) and before.name != after.name:  # type: ignore[attr-defined]
            yield _Difference(("conveyor", "name"), "", before.name, after.name)  # type: ignore[attr-defined]
            return
        for name, info in type(before).model_fields.items():
            key = info.validation_alias if isinstance(info.validation_alias, str) else name
            if not info.exclude and key != NAME_KEY and not _is_derived(before, after, name):
                yield from _differences(getattr(before, name), getattr(after, name), (*path, key), name)
    elif isinstance(before, tuple) and isinstance(after, tuple) and _is_named(before + after):
        yield from _named_differences(before, after, path)
    elif isinstance(before, tuple) and isinstance(after, tuple) and _is_plain(before, after):
        for i, (one, other) in enumerate(zip(before, after, strict=True)):
            yield from _differences(one, other, (*path, i), attribute)
    elif not _is_same(before, after):
        yield _Difference(path, attribute, before, after)


def _named_differences(before: tuple[Any, ...], after: tuple[Any, ...], path: PathKey) -> Iterator[_Difference]:
    old, new = ({item.name: item for item in items} for items in (before, after))
    for name in [*old, *(name for name in new if name not in old)]:
        if name in old and name in new:
            yield from _differences(old[name], new[name], (*path, name), "")
        else:
            yield _Difference((*path, name), "", old.get(name), new.get(name))
    orders = [tuple(name for name in one if name in old and name in new) for one in (old, new)]
    if orders[0] != orders[1] and path != ("stations",):  # the order of stations means nothing, the route has its own
        yield _Difference((*path, "order"), "", ", ".join(orders[0]), ", ".join(orders[1]))


def _is_named(items: tuple[Any, ...]) -> bool:
    return bool(items) and all(
        isinstance(item, BaseModel) and type(item).model_fields.get("name") is not None
        and type(item).model_fields["name"].validation_alias == NAME_KEY
        for item in items
    )  # fmt: skip


def _is_plain(before: tuple[Any, ...], after: tuple[Any, ...]) -> bool:
    """Whether two lists are compared item by item: models of one kind, as many of them; the route is one value."""
    models = all(isinstance(item, BaseModel) and not isinstance(item, Step) for item in before + after)
    return len(before) == len(after) and models


def _is_derived(before: BaseModel, after: BaseModel, name: str) -> bool:
    """Whether a figure follows from another that is compared too: of a ring its length and the floor places on it."""
    follows_from = {"length_m": "ring", "at_m": "along_m"}.get(name)
    return follows_from is not None and all(getattr(one, follows_from, None) is not None for one in (before, after))


def _is_same(before: Any, after: Any) -> bool:
    if isinstance(before, float) and isinstance(after, float) and math.isnan(before) and math.isnan(after):
        return True
    return bool(before == after)


def _written_path(path: PathKey, trees: tuple[Mapping[str, Any], Mapping[str, Any]]) -> PathKey:
    """How much of a model's path stands in either file: a time may be written in one text and have several figures."""
    reached = [_reach(tree, path) for tree in trees]
    ends = [one for one, is_leaf in reached if is_leaf]
    if ends:
        return min(ends, key=len)
    return path


def _reach(tree: Any, path: PathKey) -> tuple[PathKey, bool]:
    """How far a path goes in a tree, and whether a text or a list, or the wanted place itself, stands there."""
    node: Any = tree
    kept: list[str | int] = []
    for step in path:
        if isinstance(node, dict):
            if isinstance(step, int):
                continue  # a single one is written without a list
            if step not in node:
                return tuple(kept), False
            node = node[step]
        elif isinstance(node, list) and isinstance(step, int) and step < len(node):
            node = node[step]
        else:
            break
        kept.append(step)
    return tuple(kept), True


def _text_at(tree: Any, path: PathKey) -> str | None:
    """What stands at a path of a tree, as it may be written; None where nothing does."""
    node: Any = tree
    for step in path:
        known = step in node if isinstance(node, dict) else isinstance(step, int) and step < _length(node)
        if not known:
            return None
        node = node[step]
    return written(node)


def _length(node: Any) -> int:
    return len(node) if isinstance(node, list) else 0


def written(value: Any) -> str:
    """A value of a file on one line, as YAML has it.

    Examples
    --------
    >>> written({"mean": "2 s", "cv": "15 %"}), written(["load", ["a", "b"]]), written(True)
    ('{mean: 2 s, cv: 15 %}', '[load, [a, b]]', 'true')
    """
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {written(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(written(item) for item in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _said(value: Any, attribute: str, units: str) -> str | None:
    """A value of a model that was never written in a file, with its unit."""
    if value is None:
        return None
    if isinstance(value, Step):
        return written(list(value.stations)) if len(value.stations) > 1 else value.name
    if isinstance(value, BaseModel):
        shown = [
            (str(info.validation_alias or name), _said(getattr(value, name), name, units))
            for name, info in type(value).model_fields.items()
            if info.validation_alias != NAME_KEY and not info.exclude and getattr(value, name) not in (None, (), False)
        ]
        return "{" + ", ".join(f"{key}: {text}" for key, text in shown) + "}"
    if isinstance(value, tuple):
        return "[" + ", ".join(str(_said(item, attribute, units)) for item in value) + "]"
    if isinstance(value, bool) or not isinstance(value, float):
        return written(value)
    for length in (2, 1):
        ending = "_".join(attribute.split("_")[-length:])
        if ending == "m" and length == 1:
            return length_text(value, units)
        if ending in _UNITS and ending != attribute:
            return f"{value:.6g} {_UNITS[ending]}"
    return f"{value:.6g}"
