"""Every figure leads to a work, and every work to the numbers that stand on it."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from sideport.app.planning.models import StoredPlan
from sideport.knowledge import Basis, load_published


@pytest.mark.django_db
def test_every_work_is_listed_and_has_a_page(client: Client) -> None:
    listed = client.get(reverse("sources")).content.decode()
    for key in load_published().sources:
        address = reverse("source", args=[key])
        assert address in listed
        assert client.get(address).status_code == 200


@pytest.mark.django_db
def test_an_unknown_work_is_not_found(client: Client) -> None:
    assert client.get(reverse("source", args=["nobody1900"])).status_code == 404


@pytest.mark.django_db
def test_a_number_from_memory_says_so(client: Client) -> None:
    number = next(number for number in load_published().numbers.values() if number.basis is Basis.RECALLED)
    page = client.get(reverse("source", args=[number.source])).content.decode()
    row = page[page.index(f"<code>{number.key}</code>") :]
    assert "from memory, not yet read in print" in row[: row.index("</tr>")]


def test_every_source_link_of_the_sample_day_leads_somewhere(client: Client, stored: StoredPlan) -> None:
    pages = [client.get(reverse("eye", args=[stored.pk, key])) for key in ("QI-101-right", "QI-107-right")]
    links = {link for page in pages for link in re.findall(r'href="(/sources/[^"]+)"', page.content.decode())}
    assert len(links) >= 3
    for link in links:
        assert client.get(link).status_code == 200, link
