"""What is sent: test patterns and line codes, knowing nothing of boards.

- `pattern`: a `Pattern` says what is sent; its `stream()` gives the bits, any number, block by block.
- `prbs`, `eight_ten`, `blocks` (128b/130b, 64b/66b), `tmds`, `own`: the patterns there are.
- `choosing`: patterns by the word that the command line takes.
- `machine`: a code as a finite-state machine, for statistics that are exact.
"""
