"""The addresses of the pages, ready to open. docs/look.md lists the names of the pages; this is the same list."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.model.competition import Competition
from tallywire.shell.keys import Keys
from tallywire.web.settings import Settings

_VIEWERS = (
    ("on air, heat view", "air/?view=heat"),
    ("venue board", "board/"),
    ("gap feed", "gaps/"),
    ("the call", "call/"),
)


def announced(addresses: Sequence[str], keys: Keys, competition: Competition, *, settings: Settings) -> str:
    """List the pages for whoever reads what the server prints; those that open something only where that is safe."""
    address, *others = addresses
    also = f"\n  this machine is also {', '.join(others)}" if others else ""
    if settings.prints_links:
        return page_list(address, keys, competition) + also
    how = f"make them with tallywire links {settings.data}, or start again with --print-links"
    pages = _listed(_watched(address, competition))
    return f"{pages}{also}\n  links of table, desk and lanes are not printed here: {how}"


def page_list(address: str, keys: Keys, competition: Competition) -> str:
    """List every page with its address. Keys stand in the fragment: a browser never sends that part to a server."""
    rows = _watched(address, competition)
    rows.insert(0, ("home", f"{address}/home/#key={keys.table}"))
    rows.append(("graphics desk", f"{address}/desk/#key={keys.desk}"))
    rows.append(("scoring table", f"{address}/table/#key={keys.table}"))
    rows += [
        (f"lane pad {lane}", f"{address}/pad/?lane={lane}#key={keys.lane(lane)}") for lane in competition.lane_numbers
    ]
    return _listed(rows)


def _watched(address: str, competition: Competition) -> list[tuple[str, str]]:
    rows = [(name, f"{address}/{path}") for name, path in _VIEWERS]
    return rows + [(f"on air, output {name}", f"{address}/air/?output={name}") for name in competition.outputs]


def _listed(rows: Sequence[tuple[str, str]]) -> str:
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"  {name:<{width}}  {link}" for name, link in rows)
