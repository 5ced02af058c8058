"""`tallywire moments`: chapters as WebVTT and a table with timecode, read by other programs' readers."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import webvtt
from timecode.timecode import Timecode

from cli.test_results_command import said
from tallywire.core.cues.script import cue_script
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.formats.base import Status
from tallywire.core.model.competition import Competition
from tallywire.shell.files import load_competition, load_recording
from tallywire.wire.webvtt import webvtt_text

SCENARIOS = Path(__file__).parents[2] / "scenarios"
FILES = (str(SCENARIOS / "saltmarsh.toml"), str(SCENARIOS / "saltmarsh-women-2.ndjson"))


@pytest.fixture(autouse=True, scope="module")
def _script_made_once() -> Iterator[None]:
    """The cues of one heat are the same each time, and take most of the time of a command."""
    made: dict[object, object] = {}

    def kept(competition: Competition, heat: str, facts: Sequence[Fact], **more: Any) -> object:
        key = heat, tuple(facts)
        if key not in made:
            made[key] = cue_script(competition, heat, facts, **more)
        return made[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tallywire.cli.cues.cue_script", kept)
        yield


def rows_of(capsys: pytest.CaptureFixture[str], *more: str) -> list[dict[str, str]]:
    """Run the command for a table and read it with the standard library's reader."""
    out = said(capsys, "moments", *FILES, "--format", "csv", *more)
    return list(csv.DictReader(io.StringIO(out, newline=""), strict=True))


def test_the_table_has_what_the_heat_had(capsys: pytest.CaptureFixture[str]) -> None:
    """Every no-rep and every finish that the fold of the recording has, at its time, and the script's cues."""
    rows = rows_of(capsys)
    book = CompetitionBook(load_competition(Path(FILES[0])), load_recording(Path(FILES[1])))
    lanes = book.at_clocks({"women-2": 10**8}, others_ms=10**8).heats["women-2"].state.lanes
    kinds = Counter(row["kind"] for row in rows)
    assert kinds["no_rep"] == sum(lane.tally.no_reps for lane in lanes.values())
    assert kinds["start"] == kinds["end"] == 1
    finished = {
        number: next(row["heat_ms"] for row in rows if row["kind"] == "finish" and row["lane"] == str(number))
        for number, lane in lanes.items()
        if lane.status is Status.FINISHED
    }
    assert finished == {number: str(lanes[number].finish_ms) for number in finished}
    script = said(capsys, "cues", *FILES)
    assert [row["line"] for row in rows if row["kind"] == "cue"] == [
        line.split(maxsplit=2)[2] for line in script.splitlines()
    ]
    assert [int(row["heat_ms"]) for row in rows] == sorted(int(row["heat_ms"]) for row in rows)


@pytest.mark.parametrize(
    ("rate", "theirs", "start"),
    [("25", "25", "10:04:30:00"), ("29.97 drop", "29.97", "10:04:30;00"), ("59.94 drop", "59.94", "23:55:00;04")],
)
def test_timecode_is_that_of_another_implementation(
    capsys: pytest.CaptureFixture[str], rate: str, theirs: str, start: str
) -> None:
    """Source: the `timecode` library (SMPTE ST 12-1), which counts frames from the start on."""
    exact = {"25": (25, 1), "29.97 drop": (30000, 1001), "59.94 drop": (60000, 1001)}[rate]
    for row in rows_of(capsys, "--rate", rate, "--start", start):
        frames = int(row["heat_ms"]) * exact[0] // (exact[1] * 1000)
        expected = Timecode(theirs, start)
        if frames:
            expected += frames
        assert row["timecode"] == str(expected)


def test_chapters_are_read_by_a_public_parser(capsys: pytest.CaptureFixture[str]) -> None:
    """Source: `webvtt-py`, a reader of W3C WebVTT. The film began four and a half minutes before the heat's clock."""
    out = said(capsys, "moments", *FILES, "--start", "10:04:30:00", "--first", "10:00:00:00")
    chapters = webvtt.from_string(out).captions
    rows = rows_of(capsys)
    assert chapters[0].start == "00:04:30.000"
    assert [each.start_in_seconds for each in chapters] == [
        (270_000 + at_ms) // 1000 for at_ms in dict.fromkeys(int(row["heat_ms"]) for row in rows)
    ]
    assert all(each.end == following.start for each, following in pairwise(chapters))
    assert " · ".join(each.text for each in chapters) == " · ".join(row["line"] for row in rows)


def test_past_midnight_the_film_goes_on(capsys: pytest.CaptureFixture[str]) -> None:
    """Timecode begins again at midnight; the film's time does not."""
    out = said(capsys, "moments", *FILES, "--start", "00:00:10:00", "--first", "23:59:50:00")
    assert webvtt.from_string(out).captions[0].start == "00:00:20.000"


def test_hostile_text_stays_text() -> None:
    """What WebVTT takes for a tag, an entity, an end or an arrow is escaped (WebVTT, section 4.2.2)."""
    text = webvtt_text([(0, 0, "a <b>&amp; --> c\n\n2\n00:00"), (3_600_000, 3_600_001, "d")], "Trials\n\nNOTE x")
    assert text == (
        "WEBVTT Trials  NOTE x\n\n1\n00:00:00.000 --> 00:00:00.001\na &lt;b&gt;&amp;amp; --&gt; c  2 00:00\n\n"
        "2\n01:00:00.000 --> 01:00:00.001\nd\n"
    )
    assert len(webvtt.from_string(text).captions) == 2


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (("--start", "10:00"), '--start: found "10:00", expected a timecode such as hh:mm:ss:ff at 25'),
        (("--first", "25:00:00:00"), '--first: found "25:00:00:00", expected at most 23 hours and 24 frames at 25'),
        (("--rate", "29.97 drop", "--start", "00:01:00;00"), "expected a label that exists"),
        (("--heat", "men-9"), "heat: found men-9"),
    ],
)
def test_what_does_not_exist_is_refused(capsys: pytest.CaptureFixture[str], more: tuple[str, ...], told: str) -> None:
    """A timecode or heat that is none ends in one message."""
    assert told in said(capsys, "moments", *FILES, *more, code=2)
