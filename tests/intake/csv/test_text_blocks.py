from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.csv import text_blocks as module
from monitor.intake.csv.text_blocks import Block, text_blocks
from shared.errors import RefusedFile


def blocks_of(tmp_path: Path, data: bytes, size: int | None = None) -> list[Block]:
    path = tmp_path / "strokes.csv"
    path.write_bytes(data)
    with pytest.MonkeyPatch.context() as patch:
        if size:
            patch.setattr(module, "BLOCK_BYTES", size)
        return list(text_blocks(path))


def test_a_last_line_without_end_stands_alone(tmp_path: Path) -> None:
    assert blocks_of(tmp_path, b"a\nb\nc") == [Block(b"a\nb\n", 1), Block(b"c", 3, whole=False)]
    assert blocks_of(tmp_path, b"c") == [Block(b"c", 1, whole=False)]


def test_a_byte_order_mark_is_dropped(tmp_path: Path) -> None:
    assert blocks_of(tmp_path, b"\xef\xbb\xbfa\n") == [Block(b"a\n", 1)]


def test_blocks_end_with_lines_and_know_their_line(tmp_path: Path) -> None:
    assert blocks_of(tmp_path, b"aa\nbb\ncc\ndd\nee\n", size=5) == [
        Block(b"aa\nbb\n", 1),
        Block(b"cc\ndd\n", 3),
        Block(b"ee\n", 5),
    ]


def test_a_quoted_line_end_does_not_end_a_block(tmp_path: Path) -> None:
    data = b'aa,b\n"c\nd",e\nf,g\n'
    assert blocks_of(tmp_path, data, size=6)[:2] == [Block(b"aa,b\n", 1), Block(b'"c\nd",e\n', 2)]


@given(
    st.binary(max_size=60).map(lambda b: b"a" + b.replace(b"\0", b"\n").decode("latin-1").encode()), st.integers(40, 90)
)
def test_the_blocks_are_the_file(tmp_path_factory: pytest.TempPathFactory, data: bytes, size: int) -> None:
    blocks = blocks_of(tmp_path_factory.mktemp("b"), data, size)
    assert b"".join(block.data for block in blocks) == data
    line = 1
    for block in blocks:
        assert block.line == line
        line += block.data.count(b"\n")


@pytest.mark.parametrize(
    ("data", "where", "seen"),
    [
        ("time".encode("utf-16"), "strokes.csv", "UTF-16"),
        ("time\nPä\n".encode("cp1252"), "line 2", "byte 0xE4"),
        ("a\nb\n".encode("utf-16-le"), "line 1", "zero byte"),
        (b"PK\x03\x04\0\0\n", "strokes.csv", "a zip archive"),
        (b"\x1f\x8b\x08\0", "strokes.csv", "a gzip archive"),
        (b"time\0\n", "line 1", "zero byte"),
    ],
)
def test_what_is_not_utf8_text_is_refused_with_the_place(tmp_path: Path, data: bytes, where: str, seen: str) -> None:
    with pytest.raises(RefusedFile) as caught:
        blocks_of(tmp_path, data)
    assert where in caught.value.where
    assert seen in caught.value.seen


def test_a_file_that_cannot_be_opened_fails_as_the_system_says(tmp_path: Path) -> None:
    # What takes the file refuses it, and tries it again: this may pass.
    with pytest.raises(FileNotFoundError):
        list(text_blocks(tmp_path / "strokes.csv"))


def test_a_line_without_end_is_not_read_into_memory(tmp_path: Path) -> None:
    with pytest.raises(RefusedFile, match="no line end"):
        blocks_of(tmp_path, b"x" * 1000, size=100)
