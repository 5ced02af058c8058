"""Which connections are let in, how many, and which have to go, by address and by link. It does no I/O.

A connection waits at the door and is let in as a newcomer. Then it is one of three: HTTP, which stays a newcomer
because it is soon over; a guest, which watches without a key; or crew, which has shown a key. Strangers never take the
places that are kept for newcomers and crew, so a pad can always come in and show its key. Where room is short, the
address with most connections gives way, its oldest connection first.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Callable, Iterable
from enum import Enum, auto

from tallywire.web.bounds import Bounds
from tallywire.wire.allowance import Allowance

VISIT = "tallywire.visit"
"""The connection's Visit in the `state` of an ASGI scope."""
CALLER = "tallywire.caller"
"""The Caller of one request there, where a proxy brings requests of many."""
_REMEMBERED = 1024
"""How many addresses without a connection are remembered, so that leaving and coming back does not refill an allowance.
"""


class Presence(Enum):
    """The stage of a connection."""

    WAITING = auto()
    NEWCOMER = auto()
    GUEST = auto()
    CREW = auto()


class Caller:
    """An address: its connections by stage, the oldest first, and what they may do together.

    A trusted proxy may have as many that are not settled as there are at all.
    """

    def __init__(self, bounds: Bounds, *, is_proxy: bool) -> None:
        self.is_proxy = is_proxy
        self.visits: dict[Presence, dict[Visit, None]] = {stage: {} for stage in Presence}
        messages, requests = bounds.address_messages_a_second, bounds.address_requests_a_second
        self.messages = Allowance(rate=messages, burst=2 * messages)
        self.requests = Allowance(rate=requests, burst=2 * requests)

    def count(self, stage: Presence) -> int:
        """Give how many of its connections are at a stage."""
        return len(self.visits[stage])


class Visit:
    """One connection, from the door to its end. `cut` ends it at once; the owner of the socket sets it."""

    def __init__(self, admission: Admission, address: str, caller: Caller, cut: Callable[[], None]) -> None:
        self._admission = admission
        self.address = address
        self.caller = caller
        self.cut = cut
        self.stage: Presence | None = None
        self.link: str | None = None

    def settle(self) -> bool:
        """Become a guest, unless there are too many already: then False."""
        return self._admission.settle(self)

    def trust(self, link: str) -> None:
        """Become one of the crew."""
        self._admission.trust(self, link)

    def refresh(self) -> None:
        """Note that the connection was just used, so that others of its address give way first."""
        self._admission.refresh(self)

    def move_to(self, host: str) -> None:
        """Belong to another address from now on: the one that a proxy says it comes from."""
        self._admission.rehome(self, host)

    def leave(self) -> None:
        """Note that the connection is over; calling it twice is harmless."""
        self._admission.move(self, None)


class Admission:
    """Every connection that is in or waits at the door. Time is an argument, in seconds that never run backwards.

    `proxies` are the addresses of proxies that say whom they speak for.
    """

    def __init__(self, bounds: Bounds, *, proxies: Iterable[str] = ()) -> None:
        self._bounds = bounds
        self._proxies = frozenset(map(network, proxies))
        self._callers: dict[str, Caller] = {}
        self._gone: dict[str, None] = {}
        self._counts = dict.fromkeys(Presence, 0)
        self._line: dict[Caller, None] = {}
        self._links: dict[str, dict[Visit, None]] = {}
        self._joins = Allowance(rate=bounds.joins_a_second, burst=bounds.joins_at_once)

    def count(self, stage: Presence) -> int:
        """Give how many are at a stage."""
        return self._counts[stage]

    def arrive(self, host: str, cut: Callable[[], None]) -> Visit | None:
        """Let a connection wait at the door; None when too many wait already, from this address or in all."""
        visit = self._visit(host, cut)
        if not self._may_wait(visit.caller):
            self._forget(visit)
            return None
        self.move(visit, Presence.WAITING)
        self._line.setdefault(visit.caller)
        return visit

    def next(self, now: float) -> Visit | None:
        """Let the next connection in, with addresses taking turns; None when none waits, or it is too soon."""
        if not self._line or not self._joins.spend(now):
            return None
        caller = next(iter(self._line))
        visit = next(iter(caller.visits[Presence.WAITING]))
        self.move(visit, Presence.NEWCOMER)
        if caller.count(Presence.WAITING):
            del self._line[caller]
            self._line[caller] = None
        self._make_room(caller)
        return visit if visit.stage is not None else self.next(now)

    def wait_s(self, now: float) -> float | None:
        """Give the seconds until the next one may be let in; None when nobody waits."""
        return self._joins.wait_s(now, tokens=1) if self._line else None

    def walk_in(self, host: str) -> Visit:
        """Give a newcomer that did not come through the door and cannot be cut."""
        visit = self._visit(host, lambda: None)
        self.move(visit, Presence.NEWCOMER)
        return visit

    def settle(self, visit: Visit) -> bool:
        """Make a newcomer a guest, unless its address, or all together, has too many: then False."""
        if visit.stage is Presence.NEWCOMER:
            bounds = self._bounds
            full = self._counts[Presence.GUEST] >= bounds.guests
            if full or visit.caller.count(Presence.GUEST) >= bounds.address_guests:
                return False
            self.move(visit, Presence.GUEST)
        return True

    def trust(self, visit: Visit, link: str) -> None:
        """Make a connection one of the crew.

        Beyond the bound the link's oldest connection goes: most likely it is dead.
        """
        if visit.stage is None or visit.stage is Presence.CREW:
            return
        self.move(visit, Presence.CREW)
        visit.link = link
        of_link = self._links.setdefault(link, {})
        of_link[visit] = None
        if len(of_link) > self._bounds.link:
            self._turn_out(next(iter(of_link)))

    def refresh(self, visit: Visit) -> None:
        """Make a connection the youngest of its address again."""
        if visit.stage is not None:
            self.move(visit, visit.stage)

    def move(self, visit: Visit, stage: Presence | None) -> None:
        """Move a connection to a stage; None means outside."""
        if visit.stage is not None:
            del visit.caller.visits[visit.stage][visit]
            self._counts[visit.stage] -= 1
        before, visit.stage = visit.stage, stage
        if stage is not None:
            visit.caller.visits[stage][visit] = None
            self._counts[stage] += 1
        elif before is not None:
            self._forget(visit)
        if before is Presence.WAITING and not visit.caller.count(Presence.WAITING):
            self._line.pop(visit.caller, None)

    def rehome(self, visit: Visit, host: str) -> None:
        """Count a connection with another address."""
        stage = visit.stage
        if stage is None or stage is Presence.WAITING:
            return
        self.move(visit, None)
        visit.address = network(host)
        visit.caller = self._caller(visit.address)
        self.move(visit, stage)
        if stage is Presence.NEWCOMER:
            self._make_room(visit.caller)

    def passing(self, host: str) -> Caller:
        """Give the address of a request whose connection is counted elsewhere."""
        address = network(host)
        caller = self._caller(address)
        self._remember(address, caller)
        return caller

    def give_way(self) -> bool:
        """Cut a connection of the stranger that has most, when a descriptor is missing; False when there is none."""
        for stage in (Presence.NEWCOMER, Presence.GUEST):
            if self._counts[stage]:
                self._turn_out(_oldest(self._callers.values(), stage))
                return True
        return False

    def _may_wait(self, caller: Caller) -> bool:
        bounds, stage = self._bounds, Presence.WAITING
        if caller.count(stage) >= (bounds.waiting if caller.is_proxy else bounds.address_waiting):
            return False
        if self._counts[stage] >= bounds.waiting:
            longest = max(self._line, key=lambda each: each.count(stage))
            if longest.count(stage) <= caller.count(stage) + 1:
                return False
            self._turn_out(next(reversed(longest.visits[stage])))
        return sum(self._counts.values()) < bounds.places or self.give_way()

    def _make_room(self, caller: Caller) -> None:
        bounds, stage = self._bounds, Presence.NEWCOMER
        if caller.count(stage) > bounds.address_newcomers and not caller.is_proxy:
            self._turn_out(_oldest([caller], stage))
        elif self._counts[stage] > bounds.newcomers:
            self._turn_out(_oldest(self._callers.values(), stage))

    def _turn_out(self, visit: Visit) -> None:
        self.move(visit, None)
        visit.cut()

    def _visit(self, host: str, cut: Callable[[], None]) -> Visit:
        address = network(host)
        return Visit(self, address, self._caller(address), cut)

    def _caller(self, address: str) -> Caller:
        self._gone.pop(address, None)
        caller = self._callers.get(address)
        if caller is None:
            caller = self._callers[address] = Caller(self._bounds, is_proxy=address in self._proxies)
        return caller

    def _forget(self, visit: Visit) -> None:
        if visit.link is not None:
            self._links[visit.link].pop(visit, None)
        self._remember(visit.address, visit.caller)

    def _remember(self, address: str, caller: Caller) -> None:
        if not any(caller.visits.values()):
            self._gone[address] = None
        if len(self._gone) > _REMEMBERED:
            longest_gone = next(iter(self._gone))
            del self._gone[longest_gone], self._callers[longest_gone]


def _oldest(callers: Iterable[Caller], stage: Presence) -> Visit:
    """Give the oldest connection of the address that has most at this stage."""
    most = max(callers, key=lambda each: each.count(stage))
    return next(iter(most.visits[stage]))


def network(host: str) -> str:
    """Give what counts as one address: an IPv4 address, or the 64 bits that an IPv6 host cannot choose (RFC 4291)."""
    try:
        address = ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return host
    if isinstance(address, ipaddress.IPv6Address):
        mapped = address.ipv4_mapped
        return str(mapped) if mapped else str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)
