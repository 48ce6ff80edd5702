"""What is told of animals in words becomes the request that it means."""

import argparse
from pathlib import Path

import pytest

from neckyoke.bridge.commands import tell


@pytest.mark.parametrize(
    ("words", "request_"),
    [
        ("retag 999 000000112233 --visual 105", {"kind": "retag", "tag": "999 000000112233", "visual": "105"}),
        ("name 105 --tag 999000000112233 --sex heifer", {"visual": "105", "tag": "999000000112233", "sex": "heifer"}),
        ("mark keep back --visual 105 --until 2026-12-24", {"text": "keep back", "until": "2026-12-24"}),
        ("mark vet --tag 999000000112233 --from 2026-12-01", {"text": "vet", "from": "2026-12-01"}),
        ("unmark --visual 105", {"kind": "unmark", "visual": "105"}),
        ("merge 999000000112233 --visual 105", {"other": "999000000112233", "visual": "105"}),
        ("split --visual 105", {"kind": "split", "visual": "105"}),
        ("reply yes --question 1a2b3c4d", {"choice": "yes", "question": "1a2b3c4d"}),
    ],
)
def test_a_word_of_the_herd_is_a_request(words: str, request_: dict[str, str]) -> None:
    parser = argparse.ArgumentParser()
    tell.arguments(parser)
    made = tell.request_of(parser.parse_intermixed_args(words.split()), Path())

    assert request_.items() <= made.items()


def test_a_number_is_no_tag() -> None:
    parser = argparse.ArgumentParser()
    tell.arguments(parser)
    with pytest.raises(ValueError, match="--visual 105"):
        tell.request_of(parser.parse_intermixed_args(["retag", "105"]), Path())
