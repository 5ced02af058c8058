"""A format that lives in the tests is plugged in with one line, and the whole program works with it."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from core.called import call
from formats.carry import LAP_FIRST
from formats.format_contract import FormatContract
from shell.stage import START_UNIX_MS, frame_now, joined, journalled, live_on, recording
from tallywire.cli.main import main
from tallywire.core.cues import every_kind
from tallywire.core.errors import BadFile
from tallywire.core.facts import Fact, HeatStarted, RepCounted
from tallywire.core.formats.registry import format_named, format_names, plugged
from tallywire.core.model.competition import Competition
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.wire.competition_file import competition_schema, read_competition
from tallywire.wire.cue_wording import default_wording
from tallywire.wire.fact_lines import fact_line
from wire.talk import facts as facts_message
from wire.talk import hello

FILE = """
[competition]
name = "Quayside Carry"

[[division]]
id = "open"
name = "Open"

[[points]]
id = "table"
places = [10, 5]

[[entry]]
id = "a"
name = "Asta Lind"
short = "Lind"
division = "open"

[[entry]]
id = "b"
name = "Bo Marsh"
short = "Marsh"
division = "open"

[[heat]]
id = "h"
name = "Heat 1"
event = "e"
lanes = { 1 = "a", 2 = "b" }

[[event]]
id = "e"
name = "Carry"

[event.workout]
format = "carry"
time_cap = "1:00"

[event.workout.carry]
lap_metres = 10

[[event.workout.station]]
movement = "Sandbag carry"
amount = 20
unit = "metres"
"""
STEPS_MS = {1: 2_000, 2: 2_500}
"""How long each lane takes for a metre: 30 metres and 24 in a minute."""


@pytest.fixture(autouse=True)
def _plugged_in() -> Iterator[None]:
    """The registry line."""
    with plugged("carry", "formats.carry"):
        yield


def competition() -> Competition:
    """The file, read."""
    return read_competition("carry.toml", FILE, lambda _: b"")


def heat() -> list[Fact]:
    """Both lanes walk for a minute, a metre at a time."""
    found: list[Fact] = [HeatStarted(id="s", heat="h", at_ms=0, sender="table-1", sequence=1, unix_ms=START_UNIX_MS)]
    for lane, step_ms in STEPS_MS.items():
        for number, at_ms in enumerate(range(step_ms, 60_001, step_ms), start=1):
            stamp = {"id": f"{lane}.{number}", "sender": f"lane-{lane}-a", "sequence": number}
            found.append(RepCounted(**stamp, heat="h", at_ms=at_ms, lane=lane))  # type: ignore[arg-type]
    return sorted(found, key=lambda fact: fact.at_ms)


class TestCarry(FormatContract):
    """It passes what every format passes."""

    name = "carry"

    def example(self) -> tuple[Competition, Sequence[Fact]]:
        """The heat above."""
        return competition(), heat()


def problems(text: str) -> list[str]:
    """What is wrong with a file."""
    with pytest.raises(BadFile) as caught:
        read_competition("carry.toml", text, lambda _: b"")
    return [str(each).removeprefix("event[1].workout.") for each in caught.value.problems]


def test_the_file_is_checked_by_the_formats_own_rules() -> None:
    """Its field is needed, bounded, checked against the work, and refused in another format."""
    own = "[event.workout.carry]\nlap_metres = 10\n"
    assert problems(FILE.replace(own, "")) == ["carry: found nothing, expected a value: the format carry needs it"]
    assert problems(FILE.replace("metres = 10", "metres = 7")) == [
        "carry.lap_metres: found 7, expected a divisor of 20: whole laps"
    ]
    assert problems(FILE.replace("metres = 10", "metres = 0"))[0].startswith("carry.lap_metres: found 0")
    assert "carry: found a value, expected nothing: only the format carry has it" in problems(
        FILE.replace('"carry"', '"amrap"')
    )
    assert "CarryTable" in competition_schema()["$defs"]


def test_the_command_line_works_with_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Check, results, sheets, call sheet and cues, from files as an organiser has them."""
    file, recorded = tmp_path / "carry.toml", tmp_path / "carry.ndjson"
    file.write_text(FILE, encoding="utf-8")
    recorded.write_bytes(b"".join(fact_line(fact) + b"\n" for fact in heat()))

    def said(*arguments: object) -> str:
        assert main([str(each) for each in arguments]) == 0
        return capsys.readouterr().out

    said("check", file)
    rows = json.loads(said("results", file, recorded, "--json"))["rows"]
    assert [(row["entry"], row["result"], row["place"], row["points"]) for row in rows] == [
        ("a", "30 m", 1, 10),
        ("b", "24 m", 2, 5),
    ]
    said("sheets", file, "--heat", "h", "--out", tmp_path)
    assert "metres carried" in (tmp_path / "h-scoresheets.html").read_text(encoding="utf-8")
    said("callsheet", file, "--heat", "h", "--out", tmp_path / "call.html")
    assert "20 metres Sandbag carry" in (tmp_path / "call.html").read_text(encoding="utf-8")
    cues = said("cues", file, recorded)
    assert "Lind is the first to carry two laps, at 0:40." in cues
    assert "Lind wins the heat with 30 reps, six reps more than Marsh." in cues
    assert "lap_first = " in said("wording")


def test_the_call_has_gaps_a_forecast_and_cues() -> None:
    """In the middle of the heat the leader is forecast 30 metres, and the one behind is timed against it."""
    frame = call(competition(), heat(), "h", 30_000, wording=default_wording())
    lanes = frame["lanes"]
    assert frame["event"]["carry"] == {"lap_metres": 10}
    assert lanes["1"]["outlook"]["reps"]["median"] == pytest.approx(30, abs=3)
    assert lanes["2"]["behind"]["leader"] == {"lane": 1, "reps": 3, "work_ms": 4_500, "ms": 6_000, "precision": "exact"}


def page(frame: dict[str, Any]) -> dict[str, Any]:
    """What a pad with the format's page module shows for a frame, and sends for one press."""
    instant = {"nowMs": 30_000, "serverMs": START_UNIX_MS + 30_000, "tickMs": 30_000, "id": "p1", "sender": "lane-1-b"}
    asked = json.dumps({"frame": frame, "instant": instant})
    command = ["node", str(Path(__file__).parent / "carry" / "pad.js")]
    done = subprocess.run(command, input=asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


async def test_the_pad_counts_in_it() -> None:
    """A tap is acknowledged with the format's own numbers, and stands in the frame that the pad's page shows.

    What the page sends when its surface is pressed is counted in turn.
    """
    live = live_on(MemoryJournal(), work=competition())
    async with recording(live):
        table, _ = joined(live, hello("table-1"))
        pad, seen = joined(live, hello("lane-1-a"))
        start, *taps = [fact for fact in heat() if fact.sender in ("table-1", "lane-1-a")]
        table.hear(facts_message(start))
        await journalled(live)
        pad.hear(facts_message(*taps[:12]))
        await journalled(live)
        tally = seen.of_type("acknowledged")[-1]["tally"]
        frame = frame_now(live, "table", "h")
        shown = page(frame)
        other, answers = joined(live, hello("lane-1-b"))
        other.hear(facts_message(*shown["sent"]))
        await journalled(live)
        after = answers.of_type("acknowledged")[-1]["tally"]
    assert (tally["done"], tally["laps"]) == (12, 1)
    assert (shown["where"], shown["ask"], shown["done"]) == ("lap 2", "Press for every metre", 13)
    assert after["done"] == 13
    assert (frame["lanes"]["1"]["laps"], frame["lanes"]["2"]["laps"]) == (1, 0)
    assert frame["event"]["format"] == "carry"


def test_its_kind_of_cue_is_known_while_it_is_plugged_in() -> None:
    """The registry gives it, and a name that is taken is refused."""
    assert LAP_FIRST in every_kind()
    assert format_named("carry").name == "carry"
    with pytest.raises(ValueError, match="a second time"), plugged("carry", "formats.carry"):
        pytest.fail("it was plugged in twice")
    assert format_names()[-1] == "carry"
