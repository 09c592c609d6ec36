"""A line as far as it is known: what can be read of a faulty file, so that its faults can all be told at once.

A sketch has the attributes of the line that the file means. Each value is read for itself; who asks for one that cannot
be read gets :class:`NotKnown`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Final, NoReturn, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from linewright.line.coherence.known import NotKnown
from linewright.line.electrics import BrakingResistor
from linewright.line.fields import FROM_FILE, NAME_KEY
from linewright.line.model import Line
from linewright.line.people import Calendar
from linewright.line.product import Demand, Fixture
from linewright.line.station import Outside, Rework
from linewright.line.track import Ring
from linewright.line.validation import stripped

_IN_PARTS: Final = (
    BrakingResistor,
    Calendar,
    Demand,
    Fixture,
    Outside,
    Rework,
    Ring,
)  # groups of which each key is read for itself


class Sketch:
    """A part of a line: what could be read, by attribute."""

    def __init__(self, known: Mapping[str, Any]) -> None:
        self.__dict__.update(known)

    def __getattr__(self, name: str) -> NoReturn:
        raise NotKnown(name)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sketch) and vars(self) == vars(other)

    __hash__ = None  # type: ignore[assignment]


def sketch_tree(tree: Mapping[str, Any]) -> Any:
    """The sketch of a file's tree: what can be read is known, the rest is not.

    Parameters
    ----------
    tree : the values of the file, every ``like`` carried out, the conveyor sheet in place of its name where it can be
        read

    Returns
    -------
    Any   A stand-in for a :class:`Line`.
    """
    known = _parts(Line, tree)
    known.pop("route", None)
    route = tree.get("route")
    if isinstance(route, list) and route:
        steps = [tuple(step) if isinstance(step, list) else (step,) for step in route]
        if all(steps) and all(isinstance(name, str) for step in steps for name in step):
            known["route"] = tuple(Sketch({"stations": step}) for step in steps)
    return Sketch(known)


def _parts(model: type[BaseModel], item: Mapping[str, Any]) -> dict[str, Any]:
    known: dict[str, Any] = {}
    for name, info in model.model_fields.items():
        key = info.validation_alias if isinstance(info.validation_alias, str) else name
        if key == NAME_KEY:
            if key in item:
                known[name] = item[key]
        elif key not in item:
            if not info.is_required():
                known[name] = info.get_default(call_default_factory=True, validated_data={})
        elif item[key] is not None:  # nothing stands there, or it was to be copied and could not
            try:
                known[name] = _value(model, name, info, item[key])
            except ValidationError:
                continue
    return known


def _value(model: type[BaseModel], name: str, info: FieldInfo, value: Any) -> Any:
    if isinstance(value, BaseModel):
        return value
    kind = stripped(info.annotation)
    if get_origin(kind) is tuple:
        items = get_args(kind)[0]
        if isinstance(items, type) and issubclass(items, BaseModel):
            if "name" in items.model_fields and isinstance(value, dict) and value:
                return tuple(_item(items, {NAME_KEY: one}, below) for one, below in value.items())
            if "name" not in items.model_fields and isinstance(value, list):
                return tuple(_item(items, {}, below) for below in value)
    if kind in _IN_PARTS and isinstance(value, dict):
        return Sketch(_parts(kind, value))
    return _reader(model, name).validate_python(value, context=FROM_FILE, by_alias=True, by_name=False)


def _item(model: type[BaseModel], own: dict[str, Any], value: Any) -> Sketch:
    """An item of a list or of a mapping of names; of one that is no mapping only its name is known."""
    return Sketch(_parts(model, {**own, **value}) if isinstance(value, dict) else {"name": own.get(NAME_KEY)})


@cache
def _reader(model: type[BaseModel], name: str) -> TypeAdapter[Any]:
    info = model.model_fields[name]
    kind: Any = Annotated[info.annotation, *info.metadata] if info.metadata else info.annotation
    return TypeAdapter(kind)
