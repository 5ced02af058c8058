"""What the forecast said while a heat ran, kept for the scorecard."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from core.examples import competition_of, recorded
from tallywire.core.call.kept import EVERY_MS, SaidThen, kept_line, kept_of
from tallywire.core.call.scorecard import scorecard
from tallywire.core.call.steps import Sight, see
from tallywire.core.call.whole import look_ahead
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.forecast.answer import Spread
from tallywire.shell.data_folder import FORECASTS
from tallywire.shell.forecast_log import ForecastLog, load_forecasts

WORK, HEAT = competition_of("saltmarsh"), "women-2"
FACTS = recorded("saltmarsh-women-2")


def sight(at_ms: int) -> Sight:
    """The demo heat at a time, with the facts up to then."""
    book = CompetitionBook(WORK, [fact for fact in FACTS if fact.at_ms <= at_ms])
    snapshot = book.at_clocks({HEAT: at_ms}, others_ms=10**9)
    return see(snapshot, snapshot.heats[HEAT])


def keep(log: ForecastLog, at_ms: int) -> None:
    """What the background does: ask, and keep if it is wanted."""
    seen = sight(at_ms)
    outlook = look_ahead(WORK, seen) if log.wants(seen) else None
    if outlook is not None:
        log.keep(seen, outlook)


def test_one_line_a_minute_is_kept(tmp_path: Path) -> None:
    """Two looks in one minute are one line, the next minute is another; nothing before the start or after the end."""
    log = ForecastLog(tmp_path / FORECASTS)
    outlook = look_ahead(WORK, sight(2 * EVERY_MS))
    assert outlook is not None
    log.keep(sight(-5_000), outlook)
    for at_ms in (-5_000, 2 * EVERY_MS + 1, 2 * EVERY_MS + 30_000, 3 * EVERY_MS, 10**7):
        keep(log, at_ms)
    log.keep(sight(3 * EVERY_MS + 1), outlook)
    assert [each.at_ms for each in load_forecasts(tmp_path)] == [2 * EVERY_MS + 1, 3 * EVERY_MS]
    assert (tmp_path / FORECASTS).stat().st_mode & 0o077 == 0


def test_a_restart_goes_on_behind_a_line_that_was_cut_off(tmp_path: Path) -> None:
    """Half a line stays unreadable and hides no other; the server that comes next keeps on."""
    keep(ForecastLog(tmp_path / FORECASTS), 2 * EVERY_MS)
    with (tmp_path / FORECASTS).open("ab") as file:
        file.write(b'{"heat": "women')
    keep(ForecastLog(tmp_path / FORECASTS), 3 * EVERY_MS)
    assert [each.at_ms for each in load_forecasts(tmp_path)] == [2 * EVERY_MS, 3 * EVERY_MS]
    assert load_forecasts(tmp_path / "nowhere") == []


@pytest.mark.parametrize("bad", [b"", b"null", b"[]", b'{"heat": 1}', b'{"heat":"h","start":"s","at_ms":1,"lanes":[]}'])
def test_other_lines_are_passed_over(bad: bytes, tmp_path: Path) -> None:
    """Whatever stands in the file, the card is made of what can be read."""
    (tmp_path / FORECASTS).write_bytes(bad + b"\n")
    assert load_forecasts(tmp_path) == []


def test_a_full_log_or_one_that_cannot_be_written_ends_quietly(tmp_path: Path) -> None:
    """The file never grows past its bound, and a missing folder disturbs nothing."""
    file = tmp_path / FORECASTS
    full = ForecastLog(file, most_bytes=100)
    keep(full, 2 * EVERY_MS)
    assert not full.wants(sight(3 * EVERY_MS))
    assert file.stat().st_size == 0
    missing = ForecastLog(tmp_path / "none" / FORECASTS)
    keep(missing, 2 * EVERY_MS)
    assert not missing.wants(sight(3 * EVERY_MS))


def test_the_log_may_be_filled_to_its_last_byte(tmp_path: Path) -> None:
    """A line that just fits is kept; with one byte less room it is not."""
    whole = tmp_path / "whole"
    keep(ForecastLog(whole), 2 * EVERY_MS)
    assert whole.read_bytes().startswith(b"{")
    size = whole.stat().st_size
    for room, kept in ((size, size), (size - 1, 0)):
        file = tmp_path / f"room-{room}"
        keep(ForecastLog(file, most_bytes=room), 2 * EVERY_MS)
        assert file.stat().st_size == kept


def test_the_card_tells_what_was_said_then(tmp_path: Path) -> None:
    """What was kept is on the card, as it was said, and not what the program says of the recording today."""
    log = ForecastLog(tmp_path / FORECASTS)
    for minute in range(1, 10):
        keep(log, minute * EVERY_MS)
    kept = load_forecasts(tmp_path)
    again, told = (scorecard(WORK, FACTS, HEAT, kept=each) for each in ((), kept))
    assert {each.at_ms % EVERY_MS for each in told} == {0}
    assert {each.part for each in told} == {each.part for each in again} == {0.25, 0.5, 0.75}
    assert {each.lane: each.came for each in told} == {each.lane: each.came for each in again}
    fresh = {each.lane: each.said for each in scorecard(WORK, FACTS, HEAT, kept=[_at(kept, 5)])}
    assert {each.at_ms for each in told if each.part == 0.5} == {5 * EVERY_MS}
    for each in told:
        if each.part == 0.5:
            assert each.said == fresh[each.lane]
    other = [replace(_at(kept, 5), said={lane: {"finish_ms": _surely(1)} for lane in range(1, 11)})]
    assert {each.said.median for each in scorecard(WORK, FACTS, HEAT, kept=other) if each.part == 0.5} == {1}
    elsewhere = [replace(each, start="another start") for each in kept]
    assert scorecard(WORK, FACTS, HEAT, kept=elsewhere) == again


def _at(kept: list[SaidThen], minute: int) -> SaidThen:
    return next(each for each in kept if each.at_ms == minute * EVERY_MS)


def _surely(ms: float) -> Spread:
    return Spread(median=ms, intervals={80: (ms, ms)})


def test_a_line_is_read_as_it_was_meant() -> None:
    """Three ends of each measure; an end that never comes stands as null, and comes last of all."""
    ends = {"finish_ms": [600_000.5, 640_000.0, None], "reps": [90.0, 95.0, 101.0]}
    line = {"heat": "h", "start": "s", "at_ms": 60_000, "lanes": {"4": ends | {"inside_cap": 0.25}, "5": {}}}
    read = kept_of(line)
    assert (read.heat, read.start, read.at_ms, read.inside_cap) == ("h", "s", 60_000, {4: 0.25})
    assert read.said[5] == {}
    assert {name: (*spread.four_in_five, spread.median) for name, spread in read.said[4].items()} == {
        "finish_ms": (600_000.5, inf, 640_000.0),
        "reps": (90.0, 101.0, 95.0),
    }


def test_a_kept_line_is_no_longer_than_it_must_be() -> None:
    """Chances stand to a hundredth of a per cent, times to a tenth of a millisecond: drawn ones have more digits."""
    seen = sight(6 * EVERY_MS)
    outlook = look_ahead(WORK, seen)
    assert outlook is not None
    kept = kept_line(seen, outlook)["lanes"]
    chances = {number: lane["inside_cap"] for number, lane in kept.items()}
    said = {str(number): lane.inside_cap for number, lane in outlook.lanes.items()}
    assert chances == {number: round(chance or 0.0, 4) for number, chance in said.items()}
    assert chances != said
    ends = [end for lane in kept.values() for end in lane["finish_ms"] if end is not None]
    assert ends == [round(end, 1) for end in ends]
