from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def _own_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Meters of one test never meet the locks of another that runs at the same time."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
