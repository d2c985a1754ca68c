"""What a bench can't do is refused by `plan --bench` and `run` alike."""

from __future__ import annotations

from pathlib import Path

from tests.command.conftest import ROOT, Benchd

RUN = ("run", "hdr-quick", "--sample", "plover-1")


def test_plan_and_run_refuse_alike(benchd: Benchd, tmp_path: Path) -> None:
    """First by what the shipped bench states; then, where it states nothing, by what its screen reported."""
    said = {benchd(*words, "--bench", "sim-office", code=2).stderr for words in (("plan", "hdr-quick"), RUN)}
    assert len(said) == 1
    assert "screen of bench sim-office emits SDR" in said.pop()
    text = (ROOT / "profiles/benches/sim-office.yaml").read_text()
    silent = tmp_path / "silent.yaml"
    silent.write_text(text.replace(", signal: sdr, bits: 8", "").replace("bench: sim-office", "bench: silent"))
    bench = ("--bench", str(silent))
    assert "not known before it is opened" in benchd("plan", "hdr-quick", *bench).stdout
    assert "not known before it is opened" in benchd("plan", "hdr-quick", "--json", *bench).stderr
    assert "screen sim-1 emits SDR" in benchd(*RUN, *bench, code=2).stderr
    assert not (tmp_path / "logs").exists()
    assert "screen sim-1 (last opened" in benchd("plan", "hdr-quick", *bench, code=2).stderr
