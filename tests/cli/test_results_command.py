"""`tallywire results`: what is printed, how official it is, and how it stood."""

from __future__ import annotations

import asyncio
import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from cli.desk import NAMES, sled_event
from tallywire.cli.main import main
from tallywire.core.outlets.csv_text import csv_text
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.sqlite import SqliteJournal


def said(capsys: pytest.CaptureFixture[str], *arguments: object, code: int = 0) -> str:
    """Run a command and give what it printed."""
    assert main([str(each) for each in arguments]) == code
    done = capsys.readouterr()
    return done.err if code else done.out


def rows(text: str) -> dict[str, dict[str, Any]]:
    """Give the rows of printed JSON by entry."""
    return {row["entry"]: row for row in json.loads(text)["rows"]}


def test_the_place_in_the_event_is_not_the_place_in_the_heat(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nine, seven, seven and three reps in two heats: places 1, 2, 2, 4 of the event, and 1 and 2 in each heat."""
    competition, recording, _ = sled_event(tmp_path)
    found = rows(said(capsys, "results", competition, recording, "--json"))
    assert {entry: (row["place"], row["heat_place"], row["points"]) for entry, row in found.items()} == {
        "a": (1, 1, 100),
        "b": (2, 2, 90),
        "c": (2, 1, 90),
        "d": (4, 2, 70),
    }
    heat = rows(said(capsys, "results", competition, recording, "--json", "--heat", "sled-1"))
    assert {entry: (row["place"], row["heat_place"]) for entry, row in heat.items()} == {"c": (2, 1), "d": (4, 2)}
    text = said(capsys, "results", competition, recording)
    assert "place in event" in text
    assert "place in heat" in text


def test_heats_of_an_event_may_stand_in_recordings_of_their_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two recordings of a heat each, in either order, give what one of both does; one alone does not."""
    competition, recording, _ = sled_event(tmp_path)
    lines = recording.read_bytes().splitlines(keepends=True)
    first, second = tmp_path / "first.ndjson", tmp_path / "second.ndjson"
    for path, heat in ((first, "sled-1"), (second, "sled-2")):
        path.write_bytes(b"".join(line for line in lines if json.loads(line)["heat"] == heat))
    whole = rows(said(capsys, "results", competition, recording, "--json"))
    assert rows(said(capsys, "results", competition, first, second, "--json")) == whole
    assert rows(said(capsys, "results", competition, second, first, "--json")) == whole
    assert rows(said(capsys, "results", competition, first, "--json"))["c"]["place"] == 1


def test_the_state_is_printed_at_every_step(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As of each line: live while it runs, provisional once sheets are checked, official once signed, then amended."""
    competition, recording, table = sled_event(tmp_path)
    table.appeal("sled-1", 2, 8)
    table.sign("sled-1", 601_100)
    table.write(recording)

    def state(line: int) -> tuple[str, str]:
        text = said(capsys, "results", competition, recording, "--heat", "sled-1", "--as-of", line)
        return text.splitlines()[1], text.splitlines()[-1]

    assert state(3)[0] == "UNOFFICIAL (live)"
    assert state(6)[0] == "UNOFFICIAL (provisional)"
    assert state(7) == ("official", "Sled, heat 1: official, signed by Hedda Judge")
    changed = said(capsys, "results", competition, recording, "--heat", "sled-1", "--as-of", 16)
    assert "UNOFFICIAL (provisional), changed since it was signed: to be signed again" in changed
    amended = said(capsys, "results", competition, recording, "--heat", "sled-1")
    assert "Sled, heat 1: amended, signed by Hedda Judge" in amended
    assert "lane 2, Dot: appeal upheld by Hedda Judge (one rep missed)" in amended
    assert "UNOFFICIAL" not in amended


def test_a_past_official_result_is_printed_as_it_stood(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Before the appeal d is fourth with three reps, after it second with eight; the old result can be had again."""
    competition, recording, table = sled_event(tmp_path)
    before = said(capsys, "results", competition, recording, "--json")
    table.appeal("sled-1", 2, 8)
    table.sign("sled-1", 601_100)
    table.write(recording)
    after = rows(said(capsys, "results", competition, recording, "--json"))
    assert (after["d"]["place"], after["d"]["result"], after["b"]["place"]) == (2, "8 reps", 3)
    then = json.loads(said(capsys, "results", competition, recording, "--json", "--as-of", 14))
    assert then.pop("as_of_line") == 14
    assert then == json.loads(before)


def test_csv_follows_rfc_4180(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """CRLF ends every line, quotes are doubled, and Python's csv reads the names back. Source: RFC 4180, section 2."""
    competition, recording, _ = sled_event(tmp_path)
    text = said(capsys, "results", competition, recording, "--format", "csv")
    assert text.endswith("\r\n")
    assert re.search(r"(?<!\r)\n", text) is None
    assert '"Ada ""Ace"" O\'Neil, Jr."' in text
    found = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert {row["name"] for row in found} == set(NAMES)
    assert {row["entry"]: row["place"] for row in found} == {"a": "1", "b": "2", "c": "2", "d": "4"}


@pytest.mark.parametrize("value", ["plain", "a,b", 'say "hi"', "two\r\nlines", "two\nlines", "", " spaces ", "ü"])
def test_any_field_comes_back(value: str) -> None:
    """Whatever stands in a field is read back the same. Source: Python's csv with `strict`, RFC 4180 rules 5 to 7."""
    text = csv_text([{"one": value, "two": "x"}])
    assert list(csv.reader(io.StringIO(text, newline=""), strict=True)) == [["one", "two"], [value, "x"]]


HOSTILE = (
    '=HYPERLINK("http://x.example?"&A1)',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "\0=1+1",
    "\n=1+1",
    "  =1+1",
    "\u00a0=1+1",
    "\uff1d1+1",
    "'=1+1",
    "'Old' Ada",
)
"""Source of `=`, `+`, `-`, `@`, tab and null: OWASP ASVS 5, 1.2.10; the rest: common practice, no source."""


@pytest.mark.parametrize("name", HOSTILE)
def test_no_cell_is_a_formula(name: str) -> None:
    """A hostile text, as a value or as a column, begins with an apostrophe; without that one it is what it was."""
    text = csv_text([{"place": -1, name: name}])
    head, row = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert head[1] == row[1] == f"'{name}"
    assert row[1].removeprefix("'") == name
    assert (head[0], row[0]) == ("place", "-1")


@pytest.mark.parametrize("name", ["Ada", "O'Neil", "A=1", "Jo-Ann", "a@b", "", "12:01.5"])
def test_a_harmless_cell_has_no_mark(name: str) -> None:
    """A text that is no formula stands as it is."""
    assert csv_text([{"name": name, "last": 1}]) == f"name,last\r\n{name},1\r\n"


@pytest.mark.parametrize("command", ["results", "standings"])
@pytest.mark.parametrize("name", ['=cmd|"/C calc"!A0', "@SUM(1)", "+<img src=x onerror=alert(1)>", "-</title><script>"])
def test_a_hostile_entry_is_harmless_in_every_export(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, name: str
) -> None:
    """A name that is a formula or a tag is marked in CSV, whole in JSON, and only text in HTML."""
    competition, recording, _ = sled_event(tmp_path)
    file = competition.read_text(encoding="utf-8")
    assert file.count("'''Dot'''") == 1
    competition.write_text(file.replace("'''Dot'''", json.dumps(name)), encoding="utf-8")
    printed = {
        form: said(capsys, command, competition, recording, "--format", form) for form in ("csv", "json", "html")
    }
    cells = [cell for row in csv.reader(io.StringIO(printed["csv"], newline=""), strict=True) for cell in row]
    assert f"'{name}" in cells
    assert not [cell for cell in cells if cell[:1] in tuple("=+-@\t\r")]
    assert json.dumps(name, ensure_ascii=False) in printed["json"] or json.dumps(name) in printed["json"]
    page = Tags(printed["html"])
    assert name in page.words
    assert page.tags.isdisjoint({"img", "script"})


class Tags(HTMLParser):
    """Collects the tags of a page, its attributes' names, and its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A tag begins."""
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        """There is text."""
        self.words.append(data)


def test_hostile_names_stay_text(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Names with tags, quotes and ampersands are shown as they are; the page has no script and fetches nothing."""
    competition, recording, _ = sled_event(tmp_path)
    page = Tags(text := said(capsys, "results", competition, recording, "--format", "html"))
    assert all(name in page.words for name in NAMES)
    assert page.tags.isdisjoint({"b", "pier", "script", "img", "link", "iframe"})
    assert page.attributes.isdisjoint({"src", "href", "onclick", "style"})
    assert "size: A4" in text
    assert "<h1>Quay &amp; &lt;Pier&gt; Trials: results</h1>" in text


def test_a_data_folder_is_a_recording(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The journal in a server's data folder gives what the recording gives."""
    competition, recording, table = sled_event(tmp_path)
    data = tmp_path / "data"
    data.mkdir()

    async def write() -> None:
        journal = SqliteJournal.open(data / "journal.sqlite")
        lines = recording.read_bytes().splitlines()
        drafts = [
            Draft(sender=fact.sender, sequence=fact.sequence, body=line)
            for fact, line in zip(table.facts, lines, strict=True)
        ]
        await journal.append(drafts, received_unix_ms=0)
        await journal.close()

    asyncio.run(write())
    for arguments in (("--json",), ("--json", "--as-of", 7)):
        wanted = said(capsys, "results", competition, recording, *arguments)
        assert said(capsys, "results", competition, data, *arguments) == wanted


@pytest.mark.parametrize(
    ("arguments", "problem"),
    [
        (("--heat", "sled-9"), '--heat: found "sled-9", expected one of the recording: sled-1, sled-2'),
        (("--event", "final"), '--event: found "final", expected one of the recording: sled'),
        (("--division", "men"), '--division: found "men", expected one of the competition: women'),
        (("--as-of", 99), "line: found 99, expected a line from 1 to 14: see --as-of"),
    ],
)
def test_what_is_not_there_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[object, ...], problem: str
) -> None:
    """A heat, event, division or line that is not there is refused with those that are."""
    competition, recording, _ = sled_event(tmp_path)
    assert problem in said(capsys, "results", competition, recording, *arguments, code=2)
