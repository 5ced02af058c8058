"""One connected client: its session's wishes are carried out here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from tallywire.core.errors import TallywireError
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.live import LiveCompetition
from tallywire.shell.recorder import Job
from tallywire.shell.storage import StorageState
from tallywire.shell.transport import Transport
from tallywire.wire import replies
from tallywire.wire.allowance import Allowance
from tallywire.wire.intake import Batch
from tallywire.wire.messages import Unwatch, Watch
from tallywire.wire.session import POLICY_VIOLATION, Close, Keep, Pong, Say, Session

MESSAGES_A_SECOND = 200


class Client:
    """Feed it messages with `hear`; when `parting` is set, close the connection so."""

    def __init__(self, live: LiveCompetition, transport: Transport) -> None:
        self._live = live
        self._transport = transport
        self._session = Session(live.terms)
        self._subscriber = live.fan_out.join(transport)
        self._allowance = Allowance(rate=MESSAGES_A_SECOND, burst=2 * MESSAGES_A_SECOND)
        self._received_ms = 0
        self._hears_storage = False
        self.parting: Close | None = None
        live.clients += 1

    def hear(self, text: str | bytes) -> None:
        """Take one message."""
        self._received_ms = self._live.clock.unix_ms()
        if not self._allowance.spend(self._live.clock.now()):
            self._part_for_haste()
            return
        for effect in self._session.receive(text):
            _EFFECTS[type(effect)](self, effect)
        if self._session.is_sender and not self._hears_storage:
            self._hears_storage = True
            self._live.storage.subscribe(self, self._say_storage)

    async def ready(self) -> None:
        """Wait until the client has read enough and the journal has room: then its next message may be taken."""
        await self._transport.ready()
        await self._live.recorder.ready()

    def leave(self) -> None:
        """The connection is over. Facts on their way are written all the same."""
        self._subscriber.leave()
        self._live.storage.unsubscribe(self)
        self._live.clients -= 1

    def say(self, error: TallywireError) -> None:
        """Tell the client about an error."""
        self._transport.say(replies.failed(error))

    def _part_for_haste(self) -> None:
        message = f"found more than {MESSAGES_A_SECOND} messages a second, expected fewer: send facts in lists"
        self._transport.say(replies.too_fast(message))
        self.parting = Close(code=POLICY_VIOLATION, reason="too fast")

    def _say(self, effect: Say) -> None:
        self._transport.say(effect.payload)

    def _say_storage(self, state: StorageState) -> None:
        self._transport.say(replies.storage(state=state.state, message=state.message))

    def _keep(self, effect: Keep) -> None:
        self._live.recorder.keep(Job(effect.batch.entries, partial(self._acknowledge, effect.batch)))

    def _acknowledge(self, batch: Batch, snapshot: Snapshot) -> None:
        lane = batch.sender.lane
        tally = None
        if lane is not None and batch.heat is not None:
            tally = self._live.read_model.tally(batch.heat, lane, snapshot)
        self._transport.say(self._session.acknowledge(batch, tally=tally))

    def _pong(self, effect: Pong) -> None:
        self._transport.say(replies.pong(t1=effect.t1, t2=self._received_ms, t3=self._live.clock.unix_ms()))

    def _watch(self, message: Watch) -> None:
        try:
            self._live.watch(self._subscriber, message)
        except TallywireError as exc:
            self.say(exc)

    def _unwatch(self, message: Unwatch) -> None:
        self._subscriber.unwatch(message.view, message.heat)

    def _part(self, effect: Close) -> None:
        self.parting = effect


_EFFECTS: Mapping[type[Any], Callable[[Client, Any], None]] = {
    Say: Client._say,
    Keep: Client._keep,
    Pong: Client._pong,
    Watch: Client._watch,
    Unwatch: Client._unwatch,
    Close: Client._part,
}
