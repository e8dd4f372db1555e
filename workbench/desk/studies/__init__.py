"""Studies in the window: chosen, watched, looked at point by point, applied.

- `work`: a study on a thread of its own, with its processes; advances and the answer arrive on the GUI thread.
- `pictures`: those of a `studies.presentation.Presentation`, and what of them is known while a study runs.
- `panel`: all of it together, for every study of `studies.registry`.
"""
