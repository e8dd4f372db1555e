"""One stylesheet for the whole window: every rule finds its widget, no widget has a style of its own."""

import re
from pathlib import Path

import pytest
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QLabel

import workbench.desk
from workbench.desk.widgets.stylesheet import selected_colour, set_state, stylesheet
from workbench.desk.widgets.theme import DARK, LIGHT

pytestmark = pytest.mark.usefixtures("still")

SOURCES = {path: path.read_text() for path in Path(workbench.desk.__file__).parent.rglob("*.py")}
NAMES = sorted(set(re.findall(r"#([A-Za-z]+)(?=[\s,:\[{])", stylesheet(LIGHT))))


def ink(label: QLabel) -> str:
    """The colour that a label's words have."""
    label.ensurePolished()
    return label.palette().color(QPalette.ColorRole.WindowText).name()


def test_only_the_window_takes_a_stylesheet():
    takers = {path.name for path, text in SOURCES.items() if ".setStyleSheet(" in text}
    assert takers == {"window.py"}


def test_the_stylesheet_is_the_themes_and_nothing_in_it_is_left_open():
    assert stylesheet(LIGHT) != stylesheet(DARK)
    for theme in (LIGHT, DARK):
        style = stylesheet(theme)
        assert style.count("{") == style.count("}")
        assert theme.ink in style


@pytest.mark.parametrize("name", NAMES)
def test_every_name_that_a_rule_has_is_given_to_a_widget(name):
    given = [path for path, text in SOURCES.items() if path.name != "stylesheet.py" and f'"{name}"' in text]
    assert given


@pytest.mark.campaign
def test_a_theme_reaches_what_stands_in_the_window(window):
    for choice, theme in (("light", LIGHT), ("dark", DARK)):
        window.appearance.choose(choice)
        for label in (window.strip.head.caption, window.section.caption):
            assert ink(label) == theme.quiet.lower()


@pytest.mark.campaign
def test_a_state_changes_the_look_and_survives_a_theme(window):
    window.appearance.choose("light")
    note = window.lanes.batch.note
    assert ink(note) == LIGHT.quiet.lower()
    set_state(note, "refused", True)
    assert ink(note) == LIGHT.failed.lower()
    window.appearance.choose("dark")
    assert ink(note) == DARK.failed.lower()
    set_state(note, "refused", False)
    assert ink(note) == DARK.quiet.lower()


def test_the_ground_of_a_selected_lane_lies_between_the_sheet_and_the_accent():
    """As alpha compositing has it: 0.16 of the accent over the sheet, channel by channel."""
    for theme in (LIGHT, DARK):
        sheet, accent, found = (
            (int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16))
            for text in (theme.sheet, theme.accent, selected_colour(theme).name())
        )
        for low, high, value in zip(sheet, accent, found, strict=True):
            assert abs(value - (0.84 * low + 0.16 * high)) <= 0.5
