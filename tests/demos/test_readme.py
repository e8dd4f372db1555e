"""README names only what is there, and its commands run; its table is held to the program in test_demo_boards."""

import re
import shlex
from pathlib import Path

import pytest

from tests.demos.assessed import readme_block
from workbench.cli import COMMANDS, main
from workbench.cli.arguments import parser

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("marker", ["first command", "test command"])
def test_each_of_the_two_commands_is_one_line_that_makes_its_own_environment(marker):
    lines = readme_block(marker).splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("python3 -m venv .venv && ")


def test_every_command_that_readme_shows_is_one_of_the_programs():
    shown = set(re.findall(r"^link-margin (\w+)", README, flags=re.MULTILINE))
    assert shown
    assert shown <= set(COMMANDS)


def words_of(line):
    """A command's words, without what the shell does with its output."""
    words = shlex.split(line, comments=True)
    return words[1 : words.index(">") if ">" in words else None]


@pytest.mark.parametrize("marker", ["own board", "measured data"])
def test_the_commands_of_a_block_run_as_they_stand_in_a_folder_that_demo_makes(marker, tmp_path, monkeypatch, capsys):
    """0 or 1 is a verdict; 2 would be a refusal."""
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "."]) == 0
    if marker != "own board":
        assert main(words_of(readme_block("own board").splitlines()[0])) == 0
    for line in readme_block(marker).splitlines():
        assert main(words_of(line)) in (0, 1), (line, capsys.readouterr().err)


READ_ONLY = {
    "study": "each takes all cores for long; tests/studies runs every kind on smaller boards",
    "remedy": "takes minutes; tests/studies/test_remedy.py runs it on smaller boards",
    "compare": "needs the board that the study of settings writes; tests/studies/test_compare.py runs it",
    "waveform": "a million bits; tests/waveform/test_command.py runs it with fewer",
    "report": "draws sixteen lanes as a PDF; tests/desk/drawing/test_paper.py draws smaller ones",
}
"""Commands on the demo board that are only read below, and why."""


@pytest.mark.campaign
def test_the_other_blocks_commands_run_but_those_that_take_long(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "."]) == 0
    lines = [*readme_block("studies").splitlines(), *readme_block("bits and pages").splitlines()]
    assert {line.split()[1] for line in lines} >= set(READ_ONLY)
    for line in lines:
        if (words := words_of(line))[0] not in READ_ONLY:
            assert main(words) in (0, 1), (line, capsys.readouterr().err)


def test_no_command_stands_in_a_block_that_is_not_run():
    marked = "".join(map(readme_block, ("first command", "own board", "measured data", "studies", "bits and pages")))
    told = set(re.findall(r"^link-margin .*", README, flags=re.MULTILINE))
    assert told - set(marked.splitlines()) == {"link-margin demo trial && cd trial"}


def test_every_command_reads_and_the_boards_that_it_names_are_there(tmp_path):
    main(["demo", str(tmp_path)])
    made = {path.name for path in tmp_path.iterdir()} | {"my.board.json", "set.board.json"}
    for line in re.findall(r"^link-margin .*", README, flags=re.MULTILINE):
        words = words_of(line.partition(" && ")[0])
        parser(words[0]).parse_args(words)
        assert {word for word in words if word.endswith(".board.json")} <= made, line


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_link_and_every_named_file_is_there(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    for target in re.findall(r"\]\((?!http)([^)#]+)\)", text):
        assert (ROOT / target).exists(), target
    for target in re.findall(r"`((?:tests|projects|resources|\.ci)/[\w./-]+)`", text):
        assert (ROOT / target).exists(), target
