"""What the papers of a line are written from, gathered once for all of them."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeVar

from linewright.errors import SimulationError
from linewright.evaluation import Evaluation
from linewright.handover.papers.aside import ProofAside
from linewright.pictures.nothing import why_no_run

if TYPE_CHECKING:
    from linewright.flow.stop_sheet import StopSheet
    from linewright.planning.assumed import Effect
    from linewright.planning.gains import Gains
    from linewright.planning.money.comparison import Comparison
    from linewright.planning.money.parts_list import PartsList
    from linewright.planning.run_off import RunOff
    from linewright.proof import Proof

Tell = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and of how much."""
_Found = TypeVar("_Found")

NOT_ASKED: Final = "not asked for"
_TELL_PROOF: Final = frozenset(("dossier", "tables", "acceptance", "recovery"))
"""Papers in which the proof stands: both sides sign the same words, whatever else is written."""


class NothingToWrite(Exception):
    """A paper that cannot be written; the text says why, and which key or command would make it."""


@dataclass(frozen=True, eq=False)
class Material:
    """What the papers of a line are written from: plain records, of which a paper takes what it needs.

    Parameters
    ----------
    evaluation : of the line
    gains : what would help; None where nothing could be tried
    effects : what each figure that nobody stated does to the answer
    proving : the proof of its traffic, or why there is none, in words; or what gives it once it is done
    stops : an emergency stop at each station and transfer, or why that could not be looked at, in words
    parts : what is to be bought, with prices where they are known
    comparison : with a chain or belt line, or why there is none, in words
    run_off : what to run at the customer's, how long, and the pass lines; or why there is none, in words
    before : the evaluation of the line as it was, for the change report; None where none was named
    for_customer : prices, internal margins and what they lead to are left out
    """

    evaluation: Evaluation
    gains: Gains | None
    effects: tuple[Effect, ...]
    proving: ProofAside | Proof | str
    stops: StopSheet | str
    parts: PartsList
    comparison: Comparison | str
    run_off: RunOff | str
    before: Evaluation | None = None
    for_customer: bool = False

    @property
    def proof(self) -> Proof | str:
        """The proof of its traffic, or why there is none; whoever asks first waits until it is done."""
        return self.proving.result() if isinstance(self.proving, ProofAside) else self.proving


def gather(
    evaluation: Evaluation,
    papers: Collection[str],
    before: Evaluation | None = None,
    for_customer: bool = False,
    workers: int | None = None,
    tell: Tell | None = None,
    proof: ProofAside | None = None,
) -> Material:
    """Find what some papers need beside the evaluation itself.

    Parameters
    ----------
    evaluation : of the line
    papers : names of the papers that are to be written
    before : see `Material`
    for_customer : see `Material`
    workers : threads; None for one a core
    tell : called as the work goes on, from any thread
    proof : where it was begun before the evaluation

    Notes      The proof goes on beside all this, and beside the papers that do not tell of it.
    """
    from linewright.planning.money.comparison import compare_with_baseline
    from linewright.planning.money.parts_list import parts_list
    from linewright.planning.run_off import plan_run_off

    told: Tell = tell if tell is not None else lambda words, done, of: None
    line, run = evaluation.line, evaluation.run
    seed = 1 if run is None else run.seed
    no_run = why_no_run(evaluation) if run is None else ""
    proving: ProofAside | str = no_run or NOT_ASKED
    if run is not None and tells_proof(papers):
        proving = ProofAside(line, seed) if proof is None else proof
    gains: Gains | None = None
    effects: tuple[Effect, ...] = ()
    if "dossier" in papers and evaluation.plan is not None and run is not None:
        from linewright.planning.assumed import find_effects
        from linewright.planning.gains import find_gains

        told("Trying what would help", 0, 1)
        gains = find_gains(line, evaluation.layout, evaluation.plan, run, workers)
        told("Trying what is assumed", 0, 1)
        effects = find_effects(evaluation, workers)
    stops: StopSheet | str = NOT_ASKED
    if "recovery" in papers:
        from linewright.flow.stop_sheet import stop_sheet

        told("Stopping the line at every station", 0, 1)
        stops = no_run or _or_why(lambda: stop_sheet(line, seed, workers))
    told("Writing", 0, 1)
    parts = parts_list(line, evaluation.layout)
    comparison: Comparison | str = no_run or _or_why(lambda: compare_with_baseline(evaluation, parts))
    run_off: RunOff | str = no_run or _or_why(lambda: plan_run_off(evaluation))
    return Material(evaluation, gains, effects, proving, stops, parts, comparison, run_off, before, for_customer)


def _or_why(find: Callable[[], _Found]) -> _Found | str:
    """What is found, or why it cannot be."""
    try:
        return find()
    except SimulationError as problem:
        return str(problem)


def tells_proof(papers: Collection[str]) -> bool:
    """Whether the proof of the traffic stands in one of these papers."""
    return not _TELL_PROOF.isdisjoint(papers)
