"""Help and version load nothing that they don't tell of: told by the modules that are loaded, not by a clock."""

import json
import subprocess
import sys

from workbench.cli import COMMANDS
from workbench.studies.forms import FORMS

HEAVY = ("numpy", "PySide6", "scipy", "skrf", *(f"workbench.{one}" for one in ("board", "engine", "desk")))

SCRIPT = """
import contextlib, io, json, sys
from workbench.cli import main
told = {}
for words in json.loads(sys.argv[1]):
    shown = io.StringIO()
    with contextlib.redirect_stdout(shown):
        status = main(words)
    told[" ".join(words)] = [status, shown.getvalue(), [one for one in json.loads(sys.argv[2]) if one in sys.modules]]
print(json.dumps(told))
"""


def test_help_and_version_load_neither_boards_nor_engine():
    asked = [["--version"], ["--help"], *([name, "--help"] for name in COMMANDS),
             *(["study", form.word, "--help"] for form in FORMS)]  # fmt: skip
    command = [sys.executable, "-c", SCRIPT, json.dumps(asked), json.dumps(HEAVY)]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    told = json.loads(run.stdout)
    assert len(told) == len(asked)
    assert {words: loaded for words, (_, _, loaded) in told.items() if loaded} == {}
    assert all(status == 0 for status, _, _ in told.values())
    assert all(f"link-margin {name}" in told[f"{name} --help"][1] for name in COMMANDS)
    assert all(field.option in told[f"study {form.word} --help"][1] for form in FORMS for field in form.fields)


def test_help_of_new_lists_every_starter():
    from workbench.board.library import starter_catalogues

    run = subprocess.run(
        [sys.executable, "-m", "workbench", "new", "--help"], capture_output=True, text=True, check=True
    )
    for starter in starter_catalogues().values():
        assert f"{starter.id} " in run.stdout
        assert starter.title in run.stdout
