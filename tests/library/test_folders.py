"""What was measured is found: one folder for all logs, the folders of earlier versions, and names of logs."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from benchd.cli import main
from benchd.command.log_names import default_log, log_named, which_log
from benchd.daemon.folders import NoPlace, ServiceLocks, places
from benchd.errors import InputError
from benchd.library.scan import INDEX_NAME
from benchd.user_folders import earlier_folders, library_folder, sample_folder
from tests.library.conftest import write_log


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's folders: the working folder is ``work``, beside ``data`` and ``state``."""
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "run"))
    monkeypatch.delenv("BENCHD_LIBRARY", raising=False)
    (tmp_path / "run").mkdir()
    return tmp_path


def found(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> list[dict[str, object]]:
    capsys.readouterr()
    assert main(["library", "list", "--json", *words]) == code
    samples: list[dict[str, object]] = json.loads(capsys.readouterr().out)["samples"]
    return samples


def names(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    return [str(one["sample"]) for one in found(capsys, *words)]


def test_a_service_keeps_its_logs_in_the_library(home: Path) -> None:
    one, other = places("one", None), places("two", None)
    assert one.logs == other.logs == library_folder() == home / "data" / "benchd" / "logs"
    assert one.queue == home / "state" / "benchd" / "one" / "queue", "the queue is state, and stays there"
    assert one.new_log("j1", "") != other.new_log("j1", ""), "two services that start in one second"
    assert places("one", home / "q").logs == library_folder()
    assert places("one", home / "q", home / "own").logs == home / "own"


def test_a_service_says_where_no_log_can_be_kept(home: Path) -> None:
    (home / "file").touch()
    with pytest.raises(NoPlace, match=r"folder for logs .*/file/logs can't be used.*--library or BENCHD_LIBRARY"):
        ServiceLocks(places("one", home / "q", home / "file" / "logs"))
    ServiceLocks(places("one", home / "q", home / "logs")).release()


def test_folders_of_earlier_versions_are_still_read(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = write_log(home / "work" / "logs" / "a.log", "plover-27/1", 384.0)
    write_log(home / "work" / "checks" / "b.log", "curlew-32/1", 450.0)
    write_log(home / "state" / "benchd" / "office" / "logs" / "avocet-27-1" / "c.log", "avocet-27/1", 250.0)
    assert len(earlier_folders()) == 3
    assert names(capsys) == ["avocet-27/1", "curlew-32/1", "plover-27/1"]
    assert (library_folder() / INDEX_NAME).exists(), "the index of all stands in the library"
    # The same log in two folders counts once, and both are named.
    write_log(library_folder() / "dunlin" / "d.log", "dunlin-24/1", 300.0)
    shutil.copy(first, library_folder() / "copy.log")
    assert names(capsys) == ["avocet-27/1", "curlew-32/1", "dunlin-24/1", "plover-27/1"]
    assert main(["library", "list"]) == 0
    assert "copy: copy.log is the same log as logs/a.log and counts once\n" in capsys.readouterr().out
    # A folder that is named is read alone.
    assert names(capsys, "--library", "checks") == ["curlew-32/1"]
    assert names(capsys, "--library", str(library_folder())) == ["dunlin-24/1", "plover-27/1"]


def test_logs_of_another_working_folder_stay_in_the_index_and_are_not_shown(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    write_log(home / "work" / "logs" / "a.log", "plover-27/1", 384.0)
    write_log(library_folder() / "b.log", "curlew-32/1", 450.0)
    assert names(capsys) == ["curlew-32/1", "plover-27/1"]
    (home / "other").mkdir()
    monkeypatch.chdir(home / "other")
    assert names(capsys) == ["curlew-32/1"]
    assert main(["library", "rank", "white"]) == 0
    assert "1 log, highest first" in capsys.readouterr().out
    assert main(["library", "list", "--figures", "--json"]) == 0
    assert {one["logs"] for one in json.loads(capsys.readouterr().out)} == {1}
    monkeypatch.chdir(home / "work")
    monkeypatch.setattr("benchd.analysis.analyse.analyse", None)  # nothing is computed again
    assert names(capsys) == ["curlew-32/1", "plover-27/1"]
    (home / "work" / "logs" / "a.log").unlink()
    assert names(capsys) == ["curlew-32/1"]


def test_one_folder_under_two_names_is_read_once(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    write_log(home / "work" / "logs" / "lab" / "a.log", "plover-27/1", 384.0)
    for library in ("logs", "logs/lab", str(home / "work" / "logs")):
        monkeypatch.setenv("BENCHD_LIBRARY", library)
        assert names(capsys) == ["plover-27/1"]
        assert main(["library", "list"]) == 0
        assert "copy:" not in capsys.readouterr().out


def test_an_empty_library_says_where_logs_come_from(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["library", "list"]) == 2
    assert f"the library {library_folder()} has no log yet: `benchd run`, `check`" in capsys.readouterr().err
    assert not library_folder().exists(), "nothing is made for it"
    log = write_log(home / "elsewhere" / "a.log", "plover-27/1", 384.0)
    assert main(["library", "add", str(log)]) == 0
    assert names(capsys) == ["plover-27/1"]


def test_a_library_that_can_not_be_written_is_a_sentence(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (home / "file").touch()
    monkeypatch.setenv("BENCHD_LIBRARY", str(home / "file" / "logs"))
    assert main(["run", "quick", "--bench", "sim-office"]) == 2
    said = capsys.readouterr().err
    assert "can't be made" in said
    assert "BENCHD_LIBRARY" in said
    write_log(home / "work" / "logs" / "a.log", "plover-27/1", 384.0)
    assert main(["library", "list"]) == 2
    assert "BENCHD_LIBRARY, or with --library" in capsys.readouterr().err


def test_a_log_is_named_by_its_path_in_the_library_or_by_its_sample(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = library_folder() / "plover-27-1"
    older = write_log(folder / "taken-over.log", "plover-27/1", wall="2026-03-01T18:00:00.000Z")
    newer = write_log(folder / "2026-03-02T180000.log", "plover-27/1", wall="2026-03-02T18:00:00.000Z")
    other = write_log(folder / "2026-03-03T180000.log", "plover 27/1", wall="2026-03-03T18:00:00.000Z")
    (folder / "damaged.log").write_bytes(b"\xff\n")
    assert log_named("plover-27-1/taken-over.log") == str(older)
    assert log_named("plover-27-1/taken-over") == str(older)
    assert log_named("plover 27/1") == str(other), "whose folder has the same name"
    assert capsys.readouterr().err == ""
    assert log_named("plover-27/1") == str(newer)
    assert capsys.readouterr().err == f"Note: of 2 logs of plover-27/1 the newest: {newer}\n"
    for name in ("tern-24/2.log", "."):
        assert log_named(name) == name, "what opens it reports that it is not there"
    write_log(home / "work" / "tern-24.log", "tern-24/2", 384.0)
    assert log_named("tern-24") == "tern-24", "as one that has a name like it"
    assert log_named("godwit/1") == "godwit/1"
    assert main(["results", "godwit/1"]) == 2
    said = capsys.readouterr().err
    assert f"nor a log or a sample of that name in the library, which is {library_folder()}; " in said
    assert "a log kept elsewhere by --log is named by its path" in said
    with pytest.raises(
        InputError, match=r"'plover-27/2', .* did you mean plover.27/1\? Its newest log: benchd results"
    ):
        log_named("plover-27/2")
    assert log_named("") == ""
    Path("plover-27-1").mkdir()
    assert log_named("plover-27-1") == "plover-27-1", "what is here comes first"
    assert "the newest of the library: benchd results " in which_log("results")


@pytest.mark.parametrize("sample", ["..", "/", "../../etc", "a/../b", "", ".hidden", "x" * 500, "\u00e9" * 80])
def test_no_sample_leads_out_of_the_library(sample: str, home: Path) -> None:
    log = default_log(sample, "unnamed-b")
    assert log.parent.parent == library_folder()
    assert sample_folder(sample) == "" or log.parent.name == sample_folder(sample)
    assert len(log.parent.name.encode()) <= 100
