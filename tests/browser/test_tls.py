"""Rounds behind a reverse proxy that does TLS, set up by the README's own lines."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import socket
import subprocess
import time
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from cryptography.x509 import load_pem_x509_certificate
from playwright.sync_api import Playwright

from tests.browser.office import office, phone, sign_in

pytestmark = pytest.mark.browser
README = Path(__file__).parents[2] / "README.md"


def test_rounds_work_without_signal_behind_the_readmes_proxy(
    playing: Playwright, tmp_path: Path
) -> None:
    lines = re.search(r"~~~caddyfile\n(.*?)~~~", README.read_text(encoding="utf-8"), re.DOTALL)
    assert lines
    site, tls, proxied = (line.strip() for line in lines.group(1).strip().splitlines()[:3])
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with office(tmp_path) as served:
        served.cut()
        with (served.path / "settings.toml").open("a", encoding="utf-8") as settings:
            settings.write("\ntrusted_proxy = true\n")
        served.start()
        here = f"https://localhost:{port}"
        assert site.endswith("{")
        options = "{\nskip_install_trust\nadmin off\nauto_https disable_redirects\n}\n"
        text = f"{here} {{\n{tls}\n{proxied.replace('8000', str(served.port))}\n}}\n"
        (tmp_path / "Caddyfile").write_text(options + text)
        home = {"HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "kept")}
        command = [
            "caddy",
            "run",
            "--config",
            str(tmp_path / "Caddyfile"),
            "--adapter",
            "caddyfile",
        ]
        with subprocess.Popen(
            command, env=os.environ | home, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as proxy:
            try:
                authority = tmp_path / "kept/caddy/pki/authorities/local/intermediate.crt"
                trusted = f"--ignore-certificate-errors-spki-list={_key_of(authority)}"
                with phone(playing, tmp_path / "phone", trusted) as context:
                    page = sign_in(context, served, here)
                    cookies = {one["name"]: one for one in context.cookies()}
                    assert cookies["__Host-latchbook"]["secure"]
                    assert cookies["__Host-latchbook"]["httpOnly"]
                    served.cut()
                    proxy.terminate()
                    page.goto(f"{here}/rounds")
                    page.get_by_role("heading", name="My stops").wait_for()
            finally:
                proxy.terminate()


def _key_of(certificate: Path) -> str:
    """The SHA-256 of a certificate's public key, in base64, once the proxy has made it."""
    end = time.monotonic() + 20
    while not certificate.exists():
        assert time.monotonic() < end, "the proxy made no certificate"
        time.sleep(0.1)
    key = load_pem_x509_certificate(certificate.read_bytes()).public_key()
    plain = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(plain).digest()).decode()
