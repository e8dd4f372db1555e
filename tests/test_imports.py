"""What the command line loads: start-up is part of the job, and heavy libraries stay out until they are needed."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S

ROOT = Path(__file__).resolve().parent.parent
BOARD = ROOT / "projects" / "correlator-shelf.board.json"
# A window, plotting, other people's network algebra, tables, units and templates: none has a part in an assessment.
HEAVY = ("PySide6", "pyqtgraph", "skrf", "pandas", "scipy", "pint", "jinja2", "matplotlib", "hypothesis", "pytest")

IMPORT_ONLY = "import workbench.cli"
ASSESS = """
import contextlib, io
from workbench.cli import main
with contextlib.redirect_stdout(io.StringIO()) as out:
    try:
        status = main(["assess", {board!r}, "--lane", "RX0", *{options!r}])
    except SystemExit as exit:
        status = exit.code
assert status in (0, 1), status
assert len(out.getvalue()) > 100
"""
REPORT = """
import json, sys
print(json.dumps(sorted({name.partition(".")[0] for name in sys.modules})))
"""


def loaded_by(program: str) -> set[str]:
    """Top-level modules in a fresh interpreter after a program has run."""
    run = subprocess.run(
        [sys.executable, "-I", "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{program}\n{REPORT}"],
        capture_output=True, text=True, check=False, timeout=PATIENCE_S,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    return set(json.loads(run.stdout.splitlines()[-1]))


def test_an_assessment_loads_nothing_heavy():
    loaded = loaded_by("".join(ASSESS.format(board=str(BOARD), options=one) for one in ((), ("--json",), ("--csv",))))
    assert {"workbench", "numpy", "msgspec"} <= loaded
    assert not loaded & set(HEAVY)


def test_importing_the_command_line_loads_nothing_heavy():
    assert not loaded_by(IMPORT_ONLY) & set(HEAVY)


LEAVING = """
import contextlib, io
from workbench.cli import main
with contextlib.redirect_stdout(io.StringIO()) as out:
    status = main({words!r})
assert status == 0, status
assert out.getvalue()
"""


@pytest.mark.parametrize("word", ["--version", "--help"])
def test_help_and_version_load_no_more_than_the_list_of_commands(word):
    # A count of what is loaded, since a time would depend on the machine.
    few = "own = [name for name in sys.modules if name.startswith('workbench.')]\nassert len(own) <= 6, own"
    loaded = loaded_by(LEAVING.format(words=[word]) + few)
    assert not loaded & {*HEAVY, "numpy", "msgspec", "logging", "asyncio", "multiprocessing"}


def test_no_layer_below_the_command_line_needs_it():
    below = "import workbench.parts.record, workbench.board.reading, workbench.engine.assess"
    loaded = loaded_by(f"{below}\nassert not any(m.startswith('workbench.cli') for m in sys.modules)")
    assert not loaded & set(HEAVY)


NETWORK_ON_BOARD = """
import sys
from tests.measured.networks import channel, measured
from tests.measured.test_export_commands import board_through
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.board.writing import save_board
found = measured(channel(), reference=100.0)
save_board(board_through(network_of(found, "jumper", guessed_ports(found))), {board!r})
"""


def test_an_assessment_of_a_measured_network_loads_nothing_heavy(tmp_path):
    # A board that holds a network opens and is assessed by numpy alone; reading Touchstone is what needs scikit-rf.
    board = str(tmp_path / "measured.board.json")
    loaded_by(NETWORK_ON_BOARD.format(board=board))
    loaded = loaded_by(ASSESS.format(board=board, options=()).replace('"RX0"', '"D0"'))
    assert not loaded & set(HEAVY)


def test_measured_data_load_their_libraries_only_when_a_file_is_read():
    modules = ("reading", "ports", "quality", "repair", "repair_fixture", "export")
    loaded = loaded_by("\n".join(f"import workbench.measured.touchstone.{module}" for module in modules))
    assert not loaded & set(HEAVY)
