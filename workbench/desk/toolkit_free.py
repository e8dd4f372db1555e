"""What the window needs and what knows nothing of the toolkit, to be loaded before that.

Once the toolkit is there, its bindings look at every module that is imported, to see whether it speaks of them: they
read its whole source, numpy's too, and keep it. That took a twelfth of the start, for nothing.
"""

import concurrent.futures  # noqa: F401
import logging.handlers  # noqa: F401

import numpy.fft  # noqa: F401
import platformdirs  # noqa: F401

import workbench.board.difference
import workbench.board.edits.answers
import workbench.board.edits.part_items
import workbench.board.edits.planned
import workbench.board.edits.twins
import workbench.board.previous
import workbench.board.user_library
import workbench.codes.choosing
import workbench.desk.background.worker
import workbench.engine.assess
import workbench.engine.lane.line_figures
import workbench.logbook
import workbench.reports.grouped
import workbench.reports.pages.reference
import workbench.reports.underway
import workbench.reports.wording  # noqa: F401
