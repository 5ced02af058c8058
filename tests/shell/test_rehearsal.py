"""A rehearsal shows at every moment what was shown live, however one came there; and nothing of a later moment."""

from __future__ import annotations

from random import Random, SystemRandom
from typing import Any

import pytest

from shell.rehearsed import VIEWS, WORKED, Rehearsed, played_live, recorded

SHOWS = (("saltmarsh-women-2",), ("estuary-lock-ladder", "estuary-sprints"), ("estuary-relay",), ("estuary-anchor",))
CHECKS = 8
Seen = tuple[dict[str, Any], dict[str, Any], dict[str, Any]]
"""What is shown; what is worked out there for a newcomer; and that after a jump to the very moment."""


async def test_replay_equals_live(request: pytest.FixtureRequest) -> None:
    """At 1x and 60x, after pauses, jumps and loops, every view is the one that live facts make of the moment.

    The call and the standings are what the recipes make of the moment; all but the cues, which depend on when one has
    listened, also without a jump to it. One show and three other views at random, all of them with `--long`.
    """
    seed = SystemRandom().randrange(10**9)
    print(f"seed {seed}")
    chance, all_of_them = Random(seed), request.config.getoption("--long")
    for names in SHOWS if all_of_them else [chance.choice(SHOWS)]:
        work, placed = recorded(*names)
        rehearsed = Rehearsed(work, placed, VIEWS if all_of_them else ("heat", *chance.sample(VIEWS[1:], 2)))
        seen = dict(_seen(rehearsed, chance) for _ in range(CHECKS))
        live = await played_live(work, placed, seen, (*rehearsed.views, *WORKED))
        for moment_ms, (found, going, jumped) in seen.items():
            assert differing(found | jumped, live[moment_ms]) == {}, (seed, names, moment_ms)
            without_cues = {view: live[moment_ms][view] | {"cues": None} for view in WORKED}
            on_its_way = {view: going[view] | {"cues": None} for view in WORKED}
            assert differing(on_its_way, without_cues) == {}, (seed, names, moment_ms)
        rehearsed.live.close()


def _seen(rehearsed: Rehearsed, chance: Random) -> tuple[int, Seen]:
    """Come to a moment in some way or other, and look at what is shown there once it stands still."""
    stage, clock = rehearsed.playback, rehearsed.clock
    end = chance.randrange(1000, stage.length_ms)
    begin = max(0, end - chance.randrange(1, 20_000))
    stage.hurry(chance.choice([0.25, 1, 1, 7.5, 60, 60]))
    stage.play()
    for step in chance.sample([_pass_by, _loop, _pause], chance.randrange(4)):
        step(rehearsed, begin, chance)
    stage.to(begin)
    if chance.random() < 0.7:
        rehearsed.wait(end)
    stage.pause()
    clock.jump(0.1)
    shown, going = rehearsed.shown(), rehearsed.worked_out()
    return stage.now_ms, (shown, going, rehearsed.worked_out_after_a_jump())


def _pass_by(rehearsed: Rehearsed, _begin: int, chance: Random) -> None:
    rehearsed.playback.to(chance.randrange(rehearsed.playback.length_ms))
    rehearsed.clock.jump(chance.random())


def _loop(rehearsed: Rehearsed, begin: int, chance: Random) -> None:
    rehearsed.playback.loop(begin, min(begin + chance.randrange(1000, 5000), rehearsed.playback.length_ms))
    rehearsed.clock.jump(chance.random() * 10)
    rehearsed.playback.unloop()


def _pause(rehearsed: Rehearsed, begin: int, chance: Random) -> None:
    rehearsed.playback.to(begin)
    rehearsed.clock.jump(chance.random())
    rehearsed.playback.pause()
    rehearsed.clock.jump(chance.random() * 30)
    rehearsed.playback.play()


def differing(found: dict[str, Any], expected: dict[str, Any]) -> dict[str, Any]:
    """The parts of the expected views that were found otherwise, with both."""
    return {
        f"{view}.{name}": (found[view].get(name), expected[view].get(name))
        for view in expected
        for name in {*found[view], *expected[view]}
        if found[view].get(name) != expected[view].get(name)
    }
