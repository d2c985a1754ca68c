"""`correct` and `repeat` at a terminal, where a hand places the meters. Everything is SIMULATED."""

from __future__ import annotations

from pathlib import Path

from tests.command.conftest import ROOT
from tests.command.terminal import at_terminal, in_a_line


def by_hand(folder: Path, name: str, to: str) -> None:
    """A shipped bench whose meter a hand places."""
    text = (ROOT / "profiles" / "benches" / f"{name}.yaml").read_text()
    mover = next(line for line in text.splitlines() if line.startswith("  stage:"))
    (folder / to).write_text(text.replace(mover, ""))


def test_each_meter_is_asked_for(tmp_path: Path) -> None:
    by_hand(tmp_path, "sim-office", "reference.yaml")
    by_hand(tmp_path, "sim-office-colorimeter", "field.yaml")
    words = ("correct", "c", "--reference", "reference.yaml", "--bench", "field.yaml")
    typed = (("Put the reference meter", "\r"), ("Put the field meter", "\r"))
    code, text = at_terminal(tmp_path, words, typed)
    assert code == 0, text
    assert (tmp_path / "profiles" / "corrections" / "c.yaml").is_file()


def test_whoever_stops_at_the_second_meter_is_told_how_to_go_on(tmp_path: Path) -> None:
    by_hand(tmp_path, "sim-office", "reference.yaml")
    by_hand(tmp_path, "sim-office-colorimeter", "field.yaml")
    words = ("correct", "c", "--reference", "reference.yaml", "--bench", "field.yaml")
    code, text = at_terminal(tmp_path, words, (("Put the reference meter", "\r"), ("Put the field meter", "p\r")))
    assert code == 3, text
    assert "benchd run four-colours --bench field.yaml" in text
    assert f"When both have been read: benchd correct c {tmp_path}/data/benchd/logs/correct-c-reference/" in in_a_line(
        text
    )


def test_a_new_placement_is_asked_for(tmp_path: Path) -> None:
    by_hand(tmp_path, "sim-office-placed", "hand.yaml")
    words = ("repeat", "quick", "2", "--placements", "2", "--bench", "hand.yaml", "--logs", "r", "--no-keep")
    code, text = at_terminal(tmp_path, words, (("Placement 2 of 2: take the meter off", "\r"),))
    assert code == 0, text
    assert "Putting the meter on anew adds" in text
