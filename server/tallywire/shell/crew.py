"""Which devices are connected with which link: a device whose link ends is told so and cut off."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from tallywire.core.errors import TallywireError
from tallywire.shell.clock import Clock, Timer
from tallywire.shell.links import Issued, Links
from tallywire.wire.roles import ROLES

LOOK_S = 10.0
"""How often links are checked for the end of their time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One connection: its link, its sender, since when it is connected (Unix milliseconds), how to tell and end it."""

    link: str
    sender: str | None
    since_ms: int
    end: Callable[[str], None]
    tell: Callable[[TallywireError], None]


class Crew:
    """The devices of a server, and the links they came with."""

    def __init__(self, links: Links, *, clock: Clock) -> None:
        self.links = links
        self._clock = clock
        self._devices: dict[object, Device] = {}
        self._timer: Timer | None = None

    def join(self, who: object, device: Device) -> None:
        """Note a device that said hello with a link."""
        self._devices[who] = device
        # The graphics desk takes another name with every connection, and has no part in the story of a heat.
        if device.sender is not None and ROLES[self.links.role(device.link)].is_told_of:
            self.links.used(device.link, device.sender)
        if self._timer is None:
            self._timer = self._clock.call_at(self._clock.now() + LOOK_S, self._look)

    def leave(self, who: object) -> None:
        """Forget a device."""
        self._devices.pop(who, None)

    def devices(self, link: str) -> list[Device]:
        """Give the devices that are connected with a link."""
        return [device for device in self._devices.values() if device.link == link]

    def tell_managers(self, error: TallywireError) -> None:
        """Tell whoever manages links, which is the table."""
        for device in tuple(self._devices.values()):
            if ROLES[self.links.role(device.link)].manages:
                device.tell(error)

    def revoke(self, link_id: str) -> None:
        """Take a link back, and cut off the devices that came with it. Raises UnknownLink."""
        self._end(self.links.revoke(link_id))

    def renew(self, link_id: str) -> Issued:
        """Replace a link by another, and cut off the devices that came with the old one. Raises UnknownLink."""
        issued, ended = self.links.renew(link_id)
        self._end(ended)
        return issued

    def close(self) -> None:
        """Stop checking links."""
        if self._timer is not None:
            self._timer.cancel()

    def _look(self) -> None:
        self._timer = None
        self._end({device.link for device in self._devices.values()})
        if self._devices:
            self._timer = self._clock.call_at(self._clock.now() + LOOK_S, self._look)

    def _end(self, links: Iterable[str]) -> None:
        faults = {link: self.links.fault(link) for link in links}
        for device in tuple(self._devices.values()):
            fault = faults.get(device.link)
            if fault is not None:
                device.end(fault)
