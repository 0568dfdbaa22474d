"""``python -m bomplan``: the same as the ``bomplan`` command."""

import sys

from bomplan.cli import main

if __name__ == "__main__":
    sys.exit(main())
