"""The story of a heat: who did what, when and with which link, in the order in which it came to be known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from tallywire.core.facts import (
    BlockCompleted,
    BoothFact,
    Fact,
    HeatRecalled,
    HeatSigned,
    HeatStarted,
    RepCounted,
)
from tallywire.core.facts.ledger import lane_of, standing
from tallywire.core.facts.recalls import Recalls
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.result_status import ResultStatus, Stage, result_status
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.model.timetext import clock_text
from tallywire.core.reports.say import Saying
from tallywire.core.reports.story_words import plain, words_of

LATE_MS = 5_000
"""Touches that came later than this were kept by a phone without a network (common practice, no source)."""
AHEAD_MS = 1_000
"""A start that is further from the moment it was entered was announced, or was earlier."""
BEFORE_MS, AFTER_MS = 3_600_000, 300_000
"""What happened to links so long before the heat's first fact and after its last one belongs to its story."""
_ROLES = ("lane", "backup", "table", "head", "machine", "spotter", "commentator")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """A line of the record: who sent it and when it came (Unix milliseconds); a refused one has the reason instead."""

    sender: str
    received_unix_ms: int
    fact: Fact | None = None
    refusal: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewLink:
    """A link: what it opened, who used it since when, and what became of it (Unix milliseconds)."""

    id: str
    title: str
    label: str
    lane: int | None
    senders: Mapping[str, int]
    floor: str = ""
    ended_ms: int | None = None
    replaced_by: str | None = None

    def words(self, say: Saying) -> str:
        """Name it as the list of links does."""
        if self.label:
            return say("story.link_labelled", title=self.title, label=plain(self.label), id=self.id)
        return say("story.link", title=self.title, id=self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """One thing that happened: `who` and `what` together are a sentence, `device` is the sender's name or a link."""

    unix_ms: int
    clock: str
    who: str
    what: str
    device: str = ""


@dataclass(slots=True, kw_only=True)
class _Touches:
    """Touches of one sender in a row, each with its time by the start that holds if it counts."""

    facts: list[Fact] = field(default_factory=list)
    never_counts: bool
    late_ms: int = 0
    unix_ms: int = 0


def story(
    competition: Competition, heat: Heat, lines: Sequence[RecordLine], say: Saying, links: Sequence[CrewLink] = ()
) -> list[Sentence]:
    """Tell a heat from the lines of its record, in the order they came, and from the links of its crew."""
    teller = _Teller(competition, heat, lines, say, links)
    told = list(teller.tell())
    if not told:
        return []
    window = (told[0].unix_ms - BEFORE_MS, told[-1].unix_ms + AFTER_MS)
    crew = _of_links(links, heat, {line.sender for line in lines}, window, say)
    return [*sorted([*told, *crew], key=lambda each: each.unix_ms), teller.ending()]


class _Teller:
    def __init__(
        self, competition: Competition, heat: Heat, lines: Sequence[RecordLine], say: Saying, links: Sequence[CrewLink]
    ) -> None:
        self._say = say
        self._competition = competition
        self._heat = heat
        self._lines = lines
        self._link_of = {sender: link for link in links for sender in link.senders}
        self._facts = [line.fact for line in lines if line.fact is not None]
        self._known = {fact.id: fact for fact in self._facts}
        ordered = sorted(self._facts, key=lambda fact: fact.order)
        self._recalls = Recalls(standing(fact for fact in ordered if lane_of(fact) is None))
        self._refusals = Counter((line.sender, line.refusal) for line in lines if line.fact is None)
        self._runs: dict[tuple[str, bool], _Touches] = {}
        self._book = HeatBook(competition, heat)
        self._started: HeatStarted | None = None
        self._was_signed = False

    def tell(self) -> Iterable[Sentence]:
        for line in self._lines:
            if line.fact is None:
                yield from self._refused(line)
                continue
            if not isinstance(line.fact, BoothFact):
                self._book.add(line.fact)
            if isinstance(line.fact, RepCounted | BlockCompleted):
                self._count(line, line.fact)
                continue
            yield from self._end_runs(line)
            yield self._of_fact(line, line.fact)
            yield from self._after_signature(line)
        yield from self._end_runs(None)

    def ending(self) -> Sentence:
        """Say how the heat stands."""
        life = self._life()
        say, by = self._say, plain(life.signed_by or "")
        what = {
            Stage.LIVE: lambda: say("story.stands.live"),
            Stage.PROVISIONAL: lambda: say("story.stands.provisional"),
            Stage.OFFICIAL: lambda: say("story.stands.official", by=by),
            Stage.AMENDED: lambda: say("story.stands.amended", by=by),
        }[life.stage]()
        last = self._lines[-1].received_unix_ms
        return Sentence(unix_ms=last, clock="", who=say("story.who.result"), what=what)

    def _life(self) -> ResultStatus:
        return result_status(self._book.at(max(self._book.last_ms(), self._cap_ms)))

    @property
    def _cap_ms(self) -> int:
        """The cap, if it had come by the last line."""
        started, cap = self._book.folded.started, self._book.event.workout.time_cap_ms
        if started is None or self._lines[-1].received_unix_ms - started.unix_ms + started.at_ms < cap:
            return 0
        return cap

    def _count(self, line: RecordLine, fact: Fact) -> None:
        counted = self._recalls.by_good_clock(fact)
        key = (line.sender, counted is None)
        run = self._runs.setdefault(key, _Touches(unix_ms=line.received_unix_ms, never_counts=counted is None))
        run.facts.append(counted or fact)
        start = self._known.get(fact.start or "", self._started)
        if isinstance(start, HeatStarted):
            run.late_ms = max(run.late_ms, line.received_unix_ms - (start.unix_ms - start.at_ms + fact.at_ms))

    def _end_runs(self, by: RecordLine | None) -> Iterable[Sentence]:
        """End the touches of a judge by what that judge does, and all of them by what the table does."""
        ends = [key for key in self._runs if by is None or not _is_pads(by) or key[0] == by.sender]
        for key in sorted(ends):
            yield self._of_run(key[0], self._runs.pop(key))

    def _of_run(self, sender: str, run: _Touches) -> Sentence:
        reps = sum(fact.n for fact in run.facts if isinstance(fact, RepCounted))
        blocks = sum(isinstance(fact, BlockCompleted) for fact in run.facts)
        amount = self._amount(reps, blocks)
        lanes = sorted({lane for fact in run.facts if (lane := lane_of(fact)) is not None})
        counted = {"amount": amount, "lane": ", ".join(self._lane(lane) for lane in lanes)}
        times = sorted(fact.at_ms for fact in run.facts)
        first, last = (clock_text(each, decimals=1) for each in (times[0], times[-1]))
        if first == last:
            what = self._say("story.counted_at", time=first, **counted)
        else:
            what = self._say("story.counted_span", first=first, last=last, **counted)
        if run.late_ms > LATE_MS:
            what = self._further(what, self._say("story.came_late", time=clock_text(run.late_ms, decimals=0)))
        if run.never_counts:
            what = self._further(what, self._say("story.false_start"))
        return self._sentence(sender, run.unix_ms, times[0], what)

    def _amount(self, reps: int, blocks: int) -> str:
        touches = self._say("shared.reps", n=reps) if reps else ""
        whole = self._say("story.blocks", n=blocks) if blocks else ""
        return self._say("story.both", one=touches, other=whole) if touches and whole else touches or whole

    def _further(self, what: str, more: str) -> str:
        return self._say("story.further", what=what, more=more)

    def _of_fact(self, line: RecordLine, fact: Fact) -> Sentence:
        what = words_of(fact, self._say, lane_name=self._lane, known=self._known)
        if isinstance(fact, HeatStarted):
            what = self._start(line, fact)
            self._started = fact
        if isinstance(fact, HeatRecalled):
            lost = sum(each.start == fact.recalls and self._recalls.by_good_clock(each) is None for each in self._facts)
            what = self._further(what, self._say("story.never_count", n=lost))
        return self._sentence(line.sender, line.received_unix_ms, fact.at_ms, what)

    def _start(self, line: RecordLine, fact: HeatStarted) -> str:
        what = self._say("story.started" if self._started is None else "story.started_again")
        ahead_ms = fact.unix_ms - line.received_unix_ms
        time = clock_text(abs(ahead_ms), decimals=0)
        if abs(ahead_ms) <= AHEAD_MS:
            return what
        return self._say("story.started_later" if ahead_ms > 0 else "story.started_earlier", what=what, time=time)

    def _after_signature(self, line: RecordLine) -> Iterable[Sentence]:
        signed = isinstance(line.fact, HeatSigned)
        if not (signed or self._was_signed):
            return
        holds = not self._life().changed
        if self._was_signed and not holds and not signed:
            who, what = self._say("story.who.result"), self._say("story.unsigned")
            yield Sentence(unix_ms=line.received_unix_ms, clock="", who=who, what=what)
        self._was_signed = signed and holds

    def _refused(self, line: RecordLine) -> Iterable[Sentence]:
        """Say it once for all that a sender had refused for the same reason."""
        times = self._refusals.pop((line.sender, line.refusal), 0)
        if times:
            what = self._say("story.refused", n=times, why=plain(line.refusal))
            yield self._sentence(line.sender, line.received_unix_ms, None, what)

    def _sentence(self, sender: str, unix_ms: int, at_ms: int | None, what: str) -> Sentence:
        link = self._link_of.get(sender)
        device = sender if link is None else _with(sender, link, self._say)
        clock = "" if at_ms is None else clock_text(at_ms, decimals=1)
        return Sentence(unix_ms=unix_ms, clock=clock, who=who_sent(sender, self._say), what=what, device=device)

    def _lane(self, lane: int) -> str:
        return self._say("story.lane", lane=lane, name=plain(self._competition.entry_on(self._heat, lane).name))


def who_sent(sender: str, say: Saying) -> str:
    """Name a sender for people: senders' names begin with their role, a judge's with the lane too."""
    role, _, rest = sender.partition("-")
    return say(f"story.who.{role}", lane=rest.partition("-")[0]) if role in _ROLES else plain(sender)


def _with(sender: str, link: CrewLink, say: Saying) -> str:
    return say("story.with_link", sender=sender, link=link.words(say))


def _is_pads(line: RecordLine) -> bool:
    return line.sender.startswith(("lane-", "backup-", "machine-"))


def _of_links(
    links: Sequence[CrewLink], heat: Heat, senders: set[str], window: tuple[int, int], say: Saying
) -> Iterable[Sentence]:
    for link in links:
        if (link.lane not in heat.lanes or link.floor != heat.floor) and not senders & set(link.senders):
            continue
        for sender, since_ms in link.senders.items():
            if window[0] <= since_ms <= window[1]:
                who, what = say("story.who.device"), say("story.opened", title=link.title)
                yield Sentence(unix_ms=since_ms, clock="", who=who, what=what, device=_with(sender, link, say))
        if link.ended_ms is not None and window[0] <= link.ended_ms <= window[1]:
            who, what = say("story.who.server"), say("story.cut_off")
            if link.replaced_by:
                what = say("story.further", what=what, more=say("story.took_place", id=link.replaced_by))
            yield Sentence(unix_ms=link.ended_ms, clock="", who=who, what=what, device=link.words(say))
