"""What the cues of intervals need in words."""

from __future__ import annotations

from tallywire.core.cues.format_words import FormatWords
from tallywire.core.cues.wording import COUNT, NAME, TIME
from tallywire.formats.intervals.rules import Counts, IntervalRules

PIECES = "pieces"
WORDS = FormatWords(
    lines={
        "finish_first_pieces": {"name": NAME, "time_ms": TIME, "place": COUNT, "behind_ms": TIME, "counts": PIECES},
        "finish_pieces": {"name": NAME, "other": NAME, "reps": COUNT, "ahead_by": COUNT, "counts": PIECES},
        "finish_pieces_level": {"name": NAME, "other": NAME, "reps": COUNT, "counts": PIECES},
        "piece_lead_taken": {"name": NAME, "before": NAME, "reps": COUNT, "piece": COUNT},
        "piece_lead_traded": {"name": NAME, "before": NAME, "reps": COUNT, "piece": COUNT},
        "piece_taken": {
            "name": NAME,
            "before": NAME,
            "piece": COUNT,
            "pieces": COUNT,
            "reps": COUNT,
            "ahead_by": COUNT,
            "counts": PIECES,
        },
        "piece_taken_time": {
            "name": NAME,
            "before": NAME,
            "piece": COUNT,
            "pieces": COUNT,
            "time_ms": TIME,
            "ahead_ms": TIME,
            "counts": PIECES,
        },
        "piece_taken_only": {"name": NAME, "before": NAME, "piece": COUNT, "pieces": COUNT, "time_ms": TIME},
        "piece_taken_plain": {"name": NAME, "before": NAME, "piece": COUNT, "pieces": COUNT},
        "piece_leads": {
            "name": NAME,
            "other": NAME,
            "piece": COUNT,
            "pieces": COUNT,
            "reps": COUNT,
            "ahead_by": COUNT,
            "counts": PIECES,
        },
        "piece_leads_time": {
            "name": NAME,
            "other": NAME,
            "piece": COUNT,
            "pieces": COUNT,
            "time_ms": TIME,
            "ahead_ms": TIME,
            "counts": PIECES,
        },
        "piece_leads_only": {"name": NAME, "piece": COUNT, "pieces": COUNT, "time_ms": TIME},
        "piece_leads_plain": {"name": NAME, "piece": COUNT, "pieces": COUNT},
        "piece_level": {
            "name": NAME,
            "other": NAME,
            "piece": COUNT,
            "pieces": COUNT,
            "reps": COUNT,
            "counts": PIECES,
        },
        "piece_shared": {"name": NAME, "piece": COUNT, "pieces": COUNT, "count": COUNT},
        "piece_first": {"name": NAME, "piece": COUNT, "time_ms": TIME},
        "piece_most": {"name": NAME, "piece": COUNT, "reps": COUNT},
    },
    choices={PIECES: ("sum", "lowest", "slowest", "best")},
)


def counting(intervals: IntervalRules) -> str:
    """Which pieces count, as the wording names it: the slowest of pieces counted in reps is the lowest."""
    return "lowest" if intervals.counts is Counts.SLOWEST and not intervals.timed else intervals.counts.value
