"""What the string line says: the sentences of its marks, and what it leaves out."""

from __future__ import annotations

from linewright.pictures.track.jams import Jam
from linewright.pictures.track.sheet import Sheet
from linewright.pictures.track.threads import Seen
from linewright.pictures.track.time_scale import from_to, is_compressed, seconds
from linewright.pictures.track.works import DrawnFailure, DrawnWork
from linewright.quantities import KEEP


def heading_words(sheet: Sheet, seen: Seen) -> str:
    """How to read it, what was thinned, and what must not be looked for in vain."""
    words = "Time runs down the page; a carrier is upright while it rests or rides, flat while it moves."
    if is_compressed(seen.window.end_s - seen.window.start_s):
        words += " So long a stretch is compressed: points that a pixel cannot show are left out"
        joined = any(work.count > 1 for work in seen.works)
        words += "; works too close to be told apart are one stroke." if joined else "."
    drawn = {thread.carrier for thread in seen.threads}
    missing = [str(number) for number in range(sheet.line.carriers) if number not in drawn]
    if missing:
        words += f" Not drawn, because the log shows no move of them: carriers {', '.join(missing)}."
    by_clock = [one.name for one in sheet.line.stations if any(failure.of == "clock" for failure in one.failures)]
    if by_clock:
        words += f" Failures by the clock are drawn only where they come in a work: at {', '.join(by_clock)}."
    return words


def work_name(work: DrawnWork, span_s: float) -> str:
    """The sentence of a work, or of several that are one stroke."""
    if work.count > 1:
        when = from_to(work.start_s, work.end_s, span_s)
        return f"work at {work.station}: {work.count} parts one after the other, {when}"
    return f"work at {work.station}: carrier {work.carrier}, part {work.serial}"


def failure_name(one: DrawnFailure, span_s: float) -> str:
    """The sentence of a failure."""
    said = f"failure at {one.station}: {seconds(one.repair_s)} repair"
    when = from_to(one.start_s, one.end_s, span_s)
    if one.is_exact:
        return f"{said}, {when}"
    return f"{said} within the work from {when}; the log does not keep when in it"


def failure_label(one: DrawnFailure) -> str:
    """The same beside its area."""
    return f"{one.station} down {seconds(one.repair_s)}"


def jam_name(jam: Jam, span_s: float) -> str:
    """The sentence of a jam."""
    kind = "standing empty" if jam.is_empty else "standing"
    longer = "" if jam.is_over else " and longer"
    when = from_to(jam.start_s, jam.end_s, span_s)
    return f"{kind}: {jam.carriers}{KEEP}carriers {jam.before}, up to {seconds(jam.longest_s)}{longer}, {when}"
