"""The figures for a monitor, read back by prometheus_client's OpenMetrics parser: an outside reader of the standard."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from neckyoke.bridge.telling.openmetrics import CONTENT_TYPE, write
from neckyoke.protocols.rejects import RejectReason
from tests.support.status import status_of

STATUS: dict[str, Any] = {
    "site": "larkmoor", "version": "0.1.0", "up_s": 360.5, "cpu_s": 4.25, "loop_lag_s": 0.002, "disk_free_mb": 9000,
    "stations": {"crush": {"counts": {"animals": 17, "expected": 40}}},
    "links": {"indicator": {"state": "up", "frames": 8123, "rejects": {"bad-bytes": 2}, "openings": 1, "bytes": 170_000,
                            "last_byte_age_s": 0.1},
              "panel": {"state": "lost", "frames": 120, "last_byte_age_s": None}},
    "outlets": {"farm": {"kind": "mqtt", "connected": True, "backlog": 3}, "events": {"kind": "file", "backlog": 0}},
    "journal": {"last": 42, "waiting": 0, "trouble": {}}, "clock": {"state": "synchronised", "steps": 1},
    "troubles": [{"about": "zero-off", "text": "…"}],
}  # fmt: skip


def samples(status: dict[str, Any]) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    """Read the text back: every sample by its name and labels."""
    found = {}
    for family in text_string_to_metric_families(write(status_of(**status))):  # type: ignore[no-untyped-call]
        for one in family.samples:
            labels = frozenset((name, value) for name, value in one.labels.items() if name != "site")
            assert (one.name, labels) not in found
            found[one.name, labels] = one.value
    return found


def test_every_figure_comes_back_by_the_standards_own_reader() -> None:
    found = samples(STATUS)

    def value(name: str, **labels: str) -> float:
        return found[name, frozenset(labels.items())]

    assert value("neckyoke_link_frames_total", link="indicator") == 8123
    assert value("neckyoke_link_rejects_total", link="indicator", reason="bad-bytes") == 2
    assert value("neckyoke_link_state", link="indicator", neckyoke_link_state="up") == 1
    assert value("neckyoke_link_state", link="panel", neckyoke_link_state="up") == 0
    assert value("neckyoke_link_state", link="panel", neckyoke_link_state="lost") == 1
    assert value("neckyoke_outlet_backlog", outlet="farm") == 3
    assert value("neckyoke_animals", station="crush", of="expected") == 40
    assert value("neckyoke_events_total") == 42
    assert value("neckyoke_clock_synchronised") == 1
    assert value("neckyoke_disk_free_bytes") == 9e9
    assert value("neckyoke_cpu_seconds_total") == 4.25
    assert value("neckyoke_build_info", version="0.1.0") == 1
    assert value("neckyoke_troubles") == 1


def test_what_is_not_known_is_left_out() -> None:
    assert not any(dict(labels).get("link") == "panel" for name, labels in samples(STATUS) if "age" in name)
    assert not any(name == "neckyoke_disk_free_bytes" for name, _ in samples({**STATUS, "disk_free_mb": None}))
    assert {dict(labels)["of"] for name, labels in samples(STATUS) if name == "neckyoke_animals"} == {
        "animals", "number", "expected",
    }  # fmt: skip


def test_the_content_type_is_the_standards() -> None:
    assert CONTENT_TYPE == "application/openmetrics-text; version=1.0.0; charset=utf-8"  # OpenMetrics 1.0, section 4


@given(
    st.text(max_size=20),
    st.dictionaries(
        st.text(max_size=10),
        st.fixed_dictionaries(
            {
                "frames": st.integers(0, 10**15),
                "rejects": st.dictionaries(st.sampled_from(RejectReason), st.integers(0, 10**9)),
            }
        ),
        max_size=3,
    ),
)
def test_any_names_and_numbers_make_a_text_that_can_be_read(site: str, links: dict[str, Any]) -> None:
    found = samples({"site": site, "links": links})

    for name, row in links.items():
        assert found["neckyoke_link_frames_total", frozenset({("link", name)})] == row["frames"]
