"""What was done about a cause: kept with who and when, for one customer and week, and never over somebody's text."""

from __future__ import annotations

import pytest

from monitor.enter.actions import actions, write
from shared.errors import RequestError
from tests.invented.tiny import Tiny

WEEK = "2026-W45"
KEY = ("N", "BUR")


@pytest.fixture
def ledger(tmp_path):
    plant = Tiny(tmp_path)
    plant.load()
    yield plant.ledger
    plant.ledger.close()


def stands(ledger, customer="K", week=WEEK):
    return {key: (row.done, row.by) for key, row in actions(ledger.snapshot(), customer, week).items()}


def test_a_text_is_kept_with_who_wrote_it_for_one_customer_and_week(ledger):
    write(ledger, "K", WEEK, {KEY: ("", "  punch sharpened ")}, "Quality")
    assert stands(ledger) == {KEY: ("punch sharpened", "Quality")}
    assert stands(ledger, customer="K2") == stands(ledger, week="2026-W44") == {}


def test_a_text_that_follows_replaces_it_and_the_earlier_one_stays_readable(ledger):
    first = write(ledger, "K", WEEK, {KEY: ("", "punch sharpened")}, "Quality").version
    write(ledger, "K", WEEK, {KEY: ("punch sharpened", "punch replaced")}, "Tooling")
    assert stands(ledger) == {KEY: ("punch replaced", "Tooling")}
    assert actions(ledger.snapshot(first), "K", WEEK)[KEY].done == "punch sharpened"


def test_a_text_that_is_emptied_is_not_there(ledger):
    write(ledger, "K", WEEK, {KEY: ("", "punch sharpened")}, "Quality")
    write(ledger, "K", WEEK, {KEY: ("punch sharpened", " ")}, "Quality")
    assert stands(ledger) == {}


def test_nobody_writes_over_what_they_have_not_seen(ledger):
    write(ledger, "K", WEEK, {KEY: ("", "punch sharpened")}, "Quality")
    with pytest.raises(RequestError, match="Quality wrote 'punch sharpened' meanwhile"):
        write(ledger, "K", WEEK, {KEY: ("", "nothing done")}, "Tooling")
    assert stands(ledger) == {KEY: ("punch sharpened", "Quality")}


@pytest.mark.parametrize(
    ("texts", "by", "told"),
    [
        ({KEY: ("", " ")}, "Quality", "no text that is new"),
        ({KEY: ("", "done")}, " ", "no name"),
        ({("X", "BUR"): ("", "done")}, "Quality", "X"),
        ({KEY: ("", "x" * 501)}, "Quality", "501 characters"),
    ],
)
def test_what_cannot_be_entered_is_told_in_words(ledger, texts, by, told):
    with pytest.raises(RequestError, match=told):
        write(ledger, "K", WEEK, texts, by)
    assert stands(ledger) == {}
