"""The server as a person starts it: its address at once, found again, and stopped whole."""

import json
import os
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from small_shop import TOKEN, small_workshop, wait_until

from kerfwright.app.open_command import open_page
from kerfwright.app.page.own_demo import own_demo
from kerfwright.app.page.serve import _found, _listen
from kerfwright.basics import InputError
from kerfwright.workshop import demo_folder

LONG_S = 120.0  #: a busy machine is not a wrong page
COMMAND = [sys.executable, "-m", "kerfwright", "open"]
#: Endless work in place of a proof, so that the server is stopped in the middle of one.
PATIENT = """
import sys
from kerfwright.app.page import shop
from kerfwright.__main__ import main
import patient
shop.run_show = patient.work
main()
"""


def start(folder, *options, code=None, cwd=None):
    """Start the page with its output piped; returns the process and the address that it printed."""
    program = COMMAND if code is None else [sys.executable, "-c", code, "open"]
    path = os.pathsep.join([*filter(None, [os.environ.get("PYTHONPATH"), str(cwd or "")])])
    process = subprocess.Popen(
        [*program, str(folder), "--no-browser", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": path},
    )
    lines = []
    for line in process.stdout:
        lines.append(line)
        if line.startswith("http://"):
            return process, line.strip(), lines
    raise AssertionError("".join(lines))


def is_running(pid):
    """Whether a process is there, and not merely its entry that nobody has collected yet."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{pid}/stat")
    return not (stat.exists() and stat.read_text().rpartition(")")[2].split()[0] == "Z")


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="there is no SIGTERM")
def test_it_is_found_again_and_stops_with_a_stream_and_an_errand(tmp_path):
    workshop = small_workshop(tmp_path / "shop")
    worker = tmp_path / "worker.pid"
    (tmp_path / "patient.py").write_text(
        "import os, pathlib, time\n"
        "def work(*_, progress):\n"
        f"    part = pathlib.Path({str(worker)!r} + '.part')\n"
        "    part.write_text(str(os.getpid()))\n"
        f"    part.rename({str(worker)!r})\n"
        "    while True:\n"
        "        progress('cutting in the computer', 0.5)\n"
        "        time.sleep(0.01)\n"
    )
    code = PATIENT.replace(
        "shop.run_show",
        "import kerfwright.app.page.guard as guard\n"
        f"guard.token = lambda: {TOKEN!r}\n"
        "import kerfwright.app.page.serve as serve\n"
        f"serve.token = guard.token\nshop.run_show",
    )
    process, address, _ = start(workshop.folder, code=code, cwd=tmp_path)
    try:
        with urllib.request.urlopen(f"{address}api/who", timeout=LONG_S) as answer:
            assert json.load(answer)["folder"] == str(workshop.folder)
        again, found, lines = start(workshop.folder)
        again.communicate(timeout=LONG_S)
        assert found == address
        assert "open already" in lines[0]
        stream = urllib.request.urlopen(f"{address}api/events", timeout=LONG_S)
        assert stream.readline() == b"event: state\n"
        ask = urllib.request.Request(
            f"{address}api/jobs/slot/prove", b"{}", {"kerfwright-token": TOKEN}, method="POST"
        )
        urllib.request.urlopen(ask, timeout=LONG_S).close()
        wait_until(worker.exists)  # the errand is at work
        at_work = int(worker.read_text())
        assert is_running(at_work)
        process.send_signal(signal.SIGTERM)
        code = process.wait(LONG_S)
        rest = process.stdout.read()  # ends once nobody holds the other end: no orphan writes
    finally:
        process.kill()
        process.stdout.close()
    assert code == 0, rest
    wait_until(lambda: not is_running(at_work))
    assert rest.splitlines()[-1] == "The page is closed."
    assert "Traceback" not in rest
    with stream:
        assert b"event: gone" in stream.read()
    assert _found(workshop) is None


def test_a_folder_that_is_no_workshop_and_a_port_that_is_taken_are_told(tmp_path):
    with pytest.raises(InputError, match=r"is no workshop: it holds no machine.toml"):
        open_page(tmp_path, browser=False)
    assert list(tmp_path.iterdir()) == []
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="cannot be used"):
            _listen("127.0.0.1", taken.getsockname()[1])


def test_the_demo_is_a_copy_in_the_persons_own_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    workshop = own_demo()
    assert workshop.folder == tmp_path / "kerfwright" / "alder-lane"
    note = workshop.folder / "note.txt"
    note.write_text("mine")
    assert own_demo().folder == workshop.folder
    assert note.read_text() == "mine"
    assert not (demo_folder() / "log.sqlite").exists()
