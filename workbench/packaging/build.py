"""Builds the folder, for the platform that it is built on, and looks at what came out.

It needs the optional extra ``standalone`` (PyInstaller); the steps for each platform are in DEVELOPERS.md. PyInstaller
reads a specification (`SPECIFICATION`), which hands what was collected to `settled`, here.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib.metadata import distributions
from pathlib import Path
from typing import NamedTuple

from workbench.errors import WorkbenchError
from workbench.packaging.contents import EXCLUDED_MODULES, FORBIDDEN, Entry, kept
from workbench.packaging.licences import FOLDER, gather, origins_of
from workbench.resources import project, resource

PROGRAM = "link-margin"
USAGE = "usage: python -m workbench.packaging FOLDER\n"
MOST_MIB = 220
"""Larger than this the folder is not meant to be; it is said where it is."""
START = """\
import sys
from multiprocessing import freeze_support

if __name__ == "__main__":
    freeze_support()
    if sys.argv[1:2] == ["--model-child"]:  # a process for a maker's code, which loads nothing of the program
        from workbench.makers.child import serve

        serve(sys.argv[2:])
    if sys.argv[1:2] == ["--window-check"]:
        from workbench.desk.window_check import window_check

        sys.exit(window_check())
    from workbench.cli import main

    sys.exit(main())
"""
SPECIFICATION = """\
from PyInstaller.depend.bindepend import get_imports
from PyInstaller.utils.hooks import collect_data_files, collect_submodules
from workbench.packaging.build import settled

collected = Analysis(
    [{start!r}], pathex=[{root!r}], datas={data!r} + collect_data_files("pint"),
    hiddenimports=collect_submodules("workbench", lambda name: not name.startswith("workbench.packaging")),
    excludes={excluded!r}, optimize=2,  # documentation in the code, a quarter of it, is not handed on
)
collected.binaries, collected.datas = settled(
    collected.binaries, collected.datas, collected.pure,
    lambda file: [name for name, _ in get_imports(file)], {licences!r},
)
COLLECT(
    EXE(PYZ(collected.pure), collected.scripts, [], exclude_binaries=True, name={name!r}),
    collected.binaries, collected.datas, name={name!r},
)
"""


class ProgramAnswer(NamedTuple):
    """What a finished folder's program said to a word: exit status, both streams, and how long it took, s."""

    status: int
    said: str
    complained: str
    took_s: float


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
            sys.stderr.write("the build failed; see PyInstaller's output above\n")
            return 1
    program = folder / PROGRAM / (f"{PROGRAM}.exe" if sys.platform == "win32" else PROGRAM)
    slim(program.parent)
    return _tried(program)


def _tried(program: Path) -> int:
    """Look at what is in a finished folder, start it and open its window; the exit status."""
    strangers = sorted(str(path.name) for path in program.parent.rglob("*") if _forbidden(path.name))
    if strangers:
        sys.stderr.write(f"the folder holds what must not be in it: {', '.join(strangers)}\n")
        return 1
    answer = _asked(program)
    if answer.status != 0:
        sys.stderr.write(f"it was built, but does not start:\n{answer.complained}")
        return 1
    window = window_of(program)
    if window.status != 0:
        sys.stderr.write(f"it was built, but its window shows no eye:\n{window.complained}")
        return 1
    size_mib = size_of(program.parent) / 2**20
    sys.stdout.write(
        f"{program.parent}: {size_mib:.0f} MiB, answers in {answer.took_s:.2f} s ({answer.said.strip()}); "
        f"its window shows {window.said.strip()}\n"
    )
    if size_mib > MOST_MIB:
        sys.stderr.write(f"that is more than the {MOST_MIB} MiB that it is meant to have; see what has come in\n")
    return 0


def slim(folder: Path) -> None:
    """Take off what nothing reads: names for a debugger in Python's own and compiled modules, and second copies.

    The libraries that wheels carry along (``numpy.libs`` and the like, Qt's own) stay as they are: they were patched
    after they were linked, and don't survive `strip`. One that stands in two such folders becomes a link. On other
    systems than Linux nothing is done.
    """
    strip = shutil.which("strip")
    if not sys.platform.startswith("linux"):
        return
    files = sorted(path for path in folder.rglob("*.so*") if path.is_file() and not path.is_symlink())
    modules = [str(path) for path in files if _is_module(path)]
    if strip is not None and modules:
        subprocess.run([strip, "--strip-unneeded", *modules], check=False)
    first: dict[tuple[str, bytes], Path] = {}
    for path in (*files, *sorted(path for path in folder.rglob(f"{FOLDER}/*/*") if path.is_file())):
        same = first.setdefault((path.name, hashlib.sha256(path.read_bytes()).digest()), path)
        if same != path:
            path.unlink()
            path.symlink_to(os.path.relpath(same, path.parent))


def _is_module(path: Path) -> bool:
    compiled = ".cpython-" in path.name or ".abi3.so" in path.name
    return path.name.startswith("libpython") or (compiled and ".libs" not in str(path.parent))


def size_of(folder: Path) -> int:
    """Bytes of the files in a folder, links apart."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


def settled(
    binaries: Iterable[Entry], datas: Iterable[Entry], pure: Iterable[Entry], needs: Callable[[str], Iterable[str]],
    licences: str,
) -> tuple[list[Entry], list[Entry]]:  # fmt: skip
    """What PyInstaller collected, settled: what is kept of it, with the licences and versions of all of that.

    Args:
        binaries, datas, pure: what was collected: libraries, other files, Python's modules.
        needs: the names of the libraries that a library's file is linked with.
        licences: a folder to gather licence texts in.

    Raises:
        WorkbenchError: something has no licence text that could be found.
    """
    files = kept((*binaries, *datas), needs)
    own = (Path(__file__).resolve().parents[1], resource(), project())
    origins, unknown = origins_of((*files, *pure), own)
    missing = gather(origins, Path(licences))
    if missing or unknown:
        raise WorkbenchError(
            f"no licence text is found for {', '.join((*missing, *unknown))}; put one into resources/licences/NAME"
        )
    texts = [(f"{FOLDER}/{path.relative_to(licences).as_posix()}", str(path), "DATA") for path in _texts(licences)]
    versions = list(_metadata({origin.name for origin in origins}))
    libraries = [entry for entry in files if entry[2] != "DATA"]
    return libraries, [*(entry for entry in files if entry[2] == "DATA"), *texts, *versions]


def _texts(licences: str) -> list[Path]:
    return sorted(path for path in Path(licences).rglob("*") if path.is_file())


def _metadata(names: set[str]) -> Iterator[Entry]:
    """The metadata of packages, which tells their versions: a log and the window say them."""
    for dist in distributions():
        if dist.metadata["Name"].lower().replace("_", "-").replace(".", "-") in names:
            told = (file for file in dist.files or () if _tells(file.parts))
            yield from ((str(file), str(dist.locate_file(file)), "DATA") for file in told)


def _tells(parts: tuple[str, ...]) -> bool:
    return len(parts) == 2 and parts[0].endswith(".dist-info") and parts[1] == "METADATA"


def _forbidden(name: str) -> bool:
    return any(word in name.lower() for word in FORBIDDEN)


def window_of(program: Path) -> ProgramAnswer:
    """What a program says once its window has shown an eye, on no screen and in a home of its own."""
    with tempfile.TemporaryDirectory() as home:
        homes = ("HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME")
        own = os.environ | {"QT_QPA_PLATFORM": "offscreen"} | dict.fromkeys(homes, home)
        return _asked(program, "--window-check", own)


def _asked(program: Path, word: str = "--version", environment: Mapping[str, str] | None = None) -> ProgramAnswer:
    started = time.perf_counter()
    answered = subprocess.run(
        [str(program), word], capture_output=True, text=True, check=False, env=environment
    )
    return ProgramAnswer(answered.returncode, answered.stdout, answered.stderr, time.perf_counter() - started)


def _built(folder: Path, own: Path) -> bool:
    start, specification = own / "start.py", own / f"{PROGRAM}.spec"
    start.write_text(START, encoding="utf-8")
    root = Path(__file__).resolve().parents[2]
    data = [(str(resource()), "workbench/_resources"), (str(project()), "workbench/_projects")]
    specification.write_text(
        SPECIFICATION.format(
            start=str(start), root=str(root), data=data, excluded=list(EXCLUDED_MODULES), name=PROGRAM,
            licences=str(own / FOLDER),
        ),
        encoding="utf-8",
    )  # fmt: skip
    words = ["--noconfirm", "--distpath", str(folder), "--workpath", str(own / "work"), "--log-level", "WARN"]
    paths = os.pathsep.join(filter(None, (str(root), os.environ.get("PYTHONPATH"))))
    return subprocess.run(
        [sys.executable, "-m", "PyInstaller", *words, str(specification)], env=os.environ | {"PYTHONPATH": paths},
        check=False,
    ).returncode == 0  # fmt: skip
