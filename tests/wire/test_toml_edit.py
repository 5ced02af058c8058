"""Changing a competition file: what did not change stays as it was written, and the result says what was asked for."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.errors import TallywireError
from tallywire.wire.toml_blocks import blocks_of
from tallywire.wire.toml_edit import edited

ROOT = Path(__file__).parents[2]
FILES = sorted([*(ROOT / "scenarios").glob("*.toml"), *(ROOT / "docs" / "arena").glob("*.toml")])
SALTMARSH = (ROOT / "scenarios" / "saltmarsh.toml").read_text(encoding="utf-8")
SMALL = """# Who, when and where.
[competition]
name = "Cove" # as it goes on air

# Open to all.
[[division]]
id = "open"
name = "Open"

# ---- Entries ----

[[entry]]
id = "a"
name = "Runa"   # twice winner
division = "open"

# Comes late.
[[entry]]
id = "b"
name = "Dela"
division = "open"
"""


def comments(text: str) -> list[str]:
    """The lines of a file that are comments alone."""
    return [line for line in text.splitlines() if line.startswith("#")]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_file_that_says_the_same_is_the_same(path: Path) -> None:
    """Not one byte of a hand-written file changes, and its blocks joined are the file."""
    text = path.read_text(encoding="utf-8")
    assert edited(text, tomllib.loads(text)) == text
    assert "".join(block.text for block in blocks_of(text)) == text


def test_a_changed_value_keeps_its_comment_and_its_neighbours() -> None:
    """One name is another: its line differs and no other."""
    data = tomllib.loads(SMALL)
    data["entry"][0]["name"] = "Runa Ostrovik"
    assert edited(SMALL, data) == SMALL.replace('"Runa"', '"Runa Ostrovik"')


def test_a_comment_goes_where_its_table_goes() -> None:
    """Two entries in the other order: what was written above one is above it still; the heading stays in its place."""
    data = tomllib.loads(SMALL)
    data["entry"].reverse()
    lines = edited(SMALL, data).splitlines()
    assert lines.index("# Comes late.") + 2 == lines.index('id = "b"') < lines.index('id = "a"')
    assert lines.index("# ---- Entries ----") < lines.index("# Comes late.")


def test_a_table_that_goes_takes_its_own_comment_and_leaves_headings() -> None:
    """The last division is gone with the words above it; the heading of the entries is not."""
    data = tomllib.loads(SMALL)
    del data["division"], data["entry"][1]
    assert comments(edited(SMALL, data)) == ["# Who, when and where.", "# ---- Entries ----"]


def test_a_new_table_stands_behind_those_of_its_kind_and_above_the_next_heading() -> None:
    """A division is added: it comes before the heading of the entries."""
    data = tomllib.loads(SMALL)
    data["division"].append({"id": "masters", "name": "Masters"})
    text = edited(SMALL, data)
    assert text.index('id = "open"') < text.index('id = "masters"') < text.index("# ---- Entries ----")
    assert comments(text) == comments(SMALL)


def test_what_stands_before_the_tables_is_parted_from_them() -> None:
    """A value at the top is another: an empty line comes before the first table, where there was none."""
    text = 'start_lists = ["a.csv"]\n[competition]\nname = "Cove"\n'
    data = {**tomllib.loads(text), "start_lists": ["b.csv"]}
    assert edited(text, data) == 'start_lists = ["b.csv"]\n\n[competition]\nname = "Cove"\n'


def test_a_new_file_reads_as_people_write_it() -> None:
    """Values before tables, lanes in one line, tables parted by a line: only what was given."""
    heat = {"id": "h", "name": "H", "event": "e", "lanes": {"1": "a", "2": "b"}}
    workout = {"station": [{"movement": "Row", "amount": 5}], "format": "amrap", "time_cap": "5:00"}
    data = {"heat": [heat], "event": [{"workout": workout, "id": "e", "name": "E"}], "competition": {"name": "Cove"}}
    assert edited("", data) == (
        '[competition]\nname = "Cove"\n\n[[event]]\nid = "e"\nname = "E"\n\n'
        '[event.workout]\nformat = "amrap"\ntime_cap = "5:00"\n\n'
        '[[event.workout.station]]\nmovement = "Row"\namount = 5\n\n'
        '[[heat]]\nid = "h"\nname = "H"\nevent = "e"\nlanes = {1 = "a", 2 = "b"}\n'
    )


@pytest.mark.parametrize(
    "text",
    [
        "[a]\nx = 1\n[b]\ny = 2\n[a.c]\nz = 3\n",
        'note = """\n[entry]\n"""\n[a]\nx = 1\n',
        '["a b"]\nx = 1\n',
        "a.b = 1\n[c]\nx = 1\n",
    ],
)
def test_what_cannot_be_kept_is_refused_and_never_lost(text: str) -> None:
    """Tables in parts, headers inside texts, quoted names: changed rightly, or refused with the remedy."""
    data = {**tomllib.loads(text), "new": {"value": 1}}
    try:
        assert tomllib.loads(edited(text, data)) == data
    except TallywireError as exc:
        assert "text editor" in str(exc)


def _changes() -> st.SearchStrategy[list[tuple[str, int, int]]]:
    kinds = st.sampled_from(["rename", "remove", "copy", "swap", "station", "unstation"])
    return st.lists(st.tuples(kinds, st.integers(0, 50), st.integers(0, 50)), min_size=1, max_size=6)


def _change(data: dict[str, Any], kind: str, one: int, other: int) -> None:
    table = data[("entry", "heat", "event", "division")[one % 4]]
    stations = data["event"][0]["workout"]["station"]
    if kind == "rename" and table:
        table[other % len(table)]["name"] = f'Näme "{one}" \\ {other}'
    elif kind == "remove" and len(table) > 1:
        del table[other % len(table)]
    elif kind == "copy" and table:
        table.insert(other % len(table), {**copy.deepcopy(table[0]), "id": f"new-{one}-{other}-{len(table)}"})
    elif kind == "swap" and len(table) > 1:
        table[0], table[-1] = table[-1], table[0]
    elif kind == "station":
        stations.insert(
            other % (len(stations) + 1), {"movement": f"M{one}", "amount": other + 1, "loads": {"men": "5 kg"}}
        )
    elif kind == "unstation" and len(stations) > 1:
        del stations[other % len(stations)]


def _without_what_leads_on(text: str) -> str:
    """A table without the comments at its end, which are about the next one: a new table may come between."""
    lines = text.strip().splitlines()
    while lines[-1].startswith("#") or not lines[-1]:
        del lines[-1]
    return "\n".join(lines)


@given(changes=_changes())
def test_any_changes_say_what_was_asked_for(changes: list[tuple[str, int, int]]) -> None:
    """The standard library's TOML reader finds in the result what was asked for, and every other table unchanged."""
    data = tomllib.loads(SALTMARSH)
    for each in changes:
        _change(data, *each)
    text = edited(SALTMARSH, data)
    assert tomllib.loads(text) == data
    untouched = ("output", "points", "cut", "competition")
    kept = [_without_what_leads_on(block.text) for block in blocks_of(SALTMARSH) if block.name in untouched]
    assert all(each in text for each in kept)
