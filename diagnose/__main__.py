"""`python -m diagnose`."""

import sys

try:
    from diagnose.cli import run
except KeyboardInterrupt:
    sys.exit(130)

run()
