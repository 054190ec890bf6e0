import base64
import hashlib
import re
from functools import partial

import pytest

from dashboards.assembly import assemble
from dashboards.shell import EARLY_THEME, tokens_css


@pytest.fixture(scope="module")
def client(five_service):
    client = assemble(five_service).server.test_client()
    # Buffered, or the files of the assets folder stay open.
    return partial(client.get, buffered=True)


def policy(response):
    parts = response.headers["Content-Security-Policy"].split("; ")
    return {name: sources for name, _, sources in (part.partition(" ") for part in parts)}


def test_health_answers_without_reading_the_ledger(client):
    assert client("/health").data == b"OK"


def test_every_page_has_an_address_of_its_own(client):
    for path in ("/", "/die?die=D102"):
        assert client(path).status_code == 200


def test_nothing_is_loaded_from_elsewhere(client):
    page = client("/").text
    loaded = re.findall(r'<(?:script|link|img)[^>]*(?:src|href)="([^"]+)"', page)
    assert loaded
    assert all(address.startswith("/") and not address.startswith("//") for address in loaded)
    css = client(next(address for address in loaded if address.endswith(".css") or ".css?" in address)).text
    assert not re.search(r"url\(|@import|https?:", css)


def test_scripts_run_only_when_they_are_ours(client):
    response = client("/")
    allowed = policy(response)["script-src"].split()
    assert "'unsafe-inline'" not in allowed
    assert "'unsafe-eval'" not in allowed
    inline = re.findall(r"<script(?! src)(?![^>]*json)[^>]*>(.*?)</script>", response.text, re.DOTALL)
    assert EARLY_THEME in inline
    for script in inline:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in allowed


def test_every_answer_carries_the_headers(client):
    for path in ("/", "/health", "/assets/strokeledger.js", "/_dash-layout"):
        headers = client(path).headers
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert "frame-ancestors 'self'" in headers["Content-Security-Policy"]
        assert headers["Referrer-Policy"] == "same-origin"


def test_what_never_changes_is_kept_by_the_browser(client):
    page = client("/").text
    addresses = re.findall(r'<(?:script src|link rel="stylesheet" href)="([^"]+)"', page)
    assert addresses
    for address in addresses:
        assert "max-age=31536000" in client(address).headers["Cache-Control"], address
    assert "max-age" not in client("/").headers.get("Cache-Control", "")


def test_answers_are_compressed(client):
    plain = client("/_dash-layout")
    packed = client("/_dash-layout", headers={"Accept-Encoding": "gzip"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert len(packed.data) < len(plain.data)


def test_two_apps_live_in_one_process(service):
    first, second = assemble(service), assemble(service)
    assert first.server is not second.server
    assert set(first.callback_map) == set(second.callback_map)
    assert first.callback_map


def test_only_development_asks_for_versions(client):
    assert '"ui":false' in client("/").text


def test_every_colour_the_style_sheet_uses_is_defined(client):
    css = client("/assets/strokeledger.css").text
    used = set(re.findall(r"var\((--[a-z-]+)\)", css))
    own = set(re.findall(r"(--[a-z-]+):", css)) | set(re.findall(r"(--[a-z-]+):", tokens_css()))
    assert used - own == set()


def test_every_kind_of_stop_has_a_look_of_its_own(client):
    css = client("/assets/strokeledger.css").text
    for kind in ("setup", "tooling", "material", "press", "quality", "labour", "other", "planned", "none"):
        assert f".kind-{kind} {{" in css
