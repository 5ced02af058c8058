"""One client's session without I/O: a message comes in, what is to be done goes out."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from tallywire.core.errors import BadMessage, NotAllowed, TallywireError
from tallywire.core.facts import Fact, RundownEdited, ViewTaken, wire_name
from tallywire.core.fold.counters import BACKUP
from tallywire.core.fold.floor import FLOOR, floor_name, floor_of
from tallywire.core.model.competition import Competition, FloorLane
from tallywire.wire import replies
from tallywire.wire.catalogue import LANGUAGES
from tallywire.wire.intake import Batch, Rules, as_it_is, take
from tallywire.wire.links import REFUSED_AT_ONCE, UNREADABLE_COST, LinkAllowance, LinkAllowances
from tallywire.wire.messages import DeviceStatus, Facts, Hello, Ping, Unwatch, Watch, read_message
from tallywire.wire.problems import shown
from tallywire.wire.roles import BOOTH_VIEW, ROLES, SPOTTER, Role
from tallywire.wire.rules import Sender
from tallywire.wire.senders import Senders

VIEWER = "viewer"
_VIEWER = Role(name=VIEWER, words="viewer", page="")
POLICY_VIOLATION = 1008
"""RFC 6455 §7.4.1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """Send this text to the client."""

    payload: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """Write the batch's entries; when they and all before them are on disk, send `Session.acknowledge(batch, …)`."""

    batch: Batch


@dataclass(frozen=True, slots=True, kw_only=True)
class Pong:
    """Answer a ping with the clock at receiving and at answering."""

    t1: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Close:
    """Close the connection with this code."""

    code: int
    reason: str


Effect = Say | Keep | Watch | Unwatch | Pong | DeviceStatus | Close


class Authorise(Protocol):
    """Gives the id of the link that opens a role, for a lane and a floor where they are named, with this key."""

    def __call__(self, role: str, lane: int | None, key: str, *, floor: str = "") -> str:
        """Raise NotAllowed with the reason when the key does not open it."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What all sessions of a server share.

    `authorise` gives the id of the link whose key it is. `lacking` says what a view lacks before it may be taken as
    this fact asks, `closed` why no lane may count in a heat; None when nothing is in the way. `timed` gives a fact with
    its wall time as the journal tells time. Only roles that see them may watch the views `for_senders`. The
    views `worded` have cues, and are there in every language. `pages` is the digest of the pages that are served, empty
    when none are.
    """

    competition: Competition
    senders: Senders
    views: Sequence[str]
    mode: str
    speed: float
    authorise: Authorise
    lacking: Callable[[ViewTaken | RundownEdited], str | None] = lambda _fact: None
    closed: Callable[[str], str | None] = lambda _heat: None
    timed: Callable[[Fact], Fact] = as_it_is
    for_senders: Container[str] = ()
    worded: Container[str] = ()
    pages: str = ""
    links: LinkAllowances = field(default_factory=LinkAllowances)


class Session:
    """What one connection has said so far: its role, and the sender it speaks for."""

    def __init__(self, terms: Terms) -> None:
        self._terms = terms
        self._greeted = False
        self._role = "viewer"
        self._sender: Sender | None = None
        self._rules = Rules(
            senders=terms.senders,
            competition=terms.competition,
            lacking=terms.lacking,
            closed=terms.closed,
            timed=terms.timed,
            may_refuse=self._may_refuse,
        )
        self._now = 0.0
        self.link: str | None = None
        """The id of the link that a hello came with; None for a viewer."""
        self.allowance: LinkAllowance | None = None
        """What the link may do, all of its connections together; None for a viewer."""

    @property
    def sender(self) -> Sender | None:
        """For whom it sends, once a hello has named a sender."""
        return self._sender

    def receive(self, text: str | bytes, *, now: float = 0.0) -> list[Effect]:
        """Take one message and give what is to be done, in order. Never raises for what a client says.

        `now` is in seconds that never run backwards: what is bounded in time is bounded by it.
        """
        self._now = now
        try:
            message = read_message(text)
            return _HANDLERS[type(message)](self, message)
        except TallywireError as exc:
            return [Say(payload=replies.failed(exc))]

    def acknowledge(self, batch: Batch, *, tally: Mapping[str, Any] | None) -> bytes:
        """Give the answer to a batch that is on disk."""
        name, senders = batch.sender.name, self._terms.senders
        return replies.acknowledged(
            sender=name,
            watermark=senders.watermark(name),
            refused=senders.refusals(name, iter(batch.sequences)) + batch.clashes,
            tally=None if tally is None else dict(tally),
        )

    def _hello(self, hello: Hello) -> list[Effect]:
        if self._greeted:
            raise BadMessage("found a second hello, expected one a connection: open another connection", path="type")
        _check_fields(hello, self._terms.competition)
        floor = hello.floor or ""
        if hello.role != VIEWER:
            try:
                self.link = self._terms.authorise(hello.role, hello.lane, hello.key or "", floor=floor)
            except NotAllowed as exc:
                return [Say(payload=replies.failed(exc)), Close(code=POLICY_VIOLATION, reason="not allowed")]
            self.allowance = self._terms.links.of(self.link)
        self._greeted = True
        self._role = hello.role
        if hello.sender is not None:
            self._sender = Sender(name=hello.sender, lane=hello.lane, floor=floor, role=ROLES[hello.role])
        return [Say(payload=self._welcome(hello))]

    def _welcome(self, hello: Hello) -> bytes:
        known: dict[str, Any] = {}
        if hello.sender is not None:
            watermark = self._terms.senders.watermark(hello.sender)
            facts = [wire_name(kind) for kind in ROLES[hello.role].facts]
            known = {"sender": hello.sender, "watermark": watermark, "facts": facts}
        if self._terms.pages:
            known["pages"] = self._terms.pages
        return replies.welcome(role=hello.role, mode=self._terms.mode, speed=self._terms.speed, known=known)

    def _facts(self, message: Facts) -> list[Effect]:
        if self._sender is None:
            raise NotAllowed(f"found facts from a {self._role}, expected a hello with a role that sends first")
        batch = take(message.facts, sender=self._sender, rules=self._rules)
        if self.allowance is not None:
            self.allowance.facts.owe(
                self._sender.role.cost * len(message.facts) + UNREADABLE_COST * batch.unreadable, self._now
            )
        effects: list[Effect] = [Keep(batch=batch)] if batch.sequences else []
        if batch.gap is not None:
            effects.append(Say(payload=replies.gap(batch.gap)))
        return effects + (_overrun() if batch.overrun else [])

    def _may_refuse(self) -> bool:
        return self.allowance is None or self.allowance.refused.spend(self._now)

    def _watch(self, message: Watch) -> list[Effect]:
        return [message.model_copy(update={"view": self._view(message)})]

    def _unwatch(self, message: Unwatch) -> list[Effect]:
        return [message.model_copy(update={"view": self._view(message)})]

    def _ping(self, message: Ping) -> list[Effect]:
        return [Pong(t1=message.t1)]

    def _status(self, message: DeviceStatus) -> list[Effect]:
        if self._sender is None or not self._sender.role.counts:
            raise NotAllowed(f"found a status from a {self._role}, expected a hello with a role that counts first")
        return [message]

    def _view(self, message: Watch | Unwatch) -> str:
        place = None if self._sender is None else self._sender.place
        seen = seen_view(message.view, message.heat, terms=self._terms, role=self._role, place=place)
        return worded_view(seen, message.language or "", terms=self._terms)


def _overrun() -> list[Effect]:
    message = (
        f"found more than {REFUSED_AT_ONCE} refused facts of this link, expected fewer: nothing was taken from there "
        "on; set the device up with its own link again"
    )
    return [
        Say(payload=replies.parting("too_many_refused", message)),
        Close(code=POLICY_VIOLATION, reason="too many refused"),
    ]


def seen_view(view: str, heat: str, *, terms: Terms, role: str, place: FloorLane | None) -> str:
    """Give the view that somebody sees who asks for this one: a lane's link and a spotter's have their own part of it.

    Raises BadMessage unless there is such a view of such a heat, NotAllowed unless the role may watch it.
    """
    _check_view(view, heat, terms=terms, role=role)
    if view == BOOTH_VIEW and role == SPOTTER:
        return f"{view}/{SPOTTER}"
    if place is None or view not in terms.for_senders:
        return view
    if floor_of(heat, terms.competition) != place.floor:
        raise NotAllowed(f"found heat {shown(heat)}, expected one on floor {place.floor}, whose link was used")
    return f"{view}/{place.lane}" if role != BACKUP else f"{view}/{place.lane}/{BACKUP}"


def view_name(view: str) -> str:
    """Give a view's name without what `seen_view` and `worded_view` put behind it."""
    return view.partition("/")[0]


def worded_view(view: str, language: str, *, terms: Terms) -> str:
    """Name the view with its cues in a language; as it is where it has none, or that is the competition's language.

    Raises BadMessage for a language that there is not.
    """
    if language and language not in LANGUAGES:
        raise BadMessage(f"found {shown(language)}, expected one of {', '.join(LANGUAGES)}", path="lang")
    own = language in ("", terms.competition.language)
    return view if own or view not in terms.worded else f"{view}/{language}"


def _check_view(view: str, heat: str, *, terms: Terms, role: str) -> None:
    if view not in terms.views:
        raise BadMessage(f"found {shown(view)}, expected one of {', '.join(terms.views)}", path="view")
    if floor_of(heat, terms.competition) is None:
        floors, heats = ", ".join(_floor_names(terms.competition)), ", ".join(terms.competition.heats)
        raise BadMessage(f"found {shown(heat)}, expected {floors} or one of {heats}", path="heat")
    if view in terms.for_senders and not (role in ROLES and view in ROLES[role].sees):
        seeing = ", ".join(each.name for each in ROLES.values() if view in each.sees)
        raise NotAllowed(
            f"found view {view} asked for as {role}, expected one of the roles {seeing}: open the page's own link"
        )


def _floor_names(competition: Competition) -> list[str]:
    return [FLOOR, *map(floor_name, competition.floors)]


def _check_fields(hello: Hello, competition: Competition) -> None:
    role = ROLES.get(hello.role, _VIEWER)
    _check_floor(hello, role, competition)
    if not role.takes(hello.lane):
        raise BadMessage(f"found lane {hello.lane or 'missing'}, expected {role.lane} one for {role.name}", path="lane")
    if role is _VIEWER and hello.key is not None:
        raise BadMessage("found key, expected none for role viewer", path="role")
    opening = role.opening(hello.lane, hello.floor or "")
    if not role.sends:
        if hello.sender is not None:
            raise BadMessage(f"found a sender, expected none for role {role.name}", path="role")
    elif hello.sender is None or not hello.sender.startswith(opening):
        raise BadMessage(f"found {shown(hello.sender)}, expected a name that begins with {opening}", path="sender")


def _check_floor(hello: Hello, role: Role, competition: Competition) -> None:
    if hello.floor is not None and not role.counts:
        raise BadMessage(f"found floor {hello.floor}, expected none for role {role.name}", path="floor")
    fault = role.floor_fault(hello.lane, hello.floor or "", competition.floors) if role.counts else None
    if fault is not None:
        raise BadMessage(fault, path="floor")


_HANDLERS: Mapping[type[Any], Callable[[Session, Any], list[Effect]]] = {
    Hello: Session._hello,
    Facts: Session._facts,
    Watch: Session._watch,
    Unwatch: Session._unwatch,
    Ping: Session._ping,
    DeviceStatus: Session._status,
}
