"""Fan-out: when frames go out, to whom, and what becomes of a client that does not read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from core.samples import competition
from shell.stage import FakeTransport
from tallywire.core.errors import NotAllowed
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.clock import FakeClock, Timer
from tallywire.shell.fan_out import STALL_S, TICK_S, VIEWS_A_CLIENT, FanOut

PADDING = {"fixed": "x" * 2000}


class Source:
    """A fan-out with frames that a test sets."""

    def __init__(self, *, watch_limit: int = 100, clock: FakeClock | None = None) -> None:
        self.clock = clock or FakeClock()
        self.n = 0
        self.made = 0
        self.frozen = 0
        self.broken = False
        self.fan_out = FanOut(self, clock=self.clock, make_epoch=lambda: "e1", watch_limit=watch_limit)

    def snapshot(self) -> Snapshot:
        """Freeze an empty book: frames do not come from it here."""
        self.frozen += 1
        return CompetitionBook(competition()).at(unix_ms=self.clock.unix_ms())

    def frame(self, view: str, heat: str, _snapshot: Snapshot) -> dict[str, Any]:
        """Give the frame as it is now."""
        if self.broken:
            raise ValueError("no frame")
        self.made += 1
        return PADDING | {"view": view, "heat": heat, "n": self.n}

    def watcher(self, *, bound: int = 1_000_000) -> FakeTransport:
        """Somebody who watches the floor."""
        transport = FakeTransport(bound=bound)
        self.fan_out.join(transport).watch("heat", "floor")
        return transport

    def change(self, n: int, *heats: str) -> None:
        """Change the frame and say so."""
        self.n = n
        self.fan_out.mark(set(heats or ("floor",)), views={"heat", "gaps"})


def test_the_first_change_goes_out_at_once() -> None:
    """After a quiet time a change is sent without waiting for a tick."""
    source = Source()
    transport = source.watcher()
    source.change(1)
    assert [message["type"] for message in transport.messages] == ["snapshot", "patch"]


def test_a_change_elsewhere_delays_nothing() -> None:
    """A change of a heat that nobody watches leaves the next one of a watched heat to go out at once."""
    source = Source()
    transport = source.watcher()
    source.change(1, "other")
    assert transport.of_type("patch") == []
    source.change(2)
    assert len(transport.of_type("patch")) == 1


def test_changes_within_a_tick_are_sent_as_one() -> None:
    """What follows inside 1/25 s is sent together when the tick is over."""
    source = Source()
    transport = source.watcher()
    for n in range(1, 6):
        source.change(n)
    assert len(transport.of_type("patch")) == 1
    source.clock.jump(TICK_S)
    assert [message["patch"] for message in transport.of_type("patch")] == [{"n": 1}, {"n": 5}]


def test_the_rate_is_bounded_and_does_not_drift() -> None:
    """With a change every millisecond for ten seconds there are 25 patches a second, not fewer and not more."""
    source = Source()
    transport = source.watcher()
    for n in range(1, 10_001):
        source.change(n)
        source.clock.jump(0.001)
    assert 250 <= len(transport.of_type("patch")) <= 251
    source.clock.jump(TICK_S)
    assert transport.shown()["n"] == 10_000


class LateClock(FakeClock):
    """A clock whose calls come 6 ms late, as those of a busy event loop do."""

    def call_at(self, when: float, act: Callable[[], None]) -> Timer:
        """Keep the call for a jump, and make it late."""
        return super().call_at(when + 0.006, act)


def test_late_calls_do_not_lower_the_rate() -> None:
    """Though every tick comes 6 ms late, a change every millisecond for ten seconds makes 250 patches, not 217."""
    source = Source(clock=LateClock())
    transport = source.watcher()
    for n in range(1, 10_001):
        source.change(n)
        source.clock.jump(0.001)
    assert 249 <= len(transport.of_type("patch")) <= 251


def test_what_is_looked_at_and_has_not_changed_delays_nothing() -> None:
    """A feed that is marked though nothing has changed leaves the next change to go out at once."""
    source = Source()
    transport = source.watcher()
    for n in range(1, 11):
        source.change(n - 1)
        source.clock.jump(TICK_S / 4)
        source.change(n)
        assert transport.shown()["n"] == n
        source.clock.jump(TICK_S * 2)


def test_what_another_feed_sends_delays_nothing() -> None:
    """One feed changes every 15 ms and goes out 25 times a second; another, which seldom does, goes out at once."""
    source = Source()
    busy, seldom = source.watcher(), FakeTransport()
    source.fan_out.join(seldom).watch("gaps", "floor")
    for n in range(1, 1001):
        source.n = n
        source.fan_out.mark({"floor"}, views={"heat"})
        if n % 10 == 0:
            source.fan_out.mark({"floor"}, views={"gaps"})
            assert seldom.shown("gaps")["n"] == n
        source.clock.jump(0.015)
    assert len(busy.of_type("patch")) == pytest.approx(15 * 25, abs=1)


def test_nothing_is_drawn_for_nobody() -> None:
    """A frame that nobody watches is not made; those who come later get the newest."""
    source = Source()
    transport = source.watcher()
    transport.close()
    made = source.made
    for n in range(50):
        source.change(n)
        source.clock.jump(1)
    assert source.made == made
    assert source.watcher().shown()["n"] == 49


def test_a_change_of_another_heat_is_not_sent() -> None:
    """Only feeds of the heats that changed are drawn again."""
    source = Source()
    transport = source.watcher()
    source.change(1, "h2")
    source.clock.jump(1)
    assert transport.of_type("patch") == []


def test_a_frame_is_encoded_once_for_all() -> None:
    """All watchers are handed the very same bytes."""
    source = Source()
    transports = [source.watcher() for _ in range(5)]
    source.change(1)
    assert len({id(transport.frames[-1]) for transport in transports}) == 1


def test_who_comes_back_is_brought_up_to_date() -> None:
    """A client that names the epoch and number it has gets the patches it missed, and then the new ones."""
    source = Source()
    source.watcher()
    for n in range(1, 4):
        source.change(n)
        source.clock.jump(1)
    transport = FakeTransport()
    source.fan_out.join(transport).watch("heat", "floor", epoch="e1", number=2)
    source.change(4)
    assert [(m["type"], m["number"]) for m in transport.messages] == [("patch", 3), ("patch", 4), ("patch", 5)]


def test_a_slow_client_is_left_out_and_then_brought_up_to_date() -> None:
    """A client that does not read is sent nothing; when it reads again it comes to the newest frame without a gap."""
    source = Source()
    slow, quick = source.watcher(bound=3), source.watcher()
    for n in range(1, 101):
        source.change(n)
        source.clock.jump(TICK_S)
    assert len(slow.frames) == 4
    assert quick.shown()["n"] == 100
    slow.read_all()
    assert slow.shown()["n"] == 100
    slow.read_all()
    source.change(101)
    assert slow.shown()["n"] == 101


def test_a_client_that_pauses_while_it_catches_up_is_not_lost() -> None:
    """Two views, a bound of one frame: every resume may pause at once, and in the end both views are the newest."""
    source = Source()
    transport = FakeTransport(bound=1)
    watcher = source.fan_out.join(transport)
    watcher.watch("heat", "floor")
    watcher.watch("gaps", "floor")
    for n in range(1, 20):
        source.change(n)
        source.clock.jump(TICK_S)
    for _ in range(6):
        transport.read_all()
    assert (transport.shown("heat")["n"], transport.shown("gaps")["n"]) == (19, 19)


def test_a_client_is_sent_all_its_views_of_a_tick_in_one_write() -> None:
    """Who watches two views gets both patches in one write; who watches one gets its own by itself, and before."""
    source, order = Source(), list[tuple[str, int]]()
    both, one = Written("both", order), Written("one", order)
    watcher = source.fan_out.join(both)
    watcher.watch("heat", "floor")
    watcher.watch("gaps", "floor")
    source.fan_out.join(one).watch("heat", "floor")
    order.clear()
    source.change(1)
    assert order == [("one", 1), ("both", 2)]
    assert (both.shown("heat")["n"], both.shown("gaps")["n"], one.shown()["n"]) == (1, 1, 1)
    watcher.unwatch("gaps", "floor")
    order.clear()
    source.clock.jump(TICK_S)
    source.change(2)
    assert order == [("both", 1), ("one", 1)]


def test_a_client_is_sent_all_its_views_of_another_moment_in_one_write() -> None:
    """So it is when a rehearsal jumps: asyncio's own log would name the sixth write to one that has gone."""
    source, order = Source(), list[tuple[str, int]]()
    both = Written("both", order)
    watcher = source.fan_out.join(both)
    watcher.watch("heat", "floor")
    watcher.watch("gaps", "floor")
    order.clear()
    source.n = 7
    source.fan_out.begin_anew(source.snapshot())
    assert order == [("both", 2)]
    assert (both.shown("heat")["n"], both.shown("gaps")["n"]) == (7, 7)


class Written(FakeTransport):
    """A transport that notes how many frames each write had."""

    def __init__(self, name: str, order: list[tuple[str, int]]) -> None:
        super().__init__()
        self._note: Callable[[int], None] = lambda count: order.append((name, count))

    def write(self, frame: bytes) -> None:
        """Note one."""
        self._note(1)
        super().write(frame)

    def write_all(self, frames: Sequence[bytes]) -> None:
        """Note several."""
        self._note(len(frames))
        for frame in frames:
            super().write(frame)


def test_a_client_that_never_reads_is_cut_off() -> None:
    """Half a minute without reading ends the connection; what waited for it was bounded."""
    source = Source()
    dead = source.watcher(bound=3)
    for n in range(1, 2000):
        source.change(n)
        source.clock.jump(TICK_S)
    assert dead.aborted
    assert len(dead.frames) == 4
    assert source.fan_out.watches == 0


def test_a_slow_client_that_reads_in_time_is_kept() -> None:
    """Reading again before the half minute is over calls the end off."""
    source = Source()
    slow = source.watcher(bound=1)
    for n in range(1, 40):
        source.change(n)
        source.clock.jump(STALL_S - 1)
        slow.read_all()
    assert not slow.aborted


def test_watching_while_paused_waits_for_the_resume() -> None:
    """A view asked for by a client that does not read is sent when it reads again."""
    source = Source()
    transport = FakeTransport(bound=0)
    watcher = source.fan_out.join(transport)
    watcher.watch("heat", "floor")
    watcher.watch("gaps", "floor")
    source.change(1)
    assert [message["view"] for message in transport.messages] == ["heat"]
    transport.read_all()
    transport.read_all()
    transport.read_all()
    assert (transport.shown("heat")["n"], transport.shown("gaps")["n"]) == (1, 1)


def test_unwatching_ends_it() -> None:
    """After unwatch nothing more of that view is sent, and the other view goes on."""
    source = Source()
    transport = FakeTransport()
    watcher = source.fan_out.join(transport)
    watcher.watch("heat", "floor")
    watcher.watch("gaps", "floor")
    watcher.unwatch("heat", "floor")
    watcher.unwatch("heat", "floor")
    source.change(1)
    assert [message["view"] for message in transport.of_type("patch")] == ["gaps"]
    assert source.fan_out.watches == 1


def test_a_client_watches_so_many_views_at_most() -> None:
    """One more is refused, asking again for one of them is not."""
    source = Source()
    watcher = source.fan_out.join(FakeTransport())
    for n in range(VIEWS_A_CLIENT):
        watcher.watch("heat", f"h{n}")
    watcher.watch("heat", "h0")
    with pytest.raises(NotAllowed, match="unwatch one first"):
        watcher.watch("heat", "one more")


def test_all_watches_are_bounded() -> None:
    """Beyond the limit of the server a watch is refused; when somebody leaves there is room again."""
    source = Source(watch_limit=2)
    first, _ = source.watcher(), source.watcher()
    with pytest.raises(NotAllowed, match="try later"):
        source.watcher()
    first.close()
    assert source.watcher().of_type("snapshot")


def test_a_view_that_cannot_be_drawn_does_not_stop_the_others(caplog: pytest.LogCaptureFixture) -> None:
    """An error in a view is logged, the watchers keep their picture, and the next good frame reaches them."""
    source = Source()
    transport = source.watcher()
    source.broken = True
    source.change(1)
    assert "no frame for view heat" in caplog.text
    source.broken = False
    source.change(2)
    source.clock.jump(TICK_S)
    assert transport.shown()["n"] == 2
