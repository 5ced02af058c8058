"""What the crew does in a rehearsal, "what if" and jumps, in any order: it is as if that alone had happened live."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from random import Random, SystemRandom
from typing import Any

import pytest

from shell.rehearsed import VIEWS, WORKED, Rehearsed, played_live, recorded, watching
from shell.stage import START_UNIX_MS, FakeTransport, joined, journalled, recording
from shell.test_rehearsal import SHOWS, differing
from tallywire.core.errors import BadMessage
from tallywire.core.facts import CountCorrected, Fact, FactVoided, HoldPlaced, HoldReleased, NoRepCalled, Withdrawn
from tallywire.core.rehearsal.placing import Placed
from tallywire.core.rehearsal.what_if import SENDER, WhatIf, changed
from wire.talk import facts, hello

STEPS, CHECKS = 8, 3
CREW = "table-crew"


@dataclass
class Crew:
    """A rehearsal at whose table somebody works, and what of that work was not taken back by going to before it."""

    on: Rehearsed
    placed: list[Placed]
    chance: Random
    own: list[Placed] = field(default_factory=list)
    sent: int = 0

    @property
    def at_ms(self) -> int:
        """The recorded time."""
        return self.on.playback.now_ms + START_UNIX_MS

    def to(self, moment_ms: int) -> None:
        """Go somewhere: what was done after it is gone."""
        self.on.playback.to(moment_ms)
        self._forget()

    def _forget(self) -> None:
        self.own = [each for each in self.own if each.at_ms <= self.at_ms]

    def anywhere(self) -> None:
        """Go anywhere."""
        self.to(self.chance.randrange(self.on.playback.length_ms))

    def back(self) -> None:
        """Go back beyond the last thing that was done, or close to it."""
        last_ms = self.own[-1].at_ms if self.own else self.at_ms
        self.to(max(0, last_ms - START_UNIX_MS - self.chance.choice([0, 1, 5000, 60_000])))

    def play(self) -> None:
        """Play on for some seconds."""
        stage = self.on.playback
        stage.hurry(self.chance.choice([1, 20, 60]))
        stage.play()
        self.on.clock.jump(self.chance.random() * 3)
        stage.pause()
        if stage.now_ms > stage.length_ms:
            self.to(stage.length_ms)

    def change(self) -> None:
        """See what would be if."""
        lane = self.chance.choice(list(self._heat.lanes))
        kind = self.chance.choice(["no_rep", "withdrawal"])
        try:
            self.on.playback.change(WhatIf(kind=kind, heat=self._heat.id, lane=lane, at_ms=self._clock_ms))  # type: ignore[arg-type]
        except BadMessage:
            return
        self._forget()

    def undo(self) -> None:
        """Take it back."""
        if self.on.playback.changes:
            self.on.playback.undo()
            self._forget()

    async def correct(self) -> None:
        """Send something from the table."""
        self.sent += 1
        lane = self.chance.choice(list(self._heat.lanes))
        stamp: dict[str, Any] = {
            "id": f"crew-{self.sent}",
            "heat": self._heat.id,
            "at_ms": self._clock_ms,
            "sender": CREW,
            "sequence": self.sent,
        }
        fact = self.chance.choice(
            [
                CountCorrected(lane=lane, scored_reps=self.chance.randrange(60), reason="seen otherwise", **stamp),
                NoRepCalled(lane=lane, **stamp),
                HoldPlaced(lane=lane, **stamp),
                HoldReleased(lane=lane, **stamp),
                Withdrawn(lane=lane, **stamp),
                *self._void(lane, stamp),
            ]
        )
        self.own.append(Placed(self.at_ms, fact))
        joined(self.on.live, hello(CREW), facts(fact))[1].close()
        await journalled(self.on.live)

    def _void(self, lane: int, stamp: dict[str, Any]) -> list[Fact]:
        done = [
            each.fact.id for each in self.script if each.at_ms <= self.at_ms and getattr(each.fact, "lane", 0) == lane
        ]
        return [FactVoided(voids=done[-1], lane=lane, **stamp)] if done else []

    @property
    def script(self) -> list[Placed]:
        """All that was and will be told, each sender's facts numbered as a live one's."""
        told = sorted([*changed(self.placed, self.on.playback.changes), *self.own], key=lambda each: each.at_ms)
        numbers = {SENDER: 0, CREW: 0}
        for place, each in enumerate(told):
            if each.fact.sender in numbers:
                numbers[each.fact.sender] += 1
                told[place] = Placed(each.at_ms, replace(each.fact, sequence=numbers[each.fact.sender]))
        return told

    @property
    def _heat(self) -> Any:
        return self.on.live.books.snapshot().heat("floor").heat

    @property
    def _clock_ms(self) -> int:
        return max(0, self.on.live.books.heat_now(self._heat.id).clock_ms)


async def test_whatever_was_done_the_moment_is_as_if_it_alone_had_been(request: pytest.FixtureRequest) -> None:
    """After corrections, changes, and jumps back beyond both, every view is the one that the facts which are left make
    of the moment live; also for those who take packed pictures. One show and four views at random, or all."""
    seed = SystemRandom().randrange(10**9)
    print(f"seed {seed}")
    chance, all_of_them = Random(seed), request.config.getoption("--long")
    for names in SHOWS if all_of_them else [chance.choice(SHOWS)]:
        work, placed = recorded(*names)
        on = Rehearsed(work, placed, VIEWS if all_of_them else ("heat", "table", *chance.sample(VIEWS[1:6], 2)))
        crew, packed = Crew(on, placed, chance), watching(on.live, on.views, packed=True)[1]
        on.playback.pause()
        async with recording(on.live):
            for _ in range(3 * CHECKS if all_of_them else CHECKS):
                crew.anywhere()
                for _ in range(STEPS):
                    await _step(crew)
                on.clock.jump(0.1)
                await _check(crew, packed, (seed, names))
        on.live.close()


async def _step(crew: Crew) -> None:
    do = crew.chance.choice([crew.correct, crew.correct, crew.play, crew.back, crew.change, crew.undo])
    coming = do()
    if coming is not None:
        await coming


async def _check(crew: Crew, packed: FakeTransport, said: tuple[Any, ...]) -> None:
    on, now_ms = crew.on, crew.on.playback.now_ms
    shown, whole = on.shown(), on.shown_to(packed)
    assert differing(whole, shown) == {}, said
    worked = on.worked_out_after_a_jump()
    live = await played_live(on.live.competition, crew.script, [now_ms], (*on.views, *WORKED))
    assert differing(shown | worked, live[now_ms]) == {}, (*said, now_ms, on.playback.changes, crew.own)
