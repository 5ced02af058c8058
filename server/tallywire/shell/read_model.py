"""The read model: every view as a function of a snapshot and of what was worked out in the background."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from tallywire.core.call.steps import make_quick_call, see
from tallywire.core.cues import Wording, say
from tallywire.core.facts import HeatRecalled, RundownEdited, ViewTaken
from tallywire.core.fold.close_finishes import close_finishes
from tallywire.core.fold.floor import floor_name
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.open_heat import closed_because
from tallywire.core.fold.result_status import ResultStatus, result_status
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition
from tallywire.core.model.outputs import RUNDOWN_MOST, rundown_digest
from tallywire.core.show.catalogue import missing
from tallywire.core.show.surroundings import Surroundings, surroundings_of
from tallywire.core.standings.change import sight_of
from tallywire.core.standings.in_event import InEvent, in_event
from tallywire.core.views.booth import booth_frame, spotters_frame
from tallywire.core.views.day import day_rows, floors_data
from tallywire.core.views.event import event_frame
from tallywire.core.views.gaps import gap_frame
from tallywire.core.views.heat import heat_frame, worth_data
from tallywire.core.views.next import next_frame
from tallywire.core.views.own_rules import work_data
from tallywire.core.views.result import result_frame
from tallywire.core.views.results import results_frame
from tallywire.core.views.show import show_frame, subjects_frame
from tallywire.core.views.standings import quick_standings_frame
from tallywire.core.views.table import own_lane_frame, table_frame
from tallywire.shell.books import Books
from tallywire.shell.pads import Pads
from tallywire.shell.worked_out import CALL, STANDINGS, WorkedOut
from tallywire.wire.cue_wording import default_wording
from tallywire.wire.roles import BOOTH_VIEW, SPOTTER, TABLE_VIEW

Frame = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What a view of a heat is made from: the heat, the snapshot it is part of, and what was worked out for it.

    Cues are said in the `language` that was asked for, in the competition's own one where none was.
    """

    snapshot: Snapshot
    heat: HeatSnapshot
    known: WorkedOut
    language: str
    pads: Pads | None

    @property
    def competition(self) -> Competition:
        """The competition."""
        return self.snapshot.competition

    @property
    def wording(self) -> Wording:
        """What cues say."""
        return default_wording(self.language or self.competition.language)

    @property
    def state(self) -> HeatState:
        """The heat as of its clock."""
        return self.heat.state

    @property
    def status(self) -> ResultStatus:
        """How official the heat's result is."""
        return result_status(self.heat)

    @property
    def places(self) -> Mapping[int, InEvent]:
        """Each lane's place in the event."""
        return in_event(self.snapshot, self.heat)

    @property
    def worth(self) -> Frame:
        """What each place in the event is worth."""
        return worth_data(self.snapshot, self.heat)

    @property
    def around(self) -> Surroundings:
        """What a view may need besides the heat: see `Surroundings`."""
        return surroundings_of(self.snapshot, self.heat, exact=self.known.exact)


def _call(of: Source) -> Frame:
    """The newest call; while none is kept up to date, a quick one without the parts that take long.

    So it is while the newest is old and a lane may have been held since: a name must be gone at once.
    """
    newest = of.known.newest(CALL)
    if newest is not None and not ("old_ms" in newest and of.heat.held):
        return _translated(newest, of) if of.language else newest
    sight, desk = see(of.snapshot, of.heat), of.known.desk_of(of.heat.started)
    return make_quick_call(of.competition, sight, desk=desk, wording=of.wording)


def _translated(call: Frame, of: Source) -> Frame:
    """Put the cues of a call into the words that were asked for, from the desk that gave them."""
    cues = {each.key: each for each in of.known.desk.current}
    said = [
        each | {"line": say(cues[each["key"]], of.wording)} if each["key"] in cues else each for each in call["cues"]
    ]
    return call | {"cues": said}


def _standings(of: Source) -> Frame:
    """The newest standings; without any, and while they are old and somebody is held, the view without them."""
    newest = of.known.newest(STANDINGS)
    if newest is not None and not ("old_ms" in newest and of.snapshot.held):
        return newest
    return quick_standings_frame(of.competition, sight_of(of.snapshot, of.heat))


def _on_floor(of: Source) -> Frame:
    """The day's heats, the one on this one's floor and on every floor that has a name, whether lanes count in this one,
    and finishes taps cannot tell apart."""
    frame: Frame = {
        "heats": day_rows(of.snapshot),
        "floor": of.snapshot.floors.heats[of.heat.heat.floor],
        **floors_data(of.competition, of.snapshot.floors),
        "open": closed_because(of.heat.facts) is None,
        **_start(of.heat),
    }
    close = [asdict(each) for each in close_finishes(of.heat)]
    return frame | {"too_close": close} if close else frame


def _start(heat: HeatSnapshot) -> Frame:
    """The fact that started the clock, by which touches name it, and the starts that were false."""
    false = [fact.recalls for fact in heat.facts if isinstance(fact, HeatRecalled)]
    start: Frame = {} if heat.started is None else {"start_id": heat.started.id}
    return start | {"recalled": false} if false else start


def _pads(of: Source) -> Frame:
    """The devices that count on each lane; nothing while there is none."""
    pads = of.pads and of.pads.seen(of.heat, of.snapshot.unix_ms)
    return {"pads": pads} if pads else {}


def _missed(of: Source) -> Frame:
    """The lanes whose pad is away, of those that are on the air."""
    missed = of.pads.missed(of.heat, of.snapshot.unix_ms) if of.pads else []
    lanes = [each for each in missed if not of.heat.conduct(each).held]
    return {"waiting_for_pad": lanes} if lanes else {}


VIEWS: Mapping[str, Callable[[Source], Frame]] = {
    "heat": lambda of: heat_frame(of.competition, of.state, of.places) | of.worth | _missed(of),
    "gaps": lambda of: gap_frame(of.competition, of.state, of.places) | of.worth,
    "result": lambda of: result_frame(of.competition, of.state, of.status.stage, of.places) | of.worth,
    "event": lambda of: event_frame(of.snapshot, of.heat),
    "results": lambda of: results_frame(of.snapshot, of.heat),
    "next": lambda of: next_frame(of.snapshot, of.heat),
    "subjects": lambda of: subjects_frame(of.state, of.status.stage, of.around),
    "table": lambda of: table_frame(of.competition, of.state, of.status) | _on_floor(of) | _pads(of),
    "show": lambda of: show_frame(of.competition, of.snapshot.outputs, held=of.snapshot.held),
    "booth": lambda of: booth_frame(of.snapshot, of.heat),
    CALL: _call,
    STANDINGS: _standings,
}
"""Every view on the wire. To add one, write it in core/views and name it here."""
VIEW_NAMES = tuple(VIEWS)
FOR_SENDERS = frozenset({TABLE_VIEW, BOOTH_VIEW})
"""Views that not everybody may watch: the table of roles says who may."""
OF_THE_SHOW = frozenset({"show"})
"""Views that change only with facts of the show or with medical holds."""
OF_THE_CLOCK = frozenset({"gaps"})
"""Views in which something grows while a heat runs and nobody taps."""
OF_THE_DAY = frozenset({"next", "table"})
"""Views that tell of every heat whether it waits, runs or is over."""
OF_THE_PADS = frozenset({"table"})
"""Views that tell of every pad."""
OF_MISSED_PADS = frozenset({"table", "heat"})
"""Views that tell which lanes are missing theirs."""
OF_THE_BOOTH = frozenset({BOOTH_VIEW})
"""Views that change with notes."""
WORDED = frozenset({CALL})
"""Views that have cues: they are there in every language."""
BEYOND_LANES = frozenset({"next", BOOTH_VIEW})
"""Views that no count of a lane changes."""


def _own_part(frame: Frame, whose: str) -> Frame:
    """Give what a lane, by its number, or a spotter may see of a frame; all of it to whoever is not named."""
    if not whose:
        return frame
    return spotters_frame(frame) if whose == SPOTTER else own_lane_frame(frame, int(whose))


class ReadModel:
    """Makes frames. `mode` and the speed of the clock go into every one, and how old a follower's picture is."""

    def __init__(
        self,
        books: Books,
        worked: Mapping[str, WorkedOut],
        *,
        mode: str,
        pads: Pads | None = None,
    ) -> None:
        self._books = books
        self._worked = worked
        self._pads = pads
        self._mode = mode
        # Read now, so that nobody waits for it at the first call.
        default_wording(books.competition.language)
        self.jumps = 0
        """How often a rehearsal has jumped: pages that remember what they were shown forget it when this changes."""

    def snapshot(self) -> Snapshot:
        """Freeze the competition now: everything made at one time is made from one snapshot."""
        return self._books.snapshot()

    def frame(self, view: str, heat: str, snapshot: Snapshot) -> Frame:
        """Give the frame of a view as of a snapshot; `heat` is an id or the name of a floor.

        A view for senders may have a lane or a role behind it, as `seen_view` writes it: then it is what that one may
        see, and for a backup counter of the lane what backups counted. A view that has cues may have the language in
        which they are said (`worded_view`).
        """
        name, _, own = view.partition("/")
        language, own = (own, "") if name in WORDED else ("", own)
        whose, _, counter = own.partition("/")
        frame = VIEWS[name](self._source(heat, snapshot, backup=bool(counter), language=language))
        behind_ms = self._books.behind_ms
        age = {"behind_ms": behind_ms} if behind_ms else {}
        return self._books.pace.told(_own_part(frame, whose)) | self.stamp() | age

    def stamp(self) -> Frame:
        """What every frame says of how the competition is run."""
        stamp: Frame = {"mode": self._mode, "speed": self._books.pace.rate}
        return stamp | {"jumps": self.jumps} if self.jumps else stamp

    def lacking(self, fact: ViewTaken | RundownEdited) -> str | None:
        """Say what the view that this fact would take lacks now, or why its rundown cannot be changed so.

        None when it may go to programme, or the rundown be changed.
        """
        if isinstance(fact, RundownEdited):
            return self._stale(fact)
        output = self._books.competition.outputs.get(fact.output)
        floor = floor_name("" if output is None else output.floor)
        of = self._source(fact.params.get("heat", floor), self.snapshot())
        return missing(fact.view, fact.params, of.state, of.around)

    def _stale(self, fact: RundownEdited) -> str | None:
        now = self.snapshot().outputs[fact.output]
        rundown = now.output.rundown
        if fact.before != rundown_digest(rundown) or fact.edit != now.edits + 1:
            return "found a change of an older rundown: another desk was first. Look at it and change it again"
        if fact.line - 1 + fact.gone > len(rundown):
            return f"found lines to {fact.line - 1 + fact.gone}, expected at most {len(rundown)}"
        many = len(rundown) - fact.gone + len(fact.added)
        return f"found {many} lines, expected at most {RUNDOWN_MOST}" if many > RUNDOWN_MOST else None

    def tally(self, heat: str, lane: int, snapshot: Snapshot, *, backup: bool = False) -> Frame | None:
        """Give a lane's count for the pad that sent it; None when the competition has no such lane."""
        now = snapshot.heats.get(heat)
        if now is None or lane not in now.heat.lanes:
            return None
        now = now.of_backup() if backup else now
        outcome, tally = now.outcome(lane), now.tally(lane)
        return {
            "heat": heat,
            "lane": lane,
            "done": tally.done,
            "scored_reps": outcome.scored_reps,
            "no_reps": tally.no_reps,
            "status": outcome.status.value,
            **work_data(tally, now.event.workout),
        }

    def _source(self, heat: str, snapshot: Snapshot, *, backup: bool = False, language: str = "") -> Source:
        found = snapshot.heat(heat)
        found = found.of_backup() if backup else found
        return Source(
            snapshot=snapshot,
            heat=found,
            known=self._worked[found.heat.id],
            language=language,
            pads=self._pads,
        )
