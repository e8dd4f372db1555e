"""A folder with the program and all it needs, for computers without Python: ``python -m workbench.packaging FOLDER``.

It is made for the platform that it is made on. It needs the optional extra ``standalone`` (PyInstaller); the steps for
each platform are in DEVELOPERS.md.
"""

import importlib.util
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from workbench.resources import project, resource

PROGRAM = "link-margin"
USAGE = "usage: python -m workbench.packaging FOLDER\n"
_LEFT_OUT = ("tkinter", "matplotlib", "IPython", "pytest", "OpenGL")
"""What libraries would use if it were there, and the program never does."""

_START = """\
import sys
from multiprocessing import freeze_support

if __name__ == "__main__":
    freeze_support()
    if sys.argv[1:2] == ["--model-child"]:  # a process for a maker's code, which loads nothing of the program
        from workbench.makers.child import serve

        serve(sys.argv[2:])
    from workbench.cli import main

    sys.exit(main())
"""


def main(arguments: list[str]) -> int:
    """Build the folder, start what is in it, and say how large it is and how long it took to answer.

    Args:
        arguments: the folder to put it into.

    Returns:
        0; 1 if the build or its first start failed; 2 if it can't be begun.
    """
    if len(arguments) != 1:
        sys.stderr.write(USAGE)
        return 2
    if importlib.util.find_spec("PyInstaller") is None:
        sys.stderr.write("PyInstaller is missing; install it with: pip install 'link-margin-workbench[standalone]'\n")
        return 2
    folder = Path(arguments[0]).resolve()
    with tempfile.TemporaryDirectory() as own:
        if not _built(folder, Path(own)):
            sys.stderr.write("the build failed; what PyInstaller said stands above\n")
            return 1
    program = folder / PROGRAM / (f"{PROGRAM}.exe" if sys.platform == "win32" else PROGRAM)
    size = sum(path.stat().st_size for path in program.parent.rglob("*") if path.is_file() and not path.is_symlink())
    started = time.perf_counter()
    answered = subprocess.run([str(program), "--version"], capture_output=True, text=True, check=False)
    took_s = time.perf_counter() - started
    if answered.returncode != 0:
        sys.stderr.write(f"it was built, but does not start:\n{answered.stderr}")
        return 1
    sys.stdout.write(
        f"{program.parent}: {size / 1e6:.0f} MB, answers in {took_s:.2f} s ({answered.stdout.strip()})\n"
    )
    return 0


def _built(folder: Path, own: Path) -> bool:
    start = own / "start.py"
    start.write_text(_START, encoding="utf-8")
    package = Path(__file__).resolve().parent
    data = ((resource(), "workbench/_resources"), (project(), "workbench/_projects"))
    words = [
        "--noconfirm", "--onedir", "--name", PROGRAM, "--distpath", str(folder), "--workpath", str(own / "work"),
        "--specpath", str(own), "--paths", str(package.parent), "--collect-submodules", "workbench",
        "--copy-metadata", "pint", "--collect-data", "pint", "--log-level", "WARN",
    ]  # fmt: skip
    for source, target in data:
        words += ["--add-data", f"{source}{os.pathsep}{target}"]
    for name in _LEFT_OUT:
        words += ["--exclude-module", name]
    return subprocess.run([sys.executable, "-m", "PyInstaller", *words, str(start)], check=False).returncode == 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
