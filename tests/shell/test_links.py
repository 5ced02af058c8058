"""Links are capabilities: random, hashed where they are kept, expiring, taken back and renewed at once."""

from __future__ import annotations

import stat
from dataclasses import replace
from pathlib import Path

import pytest

from core.samples import Pad, on_lanes
from shell.stage import FakeTransport, joined, live_on, recording, settled
from tallywire.core.errors import BadFile, NotAllowed, UnknownLink
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.keys import make_keys
from tallywire.shell.link_file import load_links
from tallywire.shell.links import CODE_LETTERS, DAY_MS, LINKS_MOST, Link, Links, Wish
from tallywire.web.client import Client
from wire.talk import facts, text

LANE_4 = Wish(role="lane", lane=4, label="lane 4, Saturday")


class Times:
    """Wall time that stands until it is set."""

    def __init__(self) -> None:
        self.unix_ms = 1_800_000_000_000

    def __call__(self) -> int:
        """Give it."""
        return self.unix_ms


def kept(path: Path, now: Times | None = None) -> Links:
    """The links of a file."""
    return load_links(path, now_ms=now or Times())


def test_keys_are_long_and_different() -> None:
    """Every key has at least 128 bits and no two are equal."""
    keys = make_keys(on_lanes(range(1, 21)))
    everyone = [key for _, _, key in keys.each()]
    assert len(set(everyone)) == 24
    assert min(map(len, everyone)) * 6 >= 128


def test_keys_do_not_show_in_a_log() -> None:
    """Their repr names none of them, nor does that of a link as it is made."""
    keys = make_keys(on_lanes([1]))
    assert not [key for _, _, key in keys.each() if key in repr(keys)]
    [issued] = Links(now_ms=Times()).issue([LANE_4])
    assert issued.key not in repr(issued)
    assert issued.code not in repr(issued)


def test_a_link_opens_its_own_role_alone() -> None:
    """The key of lane 4 opens lane 4 and nothing else; an unknown or an odd key opens nothing."""
    links = Links(now_ms=Times())
    [lane, table] = links.issue([LANE_4, Wish(role="table")])
    assert links.authorise("lane", 4, lane.key) == lane.link.id
    for role, number, key in [
        ("lane", 3, lane.key),
        ("table", None, lane.key),
        ("lane", 4, table.key),
        ("machine", 4, lane.key),
        ("lane", 4, ""),
        ("table", None, "schlüssel"),
    ]:
        with pytest.raises(NotAllowed, match="does not open role"):
            links.authorise(role, number, key)


def test_a_machine_may_be_for_one_lane_or_for_all() -> None:
    """A machine's link without a lane opens every lane and none; one with a lane opens that alone."""
    links = Links(now_ms=Times())
    [everywhere, lane] = links.issue([Wish(role="machine"), Wish(role="machine", lane=2)])
    assert {links.authorise("machine", number, everywhere.key) for number in (None, 1, 2)} == {everywhere.link.id}
    assert links.authorise("machine", 2, lane.key) == lane.link.id
    for number in (None, 1):
        with pytest.raises(NotAllowed):
            links.authorise("machine", number, lane.key)


def test_the_file_has_no_key_and_no_code(tmp_path: Path) -> None:
    """What lies on the disk opens nothing; only its owner may read it, and no half-written file is beside it."""
    path = tmp_path / "links.json"
    links = kept(path)
    issued = links.issue([LANE_4, Wish(role="table")])
    stored = path.read_text()
    assert not [each for each in issued if each.key in stored or each.code in stored]
    assert "lane 4, Saturday" in stored
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [each.name for each in tmp_path.iterdir()] == ["links.json"]


def test_links_outlive_a_restart(tmp_path: Path) -> None:
    """A link handed out before a restart is good after it, its code too, and one taken back is not."""
    path = tmp_path / "links.json"
    first = kept(path)
    [lane, table, gone] = first.issue([LANE_4, Wish(role="table"), Wish(role="desk")])
    first.revoke(gone.link.id)
    second = kept(path)
    assert second.authorise("lane", 4, lane.key) == lane.link.id
    assert second.redeem(table.code) is not None
    with pytest.raises(NotAllowed, match="taken back"):
        second.authorise("desk", None, gone.key)


def test_a_start_adds_links_and_spoils_none(tmp_path: Path) -> None:
    """Each start makes keys that can be printed; those printed by the start before stay good. They are bounded."""
    path = tmp_path / "links.json"
    first, keys = kept(path), make_keys(on_lanes([1, 2]))
    first.begin(keys)
    second = kept(path)
    second.begin(make_keys(on_lanes([1, 2])))
    assert second.authorise("lane", 2, keys.lane(2))
    for _ in range(300):
        second._keep = lambda _links: None
        second.begin(make_keys(on_lanes([1, 2])))
    assert 900 < len(second.all()) <= 1006


def test_a_copy_is_kept_beside_the_mirror(tmp_path: Path) -> None:
    """A link that is taken back is taken back in the second copy too."""
    copy = tmp_path / "copy.json"
    links = load_links(tmp_path / "links.json", now_ms=Times(), copies=[copy])
    [issued] = links.issue([LANE_4])
    links.revoke(issued.link.id)
    assert copy.read_bytes() == (tmp_path / "links.json").read_bytes()


def test_a_file_open_to_others_is_private_again(tmp_path: Path) -> None:
    """A link file that was readable to others is private as soon as it is read."""
    path = tmp_path / "links.json"
    kept(path).issue([LANE_4])
    path.chmod(0o644)
    kept(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_link_ends_with_its_time() -> None:
    """Until its last millisecond a link opens; then it says that its time is over."""
    now = Times()
    links = Links(now_ms=now)
    [issued] = links.issue([Wish(role="table", days=2)])
    now.unix_ms += 2 * DAY_MS - 1
    assert links.authorise("table", None, issued.key)
    now.unix_ms += 1
    with pytest.raises(NotAllowed, match="time is over"):
        links.authorise("table", None, issued.key)
    assert links.role_of(issued.key) is None
    assert not links.any_good("table")


def test_a_renewed_link_has_another_key() -> None:
    """Renewed, the role, the lane, the label and the end stay; the old key opens nothing any more."""
    links = Links(now_ms=Times())
    [old] = links.issue([LANE_4])
    new, ended = links.renew(old.link.id)
    assert ended == {old.link.id}
    assert (new.link.role, new.link.lane, new.link.label) == ("lane", 4, "lane 4, Saturday")
    assert new.link.expires_ms == old.link.expires_ms
    assert links.authorise("lane", 4, new.key) == new.link.id
    with pytest.raises(NotAllowed, match="taken back"):
        links.authorise("lane", 4, old.key)
    with pytest.raises(UnknownLink):
        links.renew("none")


def test_a_code_is_typed_once() -> None:
    """Six letters, small or with spaces, make a link of their own that opens the same; typed again they are none."""
    links = Links(now_ms=Times())
    [issued] = links.issue([LANE_4])
    assert len(issued.code) == 6
    assert set(issued.code) <= set(CODE_LETTERS)
    made = links.redeem(f" {issued.code[:3].lower()} {issued.code[3:]}")
    assert made is not None
    assert links.authorise("lane", 4, made.key) == made.link.id
    assert made.link.expires_ms == issued.link.expires_ms
    assert links.redeem(issued.code) is None
    assert links.redeem("BBBBBB") is None


def test_what_a_code_made_ends_with_its_slip() -> None:
    """Taking a slip back cuts off the phone that typed its code, and ends the code if it is still unused."""
    links = Links(now_ms=Times())
    [used, unused] = links.issue([LANE_4, Wish(role="desk")])
    made = links.redeem(used.code)
    assert made is not None
    assert links.revoke(used.link.id) == {used.link.id, made.link.id}
    with pytest.raises(NotAllowed, match="taken back"):
        links.authorise("lane", 4, made.key)
    links.revoke(unused.link.id)
    assert links.redeem(unused.code) is None


def test_links_are_bounded_and_old_ones_forgotten() -> None:
    """There are at most so many; what ended a day ago makes room."""
    now = Times()
    old = Link(id="old", role="desk", lane=None, label="", key_hash="x", made_ms=0, expires_ms=now.unix_ms - DAY_MS - 1)
    good = [replace(old, id=f"n{n}", expires_ms=now.unix_ms + 1) for n in range(LINKS_MOST - 1)]
    links = Links([old, *good], now_ms=now)
    links.issue([Wish(role="desk")])
    assert "old" not in {link.id for link in links.all()}
    with pytest.raises(NotAllowed, match="at most"):
        links.issue([Wish(role="desk")])


def test_the_owners_key_opens_the_management_alone() -> None:
    """The machine's own key is for the command line: no role on the wire, and the one before ends with a new one."""
    links = Links(now_ms=Times())
    old = links.owner_key()
    key = links.owner_key()
    role = links.role_of(key)
    assert role is not None
    assert role.manages
    assert links.role_of(old) is None
    with pytest.raises(NotAllowed):
        links.authorise("owner", None, key)


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"salt": "zz", "links": []}', '{"salt": "00", "links": [{}]}'])
def test_a_damaged_file_is_named(tmp_path: Path, content: str) -> None:
    """A file that is not ours is not overwritten: the error says what to do."""
    path = tmp_path / "links.json"
    path.write_text(content)
    with pytest.raises(BadFile, match="delete it and hand out new links"):
        kept(path)
    assert path.read_text() == content


def test_a_link_ends_though_the_disk_is_full(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """A file that cannot be written is logged; the link is taken back all the same."""
    links = load_links(tmp_path / "gone" / "links.json", now_ms=Times())
    [issued] = links.issue([LANE_4])
    links.revoke(issued.link.id)
    with pytest.raises(NotAllowed):
        links.authorise("lane", 4, issued.key)
    assert "cannot write" in caplog.text


# Devices


@pytest.mark.parametrize("how", ["revoke", "renew"])
async def test_a_revoked_device_is_told_and_cut_off(how: str) -> None:
    """In mid-heat, at once: it hears why, its connection ends, and what it says after that is not heard."""
    live = live_on(MemoryJournal())
    [issued, other] = live.crew.links.issue([Wish(role="lane", lane=1), Wish(role="lane", lane=2)])
    ended: list[str] = []
    transports = [FakeTransport(), FakeTransport()]
    clients = [Client(live, transport, part=lambda: ended.append("x")) for transport in transports]
    for lane, (client, link) in enumerate(zip(clients, (issued, other), strict=True), start=1):
        client.hear(text(type="hello", role="lane", lane=lane, sender=f"lane-{lane}-a", key=link.key))
    async with recording(live):
        pad = Pad("lane-1-a", 1)
        clients[0].hear(facts(pad.reps(1)))
        await settled(lambda: bool(transports[0].of_type("acknowledged")))
        getattr(live.crew, how)(issued.link.id)
        clients[0].hear(facts(pad.reps(2)))
    assert transports[0].messages[-1]["code"] == "link_ended"
    assert "taken back" in transports[0].messages[-1]["message"]
    assert clients[0].parting is not None
    assert clients[1].parting is None
    assert ended == ["x"]
    assert live.lines == 1


async def test_a_device_is_cut_off_when_its_time_is_over() -> None:
    """Nobody has to ask: it is seen within ten seconds that the time of a link is over."""
    clock = FakeClock(unix_ms=1_800_000_000_000)
    live = live_on(MemoryJournal(), clock=clock)
    live.crew.links._now_ms = clock.unix_ms
    [issued] = live.crew.links.issue([Wish(role="lane", lane=1, days=1)])
    client, transport = joined(live, text(type="hello", role="lane", lane=1, sender="lane-1-a", key=issued.key))
    clock.jump(DAY_MS / 1000 - 1)
    assert client.parting is None
    clock.jump(11)
    assert transport.messages[-1]["code"] == "link_ended"
    assert client.parting is not None
    client.leave()
    assert live.crew.devices(issued.link.id) == []
