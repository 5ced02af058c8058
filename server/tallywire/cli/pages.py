"""The addresses of the pages, ready to open. docs/look.md lists the names of the pages; this is the same list."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.model.competition import Competition
from tallywire.shell.keys import Keys
from tallywire.web.settings import Settings
from tallywire.wire.roles import ROLES

_VIEWERS = (
    ("on air, heat view", "air/?view=heat"),
    ("venue board", "board/"),
    ("gap feed", "gaps/"),
    ("the call", "call/"),
    ("spectator page", "public/"),
    ("practice", "practice/"),
)


def announced(addresses: Sequence[str], keys: Keys, competition: Competition, *, settings: Settings) -> str:
    """List the pages for whoever reads what the server prints; those that open something only where that is safe."""
    address, *others = addresses
    also = f"\n  this machine is also {', '.join(others)}" if others else ""
    also += "".join(f"\n  {each.heat}/{each.view}/{each.form} is pushed to {each.receiver}" for each in settings.pushes)
    also += f"\n  pushes are signed with the key in {settings.push_key_file}" if settings.pushes else ""
    if settings.prints_links:
        return page_list(address, keys, competition, rehearsal=settings.mode == "rehearsal") + also
    how = f"make them with tallywire links {settings.data}, or start again with --print-links"
    pages = _listed(_watched(address, competition))
    return f"{pages}{also}\n  links of table, desk and lanes are not printed here: {how}"


def page_list(address: str, keys: Keys, competition: Competition, *, rehearsal: bool) -> str:
    """List every page with its address; that for steering a rehearsal only where this is one.

    Keys stand in the fragment: a browser never sends that part to a server.
    """
    rows = _watched(address, competition)
    rows.insert(0, ("home", f"{address}/home/#key={keys.table}"))
    if rehearsal:
        rows.insert(1, ("rehearsal", f"{address}/rehearsal/#key={keys.table}"))
    else:
        rows.append(("competition maker", f"{address}/make/#key={keys.table}"))
    rows.append(("audit", f"{address}/audit/#key={keys.table}"))
    rows.append(("server", f"{address}/inside/#key={keys.table}"))
    rows.append(("graphics desk", f"{address}/desk/#key={keys.desk}"))
    rows.append(("the call, with the booth", f"{address}/call/#key={keys.commentator}"))
    rows.append(("spotter", f"{address}/spotter/#key={keys.spotter}"))
    rows.append(("scoring table", f"{address}/table/#key={keys.table}"))
    lane = ROLES["lane"]
    for place in competition.places:
        title, path = lane.title(place.lane, _name(competition, place.floor)), lane.path(place.lane, place.floor)
        rows.append((title, f"{address}/{path}#key={keys.lane(place.lane, place.floor)}"))
    return _listed(rows)


def _name(competition: Competition, floor: str) -> str:
    return competition.floors[floor].name if floor else ""


def _watched(address: str, competition: Competition) -> list[tuple[str, str]]:
    rows = []
    for floor in competition.floor_ids:
        asked, where = (f"floor={floor}", f", {_name(competition, floor)}") if floor else ("", "")
        for name, path in _VIEWERS:
            sign = "" if not asked else "&" if "?" in path else "?"
            rows.append((name + where, f"{address}/{path}{sign}{asked}"))
    return rows + [(f"on air, output {name}", f"{address}/air/?output={name}") for name in competition.outputs]


def _listed(rows: Sequence[tuple[str, str]]) -> str:
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"  {name:<{width}}  {link}" for name, link in rows)
