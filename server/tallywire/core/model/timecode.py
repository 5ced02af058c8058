"""SMPTE ST 12-1 timecode: labels of frames, without and with frames dropped.

At 30/1.001 frames a second a label that counts 30 a second falls behind the clock by 3.6 s an hour. Drop-frame counting
leaves out the first two labels (four at 60/1.001) of every minute but each tenth, so that it keeps up to 86 ms a day.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

_LABEL = re.compile(r"(\d\d):([0-5]\d):([0-5]\d)([:;])(\d\d)", re.ASCII)
_MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A frame rate: exact frames a second, frames a second as labels count, and labels left out of a minute."""

    name: str
    exact: Fraction
    count: int
    dropped: int = 0

    @property
    def frames_a_minute(self) -> int:
        """Labels in a minute that leaves some out."""
        return self.count * 60 - self.dropped

    @property
    def frames_a_ten(self) -> int:
        """Labels in ten minutes; the first of the ten minutes leaves none out."""
        return self.frames_a_minute * 10 + self.dropped

    @property
    def frames_a_day(self) -> int:
        """Labels in a day."""
        return self.frames_a_ten * (_MINUTES_A_DAY // 10)


RATES: Mapping[str, Rate] = {
    each.name: each
    for each in (
        Rate(name="24", exact=Fraction(24), count=24),
        Rate(name="25", exact=Fraction(25), count=25),
        Rate(name="30", exact=Fraction(30), count=30),
        Rate(name="50", exact=Fraction(50), count=50),
        Rate(name="60", exact=Fraction(60), count=60),
        Rate(name="29.97", exact=Fraction(30000, 1001), count=30),
        Rate(name="29.97 drop", exact=Fraction(30000, 1001), count=30, dropped=2),
        Rate(name="59.94", exact=Fraction(60000, 1001), count=60),
        Rate(name="59.94 drop", exact=Fraction(60000, 1001), count=60, dropped=4),
    )
}


def label(frame: int, rate: Rate) -> str:
    """Give the label of a frame, counted from 0; after a day it begins again. Drop-frame labels have a semicolon."""
    number = frame % rate.frames_a_day
    if rate.dropped:
        tens, rest = divmod(number, rate.frames_a_ten)
        number += 9 * rate.dropped * tens
        if rest >= rate.count * 60:
            number += rate.dropped * ((rest - rate.dropped) // rate.frames_a_minute)
    seconds, frames = divmod(number, rate.count)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    mark = ";" if rate.dropped else ":"
    return f"{hour:02d}:{minute:02d}:{second:02d}{mark}{frames:02d}"


def frame_of(text: str, rate: Rate) -> int:
    """Give the frame, counted from 0, of a label. Raises ValueError for one that does not exist at this rate."""
    match = _LABEL.fullmatch(text)
    if match is None or (match[4] == ";") != bool(rate.dropped):
        shape = "hh:mm:ss;ff" if rate.dropped else "hh:mm:ss:ff"
        raise ValueError(f'found "{text}", expected a timecode such as {shape} at {rate.name}')
    hour, minute, second, frames = (int(match[index]) for index in (1, 2, 3, 5))
    if hour > 23 or frames >= rate.count:
        raise ValueError(f'found "{text}", expected at most 23 hours and {rate.count - 1} frames at {rate.name}')
    if minute % 10 and second == 0 and frames < rate.dropped:
        raise ValueError(f'found "{text}", expected a label that exists: drop-frame counting leaves this one out')
    minutes = hour * 60 + minute
    whole = (minutes * 60 + second) * rate.count + frames
    return whole - rate.dropped * (minutes - minutes // 10)


def time_of_day_label(unix_ms: int, rate: Rate) -> str:
    """Give the label of the frame that is on at a wall time, in UTC, counting from midnight."""
    day_ms = unix_ms % (24 * 60 * 60 * 1000)
    return label(int(day_ms * rate.exact / 1000), rate)
