"""Studies over many assessments: which settings, where, how long, how sure, what first.

For whoever asks, the window first of all:

- A **basis** (`jobs.Basis`) is a board, a probe point and an error ratio. A study is one function,
  ``settings_study(basis, devices, ...)`` and its like, that makes a list of small independent jobs, has them done,
  and returns a frozen **answer** record. An answer has ``made`` (which board, program, how long, why not complete) and,
  where something can be applied, ``edit(board) -> board``: one undoable step that goes through `board.edits`.
- An **effort** (`running.Effort`) says how: how many processes (None: one per core, a thread for a few assessments;
  1: a thread), or the address of a dask scheduler; ``watch`` is called in the asking thread with each `Advance`
  (assessments done and in all, seconds left, and what is fresh as (job's number, result)); ``cancelled`` is asked some
  fifty times a second, and True ends the study within a fifth of a second with what it has. In the window: run the
  study on a thread that is not the GUI's, with the token's flag as ``cancelled``, and hand every advance over by a
  queued signal. Processes are started with `spawn` and load neither Qt nor scipy.
  ``partly`` is called in the asking thread, up to five times a second, with the answer as far as it is: the same record
  that cancelling at that moment would have given.
- **Figures** (`figures.LaneFigures`) are what is kept of an assessment; ``margin_guards`` is the one number that orders
  lanes, settings and places (`figures.margin_guards`), and `figures.verdict_at` its verdict.
- **Studies**: `settings.settings_study`, `element.placement_study`, `reach.reach_study`, `corners.corners_study`,
  `yields.yield_study`, `budget.budget_study`, `comparing.compare_boards`; tolerances are `tolerances.Tolerance`, typed
  with `tolerances.tolerance_from_text`.
- To show the eye of a point of an answer, make its board (``with_settings(board, candidate.settings)`` and so on) and
  ask the engine for its view as for any other.
- What can't be asked is a `StudyError`, one sentence.

The answer does not depend on who did the jobs, nor in which order.
"""
