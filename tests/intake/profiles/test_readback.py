from __future__ import annotations

from pathlib import Path

import pytest

from monitor.intake.drafts.draft import draft as drafted
from monitor.intake.profiles import Profile, read_back

DIALECTS = Path(__file__).parents[1] / "dialects"


def told(name: str, profile: str, rows: int = 200) -> list[str]:
    text = (DIALECTS / f"profile-{profile}.toml").read_text("utf-8")
    return read_back(DIALECTS / name, Profile.from_toml(text, profile), "Europe/Berlin", rows)


def test_each_row_is_said_in_words() -> None:
    assert told("zaehler-01.csv", "zaehler") == [
        "row 1 (line 2) means 2 November 2026 06:00, press P07, counter 4 812 330",
        "row 2 (line 3) means 2 November 2026 06:01, press P07, counter 4 812 412",
        "row 3 (line 4) means 2 November 2026 06:02, press P08, counter 91",
        "row 4 (line 5) is set aside: time is '30.02.2026 06:03:00', expected a date in the order d-m-y",
    ]


def test_units_are_those_of_the_table() -> None:
    first = told("coil-wts-04.csv", "coils-us")[0]
    assert "width 63.5 mm, thickness 1.00076 mm, weight 732.0980852 kg, received 2 November 2026 06:14:09" in first


def test_only_the_first_rows_are_said_and_what_was_left_out() -> None:
    assert told("width-02.csv", "width", rows=1)[1:] == ["and so on", "rows left out so far: 1"]


def test_remarks_come_last() -> None:
    assert told("rejects-06.csv", "rejects")[-1].startswith("note: line 6: the total of Pieces is 6")


SETTLED = [("zaehler-01.csv", 2), ("width-02.csv", 1), ("unicode-12.txt", 0)]


@pytest.mark.parametrize(("name", "open_"), SETTLED)
def test_a_draft_of_a_plain_file_is_a_profile_that_reads_it(name: str, open_: int) -> None:
    text = drafted(DIALECTS / name)
    assert text.count("# ? ") == open_
    sentences = read_back(DIALECTS / name, Profile.from_toml(text, "draft"), "Europe/Berlin")
    assert sentences[0].startswith("row 1 (line ")
    assert " means 2" in sentences[0]


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        ("log-03.txt", ['skip_to = "Time"', '# ? date_order = "dmy" or "mdy": the first 2 rows do not show it',
                        "# ? no heading was taken for press_id; one of"]),
        ("coil-wts-04.csv", ['table = "coils"', 'decimal = "."', 'unit = "lb"', 'from = "Wt (lb)"']),
        ("gesamt-05-P07.csv", ['thousands = "."', 'null_words = ["-"]', 'from = "Hübe gesamt"']),
        ("unicode-12.txt", ['encoding = "utf-16"', 'delimiter = "tab"', 'date_order = "dmy"']),
        ("zaehler-01.csv", ['encoding = "windows-1252"', 'date_order = "dmy"', '# ? the heading "Hubzahl" is not used'
         ]),
    ],
)  # fmt: skip
def test_a_draft_says_what_the_file_shows_and_marks_the_rest(name: str, lines: list[str]) -> None:
    text = drafted(DIALECTS / name).splitlines()
    assert [line for line in lines if line not in text] == []


def test_a_draft_never_settles_what_may_be_either(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Date;Time;Press;Total\n13.11.2026;06:00;P07;4.812\n")
    text = drafted(path)
    assert "# ? 4.812 may have a decimal '.' or a mark of thousands: name one" in text
    assert 'from = ["Date", "Time"]' in text
    assert "\nthousands" not in text
    assert "\ndecimal" not in text
