"""A Touchstone file into the catalogue and into lanes: its ports to confirm, its quality, repairs and what they do."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QBrush, QColor
from PySide6.QtWidgets import QFormLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from workbench.board.edits.catalogue import add_entry
from workbench.board.edits.ways import lay_through, parts_in_lanes
from workbench.board.library import profile_of
from workbench.board.model import Board
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.measured.judged import REPAIR_WORDS, Asked, JudgedNetwork, judged, map_words
from workbench.desk.measured.page import (
    MeasuredPage,
    choices,
    figure_in,
    figures_table,
    put_row,
    ticked,
    typed,
    words_label,
)
from workbench.desk.measured.reading import Given, free_name
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import NotStatedError, WorkbenchError
from workbench.measured.touchstone.reading import Measured
from workbench.measured.touchstone.repair import KINDS

_CHANNEL = "network"
_DIFFERENTIAL, _LEGS = "whole differential pairs", "legs of pairs"
_CATALOGUE_ALONE = "nothing yet"
_FORM_SHARE, _CARD_SHARE = 2, 3


class NetworkPage(MeasuredPage):
    """Shows what a Touchstone file is, and puts it into the catalogue as one undo step.

    Signals:
        measurement_wanted: the file is rather to be laid beside a lane.
    """

    measurement_wanted = Signal(object)

    def __init__(
        self, document: Document, state: ViewState, work: ThreadChannels, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__("Import a network", theme, parent)
        self._document, self._state, self._work = document, state, work
        self._taken: Given | None = None
        self._known: Measured | None = None
        self._judged: JudgedNetwork | None = None
        self._count: int | None = None
        self._trusted = False
        self._make()
        self._lay_out()
        self._connect()

    # --- what others use

    def begin(self, taken: Given) -> None:
        """Begin with a file."""
        self._taken, self._known, self._judged = taken, None, None
        self._count, self._trusted = None, False
        names = tuple(entry.name for entry in self._document.board.catalogue.networks)
        self.name.setText(free_name(taken.name.rpartition(".")[0] or taken.name, names))
        self.ports.clear()
        self.ports_are.setCurrentIndex(0)
        for box in self.repairs.values():
            box.setChecked(False)
        self.trust.setChecked(False)
        self._form.setRowVisible(self.count, False)
        self.trust.hide()
        self.card.setRowCount(0)
        self.lanes.setText(", ".join(self._state.lanes))
        self.in_place_of.clear()
        self.in_place_of.addItem(_CATALOGUE_ALONE, "")
        for part in parts_in_lanes(self._document.board):
            self.in_place_of.addItem(part, part)
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.name.selectAll()
        self.judge()

    def judge(self) -> None:
        """Read and judge the file as the form has it by now."""
        taken = self._taken
        if taken is None:
            return
        self.add.setEnabled(False)
        asked, known = self._asked(taken), self._known
        self.tell(f"Reading {taken.name}…" if known is None else "Judging it…")
        self._work.ask(_CHANNEL, lambda _: judged(asked, known), self._show)

    def put(self) -> None:
        """Put the network into the catalogue, and into the lanes that are named, as one undo step."""
        found = self._judged
        if found is None or found.network is None:
            return
        network, part = found.network, str(self.in_place_of.currentData() or "")
        lanes = tuple(name for words in self.lanes.text().split(",") if (name := words.strip()))

        def put(board: Board) -> Board:
            board = add_entry(board, "networks", network)
            return lay_through(board, network.name, lanes, in_place_of=part) if part else board

        if self._document.apply(f"import network {network.name}", put):
            taken = ", ".join(f"{lane} by way {way}" for way, lane in enumerate(lanes, start=1))
            where = f"in place of {part}: {taken}" if part else "in the catalogue: drag it from Parts into a path"
            self.said.emit(f"Network {network.name} is {where}.")
            self.left.emit()

    def asked_figure(self) -> AskedFigure | None:
        """The figures of the card's row that was chosen; None where there is none."""
        found = self._judged
        if found is None:
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        whole = ExplainedAnswer(f"Quality of {found.measured.source.name}", found.after or found.before)
        return figure_in(self.card, whole, self._state.lane)

    def give_up(self) -> None:
        """Leave without a change."""
        self._work.cancel(_CHANNEL)
        super().give_up()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        super().set_theme(theme)
        if self._judged is not None:
            self._fill_card(self._judged)

    # --- making

    def _make(self) -> None:
        self.name = typed("Name in the catalogue")
        self.ports = choices("Port map", editable=True)
        self.ports.setToolTip("left positive, left negative : right positive, right negative")
        self.ports_are = choices("Ports are", [("by the references", ""), (_LEGS, "single-ended"),
                                               (_DIFFERENTIAL, "differential")])  # fmt: skip
        self.count = typed("Number of ports", hint="such as 4")
        self.in_place_of = choices("In place of")
        self.in_place_of.setToolTip("What it takes the place of in these lanes, a way of it each")
        self.lanes = typed("Lanes", hint="names with commas between: the first takes its first way")
        self.trust = ticked("The option line is right", "However odd the numbers look by it")
        self.repairs = {kind: ticked(*REPAIR_WORDS[kind]) for kind in KINDS}
        self.card = figures_table("Quality of the network", ("About", "What the data show"), stretch=1)
        self.card.setWordWrap(True)
        self.add = self.add_button("Add to catalogue", self.put, "As one undo step; the original stays in the file")
        self.instead = self.add_button(
            "Overlay on a lane", self._wish_measurement, "Import it as a measurement, not as a part"
        )
        self.add_button("Cancel", self.give_up, "Import nothing (Escape)")

    def _lay_out(self) -> None:
        self._form = QFormLayout()
        self._form.setContentsMargins(0, 0, 0, 0)
        self._form.setVerticalSpacing(GRID_PX)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, field in (
            ("Name", self.name), ("Ports", self.ports), ("They are", self.ports_are), ("Number", self.count),
            ("In place of", self.in_place_of), ("In lanes", self.lanes),
        ):  # fmt: skip
            self._form.addRow(words, field)
        left = QWidget()
        left.setObjectName("pageBody")
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GRID_PX)
        column.addLayout(self._form)
        column.addWidget(self.trust)
        caption = words_label()
        caption.setText("Repairs (the original stays)")
        caption.setObjectName("caption")
        column.addWidget(caption)
        for box in self.repairs.values():
            column.addWidget(box)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(left)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        row = QHBoxLayout()
        row.setSpacing(3 * GRID_PX)
        row.addWidget(area, _FORM_SHARE)
        row.addWidget(self.card, _CARD_SHARE)
        self.body.addLayout(row, 1)

    def _connect(self) -> None:
        self.name.editingFinished.connect(self.judge)
        self.ports.activated.connect(lambda _: self.judge())
        line = self.ports.lineEdit()
        assert line is not None  # an editable field of choices has one
        line.editingFinished.connect(self.judge)
        self.ports_are.activated.connect(lambda _: self._change_kind())
        self.count.editingFinished.connect(self._state_count)
        self.trust.clicked.connect(self._state_trust)
        for box in self.repairs.values():
            box.clicked.connect(lambda _: self.judge())

    # --- following

    def _asked(self, taken: Given) -> Asked:
        board = self._document.board
        lane = next((lane for lane in board.lanes if lane.name == self._state.lane), None)
        profile = profile_of(board, (lane.profile if lane is not None else "") or board.profile)
        return Asked(
            taken,
            self.name.text().strip() or "network",
            self.ports.currentText().strip(),
            self.ports_are.currentData(),
            tuple(kind for kind, box in self.repairs.items() if box.isChecked()),
            1.0 / profile.ui_s,
            self._count,
            self._trusted,
        )

    def _change_kind(self) -> None:
        """Another meaning of the ports makes other maps of them; what was stated before holds no more."""
        self.ports.setEditText("")
        self.judge()

    def _state_count(self) -> None:
        words = self.count.text().strip()
        self._count, self._known = int(words) if words.isdecimal() else None, None
        self.judge()

    def _state_trust(self, trusted: bool) -> None:
        self._trusted, self._known = trusted, None
        self.judge()

    def _wish_measurement(self) -> None:
        if self._taken is not None:
            self.measurement_wanted.emit(self._taken)

    def _show(self, answer: JudgedNetwork | WorkbenchError) -> None:
        if isinstance(answer, WorkbenchError):
            self._refuse(answer)
            return
        self._judged, self._known = answer, answer.measured
        self._fill_ports(answer)
        self._fill_card(answer)
        self.add.setEnabled(answer.network is not None)
        if answer.ports is None:
            self.tell(f"Its ports have to be stated: {answer.question}.", refused=True)
            self.ports.setFocus()
        else:
            sure = "The data leave no doubt about its ports." if answer.ports.sure else "Check its ports below."
            name, ports = answer.measured.source.name, answer.measured.ports
            self.tell(f"{name}: {ports} ports, {answer.before.points} points. {sure}")

    def _refuse(self, error: WorkbenchError) -> None:
        self._judged = None
        self.tell(str(error), refused=True)
        if not isinstance(error, NotStatedError):
            return
        if error.wanted == "trusted":
            self.trust.show()
            self.trust.setFocus()
        elif self._known is None:
            self._form.setRowVisible(self.count, True)
            self.count.setFocus()

    def _fill_ports(self, found: JudgedNetwork) -> None:
        words = map_words(found.ports) if found.ports is not None else self.ports.currentText()
        maps = list(dict.fromkeys(map_words(one) for one in found.choices))
        if [self.ports.itemText(n) for n in range(self.ports.count())] != maps:
            self.ports.clear()
            self.ports.addItems(maps)
        self.ports.setEditText(words)

    def _fill_card(self, found: JudgedNetwork) -> None:
        """Ports, then what each repair changed, then the quality, then what the reader noticed."""
        inks = {"good": self.theme.passed, "acceptable": self.theme.passed, "inconclusive": self.theme.marginal,
                "poor": self.theme.failed}  # fmt: skip
        rows: list[tuple[str, str, str, tuple[str, ...]]] = []
        if found.ports is not None:
            sure = ("sure", self.theme.passed) if found.ports.sure else ("to be confirmed", self.theme.marginal)
            rows.append((f"ports\n{sure[0]}", "; ".join(found.ports.reasons), sure[1], ()))
        repairs = found.network.repairs if found.network is not None else ()
        rows += [(f"{one.kind}\nrepaired", one.did, self.theme.accent, ()) for one in repairs]
        was = {aspect.about: aspect.word for aspect in found.before.aspects}
        for aspect in (found.after or found.before).aspects:
            before = was.get(aspect.about, aspect.word)
            word = aspect.word if before == aspect.word else f"{before} → {aspect.word}"
            rows.append((f"{aspect.about}\n{word}", aspect.text, inks[aspect.word], aspect.figures))
        rows += [("noticed", note, self.theme.marginal, ()) for note in found.measured.notes]
        self.card.setRowCount(len(rows))
        for row, (about, text, ink, figures) in enumerate(rows):
            put_row(self.card, row, (about, text), figures=((), figures))
            item = self.card.item(row, 0)
            assert item is not None  # put there above
            item.setForeground(QBrush(QColor(ink)))
        self.card.resizeRowsToContents()
