"""Bodies of requests: JSON, bounded in size and in every field."""

from __future__ import annotations

from typing import TypeVar

import orjson
from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.requests import Request

from tallywire.core.errors import BadMessage
from tallywire.wire.problems import problems_of

BODY_LIMIT = 64 * 1024
Model = TypeVar("Model", bound=BaseModel)


class Body(BaseModel):
    """What a request brings: the fields that are known, of the types that they have."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


async def read_body(request: Request, model: type[Model], *, limit: int = BODY_LIMIT) -> Model:
    """Read a request's body. Raises BadMessage that says where, what was found and what was expected."""
    read = bytearray()
    async for piece in request.stream():
        read += piece
        if len(read) > limit:
            raise BadMessage(f"found a body of more than {limit} bytes, expected less")
    try:
        return model.model_validate(orjson.loads(read or b"{}"))
    except ValidationError as exc:
        raise BadMessage("; ".join(str(problem) for problem in problems_of(exc))) from exc
    except (orjson.JSONDecodeError, RecursionError) as exc:
        raise BadMessage("found no JSON, expected one JSON object") from exc
