"""Damage to a journal's files is harmless to every fact or named, by verify and at the start; never silent."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from functools import cache
from pathlib import Path
from unittest.mock import patch

import pytest

from shell.journal_damage import RECORDS, Files, bits, cut, edit, folder, killed, outcome, stopped, without
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal import examine, findings
from tallywire.shell.journal.findings import Findings
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.reading import Salvage, look, salvage
from tallywire.shell.journal.seal import SLOT_BYTES, Seal, read_seal, seal_path
from tallywire.shell.journal.sqlite import SqliteJournal

FINE = {"harmless", "named"}
DATABASE_HEADER = range(100)
"""SQLite file format, §1.3: the database header."""
LOG_HEADER, FRAME_HEADER, PAGE = range(32), 24, 4096
"""SQLite file format, §4.1: the header of a write-ahead log and of each of its frames."""
LONG, LONG_SAMPLE = pytest.mark.long, 6_000
"""A trial takes some 10 ms of processor time: with four files of 6,000 bits, and the headers, four minutes."""

in_order, by_kill = cache(stopped), cache(killed)


def trials(files: Files, end: str, chosen: Iterable[int]) -> Counter[str]:
    """Flip one bit after the other, each in a copy of its own, and count how it went."""
    return Counter(outcome(files.flipped(end, bit)) for bit in chosen)


def log_heads(data: bytes) -> list[int]:
    """Give the bytes of the log's header and of its first and last frame's."""
    frames = range(len(LOG_HEADER), len(data), FRAME_HEADER + PAGE)
    return [*LOG_HEADER, *(start + n for start in (frames[0], frames[-1]) for n in range(FRAME_HEADER))]


@pytest.mark.parametrize("sample", [150, pytest.param(LONG_SAMPLE, marks=LONG)])
def test_a_flipped_bit_in_the_database_is_harmless_or_named(sample: int) -> None:
    """Every bit of the header and a sample of the others: no fact is altered or missing without being reported."""
    files = in_order()
    counts = trials(files, "", bits(files.data[""], head=DATABASE_HEADER, sample=sample, seed=sample))
    print("database:", dict(counts))
    assert set(counts) <= FINE
    assert counts["named"] > 100


@pytest.mark.parametrize("sample", [150, pytest.param(LONG_SAMPLE, marks=LONG)])
def test_a_flipped_bit_in_the_log_is_harmless_or_named(sample: int) -> None:
    """Every bit of the log's header and of two frames' headers, and a sample of the others, after a kill."""
    files = by_kill()
    counts = trials(files, "-wal", bits(files.data["-wal"], head=log_heads(files.data["-wal"]), sample=sample, seed=2))
    print("log:", dict(counts))
    assert set(counts) <= FINE
    assert counts["named"] > 100


@pytest.mark.parametrize("sample", [60, pytest.param(LONG_SAMPLE, marks=LONG)])
@pytest.mark.parametrize("make", [in_order, by_kill])
def test_a_flipped_bit_in_the_seal_is_harmless(make: Callable[[], Files], sample: int) -> None:
    """Of two slots one is whole, so no flip of one bit loses the seal or alters a fact."""
    files = make()
    texts = [*range(16, 30), *range(SLOT_BYTES + 16, SLOT_BYTES + 30)]
    counts = trials(files, ".seal", bits(files.data[".seal"], head=texts, sample=sample, seed=3))
    print("seal:", dict(counts))
    assert set(counts) == {"harmless"}


def test_more_than_two_slots_of_a_seal_are_named(tmp_path: Path) -> None:
    """A seal of two slots is read without a word; bytes behind them are told, and the seal is read all the same."""
    journal, seal = tmp_path / "lines", Seal(serial=1, count=3, head=bytes(32), closed=True)
    whole = seal.as_text().ljust(2 * SLOT_BYTES, b"\0")
    for data, faults in ((whole, 0), (whole + b"\0", 1)):
        seal_path(journal).write_bytes(data)
        reading = read_seal(journal)
        assert (reading.seal, len(reading.faults)) == (seal, faults)


@cache
def half() -> Files:
    """A journal with the first hundred lines."""
    return edit(in_order(), "DELETE FROM line WHERE number > 100")


EDITS: dict[str, Callable[[], Files]] = {
    "an edited time": lambda: edit(in_order(), "UPDATE line SET received_unix_ms = 1 WHERE number = 37"),
    "an edited body": lambda: edit(in_order(), "UPDATE line SET body = x'7b7d' WHERE number = 37"),
    "a refusal taken back": lambda: edit(in_order(), "UPDATE line SET refusal = NULL WHERE number = 41"),
    "an edited checksum": lambda: edit(in_order(), "UPDATE line SET chain = zeroblob(32) WHERE number = 200"),
    "two lines changed places": lambda: edit(
        in_order(),
        "UPDATE line SET number = 999 WHERE number = 7; UPDATE line SET number = 7 WHERE number = 8;"
        "UPDATE line SET number = 8 WHERE number = 999;",
    ),
    "a hole": lambda: edit(in_order(), "DELETE FROM line WHERE number = 100"),
    "a missing head": lambda: edit(in_order(), "DELETE FROM line WHERE number < 5"),
    "a missing tail": lambda: edit(in_order(), "DELETE FROM line WHERE number > 150"),
    "no lines at all": lambda: edit(in_order(), "DELETE FROM line"),
    "an edited note": lambda: edit(in_order(), "UPDATE note SET value = 'rehearsal' WHERE key = 'mode'"),
    "a trigger too few": lambda: edit(in_order(), "CREATE TABLE more (a)"),
    "a deleted database": lambda: without(in_order(), ""),
    "an emptied database": lambda: cut(in_order(), "", 0),
    "a truncated database": lambda: cut(in_order(), "", 8192),
    "a deleted log": lambda: without(by_kill(), "-wal"),
    "an emptied log": lambda: cut(by_kill(), "-wal", 0),
    "a truncated log": lambda: cut(by_kill(), "-wal", 60_000),
    "a deleted seal": lambda: without(in_order(), ".seal"),
    "an emptied seal": lambda: cut(in_order(), ".seal", 0),
    "an older database": lambda: Files(data={**in_order().data, "": half().data[""]}, lines=in_order().lines),
}


@pytest.mark.parametrize("name", EDITS)
def test_files_that_were_changed_are_named(name: str) -> None:
    """Edited, deleted, emptied, truncated or replaced: verify and the start both say so and change nothing."""
    assert outcome(EDITS[name]()) == "named"


def test_untouched_files_are_sound() -> None:
    """The check above is able to pass: files as a stop or a kill leaves them start with every fact."""
    assert outcome(in_order()) == "harmless"
    assert outcome(by_kill()) == "harmless"


def as_it_stands(chain: findings.ChainReader, line: Line, given: object) -> list[Line]:
    """Take a line as it stands, as a reader without a chain does."""
    chain._found.last, chain._found.head = line.number, given if isinstance(given, bytes) else b""
    return [line]


def no_chain() -> AbstractContextManager[object]:
    """Make the mutant that does not compute the chain."""
    return patch.object(findings.ChainReader, "add", as_it_stands)


def no_seal() -> AbstractContextManager[object]:
    """Make the mutant that does not compare with the seal."""
    return patch.object(examine, "_compare_seal", lambda _found, _reading: None)


def no_notes() -> AbstractContextManager[object]:
    """Make the mutant that believes the notes."""
    return patch.object(examine, "note_check", lambda _key, _value: SAME)


class _Same:
    __hash__ = object.__hash__

    def __eq__(self, other: object) -> bool:
        return True


SAME = _Same()


@pytest.mark.parametrize(
    ("mutant", "name"),
    [
        (no_chain, "an edited time"),
        (no_chain, "an edited body"),
        (no_chain, "a refusal taken back"),
        (no_seal, "a missing tail"),
        (no_seal, "an emptied log"),
        (no_seal, "a deleted log"),
        (no_seal, "a deleted database"),
        (no_seal, "an older database"),
        (no_notes, "an edited note"),
    ],
)
def test_without_its_check_damage_goes_through(mutant: Callable[[], AbstractContextManager[object]], name: str) -> None:
    """The checks above are able to fail: with one of the reader's checks off, the damage it is for is not named."""
    with mutant():
        assert outcome(EDITS[name]()) != "named"


def damaged(files: Files) -> Findings:
    """Look at files in a folder of their own."""
    with folder() as place:
        return look(files.put(place))


def test_the_first_bad_line_and_what_is_sound_are_named() -> None:
    """A changed line is named, and those before and after it are proven sound by the chain and the seal."""
    found = damaged(EDITS["an edited body"]())
    assert found.faults == ["line 37 is not sound: its checksum does not fit"]
    assert found.sound == [range(1, 37), range(38, RECORDS + 1)]
    tail = damaged(EDITS["a missing tail"]())
    assert tail.faults == ["lines 151 to 200 missing: 200 were sealed"]
    assert tail.sound == [range(1, 151)]


def test_another_programs_file_is_damage_where_a_seal_is_beside_it() -> None:
    """Without a seal the file was never a journal of ours; with one it was, and what is missing is counted by it."""
    foreign = edit(in_order(), "PRAGMA application_id = 1")
    with folder() as place, pytest.raises(JournalFailed, match="another program's"):
        look(without(foreign, ".seal").put(place))
    with folder() as place:
        found = look(foreign.put(place))
    assert "another program's" in found.faults[0]
    assert found.seal is not None
    assert found.seal.count == 200


def test_what_sqlite_cannot_read_is_damage_where_a_seal_is_beside_it() -> None:
    """A file whose first bytes are gone may have been anybody's; beside its seal it was a journal."""
    whole = in_order()
    broken = Files(data={**whole.data, "": b"?" * 100 + whole.data[""][100:]}, lines=whole.lines)
    with folder() as place, pytest.raises(JournalFailed, match="not a database"):
        look(without(broken, ".seal").put(place))
    with folder() as place:
        found = look(broken.put(place))
    assert "SQLite cannot read the file" in found.faults[0]


@pytest.mark.parametrize(
    ("name", "why"), [("a deleted seal", "its file is not there"), ("an emptied seal", "no slot of it can be read")]
)
def test_it_is_said_how_a_seal_is_missing(name: str, why: str) -> None:
    """Gone, or there without anything to read."""
    with folder() as place:
        found = look(EDITS[name]().put(place))
    assert f"the seal is missing ({why}), so nothing says how many lines there were" in found.faults


@pytest.mark.parametrize(("faults", "said"), [("a", "x: a; sound"), ("ab", "x: a (and 1 more); sound")])
def test_a_start_names_the_first_fault_and_counts_the_others(faults: str, said: str) -> None:
    """One is named alone; of more, the first is named and the rest are counted."""
    with pytest.raises(JournalDamaged) as raised:
        Findings(where="x", named="x", faults=list(faults)).raise_damage()
    assert f"found damage in the journal {said}" in str(raised.value)


def test_a_start_on_damage_says_the_way_on() -> None:
    """The start's one message names the first bad line, what is sound, and the command that saves it."""
    with folder() as place:
        path = EDITS["an edited body"]().put(place)
        with pytest.raises(JournalDamaged) as caught:
            SqliteJournal.open(path)
    said = str(caught.value)
    assert "line 37 is not sound" in said
    assert "sound: lines 1 to 36, lines 38 to 200" in said
    assert f"`tallywire verify {place}`" in said
    assert "--salvage NEW" in said


@pytest.mark.parametrize(
    ("name", "kept", "gaps"),
    [
        ("an edited body", 199, {"lane-2-abcde": [8]}),
        ("an edited checksum", 199, {}),
        ("a hole", 198, {"lane-0-abcde": [20], "lane-1-abcde": [21]}),
        ("a missing tail", 150, {}),
    ],
)
async def test_salvage_keeps_what_is_sound_and_names_what_is_missing(
    name: str, kept: int, gaps: dict[str, list[int]]
) -> None:
    """The new journal has every sound line as it was and is sound itself; each sender's missing numbers are said."""
    files = EDITS[name]()
    with folder() as place, folder() as new:
        saved = await _aside(lambda: salvage(files.put(place), new / "journal.sqlite"))
        assert (saved.written, saved.gaps) == (kept, gaps)
        journal = SqliteJournal.open(new / "journal.sqlite")
        lines = [line[1:] for line in journal.read()]
        assert len(lines) == kept
        assert set(lines) <= {line[1:] for line in files.lines}
        assert journal.note("mode") == "live"
        await journal.close()
        assert look(new / "journal.sqlite").faults == []


async def _aside(work: Callable[[], Salvage]) -> Salvage:
    return await asyncio.to_thread(work)
