"""What a request may carry, and how a refusal is said."""

from __future__ import annotations

import json

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from reach.errors import InputProblem
from reach.inputs.quantities import refuse

MOST_BYTES = 8_192  # of a note or a question


class NoteTooLong(Exception):
    """More bytes than a note may have."""


async def json_body(request: Request, *, most: int = MOST_BYTES) -> object:
    """A request's JSON, not a byte more than there may be.

    Raises : InputProblem for another type or what is no JSON; NoteTooLong.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise refuse("a note is JSON")
    kept = b""
    async for chunk in request.stream():
        kept += chunk
        if len(kept) > most:
            raise NoteTooLong
    try:
        return json.loads(kept)
    except (ValueError, RecursionError):
        raise refuse("a note is JSON") from None


def said(status: int, problem: Exception) -> Response:
    """A refusal in a sentence."""
    if isinstance(problem, NoteTooLong):
        return JSONResponse({"why": "longer than anything that can be noted"}, 413)
    if isinstance(problem, InputProblem):
        why = "; ".join(f"{f.problem}{': ' + f.fix if f.fix else ''}" for f in problem.faults)
    else:
        why = str(problem) or "not understood"
    return JSONResponse({"why": why}, status)
