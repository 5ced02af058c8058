"""One file holds a whole competition: exported, verified, counted, and served from again."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from e2e.processes import practice
from shell.journal_contract import NOW
from shell.journal_damage import Files, edit, stopped
from tallywire.cli.main import main
from tallywire.core.errors import JournalFailed
from tallywire.shell.data_folder import JOURNAL
from tallywire.shell.export import export, keep_competition, load_kept, take_in
from tallywire.shell.files import load_bundle, load_checked, load_competition, load_recording
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.wire.checked_recording import CheckedRecording

SCENARIOS = Path(__file__).parents[2] / "scenarios"
COMPETITION, RECORDING = SCENARIOS / "saltmarsh.toml", SCENARIOS / "saltmarsh-women-2.ndjson"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Give a data folder with the demo heat, its competition, and one refused fact at the end."""
    folder = tmp_path / "data"
    recording = CheckedRecording(lines=RECORDING.read_bytes().splitlines(), mode="live", competition=None)
    take_in(recording, folder, received_unix_ms=NOW)
    keep_competition(folder, load_bundle(COMPETITION))
    asyncio.run(refuse_one(folder / JOURNAL))
    return folder


async def refuse_one(path: Path) -> None:
    """Add a refused fact."""
    journal = SqliteJournal.open(path)
    refusal = b'{"code":"fact_refused","message":"found heat x, expected a heat"}'
    await journal.append(
        [Draft(sender="table-z", sequence=1, body=b'{"fact":"x"}', refusal=refusal)], received_unix_ms=0
    )
    await journal.close()


def exported(data: Path, to: Path, *, refused: bool = False) -> Path:
    """Export a data folder to a file."""
    to.write_bytes(b"".join(export(data, refused=refused)))
    return to


def said(capsys: pytest.CaptureFixture[str], *arguments: object, code: int = 0) -> str:
    """Run a command in this process and give what it printed."""
    assert main([str(each) for each in arguments]) == code
    printed = capsys.readouterr()
    return printed.out + printed.err


def test_an_export_is_the_recording_and_holds_the_competition(
    tmp_path: Path, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The exported file stands for both arguments of `results`, and gives what the two files give."""
    file = exported(data, tmp_path / "all.ndjson")
    assert load_recording(file) == load_recording(RECORDING) == load_recording(data)
    assert load_competition(file) == load_competition(COMPETITION)
    wanted = said(capsys, "results", COMPETITION, RECORDING, "--json")
    assert said(capsys, "results", file, file, "--json") == wanted
    for line in (1, 500):
        assert load_recording(file, until_line=line) == load_recording(RECORDING, until_line=line)


def test_refused_facts_come_only_when_asked_for(tmp_path: Path, data: Path) -> None:
    """A refused fact is a line more, which changes no fact."""
    plain, whole = exported(data, tmp_path / "a"), exported(data, tmp_path / "b", refused=True)
    lines = [len(held.lines) for held in map(load_checked, (plain, whole)) if held is not None]
    assert lines[1] == lines[0] + 1
    assert load_recording(plain) == load_recording(whole)


def test_verify_reads_exports_of_both_versions(tmp_path: Path, data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A whole export verifies; a changed one is named with its first bad line and exit code 3."""
    file = exported(data, tmp_path / "all.ndjson")
    assert "version 2, no damage" in said(capsys, "verify", file)
    assert "no checksums (version 1)" in said(capsys, "verify", RECORDING)
    lines = file.read_bytes().splitlines(keepends=True)
    file.write_bytes(b"".join([*lines[:40], *lines[41:]]))
    assert "line 41: found a checksum that does not fit" in said(capsys, "verify", file, code=3)
    assert "lines 1 to 40 are sound" in said(capsys, "results", file, file, code=2)


def test_a_file_is_taken_in_once_and_gone_on_with(tmp_path: Path, data: Path) -> None:
    """Served into a new folder the facts are written; with the same folder again none; another journal stops it."""
    held = load_checked(exported(data, tmp_path / "all.ndjson"))
    assert held is not None
    new = tmp_path / "new"
    assert take_in(held, new, received_unix_ms=NOW) == len(load_recording(RECORDING))
    assert take_in(held, new, received_unix_ms=NOW) == 0
    assert load_recording(new) == load_recording(RECORDING)
    other = CheckedRecording(lines=held.lines[1:], mode="live", competition=None)
    with pytest.raises(JournalFailed, match="found other facts in the journal"):
        take_in(other, new, received_unix_ms=NOW)


def test_a_competition_that_names_files_travels_with_them(tmp_path: Path) -> None:
    """Start lists, face and logo that the competition file names are in the bundle, and it is read from there alone."""
    bundle = load_bundle(COMPETITION)
    keep_competition(tmp_path, bundle)
    assert load_kept(tmp_path) == bundle
    own = practice(tmp_path)
    own.write_text(
        own.read_text("utf-8").replace("[competition]", 'start_lists = ["lanes.csv"]\n[competition]'), "utf-8"
    )
    (tmp_path / "lanes.csv").write_text("heat,lane,entry\n", "utf-8")
    assert set(load_bundle(own).files) == {"practice.toml", "lanes.csv"}


def test_damage_is_not_exported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An export of a damaged journal stops with the way on instead of writing what may be wrong."""
    files: Files = edit(stopped(), "UPDATE line SET body = x'7b7d' WHERE number = 37")
    files.put(tmp_path)
    text = said(capsys, "export", tmp_path, code=3)
    assert "line 37 is not sound" in text
    assert "--salvage NEW" in text
