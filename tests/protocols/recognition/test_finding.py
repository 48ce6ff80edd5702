"""A finding written down, to be pasted: TOML 1.0 as its specification spells it, read back by the standard library."""

import tomllib
from typing import Any

import pytest

from neckyoke.protocols.recognise import recognise
from neckyoke.protocols.recognition.finding import Finding, Kind, Sure

URL = "tcp://127.0.0.1:4001"
LINK = ["[links.scale]", f'url = "{URL}"']


@pytest.mark.parametrize(
    ("finding", "lines"),
    [
        (Finding(Kind.UNKNOWN, Sure.UNSURE), []),
        (Finding(Kind.SCALE, Sure.SURE, layout="weight-unit"), ['layout = "weight-unit"']),
        (Finding(Kind.SCALE, Sure.SURE), []),
        (Finding(Kind.READER, Sure.SURE, layout="weight-unit"), []),  # a reader has none
        (Finding(Kind.READER, Sure.SURE, hex_order="air"), ['hex_order = "air"']),
        (
            Finding(Kind.SCALE, Sure.LIKELY, layout="own", table={"like": "weight", "decimals": 1}),
            ['layout = "own"', "", "[layouts.own]", 'like = "weight"', "decimals = 1"],
        ),
        (
            Finding(Kind.SCALE, Sure.LIKELY, layout="own", table={"like": "weight"}, hints=("decimals = 1", "x = 2")),
            ['layout = "own"', "", "[layouts.own]", 'like = "weight"', "# decimals = 1", "# x = 2"],
        ),
        (
            Finding(
                Kind.SCALE,
                Sure.LIKELY,
                layout="own",
                table={
                    "checksum": {"kind": "xor", "stx": True, "etx": False},
                    "pattern": r"\*(?P<value>[0-9.]{7})",
                    "tokens": {"status": {"stable": ["S", ""], "moving": ["D"]}},
                },
                hints=("backwards = true",),
            ),
            [
                'layout = "own"',
                "",
                "[layouts.own]",
                r"pattern = '\*(?P<value>[0-9.]{7})'",
                "# backwards = true",
                "",
                "[layouts.own.checksum]",
                'kind = "xor"',
                "stx = true",
                "etx = false",
                "",
                "[layouts.own.tokens.status]",
                'stable = ["S", ""]',
                'moving = ["D"]',
            ],
        ),
        (
            Finding(Kind.SCALE, Sure.LIKELY, layout="own", table={"tokens": {"status": {"stable": ["S"]}}}),
            ['layout = "own"', "", "[layouts.own.tokens.status]", 'stable = ["S"]'],  # no table of its own before it
        ),
    ],
)
def test_what_was_found_is_spelled_to_be_pasted(finding: Finding, lines: list[str]) -> None:
    text = finding.toml("scale", URL)
    assert text == "\n".join([*LINK, *lines]) + "\n"
    assert tomllib.loads(text).get("layouts", {}).get("own") == finding.table


@pytest.mark.parametrize(
    ("value", "spelled"),
    [
        ("plain", '"plain"'),
        ("", '""'),
        ("it's", '"it\'s"'),
        (r"a\sb", r"'a\sb'"),
        (r"it's a\sb", r'"it' + "'" + r's a\u005csb"'),  # a literal string holds no apostrophe
        ('say "so"', r'"say \u0022so\u0022"'),
        ("\x02\x03\r\n", r'"\u0002\u0003\u000d\u000a"'),  # and none of these
        ("a\\\x02", r'"a\u005c\u0002"'),
        ("\x7f\xa0", r'"\u007f\u00a0"'),
        ("é", '"é"'),
        (3, "3"),
        (0.5, "0.5"),
        (True, "true"),
        (["a", "\\"], r"""["a", '\']"""),
        ([], "[]"),
        ([1, True, ["x"]], '[1, true, ["x"]]'),
    ],
)
def test_any_value_is_spelled_so_that_it_is_read_back(value: Any, spelled: str) -> None:
    text = Finding(Kind.SCALE, Sure.LIKELY, layout="own", table={"value": value}).toml("scale", URL)
    assert text.splitlines()[-1] == f"value = {spelled}"
    assert tomllib.loads(text)["layouts"]["own"] == {"value": value}


def test_the_words_of_a_finding_stay() -> None:
    """`neckyoke listen --json` prints them: other programs compare them, and a link is named by its kind."""
    assert [str(one) for one in Sure] == ["sure", "likely", "unsure"]
    assert [str(one) for one in Kind] == ["scale", "reader", "unknown"]


def test_of_nothing_nothing_was_seen() -> None:
    finding = recognise(b"")
    assert (finding.frames, finding.fit, finding.parts, finding.words, finding.example) == (0, 0.0, (), (), b"")
