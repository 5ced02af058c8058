"""What those who steer a rehearsal can ask for, as data for HTTP and as words for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tallywire.core.errors import BadMessage
from tallywire.core.model.timetext import parse_clock
from tallywire.wire.problems import problems_of

DAY_MS = 24 * 60 * 60 * 1000
KINDS = ("cue", "lead", "finish", "no_rep", "heat")
Moment = Annotated[int, Field(ge=0, le=30 * DAY_MS)]
_NONE: Mapping[str, Any] = {}
HELP = """\
  play | pause               go on, or stand still
  speed 4                    four times as fast: 0.25 to 60
  to 8:30                    where the clock of this heat shows 8:30
  to final-women 8:30        the same in another heat
  back 10 | ahead 10         so many seconds
  next lead | last lead      also: cue, finish, no_rep, heat
  loop 8:00 8:30 | unloop    a passage again and again, by the clock of this heat
  what-if no-rep 3 4:10      a no-rep for lane 3 at 4:10; also: what-if withdrawal 3 4:10
  undo                       take the last change back
  where                      say where the rehearsal is"""


class Steer(BaseModel):
    """One request. `do` says which; times are milliseconds.

    `to` takes `moment_ms` since the beginning or `at_ms` on the clock of a heat (the present one unless `heat` names
    one); `loop` takes `at_ms` and `until_ms` likewise; `by` takes `ms`, which may be negative; `next` and `last` take
    a `kind` of moment; `speed` takes `speed`; `what_if` a `change`, a `lane` and `at_ms`.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    do: Literal["play", "pause", "speed", "to", "by", "next", "last", "loop", "unloop", "what_if", "undo", "where"]
    speed: Annotated[int | float, Field(gt=0, le=1000)] | None = None
    heat: Annotated[str, Field(max_length=64)] | None = None
    moment_ms: Moment | None = None
    at_ms: Moment | None = None
    until_ms: Moment | None = None
    ms: Annotated[int, Field(ge=-30 * DAY_MS, le=30 * DAY_MS)] | None = None
    kind: Literal["cue", "lead", "finish", "no_rep", "heat"] | None = None
    change: Literal["no_rep", "withdrawal"] | None = None
    lane: Annotated[int, Field(ge=1, le=99)] | None = None


def read_steering(line: str) -> Steer:
    """Read what somebody typed, such as `to 8:30`. Raises BadMessage that says what there is."""
    verb, *rest = line.split() or [""]
    read = _READERS.get(verb.lower())
    try:
        if read is None:
            raise ValueError(f'found "{line.strip()[:80]}"')
        return Steer.model_validate(read(rest))
    except ValidationError as exc:
        raise BadMessage("; ".join(str(problem) for problem in problems_of(exc))) from exc
    except (ValueError, IndexError) as exc:
        found = str(exc) if str(exc).startswith("found ") else f'found "{line.strip()[:80]}"'
        raise BadMessage(f"{found}, expected one of these:\n{HELP}") from exc


def _alone(verb: str) -> Callable[[Sequence[str]], dict[str, Any]]:
    def read(words: Sequence[str]) -> dict[str, Any]:
        _end(words)
        return {"do": verb}

    return read


def _end(words: Sequence[str]) -> None:
    if words:
        raise ValueError(f'found "{words[0][:80]}" too much')


def _speed(words: Sequence[str]) -> dict[str, Any]:
    _end(words[1:])
    return {"do": "speed", "speed": float(words[0].rstrip("x×"))}


def _to(words: Sequence[str]) -> dict[str, Any]:
    *heat, clock = words
    _end(heat[1:])
    return {"do": "to", "at_ms": parse_clock(clock), **({"heat": heat[0]} if heat else {})}


def _by(sign: int) -> Callable[[Sequence[str]], dict[str, Any]]:
    def read(words: Sequence[str]) -> dict[str, Any]:
        _end(words[1:])
        return {"do": "by", "ms": sign * round(float(words[0]) * 1000)}

    return read


def _moment(verb: str) -> Callable[[Sequence[str]], dict[str, Any]]:
    def read(words: Sequence[str]) -> dict[str, Any]:
        _end(words[1:])
        return {"do": verb, "kind": words[0].replace("-", "_")}

    return read


def _loop(words: Sequence[str]) -> dict[str, Any]:
    _end(words[2:])
    return {"do": "loop", "at_ms": parse_clock(words[0]), "until_ms": parse_clock(words[1])}


def _what_if(words: Sequence[str]) -> dict[str, Any]:
    change, lane, clock, *rest = words
    _end(rest)
    return {"do": "what_if", "change": change.replace("-", "_"), "lane": int(lane), "at_ms": parse_clock(clock)}


_READERS: Mapping[str, Callable[[Sequence[str]], dict[str, Any]]] = {
    **{verb: _alone(verb) for verb in ("play", "pause", "unloop", "undo", "where")},
    "speed": _speed,
    "to": _to,
    "back": _by(-1),
    "ahead": _by(1),
    "next": _moment("next"),
    "last": _moment("last"),
    "loop": _loop,
    "what-if": _what_if,
}
