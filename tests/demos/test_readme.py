"""README shows what the program really prints, and names only what is there."""

import re
from pathlib import Path

import pytest

from tests.demos.assessed import found
from workbench.cli import COMMANDS
from workbench.reports.text import assessment_text

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
NUMBER = re.compile(r"[-+]?\d+\.\d+|[-+]?\d+")


def block(marker: str) -> str:
    found = re.search(rf"<!-- {marker} -->\n```\w*\n(.*?)```", README, flags=re.DOTALL)
    assert found is not None, f"README has no block marked {marker}"
    return found[1]


def test_the_table_is_the_programs_own():
    printed = assessment_text(found("correlator-shelf")).split("\nFindings")[0].rstrip()
    shown = block("demo table").rstrip()
    assert NUMBER.sub("#", " ".join(shown.split())) == NUMBER.sub("#", " ".join(printed.split()))
    pairs = zip(NUMBER.findall(shown), NUMBER.findall(printed), strict=True)
    for was, now in pairs:  # a digit of the last place is rounding, not another result
        assert float(now) == pytest.approx(float(was), abs=1.0 if abs(float(was)) > 10.0 else 0.01)


@pytest.mark.parametrize("marker", ["first command", "test command"])
def test_each_of_the_two_commands_is_one_line_that_makes_its_own_environment(marker):
    lines = block(marker).splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("python3 -m venv .venv && ")


def test_every_command_that_readme_shows_is_one_of_the_programs():
    shown = set(re.findall(r"^\.venv/bin/link-margin (\w+)", README, flags=re.MULTILINE))
    assert shown
    assert shown <= set(COMMANDS)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_link_and_every_named_file_is_there(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    for target in re.findall(r"\]\((?!http)([^)#]+)\)", text):
        assert (ROOT / target).exists(), target
    for target in re.findall(r"`((?:tests|projects|resources|\.ci)/[\w./-]+)`", text):
        assert (ROOT / target).exists(), target
