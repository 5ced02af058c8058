"""The scorecard: what the forecast said of a heat, beside what came."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from core.called import call
from core.examples import competition_of, recorded
from tallywire.cli.main import main
from tallywire.core.call.scorecard import Told, marks_of, scorecard
from tallywire.core.forecast.answer import Spread

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SALTMARSH = SCENARIOS / "saltmarsh.toml"
WOMEN = SCENARIOS / "saltmarsh-women-2.ndjson"


def words(file: Path) -> str:
    """The text of a page, cells between bars."""
    return unescape(re.sub(r"(\s*<[^>]+>\s*)+", "|", file.read_text(encoding="utf-8")))


def test_the_card_repeats_what_the_call_said() -> None:
    """Medians, ranges and chances of the demo heat are those of its call at the same moment, to the digit shown."""
    work, facts = competition_of("saltmarsh"), recorded("saltmarsh-women-2")
    told = scorecard(work, facts, "women-2")
    assert {each.part for each in told} == {0.25, 0.5, 0.75}
    for at_ms in {each.at_ms for each in told}:
        lanes = call(work, facts, "women-2", at_ms)["lanes"]
        for each in (one for one in told if one.at_ms == at_ms and one.measure == "finish_ms"):
            outlook = lanes[str(each.lane)]["outlook"]
            assert outlook["finish_ms"]["median"] == pytest.approx(each.said.median, abs=51)
            assert outlook["finish_ms"]["high_80"] == pytest.approx(each.said.intervals[80][1], abs=51)
            assert outlook["inside_cap"] == pytest.approx(each.inside_cap, abs=0.0051)


def test_moments_are_counted_from_the_start() -> None:
    """A heat whose clock showed ten seconds at its start is looked at ten seconds later."""
    work, facts = competition_of("saltmarsh"), recorded("saltmarsh-women-2")
    later = [replace(each, at_ms=each.at_ms + 10_000) for each in facts]
    moments = [{each.at_ms for each in scorecard(work, all_of_them, "women-2")} for all_of_them in (facts, later)]
    assert moments[1] == {at_ms + 10_000 for at_ms in moments[0]}


def test_what_came_is_the_result() -> None:
    """Finishers by their time, those who were capped by their reps; who withdrew is not on the card."""
    told = scorecard(competition_of("saltmarsh"), recorded("saltmarsh-women-2"), "women-2")
    came = {each.lane: (each.measure, each.came) for each in told}
    assert came[2] == ("finish_ms", 638_452)
    assert came[3] == ("reps", 112)
    assert 9 not in came


def said(*, median: float, low: float, high: float, came: int, inside_cap: float) -> Told:
    """One line of a card, of a finisher whose constant pace was said to come to 700 s."""
    spread = Spread(median=median, intervals={80: (low, high)})
    return Told(
        part=0.5,
        at_ms=1,
        lane=1,
        entry="e",
        measure="finish_ms",
        said=spread,
        came=came,
        constant=700_000.0,
        inside_cap=inside_cap,
        finished=True,
    )


def test_marks_by_hand() -> None:
    """One of two ranges held; 10 and 30 s off make 20, constant pace 50 and 100 make 75; (0.04 + 0.36) / 2 is 0.2."""
    hit = said(median=640_000, low=600_000, high=680_000, came=650_000, inside_cap=0.8)
    miss = said(median=770_000, low=780_000, high=790_000, came=800_000, inside_cap=0.4)
    marks = marks_of([hit, miss])
    assert (marks.told, marks.held, marks.off_ms, marks.constant_off_ms) == (2, 1, 20_000, 75_000)
    assert marks.brier == pytest.approx(0.2)
    assert marks_of([]).off_ms is None


def test_the_command_writes_a_page(tmp_path: Path) -> None:
    """One line for the heat and a table for each of three moments, every line with a word on whether the range held."""
    out = tmp_path / "card.html"
    assert main(["scorecard", str(SALTMARSH), str(WOMEN), "--out", str(out)]) == 0
    text = words(out)
    assert re.search(r"\|Breakwater, Women, heat 2\|\d+ of 27 \(\d+ %\)\|\d+\.\d s\|\d+\.\d s\|0\.\d+\|", text)
    assert text.count("|yes|") + text.count("|no|") == 27
    assert all(f"{part}% of the winner's time" in text for part in (25, 50, 75))


def test_every_format_has_a_card_or_none(tmp_path: Path) -> None:
    """Lifts, ladders and intervals are compared by what they count; one without a model says there is none."""
    out = tmp_path / "card.html"
    files = [str(file) for file in sorted(SCENARIOS.glob("estuary-*.ndjson"))]
    assert main(["scorecard", str(SCENARIOS / "estuary.toml"), *files, "--out", str(out)]) == 0
    text = words(out)
    assert "|Anchor Lift|" in text
    assert "|all|" in text


def test_a_heat_that_is_not_there_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was asked, and which heats there are."""
    arguments = ["scorecard", str(SALTMARSH), str(WOMEN), "--heat", "men-9", "--out", str(tmp_path / "x.html")]
    assert main(arguments) == 2
    assert "men-9" in capsys.readouterr().err


def test_the_call_sheet_has_it_on_its_back(tmp_path: Path) -> None:
    """With a heat of the event on the recordings the sheet ends with a page on how good the forecast was in it."""
    out = tmp_path / "call.html"
    assert main(["callsheet", str(SALTMARSH), "--heat", "women-1", str(WOMEN), "--out", str(out)]) == 0
    assert "|How good the forecast was|" in words(out)
    assert "break-before: page" in out.read_text(encoding="utf-8")
    assert main(["callsheet", str(SALTMARSH), "--heat", "women-1", "--out", str(out)]) == 0
    assert "How good the forecast was" not in words(out)


def broken(*_asked: object, **_named: object) -> None:
    """A forecast with a fault in it."""
    raise ZeroDivisionError("a lane of no length")


def test_a_forecast_that_fails_leaves_the_rest_of_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a live call: the page is made, says that there is no forecast, and standard error says why, once a heat."""
    monkeypatch.setattr("tallywire.core.call.scorecard.look_ahead", broken)
    out = tmp_path / "card.html"
    assert main(["scorecard", str(SALTMARSH), str(WOMEN), "--out", str(out)]) == 0
    assert "|Breakwater, Women, heat 2|no forecast|" in words(out)
    why = "go on without a forecast (ZeroDivisionError: a lane of no length)"
    assert capsys.readouterr().err == f"tallywire: the figures of heat women-2 {why}\n"


def test_cues_go_on_without_a_forecast_that_fails(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every cue that rests on what was counted is there; standard error says once why the others are not."""
    arguments = ["cues", str(SALTMARSH), str(WOMEN)]
    assert main(arguments) == 0
    whole = capsys.readouterr()
    assert whole.err == ""
    finishes = [line for line in whole.out.splitlines() if "finish" in line]
    assert finishes
    for name in ("expected_finishes", "lesson"):
        with monkeypatch.context() as patch:
            patch.setattr(f"tallywire.core.cues.script.{name}", broken)
            assert main(arguments) == 0
        left = capsys.readouterr()
        assert left.err.count("the cues of heat women-2 go on without a forecast (ZeroDivisionError") == 1
        assert set(finishes) <= set(left.out.splitlines())
