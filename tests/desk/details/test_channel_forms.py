"""The details form where each channel has a control for itself: the lane's own first, all of them below."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel

from tests.desk.details.details_help import focus, place_of, shown_details
from workbench.board.edits.catalogue import replace_entry
from workbench.board.edits.devices import set_settings
from workbench.board.model import Stage
from workbench.desk.details.device_targets import ChannelTarget, DeviceTarget
from workbench.desk.details.form import Details


@pytest.fixture
def details(qtbot, document, state, computing) -> Details:
    part = document.board.catalogue.conditioners[0]
    own = replace(part, per_channel=("equalization",))
    document.apply("own", lambda board: replace_entry(board, "conditioners", part.name, own))
    made = shown_details(qtbot, document, state, computing)
    state.select_element(place_of(document, "RX3", Stage))
    return made


def combos(details, name):
    return [one for one in details.findChildren(QComboBox) if one.accessibleName() == name and one.isVisibleTo(details)]


def positions(document):
    return [document.board.devices[0].on_channel(n)["equalization"] for n in (1, 2, 3, 4)]


def choose_down(combo, times=1):
    focus(combo)
    for _ in range(times):
        QTest.keyClick(combo, Qt.Key.Key_Down)
    QTest.keyClick(combo, Qt.Key.Key_Return)


def test_the_lanes_own_channel_stands_before_what_it_shares(details, document):
    targets = [form.target for form in details.forms]
    assert targets[1:] == [ChannelTarget("U1", 1), DeviceTarget("U1")]
    said = " ".join(label.text() for label in details.findChildren(QLabel))
    assert "each channel has its own equalization" in said
    assert document.board.devices[0].channels == ()


@pytest.mark.campaign
def test_keys_set_the_lanes_own_channel_alone(details, document):
    (combo,) = combos(details, "Equalization")
    choose_down(combo)
    assert positions(document) == ["2", "1", "1", "1"]
    document.undo()
    assert positions(document) == ["1"] * 4


@pytest.mark.campaign
def test_another_channel_and_all_of_them_are_reached_from_the_same_page(details, document):
    (third,) = combos(details, "Channel 3 (RX5)")
    choose_down(third, 2)
    assert positions(document) == ["1", "1", "3", "1"]
    (every,) = combos(details, "All channels")
    assert every.currentText() == "differ"
    focus(every)
    every.picked.emit(every.findText("5"))
    assert positions(document) == ["5"] * 4
    assert document.board.devices[0].channels == ()
    assert combos(details, "All channels")[0].currentText() == "5"


@pytest.mark.campaign
def test_a_part_is_ticked_and_gives_it_up_only_where_nothing_is_lost(details, document):
    details.show_entry("conditioners", document.board.catalogue.conditioners[0].name)
    box = next(one for one in details.findChildren(QCheckBox) if one.text() == "Emphasis")
    focus(box)
    QTest.keyClick(box, Qt.Key.Key_Space)
    assert document.board.catalogue.conditioners[0].per_channel == ("equalization", "emphasis")
    document.apply("set", lambda board: set_settings(board, ("U1",), {"equalization": "4"}, channel=2))
    other = next(one for one in details.findChildren(QCheckBox) if one.text() == "Equalization")
    focus(other)
    QTest.keyClick(other, Qt.Key.Key_Space)
    assert "sets all channels at once" in " ".join(label.text() for label in details.findChildren(QLabel))
    assert other.isChecked()
    assert document.board.catalogue.conditioners[0].per_channel == ("equalization", "emphasis")
