"""What ``prove`` gives to another program: the proof as plain data for JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from linewright.findings import worst_first
from linewright.handover.assumptions import CAUTION
from linewright.handover.pages.answer import head
from linewright.handover.pages.prove_gridlock import cure_text
from linewright.handover.pages.prove_page import proof_assumptions
from linewright.handover.pages.prove_story import Names, places_at_the_jam

if TYPE_CHECKING:
    from linewright.line.model import Line
    from linewright.proof import Proof
    from linewright.traffic.gridlock.result import Answer, Cure, GridlockResult, Standing, WayStep


def prove_answer(proof: Proof) -> dict[str, Any]:
    """The whole proof, its keys in a fixed order; what is not known is None.

    Parameters
    ----------
    proof : of a line

    Returns
    -------
    dict   ``holds``, ``gridlock`` (``outcome``, ``from_any_placement`` ...), ``referee``, ``dead_section``,
           ``recovery``, ``findings`` ...; docs/results.md lists them.
    """
    referee = {"holds": proof.referee.holds, **asdict(proof.referee)}
    recovery: dict[str, Any] = {"holds": proof.recovers, "not_tried": proof.no_recovery or None}
    if proof.recovery is not None:
        recovery |= asdict(proof.recovery)
    return head(proof.line) | {
        "seed": proof.seed,
        "hours": proof.shift_s / 3600.0,
        "holds": proof.holds,
        "gridlock": gridlock_data(proof.gridlock, proof.line, Names(proof.layout, proof.plan, proof.line.sequence)),
        "referee": referee | {"violated": dict(proof.referee.violated), "most_aboard": dict(proof.referee.most_aboard)},
        "dead_section": None if proof.dead_section is None else asdict(proof.dead_section),
        "recovery": recovery,
        "findings": [finding.as_dict() for finding in worst_first(proof.findings)],
        "assumptions": list(proof_assumptions(proof)),
        "caution": CAUTION,
    }


def gridlock_data(result: GridlockResult, line: Line, names: Names) -> dict[str, Any]:
    """The two answers, the first as plain strings, then each with its story.

    Parameters
    ----------
    result : of the proof
    line : the line
    names : of its stops and steps
    """
    return {
        "outcome": result.from_start.outcome,
        "from_any_placement": result.from_any_placement.outcome,
        "carriers": result.carriers,
        "room": result.room,
        "largest_count": result.largest_count,
        "largest_from_start": result.largest_from_start,
        "cure": None if result.cure is None else _cure(result.cure, line),
        "cures_tried": result.cures_tried,
        "from_start_answer": _answer(result.from_start, names),
        "from_any_placement_answer": _answer(result.from_any_placement, names),
    }


def _answer(answer: Answer, names: Names) -> dict[str, Any]:
    data: dict[str, Any] = {
        "outcome": answer.outcome,
        "basis": answer.basis,
        "why": answer.why,
        "least_ring": answer.least_ring,
        "states": answer.states,
        "start": [_standing(one, names) for one in answer.start],
        "way": [_step(step, names) for step in answer.way],
        "loads": list(answer.loads),
        "shortest": answer.shortest,
        "jam": None,
    }
    if answer.jam is not None:
        stations = names.plan.station_names
        data["jam"] = {
            "ring": [_standing(one, names) for one in answer.jam.ring],
            "others": [_standing(one, names) for one in answer.jam.others],
            "free": list(answer.jam.free),
            "stations": [stations[number] for number in answer.jam.stations],
            "places": [
                {"carrier": carrier, "stop": stop, "where": names.stop(stop)}
                for carrier, stop in sorted(places_at_the_jam(answer).items())
            ],
        }
    return data


def _standing(one: Standing, names: Names) -> dict[str, Any]:
    wants = None if one.wants is None else names.stop(one.wants)
    named = {"where": names.stop(one.stop), "next_step": names.step(one.step), "wants_where": wants}
    return asdict(one) | named | {"reason": one.reason or None}


def _step(step: WayStep, names: Names) -> dict[str, Any]:
    return {
        "kind": step.kind,
        "time_s": step.time_us / 1e6,
        "carrier": step.carrier,
        "from_stop": step.start,
        "from": names.stop(step.start),
        "to_stop": step.stop,
        "to": names.stop(step.stop),
        "carries": step.carries,
        "step": step.step,
        "next_step": names.step(step.step),
    }


def _cure(cure: Cure, line: Line) -> dict[str, Any]:
    data = asdict(cure)
    return data | {"lanes": list(cure.lanes), "transfers": list(cure.transfers), "text": cure_text(cure, line)}
