"""Only this computer may look, and nothing of it is kept elsewhere."""

import pytest
from django.test import Client
from django.urls import get_resolver, reverse

from sideport.app.access import is_loopback
from sideport.app.planning.models import StoredPlan


def addresses(stored: StoredPlan) -> list[str]:
    """One address for every route of the site; a new route must find its arguments here."""
    arguments = {"plan_id": stored.pk, "eye_key": "QI-101-right", "key": "practice"}
    found = []
    for name, patterns in get_resolver().reverse_dict.lists():
        if isinstance(name, str):
            needed = patterns[0][0][0][1]
            found.append(reverse(name, kwargs={key: arguments[key] for key in needed if key != "kind"}))
    return found


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.8.8", "::1", "[::1]", "::ffff:127.0.0.1"])
def test_loopback_addresses_are_this_computer(address: str) -> None:
    assert is_loopback(address)


@pytest.mark.parametrize("address", ["192.168.1.20", "10.0.0.1", "8.8.8.8", "::", "0.0.0.0", "fe80::1", "", "nonsense"])
def test_other_addresses_are_strangers(address: str) -> None:
    assert not is_loopback(address)


def test_a_stranger_is_refused_everywhere_in_plain_words(client: Client, stored: StoredPlan) -> None:
    found = addresses(stored)
    assert len(found) >= 10
    for address in [*found, "/static/sideport/site.css", "/nowhere/"]:
        response = client.get(address, REMOTE_ADDR="192.168.1.20")
        assert response.status_code == 403, address
        assert b"only to the computer it runs on" in response.content
        assert b"Tansy" not in response.content


def test_every_page_answers_this_computer(client: Client, stored: StoredPlan) -> None:
    for address in addresses(stored):
        assert client.get(address).status_code in {200, 302}, address


def test_a_foreign_host_name_is_refused(client: Client, stored: StoredPlan) -> None:
    assert client.get("/plans/", headers={"host": "evil.example"}).status_code == 400


def test_every_page_forbids_foreign_code_and_copies(client: Client, stored: StoredPlan) -> None:
    for address in addresses(stored):
        headers = client.get(address).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy, address
        assert "unsafe" not in policy
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Referrer-Policy"] == "same-origin"
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert headers["Cache-Control"] == "private, no-store"


def test_pages_are_only_read(client: Client, stored: StoredPlan) -> None:
    for address in addresses(stored):
        assert client.post(address).status_code in {403, 405}, address


def test_pages_hold_no_script_no_style_and_no_foreign_address(client: Client, stored: StoredPlan) -> None:
    for address in addresses(stored):
        response = client.get(address)
        if response.headers["Content-Type"].startswith("text/html"):
            page = response.content.decode().replace("http://www.w3.org/2000/svg", "")
            assert "<script" not in page, address
            assert "<style" not in page, address
            assert " style=" not in page, address
            assert "http://" not in page, address
            assert "https://" not in page, address
