"""What is handed on with the stand-alone folder has its licence texts in it, and what has none stops the build."""

import importlib.metadata
import sys
from pathlib import Path

import pytest

from workbench.errors import WorkbenchError
from workbench.packaging.build import settled
from workbench.packaging.licences import FOLDER, PYTHON, Origin, gather, origins_of
from workbench.resources import project, resource

OWN = (Path(__file__).parents[2] / "workbench", resource(), project())


def entry_of(package: str, ending: str) -> tuple[str, str, str]:
    """A file of an installed package as the collecting tool lists it."""
    dist = importlib.metadata.distribution(package)
    file = next(file for file in dist.files or () if str(file).endswith(ending))
    return (str(file), str(dist.locate_file(file)), "BINARY" if ".so" in file.name else "DATA")


@pytest.mark.campaign
@pytest.mark.parametrize(("package", "ending", "words"), [
    ("numpy", "_core/__init__.py", "NumPy Developers"), ("scipy", "optimize/__init__.py", "SciPy Developers"),
    ("scikit-rf", "skrf/__init__.py", "scikit-rf Developers"), ("msgspec", "msgspec/__init__.py", "Redistribution"),
    ("jinja2", "jinja2/__init__.py", "Pallets"),
    ("pyside6-essentials", "PySide6/__init__.py", "GNU LESSER GENERAL PUBLIC LICENSE"),
    ("shiboken6", "shiboken6/__init__.py", "GNU LESSER GENERAL PUBLIC LICENSE"),
])  # fmt: skip
def test_a_library_s_own_text_is_gathered(tmp_path, package: str, ending: str, words: str) -> None:
    origins, unknown = origins_of([entry_of(package, ending)], OWN)
    assert (len(origins), unknown) == (1, [])
    assert gather(origins, tmp_path) == []
    texts = [path.read_text(encoding="utf-8") for path in (tmp_path / package).iterdir()]
    assert any(words in text for text in texts)
    assert f"{package} {importlib.metadata.version(package)}" in (tmp_path / "README.txt").read_text(encoding="utf-8")


def test_qt_s_texts_tell_of_what_it_is_made_of(tmp_path) -> None:
    """ICU travels inside the window's library, and has a licence of its own."""
    gather(origins_of([entry_of("pyside6-essentials", "PySide6/__init__.py")], OWN)[0], tmp_path)
    folder = tmp_path / "pyside6-essentials"
    assert "Unicode, Inc." in (folder / "icu-copyright.txt").read_text(encoding="utf-8")
    assert "FreeType" in (folder / "qtbase-copyright.txt").read_text(encoding="utf-8")
    assert "GPL-2" in {path.name for path in (tmp_path / "common").iterdir()}


def test_python_s_own_text_is_gathered_and_the_program_s_files_need_none(tmp_path) -> None:
    entries = [("base_library.zip", "/anywhere/base_library.zip", "DATA"), ("x", str(OWN[0] / "cli"), "DATA")]
    origins, unknown = origins_of(entries, OWN)
    assert [(origin.name, origin.version) for origin in origins] == [(PYTHON, sys.version.split()[0])]
    assert unknown == []
    assert gather(origins, tmp_path) == []
    assert "PYTHON SOFTWARE FOUNDATION LICENSE" in (tmp_path / PYTHON / "LICENSE.txt").read_text(encoding="utf-8")


def test_what_has_no_text_is_named(tmp_path) -> None:
    assert gather([Origin("mystery", "1.0", ())], tmp_path) == ["mystery"]


def test_a_shared_text_that_is_named_and_not_there_is_told(tmp_path) -> None:
    text = tmp_path / "some" / "copyright"
    text.parent.mkdir()
    text.write_text("The whole text is in /usr/share/common-licenses/NO-SUCH-1.", encoding="utf-8")
    assert gather([Origin("some", "1", (text,))], tmp_path / FOLDER) == ["NO-SUCH-1, which some names"]


def test_a_file_of_nobody_stops_the_build(tmp_path) -> None:
    stray = tmp_path / "stray.dat"
    stray.touch()
    with pytest.raises(WorkbenchError, match=r"no licence text is found for stray\.dat; put one into"):
        settled([], [("stray.dat", str(stray), "DATA")], [], lambda _: (), str(tmp_path / FOLDER))


def test_versions_travel_along(tmp_path) -> None:
    found = settled([], [entry_of("numpy", "_core/__init__.py")], [], lambda _: (), str(tmp_path / FOLDER))[1]
    assert any(place.endswith(".dist-info/METADATA") and "numpy" in place for place, _, _ in found)
    assert any(place.startswith(f"{FOLDER}/numpy/") for place, _, _ in found)
