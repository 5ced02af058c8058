"""What the story of a heat is told from: the lines of a journal or a recording, and the links of the crew."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from typing import Any

import orjson

from tallywire.core.facts import Fact, HeatCalled, HeatStarted, ShowFact
from tallywire.core.model.competition import Competition
from tallywire.core.reports.story import CrewLink, RecordLine, story
from tallywire.shell.journal.port import Line
from tallywire.shell.links import STARTED, Link
from tallywire.wire.catalogue import Catalogue
from tallywire.wire.link_words import link_title
from tallywire.wire.reasons import refusal_text
from tallywire.wire.trusted_lines import trusted_fact


def told_lines(lines: Iterable[Line], heat: str) -> list[RecordLine]:
    """Give the lines of a journal that are about a heat, with when each came."""
    mark = f'"heat":"{heat}"'.encode()
    return [told for line in lines if mark in line.body and (told := _told(line, heat)) is not None]


def told_facts(facts: Iterable[Fact], heat: str) -> list[RecordLine]:
    """Give the facts of a recording, which does not say when each came: as if each had come at its own time."""
    told, zero, unix_ms = [], None, 0
    for fact in facts:
        if fact.heat != heat or isinstance(fact, ShowFact):
            continue
        if isinstance(fact, HeatStarted):
            zero = fact.unix_ms - fact.at_ms
        known = fact.unix_ms if isinstance(fact, HeatCalled) else None if zero is None else zero + fact.at_ms
        unix_ms = max(unix_ms, known or 0)
        told.append(RecordLine(sender=fact.sender, received_unix_ms=unix_ms, fact=fact))
    return told


def crew_links(links: Iterable[Link], competition: Competition, words: Catalogue) -> list[CrewLink]:
    """Give links as a story needs them, named in the language of its words."""
    return [
        CrewLink(
            id=link.id,
            title=link_title(words, link.role, link.lane, link.floor_name(competition.floors)),
            label=words.say("home.printed_at_start") if link.label == STARTED else link.label,
            lane=link.lane,
            senders=link.senders,
            floor=link.floor,
            ended_ms=link.ended_ms,
            replaced_by=link.replaced_by,
        )
        for link in links
    ]


def story_data(
    competition: Competition, heat: str, lines: Sequence[RecordLine], words: Catalogue, links: Sequence[CrewLink] = ()
) -> dict[str, Any]:
    """Give the story of a heat as plain data: what the audit page and the command line show."""
    lines = [replace(line, refusal=refusal_text(line.refusal, words)) if line.refusal else line for line in lines]
    found = competition.heats[heat]
    sentences = [asdict(each) for each in story(competition, found, lines, words.tell, links)]
    heats = [{"id": each.id, "title": competition.title_of(each)} for each in competition.heats.values()]
    return {"heat": heat, "title": competition.title_of(found), "heats": heats, "sentences": sentences}


def _told(line: Line, heat: str) -> RecordLine | None:
    if line.refusal is not None:
        if _heat_of(line.body) != heat:
            return None
        message = str(orjson.loads(line.refusal).get("message", ""))
        return RecordLine(sender=line.sender, received_unix_ms=line.received_unix_ms, refusal=message)
    fact = trusted_fact(line.body)
    if fact.heat != heat or isinstance(fact, ShowFact):
        return None
    return RecordLine(sender=line.sender, received_unix_ms=line.received_unix_ms, fact=fact)


def _heat_of(body: bytes) -> object:
    try:
        data = orjson.loads(body)
    except ValueError:
        return None
    return data.get("heat") if isinstance(data, dict) else None
