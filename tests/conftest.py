"""For all tests: what benchd has learned on this machine's benches must not change what they find."""

from __future__ import annotations

import os

os.environ["XDG_DATA_HOME"] = "/nonexistent"
