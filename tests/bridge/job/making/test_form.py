"""A sheet as a form: what a person wrote stays, what the form says is what the text reads."""

import tomllib
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.job.making.blocks import cut, place_of
from neckyoke.bridge.job.making.form import form_of, written

TEXT = """\
# what we do with the weaners
title = "Weaning"  # as on the board
mob = "north"

[details]
breed = "dairy cross"

# by the label: 1 mL for 10 kg
[[treatments]]
name = "oral drench"
ml_per_kg = 0.10   # the label's
withhold_days = 14
expires = 2027-01-01

# the vaccine of the vet
[[treatments]]
name = "clostridial"
ml = 2

[[draft]]
pen = "heavy"  # by the race
at_least_kg = 300
[draft.match]
sex = ["steer"]

# all others
[[draft]]
pen = "rest"
"""
WORDS = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=12).filter(str.strip)
NUMBERS = st.integers(1, 500) | st.floats(0.01, 500, allow_nan=False)
TREATMENTS = st.fixed_dictionaries(
    {"name": WORDS},
    optional={"ml": NUMBERS, "withhold_days": st.integers(0, 90), "batch": WORDS, "expires": st.dates().map(str)},
)
FINDINGS = st.fixed_dictionaries(
    {"name": WORDS},
    optional={
        "choices": st.lists(WORDS | st.integers(0, 9) | st.booleans(), min_size=1, max_size=4),
        "number": st.fixed_dictionaries({"from": NUMBERS, "to": NUMBERS}),
        "needed": st.booleans(),
    },
)
PENS = st.fixed_dictionaries(
    {"pen": WORDS},
    optional={
        "at_least_kg": NUMBERS,
        "match": st.dictionaries(WORDS, st.lists(WORDS, min_size=1, max_size=2), max_size=2),
    },
)
FORMS = st.fixed_dictionaries(
    {"title": WORDS},
    optional={
        "mob": WORDS,
        "details": st.dictionaries(WORDS, WORDS | NUMBERS | st.booleans(), max_size=3),
        "treatments": st.lists(TREATMENTS, max_size=3),
        "findings": st.lists(FINDINGS, max_size=2),
        "draft": st.lists(PENS, max_size=3),
    },
)


def _filled(form: dict[str, Any]) -> dict[str, Any]:
    """Return a form without places and without what is empty: the reference beside the text's own reading."""
    return {
        key: [{name: value for name, value in table.items() if name != "was"} for table in value]
        if isinstance(value, list)
        else value
        for key, value in form.items()
        if value not in ([], {})
    }


def _read(text: str) -> dict[str, Any]:
    return _filled(form_of(text))


def test_what_is_as_it_was_stays_to_the_byte() -> None:
    assert written(TEXT, form_of(TEXT)) == TEXT


def test_one_change_changes_one_line() -> None:
    form = form_of(TEXT)
    form["treatments"][0]["withhold_days"] = 21

    assert written(TEXT, form) == TEXT.replace("withhold_days = 14", "withhold_days = 21")


def test_a_table_takes_its_comments_along_and_the_others_keep_theirs() -> None:
    form = form_of(TEXT)
    form["treatments"].reverse()
    del form["draft"][0]

    made = written(TEXT, form)

    assert made.index("# the vaccine of the vet") < made.index("clostridial") < made.index("# by the label")
    assert made.index("# by the label") < made.index("oral drench") < made.index("# all others")
    assert "# by the race" not in made
    assert "# as on the board" in made


def test_new_tables_stand_apart() -> None:
    form = form_of(TEXT)
    form["treatments"].append({"name": "bolus", "amount": 2, "unit": "bolus", "expires": "2027-02-01"})
    form["findings"] = [{"name": "condition", "number": {"from": 1, "to": 5, "step": 0.5}}]

    made = written(TEXT, form)

    assert (
        'ml = 2\n\n[[treatments]]\nname = "bolus"\namount = 2\nunit = "bolus"\nexpires = 2027-02-01\n\n[[draft]]'
        in made
    )
    assert made.endswith('[[findings]]\nname = "condition"\nnumber = {from = 1, to = 5, step = 0.5}\n')


@example({"title": "Weaning", "details": {"was": "thin"}})  # a detail of ours called as a table's place is
@settings(deadline=None)
@given(FORMS)
def test_a_new_sheet_reads_as_its_form(form: dict[str, Any]) -> None:
    assert _read(written("", form)) == _filled(form)


@settings(deadline=None)
@given(FORMS, FORMS)
def test_any_form_can_be_put_into_any_sheet(before: dict[str, Any], after: dict[str, Any]) -> None:
    assert _read(written(written("", before), after)) == _filled(after)


@settings(deadline=None)
@given(form=FORMS, order=st.permutations(range(2)), more=st.booleans())
def test_comments_of_tables_that_stay_are_kept(form: dict[str, Any], order: list[int], *, more: bool) -> None:
    now = form_of(TEXT)
    now["treatments"] = [now["treatments"][at] for at in order] + (form.get("treatments", []) if more else [])
    now["title"] = form["title"]

    made = written(TEXT, now)

    assert _read(made) == _filled(now)
    for comment in (line[line.index("#") :] for line in TEXT.splitlines() if "#" in line):
        assert comment in made


@pytest.mark.parametrize(
    "text",
    [
        'title = "a"\ntreatments = [{ name = "x", ml = 1 }]\n',
        'title = "a"\nmob = """\n[[draft]]\n"""\n',
        'title = "a"\ndetails.breed = "b"\n[[draft]]\npen = "p"\n[draft.match]\nsex = ["cow"]\n',
        'title = "a"\n[[draft]]\npen = "p"\nmatch = { sex = [\n  "cow",\n] }\n[details]\nx = 1\n[[draft]]\npen = "q"\n',
        '[[treatments]]\nname = "x"\nml = 1\r\n\r\n[details]\r\nbreed = "b"\r\n',
        "",
        "# nothing but this",
    ],
)
def test_other_ways_to_write_a_sheet_are_kept_too(text: str) -> None:
    form = form_of(text)
    assert written(text, form) == text

    form["leaving"] = "meat"
    form["treatments"] = [*form.get("treatments", []), {"name": "y", "ml": 2}]

    assert _read(written(text, form)) == _filled(form)


@pytest.mark.parametrize(
    ("form", "what"),
    [
        ({"titel": "x"}, "Did you mean 'title'?"),
        ({"path": "/etc/passwd"}, "unknown key 'path'"),
        ({"title": ["x"]}, "title: one text, number or yes-or-no"),
        ({"title": None}, "title: one text"),
        ({"treatments": {"name": "x"}}, "treatments is a list of at most 100 tables"),
        ({"treatments": ["x"]}, "treatments has tables"),
        ({"treatments": [{"was": "0"}]}, "was is a whole number"),
        ({"draft": [{"pen": "p", "match": {"a": {"b": {"c": 1}}}}]}, "draft.match: one text"),
        ({"details": {"a\nb": 1}}, "line breaks are not allowed"),
        ({"title": "\ud800"}, "surrogates not allowed"),
        ({"limits": {"kg_per_day": 10**30}}, "limits.kg_per_day"),
    ],
)
def test_what_is_no_form_is_said(form: dict[str, Any], what: str) -> None:
    with pytest.raises(ValueError, match=what.replace("?", r"\?")):
        written("", form)


def test_a_line_is_found_in_its_table() -> None:
    lines = TEXT.splitlines()
    assert place_of(TEXT, lines.index("ml = 2") + 1) == ("treatments", 1)
    assert place_of(TEXT, lines.index('sex = ["steer"]') + 1) == ("draft", 0)
    assert place_of(TEXT, 2) is None
    assert place_of(TEXT, 999) is None
    assert place_of("[[", 1) is None


@settings(deadline=None)
@given(FORMS)
def test_blocks_joined_are_the_text(form: dict[str, Any]) -> None:
    text = written("", form)
    assert "".join(block.text for block in cut(text)) == text
    assert tomllib.loads(text)
