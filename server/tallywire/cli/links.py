"""The command `links`: makes, lists, renews and takes back the links of the crew, also while the server runs."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol
from urllib.error import HTTPError, URLError

import orjson

from tallywire.cli.link_sheet import link_sheet, open_slips
from tallywire.core.errors import TallywireError
from tallywire.core.model.competition import Competition, Floor, FloorLane
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import LINKS, make_data_folder
from tallywire.shell.files import load_competition, write_text
from tallywire.shell.link_file import load_links
from tallywire.shell.links import DAYS, DAYS_MOST, Issued, Wish
from tallywire.shell.own_server import OwnServer
from tallywire.web.addresses import own_addresses
from tallywire.web.settings import DEFAULT_PORT
from tallywire.web.slips import Slip, slip_of
from tallywire.wire.catalogue import LANGUAGES, Catalogue, catalogue
from tallywire.wire.roles import ROLES

_TITLE_LEAST = 20
_ALL = ("table", "head", "desk")


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add links."""
    command = commands.add_parser("links", help="make, list, renew and take back the links of the crew")
    command.add_argument("data", type=Path, metavar="DIR", help="the server's --data folder, in use or not")
    command.add_argument(
        "--make",
        type=_wanted,
        action="append",
        default=[],
        metavar="ROLE",
        help=f"all, lane:N, machine:N, or one of {', '.join(ROLES)}, with @FLOOR of several floors; may be repeated",
    )
    command.add_argument("--label", default="", metavar="TEXT", help='what the list calls it, such as "Saturday"')
    command.add_argument(
        "--days", type=_days, default=DAYS, metavar="N", help="how long it lasts; default: %(default)s"
    )
    command.add_argument("--sheet", type=Path, metavar="FILE", help="write the slips with QR codes to print (HTML)")
    command.add_argument("--language", choices=LANGUAGES, help="that of the slips; default: the competition's")
    command.add_argument("--competition", type=Path, metavar="FILE", help="for --make all, before the first start")
    command.add_argument("--address", metavar="URL", help="what links begin with; default: this machine's address")
    command.add_argument("--renew", metavar="ID", help="take a link back and make another for the same")
    command.add_argument("--revoke", metavar="ID", help="take a link back: its devices are cut off")
    command.set_defaults(run=run_links)


def run_links(arguments: argparse.Namespace) -> int:
    """Do what was asked, or list the links. The keys of new links are printed and not kept anywhere."""
    competition = None if arguments.competition is None else load_competition(arguments.competition)
    desk = _desk(arguments.data, arguments.address, {} if competition is None else competition.floors)
    words = _words(arguments.language, desk, competition)
    slips: list[Slip] = []
    if arguments.revoke:
        desk.revoke(arguments.revoke)
        print(f"taken back: {arguments.revoke}")
    if arguments.renew:
        slips.append(desk.renew(arguments.renew))
    if arguments.make or (arguments.sheet and not slips):
        slips += _make(desk, arguments, competition, words)
    if slips:
        print(_slip_lines(slips))
        if arguments.sheet:
            write_text(arguments.sheet, link_sheet(slips, words, fingerprint=desk.fingerprint))
            print(
                f"to print: {arguments.sheet}. The keys are only on this page: keep it as you keep the key of the venue"
            )
    elif not arguments.revoke:
        print(_rows(desk.rows()) or "no links")
    return 0


def _words(asked: str | None, desk: _Desk, competition: Competition | None) -> Catalogue:
    """Give the words of the slips: in the language that is asked for, else the competition's."""
    return catalogue(asked or (desk.language if competition is None else competition.language))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """For what there can be links: the lanes, floor by floor, the outputs, and the floors' names by their ids."""

    places: Sequence[FloorLane]
    outputs: Sequence[str]
    floors: Mapping[str, str]


class _Desk(Protocol):
    """Where links are managed: a running server, or the folder of one that does not run."""

    address: str
    fingerprint: str | None
    language: str

    def rows(self) -> Sequence[dict[str, Any]]: ...
    def make(self, wishes: Sequence[Wish]) -> list[Slip]: ...
    def renew(self, link: str) -> Slip: ...
    def revoke(self, link: str) -> None: ...
    def plan(self) -> _Plan | None: ...


def _desk(folder: Path, address: str | None, floors: Mapping[str, Floor]) -> _Desk:
    try:
        server = OwnServer.noted(folder)
        return _Running(server, orjson.loads(server.get("/links")), address)
    except (OSError, ValueError, KeyError, TypeError):
        # Nobody answers: the server that had the folder has stopped.
        return _Stopped(folder, address, floors)


class _Running:
    """The links of a running server, which cuts devices off at once."""

    def __init__(self, server: OwnServer, listed: dict[str, Any], address: str | None) -> None:
        self._server = server
        self._listed = listed
        self.address = address or next(iter(listed["addresses"]), server.address)
        self.fingerprint: str | None = listed["fingerprint"]
        self.language: str = listed.get("language", LANGUAGES[0])

    def rows(self) -> Sequence[dict[str, Any]]:
        rows: Sequence[dict[str, Any]] = self._listed["links"]
        return rows

    def plan(self) -> _Plan:
        floors = self._listed.get("floors") or [{"id": "", "name": "", "lanes": self._listed["lanes"]}]
        return _Plan(
            places=[FloorLane(floor=each["id"], lane=lane) for each in floors for lane in each["lanes"]],
            outputs=self._listed["outputs"],
            floors={each["id"]: each["name"] for each in floors if each["id"]},
        )

    def make(self, wishes: Sequence[Wish]) -> list[Slip]:
        return self._slips("/links", {"links": [asdict(wish) for wish in wishes], "address": self.address})

    def renew(self, link: str) -> Slip:
        return self._slips(f"/links/{link}/renew", {"address": self.address})[0]

    def revoke(self, link: str) -> None:
        self._post(f"/links/{link}/revoke", {})

    def _slips(self, path: str, data: dict[str, Any]) -> list[Slip]:
        return [Slip(**each) for each in self._post(path, data)["slips"]]

    def _post(self, path: str, data: dict[str, Any]) -> dict[str, Any]:
        try:
            answer: dict[str, Any] = orjson.loads(self._server.post(path, data))
        except HTTPError as exc:
            raise TallywireError(str(orjson.loads(exc.read()).get("message", exc))) from exc
        except URLError as exc:
            raise TallywireError(f"the server does not answer ({exc.reason}): try again") from exc
        return answer


class _Stopped:
    """The links of a folder that no server is using; of `floors` that are not known people read the ids."""

    def __init__(self, folder: Path, address: str | None, floors: Mapping[str, Floor]) -> None:
        self._floors = floors
        make_data_folder(folder)
        self._links = load_links(folder / LINKS, now_ms=SystemClock().unix_ms)
        self.address = address or own_addresses("0.0.0.0", DEFAULT_PORT, scheme="http")[0]
        self.fingerprint: str | None = None
        self.language = LANGUAGES[0]

    def rows(self) -> Sequence[dict[str, Any]]:
        return [
            asdict(link)
            | {"title": link.title(self._floors), "ended": self._links.fault(link.id) is not None, "devices": []}
            for link in self._links.all()
        ]

    def plan(self) -> None:
        return None

    def make(self, wishes: Sequence[Wish]) -> list[Slip]:
        return [self._slip(each) for each in self._links.issue(wishes)]

    def renew(self, link: str) -> Slip:
        return self._slip(self._links.renew(link)[0])

    def revoke(self, link: str) -> None:
        self._links.revoke(link)

    def _slip(self, issued: Issued) -> Slip:
        return slip_of(issued, self.address, floors=self._floors)


def _make(desk: _Desk, arguments: argparse.Namespace, competition: Competition | None, words: Catalogue) -> list[Slip]:
    wanted = arguments.make or ["all"]
    more: list[Slip] = []
    if "all" in wanted:
        plan = desk.plan() or _plan(competition)
        crew = [Wish(role=role) for role in _ALL] + [Wish(role="lane", **asdict(place)) for place in plan.places]
        wanted = [each for each in wanted if each != "all"] + crew
        more = open_slips(desk.address, plan.outputs, plan.floors, words)
    if competition is not None:
        _check_floors(wanted, competition)
    return desk.make([replace(each, label=arguments.label, days=arguments.days) for each in wanted]) + more


def _check_floors(wanted: Sequence[Wish], competition: Competition) -> None:
    """A running server refuses such a link; while none runs, only the file knows the floors."""
    for each in wanted:
        fault = ROLES[each.role].floor_fault(each.lane, each.floor, competition.floors)
        if fault is not None:
            raise TallywireError(fault)


def _plan(competition: Competition | None) -> _Plan:
    if competition is None:
        raise TallywireError("found no server that runs there, expected --competition FILE to know lanes and outputs")
    floors = {each.id: each.name for each in competition.floors.values()}
    return _Plan(places=competition.places, outputs=list(competition.outputs), floors=floors)


def _width(titles: Iterable[str]) -> int:
    return max([_TITLE_LEAST, *map(len, titles)])


def _slip_lines(slips: Sequence[Slip]) -> str:
    width = _width(slip.title for slip in slips)
    return "\n".join(_slip_line(slip, width) for slip in slips)


def _rows(links: Sequence[dict[str, Any]]) -> str:
    width = _width(link["title"] for link in links)
    return "\n".join(_row(link, width) for link in links)


def _slip_line(slip: Slip, width: int) -> str:
    label = f"  ({slip.label})" if slip.label else ""
    code = f"  code {slip.code}" if slip.code else ""
    name = slip.id or "no key"
    return f"  {name:<8}  {slip.title:<{width}}  {slip.url}{code}{label}"


def _row(link: dict[str, Any], width: int) -> str:
    until = datetime.fromtimestamp(link["expires_ms"] / 1000).strftime("%a %d %b %H:%M")
    state = "ended" if link["ended"] else f"until {until}"
    devices = f"  {len(link['devices'])} connected" if link["devices"] else ""
    return f"  {link['id']:<8}  {link['title']:<{width}}  {state:<22}  {link['label']}{devices}"


def _wanted(text: str) -> str | Wish:
    if text == "all":
        return text
    what, at, floor = text.partition("@")
    name, _, number = what.partition(":")
    role, lane = ROLES.get(name), int(number) if number.isascii() and number.isdigit() else None
    if role is None or not role.takes(lane) or (number and not 1 <= (lane or 0) <= 99) or (at and not floor):
        raise argparse.ArgumentTypeError(
            f'found "{text}", expected all, lane:N, machine:N, or one of {", ".join(ROLES)}, and @FLOOR behind it'
        )
    return Wish(role=name, lane=lane, floor=floor)


def _days(text: str) -> float:
    try:
        days = float(text)
    except ValueError:
        days = 0.0
    if not 0 < days <= DAYS_MOST:
        raise argparse.ArgumentTypeError(f'found "{text}", expected a number of days up to {DAYS_MOST}')
    return days
