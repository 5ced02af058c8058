"""What is to be pushed where, as the operator writes it, and how a push is signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

from tallywire.core.errors import TallywireError
from tallywire.wire.http_signature import content_digest, of_target, signed
from tallywire.wire.problems import shown

FORMS: Mapping[str, str] = {
    "frame.json": "application/json",
    "rows.json": "application/json",
    "rows.csv": "text/csv; charset=utf-8; header=present",
}
"""What can be pushed, with its media type."""
_SCHEMES = ("http", "https", "ws", "wss")
_URL_MOST = 2000


@dataclass(frozen=True, slots=True)
class Push:
    """An outlet, and the address to which it is pushed."""

    heat: str
    view: str
    form: str
    url: str

    @property
    def receiver(self) -> str:
        """Name who gets it, without what may be secret in its address."""
        parts = urlsplit(self.url)
        return f"{parts.scheme}://{parts.hostname}" + (f":{parts.port}" if parts.port else "")

    @property
    def is_socket(self) -> bool:
        """Whether it goes out on a websocket."""
        return self.url.startswith("ws")


def read_push(outlet: str, url: str) -> Push:
    """Read what stands behind `--push`. Raises TallywireError that says what was found and expected."""
    parts = outlet.split("/")
    if len(parts) != 3 or parts[2] not in FORMS:
        expected = f"HEAT/VIEW/FORM such as floor/heat/rows.json, with a form of {', '.join(FORMS)}"
        raise TallywireError(f"--push: found {shown(outlet)}, expected {expected}")
    if not _is_url(url):
        raise TallywireError(
            f"--push: found {shown(url)}, expected a whole address that begins with http://, https://, ws:// or wss://"
            ", without a name or password in it"
        )
    heat, view, form = parts
    return Push(heat, view, form, url)


def _is_url(url: str) -> bool:
    try:
        parts = urlsplit(url)
        plain = not (parts.username or parts.password or parts.fragment) and parts.port != 0
    except ValueError:
        return False
    fits = url.isascii() and url.isprintable() and " " not in url and len(url) <= _URL_MOST
    return fits and plain and parts.scheme in _SCHEMES and bool(parts.hostname)


def post_fields(push: Push, body: bytes, *, number: int, created: int, key: bytes) -> dict[str, str]:
    """Give the fields of a signed POST. The signature covers where it goes, the body, and its number."""
    fields = {"content-type": FORMS[push.form], "content-digest": content_digest(body), "push-number": str(number)}
    return fields | signed(of_target("POST", push.url) | fields, created=created, key=key)


def handshake_fields(push: Push, *, created: int, key: bytes) -> dict[str, str]:
    """Give the fields of a signed websocket handshake."""
    return signed(of_target("GET", push.url), created=created, key=key)
