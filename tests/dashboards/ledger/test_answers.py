"""Answers kept for all viewers: within their budget, worked out once, of the served version only."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from dashboards.ledger.answers import AnswerCache
from dashboards.ledger.service import LedgerService
from dashboards.ledger.sizes import MOST_LOOKED_AT, bytes_of
from dashboards.pages.board.model import load_board
from dashboards.pages.board.view import board_html
from dashboards.parts.components import draw_cached
from dashboards.request.locale import Locale, use_locale
from dashboards.request.url import View
from tests.invented.tiny import DAY, SHIFTS, Tiny, at

KILOBYTE = 1024


@pytest.fixture
def plant(tmp_path):
    one = Tiny(tmp_path, SHIFTS)
    one.set_die(at("06:00"))
    one.run(at("06:00"), at("13:00"))
    one.load()
    yield one
    one.ledger.close()


def test_the_bytes_kept_stay_below_the_bound_whatever_is_asked():
    answers = AnswerCache(100 * KILOBYTE)
    kept = []
    for number in range(300):
        made = answers.answer(1, (number,), lambda: bytes(10 * KILOBYTE))
        assert len(made) == 10 * KILOBYTE
        assert answers.size <= 100 * KILOBYTE
        kept.append(len(answers))
    assert kept[-1] == max(kept) == 9


def test_the_bytes_kept_of_a_ledger_stay_below_the_bound(plant):
    bound = 60 * KILOBYTE
    service = LedgerService(plant.ledger.root, bound)
    reading, sizes = service.read(), []
    for language in ("en", "de", "es"):
        use_locale(Locale(language))
        for shift in ("early", "late"):
            for press in ("", "P", "none"):
                view = View(date=DAY, shift=shift, press=press)
                draw_cached(
                    reading, ("board", view.search), lambda view=view: board_html(load_board(reading, view), view)
                )
                sizes.append(service.answers.size)
    use_locale(None)
    assert 0.5 * bound < max(sizes) <= bound


def test_what_was_asked_for_last_is_kept_and_the_longest_unasked_makes_room():
    answers = AnswerCache(100 * KILOBYTE)
    for number in range(20):
        answers.answer(1, (number,), lambda: bytes(10 * KILOBYTE))
        assert answers.answer(1, (0,), lambda: b"worked out anew") != b"worked out anew"
    assert answers.answer(1, (1,), lambda: b"worked out anew") == b"worked out anew"


def test_an_answer_larger_than_the_budget_is_given_and_not_kept():
    answers = AnswerCache(KILOBYTE)
    assert len(answers.answer(1, ("large",), lambda: bytes(5 * KILOBYTE))) == 5 * KILOBYTE
    assert (len(answers), answers.size) == (0, 0)


def test_a_question_that_twenty_ask_at_once_is_worked_out_once():
    answers, worked_out, together = AnswerCache(), [], threading.Barrier(20)

    def load():
        worked_out.append(threading.get_ident())
        time.sleep(0.05)
        return object()

    def ask(_):
        together.wait()
        return answers.answer(1, ("same",), load)

    with ThreadPoolExecutor(20) as pool:
        given = list(pool.map(ask, range(20)))
    assert len(worked_out) == 1
    assert len({id(one) for one in given}) == 1


def test_one_question_waits_for_no_other():
    answers, begun, free = AnswerCache(), threading.Event(), threading.Event()

    def slow():
        begun.set()
        assert free.wait(10)
        return "slow"

    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(answers.answer, 1, ("slow",), slow)
        assert begun.wait(10)
        assert answers.answer(1, ("quick",), lambda: answers.answer(1, ("inner",), lambda: "quick")) == "quick"
        free.set()
        assert waiting.result(10) == "slow"


def test_an_error_is_raised_and_asked_again():
    answers, tried = AnswerCache(), []

    def load():
        tried.append(1)
        if len(tried) == 1:
            raise OSError("the disk was away")
        return "read"

    with pytest.raises(OSError, match="away"):
        answers.answer(1, ("file",), load)
    assert len(answers) == 0
    assert answers.answer(1, ("file",), load) == "read"


def test_answers_of_versions_no_longer_served_are_dropped_late_ones_too():
    answers = AnswerCache()
    answers.answer(1, ("a",), lambda: "old")
    answers.answer(2, ("a",), lambda: "new")

    def overtaken():
        answers.drop_before(2)
        return "late"

    assert answers.answer(1, ("b",), overtaken) == "late"
    assert len(answers) == 1
    assert answers.answer(2, ("a",), lambda: "again") == "new"


def test_a_new_version_takes_the_room_of_the_old_one(plant):
    service = LedgerService(plant.ledger.root)
    load_board(service.read(), View())
    before = service.answers.size
    plant.run(at("13:00"), at("13:10"))
    plant.load()
    newest = service.read()
    assert service.answers.size == 0 < before
    assert len(service.desk.customers()) == len(newest.names("presses")) == 1


@dataclass(frozen=True)
class Named:
    name: str
    rows: pd.DataFrame


def test_frames_arrays_and_text_are_measured():
    frame = pd.DataFrame({"number": np.arange(1000), "word": [f"a rather long word {n}" for n in range(1000)]})
    assert bytes_of(frame) == frame.memory_usage(deep=True).sum() > 20_000
    assert bytes_of(np.zeros(500)) == 4000
    assert 5000 <= bytes_of("x" * 5000) < 5100
    assert bytes_of({"a": Named("one", frame), "b": [frame]}) > bytes_of(frame)


def test_what_is_held_twice_is_counted_once_and_a_circle_ends():
    rows = pd.DataFrame({"number": np.arange(10_000)})
    assert bytes_of([rows, rows]) < 1.1 * bytes_of(rows)
    circle: list[object] = [rows]
    circle.append(circle)
    assert bytes_of(circle) < 1.1 * bytes_of(rows)


def test_a_long_list_is_estimated_from_some_of_it():
    many = [("word " * 20 + str(number), float(number)) for number in range(100 * MOST_LOOKED_AT)]
    whole = sum(bytes_of(one) for one in many) + 8 * len(many)
    assert 0.9 * whole < bytes_of(many) < 1.1 * whole
