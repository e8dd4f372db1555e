"""Build the folder that is named on the command line."""

import sys

from workbench.packaging.build import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
