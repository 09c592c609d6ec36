"""The papers by their names, and the folder that they make."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from linewright.handover.files import WriteError
from linewright.handover.papers.material import Material, NothingToWrite, tells_proof
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.handover.files import Content

PAPERS: Final = ("dossier", "changes", "drawing", "tables", "acceptance", "recovery", "upkeep", "hazards")
"""All papers, in the order in which a reader wants them."""

# Paper -> the module that writes it; each has a function ``files_of(material)``.
_WRITERS: Final = {
    "dossier": "linewright.handover.dossier.dossier",
    "changes": "linewright.handover.papers.changes",
    "drawing": "linewright.handover.drawing.drawing",
    "tables": "linewright.handover.workbook.workbook",
    "acceptance": "linewright.handover.papers.acceptance",
    "recovery": "linewright.handover.papers.recovery",
    "upkeep": "linewright.handover.papers.upkeep",
    "hazards": "linewright.handover.papers.hazards",
}


@dataclass(frozen=True, eq=False)
class Papers:
    """What ``handover`` writes.

    Parameters
    ----------
    files : paper -> its files by name, each with its bytes
    not_written : name of each of the others, and why
    record : what the list of contents says beside the hashes
    """

    files: Mapping[str, Mapping[str, bytes]]
    not_written: tuple[tuple[str, str], ...]
    record: Mapping[str, Any]

    def all_files(self) -> dict[str, bytes]:
        """File name -> its bytes."""
        return {name: content for files in self.files.values() for name, content in files.items()}

    def page(self, out: str, removed: Sequence[str] = ()) -> str:
        """What is said of it: a line a paper, what could not be written, and what of a former folder is gone.

        Parameters
        ----------
        out : the folder
        removed : names of files that stood there and stand there no more
        """
        width = max(len(name) for name in (*self.files, *(name for name, _ in self.not_written)))
        lines = [f"Written to {out}:" if self.files else f"Nothing to write; {out} is as it was:"]
        for name, files in self.files.items():
            names = list(files)
            tables = [one for one in names if one.endswith(".csv")]
            shown = names if len(tables) < 3 else [*(one for one in names if one not in tables), f"{len(tables)} csv"]
            lines.append(f"  {name:<{width}}  {', '.join(shown)}")
        lines += [f"  {name:<{width}}  not written: {why}" for name, why in self.not_written]
        if removed:
            lines.append(f"The folder was written anew; gone from it: {', '.join(removed)}")
        return "\n".join(lines) + "\n"


def write_papers(material: Material, names: Collection[str]) -> Papers:
    """Write papers.

    Parameters
    ----------
    material : what they are written from
    names : which, out of PAPERS

    Raises
    ------
    WriteError   The disk refuses.
    """
    files: dict[str, Mapping[str, bytes]] = {}
    reasons: dict[str, str] = {}
    for name in _in_order(names):
        write: Callable[[Material], Mapping[str, Content]] = import_module(_WRITERS[name]).files_of
        try:
            written = write(material)
            files[name] = {file: content() if callable(content) else content for file, content in written.items()}
        except NothingToWrite as nothing:
            reasons[name] = str(nothing)
        except OSError as problem:  # the typesetter works in a folder of its own
            raise WriteError(f"cannot write the paper {name}: {problem.strerror or problem}") from problem
    return Papers(
        {name: files[name] for name in PAPERS if name in files},
        tuple((name, reasons[name]) for name in PAPERS if name in reasons),
        _record(material),
    )


def _in_order(names: Collection[str]) -> list[str]:
    """The papers in the order in which they are written: those that tell of the proof, which may still be going on,
    come last, of these first the one that has most to draw before it comes to the proof."""
    known = [name for name in PAPERS if name in names]
    return sorted(known, key=lambda paper: (tells_proof([paper]), paper != "dossier"))


def _record(material: Material) -> dict[str, Any]:
    run = material.evaluation.run
    before = material.before
    return {
        "program_version": __version__,
        "line": material.evaluation.line.name,
        "input_hash": material.evaluation.line.input_hash,
        "input_hash_before": None if before is None else before.line.input_hash,
        "seed": None if run is None else run.seed,
        "hours": None if run is None else run.hours,
        "runs": None if run is None else run.runs,
        "for_customer": material.for_customer,
    }
