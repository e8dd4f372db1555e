"""How the studies panel looks."""

from workbench.desk.widgets.theme import Theme


def panel_style(theme: Theme) -> str:
    """The style sheet of the studies panel."""
    edge = f"border: 1px solid {theme.line}; border-radius: 2px; background: {theme.raised}; color: {theme.ink};"
    return f"""
        StudiesPanel {{ background: {theme.sheet}; border-top: 1px solid {theme.line}; }}
        QLabel {{ color: {theme.ink}; }}
        #caption {{ color: {theme.quiet}; font-weight: 600; }}
        QComboBox, QLineEdit, QPushButton {{ {edge} padding: 2px 8px; min-height: 16px; }}
        QComboBox:focus, QPushButton:focus, QPushButton:hover {{ border-color: {theme.accent}; }}
        QPushButton:disabled {{ color: {theme.faint}; }}
        QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.ink};
            selection-background-color: {theme.accent}; selection-color: {theme.accent_ink}; }}
        QProgressBar {{ {edge} text-align: center; font-size: 8pt; }}
        QProgressBar::chunk {{ background: {theme.line}; }}
        QTableWidget {{ background: {theme.sheet}; color: {theme.ink}; border: 0;
            selection-background-color: {theme.accent}; selection-color: {theme.accent_ink}; }}
        QHeaderView::section {{ background: {theme.sheet}; color: {theme.quiet}; border: 0;
            border-bottom: 1px solid {theme.line}; padding: 2px 6px; font-weight: 400; }}
    """
