"""Steering a rehearsal: what somebody asked for, done on the playback; and the moments that one can ask for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tallywire.core.errors import BadMessage
from tallywire.core.model.competition import Competition
from tallywire.core.model.timetext import clock_text
from tallywire.core.rehearsal.moments import Found, told
from tallywire.core.rehearsal.what_if import WhatIf
from tallywire.shell.playback import Playback
from tallywire.wire.catalogue import catalogue
from tallywire.wire.steering import Steer

_JUST_NOW_MS = 1000
"""A moment that is no further back than this is the one at which we are: `last` goes to the one before it."""


class Steering:
    """Does on the playback what is asked for."""

    def __init__(self, playback: Playback, competition: Competition) -> None:
        self._playback = playback
        self._competition = competition

    def state(self, language: str = "") -> dict[str, Any]:
        """Give where the rehearsal is, with all moments that can be gone to; `language` is that of their words."""
        moments = [
            {"moment_ms": moment_ms, "kind": each.kind, "heat": each.heat, "line": each.line}
            for moment_ms, each in self._moments(language)
        ]
        return {**self._playback.state(), "moments": moments, "still_looking": self._playback.cues.still_looking}

    def said(self) -> str:
        """Say in a line where the rehearsal is."""
        now_ms = min(self._playback.now_ms, self._playback.length_ms)
        heat = self._playback.heat_at(now_ms)
        clock_ms = max(0, now_ms - self._playback.moment_of(heat, 0)) if heat else now_ms
        state = self._playback.state()
        how = f"plays at speed {state['speed']:g}" if state["playing"] else "stands still"
        return f"{heat} at {clock_text(clock_ms)}, {how}"

    def steer(self, wish: Steer) -> None:
        """Do it. Raises BadMessage that says what was expected."""
        _DOERS[wish.do](self, wish)

    def _moments(self, language: str = "") -> list[tuple[int, Found]]:
        words = catalogue(language or self._competition.language)
        found = [*told(self._playback.plain_moments, words.tell), *self._playback.cues.cues(language)]
        placed = [(self._playback.moment_of(each.heat, each.at_ms), each) for each in found]
        return sorted(placed, key=lambda pair: pair[0])

    def _speed(self, wish: Steer) -> None:
        self._playback.hurry(float(_given(wish, "speed")))

    def _to(self, wish: Steer) -> None:
        self._playback.to(self._moment(wish, "at_ms") if wish.moment_ms is None else wish.moment_ms)

    def _by(self, wish: Steer) -> None:
        there_ms = min(self._playback.now_ms, self._playback.length_ms) + int(_given(wish, "ms"))
        self._playback.to(min(max(there_ms, 0), self._playback.length_ms))

    def _next(self, wish: Steer) -> None:
        kind, now_ms = str(_given(wish, "kind")), self._playback.now_ms
        later = [at_ms for at_ms, each in self._moments() if each.kind == kind and at_ms > now_ms]
        self._found(later[:1], kind, "after")

    def _last(self, wish: Steer) -> None:
        kind, now_ms = str(_given(wish, "kind")), self._playback.now_ms
        before = [at_ms for at_ms, each in self._moments() if each.kind == kind and at_ms < now_ms - _JUST_NOW_MS]
        self._found(before[-1:], kind, "before")

    def _found(self, moments: Sequence[int], kind: str, where: str) -> None:
        if not moments:
            more = ": cues are still being looked for" if kind == "cue" and self._playback.cues.still_looking else ""
            raise BadMessage(f"found no {kind.replace('_', '-')} {where} this moment, expected one{more}")
        self._playback.to(min(max(moments[0], 0), self._playback.length_ms))

    def _loop(self, wish: Steer) -> None:
        self._playback.loop(self._moment(wish, "at_ms"), self._moment(wish, "until_ms"))

    def _what_if(self, wish: Steer) -> None:
        change, lane, at_ms = _given(wish, "change"), int(_given(wish, "lane")), int(_given(wish, "at_ms"))
        self._playback.change(WhatIf(kind=change, heat=self._heat(wish), lane=lane, at_ms=at_ms))

    def _moment(self, wish: Steer, name: str) -> int:
        return self._playback.moment_of(self._heat(wish), int(_given(wish, name)))

    def _heat(self, wish: Steer) -> str:
        return wish.heat or self._playback.heat_at(self._playback.now_ms)


def _given(wish: Steer, name: str) -> Any:
    value = getattr(wish, name)
    if value is None:
        raise BadMessage(f"found no {name}, expected one to {wish.do}", path=name)
    return value


_DOERS: Mapping[str, Callable[[Steering, Steer], None]] = {
    "play": lambda on, _wish: on._playback.play(),
    "pause": lambda on, _wish: on._playback.pause(),
    "unloop": lambda on, _wish: on._playback.unloop(),
    "undo": lambda on, _wish: on._playback.undo(),
    "where": lambda _on, _wish: None,
    "speed": Steering._speed,
    "to": Steering._to,
    "by": Steering._by,
    "next": Steering._next,
    "last": Steering._last,
    "loop": Steering._loop,
    "what_if": Steering._what_if,
}
