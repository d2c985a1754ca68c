"""The index follows the folder: new, changed, moved, copied, removed and damaged logs, and another analysis."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
from pathlib import Path

import pytest

from benchd.analysis import analyse as analysis_module
from benchd.errors import InputError
from benchd.library import scan
from benchd.library.scan import INDEX_NAME, Refreshed, analysis_version, logs_in, open_library, refresh, remove_index
from benchd.library.store import IndexFault, Store
from tests.library.conftest import House, write_log


def again(house: House) -> Refreshed:
    store = open_library(house.folder)
    try:
        return refresh(store, house.folder)
    finally:
        store.close()


def samples(store: Store) -> list[str]:
    return [sample.facts.sample for sample in store.samples()]


def test_figures_are_those_of_the_results(house: House) -> None:
    store = house.store()
    unit, white = store.figure("white luminance")
    by_sample = {sample.facts.sample: white[sample.id] for sample in store.samples()}
    assert unit == "cd/m2"
    assert by_sample["curlew-32/1"].value == pytest.approx(450.0, rel=1e-3)
    assert store.figure("luminance/white")[1] == white, "a headline is the same figure under another name"
    contrast = store.figure("contrast")[1]
    bounds = {sample.facts.sample: contrast[sample.id].bound for sample in store.samples()}
    assert bounds == {"avocet-27/1": "above", "curlew-32/1": None, "plover-27/1": None, "plover-27/2": None}
    assert all(sample.facts.simulated for sample in store.samples())


def test_a_look_reads_nothing_that_is_known(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*words: object) -> None:
        raise AssertionError("a known log was analysed again")

    monkeypatch.setattr(analysis_module, "analyse", never)
    copies = [path for path in os.listdir(house.folder) if path.endswith(".log")]
    again(house)  # the copies have other times
    for name in copies:
        os.utime(house.folder / name, ns=(1, 1))
    assert again(house) == Refreshed(0, 0, 0, ())
    assert again(house) == Refreshed(0, len(copies), 0, ())


def test_a_log_that_was_moved_or_copied_keeps_its_results(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(analysis_module, "analyse", None)
    (house.folder / "deep" / "er").mkdir(parents=True)
    (house.folder / "curlew-32-1.log").rename(house.folder / "deep" / "er" / "moved.log")
    shutil.copy(house.folder / "plover-27-1.log", house.folder / "copy.log")
    store = house.store()
    assert samples(store) == ["avocet-27/1", "curlew-32/1", "plover-27/1", "plover-27/2"]
    by_sample = {sample.facts.sample: sample for sample in store.samples()}
    assert by_sample["curlew-32/1"].path == "deep/er/moved.log"
    assert (by_sample["plover-27/1"].path, by_sample["plover-27/1"].copies) == ("copy.log", 1)


def test_removed_and_changed_logs_follow(house: House) -> None:
    (house.folder / "curlew-32-1.log").unlink()
    write_log(house.folder / "plover-27-1.log", "plover-27/1", 300.0)
    found = again(house)
    assert (found.read, found.gone) == (1, 1)
    store = house.store()
    assert samples(store) == ["avocet-27/1", "plover-27/1", "plover-27/2"]
    figures = store.figure("white luminance")[1]
    assert len(figures) == 3, "no figure is left of what is gone"
    [first] = [sample for sample in store.samples() if sample.facts.sample == "plover-27/1"]
    assert figures[first.id].value == pytest.approx(300.0, rel=1e-3)


def test_damage_is_noted_and_stops_nothing(house: House) -> None:
    sound = (house.folder / "plover-27-1.log").read_bytes().splitlines(keepends=True)
    (house.folder / "flipped.log").write_bytes(b"".join([*sound[:3], sound[3].replace(b"1", b"2"), *sound[4:]]))
    (house.folder / "empty.log").write_bytes(b"")
    (house.folder / "text.log").write_text("hello\n")
    (house.folder / "binary.log").write_bytes(bytes(range(256)))
    (house.folder / "folder.log").mkdir()
    (house.folder / "dangling.log").symlink_to("nowhere")
    (house.folder / "torn.log").write_bytes(b"".join(sound[:5]) + sound[5][:20])
    found = again(house)
    assert found.read == 1, "a log whose last line is torn has results"
    faults = {file.path: file.fault for file in found.damaged}
    assert set(faults) == {"flipped.log", "empty.log", "text.log", "binary.log"}
    assert faults["flipped.log"].startswith("line 4: the check sum is wrong")
    assert again(house).damaged == (), "it is told once"
    assert {file.path for file in house.store().files().values() if file.fault} == set(faults)


def test_another_analysis_counts_none_of_the_old_results(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scan, "analysis_version", lambda: "another")
    store = open_library(house.folder)
    assert store.samples() == []
    assert refresh(store, house.folder).read == 4
    assert len(store.samples()) == 4
    assert len(store.figure("white luminance")[1]) == 4


def test_the_version_is_that_of_the_code(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert re.fullmatch("[0-9a-f]{16}", analysis_version())
    package = Path(scan.__file__).parent.parent
    for part in ("analysis", "measurements", "report", "run", "library"):
        shutil.copytree(package / part, tmp_path / part, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(scan, "__file__", str(tmp_path / "library" / "scan.py"))
    before = analysis_version()
    assert analysis_version() == before
    (tmp_path / "report" / "terminal" / "results_text.py").write_text("")
    assert analysis_version() == before, "how a figure is printed is not what it is"
    (tmp_path / "measurements" / "grayscale" / "gamma.py").write_text("# another method\n")
    assert analysis_version() != before


def test_an_index_is_made_again_from_the_logs_alone(house: House) -> None:
    before = house.store()
    told = {name.name: before.figure(name.name) for name in before.names() if name.headline}
    facts = [sample.facts for sample in before.samples()]
    before.close()
    remove_index(house.folder)
    assert not (house.folder / INDEX_NAME).exists()
    after = house.store()
    assert [sample.facts for sample in after.samples()] == facts
    for name, (unit, figures) in told.items():
        new_unit, new_figures = after.figure(name)
        assert (new_unit, sorted(new_figures.values())) == (unit, sorted(figures.values()))


def test_a_damaged_index_says_how_to_go_on(house: House) -> None:
    whole = (house.folder / INDEX_NAME).read_bytes()
    (house.folder / INDEX_NAME).write_bytes(whole[:100] + b"\xff" * 8000 + whole[8100:])
    with pytest.raises(IndexFault, match=r"no log is: remove it and run `benchd library rebuild`"):
        house.store()
    remove_index(house.folder)
    assert len(house.store().samples()) == 4


def test_another_database_is_left_alone(house: House) -> None:
    other = house.folder / "other.sqlite"
    base = sqlite3.connect(other)
    base.execute("CREATE TABLE theirs(x)")
    base.commit()
    base.close()
    before = other.read_bytes()
    with pytest.raises(InputError, match="is a database of something else"):
        open_library(house.folder, other)
    assert other.read_bytes() == before
    text = house.folder / "notes.txt"
    text.write_text("do not lose this")
    with pytest.raises(InputError, match="is not an index of benchd"):
        remove_index(house.folder, text)
    assert text.exists()


def test_a_folder_that_is_not_there() -> None:
    with pytest.raises(InputError, match="there is no folder nowhere; make it, or name the folder of"):
        open_library(Path("nowhere"))


def test_hidden_folders_and_other_files_are_left_out(house: House) -> None:
    (house.folder / ".trash").mkdir()
    write_log(house.folder / ".trash" / "x.log", "gone/1")
    (house.folder / "readme.txt").write_text("x")
    assert [name for name, _ in logs_in(house.folder)] == [
        "avocet-27-1.log",
        "curlew-32-1.log",
        "plover-27-1.log",
        "plover-27-2.log",
    ]


def test_what_was_read_before_a_stop_is_kept(house: House) -> None:
    remove_index(house.folder)
    for number in range(30):
        write_log(house.folder / f"more-{number:02d}.log", f"dunlin-24/{number}", 300.0 + number)
    store = open_library(house.folder)

    def stop(done: int, of: int, path: str) -> None:
        if done == 25:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        refresh(store, house.folder, stop)
    assert len(store.samples()) == scan.AT_ONCE
    assert refresh(store, house.folder).read == 34 - scan.AT_ONCE
