"""Tables and state as the compiled loop is handed them: two records of addresses.

Numba takes a tuple of arrays apart into some five hundred words, and handles all of them anew in every function that it
is given to: with sixty arrays a function of one line takes it most of a second. So the loop is given two records that
hold the addresses and lengths of the arrays, and an attribute of a record, such as `s.carrier`, is the array there.
With compilation switched off the loop is given the tuples themselves, whose attributes are the same.

The arrays have to outlive the call, and are handed over whole: each has to be contiguous and of its declared type.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import config, types
from numba.core import cgutils
from numba.core.datamodel.models import RecordModel
from numba.core.typing.templates import AttributeTemplate
from numba.extending import infer_getattr, intrinsic, lower_getattr, register_model
from numba.np.arrayobj import make_array, populate_array
from numba.np.numpy_support import from_dtype
from numpy.typing import NDArray

from linewright.flow.kernel.draws import Laws
from linewright.flow.kernel.general import state, tables
from linewright.flow.kernel.general.luck import Streams
from linewright.flow.kernel.state import COMING

INT64: Final = np.dtype(np.int64)
INT32: Final = np.dtype(np.int32)
FLOAT64: Final = np.dtype(np.float64)
UINT64: Final = np.dtype(np.uint64)

_COMPILES_NOT: Final = bool(vars(config)["DISABLE_JIT"])

Shape = tuple[np.dtype[Any], int]

TABLES: Final[dict[str, Shape]] = {
    "stops": (INT64, 2),
    "way": (INT64, 2),
    "way_m": (FLOAT64, 2),
    "leg": (INT64, 2),
    "leg_us": (INT64, 1),
    "rear_us": (INT64, 1),
    "delay_us": (INT32, 2),
    "differs_us": (INT32, 2),
    "more": (INT64, 1),
    "step_stop": (INT64, 1),
    "lanes": (INT64, 2),
    "skips": (INT64, 1),
    "station_by_rank": (INT64, 1),
    "station": (tables.TOOL, 1),
    "step": (tables.STEP, 1),
    "platform": (tables.PLATFORM, 1),
    "failure": (tables.FAILURE, 1),
    "pool": (tables.POOL, 1),
    "breaks": (tables.BREAK, 1),
    "outside": (tables.OUTSIDE, 1),
    "change": (tables.CHANGE, 1),
    "stretch": (tables.STRETCH, 1),
    "rework": (tables.REWORK, 1),
}
STATE: Final[dict[str, Shape]] = {
    "events": (INT64, 1),
    "carrier": (state.CARRIER, 1),
    "station": (state.STATION, 1),
    "platform": (state.PLATFORM, 1),
    "operator": (state.OPERATOR_RECORD, 1),
    "outside": (state.OUTSIDE_MACHINE, 1),
    "change": (state.CHANGE, 1),
    "breaks": (state.BREAK_RECORD, 1),
    "pool": (state.POOL, 1),
    "coming": (COMING, 1),
    "occupant": (INT64, 1),
    "barred": (INT64, 1),
    "boardable": (INT64, 1),
    "passed": (INT64, 1),
    "exits": (INT64, 2),
    "indexed": (INT64, 1),
    "lane_ready": (INT64, 2),
    "on_stretch": (INT64, 1),
    "stretch_left": (INT64, 2),
    "aboard": (INT64, 1),
    "heap": (INT64, 1),
    "counters": (INT64, 1),
    "marks": (INT64, 2),
    "sequence": (INT64, 1),
    "running": (FLOAT64, 2),
    "sets": (INT64, 1),
    "state_us": (INT64, 2),
    "parts": (INT64, 1),
    "rejected": (INT64, 1),
    "failed": (INT64, 1),
    "good": (INT64, 1),
    "first_us": (INT64, 1),
    "moved": (INT64, 1),
    "moves": (INT64, 2),
    "works": (INT64, 2),
    "good_log": (INT64, 2),
}
LAWS: Final[dict[str, Shape]] = {
    "law_kind": (INT64, 1),
    "law_p": (FLOAT64, 2),
    "law_first": (INT64, 1),
    "law_length": (INT64, 1),
    "law_given": (INT64, 1),
    "law_table": (FLOAT64, 1),
    "law_key": (UINT64, 1),
}
NUMBERS: Final = tuple(name for name in tables.Tables._fields if name not in TABLES and name != "law")
STREAMS: Final = tuple(f"law_{name}" for name in Streams._fields)


def _box_type(kind: str, arrays: dict[str, Shape], numbers: tuple[str, ...]) -> np.dtype[np.void]:
    """The record that holds the addresses and lengths of these arrays, and these numbers."""
    fields = [f"{kind} {name} {what}" for name in arrays for what in ("at", "rows", "columns")]
    return np.dtype([(name, np.int64) for name in (*fields, *numbers)])


TABLES_BOX: Final = _box_type("t", TABLES, (*NUMBERS, *STREAMS))
STATE_BOX: Final = _box_type("s", STATE | LAWS, ())


def _fill(box: NDArray[np.void], kind: str, name: str, shape: Shape, array: NDArray[Any]) -> None:
    dtype, dimensions = shape
    if array.dtype != dtype or array.ndim != dimensions or not array.flags.c_contiguous:
        raise TypeError(f"{name} is {array.dtype}, {array.ndim} dimensions; it has to be {dtype}, {dimensions}")
    box[0][f"{kind} {name} at"] = array.__array_interface__["data"][0]
    box[0][f"{kind} {name} rows"] = array.shape[0]
    box[0][f"{kind} {name} columns"] = array.shape[-1]


def boxed_tables(t: tables.Tables) -> Any:
    """The tables as the loop is handed them. Raises TypeError where an array is not of its declared type."""
    if _COMPILES_NOT:
        return (t,)
    box = np.zeros(1, TABLES_BOX)
    for name, shape in TABLES.items():
        _fill(box, "t", name, shape, getattr(t, name))
    for name in NUMBERS:
        box[0][name] = getattr(t, name)
    for name in Streams._fields:
        box[0][f"law_{name}"] = getattr(t.law, name)
    return box


def boxed_state(s: state.State) -> Any:
    """The state as the loop is handed it. Raises TypeError where an array is not of its declared type."""
    if _COMPILES_NOT:
        return (s,)
    box = np.zeros(1, STATE_BOX)
    for name, shape in STATE.items():
        _fill(box, "s", name, shape, getattr(s, name))
    for name, shape in LAWS.items():
        _fill(box, "s", name, shape, getattr(s.laws, name.removeprefix("law_")))
    return box


# What numba is taught: the types of the attributes, then how they are made of the fields.

_ARRAYS: Final = {"t": TABLES, "s": STATE | LAWS}


def _array_type(shape: Shape) -> Any:
    return types.Array(from_dtype(shape[0]), shape[1], "C")


_LAWS_TYPE: Final = types.NamedTuple([_array_type(shape) for shape in LAWS.values()], Laws)
_STREAMS_TYPE: Final = types.NamedUniTuple(types.int64, len(STREAMS), Streams)


def _kind(record: Any, name: str) -> str | None:
    """Which box a record is, if it holds an array of this name: "t", "s" or None."""
    return next((kind for kind in _ARRAYS if f"{kind} {name} at" in record.fields), None)


class _Box(types.Record):
    """The type of a box: a record that is asked for its arrays as well."""


register_model(_Box)(RecordModel)


def _as_box(typing_context, record):
    """A record as a box; the value is the same."""
    fields = [(name, dict(field._asdict())) for name, field in record.fields.items()]

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return arguments[0]

    return _Box(fields, record.size, record.aligned)(record), generate


def _as_it_is(box: Any) -> Any:
    return box


as_box: Any = _as_it_is if _COMPILES_NOT else intrinsic(_as_box)


@infer_getattr
class _BoxAttributes(AttributeTemplate):
    """The types of a box's attributes."""

    key = _Box

    def generic_resolve(self, record: Any, name: str) -> Any:  # type: ignore[override]
        if name == "laws" and "s law_kind at" in record.fields:
            return _LAWS_TYPE
        if name == "law" and STREAMS[0] in record.fields:
            return _STREAMS_TYPE
        kind = _kind(record, name)
        return None if kind is None else _array_type(_ARRAYS[kind][name])


def _field(context: Any, builder: Any, record: Any, value: Any, name: str) -> Any:
    """Load one number of a box."""
    place = cgutils.get_record_member(builder, value, record.offset(name), context.get_data_type(types.int64))
    return builder.load(place)


def _array(context: Any, builder: Any, record: Any, value: Any, kind: str, name: str) -> Any:
    """The array whose address and lengths a box holds; nobody counts references to it."""
    array_type = _array_type(_ARRAYS[kind][name])
    array = make_array(array_type)(context, builder)
    data_type = context.get_data_type(array_type.dtype)
    size = context.get_constant(types.intp, context.get_abi_sizeof(data_type))
    address, rows, columns = (
        _field(context, builder, record, value, f"{kind} {name} {what}") for what in ("at", "rows", "columns")
    )
    one = array_type.ndim == 1
    populate_array(
        array,
        data=builder.inttoptr(address, data_type.as_pointer()),
        shape=[rows] if one else [rows, columns],
        strides=[size] if one else [builder.mul(size, columns), size],
        itemsize=size,
        meminfo=None,
    )
    return array._getvalue()


def _serve(name: str) -> None:
    @lower_getattr(_Box, name)
    def lower(context: Any, builder: Any, record: Any, value: Any) -> Any:
        return _array(context, builder, record, value, str(_kind(record, name)), name)


for _name in sorted({*TABLES, *STATE, *LAWS}):
    _serve(_name)


@lower_getattr(_Box, "laws")
def _lower_laws(context: Any, builder: Any, record: Any, value: Any) -> Any:
    arrays = [_array(context, builder, record, value, "s", name) for name in LAWS]
    return context.make_tuple(builder, _LAWS_TYPE, arrays)


@lower_getattr(_Box, "law")
def _lower_streams(context: Any, builder: Any, record: Any, value: Any) -> Any:
    numbers = [_field(context, builder, record, value, name) for name in STREAMS]
    return context.make_tuple(builder, _STREAMS_TYPE, numbers)
