"""Whether the window opens and shows an eye: what a build for other computers is tried with."""

import sys
import time

from workbench.desk.app import open_window
from workbench.desk.help.failures import Failures
from workbench.desk.session.application import make_application
from workbench.logbook import log_folder, session_file

WORD = "--window-check"
"""The word that a stand-alone folder's program is asked with; no command of the program's."""
_PATIENCE_S = 120.0


def window_check() -> int:
    """Open the window over the demo, wait for its first lane's eye, and say how high it is.

    Returns:
        0; 1 where none came, or something failed that nobody foresaw, which is told.
    """
    application = make_application()
    failures = Failures(session_file(log_folder()))
    failures.install()
    told: list[str] = []
    failures.told.connect(told.append)
    window = open_window(None, failures)
    window.runner.failed.connect(told.append)
    window.show()
    until_s = time.monotonic() + _PATIENCE_S
    while not told and not (window.computing.views and window.computing.assessments) and time.monotonic() < until_s:
        application.processEvents()
        time.sleep(0.01)
    drawn = not window.grab().isNull()
    views = dict(window.computing.views)
    window.stop_work()
    window.deleteLater()
    failures.close()
    if told or not views or not drawn:
        sys.stderr.write(f"{told[0] if told else 'no eye came'}\n")
        return 1
    trace, view = next(iter(views.items()))
    sys.stdout.write(f"{trace.lane}: eye {view.eye.height_v * 1e3:.1f} mV\n")
    return 0
