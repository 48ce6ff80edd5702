"""What a request changed in a weighing or an animal, and how that is put back, as far as it is still so.

Both are taken as JSON objects.  A value that nobody has changed since is put back whole; of a list or an object each
member that is still as the request left it.  So what else has become of the same thing in between stands.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

Body: TypeAlias = Mapping[str, Any]
Change: TypeAlias = dict[str, list[Any]]
"""By key: the value before, and after."""

NOT_OURS = frozenset({"revision", "why", "final", "final_at", "change"})
"""What tells how something came to be as it is."""
CALLED = ("name", "product", "text", "id", "kind", "since")
"""Keys that tell one member of a list from another."""


def difference(before: Body, after: Body) -> Change:
    """Return what differs."""
    keys = {**before, **after}.keys() - NOT_OURS
    return {key: [before.get(key), after.get(key)] for key in sorted(keys) if before.get(key) != after.get(key)}


def joined(first: Change, then: Change) -> Change:
    """Return one change for two that came one after the other."""
    both = {key: [first.get(key, then.get(key, []))[0], then.get(key, first.get(key, []))[1]] for key in first | then}
    return {key: one for key, one in both.items() if one[0] != one[1]}


def put_back(now: Body, change: Change) -> dict[str, Any]:
    """Return something without a change of it."""
    return {**now, **{key: _back(before, after, now.get(key)) for key, (before, after) in change.items()}}


def without(later: Change, gone: Change) -> Change:
    """Return a later change of the same thing as though an earlier one had not been."""
    both: Change = {}
    for key, pair in later.items():
        before, after = gone.get(key, (None, None))
        both[key] = [_back(before, after, one) for one in pair] if key in gone else list(pair)
    return {key: one for key, one in both.items() if one[0] != one[1]}


def _back(before: Any, after: Any, now: Any) -> Any:
    if now == after:
        return before
    if isinstance(now, Mapping) and all(isinstance(one, Mapping | None) for one in (before, after)):
        return _members_back(before or {}, after or {}, now) or None
    if isinstance(now, list) and isinstance(before, list) and isinstance(after, list):
        named = [_named(one) for one in (before, after, now)]
        kept = _members_back(*named)
        order = [*named[2]]
        for at, key in enumerate(named[0]):
            if key in kept and key not in order:  # it comes again behind what stood before it
                stood = next((one for one in reversed([*named[0]][:at]) if one in order), None)
                order.insert(0 if stood is None else order.index(stood) + 1, key)
        return [kept[key] for key in order if key in kept]
    return now


def _members_back(before: Body, after: Body, now: Body) -> dict[str, Any]:
    kept = dict(now)
    for key in {**before, **after}:
        if before.get(key) == after.get(key) or now.get(key) != after.get(key):
            continue
        if key in before:
            kept[key] = before[key]
        else:
            kept.pop(key, None)
    return kept


def _named(items: Sequence[Any]) -> dict[str, Any]:
    """Name the members of a list: by what they are called, and how often that came before."""
    seen: Counter[str] = Counter()
    named = {}
    for one in items:
        words = [one.get(key) for key in CALLED] if isinstance(one, Mapping) else [one]
        name = f"{words}"
        seen[name] += 1
        named[f"{name}/{seen[name]}"] = one
    return named
