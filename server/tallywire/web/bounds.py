"""How many connections of each kind there may be, and how fast they may come."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tallywire.core.errors import TallywireError

OWN_DESCRIPTORS = 40
"""Descriptors for the server's own files, sockets and pipes, with some to spare for the files of pages."""
GUESTS = 5000
ADDRESS_GUESTS = 256
_FEWEST_PLACES = 16
_REQUESTS_A_SECOND = 200
_MESSAGES_A_SECOND = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """How many connections there may be of each kind, in all, of one address, and of one link.

    Behind a proxy one address may have more connections: then its other bounds grow with `address_guests`.
    """

    waiting: int = 256
    newcomers: int = 256
    guests: int = GUESTS
    crew: int = 512
    address_waiting: int = 64
    address_newcomers: int = 64
    address_guests: int = ADDRESS_GUESTS
    link: int = 32
    joins_a_second: float = 250
    joins_at_once: float = 16

    @classmethod
    def of(cls, *, guests: int, address_guests: int) -> Bounds:
        """Give the bounds for a number of guests, in all and of one address."""
        few = max(cls().address_newcomers, address_guests // 4)
        return cls(guests=guests, address_guests=address_guests, address_waiting=few, address_newcomers=few)

    @property
    def places(self) -> int:
        """All connections together."""
        return self.waiting + self.newcomers + self.guests + self.crew

    @property
    def address_requests_a_second(self) -> float:
        """HTTP requests of one address; twice as many at once."""
        return _REQUESTS_A_SECOND * self._share

    @property
    def address_messages_a_second(self) -> float:
        """Messages of one address from connections without a key; twice as many at once."""
        return _MESSAGES_A_SECOND * self._share

    @property
    def _share(self) -> float:
        return max(1.0, self.address_guests / ADDRESS_GUESTS)

    def within(self, descriptors: int) -> Bounds:
        """Give bounds that fit a number of file descriptors.

        Raises TallywireError when they are too few for anybody.
        """
        room = descriptors - OWN_DESCRIPTORS
        if room < _FEWEST_PLACES:
            wanted = OWN_DESCRIPTORS + _FEWEST_PLACES
            raise TallywireError(f"found a limit of {descriptors} open files, expected {wanted} or more: see ulimit -n")
        if room >= self.places:
            return self
        waiting, few = min(self.waiting, room // 8), room // 4
        newcomers, crew = min(self.newcomers, few), min(self.crew, few)
        guests = min(self.guests, room - waiting - newcomers - crew)
        return replace(self, waiting=waiting, newcomers=newcomers, crew=crew, guests=guests)
