"""The scorecard: what the forecast said of a heat, beside what came."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.cli.cues import raced_before
from tallywire.cli.report import Report, Section
from tallywire.cli.without_forecast import GoesOnWithout
from tallywire.core.call.kept import SaidThen
from tallywire.core.call.scorecard import MOMENTS, Marks, Told, marks_of, scorecard
from tallywire.core.facts import Fact
from tallywire.core.formats.base import reps_text
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.model.timetext import clock_text

COLUMNS = ("lane", "entry", "said", "four in five", "came", "held", "inside the cap")
SUMMED_UP = ("heat", "ranges that held", "middle off by", "constant pace off by", "cap, Brier score")
WHAT_IT_IS = (
    "Four in five ranges are meant to hold. The Brier score of the chances to make the cap is 0 where all came true "
    "as said, and 0.25 where half is said of everybody."
)


def told_of(competition: Competition, facts: Sequence[Fact], heat: str, kept: Sequence[SaidThen] = ()) -> list[Told]:
    """Give what was said of a heat, known to it what had been raced before."""
    own = [fact for fact in facts if fact.heat == heat]
    earlier, guard = raced_before(competition, heat, facts), GoesOnWithout("figures", heat)
    return scorecard(competition, own, heat, earlier=earlier, kept=kept, guard=guard)


def scorecard_report(
    competition: Competition, facts: Sequence[Fact], heats: Sequence[Heat], kept: Sequence[SaidThen] = ()
) -> Report:
    """Give the scorecards of heats that are over, and what they come to together. `kept` is what was said then."""
    found = {heat.id: told_of(competition, facts, heat.id, kept) for heat in heats}
    sections = [summed_up(competition, found)]
    for heat in heats:
        name = heat_name(competition, heat)
        sections += [_moment(competition, name, part, found[heat.id]) for part in MOMENTS if found[heat.id]]
    return Report(
        title=f"{competition.name}: scorecard of the forecast",
        lines=["What was said at a quarter, a half and three quarters of the winner's time, beside what came."],
        sections=sections,
        data={},
        records=[],
    )


def heat_name(competition: Competition, heat: Heat) -> str:
    """Give event and heat in words."""
    return ", ".join(dict.fromkeys((competition.events[heat.event].name, heat.name)))


def summed_up(competition: Competition, found: dict[str, list[Told]]) -> Section:
    """Give one line a heat, and one for all together."""
    rows = [_line(heat_name(competition, competition.heats[heat]), marks_of(told)) for heat, told in found.items()]
    if len(found) > 1:
        rows.append(_line("all", marks_of([each for told in found.values() for each in told])))
    return Section(heading="How good the forecast was", state="", columns=SUMMED_UP, rows=rows, notes=(WHAT_IT_IS,))


def _line(name: str, marks: Marks) -> list[str]:
    if not marks.told:
        return [name, "no forecast", "", "", ""]
    held = f"{marks.held} of {marks.told} ({100 * marks.held / marks.told:.0f} %)"
    brier = "" if marks.brier is None else f"{marks.brier:.2f}"
    return [name, held, _seconds(marks.off_ms), _seconds(marks.constant_off_ms), brier]


def _seconds(ms: float | None) -> str:
    return "" if ms is None else f"{ms / 1000:.1f} s"


def _moment(competition: Competition, name: str, part: float, found: Sequence[Told]) -> Section:
    told = [each for each in found if each.part == part]
    at = clock_text(told[0].at_ms, decimals=0) if told else ""
    return Section(
        heading=f"{name}: {part:.0%} of the winner's time" + (f", at {at}" if at else ""),
        state="",
        columns=COLUMNS if told else (),
        rows=[_row(competition, each) for each in told],
        notes=() if told else ("Nobody was still at work whose end was forecast.",),
    )


def _row(competition: Competition, told: Told) -> list[str]:
    low, high = told.said.four_in_five
    chance = "" if told.inside_cap is None else _chance(told.inside_cap)
    return [
        str(told.lane),
        competition.entries[told.entry].name,
        _amount(told.said.median, told.measure),
        f"{_amount(low, told.measure)} to {_amount(high, told.measure)}",
        _amount(told.came, told.measure),
        "yes" if told.held else "no",
        chance,
    ]


def _chance(share: float) -> str:
    """As on the call: what is not proved is bounded."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def _amount(value: float, measure: str) -> str:
    if value == float("inf"):
        return "never"
    if measure == "finish_ms":
        return clock_text(round(value), decimals=0)
    return f"{value / 1000:g}" if measure == "load" else reps_text(round(value))
