"""The call sheet: one page for the commentator to print before a heat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import reduce
from itertools import groupby

from tallywire.cli.report import Report, Section, place_text
from tallywire.cli.result_report import columns_of, result_words
from tallywire.core.call.steps import Ground, ground_of
from tallywire.core.clinching.need import Need
from tallywire.core.clinching.prospects import Stakes
from tallywire.core.clinching.stakes import heat_stakes
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition, Entry, Heat
from tallywire.core.model.timetext import clock_text
from tallywire.core.ranking.cuts import Cut
from tallywire.core.ranking.points import points_text
from tallywire.core.reports.format_sheet import SheetLine, SheetPiece
from tallywire.core.reports.scoresheet import sheet_pieces
from tallywire.core.standings.event_table import event_table
from tallywire.core.standings.in_event import event_rows
from tallywire.wire.catalogue import Catalogue

RECORDS = 5
ROUNDS_A_ROW = 8
"""How many rounds stand side by side on a page."""


def callsheet_report(book: CompetitionBook, heat: Heat, words: Catalogue) -> Report:
    """Give the call sheet of a heat. The other heats of the book are taken as over; nothing of this heat counts yet."""
    snapshot, competition = book.at_clocks({heat.id: 0}, others_ms=LATER_MS), book.competition
    own = snapshot.heats[heat.id]
    ground, rows = ground_of(snapshot, own), event_rows(snapshot, own)
    stakes = heat_stakes(competition, own.state, before=ground.before, rows=rows)
    divisions = dict.fromkeys(competition.entry_on(heat, lane).division for lane in heat.lanes)
    sections = [_lanes(competition, heat, stakes, words)]
    for division in divisions:
        name = competition.divisions[division].name
        sections += [*_work(own, division, name, words), _worth(ground, division, name, words)]
        sections += [_to_beat(snapshot, own, division, name, words)]
        sections += _records(own, division, name, words)
    cap = clock_text(own.event.workout.time_cap_ms, decimals=0)
    return Report(
        title=words.say("paper.callsheet", heat=words.listed(list(dict.fromkeys((own.event.name, heat.name))))),
        lines=[words.say("paper.sheet_note", competition=competition.name, cap=cap)],
        sections=sections,
        data={},
        records=[],
    )


def _lanes(competition: Competition, heat: Heat, stakes: Mapping[str, Stakes], words: Catalogue) -> Section:
    several = len({competition.entry_on(heat, lane).division for lane in heat.lanes}) > 1
    rows = []
    for lane in heat.lanes:
        entry = competition.entry_on(heat, lane)
        division, found = competition.divisions[entry.division].name, stakes[entry.division]
        cut = competition.cut_after(heat.event, entry.division)
        need = words.joined([*_needs(competition, found, entry, words), *_cut(found, entry, cut, words)])
        who = [str(lane), words.listed(list(filter(None, (entry.name, entry.home))))]
        rows.append([*who, *([division] if several else []), *_before(found, entry, words), need])
    divided = ("division",) if several else ()
    columns = columns_of(("lane", "entry", *divided, "overall", "points", "to_lead"), words)
    why = [words.say(f"call.unknown.{each.unknown}") for each in stakes.values() if each.unknown]
    notes = [words.say("paper.not_worked_out", why=each) for each in why]
    return Section(
        heading=words.say("paper.on_lanes"), state="", columns=columns, rows=rows, notes=tuple(dict.fromkeys(notes))
    )


def booth_sections(competition: Competition, heat: Heat, words: Catalogue) -> list[Section]:
    """Say how names are said, what is worth telling and what is not to be mentioned; nothing where nobody said."""
    rows = []
    for lane in heat.lanes:
        entry = competition.entry_on(heat, lane)
        told = competition.briefing_of(entry.id)
        said = " ".join(filter(None, (told.say, f"/{told.ipa}/" if told.ipa else "")))
        facts = words.joined(list(filter(None, (told.age_class, *told.facts))))
        if said or facts or told.caution:
            rows.append([str(lane), entry.short, said, told.caution, facts])
    columns = columns_of(("lane", "entry", "say", "caution", "telling"), words)
    notes = (words.say("paper.booth_note"),)
    heading = words.say("paper.booth")
    return [Section(heading=heading, state="", columns=columns, rows=rows, notes=notes)] if rows else []


def _before(stakes: Stakes, entry: Entry, words: Catalogue) -> list[str]:
    """The overall place and points before the event; dashes for those who are not in the standing."""
    swing = next((each for each in stakes.swings if each.entry == entry.id), None)
    if swing is None:
        return ["–", "–"]
    level = sum(each.place_before == swing.place_before for each in stakes.swings)
    place = place_text(swing.place_before, shared=level > 1)
    return [words.figures(place), words.figures(points_text(swing.points_before))]


def _cut(stakes: Stakes, entry: Entry, cut: Cut | None, words: Catalogue) -> Iterator[str]:
    """Whether the entry makes the cut for certain, may still make it, or cannot make it any more."""
    prospect = stakes.prospects.get(entry.id)
    need = None if prospect is None else prospect.cut
    if cut is not None and need is not None:
        state = "certain" if need.safe_for(cut.size) else "possible" if need.can_reach(cut.size) else "gone"
        yield words.say(f"paper.cut_{state}", size=cut.size)


def _needs(competition: Competition, stakes: Stakes, entry: Entry, words: Catalogue) -> Iterator[str]:
    prospect = stakes.prospects.get(entry.id)
    if prospect is None:
        return
    need = prospect.need
    if need.clinched:
        yield words.say("paper.leads_whatever" if stakes.clinched == entry.id else "paper.any_result")
        return
    if not need.alive:
        yield words.say("paper.cannot_lead", best=need.best, worst=need.worst)
        return
    if need.clinching:
        yield words.say("paper.certain_with", places=_upto(need.clinching, need, words))
    else:
        yield words.say("paper.none_certain")
    yield words.say("paper.possible_with", places=_upto(need.leading, need, words))
    if stakes.scores > 1:
        yield words.say("paper.each_score", scores=stakes.scores)
    yield from _rivals([(competition.entries[beat.rival].short, beat.places) for beat in prospect.beats], words)
    if any(beat.tie_may_break for beat in prospect.beats):
        yield words.say("paper.tie_breaks")


def _upto(places: Sequence[int], need: Need, words: Catalogue) -> str:
    """The last of these places, or all where a better one that is possible is left out."""
    last = places[-1]
    if any(each not in places for each in need.possible if each < last):
        return reduce(lambda one, other: words.say("paper.either", one=one, other=other), map(str, places))
    return words.say("paper.or_better", place=last) if len(places) > 1 else str(last)


def _rivals(named: Sequence[tuple[str, int]], words: Catalogue) -> Iterator[str]:
    """The rivals that must be beaten, and those that may stay ahead, each with the number of places."""
    ahead = [words.say("paper.by_places", name=name, places=places) for name, places in named if places > 0]
    behind = [words.say("paper.behind_places", name=name, places=-places) for name, places in named if places <= 0]
    if ahead:
        yield words.say("paper.must_beat", rivals=words.listed(ahead))
    if behind:
        yield words.say("paper.may_be", rivals=words.listed(behind))


def _work(own: HeatSnapshot, division: str, name: str, words: Catalogue) -> list[Section]:
    pieces = sheet_pieces(own.event, division, words.say)
    if pieces[0].summary:
        heading = words.say("paper.the_work", division=name)
        return [Section(heading=heading, state="", columns=(), rows=[], notes=[pieces[0].summary])]
    if len(pieces) > 1 and all(piece.lines == pieces[0].lines for piece in pieces):
        windows = words.say("paper.sentence", text=words.joined([piece.name for piece in pieces]))
        return _piece(replace(pieces[0], name=""), name, words, notes=(windows,))
    return [section for piece in pieces for section in _piece(piece, name, words)]


def _piece(piece: SheetPiece, name: str, words: Catalogue, *, notes: Sequence[str] = ()) -> list[Section]:
    """Give every station once with its numbers round by round, or line by line where the rounds differ."""
    heading = words.listed([words.say("paper.the_work", division=name), *filter(None, [piece.name])])
    rounds = [[*lines] for _, lines in groupby(piece.lines, key=lambda line: line.round)]
    stations = [(line.work, line.load) for line in rounds[0]]
    if all([(line.work, line.load) for line in each] == stations for each in rounds):
        tables = [_side_by_side(each, words, several=len(rounds) > 1) for each in _in_rows(rounds)]
    else:
        heads = (*columns_of(("round", "work", "load", "at_end"), words), "")
        tables = [(heads, [_line(line, words) for line in piece.lines])]
    return [Section(heading=heading, state="", columns=heads, rows=rows, notes=notes) for heads, rows in tables]


def _in_rows(rounds: list[list[SheetLine]]) -> list[list[list[SheetLine]]]:
    """Split the rounds into groups that fit side by side on a page."""
    return [rounds[first : first + ROUNDS_A_ROW] for first in range(0, len(rounds), ROUNDS_A_ROW)]


def _side_by_side(
    rounds: list[list[SheetLine]], words: Catalogue, *, several: bool
) -> tuple[tuple[str, ...], list[list[str]]]:
    """The heads and rows of rounds with the same stations, without the loads where there are none."""
    loaded = any(line.load for line in rounds[0])
    numbered = [words.say("paper.round", round=each[0].round) for each in rounds]
    heads = numbered if several else columns_of(("at_end",), words)
    rows = [
        [line.work, *([words.figures(line.load)] if loaded else []), *(str(each[number].cumulative) for each in rounds)]
        for number, line in enumerate(rounds[0])
    ]
    return (*columns_of(("work", *(["load"] if loaded else [])), words), *heads), rows


def _line(line: SheetLine, words: Catalogue) -> list[str]:
    end = words.say("paper.end_of_round") if line.ends_round else ""
    return [str(line.round), line.work, words.figures(line.load), str(line.cumulative), end]


def _worth(ground: Ground, division: str, name: str, words: Catalogue) -> Section:
    worth = [
        words.figures(f"{place}:\N{NO-BREAK SPACE}{points_text(points)}")
        for place, points in enumerate(ground.worth[division], start=1)
    ]
    heading = words.say("paper.worth", division=name)
    return Section(heading=heading, state="", columns=(), rows=[], notes=[" · ".join(worth)])


def _records(own: HeatSnapshot, division: str, name: str, words: Catalogue) -> list[Section]:
    """The best results known, in the organiser's words."""
    found = [each for each in own.event.records if each.division in (division, None)]
    rows = [[each.result, each.who, each.when] for each in found]
    heading, columns = words.say("paper.records", division=name), columns_of(("result", "who", "when"), words)
    return [Section(heading=heading, state="", columns=columns, rows=rows)] if rows else []


def _to_beat(snapshot: Snapshot, own: HeatSnapshot, division: str, name: str, words: Catalogue) -> Section:
    """The best results of the other heats: the first is the one to beat."""
    part = own.event.scored_parts()[0]
    table = event_table(snapshot, own.event, part, division)
    best = [row for row in table if row.heat != own.heat.id and row.outcome.status.has_result][:RECORDS]
    rows = [
        [
            words.figures(place_text(row.place, shared=row.shared)),
            row.entry.name,
            result_words(own.event, row.outcome.result, words),
            snapshot.competition.heat_name(snapshot.heats[row.heat].heat),
        ]
        for row in best
    ]
    notes = () if rows else (words.say("paper.none_raced"),)
    columns = columns_of(("place", "entry", "result", "heat"), words) if rows else ()
    return Section(heading=words.say("paper.to_beat", division=name), state="", columns=columns, rows=rows, notes=notes)
