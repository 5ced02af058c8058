"""What a link opens, in the language of its reader."""

from __future__ import annotations

from tallywire.wire.catalogue import Catalogue


def link_title(words: Catalogue, role: str, lane: int | None, floor: str) -> str:
    """Name a role with its lane and the name of its floor, where it has them."""
    named = words.say(f"paper.role.{role}")
    title = named if lane is None else words.say("paper.role_lane", role=named, lane=lane)
    return words.say("paper.on_floor", what=title, floor=floor) if floor else title
