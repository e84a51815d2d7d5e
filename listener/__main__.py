"""``python -m listener`` is the same program as ``widehand``."""

import sys

from listener.cli import main

if __name__ == "__main__":
    sys.exit(main())
