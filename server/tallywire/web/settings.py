"""How a server is to run."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tallywire.shell.data_folder import PUSH_KEY
from tallywire.shell.helper.port import Where
from tallywire.shell.journal.opening import RedisOptions
from tallywire.web.bounds import ADDRESS_GUESTS, GUESTS, Bounds
from tallywire.web.hosts import is_loopback
from tallywire.web.tls import Tls
from tallywire.wire.push import Push

DEFAULT_PORT = 8400


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where to listen, where the data is kept, and what is bounded. Port 0 stands for any free port.

    `data` is a folder for the journal and the keys, made when missing; `mirror` one on another disk for a second copy
    of it; with `redis` the journal is there and not in the folder. `speed` is how fast the heat clock runs.
    `allow_origins` are other addresses whose pages may open the wire, such as `https://pages.example`; `allow_hosts`
    other names of this server, such as `scores.example`. With `tls` it speaks https and wss alone. `client_limit` is
    how many may watch without a key, `address_limit` how many of one address.
    `print_links`: links with keys are made at the start, to be printed, also
    where other machines reach the server. `fingerprint` is that of a certificate made for the day, for the slips.
    `public_url` is where a proxy has the server, such as `https://scores.example`; `trusted_proxies` are the addresses
    of proxies whose `X-Forwarded-For` says for whom they speak. `pushes` are outlets that are pushed somewhere, signed
    with the key in the file `push_key`, by default one in the data folder. The `helper` is a process of its own or a
    thread.
    """

    data: Path
    host: str = "127.0.0.1"
    port: int = DEFAULT_PORT
    mode: Literal["live", "rehearsal"] = "live"
    speed: float = 1
    mirror: Path | None = None
    redis: RedisOptions | None = None
    allow_origins: tuple[str, ...] = ()
    allow_hosts: tuple[str, ...] = ()
    tls: Tls | None = None
    print_links: bool = False
    fingerprint: str | None = None
    public_url: str | None = None
    trusted_proxies: tuple[str, ...] = ()
    pushes: tuple[Push, ...] = ()
    push_key: Path | None = None
    client_limit: int = GUESTS
    address_limit: int = ADDRESS_GUESTS
    watch_limit: int = 20_000
    helper: Where = "thread"

    @property
    def is_edge(self) -> bool:
        """True for a server that only follows: it has no links of its own, and hands the crew on to the writer."""
        return self.redis is not None and self.redis.follows

    @property
    def push_key_file(self) -> Path:
        """Where the key is that signs pushes."""
        return self.push_key or self.data / PUSH_KEY

    @property
    def bounds(self) -> Bounds:
        """How many connections there may be."""
        return Bounds.of(guests=self.client_limit, address_guests=self.address_limit)

    @property
    def prints_links(self) -> bool:
        """True where links with keys may be printed: nobody else reaches the server, or it was asked for."""
        return self.print_links or is_loopback(self.host)

    @property
    def sends_keys_in_the_clear(self) -> bool:
        """True where other machines reach the server without TLS, its own or a proxy's."""
        is_hidden = self.tls is not None or (self.public_url or "").startswith("https:")
        return not is_hidden and not is_loopback(self.host)
