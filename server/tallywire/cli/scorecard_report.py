"""The scorecard: what the forecast said of a heat, beside what came."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.cli.cues import raced_before
from tallywire.cli.report import Report, Section
from tallywire.cli.without_forecast import GoesOnWithout
from tallywire.core.call.kept import SaidThen
from tallywire.core.call.scorecard import MOMENTS, Marks, Told, marks_of, scorecard
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.model.timetext import clock_text
from tallywire.wire.catalogue import Catalogue

COLUMNS = ("lane", "entry", "said", "range", "came", "did_hold", "cap")
SUMMED_UP = ("heat", "held", "off", "constant", "brier")


def told_of(competition: Competition, facts: Sequence[Fact], heat: str, kept: Sequence[SaidThen] = ()) -> list[Told]:
    """Give what was said of a heat, known to it what had been raced before."""
    own = [fact for fact in facts if fact.heat == heat]
    earlier, guard = raced_before(competition, heat, facts), GoesOnWithout("figures", heat)
    return scorecard(competition, own, heat, earlier=earlier, kept=kept, guard=guard)


def scorecard_report(
    competition: Competition,
    facts: Sequence[Fact],
    heats: Sequence[Heat],
    words: Catalogue,
    kept: Sequence[SaidThen] = (),
) -> Report:
    """Give the scorecards of heats that are over, and what they come to together. `kept` is what was said then."""
    found = {heat.id: told_of(competition, facts, heat.id, kept) for heat in heats}
    sections = [summed_up(competition, found, words)]
    for heat in heats:
        name = heat_name(competition, heat, words)
        sections += [_moment(competition, name, part, found[heat.id], words) for part in MOMENTS if found[heat.id]]
    return Report(
        title=words.say("paper.card.title", competition=competition.name),
        lines=[words.say("paper.card.note")],
        sections=sections,
        data={},
        records=[],
    )


def heat_name(competition: Competition, heat: Heat, words: Catalogue) -> str:
    """Give event and heat in words."""
    return words.listed(list(dict.fromkeys((competition.events[heat.event].name, heat.name))))


def summed_up(competition: Competition, found: dict[str, list[Told]], words: Catalogue) -> Section:
    """Give one line a heat, and one for all together."""
    names = {heat: heat_name(competition, competition.heats[heat], words) for heat in found}
    rows = [_line(names[heat], marks_of(told), words) for heat, told in found.items()]
    if len(found) > 1:
        all_of_them = marks_of([each for told in found.values() for each in told])
        rows.append(_line(words.say("paper.card.all"), all_of_them, words))
    notes = (words.say("paper.card.what"),)
    heading = words.say("paper.card.heading")
    return Section(heading=heading, state="", columns=_heads(SUMMED_UP, words), rows=rows, notes=notes)


def _heads(names: Sequence[str], words: Catalogue) -> tuple[str, ...]:
    return tuple(words.say(f"paper.card.column.{name}") for name in names)


def _line(name: str, marks: Marks, words: Catalogue) -> list[str]:
    if not marks.told:
        return [name, words.say("paper.card.none"), "", "", ""]
    share = f"{100 * marks.held / marks.told:.0f}"
    held = words.say("paper.card.held", held=marks.held, told=marks.told, share=share)
    brier = "" if marks.brier is None else words.figures(f"{marks.brier:.2f}")
    return [name, held, _seconds(marks.off_ms, words), _seconds(marks.constant_off_ms, words), brier]


def _seconds(ms: float | None, words: Catalogue) -> str:
    return "" if ms is None else words.say("shared.second_unit", time=words.figures(f"{ms / 1000:.1f}"))


def _moment(competition: Competition, name: str, part: float, found: Sequence[Told], words: Catalogue) -> Section:
    told = [each for each in found if each.part == part]
    named = {"heat": name, "part": f"{100 * part:.0f}"}
    at = clock_text(told[0].at_ms, decimals=0) if told else ""
    return Section(
        heading=words.say("paper.card.moment_at", time=at, **named) if at else words.say("paper.card.moment", **named),
        state="",
        columns=_heads(COLUMNS, words) if told else (),
        rows=[_row(competition, each, words) for each in told],
        notes=() if told else (words.say("paper.card.nobody"),),
    )


def _row(competition: Competition, told: Told, words: Catalogue) -> list[str]:
    low, high = (_amount(each, told.measure, words) for each in told.said.four_in_five)
    return [
        str(told.lane),
        competition.entries[told.entry].name,
        _amount(told.said.median, told.measure, words),
        words.say("paper.card.range", low=low, high=high),
        _amount(told.came, told.measure, words),
        words.say("paper.card.yes" if told.held else "paper.card.no"),
        "" if told.inside_cap is None else _chance(told.inside_cap, words),
    ]


def _chance(share: float, words: Catalogue) -> str:
    """As on the call: what is not proved is bounded."""
    if share < 0.01:
        return words.say("paper.card.under")
    return words.say("paper.card.over") if share > 0.99 else words.figures(f"{100 * share:.0f} %")


def _amount(value: float, measure: str, words: Catalogue) -> str:
    if value == float("inf"):
        return words.say("paper.card.never")
    if measure == "finish_ms":
        return words.figures(clock_text(round(value), decimals=0))
    return words.figures(f"{value / 1000:g}") if measure == "load" else words.say("shared.reps", n=round(value))
