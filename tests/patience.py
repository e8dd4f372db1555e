"""How long a test waits for another thread or process before it takes it for hung.

Nothing is claimed of how quick the program is, so that both cores may be kept busy by something else: benchmarks are in
`tests/bench`, and a test that speaks of effort counts operations or compares processor times.
"""

PATIENCE_S = 180.0
