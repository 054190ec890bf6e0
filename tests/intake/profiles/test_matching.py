from __future__ import annotations

from pathlib import Path

import pytest

from monitor.intake import Profile, find_files, with_profiles
from monitor.intake.profiles import may_be_profiled, profile_for
from shared.errors import RefusedFile
from tests.intake.profiles.test_model import STROKES

TEXT = "t,p,c\n2026-11-02 06:00,P07,1\n"


def profile(name: str, match: str = "") -> Profile:
    return Profile.from_toml(f'table = "strokes"\n[match]\n{match}\n{STROKES}', name)


def written(folder: Path, name: str, text: str = TEXT) -> Path:
    (folder / name).write_text(text)
    return folder / name


@pytest.mark.parametrize(
    ("match", "fits"),
    [
        ('name = "LOG-*.csv"', True),
        ('name = "log-?.csv"', True),
        ('name = "counter*"', False),
        ("", True),
        ('headings = ["t", "c"]', True),
        ('headings = ["speed"]', False),
    ],
)
def test_a_file_fits_by_name_and_headings(tmp_path: Path, match: str, fits: bool) -> None:
    path = written(tmp_path, "log-1.csv")
    if fits:
        assert profile_for(path, [profile("a", match)]).name == "a"
    else:
        with pytest.raises(RefusedFile):
            profile_for(path, [profile("a", match)])


def test_a_file_that_fits_two_profiles_is_refused_with_both_names(tmp_path: Path) -> None:
    with pytest.raises(RefusedFile, match="it fits the profiles a and b"):
        profile_for(written(tmp_path, "log-1.csv"), [profile("a"), profile("b")])


def test_a_profile_for_the_name_goes_before_those_for_any_name(tmp_path: Path) -> None:
    assert profile_for(written(tmp_path, "log-1.csv"), [profile("a"), profile("b", 'name = "log*"')]).name == "b"


def test_a_changed_heading_is_named(tmp_path: Path) -> None:
    path = written(tmp_path, "log-1.csv", "t,p,count\n")
    with pytest.raises(RefusedFile, match=r"profile b: no heading 'c' among 't, p, count'"):
        profile_for(path, [profile("a"), profile("b", 'name = "log*"')])


@pytest.mark.parametrize(("profiles", "said"), [([], "none loaded"), ([profile("b", 'name = "x"')], r"profile \(b\)")])
def test_a_file_for_which_there_is_nothing(tmp_path: Path, profiles: list[Profile], said: str) -> None:
    with pytest.raises(RefusedFile, match=said):
        profile_for(written(tmp_path, "log-1.csv"), profiles)


def test_files_named_like_a_table_are_left_to_the_contract(tmp_path: Path) -> None:
    for name in ("strokes-1.csv", "log-1.csv", "log-1.bin", "presses.csv"):
        written(tmp_path, name)
    sources = with_profiles(find_files([tmp_path]), [profile("a")])
    assert [(one.path.name, one.table, one.label.split(" ")[0], bool(one.refused)) for one in sources] == [
        ("presses.csv", "presses", "", False),
        ("log-1.csv", "strokes", "a", False),
        ("strokes-1.csv", "strokes", "", False),
        ("log-1.bin", "", "", True),
    ]


def test_a_given_profile_is_for_every_file_it_fits(tmp_path: Path) -> None:
    fitting, other = written(tmp_path, "strokes-1.csv"), written(tmp_path, "strokes-2.csv", "time,press_id,counter\n")
    sources = with_profiles(find_files([fitting, other]), [], profile("given"))
    assert {one.path.name: bool(one.profile) for one in sources} == {"strokes-1.csv": True, "strokes-2.csv": False}


def test_the_reason_of_a_misfit_reaches_the_source(tmp_path: Path) -> None:
    [source] = with_profiles(find_files([written(tmp_path, "log-1.csv", "a,b\n")]), [profile("a", 'name = "log*"')])
    assert "no heading 't', 'p', 'c' among 'a, b'" in source.refused


def test_profiles_are_files_of_their_own_and_come_before_data(tmp_path: Path) -> None:
    for name in ("profile-a.toml", "plant.toml", "presses.csv", "profile.toml"):
        written(tmp_path, name)
    found = [(one.path.name, one.table) for one in find_files([tmp_path]) if not one.refused]
    assert found == [("plant.toml", "plant"), ("profile-a.toml", "profile"), ("presses.csv", "presses")]


@pytest.mark.parametrize(("name", "may"), [("a.CSV", True), ("a.txt", True), ("a.parquet", False), ("a", False)])
def test_only_text_files_are_tried(name: str, may: bool) -> None:
    assert may_be_profiled(Path(name)) is may
