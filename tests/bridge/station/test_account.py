"""Who was weighed under which sheet: the account that station and clerk share."""

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.station.account import JOBS_KEPT, Account
from neckyoke.bridge.station.record import Record, claims

A, B = "999000000112233", "999000000112234"


def record(weighing: str, job: str | None = None, **known: object) -> Record:
    made = Record("crush", 1, weighing, 0.0, job)
    for name, value in known.items():
        setattr(made, name, value)
    return made


def test_an_animal_is_counted_by_tag_and_ear_or_by_its_weighing() -> None:
    assert claims("w1", A, "47") == (A, "visual 47")
    assert claims("w1", None, " 00 47a") == ("visual 47A".casefold(),)
    assert claims("w1", None, None) == ("w1",)


def test_who_has_a_name_first_keeps_it_until_they_are_freed() -> None:
    account = Account()
    account.count("w1", (A, "visual 47"), None)
    account.count("w2", (A, "visual 48"), None)
    assert account.weighed == {A: "w1", "visual 47": "w1"}, "the second is the same animal: its ear was misread"
    account.count("w1", (B,), None)
    account.count("w2", (A, "visual 48"), None)
    assert account.weighed == {B: "w1", A: "w2", "visual 48": "w2"}


def test_an_earlier_jobs_account_is_kept_up_and_gone_on_with() -> None:
    account = Account()
    account.begin("1")
    account.take(record("w1", "1", visual="47"))
    first = account.weighed
    account.begin("2")
    assert (dict(account.weighed), first["visual 47"]) == ({}, "w1")
    account.take(record("w1", "1", visual="49"))
    assert (dict(account.weighed), dict(first)) == ({}, {"visual 49": "w1"})
    account.begin("1")
    assert dict(account.weighed) == {"visual 49": "w1"}, "an ended job that is opened again"
    account.free(record("w1", "1"))
    assert first == {}
    for job in range(JOBS_KEPT):
        account.begin(f"later {job}")
    account.take(record("w1", "1", visual="47"))
    assert account.of("1") == {}
    assert JOBS_KEPT == 6
    assert [*account.jobs] == [f"later {job}" for job in range(JOBS_KEPT)]


def test_what_is_carried_over_has_the_present_job_last() -> None:
    account = Account({"1": {A: "w1"}, "2": {A: "w2"}})
    assert (account.job, dict(account.weighed), dict(account.of("1"))) == ("2", {A: "w2"}, {A: "w1"})
    assert (Account().job, dict(Account().weighed), Account().jobs) == ("", {}, {"": {}})


def test_what_was_recorded_while_a_job_was_paused_claims_nothing() -> None:
    account = Account()
    account.take(record("w1", None, visual="47", paused=True))
    assert account.of(None) == {}


NAMES = st.sampled_from([A, B, "visual 47", "visual 48"])


@given(st.lists(st.tuples(st.sampled_from(["w1", "w2", "w3"]), st.lists(NAMES, unique=True, max_size=2))))
def test_nobody_counted_is_lost_and_nobody_keeps_a_name_taken_from_them(told: list[tuple[str, list[str]]]) -> None:
    account = Account()
    for weighing, names in told:
        account.count(weighing, names, None)
        assert not names or names[0] in account.weighed
        assert {name for name, of in account.weighed.items() if of == weighing} <= set(names)
        assert Account(account.jobs).weighed == account.weighed, "carried over as it is"


def test_counted_again_who_came_first_has_a_name_and_who_still_stands_there_has_none() -> None:
    account = Account()
    late, first = record("w2", number=2, visual="47", off=29.0), record("w1", number=1, visual="47", off=9.0)
    standing = record("w3", number=3, visual="48")
    for one in (late, first, standing):
        account.take(one)
    assert account.weighed == {"visual 47": "w2", "visual 48": "w3"}
    account.again(iter([late, standing, first]))
    assert account.weighed == {"visual 47": "w1"}
    account.forget("w1")
    assert account.weighed == {}
