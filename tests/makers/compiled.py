"""Libraries compiled for the tests from models.c: each kind once a session."""

import importlib.util
import shutil
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

import pytest

from workbench.makers.ami import AmiFile, ami_of_bytes
from workbench.makers.flows import Model, model_of
from workbench.makers.session import Library, Limits
from workbench.makers.trust import Candidate, Kept, Trust, Trusted, sha256
from workbench.parts.model_use import ModelUse, ModelValue

SOURCE = Path(__file__).with_name("models.c")
QUICK = Limits(init_s=120.0, wave_s=120.0, memory_bytes=2**29, cpu_s=60, file_bytes=2**16)


@cache
def compiler() -> tuple[str, ...] | None:
    """The words that a C compiler is called by; the `ziglang` wheel where the system has none."""
    for name in ("gcc", "cc", "clang"):
        if shutil.which(name):
            return (name,)
    return (sys.executable, "-m", "ziglang", "cc") if importlib.util.find_spec("ziglang") else None


@cache
def _folder() -> tempfile.TemporaryDirectory:
    return tempfile.TemporaryDirectory(prefix="compiled-models-")


@cache
def library_of(kind: str) -> Library:
    """The library of a kind of models.c; skips the test where nothing compiles C."""
    words = compiler()
    if words is None:
        pytest.skip("no C compiler on this machine, so no model to run; install gcc or the ziglang wheel")
    path = Path(_folder().name) / f"{kind.lower()}.so"
    subprocess.run(
        [*words, "-O1", "-w", "-shared", "-fPIC", f"-DMODEL={kind}", "-o", str(path), str(SOURCE), "-lm"],
        check=True, capture_output=True,
    )  # fmt: skip
    return Library(path.name, path.read_bytes())


AMI = """
(tests
  (Description "a model of the tests")
  (Reserved_Parameters
    (AMI_Version (Usage Info) (Type String) (Value "6.1") (Description "version"))
    (Init_Returns_Impulse (Usage Info) (Type Boolean) (Value {returns}) (Description "yes"))
    (GetWave_Exists (Usage Info) (Type Boolean) (Value {wave}) (Description "yes"))
    (Max_Init_Aggressors (Usage Info) (Type Integer) (Value {most}) (Description "most"))
    {reserved})
  (Model_Specific
    (taps (Description "taps")
      (-1 (Usage In) (Type Tap) (Range 0 -1 1) (Description "before"))
      (0 (Usage In) (Type Tap) (Range 1 -1 1) (Description "main"))
      (1 (Usage In) (Type Tap) (Range 0 -1 1) (Description "after")))
    (corner (Usage In) (Type Float) (Range 1e9 1e6 1e12) (Description "Hz"))
    (gain (Usage In) (Type Float) (Value 1) (Description "gain"))
    (found (Usage Out) (Type Float) (Value 0) (Description "sum"))
    (mode (Usage InOut) (Type Integer) (List 0 1 2) (Description "mode"))))
"""


def ami(*, returns: bool = True, wave: bool = True, most: int = 4, reserved: str = "") -> AmiFile:
    """The parameter file of the compiled models."""
    text = AMI.format(returns=returns, wave=wave, most=most, reserved=reserved).encode()
    file = ami_of_bytes(text, "tests.ami")
    written_as[file.sha256] = text
    return file


written_as: dict[str, bytes] = {}
"""The text of each parameter file that was made, by its hash."""


def model(kind: str, chosen: dict | None = None, file: AmiFile | None = None) -> Model:
    """A compiled model with parameters."""
    file, library = file or ami(), library_of(kind)
    kept = Kept(
        root=file.root, library=library.name, library_sha256=sha256(library.data), ami=file.source,
        ami_sha256=file.sha256, size=len(library.data),
    )  # fmt: skip
    return model_of(Trusted(kept, file, library), chosen or {})


def use_of(kind: str, chosen: dict | None = None, file: AmiFile | None = None, *, trusted: bool = True) -> ModelUse:
    """A compiled model as a board uses it; trusted by the user whose home the test has set."""
    file, library = file or ami(), library_of(kind)
    if trusted:
        Trust().add(Candidate(file, written_as[file.sha256], library, "Invented"))
    values = tuple(ModelValue(parameter=name, value=str(value)) for name, value in (chosen or {}).items())
    return ModelUse(
        model=file.root, library=library.name, library_sha256=sha256(library.data), ami_sha256=file.sha256,
        parameters=values,
    )  # fmt: skip
