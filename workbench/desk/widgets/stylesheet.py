"""The one stylesheet of the window: every rule by a class or an object name, in a theme's colours."""

from workbench.desk.widgets.theme import Theme


def chrome(theme: Theme) -> str:
    """The style of the window's frame: menus, splitters, scroll bars; the parts draw the rest themselves."""
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
        QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
        QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
        QScrollBar::handle {{ background: {theme.line}; border-radius: 3px; margin: 2px; min-width: 24px;
            min-height: 24px; }}
        QScrollBar::handle:hover {{ background: {theme.faint}; }}
        QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
        QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    """
