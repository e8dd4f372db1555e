"""How a command says how far it is: to a terminal, or to a window that has it at work."""

WIPE = "\r\x1b[K"
"""Goes before each count: it wipes the last one."""
WANTED = "WORKBENCH_PROGRESS"
"""Set in the environment by a window that listens."""
