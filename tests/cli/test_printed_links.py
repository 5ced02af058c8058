"""Which links a server prints: those with keys only where nobody else can read or use them, or when asked."""

from __future__ import annotations

import stat
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from core.samples import competition
from tallywire.cli.main import main
from tallywire.cli.pages import announced
from tallywire.shell.keys import Keys, load_keys

KEYS = Keys("table-secret", {1: "lane-secret-1", 2: "lane-secret-2", 3: "lane-secret-3"}, "desk-secret")
SECRETS = (KEYS.table, KEYS.desk, *KEYS.lanes.values())
EXAMPLE = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"


@pytest.mark.parametrize(
    ("address", "asked", "shown"),
    [
        ("http://127.0.0.1:8400", False, True),
        ("http://127.0.0.5:8400", False, True),
        ("http://[::1]:8400", False, True),
        ("http://0.0.0.0:8400", False, False),
        ("http://[::]:8400", False, False),
        ("http://192.0.2.7:8400", False, False),
        ("http://192.0.2.7:8400", True, True),
        ("http://0.0.0.0:8400", True, True),
    ],
)
def test_keys_are_printed_on_loopback_or_when_asked(address: str, asked: bool, shown: bool) -> None:
    """Every key or none; without them one line says how to see them, and the pages without a key stand all the same."""
    text = announced(address, KEYS, competition(), links=asked, data=Path("data"))
    assert [secret in text for secret in SECRETS] == [shown] * len(SECRETS)
    assert f"{address}/board/" in text
    told = [line for line in text.splitlines() if "--print-links" in line and "data/keys.json" in line]
    assert len(told) == (not shown)


@pytest.mark.parametrize("asked", [False, True])
def test_serve_asks_before_it_prints_keys(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], asked: bool
) -> None:
    """`serve` on an address of the network prints no key without `--print-links`, and all of them with it."""
    keys = load_keys(tmp_path / "keys.json", range(1, 11))

    async def serve(_competition: Any, _settings: Any, *, on_listening: Any) -> None:
        on_listening(SimpleNamespace(address="http://192.0.2.7:8400", live=SimpleNamespace(keys=keys)))

    monkeypatch.setattr("tallywire.cli.live.serve", serve)
    options = ["--print-links"] if asked else []
    assert main(["serve", str(EXAMPLE), "--host", "192.0.2.7", "--data", str(tmp_path), *options]) == 0
    printed = capsys.readouterr()
    found = [key in printed.out + printed.err for key in (keys.table, keys.desk, *keys.lanes.values())]
    assert found == [asked] * 12


def test_only_the_owner_reads_the_keys(tmp_path: Path) -> None:
    """A key file that was readable to others is private again as soon as it is read."""
    path = tmp_path / "keys.json"
    keys = load_keys(path, [1])
    path.chmod(0o644)
    assert load_keys(path, [1]) == keys
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
