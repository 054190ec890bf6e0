from __future__ import annotations

import re

import pytest
from pydantic import BaseModel

from monitor.intake.profiles.faults import keys_of, part_of
from monitor.intake.profiles.manual import PAGE, page
from monitor.intake.profiles.model import Profile

TEXT = PAGE.read_text("utf-8")


def parts(part: type[BaseModel] = Profile) -> list[type[BaseModel]]:
    told = (field for field in part.model_fields.values() if not field.exclude)
    inner = [found for field in told if (found := part_of(field.annotation))]
    return [part, *(below for one in inner for below in parts(one))]


def test_the_page_is_up_to_date() -> None:
    assert page(TEXT) == TEXT


def test_every_part_is_found() -> None:
    assert {part.__name__ for part in parts()} == {
        "Profile", "Match", "Layout", "Constant", "ProfileColumn", "Time", "ClockOffset", "Counter", "Unpivot", "Drop",
    }  # fmt: skip


@pytest.mark.parametrize("part", parts(), ids=lambda part: part.__name__)
def test_every_key_is_told_with_a_meaning(part: type[BaseModel]) -> None:
    for key in keys_of(part):
        assert re.search(rf"^\| `{key}` \| .+ \| \S.+ \|$", TEXT, re.MULTILINE)
    assert all(field.description for field in part.model_fields.values() if not field.exclude)


@pytest.mark.parametrize("text", re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL))
def test_the_example_is_a_profile(text: str) -> None:
    assert Profile.from_toml(text, "example").table == "strokes"
