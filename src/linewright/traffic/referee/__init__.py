"""The referee: judges the log of moves of a run by rules of its own, without knowing how the run was made.

From the log, the line and its layout every move is integrated anew; see docs/semantics.md, Gridlock, The referee.
"""

from linewright.traffic.referee.judge import Followed, follow_log, judge_followed, judge_log
from linewright.traffic.referee.report import GreatestUse, LeastGap, Looked, RefereeReport, Violation

__all__ = [
    "Followed",
    "GreatestUse",
    "LeastGap",
    "Looked",
    "RefereeReport",
    "Violation",
    "follow_log",
    "judge_followed",
    "judge_log",
]
