"""Laws of pairing, over arbitrary interleavings of stays, reads, losses and words."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from math import inf

from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.readers.detections import AFTER_S, BEFORE_S, HEARD_S, PASS_GAP_S
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

LINKS: dict[str, Position] = {"panel": "platform", "race": "ahead", "stick": "hand"}
TAGS = [TagCode(999, 100 + n) for n in range(4)]
STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)

seconds = st.floats(0.0, 1.0).map(lambda share: round(share, 3))


@dataclass(frozen=True)
class Day:
    """What happened: readers, (on, off) of the stays, (t, link, tag) of reads, (t, number, tag) of words."""

    readers: dict[str, Position]
    stays: list[tuple[float, float]]
    reads: list[tuple[float, str, TagCode]]
    words: list[tuple[float, int, TagCode | None]]
    downs: list[tuple[float, str, bool]]


@st.composite
def days(draw: st.DrawFn, links: frozenset[str] | None = None) -> Day:
    links = links or draw(st.frozensets(st.sampled_from(sorted(LINKS)), min_size=1))
    t, stays = 0.0, []
    for _ in range(draw(st.integers(1, 7))):
        on = t + draw(st.sampled_from([0.0, 0.3, 2.0, 6.0, 80.0, 700.0]))
        t = on + draw(st.sampled_from([0.8, 3.0, 9.0, 70.0]))
        stays.append((on, t))
    end = t + 20.0
    link = st.sampled_from(sorted(links))
    bursts = draw(
        st.lists(
            st.tuples(seconds, link, st.sampled_from(TAGS), st.integers(1, 12), st.sampled_from([0.1, 0.7, 5.0, 40.0]))
        )
    )
    reads = [(at * end + n * step, name, tag) for at, name, tag, count, step in bursts for n in range(count)]
    for on, off in stays:  # mostly a stay has a tag that is heard well
        if (tag := draw(st.sampled_from([None, *TAGS]))) is not None:
            name = draw(link)
            reads += [(on + (off - on) * n / 9, name, tag) for n in range(1, 9)]
    words = [
        (stays[number - 1][1] + at * 30, number, tag)
        for at, number, tag in draw(
            st.lists(
                st.tuples(seconds, st.integers(1, len(stays)), st.sampled_from([None, *TAGS])),
                max_size=2,
            )
        )
    ]
    downs = [
        (at * end, name, up) for at, name, up in draw(st.lists(st.tuples(seconds, link, st.booleans()), max_size=4))
    ]
    return Day(
        {name: LINKS[name] for name in sorted(links)}, stays, sorted(reads, key=lambda one: one[0]), words, downs
    )


def day_of(
    readers: str,
    stays: list[tuple[float, float]],
    reads: list[tuple[float, str, int]],
    *words: tuple[float, int, int | None],
) -> Day:
    """Write a day down in short: tags by their place in `TAGS`."""
    told: list[tuple[float, int, TagCode | None]] = [
        (t, number, None if tag is None else TAGS[tag]) for t, number, tag in words
    ]
    return Day(
        {link: LINKS[link] for link in readers.split()},
        stays,
        [(t, link, TAGS[tag]) for t, link, tag in reads],
        told,
        [],
    )


CAME_UP_BEFORE_TWO_WORDS = day_of(
    "panel",
    [(0.0, 70.0), (70.0, 70.8), (70.8, 71.6), (71.6, 72.4)],
    [(0.0, "panel", 0), (46.2, "panel", 3)],
    (70.0, 1, 3),
    (72.4, 4, 3),
)
"""A person moves a tag from the first to the fourth; it was heard in neither the second nor the third."""
REOPENED_BY_A_WORD = day_of(
    "panel",
    [(163.0, 163.8), (163.8, 233.8), (235.8, 238.8), (244.8, 314.8), (314.8, 323.8), (323.8, 326.8)],
    [(116.3, "panel", 0), (128.4, "panel", 1), (179.4, "panel", 2), (208.4, "panel", 1), (324.1, "panel", 0)],
    (331.7, 4, 0),
)
"""A final stay loses its tag to a word."""
HEARD_AFTER_THE_NEXT = day_of(
    "panel stick", [(242.6, 243.4), (245.4, 248.4)], [(159.9, "panel", 3), (248.7, "stick", 0)]
)
"""The first is given what was read after the second; the second must not have it too once the first is final."""
HEARD_ON_INTO_THE_NEXT = day_of(
    "panel",
    [(6.0, 76.0), (78.0, 78.8), (158.8, 161.8)],
    [
        *((t, "panel", 0) for t in (0.0, 5.0, 10.0)),
        *((43.9956, "panel", 2), (45.45, "panel", 0)),
        *((43.9956 + 5 * n, "panel", 2) for n in range(1, 9)),
    ],
    (106.0, 1, 2),
)
"""The second is given a tag that the first had for longest, until a person says so: what it keeps is its own share."""
HEARD_IN_A_LATER_STAY = day_of(
    "panel stick", [(0.0, 3.0), (5.0, 8.0), (8.0, 78.0)], [(13.4, "stick", 1), (36.3, "stick", 2)], (30.7, 2, 3)
)

SAID_AND_TAKEN_BACK = day_of(
    "panel",
    [(0.0, 3.0), (3.3, 4.1), (6.1, 6.9), (6.9, 7.7), (7.7, 8.5), (8.5, 17.5)],
    sorted(
        [
            *((n / 3, "panel", 1) for n in range(1, 9)),
            (2.325, "panel", 0),
            *((3.3 + 0.8 * n / 9, "panel", 2) for n in range(1, 9)),
        ]
    ),
    (3.0, 1, 0),
    (33.0, 1, None),
)
"""A final stay is said to have no tag after all: the tag said first was not used up by what was heard."""

TAUGHT_BY_A_WORD = day_of(
    "panel",
    [(0.0, 0.8), (2.8, 5.8), (7.8, 8.6), (8.6, 9.4), (9.4, 10.2), (10.2, 80.2)],
    sorted(
        [
            *((0.8 * n / 9, "panel", 1) for n in range(1, 9)),
            *((t, "panel", 0) for t in (0.0, 6.2124)),
            *((2.8 + n / 3, "panel", 2) for n in range(1, 9)),
        ]
    ),
    (0.8, 1, 0),
    (30.8, 1, None),
)
"""What the first word taught of the reader makes the third a little surer than it would have been."""


ENDS, READ, BEGINS, WORD, LINK = range(5)
"""What happens at one moment, in this order: a stay ends before the next begins."""


@dataclass(frozen=True)
class Changed:
    """A verdict that a word on another stay changed: when, the tag held before, what was known of the readers then."""

    t: float
    held: TagCode | None
    verdict: Verdict
    habits: dict[str, dict[str, float]]


def verdicts(
    day: Day,
    changed_by_word: list[Changed] | None = None,
    until: float = inf,
    habits: dict[str, dict[str, float]] | None = None,
) -> list[Verdict]:
    """Return every verdict in the order in which they were given; those before a time, when nothing later happened.

    In `changed_by_word` those are gathered that a word on another stay changed at once.  `habits`: what is known of the
    readers from the beginning.
    """
    pairing = Pairing(day.readers, habits=habits or {})
    steps: list[tuple[float, int, tuple[object, ...]]] = [(t, READ, (link, tag)) for t, link, tag in day.reads]
    for number, (on, off) in enumerate(day.stays, 1):
        steps += [(on, BEGINS, (number,)), (off, ENDS, (number,))]
    steps += [(t, WORD, (number, tag)) for t, number, tag in day.words]
    steps += [(t, LINK, (link, up)) for t, link, up in day.downs]
    told: list[Verdict] = []
    for t, kind, what in sorted(steps, key=lambda step: step[:2]):
        if t > until:
            return told + pairing.settle(until)
        while (due := pairing.due) is not None and due <= t:
            told += pairing.settle(due)
        match kind, what:
            case 0, (int(number),):
                told += pairing.ended(number, t)
            case 1, (str(link), TagCode() as tag):
                pairing.read(t, link, tag)
            case 2, (int(number),):
                pairing.began(number, t)
            case 3, (int(number), None | TagCode() as word):
                told += pairing.settle(t)
                held = {verdict.number: verdict.code for verdict in told}
                known = pairing.habits
                changed = pairing.word(t, number, word)
                told += changed
                if changed_by_word is not None:
                    others = [one for one in changed if one.number != number]
                    changed_by_word += [Changed(t, held[one.number], one, known) for one in others]
            case 4, (str(link), bool(up)):
                pairing.link(t, link, up=up)
    while (due := pairing.due) is not None:
        told += pairing.settle(due)
    return told


@settings(max_examples=120, deadline=None)
@given(days())
def test_every_stay_has_a_verdict_at_its_end_and_none_before(day: Day) -> None:
    counted = Counter(verdict.number for verdict in verdicts(day))
    assert set(counted) == set(range(1, len(day.stays) + 1))


def _silent(day: Day, before: float, after: float) -> bool:
    """A pass can end between two reads: in a minute's silence, or in one that another's whole stay lies in."""
    last = before - HEARD_S + AFTER_S
    return after - before >= PASS_GAP_S - HEARD_S or any(last < on and off < after for on, off in day.stays)


@settings(max_examples=150, deadline=None)
@given(days())
@example(HEARD_AFTER_THE_NEXT)
@example(HEARD_IN_A_LATER_STAY)
@example(HEARD_ON_INTO_THE_NEXT)
def test_no_read_counts_for_two_stays_and_no_pass_stands_on_two(day: Day) -> None:
    final = {verdict.number: verdict for verdict in verdicts(day)}
    for tag in TAGS:
        times = [t for t, _, read in day.reads if read == tag]
        holders = [one for one in final.values() if one.code == tag]
        assert sum(one.reads for one in holders) <= len(times)
        by_reads = [one for one in holders if Flag.BY_PERSON not in one.flags]
        silences = sum(1 for before, after in pairwise(times) if _silent(day, before, after))
        assert len(by_reads) <= silences + 1


@settings(max_examples=100, deadline=None)
@given(days())
def test_a_verdict_without_a_tag_says_why_and_one_with_a_tag_never_says_that_there_is_none(day: Day) -> None:
    for verdict in verdicts(day):
        if verdict.code is None:
            assert Flag.NO_TAG in verdict.flags or verdict.flags[0] is Flag.TWO_TAGS
        else:
            assert not {Flag.NO_TAG, Flag.TWO_TAGS, Flag.TAG_ELSEWHERE} & set(verdict.flags)
        assert verdict.rule


@settings(max_examples=60, deadline=None)
@given(days())
def test_a_persons_last_word_on_a_stay_stands(day: Day) -> None:
    final = {verdict.number: verdict for verdict in verdicts(day)}
    if len(day.words) == 1:
        ((_, number, tag),) = day.words
        assert final[number].code == tag
        assert Flag.BY_PERSON in final[number].flags


@settings(max_examples=150, deadline=None)
@given(days(frozenset({"panel"})))
@example(CAME_UP_BEFORE_TWO_WORDS)
@example(REOPENED_BY_A_WORD)
@example(SAID_AND_TAKEN_BACK)
@example(TAUGHT_BY_A_WORD)
def test_a_persons_word_gives_no_neighbour_a_tag_not_heard_in_its_own_stay(day: Day) -> None:
    """At once; what becomes of those beside it later is in tests/bridge/station/tags/test_pairing_table.py.

    A tag that a stay would have anyway, had nobody spoken, it may have back: a word taken back leaves no trace
    but for what it taught of the readers.  So what would be is asked of a reader as it was known at first, and by then.
    """
    changed: list[Changed] = []
    verdicts(day, changed)
    for one in changed:
        number = one.verdict.number
        on, off = day.stays[number - 1]
        heard = {tag for at, _, tag in day.reads if on - BEFORE_S <= at <= off + AFTER_S}
        silent = replace(day, words=[])
        unsaid = [*verdicts(silent, until=one.t), *verdicts(silent, until=one.t, habits=one.habits)]
        assert one.verdict.code in {None, one.held, *heard, *(had.code for had in unsaid if had.number == number)}
