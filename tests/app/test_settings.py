"""The environment is read loudly, and the checks find what would be unsafe."""

import os
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from pytest_django import Settings

from sideport.app import checks
from sideport.app.environment import KEY_FILE, data_folder, host_names, secret_key


def test_no_data_folder_means_nothing_is_kept() -> None:
    assert data_folder({}) is None
    assert data_folder({"SIDEPORT_DATA": "  "}) is None


def test_a_data_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ImproperlyConfigured, match="not a folder"):
        data_folder({"SIDEPORT_DATA": str(tmp_path / "absent")})
    assert data_folder({"SIDEPORT_DATA": str(tmp_path)}) == tmp_path.resolve()


def test_the_key_is_made_once_and_only_its_owner_reads_it(tmp_path: Path) -> None:
    key = secret_key(tmp_path)
    assert len(key) >= 50
    assert secret_key(tmp_path) == key
    if os.name == "posix":
        assert (tmp_path / KEY_FILE).stat().st_mode & 0o777 == 0o600


def test_a_short_key_is_refused(tmp_path: Path) -> None:
    (tmp_path / KEY_FILE).write_text("short", encoding="ascii")
    with pytest.raises(ImproperlyConfigured, match="Delete it"):
        secret_key(tmp_path)


def test_without_a_folder_each_process_has_its_own_key() -> None:
    assert secret_key(None) != secret_key(None)


def test_hosts_are_loopback_and_what_was_added_by_name() -> None:
    assert host_names({}) == ["localhost", "127.0.0.1", "[::1]"]
    assert host_names({"SIDEPORT_HOSTS": "eye.lan, two.lan"})[3:] == ["eye.lan", "two.lan"]


@pytest.mark.parametrize("written", ["*", "*.lan", ".lan"])
def test_a_wildcard_host_is_refused(written: str) -> None:
    with pytest.raises(ImproperlyConfigured, match="wildcard"):
        host_names({"SIDEPORT_HOSTS": written})


def test_debug_is_off(settings: Settings) -> None:
    from sideport.app import settings as written

    assert written.DEBUG is False


def test_checks_say_that_nothing_is_kept(settings: Settings) -> None:
    settings.DATA = None
    found = checks.check_data_folder()
    assert [message.id for message in found] == ["sideport.W001"]
    assert "sideport serve" in (found[0].hint or "")


@pytest.mark.skipif(os.name != "posix", reason="file modes are of POSIX systems")
def test_checks_find_a_key_that_others_can_read(settings: Settings, tmp_path: Path) -> None:
    settings.DATA = tmp_path
    secret_key(tmp_path)
    assert checks.check_key_mode() == []
    (tmp_path / KEY_FILE).chmod(0o644)
    assert [message.id for message in checks.check_key_mode()] == ["sideport.E002"]


def test_checks_find_missing_fonts(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    assert checks.check_fonts() == []
    monkeypatch.setattr(checks, "FONTS", ("fonts/absent.ttf",))
    assert [message.id for message in checks.check_fonts()] == ["sideport.E003"]
