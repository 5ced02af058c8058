"""The workbench: a competition file that is read, checked and written without losing anything."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from e2e.processes import PRACTICE
from tallywire.core.errors import BadFile, NotAllowed, TallywireError
from tallywire.core.model.outputs import Item
from tallywire.shell.files import load_competition
from tallywire.shell.workbench import EARLIER_MOST, OnBench, Workbench, changed_under

TEXT = "# by hand\n" + PRACTICE.lstrip()


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    path = tmp_path / "practice.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def opened(path: Path) -> tuple[OnBench, dict[str, Any]]:
    """The file on the bench, and what it says."""
    now = Workbench(path).look()
    assert now.data is not None
    return now, now.data


def test_a_saved_draft_is_the_file_and_the_earlier_one_is_beside_it(path: Path) -> None:
    """Comments stay, the rights of the file stay, and what it was before is kept under its own name."""
    path.chmod(0o640)
    now, data = opened(path)
    data["competition"]["name"] = "Other Trials"
    saved = Workbench(path).save(data, version=now.version, begun={})
    assert path.read_text(encoding="utf-8") == TEXT.replace("Practice Trials", "Other Trials") == saved.text
    [earlier] = path.parent.glob("practice.toml.*.earlier")
    assert earlier.read_text(encoding="utf-8") == TEXT
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_file_that_was_changed_meanwhile_is_not_written_over(path: Path) -> None:
    """Whoever saved first, or used an editor, is not overrun: the second one is told to open it again."""
    now, data = opened(path)
    path.write_text(TEXT + "\n", encoding="utf-8")
    with pytest.raises(NotAllowed, match="changed meanwhile"):
        Workbench(path).save(data, version=now.version, begun={})
    assert path.read_text(encoding="utf-8") == TEXT + "\n"


def test_a_draft_with_problems_is_not_written_and_names_them_all(path: Path) -> None:
    """Two mistakes are two problems, with the places at which the page shows them."""
    now, data = opened(path)
    data["entry"][1]["division"] = "nobody"
    data["event"][0]["workout"]["time_cap"] = "soon"
    assert [each.path for each in Workbench(path).check(data)] == ["event[1].workout.time_cap", "entry[2].division"]
    with pytest.raises(BadFile):
        Workbench(path).save(data, version=now.version, begun={})
    assert path.read_text(encoding="utf-8") == TEXT


def test_a_file_that_is_no_toml_is_shown_with_the_reason(path: Path) -> None:
    """It has no data, so no draft of it can be saved."""
    path.write_text("[competition\n", encoding="utf-8")
    now = Workbench(path).look()
    assert (now.data, len(now.problems)) == (None, 1)
    with pytest.raises(BadFile):
        Workbench(path).save({}, version=now.version, begun={})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda data: data["heat"][0]["lanes"].pop("2"), "other lanes"),
        (lambda data: data["event"][0]["workout"]["station"][0].update(amount=5), "another workout"),
        (lambda data: data["heat"][0].update(id="h2"), "gone"),
        (lambda data: data["entry"][0].update(name="Asta N."), None),
    ],
)
def test_a_heat_that_has_begun_stays_what_it_is(path: Path, change: Any, said: str | None) -> None:
    """Its lanes, its workout and its id cannot be changed any more; a name can."""
    now, data = opened(path)
    old = load_competition(path)
    change(data)
    if said is None:
        after = Workbench(path).save(data, version=now.version, begun={"h1": old})
        assert after.version != now.version
        return
    with pytest.raises(NotAllowed, match=said):
        Workbench(path).save(data, version=now.version, begun={"h1": old})
    assert changed_under("h1", old, old) is None


def test_a_rundown_is_written_with_its_lines_and_taken_out_when_it_is_empty(path: Path) -> None:
    """Saved, read again, and gone: the rest of the file is what it was."""
    bench = Workbench(path)
    rundown = (Item(view="heat", name="All"), Item(view="athlete", params={"who": "lane:1"}))
    bench.save_rundown("world", rundown)
    assert load_competition(path).outputs["world"].rundown == rundown
    bench.save_rundown("world", ())
    assert path.read_text(encoding="utf-8").strip() == TEXT.strip()


def test_only_so_many_earlier_files_are_kept(path: Path) -> None:
    """The oldest of them goes first."""
    for number in range(EARLIER_MOST + 3):
        path.with_name(f"practice.toml.2020-01-01-{number:06}.earlier").write_text(str(number), encoding="utf-8")
    now, data = opened(path)
    data["competition"]["name"] = "Other Trials"
    Workbench(path).save(data, version=now.version, begun={})
    kept = sorted(each.name for each in path.parent.glob("*.earlier"))
    assert len(kept) == EARLIER_MOST
    assert kept[-1] > "practice.toml.2020-01-02"


def test_a_folder_that_cannot_be_written_is_said(path: Path) -> None:
    """The message names the file and the remedy, and the file is what it was."""
    now, data = opened(path)
    data["competition"]["name"] = "Other Trials"
    path.with_name(".practice.toml.new").mkdir()
    with pytest.raises(TallywireError, match=r"cannot write practice\.toml"):
        Workbench(path).save(data, version=now.version, begun={})
    assert path.read_text(encoding="utf-8") == TEXT
