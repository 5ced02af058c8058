"""What a measure of answers refuses to measure."""

from __future__ import annotations

from typing import cast

import pytest

from tallywire.core.errors import TallywireError
from tallywire.measure.acks import answered
from tallywire.measure.ways import FloorPads


class Pads:
    """Pads whose every tap is answered at once; `frames` are sent to those who watch after each."""

    def __init__(self, *, frames: int) -> None:
        self.frames = frames
        self.texts = 0
        self.waits_ms: list[float] = []

    def attend_until(self, when: float) -> None:
        """Nothing comes by itself."""

    def tap(self) -> None:
        """Answer at once."""
        self.waits_ms.append(1.0)
        self.texts += 1 + self.frames


def test_answers_to_taps_that_change_nothing_are_no_figures() -> None:
    """Repeats are answered without being written or shown: a measure of them says so instead of giving figures."""
    with pytest.raises(TallywireError, match="no frame after 5 facts"):
        answered(cast(FloorPads, Pads(frames=0)), 1000, 0.005)


def test_each_tap_has_one_wait() -> None:
    """With frames for those who watch there are as many waits as taps, those of earlier taps forgotten."""
    pads = Pads(frames=1)
    pads.waits_ms.append(99.0)
    assert answered(cast(FloorPads, pads), 1000, 0.005) == [1.0] * 5
