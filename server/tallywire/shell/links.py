"""The links of the crew: what each opens, until when, and which were taken back. Only hashes of their keys are kept."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace

from tallywire.core.errors import LinkEnded, NotAllowed, UnknownLink
from tallywire.core.model.competition import Floor, FloorLane
from tallywire.shell.keys import Keys, make_key
from tallywire.wire.roles import OWNER, ROLES, Role

CODE_LETTERS = "BCDFGHJKLMNPQRSTVWXZ"
"""There are no vowels, so that no code is a word, and no letter that could be taken for a figure."""
CODE_LENGTH = 6
LINKS_MOST = 2000
DAYS, DAYS_MOST = 3, 60
"""How long a link lasts by default: as long as a competition over a weekend."""
DAY_MS = 86_400_000
SENDERS_MOST = 64
"""So many devices of a link are remembered: more than a day's judges have, few enough for a small file."""
STARTED = "printed at start"
"""The label of links that the server prints at its start; pages and stories say it in their language."""
_STARTED_MOST = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One link. Times are Unix milliseconds; `ended_ms` is when it was taken back, `replaced_by` what then took its
    place, `parent` the link whose code made it. `senders` has who sent facts with it, and since when.

    `key_hash` is SHA-256 of a key of 144 random bits, which needs no salt to be beyond guessing. `code_hash` is scrypt
    of its six letters; without one it has no code, or the code was used.
    """

    id: str
    role: str
    lane: int | None
    label: str
    key_hash: str
    made_ms: int
    expires_ms: int
    code_hash: str | None = None
    parent: str | None = None
    ended_ms: int | None = None
    floor: str = ""
    replaced_by: str | None = None
    senders: Mapping[str, int] = field(default_factory=dict)

    def title(self, floors: Mapping[str, Floor] | None = None) -> str:
        """Name what it opens, for people; a floor that is not among `floors` by its id."""
        return ROLES[self.role].title(self.lane, self.floor_name(floors))

    def floor_name(self, floors: Mapping[str, Floor] | None) -> str:
        """Name its floor, by its id where it is not among `floors`; empty where it has none."""
        floor = (floors or {}).get(self.floor)
        return self.floor if floor is None else floor.name

    @property
    def path(self) -> str:
        """The address of its page below the server's, without the key."""
        return ROLES[self.role].path(self.lane, self.floor)

    def fault(self, unix_ms: int) -> str | None:
        """Say why the link opens nothing now; None while it is good."""
        if self.ended_ms is not None:
            return "a link that was taken back: ask the scoring table for a new one"
        if unix_ms >= self.expires_ms:
            return "a link whose time is over: ask the scoring table for a new one"
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A link that is to be made: its role, lane and floor, its label, and how long it is to last."""

    role: str
    lane: int | None = None
    floor: str = ""
    label: str = ""
    days: float = DAYS


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A link that was just made; only now are its key and its code known."""

    link: Link
    key: str = field(repr=False)
    code: str = field(repr=False, default="")


class Links:
    """All links of a server. `keep` writes them down after each change; `now_ms` gives wall time, Unix milliseconds."""

    def __init__(
        self,
        links: Iterable[Link] = (),
        *,
        now_ms: Callable[[], int],
        keep: Callable[[Sequence[Link]], None] = lambda _links: None,
        salt: bytes = b"",
    ) -> None:
        self._now_ms = now_ms
        self._keep = keep
        self.refill(links, salt=salt)
        self._owner_hash = ""
        self.start = Keys("", {})
        """The plain keys of this start."""

    def refill(self, links: Iterable[Link], *, salt: bytes) -> None:
        """Have these links and no others, as another server has left them."""
        self._salt = salt
        self._links = {link.id: link for link in links}
        self._by_key = {link.key_hash: link.id for link in self._links.values()}

    def begin(self, keys: Keys) -> None:
        """Make links with the keys of this start; those of starts long ago are removed."""
        self.start = keys
        wishes = [(_started(role, place), key) for role, place, key in keys.each()]
        self._prune()
        self._put([self._made(wish, key) for wish, key in wishes])

    def owner_key(self) -> str:
        """Draw the machine's own key, which holds as long as the server runs.

        The one before it opens nothing any more.
        """
        key = make_key()
        self._owner_hash = _hashed(key)
        return key

    def all(self) -> Sequence[Link]:
        """Give every link, in the order they were made."""
        return list(self._links.values())

    def any_good(self, role: str) -> bool:
        """Tell whether a link of this role opens something now."""
        now = self._now_ms()
        return any(link.role == role and link.fault(now) is None for link in self._links.values())

    def role(self, link_id: str) -> str:
        """Name the role of a link."""
        return self._links[link_id].role

    def fault(self, link_id: str) -> str | None:
        """Say why a link opens nothing now; None while it is good."""
        return self._links[link_id].fault(self._now_ms())

    def authorise(self, role: str, lane: int | None, key: str, *, floor: str = "") -> str:
        """Give the id of the link that has this key.

        Raises NotAllowed, with the reason, when it does not open the role.

        A key is looked up by its hash, so the time it takes says nothing about how near a wrong one is.
        """
        link = self._links.get(self._by_key.get(_hashed(key), ""))
        fits = link is not None and link.role == role and link.lane in (lane, None) and _is_on(link, floor)
        if link is None or not fits:
            raise NotAllowed(f"found a key that does not open role {role}: copy the page's link again")
        fault = link.fault(self._now_ms())
        if fault is not None:
            raise LinkEnded(f"found {fault}")
        return link.id

    def role_of(self, key: str) -> Role | None:
        """Give the role that a key opens now, the owner's too; None when it opens nothing."""
        hashed = _hashed(key)
        if hashed == self._owner_hash:
            return OWNER
        link = self._links.get(self._by_key.get(hashed, ""))
        return None if link is None or link.fault(self._now_ms()) else ROLES[link.role]

    def lane_and_floor(self, key: str) -> tuple[int | None, str]:
        """Give the lane and the floor of the link that a key belongs to; None and "" where it has none, or is none."""
        link = self._links.get(self._by_key.get(_hashed(key), ""))
        return (None, "") if link is None else (link.lane, link.floor)

    def issue(self, wishes: Sequence[Wish]) -> list[Issued]:
        """Make links, each with a code. Raises NotAllowed when there are too many already."""
        self._prune()
        if len(self._links) + len(wishes) > LINKS_MOST:
            raise NotAllowed(f"found {len(self._links)} links, expected at most {LINKS_MOST}: take back what is old")
        issued = [self._made(wish, make_key(), code=self._fresh_code()) for wish in wishes]
        self._put(issued)
        return issued

    def used(self, link_id: str, sender: str) -> None:
        """Note that a sender came with a link, for the story of its heats."""
        link = self._known(link_id)
        if sender not in link.senders and len(link.senders) < SENDERS_MOST:
            self._links[link_id] = replace(link, senders={**link.senders, sender: self._now_ms()})
            self._keep(self.all())

    def revoke(self, link_id: str) -> set[str]:
        """Take back a link, and those made with its code; give the ids of all that ended."""
        self._known(link_id)
        now = self._now_ms()
        ended = {link_id} | {link.id for link in self._links.values() if link.parent == link_id}
        for each in ended:
            if self._links[each].ended_ms is None:
                self._links[each] = replace(self._links[each], ended_ms=now, code_hash=None)
        self._keep(self.all())
        return ended

    def renew(self, link_id: str) -> tuple[Issued, set[str]]:
        """Take back a link and make another for the same; give the new one, and the ids of all that ended."""
        old = self._known(link_id)
        days = max(old.expires_ms - self._now_ms(), DAY_MS) / DAY_MS
        [issued] = self.issue([Wish(role=old.role, lane=old.lane, floor=old.floor, label=old.label, days=days)])
        ended = self.revoke(link_id)
        self._links[link_id] = replace(self._links[link_id], replaced_by=issued.link.id)
        self._keep(self.all())
        return issued, ended

    def redeem(self, code: str) -> Issued | None:
        """Make a separate link for the person who typed a code, which is then used up.

        None for a code that does not exist.
        """
        hashed = self._code_hashed("".join(code.split()).upper())
        found = next((link for link in self._links.values() if link.code_hash == hashed), None)
        if found is None or found.fault(self._now_ms()) is not None:
            return None
        wish = Wish(role=found.role, lane=found.lane, floor=found.floor, label=found.label)
        made = self._made(wish, make_key())
        link = replace(made.link, expires_ms=found.expires_ms, parent=found.id)
        self._links[found.id] = replace(found, code_hash=None)
        self._put([replace(made, link=link)])
        return replace(made, link=link)

    def _known(self, link_id: str) -> Link:
        if link_id not in self._links:
            raise UnknownLink(f'found "{link_id[:40]}", expected the id of a link: see the list')
        return self._links[link_id]

    def _made(self, wish: Wish, key: str, *, code: str = "") -> Issued:
        now = self._now_ms()
        link = Link(
            id=self._fresh_id(),
            role=wish.role,
            lane=wish.lane,
            floor=wish.floor,
            label=wish.label,
            key_hash=_hashed(key),
            made_ms=now,
            expires_ms=now + round(wish.days * DAY_MS),
            code_hash=self._code_hashed(code) if code else None,
        )
        return Issued(link=link, key=key, code=code)

    def _put(self, issued: Sequence[Issued]) -> None:
        for each in issued:
            self._links[each.link.id] = each.link
            self._by_key[each.link.key_hash] = each.link.id
        self._keep(self.all())

    def _prune(self) -> None:
        """Forget links that ended more than a day ago, of those in use sixty days ago, and those of starts long ago."""
        now = self._now_ms()
        for link in self.all():
            days = DAYS_MOST if link.senders else 1
            if min(link.expires_ms, link.ended_ms or link.expires_ms) < now - days * DAY_MS:
                self._forget(link)
        started = [link for link in self._links.values() if link.label == STARTED]
        for link in started[: max(0, len(started) - _STARTED_MOST)]:
            self._forget(link)

    def _forget(self, link: Link) -> None:
        del self._links[link.id]
        self._by_key.pop(link.key_hash, None)

    def _fresh_id(self) -> str:
        return next(name for name in iter(lambda: secrets.token_hex(4), "") if name not in self._links)

    def _fresh_code(self) -> str:
        return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))

    def _code_hashed(self, code: str) -> str:
        # RFC 7914: slow on purpose, because six letters are few, but not so slow that making forty slips holds up the
        # taps.
        return hashlib.scrypt(code.encode(), salt=self._salt, n=2**9, r=8, p=1).hex()


def _started(role: str, place: FloorLane | None) -> Wish:
    return Wish(role=role, label=STARTED) if place is None else Wish(role=role, **asdict(place), label=STARTED)


def _is_on(link: Link, floor: str) -> bool:
    """Tell whether a link opens a floor: of what counts only its own, unless it is a machine's for every lane."""
    return link.floor == floor or (link.lane is None and not (link.floor and ROLES[link.role].counts))


def _hashed(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()
