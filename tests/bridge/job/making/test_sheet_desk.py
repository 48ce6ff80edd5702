"""Sheets made, changed and dropped by request, on real files."""

import asyncio
import base64
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request
from neckyoke.bridge.asking.sheet_requests import SHELF_REQUESTS
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.job.find import find_job
from neckyoke.bridge.job.load import Job, load_job
from neckyoke.bridge.job.making.foreseen import Beast
from neckyoke.bridge.job.making.sheet_desk import SheetDesk
from neckyoke.bridge.job.making.shelf import Shelf

TODAY = date(2026, 11, 24)
ROSTER = b"tag,visual,last_kg,last_date\n999000000000001,101,310,2026-10-01\n999000000000002,102,250,2026-10-01\n"
FORM: dict[str, Any] = {
    "title": "Weaning, north",
    "mob": "north",
    "treatments": [{"name": "oral drench", "ml_per_kg": 0.1, "round_to_ml": 0.5, "withhold_days": 14}],
    "draft": [{"pen": "heavy", "at_least_kg": 300}, {"pen": "rest"}],
}


async def _expected(job: Job) -> list[Beast] | None:
    if job.roster is None:
        return None
    return [Beast(row.key, row.last_kg, row.last_date, known=row.as_dict()) for row in job.roster.animals]


class Table:
    """A desk over a folder of its own: `state` holds the box's own sheets."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "neckyoke.toml").write_text('site = "larkmoor"\n')
        self.config = Config.model_validate(
            {"site": "larkmoor", "state": "state", "links": {"indicator": {"url": "tcp://127.0.0.1:1"}},
             "stations": {"crush": {"scale": "indicator", "capacity_kg": 2000}}}
        ).model_copy(update={"folder": folder})  # fmt: skip
        used = {"Weaning, north": datetime(2026, 11, 20, 9, tzinfo=UTC)}
        self.desk = SheetDesk(Shelf(self.config), lambda: TODAY, lambda: used, _expected)

    def ask(self, kind: str, **said: Any) -> Answer:
        """Ask as a phone does, by JSON."""
        request = parse_request({"kind": kind, **said})
        assert not isinstance(request, Refusal), request.text
        if kind == "undo":
            return asyncio.run(self.desk.undo(said["asked"]))
        assert isinstance(request, SHELF_REQUESTS)
        return asyncio.run(self.desk.answer(request))

    def lies(self) -> set[str]:
        """Name what lies in the box's own folder."""
        return {path.name for path in (self.folder / "state" / "sheets").iterdir()}


def _b64(content: bytes) -> str:
    return base64.b64encode(content).decode()


@pytest.fixture
def table(tmp_path: Path) -> Table:
    return Table(tmp_path)


def test_a_sheet_made_from_nothing_is_a_file_that_a_person_can_read_and_a_job_can_begin_with(table: Table) -> None:
    answer = table.ask("sheet-save", form=FORM, roster=_b64(ROSTER), roster_name="anything.CSV")

    assert answer.done, answer.text
    assert answer.text == "Saved.  It has 1 treatment, 2 pens, 2 animals."
    assert table.lies() == {"weaning-north.toml", "weaning-north.csv"}
    job = find_job(table.config, "crush", "sheets/weaning-north.toml", TODAY)
    assert (job.sheet.title, job.sheet.roster, len(job.roster or ())) == ("Weaning, north", "weaning-north.csv", 2)
    assert load_job(table.folder / "state/sheets/weaning-north.toml", TODAY).doubts == ()


def test_it_is_listed_by_title_mob_and_last_use_and_its_treatments_are_offered_again(table: Table) -> None:
    (table.folder / "yards.toml").write_text('title = "Yards"\n')
    (table.folder / "broken.toml").write_text('title = "Broken"\nmob = 3\nleaving = "moon"\n')
    table.ask("sheet-save", form=FORM)

    told = table.ask("sheets").sheet or {}

    assert next((one["file"], one["title"], one["mob"], one["used"]) for one in told["sheets"]) == (
        "sheets/weaning-north.toml", "Weaning, north", "north", "2026-11-20T09:00:00+00:00",
    )  # fmt: skip
    by_file = {one["file"]: one for one in told["sheets"]}
    assert by_file["sheets/weaning-north.toml"]["treatments"] == ["oral drench"]
    assert by_file["yards.toml"]["problem"] is None
    assert "leaving" in by_file["broken.toml"]["problem"]
    assert told["offered"]["treatments"] == FORM["treatments"]
    assert told["offered"]["mobs"] == ["north"]


def test_trying_writes_nothing_and_says_what_it_would_do(table: Table) -> None:
    answer = table.ask("sheet-try", form=FORM, roster=_b64(ROSTER), roster_name="x.csv")

    assert answer.done
    assert not (table.folder / "state").exists()
    told = answer.sheet or {}
    assert told["foreseen"]["pens"] == [{"pen": "heavy", "heads": 1}, {"pen": "rest", "heads": 1}]
    assert told["foreseen"]["expected"] == 2
    assert [row["amount"] for row in told["foreseen"]["doses"][0]["rows"]][:3] == [5.0, 10.0, 15.0]
    assert "vet" in told["caution"]


def test_what_is_wrong_is_said_as_check_says_it_and_where(table: Table, tmp_path: Path) -> None:
    wrong = FORM | {"treatments": [FORM["treatments"][0], {"name": "vaccine"}], "leaving": "moon"}

    answer = table.ask("sheet-save", form=wrong)

    assert not answer.done
    assert not (table.folder / "state").exists()
    problems = (answer.sheet or {})["problems"]
    assert {(one.get("part"), one.get("at")) for one in problems} == {("treatments", 1), (None, None)}
    (tmp_path / "same.toml").write_text(
        'title = "x"\nleaving = "moon"\n[[treatments]]\nname = "drench"\nml = 1\n[[treatments]]\nname = "vaccine"\n'
    )
    with pytest.raises(ValueError, match="vaccine") as said:
        load_job(tmp_path / "same.toml", TODAY)
    for one in problems:
        assert one["text"].partition(": ")[2] in str(said.value)


def test_doubts_of_a_roster_are_told_by_row(table: Table) -> None:
    bad = ROSTER + b"12,103,,\n"

    answer = table.ask("sheet-try", form=FORM, roster=_b64(bad), roster_name="x.csv")

    assert answer.done
    assert any("row 4" in one["text"] for one in (answer.sheet or {})["doubts"])


def test_one_changed_meanwhile_is_not_overwritten(table: Table) -> None:
    table.ask("sheet-save", form=FORM)
    file = "sheets/weaning-north.toml"
    opened = table.ask("sheet-open", file=file).sheet or {}
    path = table.folder / "state" / file
    path.write_text("# by hand\n" + path.read_text())
    mine = opened["form"] | {"mob": "south"}

    for kind in ("sheet-try", "sheet-save"):
        answer = table.ask(kind, file=file, was=opened["digest"], form=mine)
        assert not answer.done
        assert "was changed meanwhile" in answer.text
    assert path.read_text().startswith("# by hand\n")
    assert "south" not in path.read_text()

    again = table.ask("sheet-open", file=file).sheet or {}
    assert table.ask("sheet-save", file=file, was=again["digest"], form=again["form"] | {"mob": "south"}).done
    assert path.read_text().startswith("# by hand\n")


def test_two_phones_change_one_sheet_and_the_second_is_told(table: Table) -> None:
    table.ask("sheet-save", form=FORM)
    file = "sheets/weaning-north.toml"
    opened = table.ask("sheet-open", file=file).sheet or {}

    first = table.ask("sheet-save", file=file, was=opened["digest"], form=opened["form"] | {"mob": "south"})
    second = table.ask("sheet-save", file=file, was=opened["digest"], form=opened["form"] | {"mob": "east"})

    assert (first.done, second.done) == (True, False)
    assert "another phone" in second.text


def test_the_same_saved_twice_is_done_once(table: Table) -> None:
    table.ask("sheet-save", form=FORM)
    file = "sheets/weaning-north.toml"
    opened = table.ask("sheet-open", file=file).sheet or {}
    said = {"file": file, "was": opened["digest"], "form": opened["form"] | {"mob": "south"}}

    assert table.ask("sheet-save", **said).text.startswith("Saved.")
    again = table.ask("sheet-save", **said)
    assert (again.done, again.text, again.asked) == (True, "Saved already: it is as you see it.", None)


def test_another_roster_takes_the_place_of_the_old_one_and_without_one_it_goes(table: Table) -> None:
    table.ask("sheet-save", form=FORM, roster=_b64(ROSTER), roster_name="x.csv")
    file = "sheets/weaning-north.toml"
    opened = table.ask("sheet-open", file=file).sheet or {}
    other = ROSTER + b"999000000000003,103,,\n"

    saved = table.ask(
        "sheet-save", file=file, was=opened["digest"], form=opened["form"], roster=_b64(other), roster_name="x.csv"
    )

    assert saved.text == "Saved.  It has 1 treatment, 2 pens, 3 animals."
    assert table.lies() == {"weaning-north.toml", "weaning-north-2.csv"}
    opened = table.ask("sheet-open", file=file).sheet or {}
    assert opened["animals"] == 3
    form = {key: value for key, value in opened["form"].items() if key != "roster"}
    assert table.ask("sheet-save", file=file, was=opened["digest"], form=form).done
    assert table.lies() == {"weaning-north.toml"}


def test_a_copy_has_a_roster_of_its_own(table: Table) -> None:
    table.ask("sheet-save", form=FORM, roster=_b64(ROSTER), roster_name="x.csv")
    file = "sheets/weaning-north.toml"
    path = table.folder / "state" / file
    path.write_text("# by hand\n" + path.read_text())
    opened = table.ask("sheet-open", file=file).sheet or {}

    copied = table.ask("sheet-save", form=opened["form"] | {"title": "Weaning, south"}, copy_of=file)

    assert copied.done, copied.text
    assert table.lies() == {"weaning-north.toml", "weaning-north.csv", "weaning-south.toml", "weaning-south.csv"}
    assert (table.folder / "state/sheets/weaning-south.toml").read_text().startswith("# by hand\n")


@pytest.mark.parametrize("with_roster", [False, True])
def test_everything_written_can_be_taken_back(table: Table, *, with_roster: bool) -> None:
    roster = {"roster": _b64(ROSTER), "roster_name": "x.csv"} if with_roster else {}
    made = table.ask("sheet-save", form=FORM, **roster)
    file = "sheets/weaning-north.toml"
    before = table.ask("sheet-open", file=file).sheet or {}
    changed = table.ask("sheet-save", file=file, was=before["digest"], form=before["form"] | {"mob": "south"})
    after = table.ask("sheet-open", file=file).sheet or {}
    dropped = table.ask("sheet-drop", file=file, was=after["digest"])
    assert table.lies() == set()

    assert table.ask("undo", asked=dropped.asked).done
    assert table.ask("sheet-open", file=file).sheet == after
    assert table.ask("undo", asked=changed.asked).done
    assert table.ask("sheet-open", file=file).sheet == before
    assert table.ask("undo", asked=made.asked).done
    assert table.lies() == set()


def test_only_sheets_of_the_list_are_opened_changed_or_dropped(table: Table) -> None:
    (table.folder / "yards.toml").write_text('title = "Yards"\n')
    for file in (
        "neckyoke.toml",
        "../x.toml",
        "/etc/passwd",
        "sheets/../../neckyoke.toml",
        "sheets/none.toml",
        "state",
    ):
        for kind, more in (
            ("sheet-open", {}),
            ("sheet-drop", {"was": "0" * 12}),
            ("sheet-save", {"was": "0" * 12, "form": FORM}),
        ):
            assert not table.ask(kind, file=file, **more).done
    yards = table.ask("sheet-open", file="yards.toml").sheet or {}
    assert "Delete it there." in table.ask("sheet-drop", file="yards.toml", was=yards["digest"]).text
    assert table.ask("sheet-save", file="yards.toml", was=yards["digest"], form={"title": "Yards", "mob": "all"}).done
    assert (table.folder / "yards.toml").read_text() == 'title = "Yards"\nmob = "all"\n'


def test_a_roster_outside_is_not_read(table: Table) -> None:
    (table.folder / "secret.csv").write_bytes(ROSTER)

    answer = table.ask("sheet-try", form=FORM | {"roster": "../../secret.csv"})

    assert not answer.done
    assert "no such file" in answer.text


def test_a_folder_that_cannot_be_written_says_what_to_do(table: Table) -> None:
    (table.folder / "state").write_text("a file where the folder should be")

    answer = table.ask("sheet-save", form=FORM)

    assert not answer.done
    assert "cannot be written" in answer.text


@pytest.mark.parametrize(
    "said",
    [{}, {"form": FORM, "text": "x"}, {"form": FORM, "roster": "!!", "roster_name": "x.csv"},
     {"form": FORM, "roster": "eA=="}, {"form": FORM, "file": "x.toml"}, {"form": FORM, "was": "0" * 12}],
)  # fmt: skip
def test_half_a_request_is_none(said: dict[str, Any]) -> None:
    assert isinstance(parse_request({"kind": "sheet-try", **said}), Refusal)


def test_a_roster_over_the_limit_is_refused() -> None:
    large = {"kind": "sheet-save", "form": FORM, "roster": _b64(b"x" * ((1 << 20) + 3)), "roster_name": "x.csv"}
    refused = parse_request(large)
    assert isinstance(refused, Refusal)
    assert "at most" in refused.text
