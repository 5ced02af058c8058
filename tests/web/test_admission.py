"""Which connections are let in and which have to go, without I/O.

Each bound is switched off once, and the check must notice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tallywire.core.errors import TallywireError
from tallywire.web.admission import Admission, Presence, Visit, network
from tallywire.web.bounds import OWN_DESCRIPTORS, Bounds

SMALL = Bounds(
    waiting=6,
    newcomers=6,
    guests=8,
    crew=4,
    address_waiting=3,
    address_newcomers=3,
    address_guests=4,
    link=3,
    joins_a_second=10,
    joins_at_once=2,
)
FAST = replace(SMALL, joins_at_once=1000)
OFF = 10_000
STRANGER = "192.0.2.66"


class Hall:
    """An admission, and the visits that it has cut."""

    def __init__(self, bounds: Bounds) -> None:
        self.admission = Admission(bounds)
        self.cut: list[Visit] = []
        self.now = 0.0

    def arrive(self, host: str) -> Visit | None:
        """Somebody comes to the door."""
        visit = self.admission.arrive(host, lambda: None)
        if visit is not None:
            visit.cut = lambda: self.cut.append(visit)
        return visit

    def enter(self, host: str) -> Visit:
        """Somebody comes and is let in at once."""
        visit = self.arrive(host)
        assert visit is not None
        while self.admission.next(self.now) is not None:
            pass
        assert visit.stage is Presence.NEWCOMER, visit.stage
        return visit


def _waiting_of_an_address(bounds: Bounds) -> None:
    hall = Hall(replace(bounds, joins_at_once=0))
    came = [hall.arrive(STRANGER) for _ in range(20)]
    assert sum(visit is not None for visit in came) == 3
    assert hall.admission.count(Presence.WAITING) == 3


def _waiting_in_all(bounds: Bounds) -> None:
    hall = Hall(replace(bounds, joins_at_once=0))
    for n in range(60):
        hall.arrive(f"192.0.2.{n % 20}")
    assert hall.admission.count(Presence.WAITING) <= 6


def _newcomers_of_an_address(bounds: Bounds) -> None:
    hall = Hall(bounds)
    came = [hall.enter(STRANGER) for _ in range(10)]
    assert hall.cut == came[:7]
    assert [visit.stage for visit in came[7:]] == [Presence.NEWCOMER] * 3


def _newcomers_in_all(bounds: Bounds) -> None:
    hall = Hall(bounds)
    for n in range(30):
        hall.enter(f"192.0.2.{n}")
    assert hall.admission.count(Presence.NEWCOMER) <= 6


def _guests_of_an_address(bounds: Bounds) -> None:
    hall = Hall(bounds)
    assert [hall.enter(STRANGER).settle() for _ in range(6)] == [True] * 4 + [False] * 2


def _guests_in_all(bounds: Bounds) -> None:
    hall = Hall(bounds)
    assert sum(hall.enter(f"192.0.2.{n}").settle() for n in range(20)) == 8


def _connections_of_a_link(bounds: Bounds) -> None:
    hall = Hall(bounds)
    pads = [hall.enter(STRANGER) for _ in range(1)]
    pads[0].trust("lane 4")
    for _ in range(4):
        pads.append(hall.enter(STRANGER))
        pads[-1].trust("lane 4")
    assert hall.cut == pads[:2]


def _joins_a_second(bounds: Bounds) -> None:
    hall = Hall(replace(bounds, waiting=OFF, newcomers=OFF, address_waiting=OFF, address_newcomers=OFF))
    for _ in range(30):
        hall.arrive(STRANGER)
    entered = [sum(hall.admission.next(now) is not None for _ in range(30)) for now in (0.0, 0.05, 0.5)]
    # Two at once; half a place is none yet; then as many as may come at once, however long the pause was.
    assert entered == [2, 0, 2]


CHECKS: dict[str, tuple[Callable[[Bounds], None], Bounds, dict[str, float]]] = {
    "waiting of an address": (_waiting_of_an_address, SMALL, {"address_waiting": OFF}),
    "waiting in all": (_waiting_in_all, SMALL, {"waiting": OFF}),
    "newcomers of an address": (_newcomers_of_an_address, FAST, {"address_newcomers": OFF, "newcomers": OFF}),
    "newcomers in all": (_newcomers_in_all, FAST, {"newcomers": OFF}),
    "guests of an address": (_guests_of_an_address, FAST, {"address_guests": OFF}),
    "guests in all": (_guests_in_all, FAST, {"guests": OFF}),
    "connections of a link": (_connections_of_a_link, FAST, {"link": OFF}),
    "joins a second": (_joins_a_second, SMALL, {"joins_a_second": OFF, "joins_at_once": OFF}),
}


@pytest.mark.parametrize("name", CHECKS)
def test_a_bound_holds(name: str) -> None:
    """What there is of each kind stays within its bound."""
    check, bounds, _ = CHECKS[name]
    check(bounds)


@pytest.mark.parametrize("name", CHECKS)
def test_without_the_bound_the_check_fails(name: str) -> None:
    """The mutant with this one bound switched off does not pass the same check."""
    check, bounds, off = CHECKS[name]
    with pytest.raises(AssertionError):
        check(replace(bounds, **off))  # type: ignore[arg-type]


def test_a_stranger_displaces_nobody_else() -> None:
    """Whatever comes from one address, newcomers of others stay, and a pad shows its key amid the flood."""
    hall = Hall(FAST)
    pad = hall.enter("192.0.2.1")
    for _ in range(100):
        hall.enter(STRANGER)
    assert pad not in hall.cut
    pad.trust("lane 1")
    for _ in range(100):
        hall.enter(STRANGER)
    late = hall.enter("192.0.2.2")
    late.trust("lane 2")
    assert [pad.stage, late.stage] == [Presence.CREW, Presence.CREW]
    assert {visit.address for visit in hall.cut} == {STRANGER}


def test_one_that_was_just_used_stays_longest() -> None:
    """Of three newcomers of an address the one that came first was just used: the second gives way to a fourth."""
    hall = Hall(FAST)
    first, second, _ = (hall.enter(STRANGER) for _ in range(3))
    first.refresh()
    hall.enter(STRANGER)
    assert hall.cut == [second]


def test_a_newcomer_that_a_proxy_brings_counts_where_it_comes_from() -> None:
    """A fourth newcomer of an address, by the word of a proxy, displaces that address's oldest; a guest nobody."""
    hall = Hall(FAST)
    oldest, *_ = (hall.enter(STRANGER) for _ in range(3))
    hall.enter("192.0.2.9").move_to(STRANGER)
    assert hall.cut == [oldest]
    guest = hall.enter("192.0.2.9")
    assert guest.settle()
    guest.move_to(STRANGER)
    assert hall.cut == [oldest]


def test_the_door_is_shared_out_by_address() -> None:
    """Addresses are let in by turns: a connection behind many of one address waits for only one of them."""
    hall = Hall(SMALL)
    many = [hall.arrive(STRANGER) for _ in range(3)]
    pad = hall.arrive("192.0.2.1")
    entered = [hall.admission.next(0.0) for _ in range(2)]
    assert entered == [many[0], pad]


def test_the_longest_line_gives_way_to_the_shortest() -> None:
    """When as many wait as may, somebody from a new address takes the place of one of the address with most."""
    hall = Hall(replace(SMALL, joins_at_once=0))
    for host in (STRANGER, "192.0.2.67"):
        for _ in range(3):
            hall.arrive(host)
    assert hall.arrive("192.0.2.1") is not None
    assert len(hall.cut) == 1
    assert hall.arrive(STRANGER) is None


def test_crew_beyond_its_places_takes_those_of_strangers() -> None:
    """All places taken by guests and crew, a newcomer still comes in: a guest of the address with most has to go."""
    bounds = replace(FAST, waiting=2, newcomers=2, guests=4, crew=2, address_guests=4)
    hall = Hall(bounds)
    guests = [hall.enter(STRANGER) for _ in range(4)]
    assert all(guest.settle() for guest in guests)
    for n in range(bounds.places):
        hall.enter(f"192.0.2.{n}").trust(f"lane {n}")
    assert set(hall.cut) == set(guests)
    assert hall.admission.count(Presence.CREW) == bounds.places
    assert hall.arrive("192.0.2.99") is None


def test_an_address_that_goes_and_comes_has_no_new_allowance() -> None:
    """Leaving and coming back does not fill what an address may say; only time does."""
    hall = Hall(FAST)
    first = hall.enter(STRANGER)
    while first.caller.messages.spend(0.0):
        pass
    first.leave()
    again = hall.enter(STRANGER)
    assert not again.caller.messages.spend(0.0)
    assert again.caller.messages.spend(1.0)


def test_addresses_that_are_gone_are_forgotten_in_the_end() -> None:
    """Ten thousand addresses that came and went, or were turned away, leave no more than a bound behind."""
    hall = Hall(replace(FAST, joins_at_once=OFF * 2))
    for n in range(10_000):
        visit = hall.arrive(f"10.{n >> 8}.{n & 255}.1")
        if n % 2 and visit is not None:
            visit.leave()
    assert len(hall.admission._callers) < 1200


@pytest.mark.parametrize(
    ("host", "expected"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
        ("fe80::7%eth0", "fe80::/64"),
        ("testclient", "testclient"),
    ],
)
def test_what_counts_as_one_address(host: str, expected: str) -> None:
    """An IPv6 host chooses its last 64 bits as it likes (RFC 4291 §2.5.1), so all of them are one."""
    assert network(host) == expected


@pytest.mark.parametrize("descriptors", [56, 64, 256, 1024, 4096, 65_536])
def test_all_places_fit_the_file_descriptors(descriptors: int) -> None:
    """However few files may be open, everybody let in and the server's own stay below; some of each kind get in."""
    bounds = Bounds().within(descriptors)
    assert bounds.places <= descriptors - OWN_DESCRIPTORS or bounds == Bounds()
    assert min(bounds.waiting, bounds.newcomers, bounds.guests, bounds.crew) >= 2


@pytest.mark.parametrize(
    ("room", "waiting", "newcomers", "guests", "crew"),
    [
        (16, 2, 4, 6, 4),
        (1_000, 125, 250, 375, 250),
        (6_023, 256, 256, 4_999, 512),
        (6_024, 256, 256, 5_000, 512),
        (9_999, 256, 256, 5_000, 512),
    ],
)
def test_places_are_shared_out_of_what_may_be_open(
    room: int, waiting: int, newcomers: int, guests: int, crew: int
) -> None:
    """An eighth for the door, a quarter each for newcomers and crew, the rest for guests; never more than asked for."""
    found = Bounds().within(OWN_DESCRIPTORS + room)
    assert (found.waiting, found.newcomers, found.guests, found.crew) == (waiting, newcomers, guests, crew)


@pytest.mark.parametrize(
    ("of_address", "few", "requests", "messages"),
    [(100, 64, 200, 400), (256, 64, 200, 400), (2_560, 640, 2_000, 4_000)],
)
def test_the_other_bounds_of_an_address_grow_with_its_guests(
    of_address: int, few: int, requests: float, messages: float
) -> None:
    """Ten times as many guests of an address as usual may ask and say ten times as much; never less than usual."""
    found = Bounds.of(guests=5_000, address_guests=of_address)
    assert (found.address_waiting, found.address_newcomers) == (few, few)
    assert (found.address_requests_a_second, found.address_messages_a_second) == (requests, messages)


def test_too_few_file_descriptors_are_said() -> None:
    """A server that could let nobody in does not start."""
    with pytest.raises(TallywireError, match="found a limit of 40 open files, expected 56 or more"):
        Bounds().within(40)
    with pytest.raises(TallywireError, match="found a limit of 55 open files"):
        Bounds().within(OWN_DESCRIPTORS + 15)
