"""The errors a user sees: places that can be followed, faults in the order of the file."""

from __future__ import annotations

import pickle

import pytest

from linewright.errors import Fault, LineFileError, LinewrightError, Place, SimulationError


def fault(line: int, column: int = 1, file: str = "line.yaml") -> Fault:
    return Fault(Place(file, line, column), f"found {line}", "allowed")


def test_a_place_reads_as_editors_and_terminals_expect() -> None:
    assert str(Place("line.yaml", 12, 3)) == "line.yaml:12:3"


def test_places_sort_by_number_and_not_by_text() -> None:
    places = [Place("a", 10, 1), Place("a", 9, 20), Place("a", 9, 3)]
    assert sorted(places) == [Place("a", 9, 3), Place("a", 9, 20), Place("a", 10, 1)]


def test_a_fault_says_where_what_stood_there_and_what_may() -> None:
    one = Fault(Place("line.yaml", 7, 5), "found 3 furlongs", "a length is due, such as 210 mm")
    assert str(one) == "line.yaml:7:5: found 3 furlongs; a length is due, such as 210 mm"


def test_a_fault_in_json_has_exactly_the_documented_keys() -> None:
    assert fault(7, 5).as_dict() == {
        "file": "line.yaml",
        "line": 7,
        "column": 5,
        "found": "found 7",
        "allowed": "allowed",
    }


def test_all_faults_come_at_once_in_the_order_of_the_file() -> None:
    error = LineFileError([fault(30), fault(4, 9), fault(4, 2)])
    assert [one.place.line for one in error.faults] == [4, 4, 30]
    assert str(error).splitlines() == [str(fault(4, 2)), str(fault(4, 9)), str(fault(30))]


def test_an_error_without_a_fault_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="at least one fault"):
        LineFileError([])


@pytest.mark.parametrize("error", [LineFileError([fault(1)]), SimulationError("too long")])
def test_one_class_catches_everything_that_a_user_can_mend(error: Exception) -> None:
    assert isinstance(error, LinewrightError)
    assert not isinstance(error, ValueError)


def test_a_line_file_error_survives_the_way_between_processes() -> None:
    error = LineFileError([fault(2), fault(1)])
    again = pickle.loads(pickle.dumps(error))
    assert again.faults == error.faults
    assert str(again) == str(error)
