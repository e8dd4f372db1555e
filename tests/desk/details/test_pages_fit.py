"""Every page of details fits its column: nothing is pushed out of sight, least of all what is wrong with a field."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea

from tests.desk.details.details_help import shown_details
from workbench.board.index import section_names
from workbench.board.library import starter_catalogues
from workbench.desk.details.device_targets import DeviceTarget
from workbench.desk.details.form import BOARD, ELEMENT, LANE
from workbench.desk.details.section import SectionForm
from workbench.desk.details.targets import EntryTarget, ProfileTarget

pytestmark = pytest.mark.usefixtures("still")

NARROW_PX = 212  # 1280 by 720 at 150 % leaves the column no more


@pytest.fixture
def details(qtbot, document, state, computing):
    board = document.board
    catalogues = [board.catalogue, *(one.catalogue for one in starter_catalogues().values())]
    sections = {}
    for section in section_names():
        entries = {}
        for catalogue in catalogues:
            for entry in getattr(catalogue, section):
                entries.setdefault(type(entry), entry)
        known = {entry.name for entry in getattr(board.catalogue, section)}
        others = tuple(entry for entry in entries.values() if entry.name not in known)
        sections[section] = (*getattr(board.catalogue, section), *others)
    document.replace(replace(board, catalogue=replace(board.catalogue, **sections)), None)
    form = shown_details(qtbot, document, state, computing)
    form.resize(NARROW_PX, 480)
    return form


def overflow_px(details) -> int:
    QApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest)
    QApplication.processEvents()
    area = details.findChild(QScrollArea)
    return area.widget().minimumSizeHint().width() - area.viewport().width()


def test_every_page_fits_the_column(details, document, state):
    board = document.board
    for tab in (BOARD, LANE, ELEMENT):
        for at in range(-1, len(board.lanes[3].path) + 1):
            state.select_element(at)
            details.show_page(tab)
            assert overflow_px(details) <= 0, details.title
    targets = [EntryTarget(section, entry.name)
               for section in section_names() for entry in getattr(board.catalogue, section)]  # fmt: skip
    targets += [DeviceTarget(device.ref) for device in board.devices]
    targets += [ProfileTarget(name) for name in ("pcie-3", "usb-10g", "sata-3")]
    for target in targets:
        details.show_target(target)
        assert overflow_px(details) <= 0, target


def test_a_long_sentence_about_a_field_wraps_in_sight(details, document):
    details.show_target(EntryTarget("lines", document.board.catalogue.lines[0].name))
    form = next(one for one in details.forms if isinstance(one, SectionForm))
    row = next(iter(form.root.form.rows.values()))
    row.refuse("there_is_no_such_thing_as_a_name_without_any_space_that_goes_on_and_on_and_never_ends_at_all " * 2)
    assert overflow_px(details) <= 0
    labels = [one for one in details.findChildren(QLabel) if one.isVisible() and one.text()]
    edge = details.mapToGlobal(details.rect().topRight()).x()
    assert all(one.mapToGlobal(one.rect().topRight()).x() <= edge + 1 for one in labels)
