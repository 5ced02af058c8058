"""docs/tour.md walked as a newcomer does: its file is checked, served, counted, exported, printed and played again."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from e2e.processes import served
from e2e.sender import Sender
from tallywire.shell.files import load_recording

PAGE = (Path(__file__).parents[2] / "docs" / "tour.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"^    (tallywire .*)$", PAGE, re.MULTILINE)


def block(info: str) -> str:
    """Give a fenced block of the page."""
    return re.findall(f"^```{info}\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)[0]  # type: ignore[no-any-return]


def run(folder: Path, command: str, *more: str) -> str:
    """Run a command of the page in the newcomer's folder and give what it prints."""
    words, _, target = command.partition(" > ")
    line = [sys.executable, "-m", *words.split(), *more]
    printed = subprocess.run(line, cwd=folder, check=True, capture_output=True, text=True, timeout=60).stdout
    if target:
        (folder / target).write_text(printed, encoding="utf-8")
    return printed


@pytest.mark.slow
def test_a_newcomer_walks_the_tour(tmp_path: Path) -> None:
    """Lane 1 completes its 18 reps, lane 2 stops at 7: so the results and the standing say, and so it plays again."""
    _make, check, simulate, made_up, serve, export, results, standings, rehearse = COMMANDS
    (tmp_path / "cove.toml").write_text(block("toml"), encoding="utf-8")
    assert run(tmp_path, check) == block("text")
    run(tmp_path, simulate)
    shown = run(tmp_path, made_up, "--speed", "600", "--exit-at-end", "--port", "0")
    assert shown.startswith("REHEARSAL of Cove Challenge")
    assert "on air, heat view" in shown
    data = tmp_path / "tallywire-data"
    with served(*serve.split()[1:2], str(tmp_path / serve.split()[2]), "--data", str(data), "--port", "0") as server:
        assert {"scoring table", "lane pad 1", "lane pad 2", "graphics desk"} <= set(server.links)
        assert any(name.startswith("on air") for name in server.links)
        table = Sender(server.port, "table-t", server.key("scoring table"))
        table.say("heat_called", heat="first", unix_ms=1_800_000_000_000)
        table.say("heat_started", heat="first", unix_ms=1_800_000_000_000)
        for lane, reps in ((1, 18), (2, 7)):
            pad = Sender(server.port, f"lane-{lane}-t", server.key(f"lane pad {lane}"), lane=lane)
            for n in range(reps):
                pad.say("rep_counted", heat="first", lane=lane, at_ms=1000 * (n + 1))
            pad.close()
        table.say("heat_ended", heat="first", at_ms=60_000)
        table.close()
    run(tmp_path, export)
    assert len(load_recording(tmp_path / "heat.ndjson")) == 2 + 18 + 7 + 1
    printed = run(tmp_path, results)
    assert re.search(r"1\b.*Runa Ostrovik.*0:18", printed)
    assert re.search(r"2\b.*Dela Marchbank.*7", printed)
    assert re.search(r"1\b.*Runa Ostrovik.*30", run(tmp_path, standings))
    again = run(tmp_path, rehearse, "--speed", "60", "--exit-at-end", "--port", "0")
    assert again.startswith("REHEARSAL of Cove Challenge")
    assert re.search(r"1\b.*Runa Ostrovik.*0:18", again)
