"""TLS of the server's own: a certificate and its private key, both as PEM files."""

from __future__ import annotations

import ssl
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from tallywire.core.errors import TallywireError

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

    @property
    def fingerprint(self) -> str:
        """Give the SHA-256 of the server's certificate, as browsers show it: what a crew compares once."""
        first, _, _ = self.certificate.read_text(encoding="ascii", errors="replace").partition(_END)
        der = ssl.PEM_cert_to_DER_cert(first[first.index("-----BEGIN CERTIFICATE") :] + _END)
        return sha256(der).digest().hex(":").upper()
