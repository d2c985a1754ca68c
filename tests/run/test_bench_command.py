"""A command of a bench is found beside its profile, wherever benchd is started; else in the working folder."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from benchd.errors import MeterLost
from benchd.profile.profile_store import profiles_folder
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import bench_job

BENCH = "bench: lab\nscreen: {monitor: primary}\ninstruments: {meter: {command: [%s]}}\n"


def identified(profile: Path, command: str) -> str:
    """The meter that answers to the bench with this command for its bridge."""
    profile.write_text(BENCH % command, encoding="utf-8")
    bench = OpenBench(bench_job(str(profile)))
    try:
        bench.begin()
        bench.open_meter()
        return bench.meter_identity.model
    finally:
        bench.__exit__()


@pytest.mark.parametrize(
    "command", ["./my-bridge.sh", "tools/../my-bridge.sh", "python, ./my-bridge.py", "sh, ./my-bridge.sh"]
)
@pytest.mark.parametrize("at", ["beside", "working"])
def test_a_bridge_is_found_beside_the_profile_or_in_the_working_folder(
    command: str, at: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folders = {name: tmp_path / name for name in ("beside", "working")}
    for folder in folders.values():
        (folder / "tools").mkdir(parents=True)
    for suffix in (".py", ".sh"):
        shipped = profiles_folder() / "meters" / f"example-bridge{suffix}"
        Path(shutil.copy(shipped, folders[at] / f"my-bridge{suffix}")).chmod(0o755)
    monkeypatch.chdir(folders["working"])
    assert identified(folders["beside"] / "lab.yaml", command).startswith("INVENTED-")
    monkeypatch.chdir(tmp_path)
    assert at != "beside" or identified(Path("beside") / "lab.yaml", command).startswith("INVENTED-")


def test_the_one_beside_the_profile_comes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("beside", "working"):
        (tmp_path / name).mkdir()
        text = (profiles_folder() / "meters" / "example-bridge.py").read_text(encoding="utf-8")
        (tmp_path / name / "b.py").write_text(text.replace("INVENTED-BRIDGE", name), encoding="utf-8")
    monkeypatch.chdir(tmp_path / "working")
    assert identified(tmp_path / "beside" / "lab.yaml", "python, ./b.py") == "beside"
    assert identified(tmp_path / "beside" / "lab.yaml", "python, b.py") == "working", (
        "a word without a slash is no path"
    )


def test_a_bridge_that_is_nowhere_is_said_without_a_run_to_resume(tmp_path: Path) -> None:
    with pytest.raises(MeterLost) as caught:
        identified(tmp_path / "lab.yaml", "./none.sh")
    assert "'./none.sh' can't be started (no such file or directory)" in str(caught.value)
    assert "resume" not in str(caught.value)
