"""``python -m workbench.desk [FILE]``: the window, without asking whether there is a display."""

import sys
from pathlib import Path

from workbench.desk import main

if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else None))
