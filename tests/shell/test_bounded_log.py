"""A log that cannot grow without end and that nobody has to read."""

from __future__ import annotations

import json
import logging
import os
import sys
import time
from datetime import datetime
from pathlib import Path

import pytest

from tallywire.shell import bounded_log
from tallywire.shell.bounded_log import BoundedLog
from tallywire.shell.log_forms import about_entry
from tallywire.wire.senders import Received


def _record(text: str, *, line: int = 1, level: int = logging.WARNING) -> logging.LogRecord:
    return logging.LogRecord("tallywire", level, "module.py", line, text, None, None)


def _written(folder: Path, records: list[logging.LogRecord], *, form: str = "text") -> list[str]:
    path = folder / "log"
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    handler = BoundedLog(descriptor, form=form)
    for record in records:
        handler.handle(record)
    handler.close()
    os.close(descriptor)
    return path.read_text(encoding="utf-8").splitlines()


def test_a_line_says_when_how_bad_and_what(tmp_path: Path) -> None:
    """What is logged stands there once, and what is less than a warning does not come through a logger to it."""
    [line] = _written(tmp_path, [_record("the disk is slow")])
    assert line.endswith(" WARNING the disk is slow")
    assert BoundedLog(os.open(os.devnull, os.O_WRONLY)).level == logging.WARNING


def test_it_writes_to_standard_error_unless_told_otherwise(capfd: pytest.CaptureFixture[str]) -> None:
    """What the server logs is seen where its other errors are."""
    handler = BoundedLog()
    handler.handle(_record("the disk is slow"))
    handler.close()
    assert "the disk is slow" in capfd.readouterr().err


def test_a_line_of_json_says_what_it_is_about(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One object a line, as Python's own reader reads it: the fact, why it was refused, an error's trace."""
    entry = Received(sender="lane-1-a", sequence=7, body=b'{"id":"lane-1-a.7"}', refusal=b'{"code":"fact_refused"}')
    refused = _record("a fact of lane-1-a was refused\nin two lines")
    vars(refused).update(about_entry(entry))
    try:
        raise OSError("no room")
    except OSError:
        failed = _record("not written", line=2, level=logging.ERROR)
        failed.exc_info = sys.exc_info()
    monkeypatch.setattr(bounded_log, "_OF_A_KIND_AT_ONCE", 1)
    monkeypatch.setattr(bounded_log, "_OF_A_KIND_A_SECOND", 0.001)
    one, other = map(json.loads, _written(tmp_path, [refused, _record("again"), failed], form="json"))
    assert {name: one[name] for name in ("level", "where", "fact", "sender", "sequence", "code")} == {
        "level": "warning",
        "where": "tallywire:1",
        "fact": "lane-1-a.7",
        "sender": "lane-1-a",
        "sequence": 7,
        "code": "fact_refused",
    }
    assert one["text"].endswith("\nin two lines")
    assert datetime.fromisoformat(one["at"]).tzinfo is not None
    assert "OSError: no room" in other["error"]


def test_what_was_left_out_is_counted_in_json(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next line of its kind that is written says so."""
    made = monkeypatch.setattr
    made(bounded_log, "_OF_A_KIND_AT_ONCE", 1)
    made(bounded_log, "_OF_A_KIND_A_SECOND", 1000)
    now = iter([0.0, 0.0, 0.0, 1.0])
    made(time, "monotonic", lambda: next(now))
    lines = [json.loads(line) for line in _written(tmp_path, [_record(f"no {n}") for n in range(4)], form="json")]
    assert [(line["text"], line.get("left_out")) for line in lines] == [("no 0", None), ("no 3", 2)]


def _few_of_a_kind(folder: Path) -> None:
    lines = _written(folder, [*(_record(f"no {n}") for n in range(200)), _record("another kind", line=2)])
    assert len(lines) == 10 + 1
    assert lines[-1].endswith("another kind")


def test_a_flood_of_one_kind_is_ten_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of two hundred lines from one place ten are written, and what another place says is written beside them."""
    _few_of_a_kind(tmp_path)
    monkeypatch.setattr(bounded_log, "_OF_A_KIND_AT_ONCE", 10_000)
    with pytest.raises(AssertionError):
        _few_of_a_kind(tmp_path)


def test_what_was_left_out_is_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next line of the kind that may be written says how many were not."""
    now = [0.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    descriptor = os.open(tmp_path / "log", os.O_WRONLY | os.O_CREAT)
    handler = BoundedLog(descriptor)
    for _ in range(15):
        handler.handle(_record("again"))
    now[0] = 11.0
    handler.handle(_record("again"))
    handler.close()
    os.close(descriptor)
    lines = (tmp_path / "log").read_text(encoding="utf-8").splitlines()
    assert lines[-1].endswith("again (5 more like it were left out)")


def test_nobody_reads_it() -> None:
    """With the pipe full and nobody at its other end, logging returns at once, and so does the end."""
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    try:
        while True:
            os.write(writing, b"x" * 4096)
    except BlockingIOError:
        os.set_blocking(writing, True)
    handler = BoundedLog(writing)
    for line in range(2000):
        handler.handle(_record("x" * 1000, line=line))
    handler.close()
    os.close(reading)
    handler._thread.join(10)
    assert not handler._thread.is_alive()
    os.close(writing)
