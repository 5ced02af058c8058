"""Recordings of version 2: whatever is done to the file is named, and every version there was can be read."""

from __future__ import annotations

import random
from pathlib import Path
from unittest.mock import patch

import pytest

from tallywire.core.errors import BadFile
from tallywire.wire import checked_recording
from tallywire.wire.checked_recording import Bundle, checked_lines, read_checked
from tallywire.wire.recording import read_recording

GOLDEN = Path(__file__).with_name("golden")
BUNDLE = Bundle(
    main="practice.toml", files={"practice.toml": "name = 'Küstenlauf'\n".encode(), "logo.png": b"\x89PNG\xff"}
)
FACTS = [
    b'{"fact":"rep_counted","id":"lane-1-a.%d","heat":"h1","at_ms":%d,"sender":"lane-1-a","sequence":%d,"lane":1}'
    % (number, number * 1500, number)
    for number in range(1, 201)
]


def written(lines: list[bytes] = FACTS, competition: Bundle | None = BUNDLE) -> bytes:
    """Write a recording of version 2."""
    return b"".join(checked_lines(lines, mode="live", competition=competition))


def what_is_wrong(text: bytes) -> str | None:
    """Read a file, of whatever version it seems, and give the problems, or None when it has the facts as they were."""
    try:
        facts = read_recording("r.ndjson", text)
    except BadFile as exc:
        return str(exc)
    assert facts == read_recording("r.ndjson", b"\n".join(FACTS)), "other facts without a word"
    return None


def test_lines_mode_and_competition_come_back() -> None:
    """What was written is read, byte for byte, files that are not text included."""
    recording = read_checked("r.ndjson", written())
    assert recording.lines == FACTS
    assert recording.mode == "live"
    assert recording.competition == BUNDLE
    assert read_checked("r.ndjson", written(competition=None)).competition is None


@pytest.mark.parametrize("sample", [1_500, pytest.param(40_000, marks=pytest.mark.long)])
def test_a_flipped_bit_is_named(sample: int) -> None:
    """Every bit of the head line and a sample of the others: the file is refused with the line that is not sound."""
    text = written()
    head = range((text.index(b"\n") + 1) * 8)
    chosen = {*head, *random.Random(sample).sample(range(len(text) * 8), min(sample, len(text) * 8))}
    for bit in chosen:
        data = bytearray(text)
        data[bit // 8] ^= 1 << bit % 8
        problem = what_is_wrong(bytes(data))
        assert problem is not None, f"bit {bit} flipped without a word"
    print(f"export: {len(chosen)} bits flipped, all named")


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (lambda lines: lines[:-1], "line 201: found no end"),
        (lambda lines: lines[:90], "line 90: found no end"),
        (lambda lines: [*lines[:90], *lines[91:]], "line 91: found a checksum that does not fit"),
        (lambda lines: [*lines[:5], lines[6], lines[5], *lines[7:]], "line 6: found a checksum that does not fit"),
        (lambda lines: [*lines[:5], lines[4], *lines[5:]], "line 6: found a checksum that does not fit"),
        (lambda lines: [*lines[:5], FACTS[4] + b"\n", *lines[5:]], "line 6: found no checksum"),
        (lambda lines: [*lines, lines[-1]], "line 203: found a checksum that does not fit"),
        (lambda lines: [*lines[:-1], lines[-1][:-1]], "line 202: found a line that is cut off"),
    ],
)
def test_lines_that_are_missing_moved_or_added_are_named(change: object, problem: str) -> None:
    """A cut, a hole, an exchange, a repeat, an addition: the first line that is not sound is named."""
    assert callable(change)
    text = b"".join(change(written().splitlines(keepends=True)))
    assert problem in str(what_is_wrong(text))


def test_without_the_checksum_a_change_goes_through() -> None:
    """The checks above are able to fail: a reader that believes every checksum reads an altered fact."""
    text = written().replace(b'"at_ms":15000', b'"at_ms":15001')
    assert "line 11: found a checksum that does not fit" in str(what_is_wrong(text))
    believed = [line.rpartition(b'"check":"')[2][:32] for line in text.splitlines()]
    with patch.object(checked_recording, "_check", side_effect=believed):
        assert read_checked("r.ndjson", text).lines[9] != FACTS[9]


def test_a_later_version_is_refused() -> None:
    """A recording of a version that is not known is refused with both versions named."""
    with patch.object(checked_recording, "VERSION", 3):
        text = written()
    assert "found version 3, expected at most version 2" in str(what_is_wrong(text))


def test_there_is_a_golden_recording_of_every_version() -> None:
    """No version is read without a file that its own release wrote."""
    found = {each.name for each in GOLDEN.glob("recording-*.ndjson")}
    assert found == {f"recording-{version}.ndjson" for version in range(1, checked_recording.VERSION + 1)}


def test_golden_recordings_of_every_version_are_read() -> None:
    """The same heat as each version's release wrote it gives the same facts."""
    old, new = ((GOLDEN / f"recording-{version}.ndjson").read_bytes() for version in (1, 2))
    assert not checked_recording.is_checked(old)
    assert checked_recording.is_checked(new)
    facts = read_recording("old", old)
    assert len(facts) == 8
    assert read_recording("new", new) == facts
    assert read_checked("new", new).competition is not None
