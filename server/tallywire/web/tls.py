"""TLS of the server's own: a certificate and its private key, both as PEM files."""

from __future__ import annotations

import asyncio
import logging
import ssl
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from tallywire.core.errors import TallywireError

LOOK_S = 30.0
"""So often the files are looked at."""
_log = logging.getLogger(__name__)
_END = "-----END CERTIFICATE-----"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tls:
    """The files: the certificate with those that signed it after it, and its private key without a password."""

    certificate: Path
    private_key: Path

    def check(self) -> None:
        """Check that the files can be used. Raises TallywireError."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        try:
            # A password is given, though an empty one, so that nobody is asked for it at the terminal.
            context.load_cert_chain(self.certificate, self.private_key, password="")
        except (OSError, ValueError) as exc:
            found = f"cannot use the certificate {self.certificate} with the key {self.private_key} ({exc})"
            raise TallywireError(f"{found}: expected a PEM file of each, made for one another, no password") from exc

    async def follow(self, context: ssl.SSLContext) -> None:
        """Take renewed files up, until it is cancelled: who connects from then on gets the new certificate."""
        seen = self._stamp()
        while True:
            await asyncio.sleep(LOOK_S)
            found = await asyncio.to_thread(self._stamp)
            if found != seen:
                seen = found
                # Tried apart first: a context with half of a pair would turn everybody away.
                if await asyncio.to_thread(self._is_usable):
                    self._take_up(context)

    def _is_usable(self) -> bool:
        try:
            self.check()
        except TallywireError as exc:
            _log.warning("goes on with the certificate it has: %s", exc)
            return False
        return True

    def _take_up(self, context: ssl.SSLContext) -> None:
        """In the event loop's thread, so between two handshakes: one that begins meanwhile would find half a pair."""
        try:
            context.load_cert_chain(self.certificate, self.private_key, password="")
        except OSError as exc:
            _log.warning("goes on with the certificate it has: %s", exc)
        else:
            _log.warning("took up the renewed certificate %s, SHA-256 %s", self.certificate, self.fingerprint)

    def _stamp(self) -> list[tuple[int, int]]:
        """Give what changes when a file is replaced; a missing one is none."""
        stamps = []
        for path in (self.certificate, self.private_key):
            with suppress(OSError):
                state = path.stat()
                stamps.append((state.st_mtime_ns, state.st_ino))
        return stamps

    @property
    def fingerprint(self) -> str:
        """Give the SHA-256 of the server's certificate, as browsers show it: what a crew compares once."""
        first, _, _ = self.certificate.read_text(encoding="ascii", errors="replace").partition(_END)
        der = ssl.PEM_cert_to_DER_cert(first[first.index("-----BEGIN CERTIFICATE") :] + _END)
        return sha256(der).digest().hex(":").upper()
