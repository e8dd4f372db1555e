"""The details of whatever is selected, as a form: board, lane, element, its part."""

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QLineEdit, QScrollArea, QTabBar, QVBoxLayout, QWidget
from PySide6.QtWidgets import QHBoxLayout as Row

from workbench.board.model import Board, Stage
from workbench.board.user_library import UserLibrary, known_starters
from workbench.desk.background.runner import Runner
from workbench.desk.details.aggressors import AggressorBars
from workbench.desk.details.device_targets import DeviceTarget
from workbench.desk.details.field_help import HINT, FieldHelp, about_field
from workbench.desk.details.fields import FieldSpot
from workbench.desk.details.flagged import LaneFindings
from workbench.desk.details.head import DetailsHead, PageLinks
from workbench.desk.details.kept import KeptForms
from workbench.desk.details.line_view import LineView
from workbench.desk.details.pages import (
    DetailsPage,
    Section,
    board_page,
    element_page,
    lane_page,
    part_of_selected,
    target_page,
)
from workbench.desk.details.section import SectionForm
from workbench.desk.details.style import named, takes_keys, word_button
from workbench.desk.details.targets import EntryTarget, LaneTarget, ProfileTarget, Target
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.places import MANUAL, place_of_field
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.widgets.inputs import ValueInput
from workbench.desk.widgets.theme import GRID_PX, Theme

BOARD, LANE, ELEMENT, PART = range(4)
_ROOMY_LINES = 20
"""In a column lower than these what is told of a field would leave its form no room."""
_TABS = ("Board", "Lane", "Element", "Part")
_ROOMY_LINES = 20
"""In a column lower than these what is told of a field would leave its form no room."""
_TABS = ("Board", "Lane", "Element", "Part")


class Details(QWidget):
    """The form. A value that is stepped is previewed; Enter or leaving the field keeps it as one undo step.

    Attributes:
        manual_anchor: where the manual tells of the field that the keyboard is in; "" where it does not.

    Signals:
        shown: another page is shown; carries its heading.
        manual_wanted: the manual is to be opened where it tells of the field; carries the anchor.
        entry_shown: a catalogue entry is what is shown from now on; carries its section and name.
        remedy_wanted: what would make a lane pass is asked for; carries its name.
        working_wanted: how a figure was computed is asked for; carries an `AskedFigure`.
    """

    shown = Signal(str)
    manual_wanted = Signal(str)
    entry_shown = Signal(str, str)
    remedy_wanted = Signal(str)
    working_wanted = Signal(object)

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, parent: QWidget | None = None,
        *, runner: Runner | None = None, library: UserLibrary | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("details")
        self._document, self._state, self._computing, self._library = document, state, computing, library
        self._subject: Target | None = None
        self._trail: list[Target | None] = []
        self._element = state.element
        self._lane = state.lane
        self._renamed: tuple[str, str] | None = None
        self.manual_anchor = ""
        self.forms: tuple[SectionForm, ...] = ()
        self._leads = PageLinks((), self)
        self.flagged, self.line = LaneFindings(), LineView(runner)
        self._built = 0
        self._page = DetailsPage("", "")
        self._make_head()
        self._make_foot()
        self._inside = named(QWidget(), "inside")
        self._stack = QVBoxLayout(self._inside)
        self._stack.setContentsMargins(3 * GRID_PX, 0, 3 * GRID_PX, 3 * GRID_PX)
        self._stack.setSpacing(3 * GRID_PX)
        self._kept = KeptForms(self._stack)
        self.aggressors = AggressorBars(theme, self._inside)
        for below in (self.aggressors, self.flagged, self.line):
            self._stack.addWidget(below)
        self._stack.addStretch(1)
        self._scroll = QScrollArea(widgetResizable=True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setWidget(self._inside)
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(0)
        for part in (self.tabs, self.head, self._scroll, self._help):
            body.addWidget(part, 1 if part is self._scroll else 0)
        foot = Row()
        foot.setContentsMargins(2 * GRID_PX, 0, 2 * GRID_PX, GRID_PX)
        foot.addWidget(self.more)
        body.addLayout(foot)
        self.setFocusProxy(self.tabs)
        self.tabs.setCurrentIndex(LANE if state.lane else BOARD)
        self.tabs.currentChanged.connect(self._choose_tab)
        self.tabs.tabBarClicked.connect(self._forget_subject)
        self._connect()
        self._refresh()

    def _connect(self) -> None:
        self._document.changed.connect(self._refresh)
        self._document.changing.connect(self._refresh)
        self._state.selection_changed.connect(self._follow_selection)
        self._computing.lane_ready.connect(self._show_flagged)
        self._computing.lane_ready.connect(self._offer_remedy)
        self._computing.lane_ready.connect(self._show_aggressors)
        self._computing.lane_lost.connect(self._show_aggressors)
        self.line.working_wanted.connect(lambda name: self.working_wanted.emit(self.line.asked_figure(name)))
        self.aggressors.working_wanted.connect(
            lambda path: self.working_wanted.emit(AskedFigure(path, self._state.lane))
        )

    def asked_figure(self) -> AskedFigure:
        """The figure of what is looked at: a line's loss of a metre, an element's loss, else the lane's margin."""
        of_line = self.line.asked_figure() if self.line.isVisible() else None
        at, lane = self._state.element, self._state.lane
        path = next((one.path for one in self._document.shown.lanes if one.name == lane), ())
        on_element = self.tabs.currentIndex() in (ELEMENT, PART) and at is not None and 0 <= at < len(path)
        lossy = on_element and at is not None and not isinstance(path[at], Stage)
        return of_line or AskedFigure(f"path[{at}].loss_db" if lossy else "normalized_margin", lane)

    @property
    def title(self) -> str:
        """The heading of the page that is shown."""
        return self._page.title

    @property
    def help_text(self) -> str:
        """What is said about the field where the keyboard is."""
        return self._help.text()

    def show_entry(self, section: str, name: str) -> None:
        """Show a catalogue entry."""
        self.show_target(EntryTarget(section, name))

    def name_entry(self, section: str, name: str) -> None:
        """Show a catalogue entry with its name ready to be typed over."""
        self.show_entry(section, name)
        editor = self.forms[0].name_editor() if self.forms else None
        if editor is not None:
            editor.setFocus(Qt.FocusReason.ShortcutFocusReason)
            if isinstance(editor, QLineEdit):
                editor.selectAll()

    def delete_entry(self, section: str, name: str) -> None:
        """Delete a catalogue entry; where it is in use its page asks what takes its place."""
        self.show_entry(section, name)
        if self.forms:
            self.forms[0].ask_deletion()

    def show_device(self, ref: str) -> None:
        """Show a fitted device."""
        self.show_target(DeviceTarget(ref))

    def show_profile(self, profile_id: str) -> None:
        """Show a profile."""
        self.show_target(ProfileTarget(profile_id))

    def show_target(self, target: Target) -> None:
        """Show anything that has a form of its own."""
        self.finish()
        if target != self._subject:
            self._trail.append(self._subject)
            self._subject = target
        self.tabs.blockSignals(True)
        self.tabs.setCurrentIndex(PART)
        self.tabs.blockSignals(False)
        self._refresh()
        self._tell_entry()

    def show_page(self, tab: int) -> None:
        """Show BOARD, LANE, ELEMENT or PART."""
        self._forget_subject()
        self.tabs.setCurrentIndex(tab)
        self._refresh()

    def retell(self) -> None:
        """Tell every value anew: figures are shown in other units."""
        self.finish()
        self._kept.forget()
        self.forms = ()
        self._refresh()

    def finish(self) -> None:
        """Keep what is typed or stepped to; to be called before the board is saved or another one opened."""
        for form in self.forms:
            form.finish()

    def focus_first(self) -> None:
        """Give the keyboard to the page's first field."""
        for form in self.forms:
            editors = (one.focusProxy() for one in form.findChildren(ValueInput))
            editor = next((one for one in editors if one is not None and takes_keys(one)), None)
            if editor is not None:
                editor.setFocus(Qt.FocusReason.ShortcutFocusReason)
                return
        self.tabs.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Where the column is low the fields have what room there is; F1 tells of them all the same."""
        super().resizeEvent(event)
        roomy = self.height() >= _ROOMY_LINES * self.fontMetrics().lineSpacing()
        self._help.setVisible(roomy)
        self.more.setVisible(roomy)

    # --- making

    def _make_head(self) -> None:
        self.tabs = named(QTabBar(drawBase=False, expanding=False, documentMode=True), "tabs")
        self.tabs.setAccessibleName("Details of")
        self.tabs.setUsesScrollButtons(False)
        for word in _TABS:
            self.tabs.addTab(word)
        self.head = DetailsHead()
        self.head.back.clicked.connect(self._go_back)
        self.head.remedy.clicked.connect(lambda: self.remedy_wanted.emit(self._state.lane))

    def _make_foot(self) -> None:
        self._help = FieldHelp()
        self.more = word_button("More in the manual", link=True)
        self.more.setToolTip("What this field means, where its formula and range come from (F1)")
        self.more.clicked.connect(lambda: self.manual_wanted.emit(self.manual_anchor))
        self.more.setEnabled(False)

    # --- following

    def _refresh(self, _: object = None) -> None:
        board = self._document.shown
        self._page = page = self._page_of(board)
        self.line.show_target(board, page.sections[0].target if page.sections else None)
        self.head.show_page(page, way_back=bool(self._trail) and self.tabs.currentIndex() == PART)
        self._show_flagged()
        self._offer_remedy()
        self._show_aggressors()
        alike = len(self.forms) == len(page.sections) and page.links == self._leads.links
        if alike and all(form.fits(section) for form, section in zip(self.forms, page.sections, strict=True)):
            for form, section in zip(self.forms, page.sections, strict=True):
                form.show_section(section)
            return
        self._rebuild(page)
        self.shown.emit(page.title)

    def _show_flagged(self, *_: object) -> None:
        """Below one lane's fields stands what is found of it."""
        single = self.tabs.currentIndex() == LANE and len(self._state.lanes) < 2
        self.flagged.show_lane(self._computing.assessments.get(self._state.lane) if single else None)

    def _offer_remedy(self, *_: object) -> None:
        """Offer to look for a remedy on the page of one lane that does not pass."""
        found = self._computing.assessments.get(self._state.lane)
        alone = self.tabs.currentIndex() == LANE and len(self._state.lanes) < 2
        self.head.remedy.setVisible(alone and found is not None and found.margin.verdict in ("fail", "marginal"))

    def _show_aggressors(self, _: object = None) -> None:
        """The current lane's neighbours, under the lane's own page and under that of an element."""
        found = self._computing.assessments.get(self._state.lane)
        wanted = self.tabs.currentIndex() in (LANE, ELEMENT) and found is not None
        self.aggressors.show_crosstalk(found.crosstalk if wanted and found is not None else None)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.aggressors.set_theme(theme)

    def _page_of(self, board: Board) -> DetailsPage:
        lane, lanes, place = self._state.lane, self._state.lanes, self._state.element
        if self._renamed is not None and lane == self._renamed[0]:
            old, lane = self._renamed
            lanes = tuple(lane if name == old else name for name in lanes)
        tab = self.tabs.currentIndex()
        if tab == BOARD:
            return board_page(board)
        if tab == LANE:
            return lane_page(board, (lane, *(name for name in lanes if name != lane)))
        if tab == ELEMENT:
            return element_page(board, lane, place)
        if self._subject is not None and self._subject.read(board) is None:
            self._subject = None
            self._trail = []
        return target_page(board, self._subject or part_of_selected(board, lane, place))

    def _rebuild(self, page: DetailsPage) -> None:
        focus = self.focusWidget()
        had_focus = focus is not None and self._inside.isAncestorOf(focus) and focus.hasFocus()
        self._built += 1
        this = self._built
        forms = self._kept.show(page.sections, self._form)
        if self._built != this:
            return  # a field that went out of sight kept what was typed, and the page of that is there already
        self.forms = forms
        self._stack.removeWidget(self._leads)
        self._leads.hide()
        self._leads.deleteLater()
        self._leads = PageLinks(page.links, self._inside)
        self._leads.followed.connect(self.show_target)
        self._stack.insertWidget(len(self.forms), self._leads)
        self._leads.show()
        self._help.setText(HINT if page.sections else "")
        self._set_anchor("")
        self._scroll.verticalScrollBar().setValue(0)
        if had_focus:
            self.focus_first()

    def _form(self, section: Section) -> SectionForm:
        form = SectionForm(self._document, self._state, section)
        form.entered.connect(lambda spot: self._explain(form, spot))
        form.followed.connect(self.show_target)
        form.copied.connect(self.name_entry)
        form.renamed.connect(self._rename)
        form.applied.connect(self._settle_name)
        form.raised.connect(self._bring)
        return form

    def _explain(self, form: SectionForm, spot: FieldSpot) -> None:
        """Say what the field means, its range, its default and where its value comes from."""
        self._set_anchor(place_of_field(form.target.read(self._document.board), spot.keys))
        known = known_starters(self._library)
        source = form.target.source(self._document.board, spot.keys[0], known) if spot.keys else ""
        self._help.setText(about_field(spot, source))
        self._help.setToolTip(self._help.text())
        focus = self.focusWidget()
        if focus is not None and self._inside.isAncestorOf(focus):
            # A longer sentence takes its height from the form in the layout's next pass.
            QTimer.singleShot(0, focus, lambda: self._scroll.ensureWidgetVisible(focus, 0, 6 * GRID_PX))

    def _set_anchor(self, anchor: str) -> None:
        self.manual_anchor = anchor
        self.setProperty(MANUAL, anchor)
        self.more.setEnabled(bool(anchor))

    def _bring(self, part: QWidget) -> None:
        # What appeared has its place only after the layout's next pass.
        QTimer.singleShot(0, part, lambda: self._scroll.ensureWidgetVisible(part))

    def _rename(self, old: Target, new: Target) -> None:
        if self._subject == old:
            self._subject = new
        if isinstance(old, LaneTarget) and isinstance(new, LaneTarget):
            self._renamed = (old.lanes[0], new.lanes[0])

    def _settle_name(self) -> None:
        renamed, self._renamed = self._renamed, None
        if renamed is not None and self._state.lane == renamed[0]:
            self._state.set_lane(renamed[1])
        self._tell_entry()

    def _tell_entry(self) -> None:
        if isinstance(self._subject, EntryTarget):
            self.entry_shown.emit(self._subject.section, self._subject.entry)

    def _follow_selection(self) -> None:
        """Another element or lane was chosen: show it, on the page that is open where that makes sense."""
        if self._renamed is not None:
            return
        lane, place = self._state.lane, self._state.element
        moved = (lane, place) != (self._lane, self._element)
        self._lane, self._element = lane, place
        self.finish()
        if moved:
            self._subject, self._trail = None, []
            tab = self.tabs.currentIndex()
            wanted = ELEMENT if place is not None else LANE if tab != BOARD else tab
            self.tabs.blockSignals(True)
            self.tabs.setCurrentIndex(wanted)
            self.tabs.blockSignals(False)
        self._refresh()

    def _choose_tab(self) -> None:
        self.finish()
        self._refresh()

    def _forget_subject(self, _: int = 0) -> None:
        self.finish()
        if self._subject is not None:
            self._subject, self._trail = None, []
            self._refresh()

    def _go_back(self) -> None:
        self.finish()
        if self._trail:
            self._subject = self._trail.pop()
            self._refresh()
            self.tabs.setFocus()
