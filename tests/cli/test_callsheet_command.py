"""The call sheet: what the commentator prints before a heat."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from cli.desk import NAMES
from tallywire.cli.callsheet_report import callsheet_report
from tallywire.cli.html_report import html_report
from tallywire.cli.main import main
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Record
from tallywire.shell.files import load_competition, load_recording
from tallywire.wire.catalogue import catalogue

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SALTMARSH = SCENARIOS / "saltmarsh.toml"
ENGLISH = catalogue("en")
WOMEN = SCENARIOS / "saltmarsh-women-2.ndjson"


def sheet(tmp_path: Path, *more: str) -> str:
    """The page the command writes."""
    out = tmp_path / "call.html"
    assert main(["callsheet", str(SALTMARSH), *more, "--out", str(out)]) == 0
    return out.read_text(encoding="utf-8")


def test_a_sheet_has_everything_a_commentator_asks_before_the_start(tmp_path: Path) -> None:
    """Lanes with standing and needs, the work with numbers and loads, what a place is worth, results to beat."""
    text = unescape(re.sub(r"(\s*<[^>]+>\s*)+", "|", sheet(tmp_path, "--heat", "women-1", str(WOMEN))))
    work = load_competition(SALTMARSH)
    heat = work.heats["women-1"]
    assert all(work.entry_on(heat, lane).name in text for lane in heat.lanes)
    assert "|work|load|round 1|round 2|round 3|round 4|" in text
    assert "|15 Box jump-over|50 cm|31|62|93|124|" in text
    assert "|1:\u00a0150 · 2:\u00a0138 · " in text
    assert "|1|Łucja Wrzosnicka|10:38.452|Women, heat 2|" in text


@pytest.mark.parametrize(
    ("heat", "words"),
    [
        ("anchor", "Clean and jerk: 3 attempts, bar 15 kg, loads in kg."),
        ("tides", "Piece 1: 0:00 to 1:00; Piece 2: 1:30 to 2:30; Piece 3: 3:00 to 4:00."),
        ("lock-ladder", "|2 Front squat|100 kg|10|"),
        ("sluice", "|15 Wall throw|15|40|65|"),
    ],
)
def test_every_format_has_its_work_on_the_sheet(tmp_path: Path, heat: str, words: str) -> None:
    """Lifts with their attempts, intervals with their windows, bars with their loads, rounds side by side."""
    out = tmp_path / "call.html"
    assert main(["callsheet", str(SCENARIOS / "estuary.toml"), "--heat", heat, "--out", str(out)]) == 0
    assert words in unescape(re.sub(r"(\s*<[^>]+>\s*)+", "|", out.read_text(encoding="utf-8")))


def test_before_any_heat_the_sheet_says_that_there_is_nothing_to_beat(tmp_path: Path) -> None:
    """What is recorded of the heat itself does not count: the sheet is for before it."""
    text = sheet(tmp_path, "--heat", "women-2", str(WOMEN))
    assert "No heat of this event has been raced yet." in text
    assert "10:38" not in text


def test_a_points_leader_is_told_what_makes_the_lead_certain(tmp_path: Path) -> None:
    """By hand: Solvåger is 13 ahead; second is worth 12 less than the win, third 22: second is certain, third not."""
    text = unescape(sheet(tmp_path, "--heat", "women-2"))
    row = next(each for each in text.split("<tr>") if "Marit Solvåger" in each)
    assert "certain with place 2 or better;" in row


def test_what_the_cut_still_allows_is_told(tmp_path: Path) -> None:
    """Ten go on. After the other heat the 12th, with 209 points, can still be in. With 84 and a win, 234, it is over:
    one of the other heat has 252 without a result, and the nine who have one have more."""
    text = unescape(sheet(tmp_path, "--heat", "women-1", str(WOMEN)))
    rows = {name: next(each for each in text.split("<tr>") if name in each) for name in ("Gündenizer", "Vantongere")}
    assert "cut to 10: possible" in rows["Gündenizer"]
    assert "cut to 10: gone" in rows["Vantongere"]


def test_records_of_the_competition_file_are_printed_for_their_division() -> None:
    """A record of the women stands on the women's sheet, in the words of the file; one of the men does not."""
    work = load_competition(SALTMARSH)
    records = (
        Record(result="10:17.60", who="Ilse Tideborn", when="Saltmarsh, last spring", division="women"),
        Record(result="9:02.10", who="Somebody Else", division="men"),
    )
    event = work.event_of(work.heats["women-2"])
    work = replace(work, events={**work.events, event.id: replace(event, records=records)})
    text = html_report(callsheet_report(CompetitionBook(work, []), work.heats["women-2"], ENGLISH), ENGLISH)
    assert all(words in text for words in ("Records, Women", "10:17.60", "Ilse Tideborn", "Saltmarsh, last spring"))
    assert "Somebody Else" not in text


def test_names_cannot_break_the_page() -> None:
    """Angle brackets and ampersands in a name are text."""
    work = load_competition(SALTMARSH)
    facts: list[Fact] = load_recording(WOMEN)
    report = callsheet_report(CompetitionBook(work, facts), work.heats["women-1"], ENGLISH)
    sections = [
        type(each)(heading=each.heading, state="", columns=each.columns, rows=[[*NAMES]]) for each in report.sections
    ]
    page = html_report(type(report)(title="<t>", lines=[], sections=sections, data={}, records=[]), ENGLISH)
    assert "<b>" not in page
    assert "&lt;b&gt;Bold" in page


def test_an_unknown_heat_is_named_with_those_there_are(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The error says what was found and what was expected."""
    assert main(["callsheet", str(SALTMARSH), "--heat", "none", "--out", str(tmp_path / "x.html")]) == 2
    assert 'found "none", expected one of women-1, women-2' in capsys.readouterr().err
