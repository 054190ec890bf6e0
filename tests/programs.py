"""Programs beside Python that some tests run: what lacks one is skipped, and the last line of the run says so."""

from __future__ import annotations

import re
import shutil
from collections import Counter
from collections.abc import Iterator
from typing import NoReturn

import pytest

#: The program -> what a test needs of it, and the system package that has it.
PROGRAMS = {
    "chromium": ("a browser", "chromium"),
    "git": ("git", "git"),
    "qpdf": ("qpdf", "qpdf"),
    **dict.fromkeys(("pdffonts", "pdfimages", "pdfinfo", "pdftotext"), ("the PDF programs", "poppler-utils")),
    "soffice": ("LibreOffice", "libreoffice-calc"),
}
_LACKING = "not on this machine: "


def need(*programs: str) -> None:
    """Skip the test where one of its programs is missing."""
    lacking = [program for program in programs if not shutil.which(program)]
    if lacking:
        skip(*lacking)


def skip(*programs: str) -> NoReturn:
    """Skip the test in the words that the last line of the run is made of."""
    pytest.skip(_LACKING + ", ".join(programs))


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> Iterator[None]:
    """Say below pytest's own last line what was not tested."""
    yield
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is not None and not hasattr(session.config, "workerinput"):
        told = untested([str(report.longrepr) for report in reporter.stats.get("skipped", ())])
        if told:
            reporter.write_line(told, yellow=True)


def untested(reasons: list[str]) -> str:
    """Return a line on the tests that were skipped for want of programs, "" where none was."""
    found = (re.search(rf"{_LACKING}([\w, ]+)", reason) for reason in reasons)
    lacking = [set(one[1].split(", ")) for one in found if one]
    if not lacking:
        return ""
    counts = Counter(what for names in lacking for what in {PROGRAMS[name][0] for name in names})
    packages = sorted({PROGRAMS[name][1] for names in lacking for name in names})
    told = ", ".join(
        f"{count:,} need {what}" for what, count in sorted(counts.items(), key=lambda one: (-one[1], one[0]))
    )
    return f"NOT TESTED: {told}; install {' '.join(packages)}"
