"""The certificate that a server makes for itself."""

from __future__ import annotations

import hashlib
import ssl
import stat
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import orjson
import pytest
from cryptography import x509
from websockets.asyncio.client import connect

from core.samples import competition
from e2e.processes import served
from tallywire.cli.main import main
from tallywire.core.errors import TallywireError
from tallywire.web import addresses
from tallywire.web.self_signed import names_of, self_signed
from tallywire.web.serving import running
from tallywire.web.settings import Settings
from wire.talk import text

EXAMPLE = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"
NOW = datetime(2027, 5, 1, tzinfo=UTC)


@pytest.mark.slow
async def test_a_client_that_trusts_the_fingerprint_is_served(tmp_path: Path) -> None:
    """A client checks names and signature with this certificate alone as its anchor, and sees the fingerprint named.

    Source: Python's `ssl` (OpenSSL), which takes the certificate over the wire and hashes it by itself.
    """
    tls = self_signed(tmp_path, ["192.0.2.7", "scores.example"])
    trusting = ssl.create_default_context(cafile=str(tls.certificate))
    trusting.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    async with running(competition(), Settings(data=tmp_path / "data", port=0, tls=tls)) as server:
        port = server.address.rsplit(":", 1)[1]
        async with connect(f"wss://127.0.0.1:{port}/wire", ssl=trusting) as viewer:
            shown = viewer.transport.get_extra_info("ssl_object").getpeercert(binary_form=True)
            await viewer.send(text(type="ping", t1=1))
            assert orjson.loads(await viewer.recv())["type"] == "pong"
        with pytest.raises(ssl.SSLCertVerificationError):
            async with connect(f"wss://127.0.0.1:{port}/wire"):
                pass
    plain = hashlib.sha256(shown).hexdigest().upper()
    assert tls.fingerprint.replace(":", "") == plain
    assert len(tls.fingerprint.split(":")) == 32


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", "192.0.2.7", "scores.example"])
def test_it_holds_for_the_names_of_the_server(tmp_path: Path, name: str) -> None:
    """Loopback, the address listened at and the names given are in it; another name is not (Python's `ssl` checks)."""
    tls = self_signed(tmp_path, ["192.0.2.7", "Scores.example"])
    server, client = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER), ssl.create_default_context(cafile=str(tls.certificate))
    server.load_cert_chain(tls.certificate, tls.private_key)
    client.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN

    def shake(asked: str) -> None:
        to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
        one = client.wrap_bio(to_client, to_server, server_hostname=asked)
        other = server.wrap_bio(to_server, to_client, server_side=True)
        for side in (one, other, one):
            with suppress(ssl.SSLWantReadError):
                side.do_handshake()

    shake(name)
    with pytest.raises(ssl.SSLCertVerificationError):
        shake("elsewhere.example")


def test_it_is_made_once_and_kept(tmp_path: Path) -> None:
    """A second start has the same fingerprint, and so has one with fewer names; the key is its owner's alone."""
    first = self_signed(tmp_path, ["scores.example"], now=NOW)
    first.private_key.chmod(0o644)
    again = self_signed(tmp_path, [], now=NOW + timedelta(days=300))
    assert again.fingerprint == first.fingerprint
    assert stat.S_IMODE(again.private_key.stat().st_mode) == 0o600


@pytest.mark.parametrize("why", ["a new name", "it ends soon", "it is damaged", "another key"])
def test_it_is_made_anew_when_it_no_longer_holds(tmp_path: Path, why: str) -> None:
    """A name that is missing, an end within two weeks, a damaged file or a key of another one: a new one, usable."""
    first = self_signed(tmp_path, [], now=NOW)
    old = first.fingerprint
    if why == "it is damaged":
        first.certificate.write_bytes(b"rubbish")
    if why == "another key":
        (tmp_path / "other").mkdir()
        other = self_signed(tmp_path / "other", [], now=NOW)
        first.private_key.write_bytes(other.private_key.read_bytes())
    at = NOW + timedelta(days=360 if why == "it ends soon" else 1)
    new = self_signed(tmp_path, ["new.example"] if why == "a new name" else [], now=at)
    assert new.fingerprint != old
    new.check()


@pytest.mark.parametrize(("days", "kept"), [(350, True), (351, False)])
def test_it_holds_for_a_year_and_is_replaced_in_its_last_fortnight(tmp_path: Path, days: int, kept: bool) -> None:
    """365 days less 14 are 351. It begins a day early, for devices whose clocks are behind."""
    first = self_signed(tmp_path, [], now=NOW).certificate.read_bytes()
    made = x509.load_pem_x509_certificate(first)
    assert made.not_valid_before_utc == NOW - timedelta(days=1)
    assert made.not_valid_after_utc == NOW + timedelta(days=365)
    again = self_signed(tmp_path, [], now=NOW + timedelta(days=days)).certificate.read_bytes()
    assert (again == first) is kept


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Where no file can be made, one message says so."""
    (tmp_path / "tls-key.pem").mkdir()
    with pytest.raises(TallywireError, match=r"cannot write .*tls-key\.pem"):
        self_signed(tmp_path, [])


def test_a_server_on_all_addresses_names_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Listening on all of them, the machine's addresses are in the certificate, beside the names given."""
    monkeypatch.setattr(addresses, "_routed", lambda: [ip_address("192.0.2.7")])
    monkeypatch.setattr(addresses, "_on_adapters", lambda: [ip_address("2001:db8::7"), ip_address("127.0.0.1")])
    assert names_of("0.0.0.0", ["scores.example"]) == ["192.0.2.7", "scores.example"]
    assert names_of("::", []) == ["192.0.2.7", "2001:db8::7"]
    assert names_of("192.0.2.9", []) == ["192.0.2.9"]


def test_both_kinds_of_tls_are_one_too_many(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A certificate of the venue's own and a self-signed one exclude each other."""
    files = ["--certificate", "a.pem", "--private-key", "b.pem"]
    assert main(["serve", str(EXAMPLE), "--data", str(tmp_path), "--tls", "self-signed", *files]) != 0
    assert "expected one of them" in capsys.readouterr().err


@pytest.mark.slow
def test_the_fingerprint_is_printed(tmp_path: Path) -> None:
    """`serve --tls self-signed` prints links with https, and the fingerprint of the certificate that it keeps."""
    data = tmp_path / "data"
    with served("serve", str(EXAMPLE), "--data", str(data), "--tls", "self-signed", "--port", "0") as server:
        assert server.base.startswith("https://127.0.0.1:")
        assert server.process.stdout is not None
        printed = server.process.stdout.readline().strip()
    assert printed == self_signed(data, []).fingerprint
    assert stat.S_IMODE((data / "tls-key.pem").stat().st_mode) == 0o600
