"""`tallywire audit`: the story of a heat on paper, from a recording and from a data folder with its links."""

from __future__ import annotations

from pathlib import Path

import orjson
import pytest

from core.samples import HEAT, Pad
from shell.journal_contract import NOW
from tallywire.cli.main import main
from tallywire.shell.data_folder import LINKS
from tallywire.shell.export import take_in
from tallywire.shell.link_file import load_links
from tallywire.shell.links import Wish
from tallywire.shell.told import told_facts
from tallywire.wire.checked_recording import CheckedRecording

SCENARIOS = Path(__file__).parents[2] / "scenarios"
COMPETITION, RECORDING = SCENARIOS / "saltmarsh.toml", SCENARIOS / "saltmarsh-women-2.ndjson"


def said(capsys: pytest.CaptureFixture[str], *arguments: object, code: int = 0) -> str:
    """Run a command in this process and give what it printed."""
    assert main(["audit", *map(str, arguments)]) == code
    printed = capsys.readouterr()
    return printed.out + printed.err


def test_a_recording_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo heat: its start, a correction with its reason, a tap taken back, and how its result stands."""
    text = said(capsys, COMPETITION, RECORDING)
    for words in (
        "The scoring table started the heat.",
        "to 46: ninth push press of round two was not tapped",
        "took back “counted 1 rep for lane 8",
        "The result is not final",
    ):
        assert words in text
    # One heat has a story, and the touches of a judge are told together: 1,306 facts, in a tenth of the lines.
    assert 20 < len(text.splitlines()) < 250


def test_a_data_folder_tells_who_had_which_link(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sender that came with a link is told with the link and its label."""
    folder = tmp_path / "data"
    recording = CheckedRecording(lines=RECORDING.read_bytes().splitlines(), mode="live", competition=None)
    take_in(recording, folder, received_unix_ms=NOW)
    links = load_links(folder / LINKS, now_ms=lambda: NOW)
    [issued] = links.issue([Wish(role="lane", lane=8, label="Saturday")])
    sender = next(line["sender"] for line in map(orjson.loads, recording.lines) if line["sender"].startswith("lane-8-"))
    links.used(issued.link.id, sender)
    stories = orjson.loads(said(capsys, COMPETITION, folder, "--heat", "women-2", "--json"))
    devices = {each["device"] for each in stories[0]["sentences"] if each["who"] == "The judge of lane 8"}
    assert devices == {f"{sender} with lane pad 8 “Saturday”, link {issued.link.id}"}


def test_facts_of_a_recording_came_at_their_own_times() -> None:
    """By the call and by the start before each, and never before the one ahead; before both there is no time but 0."""
    pad, table = Pad("lane-1-a", 1), Pad("table-a")
    start = table.start()
    facts = [pad.reps(5_000), table.call(0, NOW), start, pad.reps(7_000), table.correct(6_000, 3, lane=1)]
    came = [line.received_unix_ms for line in told_facts(facts, HEAT)]
    assert came == [0, NOW, start.unix_ms, start.unix_ms + 7_000, start.unix_ms + 7_000]


def test_an_unknown_heat_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """A heat that is not in the competition is named with those that are."""
    assert "women-2" in said(capsys, COMPETITION, RECORDING, "--heat", "none", code=2)
