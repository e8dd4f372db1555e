"""The one stylesheet of the window: every rule by a class or an object name, in a theme's colours.

The window takes it whole, and whatever stands in the window is styled by it. A region has an object name, and its rules
begin with that ("#details QLabel"); what changes with a state is a property of a widget (`set_state`).
"""

from PySide6.QtGui import QColor
from PySide6.QtWidgets import QWidget

from workbench.desk.widgets.theme import GRID_PX, Theme

_SELECTED_TINT = 0.16


def stylesheet(theme: Theme) -> str:
    """The style of everything in the window, and of the windows that belong to it."""
    parts = (
        _chrome, _frame, _first_steps, _lanes, _parts, _strip, _panes, _bits_bar, _compare, _details, _details_buttons,
        _details_tables, _measured, _measured_tables, _studies, _manual, _working, _log, _section_editor,
        _figure_windows,
    )  # fmt: skip
    return "".join(part(theme) for part in parts)


def set_state(widget: QWidget, name: str, on: bool) -> None:
    """Give a widget a property that rules ask for ("#note[refused='true']"), and the look that goes with it."""
    if bool(widget.property(name)) != on:
        widget.setProperty(name, on)
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def selected_colour(theme: Theme) -> QColor:
    """The ground of a selected lane: the sheet, tinted; solid, since the table fills a selected row itself."""
    one, other = QColor(theme.sheet), QColor(theme.accent)
    parts = ((one.red(), other.red()), (one.green(), other.green()), (one.blue(), other.blue()))
    return QColor(*(round(a + (b - a) * _SELECTED_TINT) for a, b in parts))


def _edge(theme: Theme) -> str:
    """The frame and ground of what is typed into or pressed."""
    return f"border: 1px solid {theme.line}; border-radius: 2px; background: {theme.raised}; color: {theme.ink};"


def _selection(theme: Theme) -> str:
    return f"selection-background-color: {theme.accent}; selection-color: {theme.accent_ink};"


def _chrome(theme: Theme) -> str:
    return f"""
        QMainWindow, QMenuBar {{ background: {theme.desk}; color: {theme.ink}; }}
        QMenuBar {{ border-bottom: 1px solid {theme.line}; padding: 1px 4px; }}
        QMenuBar::item {{ padding: 3px 8px; background: transparent; border-radius: 3px; }}
        QMenuBar::item:selected {{ background: {theme.raised}; color: {theme.accent}; }}
        QMenu {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 4px; }}
        QMenu::item {{ padding: 4px 20px 4px 20px; border-radius: 3px; }}
        QMenu::item:selected {{ background: {theme.accent}; color: {theme.accent_ink}; }}
        QMenu::item:disabled {{ color: {theme.faint}; background: transparent; }}
        QMenu::separator {{ height: 1px; background: {theme.line}; margin: 4px 8px; }}
        QSplitter::handle {{ background: {theme.desk}; }}
        QSplitter::handle:hover {{ background: {theme.accent}; }}
        QToolTip {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 3px; }}
        QCheckBox::indicator:unchecked, QTableWidget::indicator:unchecked {{ width: 11px; height: 11px;
            border: 1px solid {theme.faint}; border-radius: 2px; background: {theme.raised}; }}
        QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
        QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
        QScrollBar::handle {{ background: {theme.line}; border-radius: 3px; margin: 2px; min-width: 24px;
            min-height: 24px; }}
        QScrollBar::handle:hover {{ background: {theme.faint}; }}
        QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
        QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    """


def _frame(theme: Theme) -> str:
    """What belongs to no region: the sheet, the palette and its button, the status line."""
    inset = f"{2 * GRID_PX}px {3 * GRID_PX}px"
    return f"""
        #find {{ color: {theme.quiet}; border: 0; padding: 2px 8px; }}
        #sheet {{ background: {theme.raised}; border: 0; border-bottom: 1px solid {theme.accent}; }}
        #sheet QLabel {{ color: {theme.ink}; }}
        #palette {{ background: {theme.raised}; border: 1px solid {theme.accent}; border-radius: 3px; }}
        #palette QLineEdit {{ background: {theme.raised}; color: {theme.ink}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: {inset}; }}
        #palette QListView {{ background: {theme.raised}; border: 0; outline: 0; }}
        #palette #nothing {{ color: {theme.quiet}; padding: {inset}; }}
        #status QLabel, #status QToolButton {{ color: {theme.quiet}; }}
        #status QToolButton::menu-indicator {{ image: none; }}
    """


def _first_steps(theme: Theme) -> str:
    return f"""
        #firstSteps {{ background: {theme.raised}; border: 1px solid {theme.line};
            border-left: 3px solid {theme.accent}; }}
        #firstSteps QLabel {{ color: {theme.quiet}; border: 0; }}
        #firstSteps #title {{ color: {theme.ink}; font-weight: 600; }}
        #firstSteps #number {{ color: {theme.accent}; }}
    """


def _lanes(theme: Theme) -> str:
    return f"""
        #lanes {{ background: {theme.sheet}; }}
        #lanes QLabel {{ color: {theme.quiet}; }}
        #lanes QTableView {{ background: {theme.sheet}; color: {theme.ink}; border: 1px solid {theme.line};
            selection-background-color: {selected_colour(theme).name()}; }}
        #lanes QTableView:focus {{ border-color: {theme.accent}; }}
        #lanes QHeaderView {{ background: {theme.sheet}; border: 0; }}
        #lanes QLineEdit {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line};
            border-radius: 3px; padding: 2px 4px; }}
        #lanes QLineEdit:focus {{ border-color: {theme.accent}; }}
        #lanes QToolButton {{ color: {theme.quiet}; background: transparent; border: 1px solid {theme.line};
            border-radius: 3px; padding: 2px 6px; }}
        #lanes QToolButton:focus {{ border-color: {theme.accent}; }}
        #lanes QToolButton:hover {{ color: {theme.accent}; }}
        #lanes QToolButton:disabled {{ color: {theme.faint}; }}
        #laneBatch {{ background: {theme.raised}; border: 1px solid {theme.line};
            border-left: 3px solid {theme.accent}; }}
        #lanes #laneBatch QLabel {{ color: {theme.ink}; border: 0; }}
        #lanes #laneBatch #note {{ color: {theme.quiet}; }}
        #lanes #laneBatch #note[refused="true"] {{ color: {theme.failed}; }}
    """


def _parts(theme: Theme) -> str:
    return f"""
        #parts #caption, #parts #empty {{ color: {theme.quiet}; }}
        #parts #newEntry {{ color: {theme.accent}; background: transparent; border: none; padding: 0 2px; }}
        #dragged {{ color: {theme.accent_ink}; background: {theme.accent}; border-radius: 3px; padding: 2px 6px; }}
    """


def _strip(theme: Theme) -> str:
    return f"""
        #stripHead QLabel {{ color: {theme.quiet}; }}
        #stripHead QToolButton {{ color: {theme.quiet}; background: transparent; border: 1px solid {theme.line};
            border-radius: 3px; padding: 1px 6px; }}
        #stripHead QToolButton:checked {{ color: {theme.accent}; border-color: {theme.accent}; }}
        #stripHead QToolButton:focus {{ border-color: {theme.ink}; }}
        #partChooser {{ background: {theme.raised}; border: 1px solid {theme.line}; }}
        #partChooser QLabel {{ color: {theme.quiet}; }}
    """


def _panes(theme: Theme) -> str:
    return f"""
        #panes {{ background: {theme.desk}; }}
        #emptyPage {{ background: {theme.sheet}; color: {theme.quiet}; }}
        #paneHead QToolButton {{ color: {theme.quiet}; background: transparent; border: 1px solid {theme.line};
            border-radius: 3px; padding: 0 4px; }}
        #paneHead QToolButton:checked {{ color: {theme.accent}; border-color: {theme.accent}; }}
        #paneHead QToolButton:hover {{ color: {theme.accent}; }}
        #paneHead QToolButton:focus {{ border-color: {theme.accent}; }}
        #paneHead #paneName {{ color: {theme.ink}; border-color: transparent; font-weight: 600; }}
        #paneHead #paneName[current="true"] {{ color: {theme.accent}; }}
        #paneHead #paneName:focus {{ border-color: {theme.accent}; }}
        #paneHead #paneName::menu-indicator {{ image: none; }}
    """


def _bits_bar(theme: Theme) -> str:
    return f"""
        #bitsBar QComboBox, #bitsBar QLineEdit {{ {_edge(theme)} padding: 1px 4px; {_selection(theme)} }}
        #bitsBar QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.ink};
            border: 1px solid {theme.line}; {_selection(theme)} }}
        #bitsBar QToolButton {{ color: {theme.accent}; background: transparent; border: 1px solid {theme.line};
            border-radius: 3px; padding: 0 6px; }}
        #bitsBar QLabel {{ color: {theme.quiet}; }}
        #bitsBar QComboBox:focus, #bitsBar QLineEdit:focus, #bitsBar QToolButton:focus
            {{ border-color: {theme.accent}; }}
    """


def _compare(theme: Theme) -> str:
    return f"""
        #compare QTableWidget {{ background: {theme.sheet}; border: 1px solid {theme.line}; color: {theme.ink};
            selection-background-color: {theme.raised}; selection-color: {theme.ink}; }}
        #compare QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 0 6px; }}
    """


def _details(theme: Theme) -> str:
    return f"""
        #details, #details #inside, #details QScrollArea {{ background: {theme.sheet}; }}
        #details QLabel, #details QCheckBox {{ color: {theme.ink}; background: transparent; }}
        #details #label, #details #note, #details #readable[empty="true"] {{ color: {theme.quiet}; }}
        #details #caption {{ color: {theme.quiet}; font-weight: 600; border-bottom: 1px solid {theme.line};
            padding-bottom: 2px; }}
        #details #error {{ color: {theme.failed}; }}
        #details #finding[severity="error"] {{ color: {theme.failed}; }}
        #details #finding[severity="warning"] {{ color: {theme.marginal}; }}
        #details #question {{ color: {theme.ink}; }}
        #details #help {{ color: {theme.quiet}; background: {theme.desk}; border-top: 1px solid {theme.line}; }}
        #details #nest {{ border: 0; border-left: 2px solid {theme.line}; }}
        #details #asking {{ border-top: 1px solid {theme.failed}; }}
        #details QLineEdit, #details QPlainTextEdit, #details QComboBox {{ {_edge(theme)} padding: 2px 4px;
            min-height: 16px; {_selection(theme)} }}
        #details QLineEdit:focus, #details QPlainTextEdit:focus, #details QComboBox:focus
            {{ border-color: {theme.accent}; }}
        #details QLineEdit[faulty="true"], #details QComboBox[faulty="true"] {{ border-color: {theme.failed}; }}
        #details QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.ink};
            border: 1px solid {theme.line}; {_selection(theme)} }}
    """


def _details_buttons(theme: Theme) -> str:
    return f"""
        #details QPushButton {{ {_edge(theme)} padding: 3px 8px; }}
        #details QPushButton:hover, #details QPushButton:focus {{ border-color: {theme.accent}; }}
        #details QPushButton:disabled {{ color: {theme.faint}; }}
        #details QPushButton#link {{ border: 0; background: transparent; color: {theme.accent}; text-align: left;
            padding: 2px 0; }}
        #details QPushButton#link:hover, #details QPushButton#link:focus {{ text-decoration: underline; }}
        #details QPushButton#link:disabled {{ color: {theme.quiet}; text-decoration: none; }}
        #details QToolButton {{ border: 0; color: {theme.accent}; padding: 1px 5px; background: transparent; }}
        #details QToolButton:hover, #details QToolButton:focus {{ background: {theme.desk}; }}
        #details QToolButton:disabled {{ color: {theme.faint}; }}
    """


def _details_tables(theme: Theme) -> str:
    return f"""
        #details QTabBar#tabs {{ background: {theme.sheet}; }}
        #details QTabBar#tabs::tab {{ color: {theme.quiet}; background: transparent; border: 0;
            padding: 6px 8px 4px 8px; margin-left: 2px; border-bottom: 2px solid transparent; }}
        #details QTabBar#tabs::tab:selected {{ color: {theme.ink}; border-bottom-color: {theme.accent}; }}
        #details QTabBar#tabs::tab:hover {{ color: {theme.ink}; }}
        #details QTabBar#tabs:focus::tab:selected {{ color: {theme.accent}; }}
        #details QTableWidget {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line};
            {_selection(theme)} }}
        #details QTableWidget QLineEdit {{ border: 0; border-radius: 0; padding: 0 2px; min-height: 0; }}
        #details QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 1px 2px; }}
    """


def _measured(theme: Theme) -> str:
    return f"""
        #measured {{ background: {theme.sheet}; border-top: 1px solid {theme.line}; }}
        #measured QLabel, #measured QCheckBox {{ color: {theme.ink}; }}
        #measured QCheckBox:disabled {{ color: {theme.faint}; }}
        #measured #caption {{ color: {theme.quiet}; font-weight: 600; }}
        #measured #sentence {{ color: {theme.quiet}; }}
        #measured #sentence[refused="true"] {{ color: {theme.failed}; }}
        #measured QComboBox, #measured QPushButton, #measured QLineEdit, #measured QPlainTextEdit {{ {_edge(theme)}
            padding: 2px 6px; min-height: 16px; }}
        #measured QComboBox:focus, #measured QPushButton:focus, #measured QPushButton:hover, #measured QLineEdit:focus,
            #measured QPlainTextEdit:focus {{ border-color: {theme.accent}; }}
        #measured QPushButton:disabled, #measured QLineEdit:disabled, #measured QComboBox:disabled
            {{ color: {theme.faint}; }}
        #measured QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.ink};
            {_selection(theme)} }}
        #measured QScrollArea, #measured #pageBody {{ background: transparent; border: 0; }}
    """


def _measured_tables(theme: Theme) -> str:
    return f"""
        #measured QTableWidget {{ background: {theme.sheet}; color: {theme.ink}; border: 1px solid {theme.line};
            {_selection(theme)} }}
        #measured QTableWidget:focus {{ border-color: {theme.accent}; }}
        #measured QTableWidget QLineEdit {{ min-height: 0; padding: 0 2px; }}
        #measured QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 2px 6px; font-weight: 400; }}
    """


def _studies(theme: Theme) -> str:
    return f"""
        #findingsPanel, #findingsList {{ background: {theme.sheet}; }}
        #findingsPanel {{ border-top: 1px solid {theme.line}; }}
        #findingsPanel QLabel {{ color: {theme.ink}; }}
        #findingsPanel #caption {{ color: {theme.quiet}; font-weight: 600; }}
        #findingsPanel #quiet {{ color: {theme.quiet}; }}
        #findingsPanel #severity[severity="error"] {{ color: {theme.failed}; }}
        #findingsPanel #severity[severity="warning"] {{ color: {theme.marginal}; }}
        #findingsPanel #severity[severity="note"] {{ color: {theme.accent}; }}
        #findingsPanel QPushButton {{ {_edge(theme)} padding: 2px 8px; min-height: 16px; }}
        #findingsPanel #link {{ color: {theme.accent}; background: transparent; border: 0; padding: 0;
            text-align: left; }}
        #findingsPanel #link:hover, #findingsPanel #link:focus {{ text-decoration: underline; }}
        #studies {{ background: {theme.sheet}; border-top: 1px solid {theme.line}; }}
        #studies QLabel {{ color: {theme.ink}; }}
        #studies #caption {{ color: {theme.quiet}; font-weight: 600; }}
        #studies QComboBox, #studies QLineEdit, #studies QPushButton {{ {_edge(theme)} padding: 2px 8px;
            min-height: 16px; }}
        #studies QComboBox:focus, #studies QPushButton:focus, #studies QPushButton:hover
            {{ border-color: {theme.accent}; }}
        #studies #note {{ color: {theme.quiet}; }}
        #orderedChoice QToolButton {{ {_edge(theme)} color: {theme.faint}; padding: 1px 8px; }}
        #orderedChoice QToolButton:checked {{ color: {theme.accent}; border-color: {theme.accent}; }}
        #orderedChoice QToolButton:focus {{ border-color: {theme.ink}; }}
        #studies QPushButton:disabled {{ color: {theme.faint}; }}
        #studies QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.ink};
            {_selection(theme)} }}
        #studies QProgressBar {{ {_edge(theme)} text-align: center; font-size: 8pt; }}
        #studies QProgressBar::chunk {{ background: {theme.line}; }}
        #studies QTableWidget {{ background: {theme.sheet}; color: {theme.ink}; border: 0; {_selection(theme)} }}
        #studies QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 2px 6px; font-weight: 400; }}
    """


def _manual(theme: Theme) -> str:
    return f"""
        #manual QTextBrowser {{ background: {theme.sheet}; color: {theme.ink}; border: 0;
            padding: {4 * GRID_PX}px; }}
    """


def _working(theme: Theme) -> str:
    return f"""
        #working {{ background: {theme.sheet}; }}
        #working QLabel {{ color: {theme.ink}; }}
        #working #way {{ color: {theme.quiet}; }}
        #working QTextBrowser {{ background: {theme.sheet}; color: {theme.ink}; border: 0; {_selection(theme)} }}
        #working QToolButton {{ color: {theme.accent}; background: transparent; border: 1px solid {theme.line};
            border-radius: 3px; padding: 1px 6px; }}
        #working QToolButton:disabled {{ color: {theme.faint}; }}
        #working QToolButton:focus {{ border-color: {theme.accent}; }}
    """


def _log(theme: Theme) -> str:
    return f"""
        #log {{ background: {theme.sheet}; }}
        #log QLabel, #log QCheckBox {{ color: {theme.ink}; }}
        #log QPlainTextEdit {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line}; }}
        #log QPushButton {{ {_edge(theme)} padding: 3px 10px; }}
        #log QPushButton:focus {{ border-color: {theme.accent}; }}
    """


def _figure_windows(theme: Theme) -> str:
    windows = ("#dataSheet", "#networkSet", "#endFiles", "#modelEditor")
    return "".join(_figures_asked(theme, window) for window in windows)


def _figures_asked(theme: Theme, window: str) -> str:
    """A window that asks for figures."""
    fields = ", ".join(f"{window} {kind}" for kind in ("QLineEdit", "QSpinBox", "QComboBox"))
    return f"""
        {window}, {window} QStackedWidget, {window} QScrollArea, {window} QWidget {{ background: {theme.sheet};
            color: {theme.ink}; }}
        {fields} {{ {_edge(theme)} padding: 2px 4px; }}
        {window} QPlainTextEdit, {window} QTableWidget {{ background: {theme.raised};
            border: 1px solid {theme.line}; gridline-color: {theme.line}; }}
        {window} QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 2px; }}
        {window} QLineEdit:focus, {window} QPlainTextEdit:focus, {window} QTableWidget:focus,
        {window} QPushButton:focus {{ border-color: {theme.accent}; }}
        {window} QLineEdit[faulty="true"] {{ border-color: {theme.failed}; }}
        {window} #fault {{ color: {theme.failed}; }}
        {window} QPushButton {{ {_edge(theme)} padding: 3px 10px; }}
        {window} QPushButton:disabled {{ color: {theme.faint}; }}
    """


def _section_editor(theme: Theme) -> str:
    return f"""
        #sectionEditor {{ background: {theme.sheet}; }}
        #sectionEditor QLabel, #sectionEditor QCheckBox {{ color: {theme.ink}; }}
        #sectionEditor QLineEdit, #sectionEditor QComboBox {{ {_edge(theme)} padding: 2px 4px; }}
        #sectionEditor QLineEdit:focus {{ border-color: {theme.accent}; }}
        #sectionEditor QLineEdit[faulty="true"] {{ border-color: {theme.failed}; }}
        #sectionEditor QPushButton {{ {_edge(theme)} padding: 3px 8px; }}
        #sectionEditor QPushButton:focus {{ border-color: {theme.accent}; }}
    """
