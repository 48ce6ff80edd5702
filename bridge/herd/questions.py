"""What the box asks of a person when it cannot tell which animal is meant, and what they replied.

A question is about one stay, or about a request that could not be done without more.  Each choice has an effect; until
one is chosen nothing changes.  What was asked and replied outlives a restart: the journal keeps it by `changes`.
"""

import json
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from types import MappingProxyType
from typing import Any

from neckyoke.bridge.animal_event import Question

KEPT = 200
"""Questions remembered, answered or not; the oldest is let go."""
VALUE = "question/"

Effect = Mapping[str, str]
"""What a choice does: `do` is retag, name, is, new, all-new, apart or ask; the other keys say with what."""
APART: Effect = MappingProxyType({"do": "apart"})
NEW: Effect = MappingProxyType({"do": "new"})


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, what each choice does, and the reply, if there was one.

    `weighing` is the stay it is about, `visual` the number that a person read then.
    """

    id: str
    text: str
    effects: Mapping[str, Effect] = field(default_factory=dict)
    station: str | None = None
    weighing: str | None = None
    visual: str | None = None
    reply: str | None = None

    @property
    def question(self) -> Question:
        """The question as it is published."""
        return Question(id=self.id, text=self.text, choices=tuple(self.effects))

    @property
    def effect(self) -> Effect | None:
        """What the reply does; None while there is none."""
        return None if self.reply is None else self.effects[self.reply]

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON has it."""
        effects = {choice: dict(effect) for choice, effect in self.effects.items()}
        return {**asdict(replace(self, effects={})), "effects": effects}

    def choice(self, text: str) -> str | None:
        """Find the choice that a person means: whole, or by a beginning that no other has."""
        word = text.strip().casefold()
        whole = [one for one in self.effects if one.casefold() == word]
        found = whole or [one for one in self.effects if one.casefold().startswith(word)]
        return found[0] if len(found) == 1 else None


class Questions:
    """The questions asked of late."""

    def __init__(self, values: Mapping[str, str] = MappingProxyType({})) -> None:
        kept = [json.loads(body) for name, body in values.items() if name.startswith(VALUE)]
        self._asked: OrderedDict[str, Asked] = OrderedDict()
        self._turn = 0
        self._turns: dict[str, int] = {}
        self._changes: dict[str, str | None] = {}
        for one in sorted(kept, key=lambda one: one["turn"]):
            asked = Asked(**one["asked"])
            self._asked[asked.id] = asked
            self._turns[asked.id] = self._turn = one["turn"]

    def get(self, name: str) -> Asked | None:
        """Return a question by its id."""
        return self._asked.get(name)

    def asked(self, name: str | None) -> Asked | None:
        """Return a question by its id; without one, the last that waits for a reply."""
        return self._asked.get(name) if name else next(reversed(self.open()), None)

    def open(self, station: str | None = None) -> list[Asked]:
        """Return the questions without a reply, the latest last; of one station, or of all."""
        return [one for one in self._asked.values() if one.reply is None and station in {None, one.station}]

    def ask(self, asked: Asked) -> bool:
        """Ask; return whether it was not asked before."""
        if asked.id in self._asked:
            return False
        self._turn += 1
        self._turns[asked.id] = self._turn
        self._keep(asked)
        while len(self._asked) > KEPT:
            old, _ = self._asked.popitem(last=False)
            del self._turns[old]
            self._changes[VALUE + old] = None
        return True

    def turns(self) -> list[tuple[int, Asked]]:
        """Return the questions without a reply, each with its turn, the latest last."""
        return [(self._turns[one.id], one) for one in self.open()]

    def put_back(self, asked: Asked, turn: int) -> bool:
        """Ask again what was asked no more, in its old turn; return whether nothing else is asked of its stay."""
        if asked.id in self._asked or any(one.weighing == asked.weighing for one in self.open()):
            return False
        self._turns[asked.id] = turn
        self._keep(asked)
        self._asked = OrderedDict(sorted(self._asked.items(), key=lambda one: self._turns[one[0]]))
        return True

    def close(self, name: str, choice: str | None) -> Asked:
        """Take the reply to a question; None takes it back."""
        asked = replace(self._asked[name], reply=choice)
        self._keep(asked)
        return asked

    def drop(self, weighing: str, but: str | None = None) -> list[Asked]:
        """Forget the open questions about a stay that are to be asked no more; return them."""
        gone = [one for one in self.open() if one.weighing == weighing and one.id != but]
        for one in gone:
            self.forget(one.id)
        return gone

    def forget(self, name: str) -> None:
        """Forget a question."""
        del self._asked[name], self._turns[name]
        self._changes[VALUE + name] = None

    def _keep(self, asked: Asked) -> None:
        self._asked[asked.id] = asked
        self._changes[VALUE + asked.id] = json.dumps({"turn": self._turns[asked.id], "asked": asked.as_json()})

    def changes(self) -> dict[str, str | None]:
        """Return what the journal does not know yet, by name; None takes a name out."""
        changes, self._changes = self._changes, {}
        return changes
