"""The manual in the window: the program's own keys and commands, opened where one stands."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from workbench.cli.reference import command_pages

pytestmark = pytest.mark.usefixtures("still")


@pytest.mark.campaign
def test_f1_opens_the_manual_with_every_key_and_every_command(window):
    window.own_windows.commands = command_pages
    assert window.menus.keys()  # made after the first paint in a program that has run for a moment
    QTest.keyClick(window, Qt.Key.Key_F1)
    text = window.own_windows.manual.pages.toPlainText()
    keys = dict(window.menus.keys())
    assert keys["Save"] == "Ctrl+S"
    assert len(keys) > 30
    assert all(f"{written}: {name}" in text for name, written in keys.items())
    assert "link-margin study reach" in text
    window.own_windows.manual.close()


def test_f1_in_a_field_of_the_details_opens_its_line(window):
    window.show_manual("files")
    view = window.own_windows.manual.pages.verticalScrollBar()
    assert view.value() > 0
    window.show_manual("about")
    assert view.value() < view.maximum() / 10
    window.own_windows.manual.close()
