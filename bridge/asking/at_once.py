"""One request about many animals, done as one about each, and taken back as one.

Each part has an id of its own, that of the whole and its number: `x/3`, `x/4`, …  The whole is `x/3-17`, and by that it
is taken back; where what was asked last is meant, without a name, whoever keeps what can be taken back knows the parts
of one whole.  A capture holds the parts.
"""

import re
import secrets
from collections.abc import Sequence

from neckyoke.bridge.asking.dose_requests import MOST_AT_ONCE, Several
from neckyoke.bridge.asking.job_requests import UndoRequest
from neckyoke.bridge.asking.requests import Answer, Request

WHOLE = re.compile(r"(.{1,40})/([0-9]{1,10})-([0-9]{1,10})")
PART = re.compile(r"(.{1,40})/([0-9]{1,10})")
OF_ONE = re.compile(r"(.*\bnumber) ([0-9]+)\.")
"""What is said of one animal, and of nothing else."""


def parts_of(request: Request) -> list[Request]:
    """Return the requests that one stands for; none when it stands for itself."""
    name = (request.id or secrets.token_hex(5))[:40]
    key = "job_number" if getattr(request, "number", None) is None else "number"
    first = getattr(request, key, None)
    if isinstance(request, Several) and request.to is not None and first is not None:
        numbers = range(first, request.to + 1)
        return [request.part(key, n, name) for n in numbers]
    if isinstance(request, UndoRequest) and (whole := WHOLE.fullmatch(request.asked or "")):
        first, last = int(whole[2]), int(whole[3])
        numbers = range(last, max(first, last - MOST_AT_ONCE + 1) - 1, -1)
        return [request.model_copy(update={"asked": f"{whole[1]}/{n}", "id": f"{name}/{n}"}) for n in numbers]
    return []


def taken_back(request: UndoRequest, parts: Sequence[str]) -> list[UndoRequest]:
    """Return the requests that take the `parts` of one whole back; none where there is but one, as for itself."""
    if len(parts) < 2:
        return []
    name = (request.id or secrets.token_hex(5))[:40]
    return [request.model_copy(update={"asked": one, "id": f"{name}/{one.rpartition('/')[2]}"}) for one in parts]


def together(answers: Sequence[Answer]) -> str | None:
    """Return by what the parts that were done are taken back together; None when none was."""
    done = [found for answer in answers if answer.done and (found := PART.fullmatch(answer.asked or ""))]
    if not done:
        return None
    numbers = [int(found[2]) for found in done]
    return f"{done[0][1]}/{min(numbers)}-{max(numbers)}"


def told_of_all(answers: Sequence[Answer]) -> str:
    """Return what is said of the parts: in one sentence, where they say the same of each."""
    done = [answer.text for answer in answers if answer.done]
    refused = [answer.text for answer in answers if not answer.done]
    if not done:
        return refused[0]
    said = [found.groups() for text in done if (found := OF_ONE.fullmatch(text))]
    alike = len(said) == len(done) > 1 and len({what for what, _ in said}) == 1
    text = f"Done for {len(done)} of {len(answers)}: {done[0]}"
    if alike:
        text = f"{said[0][0]}s {_span([int(number) for _, number in said])}."
    return f"{text}  Not for {len(refused)}: {refused[0]}" if refused else text


def _span(numbers: Sequence[int]) -> str:
    """Spell numbers: 2 to 4; where some are left out, 2 to 7 (3 of these 6)."""
    first, last = min(numbers), max(numbers)
    lacking = "" if len(numbers) == last - first + 1 else f" ({len(numbers)} of these {last - first + 1})"
    return f"{first} to {last}{lacking}"
