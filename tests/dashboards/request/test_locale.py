import re

import pytest
from flask import Flask
from werkzeug.datastructures import LanguageAccept

from dashboards.assembly import assemble
from dashboards.request.locale import (
    INCH,
    METRIC,
    Locale,
    asked,
    cookie,
    follow_requests,
    locale,
    say,
    say_error,
    say_n,
    use_locale,
)
from shared.errors import RequestError
from shared.phrases import phrase


@pytest.fixture
def spoken():
    yield use_locale
    use_locale(None)


def wish(query=(), cookies=(), accepts=()):
    return asked(dict(query), dict(cookies), LanguageAccept([(language, 1) for language in accepts]))


def test_the_address_comes_before_the_cookie_and_the_cookie_before_the_browser():
    kept = {cookie("lang"): "es", cookie("units"): INCH}
    assert wish({"lang": "de"}, kept, ["en"]) == Locale("de", INCH)
    assert wish((), kept, ["de"]) == Locale("es", INCH)
    assert wish((), (), ["fr", "de"]) == Locale("de", METRIC)
    assert wish() == Locale("en", METRIC)


def test_what_is_not_known_is_passed_over():
    assert wish({"lang": "xx", "units": "<b>"}, {cookie("lang"): "../de"}, ["es"]) == Locale("es", METRIC)


def test_words_and_numbers_follow_the_locale(spoken):
    assert say("{low} to {high}", low=1, high=2) == "1 to 2"
    spoken(Locale("de"))
    assert say("{low} to {high}", low=1, high=2) == "1 bis 2"
    assert say_n(1200, "{n} thing", "{n} things") == "1\u202f200 things"


def test_errors_follow_the_locale_and_what_nobody_thought_of_is_not_shown(spoken, caplog):
    error = RequestError(phrase("undo"), phrase("no entry {number}", number=7), "x", phrase("look at the history"))
    assert say_error(error) == str(error)
    spoken(Locale("es"))
    assert say_error(error) == "retirar: ninguna anotación 7; se esperaba: x. Mire el historial."
    assert "secret" not in say_error(KeyError("secret"))
    assert "KeyError" in say_error(KeyError("secret"))
    assert "secret" in caplog.text


def test_each_request_has_its_own_locale():
    server = Flask("spoken")
    follow_requests(server)
    server.route("/")(lambda: "|".join(locale().key))
    client = server.test_client()
    assert client.get("/", headers={"Accept-Language": "es-MX,es;q=0.9,en;q=0.1"}).text == "es|metric"
    assert client.get("/?lang=de&units=inch").text == "de|inch"
    assert client.get("/").text == "de|inch"
    assert server.test_client().get("/").text == "en|metric"


def test_only_what_an_address_names_is_remembered():
    server = Flask("remembering")
    follow_requests(server)
    server.route("/")(lambda: "")
    set_by = server.test_client().get("/?lang=de").headers.getlist("Set-Cookie")
    assert len(set_by) == 1
    assert set_by[0].startswith("strokeledger-lang=de;")
    assert server.test_client().get("/?lang=xx").headers.getlist("Set-Cookie") == []


@pytest.mark.parametrize(("language", "word"), [("en", "Dark"), ("es", "Oscuro"), ("de", "Dunkel")])
def test_the_document_names_its_language_and_carries_the_words_of_scripts(service, language, word):
    client = assemble(service).server.test_client()
    document = client.get(f"/?lang={language}", buffered=True).text
    assert re.search(r'<html lang="(..)"', document)[1] == language
    assert word in document.partition("<head>")[0]
