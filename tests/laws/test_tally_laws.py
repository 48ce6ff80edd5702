"""What holds for every weighing there is: the quick way to read a line and the long one agree."""

import json
from datetime import UTC, datetime
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Finding, Flag, Gain, Tag, Treatment, Weighing, Weight, wrap
from neckyoke.bridge.reports.reading import read_line
from neckyoke.bridge.reports.rows import brief_row, row_of
from neckyoke.bridge.reports.tally import tally

NASTY = st.sampled_from(
    ['"', '\\"', "},", '{"', ',"details":{', '},"treatments":[', '],"gain":', ',"notes":[', ',"pen":', "\u2028", "'"]
)
TEXT = st.lists(st.one_of(NASTY, st.text(max_size=4)), max_size=4).map("".join)
KEY = st.one_of(TEXT, st.sampled_from(["details", "treatments", "pen", "gain", "flags", "tag", "visual", "kg_per_day"]))
VALUE = st.one_of(TEXT, st.integers(-9, 9), st.floats(-9, 9), st.booleans(), st.none())
NESTED = st.one_of(VALUE, st.lists(VALUE, max_size=2), st.dictionaries(KEY, VALUE, max_size=2))
KG = st.one_of(st.none(), st.floats(0, 3000))
TAG = st.builds(
    Tag,
    id=st.from_regex(r"[0-9]{15}", fullmatch=True),
    code=st.just("999"),
    national=st.just("000000112233"),
    animal=st.booleans(),
    link=st.one_of(st.none(), TEXT),
    remarks=st.lists(TEXT, max_size=2).map(tuple),
)
WEIGHING = st.builds(
    Weighing,
    weighing=st.uuids().map(str),
    revision=st.integers(1, 9),
    station=st.sampled_from(["crush", "race"]),
    number=st.integers(1, 99),
    job_number=st.one_of(st.none(), st.integers(1, 99)),
    tag=st.one_of(st.none(), TAG),
    weight=st.builds(Weight, kg=KG, grade=st.sampled_from(["good", "fair", "poor", "none"]), first_kg=KG),
    on=st.just(datetime(2026, 11, 24, tzinfo=UTC)),
    settled=st.sampled_from([None, datetime(2026, 11, 24, tzinfo=UTC)]),
    off=st.just(datetime(2026, 11, 24, tzinfo=UTC)),
    clock=st.sampled_from(Clock),
    flags=st.lists(st.sampled_from(Flag), max_size=3).map(tuple),
    sheet=st.one_of(st.none(), TEXT),
    animal=st.one_of(st.none(), st.dictionaries(KEY, NESTED, max_size=3)),
    details=st.dictionaries(KEY, NESTED, max_size=3),
    treatments=st.lists(
        st.builds(Treatment, name=TEXT, dose_ml=KG, skipped=st.booleans(), batch=st.one_of(st.none(), TEXT)), max_size=2
    ).map(tuple),
    gain=st.one_of(
        st.none(),
        st.builds(
            Gain, kg=st.floats(-9, 9), days=st.integers(1, 99), since=st.just("2026-01-02"), kg_per_day=KG, remark=TEXT
        ),
    ),
    pen=st.one_of(st.none(), TEXT),
    notes=st.lists(TEXT, max_size=2).map(tuple),
    findings=st.lists(
        st.builds(
            Finding,
            name=TEXT,
            value=st.one_of(TEXT, st.integers(0, 9), st.booleans(), st.lists(TEXT, max_size=2)),
            by=st.sampled_from(["person", "usual"]),
            at=st.sampled_from([None, datetime(2026, 11, 24, tzinfo=UTC)]),
        ),
        max_size=2,
    ).map(tuple),
)


def spelled(row: Any) -> Any:
    """Take a row apart for comparison: settings are told apart by what they say."""
    setting = row.setting
    parts = [getattr(setting, name) for name in ("station", "grade", "flags", "sheet", "details", "treatments", "pen")]
    return [*row._replace(setting=None), *parts]


@settings(deadline=None, max_examples=300)
@given(WEIGHING)
def test_the_quick_way_gives_what_the_long_way_gives_or_leaves_it_to_it(weighing: Weighing) -> None:
    line = wrap(weighing, site="larkmoor", time=weighing.off, key="1").to_json()
    data = read_line(line)
    assert data is not None
    assert data == json.loads(line)["data"]
    found = brief_row(line)
    if found is not None:
        assert found[0] == data["weighing"]
        assert spelled(found[1]) == spelled(row_of(data))


@settings(deadline=None, max_examples=50)
@given(WEIGHING.filter(lambda one: one.animal is None or all(isinstance(v, str) for v in one.animal.values())))
def test_the_quick_way_is_taken_where_nothing_is_nested(weighing: Weighing) -> None:
    plain = weighing.model_copy(update={"details": {"sex": "steer", "note": '},"treatments":["'}})
    assert brief_row(wrap(plain, site="larkmoor", time=plain.off, key="1").to_json()) is not None


@settings(deadline=None, max_examples=50)
@given(st.lists(WEIGHING, max_size=6))
def test_lines_and_events_tally_the_same(weighings: list[Weighing]) -> None:
    events = [wrap(one, site="larkmoor", time=one.off, key=str(i)) for i, one in enumerate(weighings)]
    by_line = tally([event.to_json() for event in events])
    assert by_line.counts == tally(events).counts
    assert by_line.weight == tally(events).weight
    assert by_line.treatments == tally(events).treatments
    assert by_line.by_finding == tally(events).by_finding
