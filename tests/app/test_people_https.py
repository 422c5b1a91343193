"""With a certificate the site speaks HTTPS, and without one it stays at home."""

import os
import re
import shutil
import signal
import ssl
import subprocess
import sys
import urllib.request
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from sample_plan import sample_plan
from sideport.app.environment import CERTIFICATE_VARIABLE, KEY_VARIABLE, certificate, idle_seconds
from sideport.app.serve import parse_address
from sideport.exchange.plan_file import write_plan

from .test_serve import START, free_port, wait_for


def test_no_certificate_is_named_to_begin_with() -> None:
    assert certificate({}) is None


def test_half_a_certificate_is_refused(tmp_path: Path) -> None:
    (tmp_path / "unit.pem").touch()
    with pytest.raises(ImproperlyConfigured, match="belong together"):
        certificate({CERTIFICATE_VARIABLE: str(tmp_path / "unit.pem")})
    with pytest.raises(ImproperlyConfigured, match="not a file"):
        certificate({CERTIFICATE_VARIABLE: str(tmp_path / "unit.pem"), KEY_VARIABLE: str(tmp_path / "absent")})


def test_other_machines_may_connect_only_with_a_certificate(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for variable in (CERTIFICATE_VARIABLE, KEY_VARIABLE):
        (tmp_path / variable).touch()
        monkeypatch.setenv(variable, str(tmp_path / variable))
    assert parse_address("0.0.0.0:8477") == ("0.0.0.0", 8477)


@pytest.mark.parametrize(("written", "seconds"), [("", 300), ("2", 120), ("0.9", None), ("31", None), ("soon", None)])
def test_idle_minutes_are_read_loudly(written: str, seconds: float | None) -> None:
    if seconds is None:
        with pytest.raises(ImproperlyConfigured, match="from 1 to 30"):
            idle_seconds({"SIDEPORT_IDLE_MINUTES": written})
    else:
        assert idle_seconds({"SIDEPORT_IDLE_MINUTES": written}) == seconds


@pytest.mark.skipif(shutil.which("openssl") is None, reason="makes its certificate with openssl")
def test_the_site_speaks_https_and_its_cookies_travel_by_nothing_else(tmp_path: Path) -> None:
    write_plan(sample_plan(), tmp_path / "plan.json")
    pem, key, port = tmp_path / "unit.pem", tmp_path / "unit.key", free_port()
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", key, "-out", pem],
        check=True, capture_output=True,
    )  # fmt: skip
    quiet = {name: value for name, value in os.environ.items() if not name.startswith(("SIDEPORT", "DJANGO"))}
    process = subprocess.Popen(
        [sys.executable, "-c", START, str(tmp_path), f"127.0.0.1:{port}"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**quiet, CERTIFICATE_VARIABLE: str(pem), KEY_VARIABLE: str(key)},
    )  # fmt: skip
    cookies = CookieJar()
    browser = urllib.request.build_opener(
        urllib.request.HTTPSHandler(context=ssl.create_default_context(cafile=str(pem))),
        urllib.request.HTTPCookieProcessor(cookies),
    )
    try:
        page = wait_for(f"https://127.0.0.1:{port}/first/", process, browser).decode()
    finally:
        process.send_signal(signal.SIGINT)
        said, _ = process.communicate(timeout=20)
    assert re.search(r'name="csrfmiddlewaretoken"', page)
    assert [cookie.secure for cookie in cookies] == [True]
    assert f"Open https://127.0.0.1:{port}/ in a browser." in said
