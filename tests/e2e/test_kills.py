"""A real server killed under eight senders, again and again: every acknowledged fact is there once, in its order."""

from __future__ import annotations

import json
import urllib.request
from pathlib import Path
from random import Random
from typing import Any

import pytest

from e2e.blast import LANES, Blast, competition, fact, faults, name_of
from e2e.processes import Served, served
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.result_status import result_status
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.heat import heat_frame
from tallywire.core.views.table import table_frame
from tallywire.shell.export import export
from tallywire.shell.files import load_competition
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.reading import sound_lines
from tallywire.wire.recording import read_recording
from tallywire.wire.short_frame import Shortener

pytestmark = pytest.mark.slow
A_FOLDER = 20
"""A new data folder after so many kills, so that starts stay short."""
A_SECOND = 1000
"""Facts a second at which a kill counts; one in a slower moment of a shared machine is checked all the same."""


def shown(server: Served) -> dict[str, Any]:
    """Give the table's view as the server has it."""
    asked = urllib.request.Request(f"{server.base}/snapshot/table?heat=h1")
    asked.add_header("Authorization", f"Bearer {server.key('scoring table')}")
    with urllib.request.urlopen(asked, timeout=60) as answer:
        frame: dict[str, Any] = json.loads(answer.read())["frame"]
        return frame


def snapshot_of(file: Path, facts: list[Fact]) -> Snapshot:
    """Fold facts."""
    book = CompetitionBook(load_competition(file))
    for each in facts:
        book.add(each)
    return book.at(unix_ms=0)


def folded(file: Path, facts: list[Fact]) -> dict[str, Any]:
    """Fold facts and give the table's view of them."""
    snapshot = snapshot_of(file, facts)
    heat = snapshot.heats["h1"]
    return on_the_wire(table_frame(snapshot.competition, heat.state, result_status(heat)))


def folded_heat(file: Path, facts: list[Fact]) -> dict[str, Any]:
    """Fold facts and give everybody's view of them."""
    snapshot = snapshot_of(file, facts)
    heat = snapshot.heats["h1"]
    return on_the_wire(heat_frame(snapshot.competition, heat.state, in_event(snapshot, heat)))


def on_the_wire(whole: dict[str, Any]) -> dict[str, Any]:
    """Give a frame as it is sent: without what follows from the rest of it."""
    frame: dict[str, Any] = json.loads(json.dumps(Shortener().shorten(whole)))
    return frame


def check_state(server: Served, file: Path, recording: bytes) -> None:
    """Check that a server shows the fold of an export, and that of every lane the plain sum."""
    facts, frame = read_recording("export", recording), shown(server)
    expected = folded(file, facts)
    assert {name: frame[name] for name in expected} == expected
    for lane in LANES:
        reps = sum(each.sender == name_of(lane) and each.sequence % 7 != 0 for each in facts)
        assert frame["lanes"][str(lane)]["done"] == min(reps, 1000), f"lane {lane}"


async def killed_again_and_again(folder: Path, kills: int, seed: int) -> Blast:
    """Serve, send, kill and look, so many times, on the same data."""
    blast, dice, file, data = Blast(), Random(seed), competition(folder), folder / "data"
    recording = b""
    for _ in range(kills):
        with served("serve", str(file), "--data", str(data), "--port", "0") as server:
            if recording:
                check_state(server, file, recording)
            await blast.until_killed(server, facts=dice.randrange(500, 2000))
        assert faults(blast.acknowledged, sound_lines(data / "journal.sqlite").lines) == []
        recording = b"".join(export(data, refused=False))
    return blast


@pytest.mark.parametrize("kills", [3, pytest.param(200, marks=pytest.mark.long)])
async def test_a_killed_server_has_every_acknowledged_fact_once_in_order(tmp_path: Path, kills: int) -> None:
    """Killed under eight senders; after each start it shows the fold of the export that was made before."""
    total, rates = 0, list[float]()
    while (left := kills - sum(rate >= A_SECOND for rate in rates)) > 0:
        folder = tmp_path / str(len(rates))
        folder.mkdir()
        blast = await killed_again_and_again(folder, min(A_FOLDER, left), len(rates))
        total += sum(blast.acknowledged.values())
        rates += blast.rates
        assert len(rates) < kills + A_FOLDER, "often slower than 1,000 facts a second: is the machine busy?"
    middle, slow = sorted(rates)[len(rates) // 2], sum(rate < A_SECOND for rate in rates)
    print(f"{len(rates)} kills, {total} facts acknowledged, {middle:.0f} a second in the middle, {slow} kills too slow")
    assert total > 500 * kills


def test_the_check_names_each_kind_of_fault() -> None:
    """The check above is able to fail: a lost, a doubled, a swapped, an altered and a refused fact are each found."""
    lines = [Line(number, 1, name_of(1), number, json.dumps(fact(1, number)).encode(), None) for number in range(1, 6)]
    acknowledged = dict.fromkeys(LANES, 0) | {1: 5}
    assert faults(acknowledged, lines) == []
    bad = [
        lines[:4],
        [*lines, lines[4]],
        [lines[1], lines[0], *lines[2:]],
        [*lines[:4], lines[4]._replace(body=lines[3].body)],
        [*lines[:4], lines[4]._replace(refusal=b"{}")],
    ]
    assert [bool(faults(acknowledged, each)) for each in bad] == [True] * 5
