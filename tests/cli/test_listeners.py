"""The exit status is a command's answer, whoever listens: closed standard output or error, or a reader that went away.

Every command is asked twice, for an answer and for a refusal. A stream that was closed before the start is None, as
Python leaves it; that the system's own closed descriptors come to the same is tried in processes of their own.
"""

import argparse
import io
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.thinning import some
from workbench.cli import COMMANDS, main
from workbench.cli.arguments import parser
from workbench.resources import project

BOARD, SHELF = "my.board.json", "correlator-shelf.board.json"
ANSWERED = {
    "assess": (BOARD,), "check": (BOARD,), "new": ("new.board.json", "--force"), "profiles": (),
    "report": (BOARD, "-o", "out.html", "--without", "pictures"), "sheet": (SHELF, "-o", "out.csv"),
    "manual": ("-o", "out.html"), "import": (BOARD, "jumper.s4p", "-o", "out.board.json"),
    "quality": ("jumper.s4p",), "export": (BOARD, "--lane", "L0", "--element", "1", "-o", "out.s2p"),
    "lanes": (BOARD, "routing.csv", "--template", "L0", "--add"),
    "overlay": (BOARD, "loss.csv", "--what", "transmission", "--lane", "L0", "--elements", "1-3"),
    "fit": (BOARD, "--values"),
    "study": ("corners", BOARD, "--tolerance", "loss=±10%", "--workers", "1"), "compare": (BOARD, BOARD),
    "waveform": (BOARD, "--lane", "L0", "--bits", "2000"), "model": ("list",), "gains": ("gains.csv",),
    "section": (BOARD, "--line", "inner pair"), "demo": ("made", "--force"), "remedy": (BOARD,),
    "explain": (BOARD, "--lane", "L0", "loss"),
}  # fmt: skip
"""What each command can answer with 0, and with little to compute."""
REFUSED = {
    "profiles": ("nothing",), "new": (BOARD,), "manual": ("-o", "."), "model": ("show", "no.ami"), "demo": (".",),
    "compare": ("no", "no"), "study": ("corners", "no"), "import": ("no", "no"), "lanes": ("no", "no"),
    "report": ("no", "-o", "out.html"), "waveform": ("no", "--lane", "L0"), "section": ("no", "--line", "x"),
    "explain": ("no", "--lane", "L0", "loss"),
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the demo's files and a board of one short lane."""
    made = tmp_path_factory.mktemp("listeners")
    before = Path.cwd()
    os.chdir(made)
    try:
        assert main(["demo", "."]) == main(["new", BOARD]) == 0
    finally:
        os.chdir(before)
    (made / "gains.csv").write_text("GHz,EQ 0 [dB],EQ 1 [dB]\n" + "".join(f"{f},0,{f}\n" for f in range(1, 9)))
    return made


@pytest.fixture
def gone() -> Iterator[io.TextIOWrapper]:
    """A pipe that nobody reads any more."""
    read_end, write_end = os.pipe()
    os.close(read_end)
    stream = io.TextIOWrapper(os.fdopen(write_end, "wb", buffering=0), encoding="utf-8", write_through=True)
    yield stream
    stream.close()


@pytest.mark.parametrize("name", some(COMMANDS, 6))
def test_the_exit_status_of_every_command_holds_whoever_listens(name, folder, gone, monkeypatch):
    monkeypatch.chdir(folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(folder))
    for words, status, output, error in ((ANSWERED[name], 0, gone, None), (REFUSED.get(name, ("no",)), 2, None, gone)):
        monkeypatch.setattr(sys, "stdout", output)
        monkeypatch.setattr(sys, "stderr", error)
        assert main([name, *words]) == status


@pytest.mark.campaign
@pytest.mark.parametrize(("close", "lane", "status"), [("1>&-", "RX0", 0), ("2>&-", "RX15", 1), ("2>&- 1>&-", "X", 2)])
def test_closed_descriptors_of_the_system_change_no_verdict(close, lane, status):
    words = ["-m", "workbench", "assess", str(project(SHELF)), "--independent", "--lane", lane]
    shell = ["sh", "-c", f'exec "$@" {close}', "sh", sys.executable, *words]
    found = subprocess.run(shell, capture_output=True, check=False)
    assert found.returncode == status
    assert b"Traceback" not in found.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lanes", BOARD, "-", "--template", "L0"), "standard input is closed; name a file"),
        (("model", "trust", "some.ami"), "nothing was trusted; answer y, or write --yes"),
    ],
)
def test_a_closed_input_is_a_refusal_in_a_sentence(words, says, folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    monkeypatch.setattr("workbench.cli.model._candidates", lambda asked: [])
    monkeypatch.setattr(sys, "stdin", None)
    assert main(list(words)) == 2
    assert capsys.readouterr().err.startswith(f"link-margin: {says}")


def every_parser(offered: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    yield offered
    for action in offered._actions:
        if isinstance(action, argparse._SubParsersAction):
            for one in action.choices.values():
                yield from every_parser(one)


def test_every_help_says_the_exit_status():
    silent = [
        one.prog for name in COMMANDS for one in every_parser(parser(name)._subparsers._group_actions[0].choices[name])
        if not all(said in one.format_help() for said in ("exit status: 0 ", " 2 "))
    ]  # fmt: skip
    assert not silent
