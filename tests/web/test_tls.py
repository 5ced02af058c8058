"""TLS of the server's own, with real clients on the loopback address."""

from __future__ import annotations

import asyncio
import ssl
import warnings
from asyncio import to_thread
from hashlib import sha256
from pathlib import Path
from typing import Any

import orjson
import pytest
import trustme
from websockets.asyncio.client import connect

from core.samples import Pad, competition
from tallywire.cli.main import main
from tallywire.core.errors import TallywireError
from tallywire.shell.export import export, keep_competition
from tallywire.shell.files import load_bundle
from tallywire.web import http_protocol
from tallywire.web import tls as tls_module
from tallywire.web.serving import running
from tallywire.web.settings import Settings
from tallywire.web.tls import Tls
from wire.talk import facts, text

EXAMPLE = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"


@pytest.fixture(name="authority", scope="module")
def _authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture(name="tls")
def _tls(authority: trustme.CA, tmp_path: Path) -> Tls:
    """A certificate of that authority for 127.0.0.1, and its key."""
    tls = Tls(certificate=tmp_path / "certificate.pem", private_key=tmp_path / "key.pem")
    write(authority, tls)
    return tls


def write(authority: trustme.CA, tls: Tls) -> None:
    """Have the authority issue a certificate for 127.0.0.1 into these files."""
    made = authority.issue_cert("127.0.0.1")
    tls.certificate.write_bytes(b"".join(blob.bytes() for blob in made.cert_chain_pems))
    made.private_key_pem.write_to_path(str(tls.private_key))


async def shown_by(port: int, trusting: ssl.SSLContext) -> str:
    """Connect, and give the SHA-256 of the certificate that the server shows."""
    _, writer = await asyncio.open_connection("127.0.0.1", port, ssl=trusting)
    der = writer.get_extra_info("ssl_object").getpeercert(binary_form=True)
    writer.close()
    await writer.wait_closed()
    return sha256(der).digest().hex(":").upper()


async def until_shown(port: int, trusting: ssl.SSLContext, expected: str) -> None:
    """Connect until that certificate is shown."""
    async with asyncio.timeout(20):
        while await shown_by(port, trusting) != expected:
            pass


@pytest.mark.slow
async def test_a_renewed_certificate_is_taken_up(
    authority: trustme.CA, tls: Tls, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Who connects after the files were replaced gets the new one, open connections go on, half a pair is left alone.

    A server that does not look shows the old one.
    """
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    async with running(competition(), Settings(data=tmp_path / "data", port=0, tls=tls)) as server:
        old, port = tls.fingerprint, int(server.address.rsplit(":", 1)[1])
        write(authority, tls)
        assert await shown_by(port, trusting) == old
    monkeypatch.setattr(tls_module, "LOOK_S", 0.05)
    # On a busy machine the open connection below waits long for its request.
    monkeypatch.setattr(http_protocol, "REQUEST_S", 100.0)
    async with running(competition(), Settings(data=tmp_path / "data", port=0, tls=tls)) as server:
        port = int(server.address.rsplit(":", 1)[1])
        reader, writer = await asyncio.open_connection("127.0.0.1", port, ssl=trusting)
        whole = tls.certificate.read_bytes()
        tls.certificate.write_text("half of a")
        async with asyncio.timeout(20):
            while "goes on with the certificate it has" not in caplog.text:
                await shown_by(port, trusting)
        await until_shown(port, trusting, sha256_of(whole))
        write(authority, tls)
        await until_shown(port, trusting, tls.fingerprint)
        assert tls.fingerprint != sha256_of(whole)
        writer.write(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        assert b" 200 " in await asyncio.wait_for(reader.read(), 20)
        writer.close()
        await writer.wait_closed()


def sha256_of(pem: bytes) -> str:
    """Give the SHA-256 of the first certificate of a PEM file."""
    first = pem.decode().partition("-----END CERTIFICATE-----")
    return sha256(ssl.PEM_cert_to_DER_cert(first[0] + first[1])).digest().hex(":").upper()


@pytest.mark.slow
async def test_facts_travel_over_wss(authority: trustme.CA, tls: Tls, tmp_path: Path) -> None:
    """A client that checks the certificate sends facts and watches; the folder in use is exported over https.

    Source: the `websockets` client and Python's `ssl`, which verify chain and name.
    """
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    data = tmp_path / "data"
    async with running(competition(), Settings(data=data, port=0, tls=tls)) as server:
        assert server.address.startswith("https://127.0.0.1:")
        wire = f"{server.address.replace('https', 'wss')}/wire"
        async with connect(wire, ssl=trusting, origin=server.address) as table:  # type: ignore[arg-type]
            await table.send(text(type="hello", role="table", sender="table-a", key=server.live.keys.table))
            await table.send(facts(Pad("table-a").start()))
            heard = [orjson.loads(await table.recv()) for _ in range(2)]
        keep_competition(data, load_bundle(EXAMPLE))
        exported = b"".join(await to_thread(lambda: list(export(data, refused=False))))
    assert [message["type"] for message in heard] == ["welcome", "acknowledged"]
    assert heard[1]["watermark"] == 1
    assert b'"heat_started"' in exported


@pytest.mark.slow
async def test_a_client_that_does_not_know_the_certificate_turns_away(tls: Tls, tmp_path: Path) -> None:
    """Without trust in the authority no handshake is made, and without TLS nothing is answered."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0, tls=tls)) as server:
        with pytest.raises(ssl.SSLCertVerificationError):
            async with connect(f"{server.address.replace('https', 'wss')}/wire"):
                pass
        with pytest.raises(Exception, match="did not receive a valid HTTP response"):
            async with connect(f"{server.address.replace('https', 'ws')}/wire"):
                pass


@pytest.mark.slow
async def test_an_old_tls_is_refused(authority: trustme.CA, tls: Tls, tmp_path: Path) -> None:
    """A client that speaks nothing newer than TLS 1.1 gets no connection, one of TLS 1.2 does. Source: RFC 8996."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0, tls=tls)) as server:
        port = int(server.address.rsplit(":", 1)[1])
        for newest, taken in ((ssl.TLSVersion.TLSv1_2, True), (ssl.TLSVersion.TLSv1_1, False)):
            client = ssl.create_default_context()
            authority.configure_trust(client)
            client.set_ciphers("ALL:@SECLEVEL=0")
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DeprecationWarning)
                client.minimum_version, client.maximum_version = ssl.TLSVersion.TLSv1, newest
            try:
                _, writer = await asyncio.open_connection("127.0.0.1", port, ssl=client)
            except (ssl.SSLError, ConnectionError):
                assert not taken
            else:
                assert taken
                writer.close()
                await writer.wait_closed()


def test_a_certificate_that_cannot_be_used_is_named(tls: Tls, authority: trustme.CA, tmp_path: Path) -> None:
    """A missing file, text that is no certificate, and the key of another one are said before anything is served."""
    stranger = tmp_path / "stranger.pem"
    authority.issue_cert("127.0.0.1").private_key_pem.write_to_path(str(stranger))
    for wrong in (tmp_path / "none.pem", EXAMPLE, stranger):
        with pytest.raises(TallywireError, match="cannot use the certificate"):
            Tls(certificate=tls.certificate, private_key=wrong).check()
    tls.check()


def test_a_certificate_needs_its_key(tls: Tls, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One of the two options alone is an error that names both."""
    code = main(["serve", str(EXAMPLE), "--data", str(tmp_path / "data"), "--certificate", str(tls.certificate)])
    assert code != 0
    assert "expected both or none" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "is_so"),
    [
        ({"host": "127.0.0.1"}, False),
        ({"host": "::1"}, False),
        ({"host": "0.0.0.0"}, True),
        ({"host": "192.0.2.7", "public_url": "http://scores.example"}, True),
        ({"host": "192.0.2.7", "public_url": "https://scores.example"}, False),
        ({"host": "0.0.0.0", "tls": Tls(certificate=Path("c"), private_key=Path("k"))}, False),
    ],
)
def test_keys_in_the_clear_are_known(options: dict[str, Any], is_so: bool) -> None:
    """Keys can be read on their way only where other machines reach the server without TLS."""
    assert Settings(data=Path("data"), **options).sends_keys_in_the_clear == is_so
