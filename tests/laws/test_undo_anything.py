"""Whatever is asked and taken back was never asked: any request, of any animal, standing or gone, among other things.

A law of our own (README, "In the yards").  A day is drawn: what was said before, one request, what came between it and
its undo, what came after.  The same day without the request and its undo must end the same: weighings with their
animals, neighbours, pens and doses, the jobs with their tallies, the herd book, and what is asked.  What comes between
is of other animals than the request's, but for their being weighed, and of other matters than the job's, where the
request is of the job: what depends on a request cannot stay as it was without it.
"""

from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import event, example, given, settings
from hypothesis import strategies as st

from tests.laws.test_undo_laws import TAGS, begun, seen
from tests.support.crush import LAMBS, Crush

Word = dict[str, Any]
Step = Word | int | str
"""A word; an animal that is weighed, from 0; `stop` and `wait`; `back`: the last word of the steps is taken back."""
GROUPS = ((1, 2, 3, 4), (0, 5))
"""Animals that have nothing to do with each other: 3 and 4 were merged, 0 and 5 wear one visual number."""
NEW = (("999000000112233", "105"), ("999000000445566", "107"))
"""What only one of the groups is given: a tag, and a number on the ear."""
JOB: tuple[Word, ...] = (
    {"kind": "begin"},
    {"kind": "begin", "bare": True},
    {"kind": "begin", "text": LAMBS},
    {"kind": "pause"},
    {"kind": "end"},
    {"kind": "sheet", "text": LAMBS},
    {"kind": "batch", "treatment": "drench", "batch": "B-2"},
    {"kind": "resume"},
    {"kind": "resume", "job": "1"},
    {"kind": "resume", "from": 2},
)
JOB_KINDS = {word["kind"] for word in JOB}


def of_stay(group: int) -> st.SearchStrategy[Word]:
    """Draw what is said of an animal at the crush."""
    tag, visual = NEW[group]
    tags = st.sampled_from([tag, *(TAGS[at] for at in GROUPS[group])])
    return st.one_of(
        st.sampled_from(
            [
                {"kind": "note", "text": "lame"},
                {"kind": "void"},
                {"kind": "skip", "treatment": "drench"},
                {"kind": "skip", "treatment": "drench", "given": True},
                {"kind": "dose", "treatment": "drench", "amount": 3},
                {"kind": "dose", "treatment": "drench", "batch": "B-1"},
                {"kind": "finding", "name": "condition", "value": 2},
                {"kind": "finding", "name": "condition"},
                {"kind": "finding", "name": "colour", "value": "red"},
                {"kind": "identify"},
                {"kind": "identify", "visual": visual},
                {"kind": "identify", "visual": "300"} if group else {"kind": "identify", "visual": "106"},
            ]
        ),
        st.fixed_dictionaries({"kind": st.just("identify"), "tag": tags}),
        st.fixed_dictionaries({"kind": st.just("identify"), "tag": tags, "visual": st.just(visual)}),
    )


def numbered(group: int) -> st.SearchStrategy[Word]:
    """Draw what is said of an animal that has left."""
    number = st.sampled_from([at + 1 for at in GROUPS[group]])
    said = st.one_of(of_stay(group), of_stay(group).map(lambda word: word | {"kind": "correct"}))
    fits = said.filter(lambda word: word["kind"] != "correct" or word.keys() & {"tag", "visual"})
    only = {"kind", "tag", "visual"}
    return st.builds(
        lambda word, n: {"number": n} | {k: v for k, v in word.items() if word["kind"] != "correct" or k in only},
        fits, number,
    )  # fmt: skip


def rows(*cells: tuple[str, ...]) -> Word:
    """Put rows as they are imported."""
    return {"header": ["tag", "visual", "sex"], "rows": {str(at): one for at, one in enumerate(cells, 2)}}


def of_herd(group: int) -> st.SearchStrategy[Word]:
    """Draw what is said to the herd book."""
    new, visual = NEW[group]
    tags = st.sampled_from([TAGS[at] for at in GROUPS[group]])
    kinds: list[dict[str, st.SearchStrategy[Any]]] = [
        {"kind": st.just("retag"), "was": tags, "tag": st.one_of(st.just(new), tags)},
        {"kind": st.just("name"), "tag": tags, "visual": st.sampled_from([visual, "106" if group == 0 else "300"])},
        {"kind": st.just("name"), "tag": tags, "sex": st.just("steer"), "lasting": st.just({"breed": "cross"})},
        {"kind": st.just("mark"), "tag": tags, "text": st.sampled_from(["vet", "keep back"])},
        {"kind": st.just("unmark"), "tag": tags},
        {"kind": st.just("merge"), "tag": tags, "other": tags},
        {"kind": st.just("split"), "tag": tags},
    ]
    drawn: list[st.SearchStrategy[Word]] = [st.fixed_dictionaries(dict(one)) for one in kinds]
    drawn.append(tags.map(lambda tag: {"kind": "import", **rows((tag, visual, "steer"), (new, "", "heifer"))}))
    replies = st.sampled_from(["yes", "no"]).map(lambda choice: {"kind": "reply", "choice": choice})
    return st.one_of(*drawn, *([replies] if group else []))


def steps(*groups: int, job: bool, most: int) -> st.SearchStrategy[list[Step]]:
    """Draw what happens: animals are weighed, and words are said of these groups, and of the job."""
    words = [one for group in groups for one in (numbered(group), of_herd(group))]
    said: list[st.SearchStrategy[Step]] = [st.integers(0, 5), st.sampled_from(["stop", "stop", "wait", "back"]), *words]
    return st.lists(st.one_of(*said, *([st.sampled_from(JOB)] if job else [])), max_size=most)


@dataclass
class Plan:
    """One day.  `stands`: the animal that stands there while the word is said, and whether when it is taken back."""

    before: list[Step]
    word: Word
    stands: tuple[int, bool] | None
    between: list[Step]
    after: list[Step]


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Draw one."""
    what = draw(st.sampled_from(["stay", "standing", "herd", "herd", "job"]))
    group = draw(st.integers(0, 1))
    stands = None
    if what == "standing":
        word: Word = draw(of_stay(group))
        stands = (draw(st.sampled_from(GROUPS[group])), draw(st.booleans()))
    else:
        word = draw({"stay": numbered(group), "herd": of_herd(group), "job": st.sampled_from(JOB)}[what])
    others = (0, 1) if what == "job" else (1 - group,)
    return Plan(
        draw(steps(0, 1, job=True, most=2)),
        word,
        stands,
        draw(steps(*others, job=what != "job", most=3)),
        draw(steps(0, 1, job=True, most=1)),
    )


@pytest.fixture(scope="session")
def seen_again(tmp_path_factory: pytest.TempPathFactory) -> Crush:
    """The morning that all days have, lived through once; each goes on from a twin of it."""
    return begun(tmp_path_factory.mktemp("crush")).again()


@dataclass
class Day:
    """A crush on which a plan is carried out."""

    crush: Crush
    asked: list[str] = field(default_factory=list)
    morning: str = ""
    """The question of the morning, to which replies are: the last one asked may be the request's."""

    def __post_init__(self) -> None:
        """Find it."""
        self.morning = self.crush.site.keeper.questions.open()[0].id

    def done(self, plan: Plan, *, said: bool) -> Crush | None:
        """Carry a plan out, with its word or without; None when that was refused."""
        for step in plan.before:
            self._step(step)
        asked = None
        if plan.stands:
            self.crush.on(plan.stands[0])
        if said:
            answer = self.crush.say(**plan.word)
            if not answer.done:
                return None
            asked = answer.asked
        else:
            self.crush.t += 1.0  # as long as it took to say
        if plan.stands and plan.stands[1]:
            self._back(asked)
        if plan.stands:
            self.crush.off(plan.stands[0])
        for step in plan.between:
            self._step(step)
        if not (plan.stands and plan.stands[1]):
            self._back(asked)
        for step in plan.after:
            self._step(step)
        self.crush.wait(1200.0)
        self.crush.say("end")
        return self.crush.again()

    def _back(self, asked: str | None) -> None:
        if asked is None:
            self.crush.t += 1.0
            return
        answer = self.crush.say("undo", asked=asked)
        assert answer.done, answer.text

    def _step(self, step: Step) -> None:
        match step:
            case int():
                self.crush.weigh(step, step + 1)
            case "stop":
                self.crush = self.crush.stopped()
            case "wait":
                self.crush.wait(1200.0)
            case "back":
                if self.asked:
                    self.crush.say("undo", asked=self.asked.pop())
            case dict():
                answer = self.crush.say(**step, **({"question": self.morning} if step["kind"] == "reply" else {}))
                if answer.asked is not None:
                    self.asked.append(answer.asked)


def told_of(crush: Crush, plan: Plan) -> dict[str, Any]:
    """Return all that is to be the same: how sure a tag is rests on what the readers taught while the word stood.

    So does how often a tag was read, of an animal that stood there: after a stop it is known up to the word only.
    Jobs are told apart by their order: a turn that was given is not given again, nor its id.
    """
    told_now = seen(crush)
    order = {job: at for at, job in enumerate(told_now["jobs"])}
    told_now["jobs"] = [*told_now["jobs"].values()]
    for one in told_now["weighings"].values():
        one["job"] = order.get(one["job"], one["job"])
    for one in told_now["weighings"].values():
        if one["tag"] is not None:
            assert 0 <= (one["tag"].pop("sure_percent") or 0) <= 100
            if plan.stands and "stop" in plan.between:
                assert (one["tag"].pop("reads") or 0) >= 0
    return told_now


ITS: Word = {"kind": "identify", "tag": TAGS[0]}
BESIDE: Word = {"kind": "identify", "number": 1, "tag": TAGS[5], "visual": "107"}
MERGED: Word = {"kind": "merge", "tag": TAGS[5], "other": TAGS[0]}
TO_105: Word = {"kind": "correct", "number": 3, "tag": NEW[0][0], "visual": "105"}
FACTS: Word = {"kind": "name", "tag": TAGS[0], "sex": "steer", "lasting": {"breed": "cross"}}
OTHERS: Word = {"kind": "identify", "tag": NEW[0][0]}
WORN: Word = {"kind": "retag", "was": TAGS[4], "tag": NEW[0][0]}
HEIFER: Word = {"kind": "import", **rows((NEW[0][0], "", "heifer"))}
DRENCHED: Word = {"kind": "dose", "treatment": "drench", "amount": 3}
NUMBERED: Word = {"kind": "import", **rows((TAGS[0], "107", "steer"))}


@pytest.mark.long
@example(Plan([{"kind": "identify", "number": 6, "visual": "107"}], BESIDE, None, [], []))
@example(Plan([{"kind": "identify", "number": 6, "tag": TAGS[5], "visual": "107"}], MERGED, None, [], []))
@example(Plan([], {"kind": "identify", "tag": TAGS[1]}, (1, False), [0, 0, 0], []))
@example(Plan([{"kind": "identify", "number": 2, "tag": TAGS[3]}], OTHERS, (1, False), ["back"], []))
@example(Plan([], {"kind": "identify", "tag": TAGS[1]}, (1, False), ["wait"], []))
@example(Plan([NUMBERED], FACTS, None, ["stop"], []))
@example(Plan([], {"kind": "identify", "number": 1, "tag": NEW[1][0], "visual": "107"}, None, ["stop"], []))
@example(Plan([], {"kind": "void", "number": 1}, None, ["stop"], []))
@example(Plan([], {"kind": "end"}, None, [TO_105, 1], []))
@example(Plan([], {"kind": "batch", "treatment": "drench", "batch": "B-2"}, None, [1, "stop"], []))
@example(Plan([], {"kind": "end"}, None, [1, "stop"], []))
@example(Plan([], {"kind": "identify", "tag": NEW[0][0]}, (1, False), ["stop"], []))
@example(Plan([], DRENCHED, (1, False), ["stop"], []))
@example(Plan([1], DRENCHED, (1, False), ["stop"], []))
@example(Plan([], DRENCHED | {"batch": "B-1"}, (1, False), ["stop"], []))
@example(Plan([], {"kind": "skip", "treatment": "drench"}, (1, False), ["stop"], []))
@example(Plan(["stop"], {"kind": "note", "number": 2, "text": "lame"}, None, [], [{**OTHERS, "number": 2}]))
@example(Plan([HEIFER], {**OTHERS, "visual": "105"}, (1, False), [{"kind": "reply", "choice": "yes"}], []))
@example(Plan([{**OTHERS, "number": 2}], OTHERS, (1, False), ["back"], []))
@example(Plan([WORN], HEIFER, None, [], []))
@example(Plan([{"kind": "identify", "number": 1, "tag": TAGS[0]}], ITS, (0, False), [], []))
@example(Plan([], {"kind": "begin"}, None, [], [{"kind": "begin"}, 1]))
@example(Plan([], OTHERS, (1, False), ["wait", 0], []))
@example(Plan([0], {"kind": "identify", "tag": TAGS[1]}, (1, False), [0], [0]))
@settings(deadline=None, max_examples=50)
@given(plans())
def test_any_request_taken_back_was_never_made(seen_again: Crush, plan: Plan) -> None:
    taken_back = Day(seen_again.twin()).done(plan, said=True)
    if taken_back is None:
        event("refused")
        return
    event(plan.word["kind"])
    never = Day(seen_again.twin()).done(plan, said=False)
    assert never is not None
    assert told_of(taken_back, plan) == told_of(never, plan)
