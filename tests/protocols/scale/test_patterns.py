"""Patterns that could take for ever are told from those that cannot, and lines are found that are hard for them."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.protocols.scale.builtin import BUILT_IN, LayoutError, layout_from_table
from neckyoke.protocols.scale.patterns import hard_lines, nests_repetition

NESTED = [
    "([0-9]+[.]?)+", "(a*)*", "(?:(?:a|b+)c?)*", "((x+y)?z){2,}", "(a+?)+", "(?=(a+)+)b", "((a)|(b+))+", "(?i:(a+)+)",
    "(?:a+){1,99}", "(a)?(?(1)(b+)+|c)", "(?:(a+)+b)++", "(?>(a+)+b)",
]  # fmt: skip
PLAIN = [
    "[0-9]+[.]?[0-9]*", "(?:[0-9]++[.]?)+", "(?>a+b?)+", "(?:[0-9]{1,3},)*[0-9]{3}", "(a+){3}", "a+b+c+", "(ab|c)*d+",
    "(?:a?)+", " *(?P<value>.*?) *",
]  # fmt: skip


@pytest.mark.parametrize("pattern", NESTED)
def test_a_repetition_within_a_repetition_is_refused_with_what_to_write(pattern: str) -> None:
    with pytest.raises(LayoutError, match=re.escape("layouts.own.pattern: repeats what is itself repeated")):
        layout_from_table("own", {"pattern": f"(?P<value>[0-9])({pattern})"})


@pytest.mark.parametrize("pattern", PLAIN)
def test_repetitions_that_give_nothing_back_or_are_few_may_nest(pattern: str) -> None:
    assert not nests_repetition(re.compile(pattern.encode()))


def test_no_built_in_layout_nests_repetitions() -> None:
    assert not any(nests_repetition(layout.pattern) for layout in BUILT_IN.values())


@pytest.mark.parametrize(
    ("pattern", "filling"),
    [("[0-9]*[0-9]*[0-9]*x", b"0"), ("(.*)(.*)(.*)x", b"0"), ("=(a|bb)*c", b"b"), ("=a*[a-f]*a*;", b"a")],
)
def test_hard_lines_fill_a_repetition_and_fit_nowhere(pattern: str, filling: bytes) -> None:
    compiled = re.compile(pattern.encode())
    hard = [line for line in hard_lines(compiled, 100) if compiled.fullmatch(line) is None]

    assert max(line.count(filling) for line in hard) >= 95


@pytest.mark.parametrize(
    ("pattern", "lines"),
    [
        ("=a*[b-d]+;", [b"=aaaabbb\0", b"=aaabbbb", b"=aaaaaaa\0", b"=aaaaaaa", b"=abbbbbb\0", b"=abbbbbb"]),
        ("ab", [b"ab\0", b"abbbbb"]),
        ("ab{2,3}c", [b"abbbc\0", b"abbbcccc"] * 2),
    ],
)
def test_hard_lines_are_these(pattern: str, lines: list[bytes]) -> None:
    """All repetitions filled, then each by itself: with an end that fits nothing, and with its half's last byte."""
    assert list(hard_lines(re.compile(pattern.encode()), 8)) == lines


PARTS = st.sampled_from(
    [
        "a",
        "[^b]",
        r"\d{2}",
        "(?P<x>b+)",
        "(?:c|dd)",
        ".",
        r"\s*",
        "(?=.)",
        "[a-f-]+",
        "(?i:e)",
        r"\.",
        "(?:f?){2,5}",
        "^",
        "$",
    ]
)


@given(st.lists(PARTS, max_size=5, unique=True), st.integers(1, 80))
@settings(max_examples=100, deadline=None)
def test_any_pattern_has_hard_lines_of_about_a_length(parts: list[str], length: int) -> None:
    lines = list(hard_lines(re.compile("".join(parts).encode()), length))

    assert lines
    assert all(len(line) <= length + 1 for line in lines)
