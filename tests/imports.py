"""What an import costs: the modules that it loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def loaded_with(*modules: str) -> set[str]:
    """All that is loaded in an interpreter begun for importing these alone."""
    code = f"import sys, {', '.join(modules)}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())
