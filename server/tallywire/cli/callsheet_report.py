"""The call sheet: one page for the commentator to print before a heat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from tallywire.cli.report import Report, Section, place_text
from tallywire.core.call.steps import Ground, ground_of
from tallywire.core.clinching import Need
from tallywire.core.clinching.stakes import Stakes, heat_stakes
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

RECORDS = 5
ROUNDS_A_ROW = 8
"""How many rounds stand side by side on a page."""


def callsheet_report(book: CompetitionBook, heat: Heat) -> Report:
    """Give the call sheet of a heat. The other heats of the book are taken as over; nothing of this heat counts yet."""
    snapshot, competition = book.at_clocks({heat.id: 0}, others_ms=LATER_MS), book.competition
    own = snapshot.heats[heat.id]
    ground, rows = ground_of(snapshot, own), event_rows(snapshot, own)
    stakes = heat_stakes(competition, own.state, before=ground.before, rows=rows)
    divisions = dict.fromkeys(competition.entry_on(heat, lane).division for lane in heat.lanes)
    sections = [_lanes(competition, heat, stakes)]
    for division in divisions:
        name = competition.divisions[division].name
        sections += [*_work(own, division, name), _worth(ground, division, name)]
        sections += [_to_beat(snapshot, own, division, name)]
        sections += _records(own, division, name)
    cap = clock_text(own.event.workout.time_cap_ms, decimals=0)
    return Report(
        title=f"{', '.join(dict.fromkeys((own.event.name, heat.name)))}: call sheet",
        lines=[f"{competition.name}. Time cap {cap}. Unofficial: the officials' sheets decide."],
        sections=sections,
        data={},
        records=[],
    )


WHY_NOT = {
    "earlier_event": "an event before is not complete",
    "several_scores": "this event has several scores and many entries that are open",
    "rising_points": "a worse place may earn more, and many entries are open",
    "one_by_one": "a result may help one entry where it harms another, and many are open",
    "vacant_place": "a place of this event is left vacant",
}
"""Why there is no answer to what is needed, by the code of `NotWorkedOut`."""


def _lanes(competition: Competition, heat: Heat, stakes: Mapping[str, Stakes]) -> Section:
    several = len({competition.entry_on(heat, lane).division for lane in heat.lanes}) > 1
    rows = []
    for lane in heat.lanes:
        entry = competition.entry_on(heat, lane)
        division, found = competition.divisions[entry.division].name, stakes[entry.division]
        cut = competition.cut_after(heat.event, entry.division)
        need = "; ".join([*_needs(competition, found, entry), *_cut(found, entry, cut)])
        who = [str(lane), ", ".join(filter(None, (entry.name, entry.home)))]
        rows.append([*who, *([division] if several else []), *_before(found, entry), need])
    divided = ("division",) if several else ()
    columns = ("lane", "entry", *divided, "overall", "points", "to lead overall after this event")
    notes = [f"To lead overall: not worked out, {WHY_NOT[each.unknown]}." for each in stakes.values() if each.unknown]
    return Section(heading="On the lanes", state="", columns=columns, rows=rows, notes=tuple(dict.fromkeys(notes)))


def booth_sections(competition: Competition, heat: Heat) -> list[Section]:
    """Say how names are said, what is worth telling and what is not to be mentioned; nothing where nobody said."""
    rows = []
    for lane in heat.lanes:
        entry = competition.entry_on(heat, lane)
        told = competition.briefing_of(entry.id)
        said = " ".join(filter(None, (told.say, f"/{told.ipa}/" if told.ipa else "")))
        facts = "; ".join(filter(None, (told.age_class, *told.facts)))
        if said or facts or told.caution:
            rows.append([str(lane), entry.short, said, told.caution, facts])
    columns = ("lane", "entry", "say", "do not mention", "worth telling")
    notes = ("For the commentators alone, never on the air.",)
    return [Section(heading="For the booth", state="", columns=columns, rows=rows, notes=notes)] if rows else []


def _before(stakes: Stakes, entry: Entry) -> list[str]:
    """The overall place and points before the event; dashes for those who are not in the standing."""
    swing = next((each for each in stakes.swings if each.entry == entry.id), None)
    if swing is None:
        return ["–", "–"]
    level = sum(each.place_before == swing.place_before for each in stakes.swings)
    return [place_text(swing.place_before, shared=level > 1), points_text(swing.points_before)]


def _cut(stakes: Stakes, entry: Entry, cut: Cut | None) -> Iterator[str]:
    """Whether the entry makes the cut for certain, may still make it, or cannot make it any more."""
    prospect = stakes.prospects.get(entry.id)
    need = None if prospect is None else prospect.cut
    if cut is not None and need is not None:
        state = "certain" if need.safe_for(cut.size) else "possible" if need.can_reach(cut.size) else "gone"
        yield f"cut to {cut.size}: {state}"


def _needs(competition: Competition, stakes: Stakes, entry: Entry) -> Iterator[str]:
    prospect = stakes.prospects.get(entry.id)
    if prospect is None:
        return
    need = prospect.need
    if need.clinched:
        yield "leads whatever happens" if stakes.clinched == entry.id else "certain with any result"
        return
    if not need.alive:
        yield f"cannot lead any more; {need.best} to {need.worst} overall is possible"
        return
    yield f"certain with place {_upto(need.clinching, need)}" if need.clinching else "no place makes it certain"
    yield f"possible with place {_upto(need.leading, need)}"
    if stakes.scores > 1:
        yield f"a place is meant in each of the {stakes.scores} scores"
    yield from _rivals([(competition.entries[beat.rival].short, beat.places) for beat in prospect.beats])
    if any(beat.tie_may_break for beat in prospect.beats):
        yield "a new tie may break this"


def _upto(places: Sequence[int], need: Need) -> str:
    """The last of these places, or all where a better one that is possible is left out."""
    last = places[-1]
    if any(each not in places for each in need.possible if each < last):
        return " or ".join(map(str, places))
    return f"{last}" + (" or better" if len(places) > 1 else "")


def _rivals(named: Sequence[tuple[str, int]]) -> Iterator[str]:
    """The rivals that must be beaten, and those that may stay ahead, each with the number of places."""
    ahead = [f"{name} by {places}" for name, places in named if places > 0]
    behind = [f"{-places} behind {name}" for name, places in named if places <= 0]
    if ahead:
        yield f"must beat {', '.join(ahead)}"
    if behind:
        yield f"may be {', '.join(behind)}"


def _work(own: HeatSnapshot, division: str, name: str) -> list[Section]:
    pieces = sheet_pieces(own.event, division)
    if pieces[0].summary:
        return [Section(heading=f"The work, {name}", state="", columns=(), rows=[], notes=[pieces[0].summary])]
    if len(pieces) > 1 and all(piece.lines == pieces[0].lines for piece in pieces):
        windows = "; ".join(piece.name for piece in pieces)
        return _piece(replace(pieces[0], name=""), name, notes=(f"{windows}.",))
    return [section for piece in pieces for section in _piece(piece, name)]


def _piece(piece: SheetPiece, name: str, *, notes: Sequence[str] = ()) -> list[Section]:
    """Give every station once with its numbers round by round, or line by line where the rounds differ."""
    heading = f"The work, {name}" + (f", {piece.name}" if piece.name else "")
    rounds = [[*lines] for _, lines in groupby(piece.lines, key=lambda line: line.round)]
    stations = [(line.work, line.load) for line in rounds[0]]
    if all([(line.work, line.load) for line in each] == stations for each in rounds):
        tables = [_side_by_side(each, several=len(rounds) > 1) for each in _in_rows(rounds)]
    else:
        tables = [(("round", "work", "load", "number at the end", ""), [_line(line) for line in piece.lines])]
    return [Section(heading=heading, state="", columns=heads, rows=rows, notes=notes) for heads, rows in tables]


def _in_rows(rounds: list[list[SheetLine]]) -> list[list[list[SheetLine]]]:
    """Split the rounds into groups that fit side by side on a page."""
    return [rounds[first : first + ROUNDS_A_ROW] for first in range(0, len(rounds), ROUNDS_A_ROW)]


def _side_by_side(rounds: list[list[SheetLine]], *, several: bool) -> tuple[tuple[str, ...], list[list[str]]]:
    """The heads and rows of rounds with the same stations, without the loads where there are none."""
    loaded = any(line.load for line in rounds[0])
    heads = [f"round {each[0].round}" for each in rounds] if several else ["number at the end"]
    rows = [
        [line.work, *([line.load] if loaded else []), *(str(each[number].cumulative) for each in rounds)]
        for number, line in enumerate(rounds[0])
    ]
    return ("work", *(["load"] if loaded else []), *heads), rows


def _line(line: SheetLine) -> list[str]:
    end = "end of round" if line.ends_round else ""
    return [str(line.round), line.work, line.load, str(line.cumulative), end]


def _worth(ground: Ground, division: str, name: str) -> Section:
    worth = [
        f"{place}:\N{NO-BREAK SPACE}{points_text(points)}"
        for place, points in enumerate(ground.worth[division], start=1)
    ]
    return Section(heading=f"What a place is worth, {name}", state="", columns=(), rows=[], notes=[" · ".join(worth)])


def _records(own: HeatSnapshot, division: str, name: str) -> list[Section]:
    """The best results known, in the organiser's words."""
    found = [each for each in own.event.records if each.division in (division, None)]
    rows = [[each.result, each.who, each.when] for each in found]
    return [Section(heading=f"Records, {name}", state="", columns=("result", "who", "when"), rows=rows)] if rows else []


def _to_beat(snapshot: Snapshot, own: HeatSnapshot, division: str, name: str) -> Section:
    """The best results of the other heats: the first is the one to beat."""
    part = own.event.scored_parts()[0]
    table = event_table(snapshot, own.event, part, division)
    best = [row for row in table if row.heat != own.heat.id and row.outcome.status.has_result][:RECORDS]
    rows = [
        [
            place_text(row.place, shared=row.shared),
            row.entry.name,
            row.outcome.result,
            snapshot.competition.heat_name(snapshot.heats[row.heat].heat),
        ]
        for row in best
    ]
    notes = () if rows else ("No heat of this event has been raced yet.",)
    columns = ("place", "entry", "result", "heat") if rows else ()
    return Section(heading=f"To beat, {name}", state="", columns=columns, rows=rows, notes=notes)
