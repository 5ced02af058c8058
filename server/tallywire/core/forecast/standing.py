"""From drawn results to places in heat and event, points, and the overall standing. M entries, N draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.draws import Indexes, Places, Singles, place_chances, places
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.scene import Overall, PartLevels, Ranks, Result, Runner, Scene, ScoredPart

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
Levels = np.ndarray[tuple[int, ...], np.dtype[np.int16]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """For each runner, in the order of the scene: the chances of the places.

    `event` is by the first score of an event with several. `overall` is empty where the scene has none; its ties, and
    equal overall points, go by the rules there. `points` are drawn (N) only where those who share a place earn the
    mean, the event has scores of its own, or asks for a least of work.
    """

    heat: list[tuple[float, ...]]
    event: list[tuple[float, ...]]
    overall: list[tuple[float, ...]]
    points: dict[int, Singles]


def chances(
    scene: Scene,
    keys: Singles | Array,
    *,
    unpaid: Flags | None = None,
    part_keys: Sequence[Singles | Array] = (),
) -> Chances:
    """Rank drawn `keys` (L, N; infinite: no result, no points) in the heat and among the event's others.

    `unpaid` (L, N) are placed and earn nothing. `part_keys` are the keys of each score of an event with several.
    """
    lanes = len(scene.runners)
    found = Chances(heat=[()] * lanes, event=[()] * lanes, overall=[()] * lanes, points={})
    divisions = dict.fromkeys(runner.division for runner in scene.runners)
    for division in divisions:
        rows = [row for row, runner in enumerate(scene.runners) if runner.division == division]
        # One division alone needs no copy of the draws.
        mine = rows if len(divisions) > 1 else slice(None)
        here = _Drawn(
            keys=keys[mine],
            unpaid=None if unpaid is None else unpaid[mine],
            part_keys=[each[mine] for each in part_keys],
        )
        _rank_division(scene, here, rows, found)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """The draws of a division's rows."""

    keys: Singles | Array
    unpaid: Flags | None
    part_keys: Sequence[Singles | Array]


def _rank_division(scene: Scene, drawn: _Drawn, rows: list[int], found: Chances) -> None:
    division = scene.runners[rows[0]].division
    settled = [other for other in scene.others if other.division == division and other.has_result]
    in_heat = places(drawn.keys)
    scores = _scores(scene, drawn, in_heat, settled)
    _fill(found.heat, rows, in_heat, len(rows))
    _fill_event(found, rows, in_heat, scores[0].places[0], len(rows) + len(settled))
    field = _Field(rows=rows, runners=[scene.runners[row] for row in rows], settled=settled, scores=scores)
    overall = scene.overall.get(division)
    if overall is not None and {*field.entries} <= overall.out.keys():
        _fill_overall(scene, drawn.unpaid, field, overall, found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Field:
    """The entries of a division that have a result, or are drawn one: the heat's rows, and the settled others."""

    rows: list[int]
    runners: Sequence[Runner]
    settled: Sequence[Result]
    scores: Sequence[_Score]

    @property
    def entries(self) -> list[str]:
        """The heat's entries in the order of their rows, then the others."""
        return [*(each.entry for each in self.runners), *(each.entry for each in self.settled)]


def _fill_overall(scene: Scene, unpaid: Flags | None, field: _Field, overall: Overall, found: Chances) -> None:
    """Points, and the chances of the overall places."""
    outs = [runner.out for runner in field.runners]
    if overall.mean or scene.parts or unpaid is not None:
        by_part = [_levels(*each, mean=overall.mean) for each in zip(overall.parts, field.scores, strict=True)]
        found.points.update(_points(overall, field.rows, outs, field.scores, by_part))
    if not overall.after:
        return
    others = (False if _falls_short(scene, each) else None for each in field.settled)
    paid = [*_lanes_paid(outs, unpaid), *others]
    if _is_as_in_event(overall, field, paid):
        for row in field.rows:
            found.overall[row] = found.event[row] + (0.0,) * (len(overall.out) - len(paid))
        return
    places_after = _overall_places(overall, field, _standings(overall, field, paid))
    _fill(found.overall, field.rows, places_after, len(overall.out))


def _is_as_in_event(overall: Overall, field: _Field, paid: Sequence[Flags | bool | None]) -> bool:
    """Whether the overall places are those in the event, as in the first event of a division: a better place is a
    better standing, whoever has it, and nobody without a result stands ahead of the last one."""
    if len(overall.parts) > 1 or overall.mean or any(each is not None for each in paid):
        return False
    by_place = overall.parts[0].level[1 : 1 + len(paid), 1]
    after = (overall.after[entry].take(by_place) for entry in field.entries)
    first = next(after)
    if not (all((each == first).all() for each in after) and (first[1:] > first[:-1]).all()):
        return False
    return all(overall.out[entry] >= first[-1] for entry in overall.out.keys() - {*field.entries})


def _fill_event(found: Chances, rows: list[int], in_heat: Places, in_event: Places, rivals: int) -> None:
    """If nobody else is in the event, the places in the event are those in the heat."""
    if in_event is not in_heat:
        _fill(found.event, rows, in_event, rivals)
        return
    for row in rows:
        found.event[row] = found.heat[row]


def _standings(overall: Overall, field: _Field, paid: Sequence[Flags | bool | None]) -> Ranks:
    """The overall standing of everyone of the field (M, N).

    `paid` says where they earn points (N): None for always, False for never.
    """
    after, at = _after(overall, field)
    found = np.empty(at.shape, dtype=after.dtype)
    for row, (entry, earns) in enumerate(zip(field.entries, paid, strict=True)):
        after[row].take(at[row], out=found[row], mode="clip")
        if earns is not None:
            found[row] = np.where(earns, found[row], after.dtype.type(overall.out[entry]))
    return found


def _overall_places(overall: Overall, field: _Field, standings: Ranks) -> Places:
    """The overall places of the heat's rows, among the field and all others, who stand as without a result."""
    found = places(standings, first=len(field.rows))
    rest = sorted(overall.out[entry] for entry in overall.out.keys() - {*field.entries})
    if not rest:
        return found
    ahead = np.searchsorted(rest, np.arange(1 + standings.max())).astype(np.int16)
    return found + ahead.take(standings[: len(found)])


def _after(overall: Overall, field: _Field) -> tuple[Ranks, Places | Levels | Indexes]:
    """The standings of everyone of the field (M, …), and which of them each draw comes to (M, N): by place, where a
    place alone says what it is worth."""
    after, parts = np.array([overall.after[entry] for entry in field.entries]), overall.parts
    if len(parts) == 1 and not overall.mean:
        return after[:, parts[0].level[:, 1]], _in_event(field.scores[0])
    by_part = [_levels(*each, mean=overall.mean) for each in zip(parts, field.scores, strict=True)]
    return after, _together(overall, by_part)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Score:
    """One score of the event: keys of the heat's rows (M, N), those of others (F), the places of both, and which of
    the heat's rows have done less than the least work."""

    keys: Singles | Array
    fixed: Array
    places: tuple[Places, Places]
    unpaid: Flags | None


def _scores(scene: Scene, drawn: _Drawn, in_heat: Places, settled: Sequence[Result]) -> list[_Score]:
    """Every score of the event: at least that of the whole result, and only that for formats without a count."""
    model = model_of(scene.plan.workout)
    fixed = np.array([model.key(scene, other) for other in settled])
    whole = _Score(keys=drawn.keys, fixed=fixed, places=_among(drawn.keys, in_heat, fixed), unpaid=drawn.unpaid)
    found = []
    for number, part in enumerate(scene.parts or (ScoredPart(),)):
        if part.mark_units is None and part.at_ms is None:
            found.append(whole)
            continue
        keys, fixed = drawn.part_keys[number], np.array([other.part_keys[number] for other in settled])
        unpaid = -keys < scene.least if scene.least and part.at_ms is not None else drawn.unpaid
        found.append(_Score(keys=keys, fixed=fixed, places=_among(keys, places(keys), fixed), unpaid=unpaid))
    return found


def _levels(part: PartLevels, score: _Score, *, mean: bool) -> Levels:
    """The level of everyone's result in one score (M, N)."""
    found = _in_event(score)
    return part.level[found, np.concatenate(_sizes(score.keys, score.fixed))] if mean else part.level[:, 1][found]


def _in_event(score: _Score) -> Places:
    """The places in one score of the heat's rows, then of the others (M, N)."""
    in_event, moved = score.places
    return np.concatenate((in_event, moved)) if len(moved) else in_event


def _together(overall: Overall, by_part: Sequence[Levels]) -> Levels | Indexes:
    """Where everyone stands in `Overall.after` (M, N)."""
    if len(by_part) == 1:
        return by_part[0]
    found = np.zeros(by_part[0].shape, dtype=np.int64)
    for part, levels in zip(overall.parts, by_part, strict=True):
        found *= len(part.points)
        found += levels
    return found


def _falls_short(scene: Scene, result: Result) -> bool:
    """Whether a result of another heat is less than the minimum work."""
    return result.scored_reps is not None and result.scored_reps < scene.least


def _lanes_paid(outs: Sequence[bool], unpaid: Flags | None) -> list[Flags | bool | None]:
    """Where each lane earns points (N): None for always, False for never."""
    earning: Sequence[Flags | None] = [None] * len(outs) if unpaid is None else [~each for each in unpaid]
    return [False if out else earns for out, earns in zip(outs, earning, strict=True)]


def _points(
    overall: Overall, rows: list[int], outs: Sequence[bool], scores: Sequence[_Score], by_part: Sequence[Levels]
) -> dict[int, Singles]:
    """What every row earns in all scores (N each)."""
    earned: Singles = np.zeros(scores[0].keys.shape, dtype=np.float32)
    for part, score, levels in zip(overall.parts, scores, by_part, strict=True):
        points = part.points[levels[: len(rows)]]
        points[list(outs)] = part.nothing
        earned += points if score.unpaid is None else np.where(score.unpaid, np.float32(part.nothing), points)
    return dict(zip(rows, earned, strict=True))


def _sizes(keys: Singles | Array, fixed: Array) -> tuple[Places, Places]:
    """How many share each place, counting the heat's rows and those with fixed keys (M, N)."""
    every = np.concatenate((keys, np.broadcast_to(fixed[:, None], (len(fixed), keys.shape[1]))))
    found = np.empty(every.shape, dtype=np.int16)
    for row, key in enumerate(every):
        found[row] = (every == key).sum(axis=0)
    return found[: len(keys)], found[len(keys) :]


def _among(keys: Singles | Array, in_heat: Places, fixed: Array) -> tuple[Places, Places]:
    """Places in the event of the heat's rows and of those with fixed keys (M, N)."""
    if not len(fixed):
        return in_heat, np.zeros((0, keys.shape[1]), dtype=np.int16)
    ahead = np.searchsorted(np.sort(fixed), keys, side="left").astype(np.int16)
    moved = np.empty((len(fixed), keys.shape[1]), dtype=np.int16)
    for row, key in enumerate(fixed):
        moved[row] = 1 + (fixed < key).sum() + (keys < key).sum(axis=0)
    return in_heat + ahead, moved


def _fill(target: list[tuple[float, ...]], rows: Sequence[int], ranked: Places, rivals: int) -> None:
    for row, shares in zip(rows, place_chances(ranked, rivals).tolist(), strict=True):
        target[row] = tuple(shares)
