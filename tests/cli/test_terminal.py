"""Nothing that a file holds, in its name or its rows, is obeyed by the terminal that a command prints to."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from monitor.cli import terminal
from monitor.cli.main import main
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.write.visible import visible, visible_lines
from tests.invented.small import strokes, write_book

ROOT = Path(__file__).parents[2]
#: Sets the title, moves the cursor, rings, goes back to the start, turns the direction of reading, and a C1 control.
NASTY = "\x1b]0;x\x07\x1b[2J\x1b[31m\r\u202egnp.\u2066\x9b31m\u061c"
OBEYED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@pytest.mark.parametrize("sign", [*map(chr, range(32)), "\x7f", "\x9b", *"\u061c\u200b\u202e\u2028\u2066\ufeff\udcff"])
def test_a_sign_that_is_obeyed_is_shown_as_a_blot(sign: str) -> None:
    assert visible(f"a{sign}b") == "a\N{REPLACEMENT CHARACTER}b"


def test_text_that_is_shown_stays_as_it_is() -> None:
    text = "Bügel [bold]x[/bold] → 12 µm; 冲压 é e\u0301 :smile: \\"
    assert visible(text) == text
    assert visible_lines(f"a\tb\n{text}\x1b") == f"a\tb\n{text}\N{REPLACEMENT CHARACTER}"


def test_a_line_is_printed_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    terminal.say("[bold]x[/bold] :smile: \\", f"a{NASTY}b", "x" * 300)
    told = capsys.readouterr().out.split("\n")
    assert told[0] == "[bold]x[/bold] :smile: \\"
    assert told[1] == f"a{visible(NASTY)}b"
    assert told[2] == "x" * 300


def test_every_command_prints_through_the_one_function() -> None:
    for path in (ROOT / "monitor").glob("cli*.py"):
        text = path.read_text("utf-8")
        assert not re.search(r"\bprint\(|\.echo\(|\bConsole\(|stdout\.write|stderr\.write", text), path


@pytest.fixture(scope="module")
def nasty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a plant in whose files and names stands what a terminal obeys, and its ledger."""
    folder = tmp_path_factory.mktemp("nasty")
    drop = write_book(folder / "drop")
    name, heading = NASTY.replace("/", ""), NASTY.replace("\r", "")
    (drop / f"strokes-{name}.csv").write_text(f"time,press_id,counter,{heading}\nx,P{NASTY},1,\n", newline="")
    (drop / os.fsdecode(b"strokes-\xff\x1b[2J.csv")).write_text(strokes(0, 3))
    (drop / f"nothing{name}.csv").write_text("x\n")
    (drop / "reasons-1.csv").write_text(f'reason,name,kind\nJAM,"{NASTY}",press\n', newline="")
    (drop / "stops-1.csv").write_text(f'press_id,start_at,reason\n"P1{NASTY}",2026-11-02T06:00,"JAM"\n', newline="")
    (drop / f"profile-{name}.toml").write_text('table = "\\u001b[2J"\n')
    with Ledger.open(folder / "ledger", create=True) as ledger:
        load([drop], ledger)
    return folder


COMMANDS = [
    ["load", "{drop}"],
    ["figures", "set_aside"],
    ["figures", "loads"],
    ["set-aside", "list"],
    ["check"],
    ["backup", "{drop}/copy\x1b[2J"],
    ["enter", "note", NASTY, "--date", "2026-11-02", "--shift", "early\x1b[2J"],
    ["hold", "place", "coil", "C\x1b[2J", "--reason", "x"],
    ["figures", "shifts", "--press", NASTY],
    ["set-aside", "release", "1", "--by", NASTY],
]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: " ".join(words[:2]).replace("{drop}", "")[:20])
def test_no_command_hands_on_what_a_terminal_obeys(
    nasty: Path, command: list[str], monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    words = [word.format(drop=nasty / "drop") for word in command]
    monkeypatch.setattr(sys, "argv", ["strokeledger", *words, "--ledger", str(nasty / "ledger")])
    with suppress(SystemExit):
        main()
    told = "".join(capfd.readouterr())
    assert "Traceback" not in told
    assert OBEYED.findall(told) == []
    assert told.strip()


@pytest.mark.skipif(os.name == "nt", reason="there are no such terminals")
def test_csv_on_a_terminal_is_shown_and_in_a_pipe_is_exact(nasty: Path) -> None:
    import pty

    words = ["figures", "set_aside", "--format", "csv", "--ledger", str(nasty / "ledger")]
    command = [sys.executable, "-c", "from monitor.cli.main import main; main()", *words]
    exact = subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout.decode("utf-8")
    assert "\x1b[31m" in exact
    reader, writer = pty.openpty()
    with subprocess.Popen(command, cwd=ROOT, stdout=writer, stderr=subprocess.DEVNULL) as ran:
        os.close(writer)
        seen = b""
        while True:
            try:
                block = os.read(reader, 1 << 16)
            except OSError:  # The other end is closed.
                break
            if not block:
                break
            seen += block
    os.close(reader)
    assert ran.returncode == 0
    assert OBEYED.findall(seen.decode("utf-8").replace("\r\n", "\n")) == []
    assert seen.count(b"\n") >= 3


def test_a_terminal_without_the_signs_is_no_fault(nasty: Path) -> None:
    words = ["load", str(nasty / "drop"), "--ledger", str(nasty / "ledger")]
    command = [sys.executable, "-c", "from monitor.cli.main import main; main()", *words]
    env = {**os.environ, "PYTHONIOENCODING": "ascii"}
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, env=env, check=False)
    assert b"Traceback" not in ran.stderr
    assert b"refused" in ran.stderr
