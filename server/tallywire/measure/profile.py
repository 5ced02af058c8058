"""Where a tap's time goes, by part of the program: a table, and a picture of it."""

from __future__ import annotations

import asyncio
import cProfile
import pstats
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from tallywire.measure.dry_run import dry_run
from tallywire.measure.figures import Cell, Figure, FigureTable
from tallywire.measure.long_heat import long_competition
from tallywire.measure.scale import Scale
from tallywire.measure.ways import EIGHT, LANES

FACTS = 500
_SHOWN = 12
_PACKAGE = "tallywire"
_REST = "Python itself, and libraries"


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Profile taps with all eight views watched."""
    taps = scale.sized(300, quick=20)
    shares = asyncio.run(_shares(taps))
    rows: list[tuple[Cell, ...]] = [(part, Figure.of([share])) for part, share in shares.items()]
    yield FigureTable(
        title=f"Where the time of a tap goes, {LANES} lanes, {FACTS} facts, eight views watched",
        columns=("part of the program", "% of the time in it"),
        rows=tuple(rows),
        notes=("of each part its own time alone; a profiler makes many small functions look dearer than they are",),
        picture=picture(shares),
    )


async def _shares(taps: int) -> dict[str, float]:
    """Give the per cent of a tap's time that each part takes by itself, the largest first."""
    async with dry_run(long_competition(lanes=LANES, taps=FACTS + taps), facts=FACTS, views=EIGHT) as run:
        profile = cProfile.Profile()
        profile.enable()
        for _ in range(taps):
            await run.tap()
        profile.disable()
    spent: Counter[str] = Counter()
    for (file, _, _), (_, _, own_s, _, _) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        spent[_part_of(file)] += own_s
    whole = sum(spent.values())
    return {part: 100 * own_s / whole for part, own_s in spent.most_common(_SHOWN)}


def _part_of(file: str) -> str:
    """Name the package that a file belongs to, such as `core/fold`; of a layer without packages the layer."""
    parts = Path(file).parts
    if _PACKAGE not in parts:
        return _REST
    inner = parts[len(parts) - 1 - parts[::-1].index(_PACKAGE) :][1:]
    return "/".join(inner[:2] if len(inner) > 2 else inner[:1])


def picture(shares: dict[str, float]) -> str:
    """Draw bars as SVG 1.1, one for each part, in the order given; words and lengths say the same."""
    height, left, wide = 26, 260, 420
    longest = max(shares.values())
    bars = "\n".join(
        f'  <text x="{left - 10}" y="{row * height + 18}" text-anchor="end">{part}</text>'
        f'<rect x="{left}" y="{row * height + 4}" width="{share / longest * wide:.1f}" height="{height - 8}"/>'
        f'<text x="{left + share / longest * wide + 6:.1f}" y="{row * height + 18}">{share:.1f} %</text>'
        for row, (part, share) in enumerate(shares.items())
    )
    size = f'width="{left + wide + 70}" height="{len(shares) * height}"'
    style = "text{font:14px sans-serif;fill:#1c2733}rect{fill:#2f6f8f}.page{fill:#fff}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img">\n'
        f"  <title>Where the time of a tap goes</title>\n  <style>{style}</style>\n"
        f'  <rect class="page" width="100%" height="100%"/>\n{bars}\n</svg>\n'
    )
