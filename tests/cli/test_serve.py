"""``arteriole serve`` keeps to this computer and names the option that is wrong."""

import socket
import stat
import threading
import time

import httpx
import pytest

from arteriole.cli import serve
from arteriole.cli.main import run
from arteriole.errors import OptionError


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.5", "", "example.org"])
def test_another_address_is_refused_until_there_are_accounts(host, capsys):
    assert run(["serve", "--host", host, "--no-browser"]) == 2
    assert "Accounts are not in this version" in capsys.readouterr().err


def test_a_taken_port_names_the_option(tmp_path, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        code = run(["serve", "--port", str(port), "--store", str(tmp_path / "s.db"),
                    "--no-browser"])  # fmt: skip
    said = capsys.readouterr().err
    assert code == 2
    assert f"--port {port}" in said
    assert "Choose another with --port" in said


def test_a_port_out_of_range_names_the_option(tmp_path, capsys):
    assert run(["serve", "--port", "70000", "--store", str(tmp_path / "s.db"), "--no-browser"]) == 2
    assert "--port 70000" in capsys.readouterr().err


def test_another_database_is_refused(capsys):
    assert run(["serve", "--store", "postgresql://x/y", "--no-browser"]) == 2
    assert "SQLite only" in capsys.readouterr().err


def test_the_session_secret_is_the_owners_alone_and_new_when_asked(tmp_path):
    first = serve.session_secret(tmp_path, fresh=False)
    assert serve.session_secret(tmp_path, fresh=False) == first
    assert stat.S_IMODE((tmp_path / "session.key").stat().st_mode) == 0o600
    assert serve.session_secret(tmp_path, fresh=True) != first


def test_it_serves_and_the_printed_address_opens_the_shelf(tmp_path, capsys, monkeypatch):
    import uvicorn

    servers = []
    real = uvicorn.Server

    def kept(config):
        servers.append(real(config))
        return servers[0]

    monkeypatch.setattr(uvicorn, "Server", kept)
    thread = threading.Thread(
        target=run, args=(["serve", "--port", "0", "--store", str(tmp_path / "s.db"),
                           "--no-browser"],), daemon=True)  # fmt: skip
    thread.start()
    address, until = "", time.monotonic() + 20
    while not address and time.monotonic() < until:
        thread.join(0.05)
        address = next((w for w in capsys.readouterr().err.split() if w.startswith("http")), "")
    try:
        with httpx.Client(follow_redirects=True, timeout=10) as client:
            reply = client.get(address)
        assert reply.status_code == 200
        assert "Shelf" in reply.text
    finally:
        servers[0].should_exit = True
        thread.join(10)


def test_the_check_of_the_address_has_the_three_parts_of_a_message():
    with pytest.raises(OptionError, match=r"--host .*; allowed.*\. Accounts"):
        serve.check_host("10.0.0.1")
