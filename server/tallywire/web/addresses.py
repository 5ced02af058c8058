"""The addresses by which other devices reach this machine."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterator
from contextlib import suppress

_EVERY = ("0.0.0.0", "::", "")
_FAR = ("192.0.2.1", 9)
"""An address reserved for documentation (RFC 5737): only its route is looked up, and nothing is sent."""
_Address = ipaddress.IPv4Address | ipaddress.IPv6Address


def own_addresses(host: str, port: int, *, scheme: str) -> list[str]:
    """Give the addresses that other devices can open, the best first.

    A host that means all addresses stands for all of them.

    Link-local addresses (fe80::) are left out, as no browser opens them. Without any network the answer is loopback.
    """
    if host not in _EVERY:
        return [_url(scheme, host, port)]
    found = dict.fromkeys([*_routed(), *_on_adapters()])
    usable = [each for each in found if not each.is_loopback and not each.is_link_local]
    fitting = [each for each in usable if each.version == 4 or host != "0.0.0.0"]
    return [_url(scheme, str(each), port) for each in fitting or [ipaddress.IPv4Address("127.0.0.1")]]


def _routed() -> Iterator[_Address]:
    """The address that this machine uses for outgoing connections: most likely it is on the venue's network."""
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(_FAR)
        yield ipaddress.ip_address(probe.getsockname()[0])


def _on_adapters() -> Iterator[_Address]:
    # A server that only this machine reaches does not wait for this import.
    import ifaddr

    for adapter in ifaddr.get_adapters():
        for each in adapter.ips:
            # An IPv6 address comes with its flow and scope.
            yield ipaddress.ip_address(each.ip if isinstance(each.ip, str) else each.ip[0].partition("%")[0])


def _url(scheme: str, host: str, port: int) -> str:
    name = f"[{host}]" if ":" in host else host
    usual = {"http": 80, "https": 443}[scheme]
    return f"{scheme}://{name}" if port == usual else f"{scheme}://{name}:{port}"
