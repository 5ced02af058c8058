"""The command `verify`, in this process: what it says of sound and of damaged data folders, and what it saves."""

from __future__ import annotations

from pathlib import Path

import pytest

from shell.journal_damage import Files, edit, stopped
from tallywire.cli.main import main


@pytest.fixture(scope="module")
def files() -> Files:
    """Give the files of a sound journal."""
    return stopped()


def said(capsys: pytest.CaptureFixture[str], *arguments: object, code: int) -> str:
    """Run a command in this process, check its exit code, and give what it printed."""
    assert main([str(each) for each in arguments]) == code
    printed = capsys.readouterr()
    assert "Traceback" not in printed.err
    return printed.out + printed.err


def test_a_sound_folder_is_said_to_be_sound(tmp_path: Path, capsys: pytest.CaptureFixture[str], files: Files) -> None:
    """A sound journal exits with 0, with its lines, its seal and the head of its chain."""
    files.put(tmp_path)
    text = said(capsys, "verify", tmp_path, code=0)
    assert "version 2, 200 lines, 200 sealed, head " in text
    assert "sound: lines 1 to 200\n  no damage" in text


def test_damage_is_named_and_what_is_sound_is_saved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], files: Files
) -> None:
    """Damage exits with 3 and names the first bad line; salvage writes the rest to a folder that verifies."""
    data, new = tmp_path / "data", tmp_path / "new"
    data.mkdir()
    edit(files, "UPDATE line SET body = x'7b7d' WHERE number = 37").put(data)
    (data / "links.json").write_text("{}")
    text = said(capsys, "verify", data, code=3)
    assert "line 37 is not sound" in text
    assert "sound: lines 1 to 36, lines 38 to 200" in text
    text = said(capsys, "verify", data, "--salvage", new, code=0)
    assert f"{new}: 199 lines written" in text
    assert "lane-2-abcde: 8 missing" in text
    assert f"tallywire serve COMPETITION --data {new}" in text
    assert "no damage" in said(capsys, "verify", new, code=0)
    assert (new / "links.json").read_text() == "{}"


def test_a_salvage_does_not_write_over_a_journal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], files: Files
) -> None:
    """A folder that has a journal is refused as the place to save to."""
    (tmp_path / "new").mkdir()
    files.put(tmp_path)
    files.put(tmp_path / "new")
    text = said(capsys, "verify", tmp_path, "--salvage", tmp_path / "new", code=3)
    assert "expected none there: choose a new folder" in text


@pytest.mark.parametrize("command", ["verify", "export"])
def test_a_folder_without_a_journal_is_said_plainly(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    """An empty folder has nothing to verify or to export."""
    assert "journal.sqlite: found nothing" in said(capsys, command, tmp_path, code=2)


def test_a_data_folder_that_is_a_file_is_said_plainly(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Serving into a file ends in one message and the journal's exit code."""
    place = tmp_path / "data"
    place.write_text("notes")
    competition = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"
    text = said(capsys, "serve", competition, "--data", place, "--port", "0", code=3)
    assert text == f"tallywire: found a file at {place}, expected a folder for the journal: name one with --data\n"
