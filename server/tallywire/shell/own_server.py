"""The server that is using a data folder, asked over HTTP from its own machine with the key of this run."""

from __future__ import annotations

import ssl
import urllib.request
from dataclasses import dataclass, field
from http.client import HTTPException
from pathlib import Path
from typing import Any

import orjson

from tallywire.shell.data_folder import ADDRESS

_PATIENCE_S = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnServer:
    """The address at which the server answers, the machine's own key, and the server's certificate if it has one."""

    address: str
    key: str = field(repr=False)
    certificate: str | None = None

    @classmethod
    def noted(cls, folder: Path) -> OwnServer:
        """Read what the server noted in its folder. Raises OSError, ValueError, KeyError or TypeError without it."""
        noted = orjson.loads((folder / ADDRESS).read_bytes())
        return cls(address=str(noted["address"]), key=str(noted["key"]), certificate=noted.get("certificate"))

    def get(self, path: str) -> bytes:
        """Give what stands at a path. Raises urllib's URLError, an OSError, when it does not answer or refuses."""
        return self._ask(path, None)

    def post(self, path: str, data: Any) -> bytes:
        """Send JSON to a path and give the answer. Raises as `get` does."""
        return self._ask(path, orjson.dumps(data))

    def _ask(self, path: str, data: bytes | None) -> bytes:
        headers = {"Authorization": f"Bearer {self.key}", "Content-Type": "application/json"}
        request = urllib.request.Request(self.address + path, data=data, headers=headers)
        # Ignore any proxy that the environment names, because the address is this machine's own.
        handlers: list[urllib.request.BaseHandler] = [urllib.request.ProxyHandler({})]
        if self.certificate is not None:
            handlers.append(urllib.request.HTTPSHandler(context=_only(self.certificate)))
        opener = urllib.request.build_opener(*handlers)
        try:
            with opener.open(request, timeout=_PATIENCE_S) as answer:
                return bytes(answer.read())
        except HTTPException as exc:
            raise OSError(f"its answer broke off: {exc!r}") from exc


def _only(certificate: str) -> ssl.SSLContext:
    """Trust the server's own certificate and no other. It names the venue's address, not the one asked here."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    context.load_verify_locations(certificate)
    return context
