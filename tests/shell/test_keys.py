"""Keys are made once, kept private, and compared whole."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from tallywire.core.errors import BadFile
from tallywire.shell.keys import load_keys, make_keys


def test_keys_are_made_once(tmp_path: Path) -> None:
    """The second start reads the keys of the first, so that links handed out stay good."""
    first = load_keys(tmp_path / "keys.json", [1, 2])
    assert load_keys(tmp_path / "keys.json", [1, 2]) == first


def test_a_new_lane_gets_a_key_and_the_others_keep_theirs(tmp_path: Path) -> None:
    """A lane that is added to the competition gets a key; nobody else needs a new link."""
    first = load_keys(tmp_path / "keys.json", [1, 2])
    second = load_keys(tmp_path / "keys.json", [1, 2, 3])
    assert (second.table, second.lane(1), second.lane(2)) == (first.table, first.lane(1), first.lane(2))
    assert load_keys(tmp_path / "keys.json", [1]).lane(3) == second.lane(3)


def test_only_the_owner_may_read_them(tmp_path: Path) -> None:
    """The file has mode 0600, whatever the umask, and no half-written file is left beside it."""
    load_keys(tmp_path / "keys.json", [1])
    assert stat.S_IMODE((tmp_path / "keys.json").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["keys.json"]


def test_keys_are_long_and_different() -> None:
    """Every key has at least 128 bits and no two are equal."""
    keys = make_keys(range(1, 21))
    everyone = [keys.table, *keys.lanes.values()]
    assert len(set(everyone)) == 21
    assert min(map(len, everyone)) * 6 >= 128


def test_a_key_opens_its_own_role_alone() -> None:
    """The table's key opens the table, a lane's key that lane, and nothing else, an unknown lane included."""
    keys = make_keys([1, 2])
    assert keys.opens("table", None, keys.table)
    assert keys.opens("lane", 1, keys.lane(1))
    assert not keys.opens("lane", 2, keys.lane(1))
    assert not keys.opens("lane", 3, "")
    assert not keys.opens("table", None, keys.lane(1))
    assert not keys.opens("lane", None, keys.table)
    assert not keys.opens("table", None, "schlüssel")


def test_keys_do_not_show_in_a_log() -> None:
    """Their repr names none of them."""
    keys = make_keys([1])
    assert keys.table not in repr(keys)
    assert keys.lane(1) not in repr(keys)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"table": "x", "lanes": {"one": "y"}}'])
def test_a_damaged_file_is_named(tmp_path: Path, text: str) -> None:
    """A file that is not ours is not overwritten: the error says what to do."""
    path = tmp_path / "keys.json"
    path.write_text(text)
    with pytest.raises(BadFile, match="delete it and hand out new links"):
        load_keys(path, [1])
    assert path.read_text() == text
