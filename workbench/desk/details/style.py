"""The details form's look."""

from typing import TypeVar

from PySide6.QtWidgets import QPushButton, QToolButton, QWidget

from workbench.desk.widgets.theme import Theme

WidgetT = TypeVar("WidgetT", bound=QWidget)


def named(widget: WidgetT, name: str) -> WidgetT:
    """The widget itself, under the object name that the style knows it by."""
    widget.setObjectName(name)
    return widget


def sign_button(sign: str, tip: str = "") -> QToolButton:
    """A button of one sign; the tip is its accessible name too."""
    button = named(QToolButton(), "sign")
    button.setText(sign)
    button.setToolTip(tip)
    button.setAccessibleName(tip)
    button.setAutoRaise(True)
    return button


def word_button(words: str, *, link: bool = False) -> QPushButton:
    """A button of a few words, or one that looks like a link."""
    button = QPushButton(words)
    button.setAutoDefault(False)
    return named(button, "link") if link else button


def details_style(theme: Theme) -> str:
    """The style sheet of the details form in a theme."""
    edge = f"border: 1px solid {theme.line}; border-radius: 2px; background: {theme.raised};"
    return f"""
        Details, #inside, QScrollArea {{ background: {theme.sheet}; }}
        QLabel, QCheckBox {{ color: {theme.ink}; background: transparent; }}
        #label, #note, #readable[empty="true"] {{ color: {theme.quiet}; }}
        #caption {{ color: {theme.quiet}; font-weight: 600; border-bottom: 1px solid {theme.line};
            padding-bottom: 2px; }}
        #error, #question {{ color: {theme.failed}; }}
        #question {{ color: {theme.ink}; }}
        #help {{ color: {theme.quiet}; background: {theme.desk}; border-top: 1px solid {theme.line}; }}
        #nest {{ border: 0; border-left: 2px solid {theme.line}; }}
        #asking {{ border-top: 1px solid {theme.failed}; }}
        QLineEdit, QPlainTextEdit, QComboBox {{ {edge} color: {theme.ink}; padding: 2px 4px; min-height: 16px;
            selection-background-color: {theme.accent}; selection-color: {theme.accent_ink}; }}
        QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus {{ border-color: {theme.accent}; }}
        QLineEdit[faulty="true"], QComboBox[faulty="true"] {{ border-color: {theme.failed}; }}
        QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.ink};
            border: 1px solid {theme.line}; selection-background-color: {theme.accent};
            selection-color: {theme.accent_ink}; }}
        QPushButton {{ {edge} color: {theme.ink}; padding: 3px 8px; }}
        QPushButton:hover, QPushButton:focus {{ border-color: {theme.accent}; }}
        QPushButton:disabled {{ color: {theme.faint}; }}
        QPushButton#link {{ border: 0; background: transparent; color: {theme.accent}; text-align: left;
            padding: 2px 0; }}
        QPushButton#link:hover, QPushButton#link:focus {{ text-decoration: underline; }}
        QPushButton#link:disabled {{ color: {theme.quiet}; text-decoration: none; }}
        QToolButton {{ border: 0; color: {theme.accent}; padding: 1px 5px; background: transparent; }}
        QToolButton:hover, QToolButton:focus {{ background: {theme.desk}; }}
        QToolButton:disabled {{ color: {theme.faint}; }}
        QTabBar#tabs {{ background: {theme.sheet}; }}
        QTabBar#tabs::tab {{ color: {theme.quiet}; background: transparent; border: 0; padding: 6px 8px 4px 8px;
            margin-left: 2px; border-bottom: 2px solid transparent; }}
        QTabBar#tabs::tab:selected {{ color: {theme.ink}; border-bottom-color: {theme.accent}; }}
        QTabBar#tabs::tab:hover {{ color: {theme.ink}; }}
        QTabBar#tabs:focus::tab:selected {{ color: {theme.accent}; }}
        QTableWidget {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line};
            selection-background-color: {theme.accent}; selection-color: {theme.accent_ink}; }}
        QTableWidget QLineEdit {{ border: 0; border-radius: 0; padding: 0 2px; min-height: 0; }}
        QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 1px 2px; }}
    """
