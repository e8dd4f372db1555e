"""Studies in the window: asked for, watched, looked at point by point, applied.

- `work`: a study on a thread of its own, with its processes; advances and the answer arrive on the GUI thread.
- `told`: what an answer shows: a sentence, a map or curves of points that can be clicked, rows, one edit.
- `asking`: the questions there are, each with what it is asked about.
- `map_view`, `curve_view`: the two kinds of picture. `panel`: all of it together.
"""
