"""What is typed behind `neckyoke tell`, as the request that it makes."""

import argparse
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.commands.tell import KINDS, LACKING, arguments, request_of


def request(*words: str) -> dict[str, Any]:
    parser = argparse.ArgumentParser()
    arguments(parser)
    return request_of(parser.parse_args(words), Path())


@pytest.mark.parametrize(
    ("words", "made"),
    [
        ("skip oral drench", {"kind": "skip", "treatment": "oral drench"}),
        ("give oral drench", {"kind": "skip", "treatment": "oral drench", "given": True}),
        ("dose oral drench --amount 40", {"kind": "dose", "treatment": "oral drench", "amount": 40.0}),
        ("batch drench --batch B8", {"kind": "batch", "treatment": "drench", "batch": "B8"}),
        ("finding condition = 3", {"kind": "finding", "name": "condition", "value": "3"}),
        ("finding signs = lame, thin", {"kind": "finding", "name": "signs", "value": ["lame", "thin"]}),
        ("finding condition =", {"kind": "finding", "name": "condition", "value": None}),
    ],
)
def test_words_become_a_request(words: str, made: dict[str, Any]) -> None:
    assert request(*words.split()) == made


def test_a_finding_without_a_sign_is_not_understood() -> None:
    with pytest.raises(ValueError, match="write the finding's name, = and the value"):
        request("finding", "condition", "3")


@pytest.mark.parametrize("kind", LACKING)
def test_what_is_missing_is_said_in_the_words_of_the_command(kind: str) -> None:
    """And the example that is given is one that can be typed."""
    what, example = LACKING[kind]
    with pytest.raises(ValueError, match="as in") as raised:
        request(kind, "--number", "3")
    assert str(raised.value) == f"write {what}, as in: neckyoke tell {kind} {example}"
    if kind != "keep":  # which looks for the file
        assert request(kind, *example.split())


def test_no_key_of_a_request_is_named_to_whoever_typed_no_word() -> None:
    def said(kind: str) -> str:
        try:
            return str(request(kind))
        except ValueError as error:
            return str(error)

    assert [kind for kind in KINDS if "The key" in said(kind)] == []
