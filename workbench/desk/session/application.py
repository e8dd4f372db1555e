"""The application object, which whatever draws needs."""

import sys

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from workbench import __version__
from workbench.desk.session.settings import PROGRAM
from workbench.resources import resource

PROGRAM_TITLE = "Link margin workbench"


def make_application() -> QApplication:
    """The application object, with the look that the themes are made for."""
    running = QApplication.instance()
    application = running if isinstance(running, QApplication) else QApplication([sys.argv[0]])
    application.setApplicationName(PROGRAM)
    application.setApplicationDisplayName(PROGRAM_TITLE)
    application.setApplicationVersion(__version__)
    application.setDesktopFileName(PROGRAM)
    application.setWindowIcon(QIcon(str(resource("icons", "program.svg"))))
    application.setStyle("Fusion")
    return application
