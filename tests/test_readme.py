"""The README stays true: every command in it is run here, in order, in one user folder."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
import threading
import tomllib
from pathlib import Path

import pytest
from cli_runs import call, spawn

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"^```sh\n(.*?)\n```$", README, flags=re.M | re.S)
SET_UP = [command for command in COMMANDS if command.startswith("python3 -m venv")]
GAUGELINK = [shlex.split(command) for command in COMMANDS if command.startswith("gaugelink ")]
PORT = "/dev/ttyUSB0"
# At the desk nobody waits for simulated hands; the campaigns run each line as it stands.
IN_HASTE = {"pace=0.05": "pace=0", "--seconds\n5": "--seconds\n1"}


def test_every_command_block_is_run_by_a_test():
    assert len(SET_UP) == 2
    assert len(SET_UP) + len(GAUGELINK) == len(COMMANDS)


def test_ci_runs_the_two_set_up_commands_as_they_stand():
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert [command for command in SET_UP if command in ci] == SET_UP


def test_ci_runs_the_campaigns_that_the_readme_leaves_out():
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    left_out = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert '-m "not campaign"' in left_out["tool"]["pytest"]["ini_options"]["addopts"]
    assert ".venv/bin/python -m pytest -m campaign" in ci


def test_readme_opens_with_the_job_in_one_paragraph():
    paragraphs = README.split("\n\n")
    assert paragraphs[0] == "# gaugelink"
    assert "mainspring" in paragraphs[1]
    assert paragraphs[2].startswith("## ")


@pytest.mark.skipif(sys.platform == "win32", reason="a README port is played by a POSIX pty")
@pytest.mark.parametrize("quicker", [IN_HASTE, pytest.param({}, marks=pytest.mark.campaign)])
def test_commands_run_one_after_the_other(tmp_path, quicker):
    with _GaugeOnPty() as port:
        as_run = {PORT: port, **quicker}
        outputs = [_run(words, as_run, tmp_path) for words in GAUGELINK]
    for words, done in outputs:
        assert done.code == 0, f"{shlex.join(words)}\n{done.err}"
    (answer,) = re.findall(r"\n```\n\n```text\n(.*?\n)```\n", README, flags=re.S)
    at = README.index(f"```text\n{answer}")
    (shown_for,) = (c for c in COMMANDS if README[:at].endswith(f"```sh\n{c}\n```\n\n"))
    (printed,) = (done.out for words, done in outputs if words == shlex.split(shown_for))
    assert answer.startswith("Order ")
    assert printed.startswith(f"{answer}\n")
    by_command = {shlex.join(words[1:3]): done.out for words, done in outputs}
    assert "12.34 mm" in by_command[f"listen {shlex.quote(GAUGELINK[2][2])}"]
    assert "AVAILABLE HEIGHT" in by_command["size 1"]
    assert "bore" in by_command["jobs 1"]


def test_the_lines_of_python_give_what_json_gives(tmp_path):
    (lines,) = re.findall(r"^```python\n(.*?)\n```$", README, flags=re.M | re.S)
    assert len([line for line in lines.splitlines() if line]) <= 6
    typed = ["--documented", "1.50 x 0.13 x 380", "--hours-per-turn", "7.5"]
    assert all(repr(word)[1:-1] in lines for word in typed[1::2])
    kept_in = str(tmp_path / "journal.sqlite")
    assert call(tmp_path, "demo", "--pace", "100000", "--journal", kept_in).code == 0
    code = f"{lines}\nimport json, sys\njson.dump(data, sys.stderr)"
    done = _python(tmp_path, "-c", code)
    assert json.loads(done.stderr) == call(tmp_path, "size", "1", *typed, "--json").data
    assert re.fullmatch(r"\d\.\d\d mm high, give or take 0\.\d\d mm\n", done.stdout)


def _python(folder, *words):
    return subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env={**os.environ, "GAUGELINK_HOME": str(folder), "PYTHONUTF8": "1"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )


def _run(words, as_run, folder):
    line = "\n".join(words[1:])
    for word, real in as_run.items():
        line = line.replace(word, real)
    return words, spawn(folder, *line.split("\n"), cwd=folder)


class _GaugeOnPty:
    """A gauge on a kernel pseudo-terminal that sends the same line over and over."""

    def __enter__(self):
        import tty

        self._master, slave = os.openpty()
        tty.setraw(slave)
        self._slave = slave
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._send, daemon=True)
        self._thread.start()
        return os.ttyname(slave)

    def __exit__(self, *exc):
        self._stop.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def _send(self):
        os.set_blocking(self._master, False)
        while not self._stop.wait(0.2):
            try:
                os.write(self._master, b"+   12.34, MM\r\n")
            except BlockingIOError:
                continue
