"""A table of results: frozen columns, each with a name, a unit and an array."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True, eq=False)
class Column:
    """One column. The name carries the unit where there is one (``travel_m``); ``unit`` repeats it for printing.

    Parameters
    ----------
    name : as it stands in JSON and CSV
    unit : ``m``, ``s``, ``1/h`` ...; None for names, counts and shares
    values : shape (rows,)
    meaning : one line for the docs and for a column heading
    """

    name: str
    unit: str | None
    values: NDArray[Any]
    meaning: str = ""


@dataclass(frozen=True, eq=False)
class Table:
    """Named columns of one length. Arrays are made read-only.

    Examples
    --------
    >>> import numpy as np
    >>> t = Table((Column("station", None, np.array(["press"])), Column("work_s", "s", np.array([1.4]))))
    >>> t["work_s"].tolist(), t.rows(), len(t)
    ([1.4], [{'station': 'press', 'work_s': 1.4}], 1)
    """

    columns: tuple[Column, ...]

    def __post_init__(self) -> None:
        lengths = {len(column.values) for column in self.columns}
        if len(lengths) > 1:
            raise ValueError(f"columns of different lengths: {sorted(lengths)}")
        names = [column.name for column in self.columns]
        if len(set(names)) < len(names):
            raise ValueError(f"a column name stands twice: {names}")
        for column in self.columns:
            column.values.setflags(write=False)

    def __len__(self) -> int:
        return len(self.columns[0].values) if self.columns else 0

    def __getitem__(self, name: str) -> NDArray[Any]:
        for column in self.columns:
            if column.name == name:
                return column.values
        raise KeyError(f"no column {name!r}; there are {', '.join(self.names)}")

    def __iter__(self) -> Iterator[dict[str, Any]]:
        return iter(self.rows())

    @property
    def names(self) -> tuple[str, ...]:
        """The column names, in order."""
        return tuple(column.name for column in self.columns)

    def rows(self) -> list[dict[str, Any]]:
        """The rows as plain dictionaries, ready for JSON: numpy scalars become Python ones."""
        lists = [column.values.tolist() for column in self.columns]
        return [dict(zip(self.names, row, strict=True)) for row in zip(*lists, strict=True)]

    def to_pandas(self) -> pandas.DataFrame:
        """The table as a pandas DataFrame (needs pandas, which nothing else here does)."""
        import pandas

        return pandas.DataFrame({column.name: column.values for column in self.columns})
