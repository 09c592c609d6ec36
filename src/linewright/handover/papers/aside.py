"""The proof of a line's traffic in a process of its own: half of it is plain Python, which no thread hastens."""

from __future__ import annotations

import contextlib
import signal
from multiprocessing import get_context, resource_tracker
from typing import TYPE_CHECKING

from linewright.errors import SimulationError

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from linewright.line.model import Line
    from linewright.proof import Proof


class ProofAside:
    """A proof that is going on; the process ends with this one, however that ends.

    Parameters
    ----------
    line : valid
    seed : of the shift that is judged and of the stops
    """

    def __init__(self, line: Line, seed: int) -> None:
        self._line, self._seed = line, seed
        self._found: Proof | str | None = None
        context = get_context("spawn")
        self._ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=_prove_into, args=(theirs, line, seed), daemon=True)
        resource_tracker.ensure_running()  # would let the signal through again, were it begun below
        # Who interrupts means this process, which then ends the other: so that one never hears of it.
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            process.start()
        except OSError:  # a system that lends no process: the proof is made here, when it is asked for
            self._ours.close()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        theirs.close()

    def result(self) -> Proof | str:
        """The proof, or why there is none; whoever asks first waits until it is done."""
        if self._found is None:
            try:
                self._found = self._ours.recv()
            except (EOFError, OSError):  # the other process was stopped, for want of memory say, or never began
                self._found = proof_or_why(self._line, self._seed)
        return self._found


def proof_or_why(line: Line, seed: int) -> Proof | str:
    """The proof of a line's traffic, or why there is none, in words; the same as ``prove`` finds.

    Parameters
    ----------
    line, seed : see `ProofAside`
    """
    from linewright.proof import prove

    try:
        return prove(line, seed)
    except SimulationError as problem:
        return str(problem)


def _prove_into(there: Connection, line: Line, seed: int) -> None:
    with contextlib.suppress(OSError):  # nobody is there any more to read it
        there.send(proof_or_why(line, seed))
