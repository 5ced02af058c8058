"""What every result is worth to every entry: its overall standing after the event, as one whole number.

Results that earn the same and are placed the same are one *level*, from the worst (0) up. For each entry the standing
never gets worse from one level to the next; that is all the walk over the orders needs to know of the rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, pairwise, product
from math import lcm
from operator import mul

from tallywire.core.clinching.race import NO_PLACE, Contender, NotWorkedOut, Race
from tallywire.core.ranking.points import TiePolicy
from tallywire.core.ranking.standing import Scored, StandingRules, cell_of, dropped
from tallywire.core.ranking.tie_rules import Key, TieRule, tie_key


class Worth:
    """`cells[place][size]` is the level of a place that `size` entries share, both counted from 1; `points[level]` is
    what it earns, `after[entry]` the entry's standing at each level, `out[entry]` without a result. A larger standing
    is better, equal ones share the place; those who are not counted stand below all.

    Raises NotWorkedOut where a worse place may earn more, or a level is not better for everybody.
    """

    def __init__(self, race: Race) -> None:
        if not never_rises(race):
            message = f"found points {', '.join(map(str, race.worths()))}, expected a table that never rises"
            raise NotWorkedOut("rising_points", message)
        levels, self.cells = levels_and_cells(race)
        self.points = [level.points for level in levels]
        offers = _offers(race, levels)
        found = _one_by_one(race, offers) if race.rules.drop_worst else _added_up(race, offers)
        self.after = {entry: standings[1:] for entry, standings in found.items()}
        self.out = {entry: standings[0] for entry, standings in found.items()}
        lowest = min(each for standings in found.values() for each in standings) - 1
        for entry in race.uncounted:
            self.after[entry], self.out[entry] = [lowest] * len(levels), lowest
        if any(worse > better for each in self.after.values() for worse, better in pairwise(each)):
            message = "found a result that helps one entry where it harms another, expected one order for all"
            raise NotWorkedOut("one_by_one", message)


def levels_and_cells(race: Race) -> tuple[list[Scored], list[list[int]]]:
    """Give the levels of result from the worst up, and the level of each place by the number who share it."""
    gains, scale = _gains(race)
    ordered = sorted({*gains.values()}, key=lambda gain: (-race.rules.order.sign * gain[0], -gain[1]))
    number = {gain: level for level, gain in enumerate(ordered)}
    cells = [
        [0] + [number[gains[place, size]] for size in range(1, race.ranked + 2 - place)]
        for place in range(1, race.ranked + 1)
    ]
    scored = [
        Scored(place=place, points=Fraction(points, scale), in_count_back=race.in_count_back)
        for points, place in ordered
    ]
    return scored, [[], *cells]


def never_rises(race: Race) -> bool:
    """Tell whether no worse place, and no result at all, is worth more than a better one."""
    earned = [-race.rules.order.sign * points for points in (*race.worths(), race.nothing)]
    return all(better >= worse for better, worse in pairwise(earned))


OverallKey = tuple[Key, ...]
"""The total, then what each tie rule compares."""
Gains = tuple[dict[tuple[int, int], tuple[int, int]], int]
"""The points (as whole parts of the scale) and the place, by place and number who share it; and the scale."""


def _gains(race: Race) -> Gains:
    """What each place gives each of those who share it, by (place, size): points and place.

    The scale of points comes with it.
    """
    shares = race.ranked if race.ties is TiePolicy.MEAN else 1
    worth = race.worths()[: race.ranked]
    scale = lcm(*(each.denominator for each in worth), *range(1, shares + 1))
    sums = [0, *accumulate(int(each * scale) for each in worth)]
    found: dict[tuple[int, int], tuple[int, int]] = {}
    for place in range(1, race.ranked + 1):
        for size in range(1, race.ranked + 2 - place):
            taken = size if shares > 1 else 1
            found[place, size] = ((sums[place - 1 + taken] - sums[place - 1]) // taken, place)
    return found, scale


Kind = tuple[bool, bool, bool]
"""Whether an entry is absent, whether it is unpaid, and whether a score without a result must count."""


def _kind(race: Race, entry: str) -> Kind:
    return entry in race.absent, entry in race.unpaid, entry in race.must_count


def _offers(race: Race, levels: Sequence[Scored]) -> dict[Kind, list[Scored]]:
    """What the event may give: first what it gives without a result, then every level."""
    if race.unpaid and race.ties is TiePolicy.MEAN:
        raise NotWorkedOut("one_by_one", "found a mean of shared places among results that earn nothing")
    if race.rules.drop_worst and race.ties is TiePolicy.MEAN:
        raise NotWorkedOut("one_by_one", "found a mean of shared places with scores that are dropped")
    found: dict[Kind, list[Scored]] = {}
    for each in race.contenders:
        kind = _kind(race, each.entry)
        if kind not in found:
            paid = [replace(level, points=race.nothing) for level in levels] if kind[1] else levels
            found[kind] = [race.without_result(each.entry), *paid]
    return found


def _one_by_one(race: Race, offers: Mapping[Kind, Sequence[Scored]]) -> dict[str, list[int]]:
    """The standing with dropped scores: which scores count is worked out again for every result."""
    keys = {
        each.entry: [overall_key(race.rules, each, [offer]) for offer in offers[_kind(race, each.entry)]]
        for each in race.contenders
    }
    worst_first = sorted({key for found in keys.values() for key in found}, reverse=True)
    rank = {key: n for n, key in enumerate(worst_first)}
    return {entry: [rank[key] for key in found] for entry, found in keys.items()}


def overall_key(rules: StandingRules, each: Contender, gains: Sequence[Scored]) -> OverallKey:
    """Give a contender's standing with these results of the event's scores; a smaller key stands better."""
    own = [(cell_of(score), score.must_count) for score in (*each.scores(), *gains)]
    gone = dropped(own, rules)
    cells = [replace(cell, dropped=True) if n in gone else cell for n, (cell, _) in enumerate(own)]
    total = sum((cell.points for cell in cells if not cell.dropped), each.brought)
    return ((rules.order.sign * total,), *(tie_key(rule, cells, rules.order) for rule in rules.ties))


Parts = tuple[int, ...]
"""The parts of a sort key, where smaller is better."""


def _added_up(race: Race, offers: Mapping[Kind, Sequence[Scored]]) -> dict[str, list[int]]:
    """Where every score counts, a key is the key of the scores before plus that of the event, part by part.

    Each part is a digit of one number, in a base that holds its largest value, so each result costs one addition.
    """
    sums = _Sums([race])
    before = {each.entry: sums.before(each) for each in race.contenders}
    parts = {kind: [sums.gain(gain) for gain in gains] for kind, gains in offers.items()}
    weights = _weights([*before.values()], [part for each in parts.values() for part in each])
    whole = {kind: [_number(part, weights) for part in each] for kind, each in parts.items()}
    own = {entry: _number(part, weights) for entry, part in before.items()}
    return {entry: [-(number + each) for each in whole[_kind(race, entry)]] for entry, number in own.items()}


def added_up(races: Sequence[Race]) -> tuple[dict[str, list[int]], dict[str, int]]:
    """Several scores of one event at once, where every score counts: what all results together are worth to each.

    `races` have the same contenders and rules, in the order of the scores. Gives each entry's standing after the event
    by the levels of its results (all of the last score for the first level of the one before, and so on) and without a
    result. A larger number stands better, equal ones share the place.
    """
    sums, first = _Sums(races), races[0]
    before = {each.entry: sums.before(each) for each in first.contenders}
    place = {entry: NO_PLACE if entry in first.absent else first.ranked + 1 for entry in before}
    gains = [sums.gains(levels_and_cells(race)[0], at) for at, race in enumerate(races)]
    nothing = {without: _without_result(sums, races, without) for without in {*place.values()}}
    weights = _weights([*before.values()], *map(list.__add__, gains, _columns_of(nothing)))
    own = {entry: _number(part, weights) for entry, part in before.items()}
    together = _together(gains, weights)
    lost = {without: sum(_numbers(each, weights)) for without, each in nothing.items()}
    after = {entry: [-(number + each) for each in together] for entry, number in own.items()}
    return after, {entry: -(number + lost[place[entry]]) for entry, number in own.items()}


def _without_result(sums: _Sums, races: Sequence[Race], place: int) -> list[Parts]:
    """What every open score adds for those who have no result, by score."""
    scores = [Scored(place=place, points=race.nothing, has_result=False) for race in races]
    return [sums.gain(score, at) for at, score in enumerate(scores)]


def _weights(*rows: Sequence[Parts]) -> list[int]:
    """The weight of one more in each part: more than the later parts can add up to with one of each of `rows`."""
    spans = [sum(max(each) - min(each) for each in column) + 1 for column in zip(*map(_columns, rows), strict=True)]
    return [*accumulate(reversed(spans[1:]), mul, initial=1)][::-1]


def _columns(rows: Sequence[Parts]) -> list[tuple[int, ...]]:
    return [*zip(*rows, strict=True)]


def _together(gains: Sequence[Sequence[Parts]], weights: Sequence[int]) -> list[int]:
    """What one result of each score adds, for every combination of results."""
    return [sum(each) for each in product(*(_numbers(row, weights) for row in gains))]


def _columns_of(nothing: Mapping[int, Sequence[Parts]]) -> Iterator[list[Parts]]:
    """By score, what it adds for each kind of entry without a result."""
    return map(list, zip(*nothing.values(), strict=True))


def _number(parts: Parts, weights: Sequence[int]) -> int:
    return sum(map(mul, parts, weights))


def _numbers(rows: Sequence[Parts], weights: Sequence[int]) -> list[int]:
    return [_number(parts, weights) for parts in rows]


def _common_scale(race: Race, values: Iterable[Fraction], scales: Iterable[int]) -> int:
    """A number that makes all possible points whole when they are multiplied by it."""
    brought = (each.brought for each in race.contenders)
    return lcm(*scales, *(each.denominator for each in (*values, *brought)))


def _counts_back(rule: TieRule, score: Scored) -> bool:
    """Whether a place is one that a count-back looks at."""
    return score.has_result and score.in_count_back and (rule is not TieRule.COUNT_BACK_SCORING or score.points != 0)


class _Sums:
    """Turns scores into parts of a key. Places (or scores) are counted as digits of one number, the best first.

    `races` are the scores of one event that are open, in their order.
    """

    def __init__(self, races: Sequence[Race]) -> None:
        race, self._open = races[0], len(races)
        past = [score for each in race.contenders for score in each.scores()]
        self._rules = race.rules
        self._last = max([len(race.contenders), *(score.place for score in past if score.has_result)]) + 1
        self._events = max(len(each.scores()) for each in race.contenders)
        self._base = self._events + self._open + 1
        values = {race.nothing, *(score.points for score in past)}.union(*(each.worths() for each in races))
        earned = [_gains(each) for each in races]
        self._scale = _common_scale(race, values, (scale for _, scale in earned))
        self._digit = self._digits(values, earned)

    def _digits(self, values: set[Fraction], earned: Sequence[Gains]) -> dict[Fraction, int]:
        """The weight of one score of each worth, where scores are compared from the best to the worst."""
        if TieRule.BEST_SCORES in self._rules.ties:
            values |= {Fraction(points, scale) for gains, scale in earned for points, _ in gains.values()}
        rising = sorted(values, key=lambda value: -self._rules.order.sign * value)
        return {value: self._base**n for n, value in enumerate(rising)}

    def before(self, each: Contender) -> Parts:
        """The key of what an entry brings."""
        scores = each.scores()
        total = self._points(each.brought) + sum(self._points(score.points) for score in scores)
        return (total, *(part for rule in self._rules.ties for part in self._past(rule, scores)))

    def gains(self, levels: Sequence[Scored], at: int) -> list[Parts]:
        """What each result in the open score number `at` adds."""
        return [self.gain(level, at) for level in levels]

    def gain(self, gain: Scored, at: int = 0) -> Parts:
        """What a result in the open score number `at` adds."""
        return (self._points(gain.points), *(part for rule in self._rules.ties for part in self._now(rule, gain, at)))

    def _past(self, rule: TieRule, scores: Sequence[Scored]) -> Parts:
        if rule is TieRule.LATEST_EVENTS:
            return (*[0] * self._open, *(self._points(score.points) for score in reversed(scores)))
        if rule is TieRule.LAST_EVENT:
            return (0,)
        return (sum(self._now(rule, score, 0)[0] for score in scores),) if rule is not TieRule.SHARED else ()

    def _now(self, rule: TieRule, score: Scored, at: int) -> Parts:
        latest = self._open - 1 - at
        if rule is TieRule.LATEST_EVENTS:
            return (*[0] * latest, self._points(score.points), *[0] * (at + self._events))
        if rule is TieRule.LAST_EVENT:
            return (0 if latest else score.place,)
        if rule is TieRule.BEST_SCORES:
            return (-self._digit[score.points],)
        count = self._base ** (self._last - score.place) if _counts_back(rule, score) else 0
        return (-int(count),) if rule is not TieRule.SHARED else ()

    def _points(self, points: Fraction) -> int:
        return self._rules.order.sign * points.numerator * (self._scale // points.denominator)
