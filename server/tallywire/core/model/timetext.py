"""Times as people write them, from and to integer milliseconds."""

from __future__ import annotations

import re

_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):([0-5]\d)(?:\.(\d{1,3}))?", re.ASCII)


def clock_text(ms: int, *, decimals: int = 3, round_up: bool = False) -> str:
    """Write a time as m:ss.mmm, or h:mm:ss.mmm from one hour on: 702318 → 11:42.318.

    With fewer decimals the rest is cut off; with `round_up` it is rounded up instead: 2:09:44.3 → 2:09:45, as athletics
    does for road times (World Athletics, technical rule 19, formerly rule 165).
    """
    step = 10 ** (3 - decimals)
    ticks = -(-ms // step) if round_up else ms // step
    seconds, fraction = divmod(ticks, 10**decimals)
    minutes, second = divmod(seconds, 60)
    hours, minute = divmod(minutes, 60)
    head = f"{hours}:{minute:02d}" if hours else f"{minute}"
    return f"{head}:{second:02d}" + (f".{fraction:0{decimals}d}" if decimals else "")


def parse_clock(text: str) -> int:
    """Read m:ss, m:ss.mmm or h:mm:ss and give milliseconds. Raises ValueError for anything else."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise ValueError(f'found "{text}", expected a time such as "15:00" or "11:42.318"')
    hours, minutes, seconds, fraction = match.groups()
    if hours and int(minutes) > 59:
        raise ValueError(f'found "{text}", expected minutes below 60 after the hours')
    whole = (int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)
    return whole * 1000 + int((fraction or "").ljust(3, "0"))
