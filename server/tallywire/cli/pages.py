"""The addresses of the pages, ready to open. docs/look.md lists the names of the pages; this is the same list."""

from __future__ import annotations

from tallywire.core.model.competition import Competition
from tallywire.shell.keys import Keys

_VIEWERS = (
    ("on air, heat view", "air/?view=heat"),
    ("venue board", "board/"),
    ("gap feed", "gaps/"),
    ("the call", "call/"),
)


def page_list(address: str, keys: Keys, competition: Competition) -> str:
    """List every page with its address. Keys stand in the fragment: a browser never sends that part to a server."""
    lanes = sorted({lane for heat in competition.heats.values() for lane in heat.lanes})
    rows = [(name, f"{address}/{path}") for name, path in _VIEWERS]
    rows += [(f"on air, output {name}", f"{address}/air/?output={name}") for name in competition.outputs]
    rows.append(("graphics desk", f"{address}/desk/#key={keys.desk}"))
    rows.append(("scoring table", f"{address}/table/#key={keys.table}"))
    rows += [(f"lane pad {lane}", f"{address}/pad/?lane={lane}#key={keys.lane(lane)}") for lane in lanes]
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"  {name:<{width}}  {link}" for name, link in rows)
