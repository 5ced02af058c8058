"""`tallywire cues` of a recording that holds several heats."""

from __future__ import annotations

from pathlib import Path

import pytest

from cli.test_results_command import said
from tallywire.core.facts import Fact, Finished, HeatStarted, RepCounted
from tallywire.wire.fact_lines import fact_line

_COMPETITION = (
    """
[competition]
name = "Kelp Trials"

[[division]]
id = "open"
name = "Open"

[[points]]
id = "list"
places = [100, 90, 0]
"""
    + "".join(
        f"""
[[event]]
id = "e{number}"
name = "Event {number}"

[event.workout]
format = "for_time"
time_cap = "3:00"

[[event.workout.station]]
movement = "Row"
amount = 5

[[heat]]
id = "h{number}"
name = "Event {number}"
event = "e{number}"
lanes = {{ 1 = "a1", 2 = "a2", 3 = "a3" }}
"""
        for number in (1, 2, 3)
    )
    + "".join(f'\n[[entry]]\nid = "a{n}"\nname = "A{n}"\ndivision = "open"\n' for n in (1, 2, 3))
)
FINISHES_S = {"h1": {2: 60, 3: 70, 1: 80}, "h2": {1: 60, 2: 70, 3: 80}, "h3": {1: 60, 3: 70, 2: 80}}
"""By heat and lane. On 100, 90 and 0 points A2 has 100 and then 190; A1 nothing, then 100, then 200."""


def recording(folder: Path) -> tuple[Path, Path]:
    """The competition, and one recording of its three events."""
    facts: list[Fact] = []
    for hour, (heat, times) in enumerate(FINISHES_S.items()):
        facts.append(HeatStarted(id=heat, heat=heat, at_ms=0, sender="s", sequence=1, unix_ms=3_600_000 * hour))
        for lane, at_s in times.items():
            taps = (*(at_s * 200 * n for n in range(1, 6)), at_s * 1000)
            for n, at_ms in enumerate(taps, start=1):
                kind = RepCounted if n < 6 else Finished
                fact_id = f"{heat}.{lane}.{n}"
                facts.append(kind(id=fact_id, heat=heat, at_ms=at_ms, sender=f"p{lane}", sequence=n, lane=lane))
    (folder / "kelp.toml").write_text(_COMPETITION, encoding="utf-8")
    (folder / "kelp.ndjson").write_bytes(b"".join(fact_line(fact) + b"\n" for fact in facts))
    return folder / "kelp.toml", folder / "kelp.ndjson"


def test_cues_know_the_events_raced_before_in_the_same_recording(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand: A1 wins the second event, and A2 still leads 190 to 100; with the third A1 has 200 and is in front."""
    files = recording(tmp_path)
    second = said(capsys, "cues", *files, "--heat", "h2")
    assert "A1 wins" in second
    assert "A1 has the overall lead" not in second
    assert "A2 has the overall lead" in second
    assert "A1 has the overall lead" in said(capsys, "cues", *files, "--heat", "h3")


def test_cues_do_not_know_what_was_raced_later(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first heat of the recording is told as on the day, when nobody had any points."""
    competition, whole = recording(tmp_path)
    alone = tmp_path / "alone.ndjson"
    alone.write_text(
        "".join(line for line in whole.read_text(encoding="utf-8").splitlines(keepends=True) if '"h1"' in line),
        encoding="utf-8",
    )
    first = said(capsys, "cues", competition, whole, "--heat", "h1")
    assert "A2 wins" in first
    assert first == said(capsys, "cues", competition, alone)
