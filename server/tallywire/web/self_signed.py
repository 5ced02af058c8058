"""A self-signed certificate, made once and kept in the data folder, for a venue that has none."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from tallywire.core.errors import TallywireError
from tallywire.shell.data_folder import write_private
from tallywire.web.addresses import own_addresses
from tallywire.web.hosts import is_host
from tallywire.web.tls import Tls

_CERTIFICATE, _PRIVATE_KEY = "tls-certificate.pem", "tls-key.pem"
_LASTS = timedelta(days=365)
_LEFT = timedelta(days=14)
"""A certificate that expires within this time is replaced, so that it does not expire during a competition."""
_HTTPS = 443
_LOOPBACK = ("localhost", "127.0.0.1", "::1")


def self_signed(folder: Path, names: Iterable[str], *, now: datetime | None = None) -> Tls:
    """Give the folder's certificate for these names and addresses; if none is valid for all of them, one is made.

    A new one has another fingerprint, which the crew has to compare again. Raises TallywireError when it cannot be
    written.
    """
    tls = Tls(certificate=folder / _CERTIFICATE, private_key=folder / _PRIVATE_KEY)
    wanted, at = sorted({*_LOOPBACK, *map(_plain, names)}), now or datetime.now(UTC)
    if _holds(tls, wanted, at):
        # A copy or a restored backup may be readable to others; on a read-only disk it stays so.
        with suppress(OSError):
            tls.private_key.chmod(0o600)
        return tls
    _make(tls, wanted, at)
    return tls


def names_of(host: str, others: Sequence[str]) -> list[str]:
    """Give the names and addresses of a server that listens at `host`.

    A host that means all gives all the machine has.
    """
    found = (urlsplit(each).hostname or host for each in own_addresses(host, _HTTPS, scheme="https"))
    return [name for name in (*found, *others) if is_host(name) or ":" in name]


def _holds(tls: Tls, names: Sequence[str], now: datetime) -> bool:
    try:
        made = x509.load_pem_x509_certificate(tls.certificate.read_bytes())
        tls.check()
        named = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound, TallywireError):
        return False
    return {_general(name) for name in names} <= set(named) and made.not_valid_after_utc - now > _LEFT


def _make(tls: Tls, names: Sequence[str], now: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    made = _certificate(key, names, now)
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _write(tls.private_key, private)
    _write(tls.certificate, made.public_bytes(serialization.Encoding.PEM))


def _write(path: Path, data: bytes) -> None:
    try:
        write_private(path, data)
    except OSError as exc:
        raise TallywireError(f"cannot write {path} ({exc.strerror}): choose a folder that can be written") from exc


def _certificate(key: ec.EllipticCurvePrivateKey, names: Sequence[str], now: datetime) -> x509.Certificate:
    """RFC 5280: issuer and subject are the same, names are in the alternative names, and it signs no others."""
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Tallywire at the venue")])
    return (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + _LASTS)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _plain(name: str) -> str:
    return name.strip("[]").lower()
