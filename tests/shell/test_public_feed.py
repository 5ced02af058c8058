"""The public feed: the same bytes from every server, as late as the broadcast, and nobody who is under a hold."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import orjson

from core.floors import floors_apart
from core.samples import HEAT, Pad, competition
from tallywire.core.facts import DelaySet, Fact, HoldPlaced, HoldReleased
from tallywire.core.model.competition import Competition
from tallywire.core.model.outputs import Output
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.public_feed import SEGMENTS_KEPT, SETTLE_MS, PublicFeed
from tallywire.shell.public_tape import GRID_MS, PHASE_MS, SEGMENT_MS, Tape, moment_from, moment_until
from tallywire.wire.merge_patch import apply

ZERO_MS = 1_800_000_000_000 + PHASE_MS
"""On the grid of segments: a multiple of twenty seconds, and some."""


class Server:
    """Books, tape and feed as a live competition joins them, on a clock that a test moves."""

    def __init__(self, work: Competition | None = None, *, at_ms: int = ZERO_MS) -> None:
        self.clock = FakeClock(unix_ms=at_ms)
        self.books = Books(work or competition(), clock=self.clock)
        self.tape = Tape(self.books, clock=self.clock)
        self.tape.begin()
        self.feed = PublicFeed(self.tape, self.books, clock=self.clock, stamp=lambda: {"mode": "live", "speed": 1})

    def take(self, fact: Fact, *, received_ms: int | None = None) -> None:
        """Take a fact that the writer received now, or then."""
        self.tape.pass_lines(self.clock.unix_ms() if received_ms is None else received_ms)
        change = Change()
        self.books.add(fact, change)
        if change.show:
            self.feed.expire()

    def list(self) -> dict[str, Any]:
        """Give the newest list."""
        piece = self.feed.newest()
        assert piece is not None
        said: dict[str, Any] = orjson.loads(piece.body)
        return said

    def picture(self) -> Any:
        """Give the newest picture, as a phone puts it together that has nothing yet."""
        said = self.list()
        segment = self.feed.segment(said["segment"])
        assert segment is not None
        return apply(orjson.loads(segment.body), said["changes"])

    def done(self, lane: int) -> int:
        """Give the units a lane has done in the newest picture."""
        return int(self.picture()["lanes"][str(lane)]["done"])


def with_output(delay_ms: int) -> Competition:
    """A competition with an output that is so late."""
    output = Output(id="main", name="Main", delay_ms=delay_ms)
    return replace(competition(), outputs={"main": output})


def facts(taps: int) -> list[tuple[int, Fact]]:
    """Give the start and so many reps on two lanes, each with the time at which the writer received it."""
    start = Pad("table-a").start()
    pads = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    reps = [(ZERO_MS + 700 * n, pads[n % 2].reps(700 * n)) for n in range(1, taps + 1)]
    return [(ZERO_MS, start), *reps]


def two_servers(taps: int) -> tuple[Server, Server]:
    """Two that took each fact when the writer received it."""
    both = Server(), Server()
    for received_ms, fact in facts(taps):
        for server in both:
            server.clock.jump((received_ms - server.clock.unix_ms()) / 1000)
            server.take(fact)
    return both


def test_a_phone_that_slept_needs_two_answers() -> None:
    """The list and the segment make the newest picture, whenever a phone asks; a segment never changes."""
    server, seen = Server(), dict[str, bytes]()
    for number, (received_ms, fact) in enumerate(facts(90)):
        server.clock.jump((received_ms - server.clock.unix_ms()) / 1000)
        server.take(fact)
        server.clock.jump(0.66)
        name = server.list()["segment"]
        segment = server.feed.segment(name)
        assert segment is not None
        assert seen.setdefault(name, segment.body) == segment.body
        assert server.done(1) + server.done(2) == number
    assert len(seen) == 4, "one for each twenty seconds"


def test_servers_make_the_same_bytes_whenever_they_read() -> None:
    """One that reads each line at once, one that reads late and in one go, and one that starts late."""
    prompt, late = Server(), Server()
    for received_ms, fact in facts(60):
        prompt.clock.jump((received_ms - prompt.clock.unix_ms()) / 1000)
        prompt.take(fact)
        prompt.feed.newest()
    now_ms = prompt.clock.unix_ms()
    started = Server(at_ms=now_ms)
    late.clock.jump((now_ms - ZERO_MS) / 1000)
    started.tape = Tape(started.books, clock=started.clock)
    started.feed = PublicFeed(
        started.tape, started.books, clock=started.clock, stamp=lambda: {"mode": "live", "speed": 1}
    )
    for server in (late, started):
        for received_ms, fact in facts(60):
            server.take(fact, received_ms=received_ms)
    started.tape.begin()
    for turn in range(30):
        names = {server.list()["segment"] for server in (prompt, late, started)}
        assert len(names) == 1
        bodies = {segment.body for server in (prompt, late, started) if (segment := server.feed.segment(*names))}
        assert len(bodies) == 1
        assert prompt.picture() == late.picture()
        assert turn == 0 or prompt.picture() == started.picture(), "but for a moment after its start"
        for server in (prompt, late, started):
            server.clock.jump(0.7)


def test_a_segment_is_there_for_one_who_has_its_name_from_another_server() -> None:
    """Nobody has asked this one for its list yet, and it gives the same bytes."""
    listed, fresh = two_servers(60)
    name = listed.list()["segment"]
    ours, theirs = fresh.feed.segment(name), listed.feed.segment(name)
    assert ours is not None
    assert theirs is not None
    assert ours.body == theirs.body


def test_a_segment_is_there_before_its_own_server_was_asked_for_the_list() -> None:
    """Two servers behind one cache: the list of the one names a segment in a new twenty seconds, the other is asked."""
    one, other = two_servers(20)
    before = {server.list()["segment"] for server in (one, other)}
    for server in (one, other):
        server.clock.jump(SEGMENT_MS / 1000)
    name = one.list()["segment"]
    found = other.feed.segment(name)
    assert found is not None
    assert (found, name in before) == (one.feed.segment(name), False)


def test_the_public_is_not_ahead_of_the_broadcast() -> None:
    """Pictures are as late as the latest output; a longer delay makes them wait, and they never go back."""
    server, pad = Server(with_output(5000)), Pad("lane-1-a", 1)
    server.take(Pad("table-a").start())
    server.clock.jump(10)
    server.take(pad.reps(10_000))
    server.clock.jump(4.9)
    assert server.done(1) == 0
    server.clock.jump((SETTLE_MS + GRID_MS) / 1000)
    assert server.done(1) == 1
    stamp = {"id": "d", "heat": HEAT, "at_ms": 15_000, "sender": "desk", "sequence": 1, "unix_ms": ZERO_MS}
    server.take(DelaySet(**stamp, output="main", delay_ms=9000))  # type: ignore[arg-type]
    at_ms = server.list()["unix_ms"]
    server.take(pad.reps(16_000))
    server.clock.jump(3.9)
    assert (server.done(1), server.list()["unix_ms"]) == (1, at_ms)
    server.clock.jump(5.8)
    assert server.done(1) == 2


def test_a_hold_counts_at_once_and_its_segments_are_gone() -> None:
    """A lane under a medical hold leaves the late pictures too, and no segment with it is given any more."""
    server, table = Server(with_output(5000)), Pad("table-a")
    server.take(table.start())
    server.clock.jump(10)
    before = server.list()["segment"]
    stamp = {"heat": HEAT, "at_ms": 10_000, "sender": "table-a", "lane": 2}
    server.take(HoldPlaced(id="hold", sequence=90, **stamp))  # type: ignore[arg-type]
    picture = server.picture()
    assert [*picture["lanes"]] == ["1", "3"]
    assert b"e2" not in orjson.dumps(picture)
    assert server.feed.segment(before) is None
    server.clock.jump(10)
    server.take(HoldReleased(id="free", sequence=91, **stamp))  # type: ignore[arg-type]
    server.clock.jump(4)
    assert "2" not in server.picture()["lanes"], "then it was still held"
    server.clock.jump(2)
    assert "2" in server.picture()["lanes"]


def test_the_overall_standing_belongs_to_the_segment() -> None:
    """It stays as it was at the segment's beginning while that is the newest, and nobody held is in it."""
    server, pad = Server(), Pad("lane-2-a", 2)
    server.take(Pad("table-a").start())
    server.clock.jump(1)
    first = server.picture()["standings"]["women"]
    assert {row["place"] for row in first["rows"].values()} == {1}
    server.take(pad.reps(1000))
    server.clock.jump(2)
    assert server.picture()["ranking"]["women"]["order"][0] == "e2"
    assert server.picture()["standings"]["women"] == first
    server.clock.jump(SEGMENT_MS / 1000)
    then = server.picture()["standings"]["women"]
    assert (then["order"][0], then["rows"]["e2"]["place"], then["rows"]["e1"]["place"] > 1) == ("e2", 1, True)
    stamp = {"heat": HEAT, "at_ms": 10_000, "sender": "table-a", "lane": 2}
    server.take(HoldPlaced(id="hold", sequence=90, **stamp))  # type: ignore[arg-type]
    assert "e2" not in server.picture()["standings"]["women"]["rows"]


def test_a_picture_is_made_once_for_all_who_ask() -> None:
    """However many ask between two moments of the grid, the same bytes are given; nothing is made while nobody asks."""
    server = Server()
    assert server.feed.newest() is server.feed.newest()
    server.clock.jump(1)
    again = server.feed.newest()
    server.clock.jump(1)
    assert again is server.feed.newest(), "nothing changed, so caches answer 304"
    server.clock.jump(5)
    assert again is not server.feed.newest(), "a sign of life"


def test_an_edge_that_is_cut_off_stands_still() -> None:
    """The moment of its pictures does not move on, which a page can see."""
    server = Server()
    server.clock.jump(10)
    at_ms = server.list()["unix_ms"]
    for second in range(1, 20):
        server.clock.jump(1)
        server.books.behind_ms = 1000 * second
        assert server.list()["unix_ms"] == at_ms


def test_what_is_kept_is_bounded() -> None:
    """An hour of taps leaves a few segments and a minute of moments."""
    server = Server()
    server.take(Pad("table-a").start())
    pad = Pad("lane-1-a", 1)
    for second in range(3600):
        server.clock.jump(1)
        server.take(pad.reps(second * 1000))
        if second % (SEGMENT_MS // 2000) == 0:
            server.feed.newest()
    assert len(server.feed._segments) == SEGMENTS_KEPT
    assert len(server.tape._kept) <= 2 * 61


def test_a_writers_clock_that_is_set_back_does_not_stop_the_feed() -> None:
    """Lines that were received an hour before the others count from then on, as they come."""
    server, pad = Server(), Pad("lane-1-a", 1)
    server.take(Pad("table-a").start(), received_ms=ZERO_MS + 3_600_000)
    server.clock.jump(5)
    server.take(pad.reps(0))
    server.clock.jump(1)
    assert server.done(1) == 1


def test_each_floor_has_a_feed_of_its_own() -> None:
    """Each shows the heat on its own floor."""
    work = floors_apart(2)
    server = Server(work)
    for floor in work.floor_ids:
        feed = PublicFeed(
            server.tape, server.books, clock=server.clock, stamp=lambda: {"mode": "live", "speed": 1}, floor=floor
        )
        listed = feed.newest()
        assert listed is not None
        segment = feed.segment(orjson.loads(listed.body)["segment"])
        assert segment is not None
        heat = orjson.loads(segment.body)["heat"]
        assert heat["floor"]["id"] == floor


def test_the_first_fact_of_all_does_not_stop_the_feed() -> None:
    """A phone that comes right after it sees the competition as it was before."""
    server = Server(with_output(5000))
    server.take(Pad("table-a").start())
    assert server.picture()["heat"]["status"] == "waiting"
    server.clock.jump(6)
    assert server.picture()["heat"]["status"] == "running"


def test_lines_of_one_moment_are_all_in_its_picture() -> None:
    """Two taps that the writer received within a moment of the grid are both frozen with it, once the next has come."""
    server, pad = Server(), Pad("lane-1", 1)
    server.take(Pad("starter").start())
    first_ms = ZERO_MS + GRID_MS + 1
    server.take(pad.reps(1_000), received_ms=first_ms)
    server.take(pad.reps(1_001), received_ms=first_ms + 1)
    server.take(pad.reps(2_000), received_ms=first_ms + GRID_MS)
    frozen = server.tape.at(ZERO_MS + 2 * GRID_MS)
    assert frozen is not None and frozen.position == 3


def test_pictures_are_ready_just_before_caches_ask_anew() -> None:
    """A tap is in the list at the next half second, two thirds of a second later at most, if clocks differ by 40 ms."""
    for off_ms in (-40, 0, 40):
        for tapped_ms in range(ZERO_MS, ZERO_MS + 1000, 25):
            server = Server()
            server.take(Pad("table-a").start())
            server.clock.jump((tapped_ms - ZERO_MS) / 1000)
            server.take(Pad("lane-1", 1).reps(1))
            # A cache with a clock of its own asks at its half seconds, and goes on asking until it is there.
            asks_ms = -(-tapped_ms // 500) * 500
            while True:
                server.clock.jump((asks_ms + off_ms - server.clock.unix_ms()) / 1000)
                if server.done(1) == 1:
                    break
                asks_ms += 500
            assert asks_ms - tapped_ms <= 700


def test_moments_are_the_same_for_everybody() -> None:
    """Each time lies between two moments, half a second apart; those of segments are twenty seconds apart."""
    for ms in range(ZERO_MS - 1200, ZERO_MS + 1200, 7):
        before, after = moment_until(ms), moment_from(ms)
        assert before <= ms <= after
        assert after - before in (0, GRID_MS)
        assert before % GRID_MS == PHASE_MS % GRID_MS
    assert (
        moment_from(ZERO_MS) == moment_until(ZERO_MS) == moment_until(ZERO_MS + 19_999, apart_ms=SEGMENT_MS) == ZERO_MS
    )
