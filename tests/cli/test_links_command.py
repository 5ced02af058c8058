"""`tallywire links`: what it makes opens, what it takes back ends, with a server that runs and without."""

from __future__ import annotations

import asyncio
import re
from asyncio import to_thread
from pathlib import Path

import pytest
from websockets.asyncio.client import connect

from cli.test_check_command import TWO_FLOORS
from core.samples import competition
from e2e.processes import PRACTICE
from tallywire.cli.main import main
from tallywire.core.errors import TallywireError
from tallywire.shell.clock import SystemClock
from tallywire.shell.link_file import load_links
from tallywire.web.addresses import own_addresses
from tallywire.web.serving import running
from tallywire.web.settings import Settings
from wire.talk import text

EXAMPLE = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What the command prints."""
    assert main(["links", *arguments]) == 0
    return capsys.readouterr().out


def test_links_are_made_before_the_first_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One slip a lane, for the table, the head judge, the desk and every output, on paper too; each key opens."""
    sheet = tmp_path / "sheet.html"
    options = ["--competition", str(EXAMPLE), "--label", "Saturday", "--address", "http://192.0.2.7:8400"]
    out = printed(capsys, str(tmp_path / "data"), "--make", "all", "--sheet", str(sheet), *options)
    keys = re.findall(r"(\w+)/\?(?:lane=(\d+)|role=(head))?#key=(\S+)|(table|desk)/#key=(\S+)", out)
    assert len(keys) == 13
    links = load_links(tmp_path / "data" / "links.json", now_ms=SystemClock().unix_ms)
    lane = re.findall(r"/pad/\?lane=7#key=(\S+)", out)
    assert links.authorise("lane", 7, lane[0])
    page = sheet.read_text(encoding="utf-8")
    assert page.count("<svg") == page.count("<li>") == 13 + 3 + out.count("/air/?output=")
    assert len(re.findall(r'class="code">[A-Z]{6}<', page)) == 13
    assert "Saturday" in page
    assert "http://192.0.2.7:8400/board/" in page


def test_a_link_is_renewed_and_taken_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The list says what is good and until when, and what has ended."""
    made = printed(capsys, str(tmp_path), "--make", "lane:4", "--label", "lane 4, Saturday").split()[0]
    assert re.search(rf"{made} +lane pad 4 +until .* lane 4, Saturday", printed(capsys, str(tmp_path)))
    renewed = printed(capsys, str(tmp_path), "--renew", made).split()[0]
    assert renewed != made
    assert re.search(rf"{made} +lane pad 4 +ended", printed(capsys, str(tmp_path)))
    assert "taken back" in printed(capsys, str(tmp_path), "--revoke", renewed)
    assert re.search(rf"{renewed} +lane pad 4 +ended", printed(capsys, str(tmp_path)))


@pytest.mark.parametrize("wrong", ["lane", "lane:0", "lane:100", "table:1", "judge", "lane:x", "lane:4@"])
def test_a_role_that_is_none_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str], wrong: str) -> None:
    """The message lists what there is."""
    with pytest.raises(SystemExit):
        main(["links", str(tmp_path), "--make", wrong])
    assert "expected all, lane:N" in capsys.readouterr().err


def test_all_needs_to_know_the_lanes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a server that runs the competition file has to be named."""
    assert main(["links", str(tmp_path), "--make", "all"]) == 2
    assert "--competition" in capsys.readouterr().err


async def test_a_running_server_is_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the server up the command makes links that are good at once, and cuts off whom it takes back."""
    async with running(competition(), Settings(data=tmp_path, port=0)) as server:
        out = await to_thread(printed, capsys, str(tmp_path), "--make", "lane:1")
        name, key = out.split()[0], out.partition("#key=")[2].split()[0]
        assert f"{server.address}/pad/?lane=1#key=" in out
        async with connect(f"{server.address.replace('http', 'ws')}/wire") as socket:
            await socket.send(text(type="hello", role="lane", lane=1, sender="lane-1-a", key=key))
            assert "welcome" in str(await socket.recv())
            assert "1 connected" in await to_thread(printed, capsys, str(tmp_path))
            await to_thread(printed, capsys, str(tmp_path), "--revoke", name)
            assert "link_ended" in str(await socket.recv())
            await asyncio.wait_for(socket.wait_closed(), 10)
        assert await to_thread(main, ["links", str(tmp_path), "--revoke", "none"]) == 2
    assert "expected the id of a link" in capsys.readouterr().err


async def test_the_open_network_needs_links(tmp_path: Path) -> None:
    """Without a link of the table the server does not open itself to the network, and says how to make them."""
    settings = Settings(data=tmp_path, host="0.0.0.0", port=0)
    with pytest.raises(TallywireError, match=r"found no links .* tallywire links, or start with --print-links"):
        async with running(competition(), settings):
            pass
    assert main(["links", str(tmp_path), "--make", "table"]) == 0
    async with running(competition(), settings) as server:
        assert server.live.keys.table == ""
        assert server.addresses == own_addresses("0.0.0.0", int(server.address.rpartition(":")[2]), scheme="http")


def test_every_own_address_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of all addresses of the machine those that others can open, the routed one first; those of a link alone not."""
    adapters = [_Adapter("127.0.0.1", ("::1", 0, 0)), _Adapter("192.0.2.8", ("2001:db8::8", 0, 0), ("fe80::8", 0, 4))]
    monkeypatch.setattr("ifaddr.get_adapters", lambda: adapters)
    monkeypatch.setattr("tallywire.web.addresses._routed", lambda: iter(()))
    assert own_addresses("0.0.0.0", 8400, scheme="http") == ["http://192.0.2.8:8400"]
    assert own_addresses("::", 443, scheme="https") == ["https://192.0.2.8", "https://[2001:db8::8]"]
    assert own_addresses("scores.example", 80, scheme="http") == ["http://scores.example"]
    monkeypatch.setattr("ifaddr.get_adapters", list)
    assert own_addresses("0.0.0.0", 8400, scheme="http") == ["http://127.0.0.1:8400"]


class _Address:
    def __init__(self, ip: str | tuple[str, int, int]) -> None:
        self.ip = ip


class _Adapter:
    def __init__(self, *ips: str | tuple[str, int, int]) -> None:
        self.ips = [_Address(ip) for ip in ips]


@pytest.fixture(name="floors")
def _floors(tmp_path: Path) -> str:
    path = tmp_path / "two.toml"
    path.write_text(PRACTICE.partition("[[heat]]")[0] + TWO_FLOORS, encoding="utf-8")
    return str(path)


def test_all_is_every_lane_of_every_floor(tmp_path: Path, floors: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip for each lane of each floor, and boards of each; one floor's lane alone; keys that open it there."""
    data = str(tmp_path / "data")
    out = printed(capsys, data, "--make", "all", "--competition", floors)
    titles = re.findall(r"^  \S+(?: key)? +(.*?)  +http", out, re.MULTILINE)
    assert [each for each in titles if each.startswith("lane pad")] == [
        "lane pad 1, East",
        "lane pad 1, West",
        "lane pad 2, West",
    ]
    assert [f"venue board, {floor}" in titles for floor in ("East", "West")] == [True, True]
    assert "/board/?floor=west" in out
    slip = printed(capsys, data, "--make", "lane:2@west", "--competition", floors)
    links = load_links(tmp_path / "data" / "links.json", now_ms=SystemClock().unix_ms)
    key = re.findall(r"/pad/\?lane=2&floor=west#key=(\S+)", slip)[0]
    assert links.authorise("lane", 2, key, floor="west")
    assert "board/?floor=east" in printed(capsys, data, "--make", "display@east")


@pytest.mark.parametrize("wrong", ["lane:2", "lane:2@pier", "desk@east"])
def test_a_wrong_floor_makes_no_link(
    tmp_path: Path, floors: str, capsys: pytest.CaptureFixture[str], wrong: str
) -> None:
    """With the file at hand a lane needs one of its floors, and a desk has none."""
    assert main(["links", str(tmp_path / "data"), "--make", wrong, "--competition", floors]) == 2
    assert "found floor" in capsys.readouterr().err
    assert printed(capsys, str(tmp_path / "data")) == "no links\n"
