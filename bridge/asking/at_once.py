"""One request about many animals, done as one about each, and taken back as one.

Each part has an id of its own, that of the whole and its number: `x/3`, `x/4`, …  The whole is `x/3-17`, and by that it
is taken back.  So nothing has to be remembered, and a capture holds the parts.
"""

import re
import secrets
from collections.abc import Sequence

from neckyoke.bridge.asking.dose_requests import MOST_AT_ONCE, Several
from neckyoke.bridge.asking.job_requests import UndoRequest
from neckyoke.bridge.asking.requests import Answer, Request

WHOLE = re.compile(r"(.{1,40})/([0-9]{1,10})-([0-9]{1,10})")
PART = re.compile(r"(.{1,40})/([0-9]{1,10})")


def parts_of(request: Request) -> list[Request]:
    """Return the requests that one stands for; none when it stands for itself."""
    name = (request.id or secrets.token_hex(5))[:40]
    key = "job_number" if getattr(request, "number", None) is None else "number"
    first = getattr(request, key, None)
    if isinstance(request, Several) and request.to is not None and first is not None:
        numbers = range(first, request.to + 1)
        return [request.model_copy(update={key: n, "to": None, "id": f"{name}/{n}"}) for n in numbers]
    if isinstance(request, UndoRequest) and (whole := WHOLE.fullmatch(request.asked or "")):
        first, last = int(whole[2]), int(whole[3])
        numbers = range(last, max(first, last - MOST_AT_ONCE + 1) - 1, -1)
        return [request.model_copy(update={"asked": f"{whole[1]}/{n}", "id": f"{name}/{n}"}) for n in numbers]
    return []


def together(answers: Sequence[Answer]) -> str | None:
    """Return by what the parts that were done are taken back together; None when none was."""
    done = [found for answer in answers if answer.done and (found := PART.fullmatch(answer.asked or ""))]
    if not done:
        return None
    numbers = [int(found[2]) for found in done]
    return f"{done[0][1]}/{min(numbers)}-{max(numbers)}"
