"""How the program ends: its exit statuses."""

PASSED, NOT_ALL_PASS, REFUSED = 0, 1, 2
INTERRUPTED = 130
"""128 and the signal's number, as a shell counts it."""
BROKEN = 70
"""The program itself is at fault, as sysexits.h of 4.3BSD counts it."""
