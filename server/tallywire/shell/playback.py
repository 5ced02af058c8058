"""Playing a rehearsal: it goes on, stands still, runs faster, and goes to any moment and back.

A rehearsal is a journal folded up to a moment. To go to another one the books are filled anew with what was recorded
until then, and everybody gets whole pictures: nothing can be left of the moment from which it came.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from tallywire.core.errors import BadMessage
from tallywire.core.facts import LaneFact
from tallywire.core.rehearsal.moments import plain_moments
from tallywire.core.rehearsal.placing import HeatPlace, Placed, heat_places
from tallywire.core.rehearsal.what_if import WhatIf, changed
from tallywire.shell.clock import Timer
from tallywire.shell.cue_search import CueSearch
from tallywire.shell.live import LiveCompetition
from tallywire.shell.pace import Pace
from tallywire.shell.reel import Reel
from tallywire.wire.roles import ROLES
from tallywire.wire.rules import Sender

SLOWEST, FASTEST = 0.25, 60.0
CHANGES_MOST = 100
SHORTEST_LOOP_MS = 1000
AFTER_MS = 3000
"""So long after the last fact and the end of the last heat the rehearsal can be gone to."""
_LOOK_AGAIN_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """What is played: the facts as they were recorded, each with the time at which it is told.

    It begins at the recorded time `begin_ms`, in Unix milliseconds, and is played from the moment `from_ms` on.
    """

    placed: Sequence[Placed]
    begin_ms: int
    from_ms: int = 0


class Playback:
    """Plays a script into a competition. Moments are milliseconds since the script began; `done` is set at its end."""

    def __init__(self, live: LiveCompetition, reel: Reel, script: Script, *, cues: CueSearch) -> None:
        self._live = live
        self._reel = reel
        self._script = script
        self._clock = live.clock
        self.cues = cues
        self._timer: Timer | None = None
        self._rate = 1.0
        self._loop: tuple[int, int] | None = None
        self.changes: list[WhatIf] = []
        self._read(script.placed)
        self.done = asyncio.Event()
        self._know_senders()

    def begin(self, rate: float) -> None:
        """Play at this speed; everything before the script's first moment has happened."""
        self._rate = rate
        self._go(self._script.from_ms, rate=rate)

    @property
    def now_ms(self) -> int:
        """The moment at which the rehearsal is."""
        return self._reel.pace.recorded_at(self._clock.unix_ms()) - self._script.begin_ms

    @property
    def length_ms(self) -> int:
        """The last moment."""
        ends = [self._placed[-1].at_ms, *(each.end_ms for each in self.heats)]
        return max(ends) - self._script.begin_ms + AFTER_MS

    def play(self) -> None:
        """Go on."""
        self._keep(self._rate)

    def pause(self) -> None:
        """Stand still: heat clocks too. The crew can go on working."""
        self._keep(0)

    def hurry(self, rate: float) -> None:
        """Go on this many times as fast, now or once it plays again. Raises BadMessage."""
        if not SLOWEST <= rate <= FASTEST:
            raise BadMessage(f"found speed {rate:g}, expected one from {SLOWEST:g} to {FASTEST:g}")
        self._rate = rate
        self._keep(rate if self._reel.pace.rate else 0)

    def to(self, moment_ms: int) -> None:
        """Be at a moment, and go on from there, or stand there if it stood still. Raises BadMessage."""
        if not 0 <= moment_ms <= self.length_ms:
            raise BadMessage(f"found {_said(moment_ms)}, expected a moment from 0.0 s to {_said(self.length_ms)}")
        self._go(moment_ms, rate=self._reel.pace.rate)

    def moment_of(self, heat: str, at_ms: int) -> int:
        """Give the moment at which the clock of a heat shows this. Raises BadMessage."""
        for each in self.heats:
            if each.heat == heat:
                return each.start_ms + at_ms - self._script.begin_ms
        heats = ", ".join(each.heat for each in self.heats)
        raise BadMessage(f'found heat "{heat}", expected one that is recorded: {heats}')

    def heat_at(self, moment_ms: int) -> str:
        """Give the heat that started last at a moment; the first one before that."""
        at_ms = moment_ms + self._script.begin_ms
        begun = [each.heat for each in self.heats if each.start_ms <= at_ms]
        return begun[-1] if begun else next((each.heat for each in self.heats), "")

    def loop(self, from_ms: int, to_ms: int) -> None:
        """Play a passage again and again, from its beginning. Raises BadMessage."""
        if not 0 <= from_ms <= to_ms - SHORTEST_LOOP_MS or to_ms > self.length_ms:
            raise BadMessage(
                f"found a passage from {_said(from_ms)} to {_said(to_ms)}, expected one of a second or more "
                f"within {_said(self.length_ms)}"
            )
        self._loop = from_ms, to_ms
        self.to(from_ms)

    def unloop(self) -> None:
        """Go on past the end of the passage."""
        self._loop = None
        self._arm()

    def change(self, change: WhatIf) -> None:
        """Play what would be if this had happened, from where the rehearsal is. Raises BadMessage."""
        self.moment_of(change.heat, 0)
        if len(self.changes) >= CHANGES_MOST:
            raise BadMessage(f"found {CHANGES_MOST} changes, expected no more: take one back first")
        lanes = self._live.competition.heats[change.heat].lanes
        if change.lane not in lanes:
            raise BadMessage(f"found lane {change.lane}, expected one of {', '.join(map(str, lanes))}")
        if len(changed(self._placed, [change])) == len(self._placed) and change.kind == "no_rep":
            raise BadMessage(f"found no work of lane {change.lane} after that, expected a repetition to call a no-rep")
        self._replay([*self.changes, change])

    def undo(self) -> None:
        """Take the last change back. Raises BadMessage when there is none."""
        if not self.changes:
            raise BadMessage("found no change to take back, expected one")
        self._replay(self.changes[:-1])

    def state(self) -> dict[str, Any]:
        """Give what those who steer have to know, as plain data."""
        competition, zero = self._live.competition, self._script.begin_ms
        heats = [
            {
                "id": each.heat,
                "title": competition.title_of(competition.heats[each.heat]),
                "start_ms": each.start_ms - zero,
                "end_ms": each.end_ms - zero,
                "lanes": {
                    str(lane): competition.entries[entry].short
                    for lane, entry in competition.heats[each.heat].lanes.items()
                },
            }
            for each in self.heats
        ]
        loop = {} if self._loop is None else {"loop": {"from_ms": self._loop[0], "to_ms": self._loop[1]}}
        return {
            "at_ms": min(self.now_ms, self.length_ms),
            "length_ms": self.length_ms,
            "playing": self._reel.pace.rate > 0,
            "speed": self._rate,
            "heats": heats,
            "changes": [
                {"kind": each.kind, "heat": each.heat, "lane": each.lane, "at_ms": each.at_ms} for each in self.changes
            ],
            **loop,
        }

    def close(self) -> None:
        """Stop playing."""
        self._disarm()
        self.cues.close()

    def _replay(self, changes: list[WhatIf]) -> None:
        self.changes = changes
        self._read(changed(self._script.placed, changes))
        self._reel.put(self._placed)
        self._go(min(self.now_ms, self.length_ms), rate=self._reel.pace.rate)

    def _read(self, placed: Sequence[Placed]) -> None:
        facts = [each.fact for each in placed]
        self._placed = placed
        self.heats: Sequence[HeatPlace] = heat_places(self._live.competition, placed)
        self.plain_moments = plain_moments(self._live.competition, facts)
        self.cues.begin([each.heat for each in self.heats], facts)

    def _keep(self, rate: float) -> None:
        self._catch_up()
        now_ms = self._clock.unix_ms()
        self._set(Pace(now_ms, self._reel.pace.recorded_at(now_ms), rate))
        self._live.keep_pace(self._reel.pace)
        self._arm()

    def _go(self, moment_ms: int, *, rate: float) -> None:
        at_ms = moment_ms + self._script.begin_ms
        facts = self._reel.turn_to(at_ms)
        self._set(Pace(self._clock.unix_ms(), at_ms, rate))
        desks = {each.heat: self.cues.desk_at(each.heat, at_ms - each.start_ms) for each in self.heats}
        self._live.jump(facts, self._reel.pace, lines=self._reel.position, desks=desks)
        self._arm()

    def _set(self, pace: Pace) -> None:
        self._reel.pace = pace

    def _arm(self) -> None:
        """Wait for what comes next: a fact, or the end of the passage that is played again and again."""
        self._disarm()
        if self._reel.next_ms is None:
            self.done.set()
        due = [] if self._reel.next_ms is None else [self._reel.next_ms]
        due += [] if self._loop is None else [self._loop[1] + self._script.begin_ms]
        if not due:
            return
        left_s = self._reel.pace.seconds_until(min(due), unix_ms=self._clock.unix_ms())
        if left_s is not None:
            wait_s = min(max(left_s, 0) + 0.001, _LOOK_AGAIN_S)
            self._timer = self._clock.call_at(self._clock.now() + wait_s, self._look)

    def _look(self) -> None:
        self._timer = None
        if self._loop is not None and self.now_ms >= self._loop[1]:
            self._go(self._loop[0], rate=self._reel.pace.rate)
            return
        self._catch_up()
        self._arm()

    def _catch_up(self) -> None:
        facts = self._reel.play_to(self._reel.pace.recorded_at(self._clock.unix_ms()))
        if facts:
            self._live.play(facts)

    def _disarm(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _know_senders(self) -> None:
        """Know every fact of the recording as taken, and let the table see its pads as if they were connected."""
        pads: dict[str, Sender] = {}
        facts = [each.fact for each in self._script.placed]
        self._live.senders.restore_facts(facts)
        for fact in facts:
            role = ROLES.get(fact.sender.partition("-")[0])
            if role is not None and role.counts and isinstance(fact, LaneFact):
                floor = self._live.competition.heats[fact.heat].floor
                pads.setdefault(fact.sender, Sender(name=fact.sender, role=role, lane=fact.lane, floor=floor))
        for pad in pads.values():
            self._live.pads.join(pad)


def _said(moment_ms: int) -> str:
    return f"{moment_ms / 1000:.1f} s"
