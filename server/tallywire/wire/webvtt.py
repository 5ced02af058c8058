"""WebVTT: chapters of a film as text (W3C, WebVTT: The Web Video Text Tracks Format)."""

from __future__ import annotations

from collections.abc import Sequence

_ESCAPED = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", "\n": " ", "\r": " ", "\0": None})


def webvtt_text(chapters: Sequence[tuple[int, int, str]], title: str) -> str:
    """Give chapters of (begin, end, title), in ms from the film's first frame, as a file; each lasts 1 ms at least."""
    blocks = [f"WEBVTT {_escaped(title)}"]
    for number, (begin, end, text) in enumerate(chapters, start=1):
        blocks.append(f"{number}\n{_timestamp(begin)} --> {_timestamp(max(end, begin + 1))}\n{_escaped(text)}")
    return "\n\n".join(blocks) + "\n"


def _escaped(text: str) -> str:
    """The text of a cue: what would be a tag or an entity is escaped, a line break would end it, an arrow cut it."""
    return text.translate(_ESCAPED)


def _timestamp(ms: int) -> str:
    seconds, milli = divmod(ms, 1000)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour:02d}:{minute:02d}:{second:02d}.{milli:03d}"
