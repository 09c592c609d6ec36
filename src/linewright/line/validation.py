"""The errors of a validation as faults with paths of the file's own keys and with what may stand there instead."""

from __future__ import annotations

import types
from collections.abc import Iterator, Mapping
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from linewright.line.document import PathKey, kind_of
from linewright.line.fields import NAME_KEY, PathFault
from linewright.line.units import shown
from linewright.line.words import choice


def missing(key: str) -> str:
    """What is found where a key is missing."""
    return f"the key {shown(key)} is missing"


def path_faults(error: ValidationError, model: type[BaseModel], tree: Mapping[str, Any]) -> list[PathFault]:
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
        yield path[:-1], missing(path[-1]), f"add it; keys: {', '.join(known)}"
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
        if isinstance(tree, dict):
            tree = tree.get(step)
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
    if found is None and get_origin(stripped(annotation)) is tuple:
        found = _model_in(get_args(stripped(annotation))[0])  # one item stands there without its list
    if found is None:
        return []
    keys = [_key(name, info) for name, info in found.model_fields.items()]
    keys = [key for key in keys if not key.startswith("\x00")]
    return [*keys, "like"] if "keep_clear" in keys else keys


def _key(name: str, info: FieldInfo) -> str:
    return info.validation_alias if isinstance(info.validation_alias, str) else name


def _below(annotation: Any, step: str | int) -> Any:
    model = _model_in(annotation)
    if model is not None and isinstance(step, str):
        for name, info in model.model_fields.items():
            if step == _key(name, info):
                return info.annotation
    if get_origin(stripped(annotation)) in (tuple, dict):
        below = [arg for arg in get_args(stripped(annotation)) if arg is not Ellipsis][-1]
        return get_args(below)[-1] if get_origin(below) is tuple and isinstance(step, str) else below  # pairs by name
    return None


def stripped(annotation: Any) -> Any:
    """The annotation without ``Annotated`` and without ``None``."""
    while True:
        origin, args = get_origin(annotation), get_args(annotation)
        if origin is Literal or not args or origin in (tuple, dict):
            return annotation
        if origin in (Union, types.UnionType):
            args = tuple(arg for arg in args if arg is not type(None))
        annotation = args[0]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    plain = stripped(annotation)
    return plain if isinstance(plain, type) and issubclass(plain, BaseModel) else None
