"""What a worker does ahead for all of them is what pytest would have done, and is found by it."""

from pathlib import Path

import pytest
from _pytest.assertion import rewrite

from tests.support import ahead


def test_what_is_kept_is_found_and_tells_of_a_failure(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    file = tmp_path / "test_something.py"
    file.write_text("def test(a):\n    assert a == 1\n")

    ahead.keep([file], pytestconfig)

    (kept,) = (tmp_path / "__pycache__").iterdir()
    code = rewrite._read_pyc(file, kept)
    assert code is not None
    made: dict[str, object] = {"__name__": "something"}
    exec(code, made)
    with pytest.raises(AssertionError, match="assert 2 == 1"):
        made["test"](2)  # type: ignore[operator]


def test_what_cannot_be_done_ahead_is_left_to_pytest_and_the_rest_is_done(
    tmp_path: Path, pytestconfig: pytest.Config
) -> None:
    wrong, null, good = (tmp_path / f"test_{name}.py" for name in ("wrong", "null", "good"))
    wrong.write_text("def test(:\n")
    null.write_bytes(b"\0")
    good.write_text("assert True\n")

    ahead.keep([wrong, null, tmp_path / "test_gone.py", good], pytestconfig)

    assert [kept.name.split(".")[0] for kept in (tmp_path / "__pycache__").iterdir()] == ["test_good"]


def test_all_that_pytest_has_written_anew_here_could_be_done_ahead(pytestconfig: pytest.Config) -> None:
    hook = pytestconfig.stash[rewrite.assertstate_key].hook
    assert hook is not None
    written = set(hook._rewritten_names.values())
    ours = {file for file in written if file.is_relative_to(ahead.TESTS) and file.name != "conftest.py"}

    assert {Path(__file__), Path(ahead.__file__)} <= ours
    assert ours <= set(ahead.rewritten())
