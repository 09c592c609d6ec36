"""The dossier as a whole: its parts in the order in which a reader wants them."""

from __future__ import annotations

from typing import Final

from linewright.handover.document.blocks import Document, Part
from linewright.handover.dossier.answer import answer_part
from linewright.handover.dossier.electrical import bus_part, power_part
from linewright.handover.dossier.limits import accuracy_part, motion_part, strength_part
from linewright.handover.dossier.places import places_part, transfers_part
from linewright.handover.dossier.rate import rate_part
from linewright.handover.dossier.rests_on import rests_on_part
from linewright.handover.dossier.safety import safety_part
from linewright.handover.dossier.track import layout_part, track_part
from linewright.handover.dossier.traffic import proof_part
from linewright.handover.dossier.upkeep import upkeep_part
from linewright.handover.files import Content
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import document_of, pages_of

NAME: Final = "dossier"
SMALL: Final = 0.87
"""Letters of the chapters that one looks things up in."""


def dossier_document(material: Material) -> Document:
    """The dossier: the answer on page one, the track chart, the layout, a page a station, then a chapter a subject.

    Parameters
    ----------
    material : of the line
    """
    # What knows nothing of the proof is drawn first: the proof may still be going on.
    apart = [part for of in (track_part, layout_part, places_part) for part in of(material)]
    chapters = (
        rate_part,
        transfers_part,
        motion_part,
        strength_part,
        accuracy_part,
        power_part,
        bus_part,
        proof_part,
        upkeep_part,
        safety_part,
        rests_on_part,
    )
    together = Part(tuple(block for of in chapters for part in of(material) for block in part.blocks), letters=SMALL)
    return document_of("Dossier", material, [*answer_part(material), *apart, together])


def files_of(material: Material) -> dict[str, Content]:
    """The dossier as PDF and as HTML.

    Parameters
    ----------
    material : of the line
    """
    return {**pages_of(NAME, lambda: dossier_document(material))}
