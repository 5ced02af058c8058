"""The devices that count on each lane, as the table sees them: who is connected, what waits, and what is wrong.

Nothing here is a fact: it is forgotten with the process, and no count depends on it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tallywire.core.facts import WORK_FACTS, CountCorrected, Fact, LaneFact, RepCounted
from tallywire.core.fold.counters import BACKUP, Comparison, of_backup
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.formats.base import Tally
from tallywire.core.model.workout import TeamForm
from tallywire.shell.clock import Clock, Timer
from tallywire.shell.touches import Touches
from tallywire.wire.messages import DeviceStatus
from tallywire.wire.rules import Sender

ALARM_MS = 30_000
"""How long the table is shown an alarm about touches."""
LOST_MS = 5000
"""A pad that has been away for this long is missed in public: a phone changes its access point in less."""
DEVICES_A_LANE = 6
_TOUCHES = tuple(kind for kind in WORK_FACTS if kind is not CountCorrected)
LOOK_S = 1.0
"""So often the table is told anew: what is said here must not come in the way of a tap."""


_Lane = tuple[str, int]
"""The id of a floor, empty where there is one, and a lane of it."""


@dataclass(slots=True, kw_only=True)
class PadDevice:
    """One sender that counts on a lane. Times are Unix milliseconds."""

    sender: Sender
    since_ms: int
    links: int = 0
    status: DeviceStatus | None = None
    last_ms: int | None = None
    touches: Touches = field(default_factory=Touches)
    alarms: dict[str, int] = field(default_factory=dict)

    def as_data(self, now_ms: int) -> dict[str, Any]:
        """Give what the table is told of it."""
        told = {} if self.status is None else _told(self.status)
        last = {} if self.last_ms is None else {"last_unix_ms": self.last_ms}
        alarms = [name for name, at_ms in self.alarms.items() if now_ms - at_ms < ALARM_MS]
        who = {"sender": self.sender.name, "role": self.sender.role.name, "up": self.links > 0}
        return who | {"since_unix_ms": self.since_ms, **last, **told} | ({"alarms": alarms} if alarms else {})


class Pads:
    """Every device that may count, since the server started. `changed` is called when the table should look, with
    whether other lanes than before are missing their pads.

    `silences` gives, for a heat and by lane, after how many milliseconds without a fact the lane has stalled.
    """

    def __init__(
        self,
        *,
        clock: Clock,
        changed: Callable[[bool], None],
        silences: Callable[[str], Mapping[int, int]] = lambda _heat: {},
    ) -> None:
        self._silences = silences
        self._clock = clock
        self._changed = changed
        self._lanes: defaultdict[_Lane, dict[str, PadDevice]] = defaultdict(dict)
        self._counters: defaultdict[tuple[str, int], Comparison] = defaultdict(Comparison)
        self._others = dict[_Lane, str]()
        self._were_missed = set[_Lane]()
        self._timer: Timer | None = None

    def join(self, sender: Sender) -> None:
        """Note that a device of a lane is connected."""
        device = self._of(sender)
        if device is not None:
            device.links += 1
            device.since_ms = self._clock.unix_ms() if device.links == 1 else device.since_ms
            self._look_soon()

    def leave(self, sender: Sender) -> None:
        """Note that a connection of it is gone."""
        device = self._of(sender)
        if device is not None:
            device.links -= 1
            device.since_ms = self._clock.unix_ms() if device.links == 0 else device.since_ms
            self._look_soon()

    def tell(self, sender: Sender, status: DeviceStatus) -> None:
        """Note what a device says of itself."""
        device = self._of(sender)
        if device is not None and device.status != status:
            device.status = status
            self._look_soon()

    def counted(self, fact: Fact | None, snapshot: Snapshot) -> None:
        """Look at a fact that was counted just now."""
        if not isinstance(fact, LaneFact):
            return
        heat, now_ms = snapshot.heats[fact.heat], snapshot.unix_ms
        place = _place(heat, fact.lane)
        device = self._lanes[place].get(fact.sender)
        if isinstance(fact, _TOUCHES) and not of_backup(fact):
            self._note_counter(place, fact.sender if device is None else None)
        if device is not None:
            device.last_ms = now_ms
            alarm = _alarm(device, fact, heat)
            if alarm is not None:
                device.alarms[alarm] = now_ms
        if heat.backup is not None and fact.lane in heat.heat.lanes:
            main, backup = heat.outcome(fact.lane), heat.backup.outcome(fact.lane)
            self._counters[fact.heat, fact.lane].note(main.scored_reps, backup.scored_reps, now_ms)

    def begin_anew(self) -> None:
        """Forget what was noticed about touches; the devices are still there."""
        self._counters.clear()
        self._others.clear()
        for device in (device for lane in self._lanes.values() for device in lane.values()):
            device.last_ms, device.touches = None, Touches()
            device.alarms.clear()

    def seen(self, heat: HeatSnapshot, now_ms: int) -> dict[str, Any]:
        """Give the lanes of a heat with their devices, and whether counters disagree; empty while nobody joined."""
        if not any(lanes for place, lanes in self._lanes.items() if place[0] == heat.heat.floor):
            return {}
        return {str(lane): self._lane(heat, lane, now_ms) for lane in heat.heat.lanes}

    def missed(self, heat: HeatSnapshot, now_ms: int) -> list[int]:
        """Name the lanes of a heat whose pad was there and is gone."""
        return [lane for lane in heat.heat.lanes if self._is_missed(_place(heat, lane), now_ms)]

    def close(self) -> None:
        """Stop looking."""
        if self._timer is not None:
            self._timer.cancel()

    def _lane(self, heat: HeatSnapshot, lane: int, now_ms: int) -> dict[str, Any]:
        devices = [device.as_data(now_ms) for device in self._lanes[_place(heat, lane)].values()]
        mains = sum(each["up"] and each["role"] != BACKUP for each in devices)
        team = heat.event.workout.team
        data: dict[str, Any] = {"devices": devices}
        other = self._others.get(_place(heat, lane))
        if other is not None:
            data["counted_by"] = other
        silence_ms = self._silences(heat.heat.id).get(lane)
        if silence_ms is not None:
            data["stalled_after_ms"] = silence_ms
        if mains > 1 and not (team is not None and team.form is TeamForm.SYNCHRO):
            data["two"] = True
        if heat.backup is not None and any(each["role"] == BACKUP for each in devices):
            backup = heat.backup.outcome(lane).scored_reps
            data |= {"backup": backup, "disagree": self._counters[heat.heat.id, lane].is_raised(now_ms)}
        return data

    def _note_counter(self, place: _Lane, other: str | None) -> None:
        """Note who counted last on a lane: its pad, or somebody of another role, such as the table by its keys."""
        if other is None:
            self._others.pop(place, None)
        else:
            self._others[place] = other.partition("-")[0]

    def _is_missed(self, place: _Lane, now_ms: int) -> bool:
        if place in self._others:
            return False
        mains = [each for each in self._lanes[place].values() if each.sender.role.name != BACKUP]
        return bool(mains) and all(each.links == 0 and now_ms - each.since_ms >= LOST_MS for each in mains)

    def _of(self, sender: Sender) -> PadDevice | None:
        if sender.lane is None or not sender.role.counts:
            return None
        lane = self._lanes[sender.floor, sender.lane]
        if sender.name not in lane:
            too_many = max(0, len(lane) - DEVICES_A_LANE + 1)
            for name in [name for name, each in lane.items() if each.links == 0][:too_many]:
                del lane[name]
            lane[sender.name] = PadDevice(sender=sender, since_ms=self._clock.unix_ms())
        return lane[sender.name]

    def _look_soon(self) -> None:
        if self._timer is None:
            self._timer = self._clock.call_at(self._clock.now() + LOOK_S, self._look)

    def _look(self) -> None:
        now_ms = self._clock.unix_ms()
        before, self._were_missed = self._were_missed, {lane for lane in self._lanes if self._is_missed(lane, now_ms)}
        self._timer = None
        self._changed(self._were_missed != before)
        devices = [each for lane in self._lanes.values() for each in lane.values()]
        if any(each.links or now_ms - each.since_ms < ALARM_MS for each in devices):
            self._look_soon()


def _place(heat: HeatSnapshot, lane: int) -> _Lane:
    return heat.heat.floor, lane


def _told(status: DeviceStatus) -> dict[str, Any]:
    said = {
        "waiting": status.waiting,
        "held": status.held,
        "battery": status.battery,
        "error_ms": status.error_ms,
        "ahead_ms": status.ahead_ms,
    }
    return {name: value for name, value in said.items() if value is not None}


def _alarm(device: PadDevice, fact: LaneFact, heat: HeatSnapshot) -> str | None:
    if not isinstance(fact, RepCounted) or fact.n != 1:
        return None
    of_whom = heat.backup if device.sender.role.name == BACKUP and heat.backup is not None else heat
    done = _done_by(of_whom.tally(fact.lane), fact.at_ms)
    _, leg = heat.plan.leg_at(max(0, done - 1))
    return device.touches.take(fact.at_ms, leg.station.expected_ms // leg.station.amount)


def _done_by(tally: Tally, at_ms: int) -> int:
    """The units done at a touch: what came with it, after a time without a network, may be stations further on."""
    before = bisect_right(tally.trail, at_ms, key=lambda point: point[0])
    return tally.trail[before - 1][1] if before else 0
