"""What stays out of the stand-alone folder, and what of the rest is kept."""

import sys
from pathlib import Path

import pytest

from workbench.packaging.build import size_of, slim
from workbench.packaging.contents import kept

PLUGINS = "PySide6/Qt/plugins"
COLLECTED = [
    ("numpy/core.cpython-311.so", "/n/core.so", "EXTENSION"),
    ("libneeded.so.1", "/l/libneeded.so.1", "BINARY"),
    ("libdeeper.so.1", "/l/libdeeper.so.1", "BINARY"),
    ("libreadline.so.8", "/l/libreadline.so.8", "BINARY"),
    ("libdbus-1.so.3", "/l/libdbus-1.so.3", "BINARY"),
    ("libsystemd.so.0", "/l/libsystemd.so.0", "BINARY"),
    (f"{PLUGINS}/platforms/libqxcb.so", "/q/libqxcb.so", "BINARY"),
    (f"{PLUGINS}/platforms/libqvnc.so", "/q/libqvnc.so", "BINARY"),
    (f"{PLUGINS}/platforms/libqeglfs.so", "/q/libqeglfs.so", "BINARY"),
    (f"{PLUGINS}/platformthemes/libqgtk3.so", "/q/libqgtk3.so", "BINARY"),
    (f"{PLUGINS}/egldeviceintegrations/libx.so", "/q/libx.so", "BINARY"),
    ("PySide6/Qt/translations/qt_de.qm", "/q/qt_de.qm", "DATA"),
    ("workbench/_resources/pictures/window-light.png", "/w/window-light.png", "DATA"),
    ("workbench/_resources/profiles.json", "/w/profiles.json", "DATA"),
    ("libneeded.so", "libneeded.so.1", "SYMLINK"),  # nothing is linked with this name
    ("libreadline.so", "libreadline.so.8", "SYMLINK"),
]
NEEDS = {
    "/n/core.so": ("libneeded.so.1",), "/l/libneeded.so.1": ("libdeeper.so.1", "libc.so.6"),
    "/q/libqxcb.so": ("libdbus-1.so.3", "libsystemd.so.0"), "/l/libdbus-1.so.3": ("libsystemd.so.0",),
}  # fmt: skip


def test_only_what_something_kept_is_linked_with_stays_of_libraries() -> None:
    places = [place for place, _, _ in kept(COLLECTED, lambda file: NEEDS.get(file, ()))]
    assert places == [
        "numpy/core.cpython-311.so", "libneeded.so.1", "libdeeper.so.1", f"{PLUGINS}/platforms/libqxcb.so",
        "workbench/_resources/profiles.json",
    ]  # fmt: skip


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="links are made on Linux only")
def test_a_library_that_stands_in_two_folders_becomes_a_link(tmp_path) -> None:
    for folder, content in (("a.libs", b"same"), ("b.libs", b"same"), ("c.libs", b"other")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "libmath.so.5").write_bytes(content)
    slim(tmp_path)
    assert size_of(tmp_path) == len(b"same") + len(b"other")
    assert (tmp_path / "b.libs" / "libmath.so.5").readlink() == Path("..", "a.libs", "libmath.so.5")
    assert (tmp_path / "b.libs" / "libmath.so.5").read_bytes() == b"same"
