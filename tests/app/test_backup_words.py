"""Administrators, and nobody else, read at the foot of a page that there is no backup."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.test import override_settings

from sideport.app.backup_times import note_made
from sideport.app.people.roles import Role

from .cast import as_role

pytestmark = pytest.mark.django_db


def test_an_administrator_reads_it_and_no_longer_once_there_is_one(tmp_path: Path) -> None:
    with override_settings(DATA=tmp_path):
        browser = as_role(Role.ADMINISTRATOR)
        assert "No backup was made yet" in browser.get("/").content.decode()
        note_made(tmp_path, datetime.now(UTC))
        assert "No backup" not in browser.get("/").content.decode()


@pytest.mark.parametrize("role", [Role.LEAD_SURGEON, Role.NURSE, Role.STORE])
def test_others_do_not(role: Role, tmp_path: Path) -> None:
    with override_settings(DATA=tmp_path):
        assert "No backup" not in as_role(role).get("/").content.decode()
