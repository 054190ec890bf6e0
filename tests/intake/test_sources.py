from pathlib import Path

import pytest

from monitor.intake import find_files


def folder_of(tmp_path: Path, *names: str) -> Path:
    for name in names:
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("x")
    return tmp_path


def test_what_is_referred_to_comes_first(tmp_path: Path) -> None:
    folder = folder_of(
        tmp_path,
        "strokes-2.csv",
        "strokes-1.csv",
        "coils.parquet",
        "dies.csv",
        "presses.csv",
        "plant.toml",
        "stops.csv",
    )
    found = find_files([folder])
    assert [(source.path.name, source.table, source.format) for source in found] == [
        ("plant.toml", "plant", "toml"),
        ("presses.csv", "presses", "csv"),
        ("dies.csv", "dies", "csv"),
        ("coils.parquet", "coils", "parquet"),
        ("strokes-1.csv", "strokes", "csv"),
        ("strokes-2.csv", "strokes", "csv"),
        ("stops.csv", "stops", "csv"),
    ]
    assert not any(source.refused for source in found)


@pytest.mark.parametrize(
    ("name", "table"),
    [
        ("coil_tests-2026-11-02.csv", "coil_tests"),
        ("coils.2026.csv", "coils"),
        ("Die_Changes.CSV", "die_changes"),
        ("coil_changes.parquet", "coil_changes"),
    ],
)
def test_a_name_belongs_to_a_table_up_to_the_first_dash_or_dot(tmp_path: Path, name: str, table: str) -> None:
    [source] = find_files([folder_of(tmp_path, name)])
    assert (source.table, source.refused) == (table, "")


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("counters.csv", "no table is called 'counters'"),
        ("strokes_2026.csv", "no table is called 'strokes_2026'"),
        ("strokes.xlsx", "ends in '.xlsx'"),
        ("strokes", "ends in 'nothing'"),
    ],
)
def test_a_name_that_belongs_to_no_table_is_refused_with_a_reason(tmp_path: Path, name: str, reason: str) -> None:
    [source] = find_files([folder_of(tmp_path, name)])
    assert reason in source.refused


def test_a_file_that_is_not_there_is_refused_not_raised(tmp_path: Path) -> None:
    missing = [tmp_path / "strokes.csv", tmp_path / "plant.toml"]
    assert [source.refused for source in find_files(missing)] == ["no such file", "no such file"]


def test_folders_are_searched_and_hidden_files_left_out(tmp_path: Path) -> None:
    folder = folder_of(tmp_path, "line1/strokes.csv", ".cache/strokes.csv", "~$stops.csv", ".strokes.csv")
    assert [source.path for source in find_files([folder])] == [folder / "line1" / "strokes.csv"]


def test_a_file_named_twice_is_found_once(tmp_path: Path) -> None:
    folder = folder_of(tmp_path, "strokes.csv")
    assert len(find_files([folder, folder / "strokes.csv"])) == 1


def test_refused_files_come_last(tmp_path: Path) -> None:
    folder = folder_of(tmp_path, "a.csv", "strokes.csv", "z.csv")
    assert [source.path.name for source in find_files([folder])] == ["strokes.csv", "a.csv", "z.csv"]
