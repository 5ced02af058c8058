"""The most and the fewest rivals that can end ahead of one entry overall, over all finishing orders.

A walk over few states sees every order that matters, for three reasons. Against one standing of the entry, a rival is
as strong as the lowest level of result that lifts it above; a better place is never a lower level; so a rival in a
place where it does no harm can change places with a stronger rival that does harm. Hence the open rivals that are let
ahead are the strongest ones, they come first, and in each of the two parts the weakest comes first. That makes one
known line, which is woven into the settled levels at (levels used, open used).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import product

from tallywire.core.clinching.orders import OPEN, OUT, Orders
from tallywire.core.ranking.points import TiePolicy

State = tuple[bool, int, int]
"""Whether the entry itself already has its place, and how many settled levels and open rivals have been used."""


@dataclass(frozen=True, slots=True)
class _OpenRivals:
    """The open rivals in order, by how far they are from the entry; ahead of it are those above `bar`.

    The first `ahead` are let ahead. For the `most`, each of them must be ahead; for the fewest, none of the others.
    `strict` leaves out new ties, which never help to keep rivals behind where those who share get the points of the
    better place.
    """

    rivals: list[int]
    ahead: int
    bar: int
    most: bool
    strict: bool

    def is_loose(self, start: int) -> bool:
        """Whether it does not matter what the next rivals get; then no group of theirs has to be looked at."""
        return start >= self.ahead if self.most else start < self.ahead

    def fitting(self, start: int, cells: list[int], widest: int) -> list[int]:
        """How many from `start` on can share a group that adds cells[n]; a wider one adds no more.

        The rival that finds it hardest decides for the group. When the most are counted, the others come behind all who
        matter.
        """
        if self.most and start >= self.ahead:
            return [*range(1, widest + 1)]
        if self.most:
            short = self.bar - self.rivals[start]
            return [wide for wide in range(1, min(widest, self.ahead - start) + 1) if cells[wide] > short]
        free = self.ahead - start
        ends = range(1, widest + 1)
        return [wide for wide in ends if wide <= free or cells[wide] + self.rivals[start + wide - 1] <= self.bar]


class Rivals:
    """Everyone but one entry, by level."""

    def __init__(self, orders: Orders, entry: str) -> None:
        race = orders.race
        self.orders, self.entry, self.level = orders, entry, orders.level(entry)
        self.open = [each for each in orders.open if each != entry]
        self.settled = [[each for each in level if each != entry] for level in race.settled]
        self.out = [each for each in race.out if each != entry]

    def against(self, bar: int) -> tuple[list[int], list[list[int]], list[int]]:
        """How far each rival is from standing above `bar`: minus the lowest level of result that lifts it there.

        The open ones come weakest first. For those without a result it is -1, or 0 for those above.
        """
        after, out = self.orders.worth.after, self.orders.worth.out
        return (
            sorted(-bisect_right(after[each], bar) for each in self.open),
            [[-bisect_right(after[each], bar) for each in level] for level in self.settled],
            [int(out[each] > bar) - 1 for each in self.out],
        )


class Walk:
    """The finishing orders with one entry in one place of its own.

    Every order counts, including ties among the others.
    """

    bar = -1
    """A rival stands above the entry if its level of result and its distance add up to more than this."""

    def __init__(self, rivals: Rivals, place: int) -> None:
        self.orders, self.level, self.place = rivals.orders, rivals.level, place
        own = self.orders.after(rivals.entry, place)
        self.open, self.settled, out = rivals.against(own - self.orders.race.level_is_ahead)
        self.by_level = [(OPEN, self.open), *enumerate(self.settled), (OUT, out)]
        self.joined = self._is_joined()
        self.strongest = sorted(((max(group), level) for level, group in self.by_level if group), reverse=True)
        self.fixed = sum(
            _above(self.bar - self.orders.gain(level, place), group)
            for level, group in self.by_level
            if level == OUT or level == self.level != OPEN
        )
        """How many are ahead for certain among those without a result and those tied with the entry already."""

    def _is_joined(self) -> bool:
        """Whether open rivals that tie with the entry may cost it more than rivals ahead of it do.

        That is so where falling back a place costs some of those it is already tied with more than itself.
        """
        race = self.orders.race
        uneven = race.rules.drop_worst > 0 or race.unpaid
        return bool(uneven) and race.passed <= self.level and len(self.settled[self.level]) > 0

    @cached_property
    def sure(self) -> tuple[int, int]:
        """How many rivals are ahead even in their worst places: open ones, then others."""
        return self._count(1)

    @cached_property
    def possible(self) -> tuple[int, int]:
        """How many rivals are ahead in their best places, each looked at alone: open ones, then others."""
        return self._count(0)

    def _count(self, end: int) -> tuple[int, int]:
        """Count the rivals that are ahead at one end of the places they can have."""
        counts = []
        for level, group in self.by_level:
            place = self.orders.ranges(self.level, level)[self.place][end] if group else 0
            counts.append(_above(self.bar - self.orders.gain(level, place), group) if group else 0)
        return counts[0], sum(counts[1:])

    @cached_property
    def _one_is_sure(self) -> bool:
        """Whether any rival is ahead for certain."""
        return self._one_is_ahead(1)

    def _one_is_ahead(self, end: int) -> bool:
        """Whether a rival is ahead at one end of the places it can have; if any is, the strongest of some level is."""
        ranges, gain = self.orders.ranges, self.orders.gain
        return any(
            before + gain(level, ranges(self.level, level)[self.place][end]) > self.bar
            for before, level in self.strongest
        )

    def keeps_all_behind(self) -> bool:
        """Whether no order lets a rival ahead."""
        return not self._one_is_sure and not self._one_is_ahead(0)

    def can_keep_all_behind(self) -> bool:
        """Whether some order leaves no rival ahead. It is searched depth first, because for a leader most orders do."""
        line, waiting = self._line(0, most=False), [self._start]
        seen = set(waiting)
        if self._one_is_sure or not self._room_at_the_end(line):
            return False
        while waiting and self._end not in seen:
            fine = {state for state, more in self._following(line, waiting.pop()) if not more} - seen
            waiting += sorted(fine)
            seen |= fine
        return self._end in seen

    def _room_at_the_end(self, line: _OpenRivals) -> bool:
        """Whether the n strongest open rivals could all stay behind if they had the last n places."""
        cells, last = self.orders.worth.cells, self.orders.race.ranked
        return all(
            cells[last + 1 - n][1 if line.strict else n] + rival <= self.bar
            for n, rival in enumerate(reversed(self.open), start=1)
        )

    def fewest(self, limit: int) -> int:
        """The fewest rivals ahead, or `limit` if no order leaves fewer."""
        best, (sure_open, sure_others) = limit, self.sure
        for ahead in range(sure_open, len(self.open) + 1):
            if ahead + sure_others >= best:
                break
            found = self._settled_ahead(self._line(ahead, most=False))
            best = best if found is None else min(best, ahead + self.fixed + found)
        return best

    def most(self, least: int = 0) -> int:
        """The most rivals ahead, or `least` if no order leaves more."""
        best, (possible_open, possible_others) = least, self._at_most()
        for ahead in range(possible_open, -1, -1):
            if ahead + possible_others <= best:
                break
            found = self._settled_ahead(self._line(ahead, most=True))
            best = best if found is None else max(best, ahead + self.fixed + found)
        return best

    def _at_most(self) -> tuple[int, int]:
        others = sum(len(group) for level, group in self.by_level if level != OPEN)
        return (len(self.open), others) if self.joined else self.possible

    def _line(self, ahead: int, *, most: bool) -> _OpenRivals:
        split = len(self.open) - ahead
        strict = not most and self.orders.race.ties is TiePolicy.SHARE_BETTER
        return _OpenRivals(self.open[split:] + self.open[:split], ahead, self.bar, most, strict)

    @property
    def _start(self) -> State:
        return (self.level == OUT, 0, 0)

    @property
    def _end(self) -> State:
        return (True, len(self.settled), len(self.open))

    def _settled_ahead(self, line: _OpenRivals) -> int | None:
        """The settled rivals ahead at the extreme; None if the open rivals cannot all be where they must."""
        sign = -1 if line.most else 1
        costs = {self._start: 0}
        for state in product((False, True), range(len(self.settled) + 1), range(len(self.open) + 1)):
            cost = costs.get(state)
            if cost is not None:
                for following, more in self._following(line, state):
                    total, known = cost + sign * more, costs.get(following)
                    if known is None or total < known:
                        costs[following] = total
        found = costs.get(self._end)
        return None if found is None else sign * found

    def _following(self, line: _OpenRivals, state: State) -> list[tuple[State, int]]:
        """What can come next, a group or the entry in its place, with the settled rivals that it lets ahead."""
        placed, i, j = state
        used = self.orders.filled[i] + j
        if placed:
            room = self.orders.filled[-1] + len(self.open) - used
            return self._groups(line, state, room, used + 1 + (self.level == OPEN))
        if used < self.place - 1:
            return self._groups(line, state, self.place - 1 - used, used + 1)
        stands = i >= self.orders.race.passed if self.level == OPEN else i == self.level
        joining = self._joining(line, j) if self.joined and line.most else []
        return [((True, i + (self.level >= 0), j + wide), 0) for wide in (0, *joining)] if stands else []

    def _joining(self, line: _OpenRivals, start: int) -> list[int]:
        """How many of the rivals let ahead can tie with the entry's settled level."""
        cells = self.orders.worth.cells[self.place][len(self.settled[self.level]) + 1 :]
        return line.fitting(start, cells, min(len(self.open), line.ahead) - start) if start < line.ahead else []

    def _groups(self, line: _OpenRivals, state: State, room: int, place: int) -> list[tuple[State, int]]:
        """The groups that can come next on `place`: open rivals, a settled level, or both tied."""
        if not room:
            return []
        placed, i, j = state
        cells = self.orders.worth.cells[place]
        widest = min(room, len(self.open) - j) if i >= self.orders.race.passed else 0
        if placed and widest and line.is_loose(j):
            return self._behind(line, state, cells)
        apart = [] if self._joins(line, state, room) else self._open_group(line, state, cells, widest)
        left = room - len(self.settled[i]) if i not in (self.level, len(self.settled)) else -1
        return apart if left < 0 else apart + self._settled_group(line, state, cells, min(widest, left))

    def _open_group(self, line: _OpenRivals, state: State, cells: list[int], widest: int) -> list[tuple[State, int]]:
        """Open rivals alone, up to `widest` of them tied."""
        placed, i, j = state
        wides = line.fitting(j, cells, min(widest, 1) if line.strict or line.is_loose(j) else widest)
        return [((placed, i, j + wide), 0) for wide in wides]

    def _settled_group(self, line: _OpenRivals, state: State, cells: list[int], widest: int) -> list[tuple[State, int]]:
        """The next settled level, alone or tied with up to `widest` open rivals."""
        placed, i, j = state
        level = self.settled[i]
        tied = cells[len(level) :]
        alone = line.strict or (line.most and j >= line.ahead)
        wides = [0] if alone else [0, *line.fitting(j, tied, widest)]
        return [((placed, i + 1, j + wide), _above(self.bar - tied[wide], level)) for wide in wides]

    def _behind(self, line: _OpenRivals, state: State, cells: list[int]) -> list[tuple[State, int]]:
        """Behind the entry, rivals that may be ahead come before all settled levels, and the others after them."""
        placed, i, j = state
        if not line.most or i == len(self.settled):
            return [((placed, i, j + 1), 0)]
        level = self.settled[i]
        return [((placed, i + 1, j), _above(self.bar - cells[len(level)], level))]

    def _joins(self, line: _OpenRivals, state: State, room: int) -> bool:
        """Whether the rivals let ahead should rather tie with the next settled level than come before it.

        They should when the most are counted and all who share a place get the points of the better place.
        """
        _, i, j = state
        better = self.orders.race.ties is TiePolicy.SHARE_BETTER and i != self.level and i < len(self.settled)
        return line.most and better and j < line.ahead and i >= self.orders.race.passed and room > len(self.settled[i])


def _above(bar: int, group: list[int]) -> int:
    return int(group[0] > bar) if len(group) == 1 else sum([each > bar for each in group])
