"""One connected client: what its session decides is carried out here."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from tallywire.core.errors import LinkEnded, TallywireError
from tallywire.core.fold.counters import BACKUP
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.clock import Timer
from tallywire.shell.crew import Device
from tallywire.shell.live import LiveCompetition
from tallywire.shell.recorder import Job
from tallywire.shell.storage import StorageState
from tallywire.shell.transport import Transport
from tallywire.web.admission import Admission, Visit
from tallywire.web.bounds import Bounds
from tallywire.wire import replies
from tallywire.wire.allowance import Allowance
from tallywire.wire.intake import Batch
from tallywire.wire.messages import DeviceStatus, Unwatch, Watch
from tallywire.wire.session import POLICY_VIOLATION, Close, Keep, Pong, Say, Session

MESSAGES_A_SECOND = 200
IDLE_S = 20.0
"""How long a connection may go on without a key shown and without a view watched."""
TRY_AGAIN_LATER = 1013
"""IANA registry of RFC 6455 close codes."""

_LOOK_AGAIN_S = 0.25
"""So often a client that has to wait looks whether its connection is still there."""
_log = logging.getLogger(__name__)


class Client:
    """Feed it messages with `take` and `take_in_turn`; when `parting` is set, close the connection with it.

    `visit` is the connection it came by; without one nobody else is counted with it. `part` is called when `parting` is
    set without a message: the client's link was taken back, or it was of no use for too long.
    """

    def __init__(
        self,
        live: LiveCompetition,
        transport: Transport,
        visit: Visit | None = None,
        *,
        part: Callable[[], None] = lambda: None,
    ) -> None:
        self._live = live
        self._part_now = part
        self._transport = transport
        self._visit = visit or Admission(Bounds()).walk_in("")
        self._session = Session(live.terms)
        self._subscriber = live.fan_out.join(transport)
        self._allowance = Allowance(rate=MESSAGES_A_SECOND, burst=2 * MESSAGES_A_SECOND)
        self._received_ms = 0
        self._known = False
        self._waiting = False
        self._idle: Timer | None = None
        self.parting: Close | None = None
        live.clients += 1
        self._watch_idle()

    def hear(self, text: str | bytes) -> None:
        """Take one message."""
        if self.parting is not None:
            return
        self._received_ms, now = self._live.clock.unix_ms(), self._live.clock.now()
        if not self._may_speak(now):
            self._part_for_haste()
            return
        for effect in self._session.receive(text, now=now):
            _EFFECTS[type(effect)](self, effect)
        if self._session.link is not None and not self._known:
            self._join(self._session.link)
        self._watch_idle()

    def take(self, text: str | bytes) -> bool:
        """Take one message at once; False, and it is not taken, while an earlier one or the client itself must wait."""
        if self._waiting or not self._is_ready:
            return False
        self.hear(text)
        return True

    async def take_in_turn(self, text: str | bytes) -> None:
        """Take one message as soon as the client may go on."""
        self._waiting = True
        try:
            await self.ready()
        finally:
            self._waiting = False
        self.hear(text)

    async def ready(self) -> None:
        """Wait until the client has read enough, its link is not too far ahead, and the journal has room.

        Then its next message may be taken.
        """
        # Time itself is waited for: no event comes when it has passed.
        while self._transport.is_open and (behind_s := self._behind_s()) > 0:  # noqa: ASYNC110
            await asyncio.sleep(min(behind_s, _LOOK_AGAIN_S))
        await self._transport.ready()
        await self._live.recorder.ready()

    @property
    def address(self) -> str:
        """The address that the client comes from."""
        return self._visit.address

    def hand_over(self) -> None:
        """Send nothing more: from now on another server speaks to the client, by the same connection."""
        self._stop_idle()
        self._subscriber.leave()

    def trust(self, link: str) -> None:
        """Count the connection as one of the crew, with a link that the other server knows."""
        self._visit.trust(link)

    def leave(self) -> None:
        """Note that the connection is over. Facts on their way are written all the same."""
        self._stop_idle()
        self._subscriber.leave()
        self._live.storage.unsubscribe(self)
        self._live.crew.leave(self)
        if self._known and self._session.sender is not None:
            self._live.pads.leave(self._session.sender)
        self._live.clients -= 1

    def say(self, error: TallywireError) -> None:
        """Tell the client about an error."""
        self._transport.say(replies.failed(error))

    def _watch_idle(self) -> None:
        """Part when it has neither shown a key nor watched a view for too long."""
        if self._session.link is not None or self._subscriber.watches:
            self._stop_idle()
        elif self._idle is None:
            clock = self._live.clock
            self._idle = clock.call_at(clock.now() + IDLE_S, self._part_idle)

    def _stop_idle(self) -> None:
        if self._idle is not None:
            self._idle.cancel()
            self._idle = None

    def _part_idle(self) -> None:
        message = f"found no view watched for {IDLE_S:g} s, expected watch, or hello with a key"
        self._part_with("idle", message, POLICY_VIOLATION)
        self._part_now()

    @property
    def _is_ready(self) -> bool:
        return self._transport.is_ready and self._live.recorder.is_ready and self._behind_s() <= 0

    def _behind_s(self) -> float:
        allowance = self._session.allowance
        return 0.0 if allowance is None else allowance.facts.wait_s(self._live.clock.now())

    def _may_speak(self, now: float) -> bool:
        allowance = self._session.allowance
        together = self._visit.caller.messages if allowance is None else allowance.messages
        return self._allowance.spend(now) and together.spend(now)

    def _join(self, link: str) -> None:
        """A hello came with a link: whoever manages links sees the device, and a sender hears of the disk."""
        self._known = True
        self._visit.trust(link)
        sender = self._session.sender
        name = None if sender is None else sender.name
        self._live.crew.join(
            self, Device(link=link, sender=name, since_ms=self._received_ms, end=self._end, tell=self.say)
        )
        if sender is not None:
            self._live.storage.subscribe(self, self._say_storage)
            self._live.pads.join(sender)

    def _end(self, fault: str) -> None:
        self.say(LinkEnded(f"found {fault}"))
        self.parting = Close(code=POLICY_VIOLATION, reason="link ended")
        self._part_now()

    def _part_for_haste(self) -> None:
        message = (
            f"found more than {MESSAGES_A_SECOND} messages a second, or too many of this link or address together, "
            "expected fewer: send facts in lists"
        )
        self._part_with("too_fast", message, POLICY_VIOLATION)

    def _part_with(self, code: str, message: str, close_code: int) -> None:
        self._transport.say(replies.parting(code, message))
        self._part(Close(code=close_code, reason=code.replace("_", " ")))

    def _say(self, effect: Say) -> None:
        self._transport.say(effect.payload)

    def _say_storage(self, state: StorageState) -> None:
        self._transport.say(replies.storage(state=state.state, key=state.key, message=state.message))

    def _keep(self, effect: Keep) -> None:
        now_s = self._live.clock.now()
        self._live.recorder.keep(Job(effect.batch.entries, partial(self._acknowledge, effect.batch), now_s))

    def _acknowledge(self, batch: Batch, snapshot: Snapshot) -> None:
        lane = batch.sender.lane
        tally = None
        if lane is not None and batch.heat is not None:
            backup = batch.sender.role.name == BACKUP
            tally = self._live.read_model.tally(batch.heat, lane, snapshot, backup=backup)
        self._transport.say(self._session.acknowledge(batch, tally=tally))

    def _pong(self, effect: Pong) -> None:
        self._transport.say(replies.pong(t1=effect.t1, t2=self._received_ms, t3=self._live.clock.unix_ms()))

    def _watch(self, message: Watch) -> None:
        if self._session.link is None and not self._visit.settle():
            text = "found as many who watch as the server takes, of this address or in all, expected fewer: try later"
            self._part_with("too_many", text, TRY_AGAIN_LATER)
            return
        try:
            self._live.watch(self._subscriber, message)
        except TallywireError as exc:
            self.say(exc)

    def _status(self, message: DeviceStatus) -> None:
        if self._session.sender is not None:
            self._live.pads.tell(self._session.sender, message)

    def _unwatch(self, message: Unwatch) -> None:
        self._subscriber.unwatch(message.view, message.heat)

    def _part(self, effect: Close) -> None:
        _log.warning("a client of %s was sent away: %s", self._visit.address, effect.reason)
        self.parting = effect


_EFFECTS: Mapping[type[Any], Callable[[Client, Any], None]] = {
    Say: Client._say,
    Keep: Client._keep,
    Pong: Client._pong,
    DeviceStatus: Client._status,
    Watch: Client._watch,
    Unwatch: Client._unwatch,
    Close: Client._part,
}
