"""Which links a server prints: those with keys only where nobody else can read or use them, or when asked."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from core.samples import competition, on_lanes
from tallywire.cli.main import main
from tallywire.cli.pages import announced
from tallywire.shell.keys import Keys, make_keys
from tallywire.web.settings import Settings

KEYS = Keys(
    "table-secret",
    {each: f"lane-secret-{each.lane}" for each in on_lanes([1, 2, 3])},
    "desk-secret",
    "commentator-secret",
    "spotter-secret",
)
SECRETS = [key for _, _, key in KEYS.each()]
EXAMPLE = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"


@pytest.mark.parametrize(
    ("host", "asked", "shown"),
    [
        ("127.0.0.1", False, True),
        ("127.0.0.5", False, True),
        ("localhost", False, True),
        ("::1", False, True),
        ("0.0.0.0", False, False),
        ("::", False, False),
        ("192.0.2.7", False, False),
        ("192.0.2.7", True, True),
        ("0.0.0.0", True, True),
    ],
)
def test_keys_are_printed_on_loopback_or_when_asked(host: str, asked: bool, shown: bool) -> None:
    """Every key or none; without them one line says how to see them, and the pages without a key stand all the same."""
    settings = Settings(data=Path("data"), host=host, print_links=asked)
    text = announced(["http://here:8400", "http://also:8400"], KEYS, competition(), settings=settings)
    assert "http://also:8400" in text
    assert [secret in text for secret in SECRETS] == [shown] * len(SECRETS)
    assert "http://here:8400/board/" in text
    told = [line for line in text.splitlines() if "--print-links" in line and "tallywire links data" in line]
    assert len(told) == (not shown)


@pytest.mark.parametrize("asked", [False, True])
def test_serve_asks_before_it_prints_keys(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], asked: bool
) -> None:
    """`serve` on an address of the network prints no key without `--print-links`, and all of them with it."""
    keys = make_keys(on_lanes(range(1, 11)))

    async def serve(_competition: Any, _settings: Any, *, on_listening: Any, bench: Any) -> None:
        assert bench is not None
        address = "http://192.0.2.7:8400"
        on_listening(SimpleNamespace(address=address, addresses=[address], live=SimpleNamespace(keys=keys)))

    monkeypatch.setattr("tallywire.cli.live.serve", serve)
    options = ["--print-links"] if asked else []
    assert main(["serve", str(EXAMPLE), "--host", "192.0.2.7", "--data", str(tmp_path), *options]) == 0
    printed = capsys.readouterr()
    found = [key in printed.out + printed.err for _, _, key in keys.each()]
    assert found == [asked] * 14
