"""Tables: frozen columns of one length, plain rows for JSON."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from linewright.tables import Column, Table


def stations() -> Table:
    return Table(
        (
            Column("station", None, np.array(["press", "leak"]), "its name in the line file"),
            Column("parts", None, np.array([12, 7])),
            Column("work_s", "s", np.array([1.4, 5.1]), "mean time of work"),
            Column("parallel", None, np.array([False, True])),
        )
    )


def test_a_column_is_found_by_its_name() -> None:
    assert stations()["work_s"].tolist() == [1.4, 5.1]


def test_an_absent_column_is_answered_with_those_there_are() -> None:
    with pytest.raises(KeyError, match="no column 'work'; there are station, parts, work_s, parallel"):
        stations()["work"]


def test_rows_are_plain_python_and_go_through_json_unchanged() -> None:
    rows = stations().rows()
    assert rows == [
        {"station": "press", "parts": 12, "work_s": 1.4, "parallel": False},
        {"station": "leak", "parts": 7, "work_s": 5.1, "parallel": True},
    ]
    assert {type(value) for row in rows for value in row.values()} == {str, int, float, bool}
    assert json.loads(json.dumps(rows)) == rows


def test_length_names_and_iteration_agree() -> None:
    table = stations()
    assert len(table) == 2
    assert table.names == ("station", "parts", "work_s", "parallel")
    assert list(table) == table.rows()


def test_columns_of_different_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match=r"different lengths: \[1, 2\]"):
        Table((Column("a", None, np.zeros(2)), Column("b", None, np.zeros(1))))


def test_a_name_may_stand_once_only() -> None:
    with pytest.raises(ValueError, match="stands twice"):
        Table((Column("a", None, np.zeros(2)), Column("a", None, np.ones(2))))


def test_an_empty_table_has_no_rows() -> None:
    assert Table(()).rows() == []
    assert len(Table(())) == 0
    assert Table((Column("a", None, np.zeros(0)),)).rows() == []


def test_arrays_cannot_be_written_to() -> None:
    with pytest.raises(ValueError, match="read-only"):
        stations()["parts"][0] = 99


def test_columns_cannot_be_exchanged() -> None:
    with pytest.raises(FrozenInstanceError):
        stations().columns = ()  # type: ignore[misc]


def test_to_pandas_keeps_names_order_and_values() -> None:
    frame = stations().to_pandas()
    assert list(frame.columns) == ["station", "parts", "work_s", "parallel"]
    assert frame["parts"].tolist() == [12, 7]
    assert frame["work_s"].sum() == pytest.approx(6.5)
