"""The roster: CSV as spreadsheets write it, and every mistake by row and column."""

import zipfile
from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.job.growth import gain_since
from neckyoke.bridge.job.roster.roster import Roster, load_roster

TODAY = date(2026, 11, 24)


def roster(folder: Path, text: str | bytes) -> Roster:
    path = folder / "roster.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return load_roster(path, TODAY)


PLAIN = "tag,visual,sex,last_kg,last_date\n999000000112233,047,steer,318.5,2026-09-25\n"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN.replace("\n", "\r\n"),
        "\n\n" + PLAIN,
        PLAIN.replace(",", ";").replace("318.5", "318,5"),
        PLAIN.replace(",", "\t"),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.encode("utf-16"),
        " TAG , Visual No.,SEX,Last kg, LAST-DATE \n'999 000000112233, 047 ,STEER,318.5 kg,25/09/2026\n".replace(
            "Visual No.", "visual number"
        ),
        'last_date,last_kg,sex,visual,eid\n25 Sep 2026,318.5,m,047,"=""999000000112233"""\n'.replace(",m,", ",steer,"),
        "visual,tag,sex,last_lb,last_date\n047,999-000000112233,steer,702.172312,2026-09-25 00:00:00\n",
    ],
)
def test_one_row_in_many_spellings(tmp_path: Path, text: str | bytes) -> None:
    found = roster(tmp_path, text)
    assert not found.problems
    animal = found.by_tag("999 000000112233")
    assert animal is not None
    assert animal is found.by_visual(" 47")
    assert (animal.tag, animal.visual, animal.sex) == ("999000000112233", "047", "steer")
    assert animal.weights == ((date(2026, 9, 25), 318.5),)


@pytest.mark.parametrize(
    ("header", "cells", "said"),
    [
        ("tag", "99900000011223", "row 2, column tag: '99900000011223' has 14 digits, not 15."),
        ("tag", "9.99E+14", "'9.99E+14' has lost digits.  A spreadsheet cut it"),
        ("tag", "steer", "'steer' is no tag number"),
        ("tag", "999274877906944", "is larger than any tag can hold"),
        ("tag,visual,sex", ",,steer", "row 2, column tag: is empty.  This row is left out."),
        ("visual,born", "1,2026-02-30", "row 2, column born: '2026-02-30' is no date"),
        ("visual,born", "1,2027-01-02", "row 2, column born: 2027-01-02 is after today (2026-11-24)"),
        ("visual,born", "1,1926-01-02", "'1926-01-02' is before 1970"),
        ("visual,born", "1,03/04/2026", "'03/04/2026' can be read in two ways.  Write it as YYYY-MM-DD"),
        ("visual,Last kg", "1,700 lb", "column last_kg: '700 lb' is not in kg, as its column says"),
        ("visual,last_kg", "1,heavy", "'heavy' is no weight"),
        ("visual,last_kg", "1,0", "'0' is no animal's weight"),
        ("visual,last_kg,last_lb,last_date", "1,300,300,2026-01-02", "300 kg and 300 lb are not the same weight"),
        ("visual,last_kg", "1,300", "column last_date: is empty"),
        ("visual,sex", "1,staer", "'staer' is no sex known here. Did you mean 'steer'?"),
        ("visual,dam_age", "1,99", "'99' is no age in years"),
        ("visual,born,last_kg,last_date", "1,2026-05-01,40,2026-04-01", "is before the birth date 2026-05-01"),
        ("visual,weight", "1,300", "row 1, column weight: the unit is missing"),
        ("visual,visual", "1,2", "row 1, column visual: there are two columns of this name"),
        ("name,sex", "Daisy,cow", "row 1, column tag: there is no such column"),
    ],
)
def test_what_is_wrong_is_named_by_row_and_column(tmp_path: Path, header: str, cells: str, said: str) -> None:
    found = roster(tmp_path, f"{header}\n{cells}\n")
    assert [said in str(problem) for problem in found.problems] == [True]


def test_a_bad_cell_is_left_empty_and_the_animal_stays_expected(tmp_path: Path) -> None:
    found = roster(tmp_path, "tag,born,breed\n999000000112233,2026-02-30,cross\n")
    animal = found.by_tag("999000000112233")
    assert animal is not None
    assert animal.as_dict() == {"tag": "999000000112233", "breed": "cross"}


def test_duplicates_are_left_out_and_the_rows_after_them_read_on(tmp_path: Path) -> None:
    found = roster(
        tmp_path,
        "tag,visual\n999000000112233,1\n999 000000112233,2\n\n999000000112234,01\n999000000112235,3\n",
    )
    assert [animal.row for animal in found.animals] == [2, 6]
    assert [str(problem).split("roster.csv: ")[1] for problem in found.problems] == [
        "row 3, column tag: 999000000112233 is on row 2 already.  This row is left out.",
        "row 5, column visual: 01 is on row 2 already.  This row is left out.",
    ]


@pytest.mark.parametrize(
    ("first", "second", "born"),
    [("13/04/2026", "03/04/2026", date(2026, 4, 3)), ("04/13/2026", "03/04/2026", date(2026, 3, 4))],
)
def test_one_telling_date_settles_the_order_of_all(tmp_path: Path, first: str, second: str, born: date) -> None:
    found = roster(tmp_path, f"visual,born\n1,{first}\n2,{second}\n")
    assert not found.problems
    assert found.animals[1].born == born


def test_withheld_until_is_a_date_read_as_the_others_are_and_told(tmp_path: Path) -> None:
    found = roster(tmp_path, "visual,born,withheld_until\n1,03/04/2026,24/12/2026\n2,,04/01/2027\n")
    assert not found.problems
    assert found.animals[0].as_dict() == {"visual": "1", "born": "2026-04-03", "withheld_until": "2026-12-24"}
    assert found.animals[1].withheld_until == "2027-01-04"


@pytest.mark.parametrize(
    ("headings", "cell", "key", "value"),
    [
        ("tag EID RFID tag-id electronic_id electronic_tag", "999000000112233", "tag", "999000000112233"),
        ("id roster_id", "A7", "roster_id", "A7"),
        ("visual_tag visual_id visual_number ear_tag", "047", "visual", "047"),
        ("born birth_date date_of_birth DOB birthdate", "2026-01-02", "born", "2026-01-02"),
        ("dam dam_tag dam_id mother", "C12", "dam", "C12"),
        ("birth_kg birth_weight_kg", "40", "birth_kg", 40.0),
        ("birth_lb birth_weight_lb", "88.18490487", "birth_kg", 40.0),
        ("dam_age dam_years age_of_dam", "4", "dam_age", 4.0),
        ("withheld_until withhold_until withheld", "2026-12-24", "withheld_until", "2026-12-24"),
    ],
)
def test_a_column_is_known_by_the_headings_that_people_give_it(
    tmp_path: Path, headings: str, cell: str, key: str, value: object
) -> None:
    for heading in headings.split():
        extra = "" if key == "visual" else "visual,"
        found = roster(tmp_path, f"{extra}{heading}\n{extra and '1,'}{cell}\n")
        assert found.animals[0].as_dict()[key] == value, heading


@pytest.mark.parametrize("text", ["soon", "31/31/2026", "?", "yes"])
def test_withheld_until_nobody_knows_when_is_withheld(tmp_path: Path, text: str) -> None:
    assert roster(tmp_path, f"visual,withheld_until\n1,{text}\n").animals[0].withheld_until == UNKNOWN


def test_earlier_weights_come_from_dated_columns_and_birth_too(tmp_path: Path) -> None:
    found = roster(
        tmp_path,
        "visual,born,birth kg,kg 2026-06-01,lb_2026-08-01,last_kg,last_date\n1,2026-01-02,40,180,500,300,2026-10-01\n",
    )
    assert found.animals[0].weights == (
        (date(2026, 1, 2), 40.0),
        (date(2026, 6, 1), 180.0),
        (date(2026, 8, 1), 226.796),
        (date(2026, 10, 1), 300.0),
    )


@pytest.mark.parametrize("columns", ["last_kg,last_date", "kg 2026-10-01"])
def test_what_lies_ahead_of_a_clock_that_is_behind_is_told_and_counts_when_that_is_put_right(
    tmp_path: Path, columns: str
) -> None:
    path = tmp_path / "roster.csv"
    path.write_text(f"visual,{columns}\n1,300,2026-10-01\n2,310,2026-10-01\n")
    found = load_roster(path, date(1970, 1, 2))
    (told,) = map(str, found.problems)
    assert "2026-10-01 is after today (1970-01-02).  It counts from that day on" in told
    weights = found.animals[0].weights
    assert gain_since(weights, date(1970, 1, 2), 360.0) is None
    gain = gain_since(weights, date(2026, 11, 30), 360.0)
    assert gain is not None
    assert gain.kg_per_day == 1.0


def test_what_is_not_known_here_is_kept(tmp_path: Path) -> None:
    found = roster(tmp_path, "visual,Home Block,vêlage\n1,east,oui\n")
    assert found.animals[0].as_dict() == {"visual": "1", "home_block": "east", "vêlage": "oui"}


def test_not_seen(tmp_path: Path) -> None:
    found = roster(tmp_path, "tag,visual\n999000000112233,1\n,2\n,3\n")
    assert [animal.key for animal in found.not_seen({"999000000112233", "visual 3"})] == ["visual 2"]


@pytest.mark.parametrize(("name", "content"), [("no.csv", None), ("empty.csv", b""), ("blank.csv", b"\n \n")])
def test_a_file_with_nothing_in_it_is_an_error(tmp_path: Path, name: str, content: bytes | None) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(ConfigError, match=name):
        load_roster(path, TODAY)


def test_a_workbook_that_unpacks_to_far_more_than_it_is_large_is_not_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "mob.xlsx"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet1.xml", "w") as part,
    ):
        for _ in range(65):
            part.write(b" " * (1 << 20))
    assert path.stat().st_size < 1 << 20

    with pytest.raises(ConfigError, match="unpacks to 65 MiB"):
        load_roster(path, TODAY)
