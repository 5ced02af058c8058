"""A paper slip for each link: whom it is for, its address as a QR code, and the six letters to type instead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from tallywire.core.model.competition import Floor
from tallywire.shell.links import Issued

QUIET = 4
"""ISO/IEC 18004 asks for four modules of nothing round the symbol."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """The contents of one slip.

    `title` is in English; `role`, `lane` and the name of the `floor` say the same in any language, and are empty on the
    slip of a page that needs no link. `size` is the width of the symbol with its quiet zone, in modules, and `path`
    draws it.
    """

    id: str
    title: str
    label: str
    url: str = field(repr=False)
    code: str = field(repr=False)
    expires_ms: int
    size: int
    path: str = field(repr=False)
    role: str = ""
    lane: int | None = None
    floor: str = ""


def slip_of(issued: Issued, address: str, *, floors: Mapping[str, Floor] | None = None) -> Slip:
    """Make the slip of a link for a server at `address`, such as http://192.0.2.7:8400, which has these `floors`."""
    link = issued.link
    # A machine has no page: its program takes the address of the server, and the key.
    url = f"{address}/{link.path}#key={issued.key}"
    size, path = qr_path(url)
    return Slip(
        id=link.id,
        title=link.title(floors),
        label=link.label,
        url=url,
        code=issued.code,
        expires_ms=link.expires_ms,
        size=size,
        path=path,
        role=link.role,
        lane=link.lane,
        floor=link.floor_name(floors),
    )


def qr_path(text: str) -> tuple[int, str]:
    """Draw a text as a QR code: the width in modules with the quiet zone, and an SVG path, one unit a module.

    Error correction M (15 %, ISO/IEC 18004): a slip may have a thumb print on it.
    """
    # Only who prints slips waits for this import.
    import segno

    rows: Sequence[Iterable[int]] = list(segno.make_qr(text, error="m", boost_error=False).matrix_iter(border=QUIET))
    runs = (f"M{x} {y}h{length}v1h-{length}z" for y, row in enumerate(rows) for x, length in _dark(row))
    return len(rows), "".join(runs)


def _dark(row: Iterable[int]) -> list[tuple[int, int]]:
    """Give where each run of dark modules begins, and how long it is."""
    runs: list[tuple[int, int]] = []
    for x, module in enumerate(row):
        if not module:
            continue
        if runs and sum(runs[-1]) == x:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((x, 1))
    return runs
