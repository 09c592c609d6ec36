"""The types of single values in a file: text with a unit becomes an SI float; a fault says what may stand there.

The same models take a file and Python. From a file (validation context ``FROM_FILE``) a quantity must carry its unit;
in Python a number is taken as SI.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Final

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    JsonValue,
    ValidationInfo,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from linewright.line import units
from linewright.line.document import kind_of, resolve
from linewright.line.units import Dimension, QuantityFault, number_text, parse_quantity, shown, without_unit

FROM_FILE: Final = {"from_file": True}
LONGEST_NAME: Final = 40
NAME_PATTERN: Final = r"^[A-Za-z\u00c0-\uffff][A-Za-z0-9_.\u00c0-\uffff-]*$"  # ECMA 262, for the JSON Schema
_NAME: Final = re.compile(r"[^\W\d_][\w.\-]*")
_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


class FileModel(BaseModel):
    """A frozen part of a file. Unknown keys are refused; attributes carry the unit, the file's keys do not."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", validate_by_name=True, validate_by_alias=True, allow_inf_nan=False
    )


def fault(found: str, allowed: str) -> PydanticCustomError:
    """An error of validation that already says what was found and what may stand there."""
    return PydanticCustomError("fault", "{found}; {allowed}", {"found": found, "allowed": allowed})


PathFault = tuple[tuple[str | int, ...], str, str]
"""A fault below the value that is validated: path from there, what was found, what may stand there."""


def faults(found: Sequence[PathFault]) -> PydanticCustomError:
    """Several faults of one value at once, each with its own path."""
    text = "\n".join(f"{what}; {allowed}" for _, what, allowed in found).replace("{", "(").replace("}", ")")
    return PydanticCustomError("faults", text, {"faults": tuple(found)})


def is_from_file(info: ValidationInfo) -> bool:
    """Whether the value comes from a file, where quantities need units."""
    return bool(info.context and info.context.get("from_file"))


@dataclass(frozen=True, eq=False)
class Reader:
    """The annotation of a value's type: how it is read out of a file, and what the JSON Schema says about it."""

    read: Callable[[Any, ValidationInfo], Any]
    schema: Mapping[str, Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return dict(self.schema)


def in_unit(value_si: float, dimension: Dimension, unit: str | None = None) -> str:
    """A value in SI as text in a unit of its dimension.

    Examples
    --------
    >>> in_unit(0.43, units.LENGTH), in_unit(0.04, units.SHARE)
    ('430 mm', '4 %')
    """
    unit = unit or dimension.usual
    zero_si = float(dimension.zero_of(unit))
    return f"{number_text(float(f'{(value_si - zero_si) / float(dimension.units[unit]):.12g}'))} {unit}"


def _quantity(
    dimension: Dimension, low: str, high: str, zero: bool = False, whole: bool = False, plus_minus: bool = False
) -> Reader:
    """The annotation of a quantity between two others; ``zero``: nought may stand there besides; ``whole``: no
    fractions; ``plus_minus``: ± may stand before it."""
    least, greatest = parse_quantity(low, dimension), parse_quantity(high, dimension)
    span = f"{dimension.name} from {low} to {high}"
    if zero:
        span = f"0 {dimension.usual} or {span}"
    if whole:
        span = f"a whole number of {dimension.usual} from {low} to {high}"

    def read(value: Any, info: ValidationInfo) -> float:
        if isinstance(value, str):
            try:
                number = parse_quantity(value.strip().removeprefix("±") if plus_minus else value, dimension)
            except QuantityFault as error:
                raise fault(error.found, error.allowed) from None
        elif isinstance(value, bool) or not isinstance(value, int | float):
            raise fault(f"{kind_of(value)} stands here", f"write {dimension.name}, such as {dimension.example}")
        elif is_from_file(info):
            bare = without_unit(str(value), dimension)
            raise fault(bare.found, bare.allowed)
        else:
            number = float(value)
        if not (least <= number <= greatest or (zero and number == 0.0)):
            raise fault(f"{shown(value)} is out of range", f"write {span}")
        if whole and number != int(number):
            raise fault(f"{shown(value)} is not a whole number", f"write {span}")
        return int(number) if whole else number

    schema = {
        "type": "string",
        "pattern": units.quantity_pattern(dimension, plus_minus),
        "description": f"{span[0].upper()}{span[1:]}.",
        "examples": ["±0.08 mm" if plus_minus else dimension.example],
    }
    return Reader(read, schema)


LONGEST_TRACK_M: Final = 200.0  # the longest lane and the farthest place on the floor that make sense for one line

# The least time is the microsecond in which time runs; the greatest values leave room for ideal conveyors in tests.
Length = Annotated[float, _quantity(units.LENGTH, "1 µm", "200 m")]
LengthOrZero = Annotated[float, _quantity(units.LENGTH, "1 µm", "200 m", zero=True)]
Position = Annotated[float, _quantity(units.LENGTH, "-200 m", "200 m")]
Travel = Annotated[float, _quantity(units.LENGTH, "1 m", "1000000 km")]
Mass = Annotated[float, _quantity(units.MASS, "0.001 g", "10000 kg")]
MassOrZero = Annotated[float, _quantity(units.MASS, "0.001 g", "10000 kg", zero=True)]
Duration = Annotated[float, _quantity(units.TIME, "1 µs", "100000 h")]
DurationOrZero = Annotated[float, _quantity(units.TIME, "1 µs", "100000 h", zero=True)]
Months = Annotated[float, _quantity(units.CALENDAR, "0.1 months", "1200 months")]
Speed = Annotated[float, _quantity(units.SPEED, "0.1 mm/s", "100000 m/s")]
SpeedOrZero = Annotated[float, _quantity(units.SPEED, "0.1 mm/s", "100000 m/s", zero=True)]
Acceleration = Annotated[float, _quantity(units.ACCELERATION, "1 mm/s²", "1e9 m/s²")]
Jerk = Annotated[float, _quantity(units.JERK, "1 mm/s³", "1e15 m/s³")]
Force = Annotated[float, _quantity(units.FORCE, "0.001 N", "1e8 N")]
ForceOrZero = Annotated[float, _quantity(units.FORCE, "0.001 N", "1e8 N", zero=True)]
Share = Annotated[float, _quantity(units.SHARE, "0 %", "100 %")]
Spread = Annotated[float, _quantity(units.SHARE, "0.0001 %", "1000 %")]
DampingRatio = Annotated[float, _quantity(units.SHARE, "0.0001 %", "99.9999 %")]  # neither undamped nor critical
Frequency = Annotated[float, _quantity(units.FREQUENCY, "0.01 Hz", "100 kHz")]
Cycles = Annotated[int, _quantity(units.CYCLES, "1 cycle", "1000000000 cycles", whole=True)]
Voltage = Annotated[float, _quantity(units.VOLTAGE, "1 V", "1000 V")]
Current = Annotated[float, _quantity(units.CURRENT, "1 mA", "10000 A")]
Power = Annotated[float, _quantity(units.POWER, "0.001 W", "1000 kW")]
Resistance = Annotated[float, _quantity(units.RESISTANCE, "0.001 mohm", "1000000 ohm")]
Inductance = Annotated[float, _quantity(units.INDUCTANCE, "0.000001 mH", "1000 H")]
Capacitance = Annotated[float, _quantity(units.CAPACITANCE, "0.001 µF", "1000 F")]
ForceConstant = Annotated[float, _quantity(units.FORCE_CONSTANT, "0.001 N/A", "1000000 N/A")]
SignedForce = Annotated[float, _quantity(units.FORCE, "-1e8 N", "1e8 N")]
PlusMinus = Annotated[float, _quantity(units.LENGTH, "0.001 µm", "1 m", zero=True, plus_minus=True)]
Stiffness = Annotated[float, _quantity(units.STIFFNESS, "0.000001 N/µm", "1000000 N/µm")]
Tilt = Annotated[float, _quantity(units.TILT, "0.001 µrad", "100 mrad", zero=True)]
Expansion = Annotated[float, _quantity(units.EXPANSION, "0.01 µm/m/K", "500 µm/m/K")]
BitRate = Annotated[float, _quantity(units.BIT_RATE, "1 kbit/s", "100 Gbit/s")]
Temperature = Annotated[float, _quantity(units.TEMPERATURE, "-60 °C", "400 °C")]
Efficiency = Annotated[float, _quantity(units.SHARE, "1 %", "100 %")]
PowerOrZero = Annotated[float, _quantity(units.POWER, "0.001 W", "1000 kW", zero=True)]
VolumeOrZero = Annotated[float, _quantity(units.VOLUME, "0.0001 l", "100 m³", zero=True)]
LongTime = Annotated[float, _quantity(units.TIME, "1 s", "10000000 h")]


def _number(low: float, high: float, whole: bool) -> Reader:
    kind = "a whole number" if whole else "a number"
    allowed = f"write {kind} from {number_text(low)} to {number_text(high)}" if low < high else f"write {low}"

    def read(value: Any, info: ValidationInfo) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise fault(f"{kind_of(value)} is not {kind}", allowed)
        if not low <= value <= high:
            raise fault(f"{value} is out of range", allowed)
        if whole and value != int(value):
            raise fault(f"{value} is not a whole number", allowed)
        return int(value) if whole else float(value)

    return Reader(read, {"type": "integer" if whole else "number", "minimum": low, "maximum": high})


Count = Annotated[int, _number(1, 10_000, whole=True)]
Places = Annotated[int, _number(1, 1, whole=True)]
PlacesAboard = Annotated[int, _number(1, 8, whole=True)]
Nests = Annotated[int, _number(1, 32, whole=True)]
Reworks = Annotated[int, _number(1, 100, whole=True)]
BufferParts = Annotated[int, _number(1, 1_000_000, whole=True)]
BufferPartsOrZero = Annotated[int, _number(0, 1_000_000, whole=True)]
Loads = Annotated[int, _number(1, 100_000, whole=True)]
Bytes = Annotated[int, _number(1, 100_000, whole=True)]
BytesOrZero = Annotated[int, _number(0, 100_000, whole=True)]
Factor = Annotated[float, _number(0.01, 1000, whole=False)]
FactorFromOne = Annotated[float, _number(1, 1000, whole=False)]
PartsPerYear = Annotated[int, _number(1, 1_000_000_000_000, whole=True)]
Shifts = Annotated[float, _number(0.01, 24, whole=False)]
Days = Annotated[float, _number(0.01, 366, whole=False)]
Coefficient = Annotated[float, _number(0.001, 2, whole=False)]
Price = Annotated[float, _number(0, 1e9, whole=False)]


def _name(value: Any, info: ValidationInfo) -> str:
    """A name of a lane, station or transfer: it starts with a letter and holds letters, digits, ``-``, ``_``, ``.``."""
    rule = f"a name starts with a letter and has letters, digits, '-', '_', '.', at most {LONGEST_NAME}"
    if not isinstance(value, str):
        raise fault(f"{kind_of(value)} is not a name", rule)
    if not _NAME.fullmatch(value) or len(value) > LONGEST_NAME or not isinstance(resolve(value), str):
        raise fault(f"{shown(value)} is not a name", rule)
    return value


def _text(value: Any, info: ValidationInfo) -> str:
    """A line of text, such as the name of the line."""
    if not isinstance(value, str):
        raise fault(
            f"{kind_of(value)} is not text", "write text; put it between quotation marks if it looks like a number"
        )
    if not value.strip() or len(value) > 2000:
        raise fault(f"{shown(value)} is not a text of 1 to 2000 characters", "write a few words")
    return value.strip()


def _yes(value: Any, info: ValidationInfo) -> bool:
    """True or false; the yes and no of older YAML are refused."""
    if not isinstance(value, bool):
        raise fault(f"{kind_of(value)} stands here", "write true or false")
    return value


def one_of(*words: str) -> Reader:
    """The annotation of a word out of a list."""
    listed = f"{', '.join(words[:-1])} or {words[-1]}"

    def read(value: Any, info: ValidationInfo) -> str:
        if not isinstance(value, str) or value not in words:
            raise fault(f"{kind_of(value)} stands here", f"write {listed}")
        return value

    return Reader(read, {"enum": list(words)})


Name = Annotated[str, Reader(_name, {"type": "string", "pattern": NAME_PATTERN, "maxLength": LONGEST_NAME})]
Text = Annotated[str, Reader(_text, {"type": "string", "minLength": 1, "maxLength": 2000})]
YesNo = Annotated[bool, Reader(_yes, {"type": "boolean"})]


def _version(value: Any, info: ValidationInfo) -> int:
    if value != 1 or isinstance(value, bool):
        raise fault(f"format version {kind_of(value)}", "this program reads format version 1")
    return 1


Version = Annotated[int, Reader(_version, {"const": 1})]


def _day(value: Any, info: ValidationInfo) -> date:
    """A day of the calendar, in the one order that every country reads alike."""
    rule = "write a day as year-month-day, such as 2027-02-01"
    if isinstance(value, date):
        return value
    if not isinstance(value, str):
        raise fault(f"{kind_of(value)} stands here", rule)
    if not _DAY.fullmatch(value.strip()):
        raise fault(f"{shown(value)} is not a day", rule)
    try:
        return date.fromisoformat(value.strip())
    except ValueError:
        raise fault(f"{shown(value)} is not in the calendar", rule) from None


Day = Annotated[date, Reader(_day, {"type": "string", "format": "date", "examples": ["2027-02-01"]})]

NOTHING_YET: Final[dict[str, JsonValue]] = {
    "x-read-by": "nothing yet"
}  # in a schema: data that a sheet may hold but that nothing reads

NAME_KEY: Final = "\x00name"  # stands in no file: names are keys there


def named_items(value: Any, info: ValidationInfo) -> Any:
    """A mapping from names to mappings, as a file has it, as the list of items that the model has."""
    if not is_from_file(info):
        return value
    if not isinstance(value, dict):
        raise fault(f"{kind_of(value)} stands here", "write a mapping: a name, a colon, what belongs to it")
    return [{NAME_KEY: name, **item} if isinstance(item, dict) else item for name, item in value.items()]


def named_some(value: Any, info: ValidationInfo) -> Any:
    """As :func:`named_items`, but a file names one at least, or leaves the key out."""
    if is_from_file(info) and value == {}:
        raise fault("an empty mapping stands here", "name one at least, or leave the key out")
    return named_items(value, info)


def not_stated() -> float:
    """The default of a length that another key may state in its place: no number, so that nothing computes with it."""
    return math.nan


def item_list(what: str, example: str, least: int = 0, most: int | None = None) -> Callable[[Any], Any]:
    """A validator that lets lists of the right length through and says what to write instead of anything else."""

    def read(value: Any) -> Any:
        if not isinstance(value, list | tuple):
            raise fault(f"{kind_of(value)} stands here", f"write {what}: {example}")
        if len(value) < least or (most is not None and len(value) > most):
            raise fault(f"a list of {len(value)} stands here", f"write {what}: {example}")
        return value

    return read


StationNames = Annotated[tuple[Name, ...], BeforeValidator(item_list("a list of stations", "[load, pack]", least=1))]
VariantNames = Annotated[tuple[Name, ...], BeforeValidator(item_list("a list of variants", "[a, b]", least=1))]


def _quarter_or_half(angle_deg: float) -> float:
    if angle_deg not in (90.0, 180.0):
        raise fault(f"{in_unit(angle_deg, units.ANGLE)} stands here", "write 90 deg or 180 deg")
    return angle_deg


CurveAngle = Annotated[float, _quantity(units.ANGLE, "1 deg", "360 deg"), AfterValidator(_quarter_or_half)]

CONDUCTOR_SIZES_mm2: Final = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0)
"""Nominal cross sections of IEC 60228, as far as a line needs them. [mm²]"""


def _conductor_size(area_mm2: float) -> float:
    if area_mm2 not in CONDUCTOR_SIZES_mm2:
        sizes = ", ".join(number_text(size) for size in CONDUCTOR_SIZES_mm2)
        raise fault(f"{in_unit(area_mm2, units.AREA)} is no size of IEC 60228", f"write one of {sizes} mm²")
    return area_mm2


Area = Annotated[float, _quantity(units.AREA, "0.5 mm²", "50 mm²"), AfterValidator(_conductor_size)]
