"""What is wrong with the server, in words: a case for each line, just inside and just outside its bound."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from tallywire.shell.ailments import (
    ANSWER_MS,
    DISK_FREE,
    EDGE_BEHIND_MS,
    ENDED_S,
    VIEW_BEHIND_S,
    ailments,
    may_take,
    sentence,
)
from tallywire.shell.helper.port import Condition
from tallywire.shell.inside import Inside, Share
from tallywire.shell.meters import Meters
from tallywire.shell.storage import AWAY, HELD, LOW, OK

QUIET = Share(count=0, half_ms=None, most_ms=None)


def shares(**most_ms: float) -> dict[str, Share]:
    """The last minute, with so many milliseconds for one in a hundred of these."""
    names = ("answers", "commits", "counting", "publishing", "late")
    return {name: Share(count=100, half_ms=1.0, most_ms=most_ms[name]) if name in most_ms else QUIET for name in names}


def meters(slow: int) -> Meters:
    """Counts with so many slow clients."""
    made = Meters()
    made.slow = slow
    return made


WELL = Inside(
    competition="Test Trials",
    mode="live",
    up_s=60,
    lines=10,
    clients=3,
    watching={"heat": 2},
    watch_limit=100,
    waiting=0,
    waiting_most=1000,
    storage=OK,
    epoch=None,
    edge_behind_ms=None,
    behind_s={"call": 0.1},
    disk_free=10 * DISK_FREE,
    memory=None,
    helper_memory=None,
    helper=Condition(where="process"),
    meters=Meters(),
    recent=shares(answers=5, commits=3, late=2),
)
ENDED = Condition(where="process", ended=Counter(died=2, hung=1), ended_s=ENDED_S - 1)
CASES: tuple[tuple[dict[str, Any], str], ...] = (
    ({"storage": HELD}, "The server's disk is full: touches are kept on this device"),
    ({"storage": LOW}, "The server's disk is almost full"),
    ({"storage": AWAY}, "The journal's server does not answer"),
    ({"edge_behind_ms": EDGE_BEHIND_MS + 500}, "This edge is 1.5 s behind"),
    ({"waiting": 501}, "501 facts wait to be written, of at most 1000"),
    ({"recent": shares(answers=ANSWER_MS + 20)}, "one message in a hundred waited 120 ms or longer for its answer."),
    ({"recent": shares(answers=200, commits=80)}, "for its answer, because the disk is slow"),
    ({"recent": shares(answers=200, commits=80, late=80)}, "for its answer, because the processor is busy"),
    ({"recent": shares(late=250)}, "up to 250 ms late to its own work"),
    ({"behind_s": {"call": VIEW_BEHIND_S + 1}}, "The call is 4 s behind the count: the processor is busy"),
    ({"behind_s": {"standings": VIEW_BEHIND_S + 1}}, "The standings are 4 s behind the count: the processor is busy"),
    ({"helper": ENDED}, "was replaced. Counts"),
    ({"meters": meters(1)}, "One client reads too slowly"),
    ({"meters": meters(7)}, "7 clients read too slowly"),
    ({"watching": {"heat": 60, "call": 31}}, "91 views are watched, of at most 100"),
    ({"disk_free": DISK_FREE // 2}, "0.5 GB are free on the disk of the journal"),
)


@pytest.mark.parametrize(("wrong", "words"), CASES, ids=[words[:24] for _, words in CASES])
def test_what_is_wrong_is_said(wrong: dict[str, Any], words: str) -> None:
    """Each fault gives one whole sentence, and nothing else."""
    [said] = map(sentence, ailments(replace(WELL, **wrong)))
    assert words in said
    assert said[0].isupper() or said[0].isdigit()
    assert said.endswith(".")


@pytest.mark.parametrize(
    "fine",
    [
        {},
        {"edge_behind_ms": EDGE_BEHIND_MS},
        {"waiting": 500},
        {"recent": shares(answers=ANSWER_MS)},
        {"recent": {**shares(), "answers": Share(count=19, half_ms=1.0, most_ms=900.0)}},
        {"behind_s": {"call": VIEW_BEHIND_S}},
        {"helper": replace(ENDED, ended_s=ENDED_S)},
        {"watching": {"heat": 90}},
        {"disk_free": DISK_FREE},
        {"disk_free": None},
    ],
)
def test_nothing_is_said_while_all_is_well(fine: dict[str, Any]) -> None:
    """Just inside each bound the server is well, and so it is with too few answers to judge."""
    assert ailments(replace(WELL, **fine)) == []


def test_everything_that_is_wrong_is_said_at_once() -> None:
    """What hurts most stands first: nothing is taken; then what is only late."""
    said = map(sentence, ailments(replace(WELL, storage=HELD, meters=meters(2), recent=shares(answers=500, late=300))))
    assert [words.split()[1] for words in said] == ["server's", "the", "server", "clients"]


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({}, ""),
        ({"storage": LOW}, ""),
        ({"storage": HELD}, HELD.message),
        ({"edge_behind_ms": EDGE_BEHIND_MS}, ""),
        ({"edge_behind_ms": 12_300}, "the picture is 12.3 s behind the writer"),
    ],
)
def test_ready_is_who_takes_and_shows(wrong: dict[str, Any], why: str) -> None:
    """A server that holds facts back, or an edge that is cut off, is not ready; one whose reserve is in use is."""
    assert may_take(replace(WELL, **wrong)) == why
