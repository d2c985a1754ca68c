"""A folder of made logs, and the command line in this process."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from benchd.cli import main
from benchd.library import scan
from benchd.library.scan import INDEX_NAME, open_library, refresh
from benchd.library.store import Store
from tests.report.logged import records, write

WHITES = {"plover-27/1": 384.0, "plover-27/2": 385.0, "curlew-32/1": 450.0, "avocet-27/1": 250.0}
BLACKS = {"plover-27/1": 0.35, "plover-27/2": 0.351, "curlew-32/1": 0.30, "avocet-27/1": 0.001}


def write_log(
    path: Path, sample: str, white: float = 384.0, black: float = 0.35, *, wall: str = "", simulated: bool = True
) -> Path:
    """A whole log by the report tests' maker; a black under the meter's 0.005 cd/m2 makes contrast a bound."""
    path.parent.mkdir(parents=True, exist_ok=True)
    made = records("quick", white_cd_m2=white, black_cd_m2=black, simulated=simulated)
    return write(path, (one._replace(wall=wall or one.wall) for one in made), sample=sample)


@dataclass(frozen=True, slots=True)
class House:
    """A folder of logs with four samples."""

    folder: Path

    def store(self) -> Store:
        """Its index, brought up to date."""
        store = open_library(self.folder)
        refresh(store, self.folder)
        return store

    def run(self, *words: str) -> int:
        """`benchd library` on it."""
        action, *rest = words
        return main(["library", action, "--library", str(self.folder), *rest])


@pytest.fixture(scope="module", autouse=True)
def one_version() -> Iterator[None]:
    """The version of the analysis as it was at first: a source that is edited meanwhile must not upset a test.

    Of a module: in other folders it changes with what is installed.
    """
    version = scan.analysis_version()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(scan, "analysis_version", lambda: version)
        yield


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal with room for every column; what a narrow one leaves out has tests of its own."""
    monkeypatch.setenv("COLUMNS", "400")


@pytest.fixture(scope="session")
def made_logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    for sample, white in WHITES.items():
        write_log(folder / f"{sample.replace('/', '-')}.log", sample, white, BLACKS[sample])
    house = House(folder)
    house.store().close()
    return folder


@pytest.fixture
def house(made_logs: Path, tmp_path: Path) -> House:
    """A copy of its own for each test."""
    folder = tmp_path / "logs"
    shutil.copytree(made_logs, folder)
    assert (folder / INDEX_NAME).exists()
    return House(folder)
