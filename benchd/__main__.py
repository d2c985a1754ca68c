"""``python -m benchd``."""

import sys

from benchd.cli import main

sys.exit(main())
