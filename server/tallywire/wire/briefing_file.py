"""What the booth is told of an entry, from the competition file and from the columns of start lists."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Annotated

from pydantic import AfterValidator, Field, TypeAdapter, ValidationError

from tallywire.core.errors import Problem
from tallywire.core.model.competition import Briefing
from tallywire.formats.table_base import FileTable, Line, not_blank
from tallywire.wire.problems import problems_of, shown
from tallywire.wire.start_list import FACTS, LaneRow

FACTS_MOST = 9
"""What a commentator can take in of one athlete; the number of a fact is one figure."""
Told = Annotated[Line, Field(max_length=160)]
Fact = Annotated[Told, Field(min_length=1), AfterValidator(not_blank)]
Respelling = Annotated[Line, Field(max_length=80)]


class BriefingTable(FileTable):
    """The fields of [[entry]] that are for the booth alone and never on the air.

    `say` is the name as it sounds, in plain letters, `ipa` in those of the International Phonetic Alphabet; `facts` are
    worth telling, and of the `caution` nothing is to be said.
    """

    say: Respelling = ""
    ipa: Respelling = ""
    age_class: Annotated[Line, Field(max_length=40)] = ""
    facts: list[Fact] = Field(default_factory=list, max_length=FACTS_MOST)
    caution: Told = ""

    @property
    def briefing(self) -> Briefing:
        """In the core's terms."""
        return Briefing(
            say=self.say,
            ipa=self.ipa,
            age_class=self.age_class,
            facts=tuple(self.facts),
            caution=self.caution,
        )


_ROW: TypeAdapter[BriefingTable] = TypeAdapter(BriefingTable)
_WORDS = ("say", "ipa", "age_class", "caution")


def briefings(tables: Mapping[str, BriefingTable], rows: Sequence[LaneRow]) -> dict[str, Briefing]:
    """Give what is told of each entry that has any: the fields of the file, and what start lists add."""
    found = {entry: table.briefing for entry, table in tables.items()}
    for row in rows:
        if row.told and row.entry in found:
            found[row.entry] = _added(found[row.entry], _ROW.validate_python(dict(row.told)).briefing)
    return {entry: each for entry, each in found.items() if each != Briefing()}


def briefing_problems(tables: Mapping[str, BriefingTable], rows: Sequence[LaneRow]) -> Iterator[Problem]:
    """Give what is wrong in the columns for the booth: a value out of bounds, and a second one that differs."""
    said = {
        (entry, name): (getattr(table, name), "the competition file")
        for entry, table in tables.items()
        for name in _WORDS
    }
    counts = {entry: set(table.facts) for entry, table in tables.items()}
    for row in rows:
        yield from _shape(row)
        for name in _WORDS:
            value = row.told.get(name, "")
            known, where = said.get((row.entry, name), ("", ""))
            if value and known and value != known:
                yield Problem(f"{row.where}, {name}", shown(value), f"{shown(known)}, as {where} has it")
            elif value:
                said[row.entry, name] = (value, row.where)
        facts = counts.setdefault(row.entry, set())
        facts |= set(row.told.get(FACTS, ()))
        if len(facts) > FACTS_MOST:
            yield Problem(f"{row.where}, {FACTS}", f"{len(facts)} facts of one entry", f"at most {FACTS_MOST}")


def _shape(row: LaneRow) -> Iterator[Problem]:
    try:
        _ROW.validate_python(dict(row.told))
    except ValidationError as exc:
        for each in problems_of(exc):
            yield replace(each, path=f"{row.where}, {each.path}")


def _added(known: Briefing, more: Briefing) -> Briefing:
    words = {name: getattr(known, name) or getattr(more, name) for name in _WORDS}
    return Briefing(**words, facts=tuple(dict.fromkeys((*known.facts, *more.facts))))
