"""What is made from the code is shipped as it is made."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.generated import files, main
from benchd.profile.profile_store import profiles_folder


@pytest.mark.parametrize("name", sorted(files()))
def test_the_shipped_file_is_current(name: str) -> None:
    shipped = profiles_folder() / name
    assert shipped.read_text(encoding="utf-8") == files()[name], "write it anew: python -m benchd.generated profiles"


def test_every_schema_that_is_shipped_is_made() -> None:
    assert {f"schema/{path.name}" for path in (profiles_folder() / "schema").glob("*.json")} < set(files())


def test_they_are_written_below_a_folder(tmp_path: Path) -> None:
    assert main([str(tmp_path)]) == 0
    assert {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*.*")} == set(files())
    assert main([]) == 2
