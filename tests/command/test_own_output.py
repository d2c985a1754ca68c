"""-o writes over an earlier output of the same kind and over an empty file; all else stays as it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.cli import main
from benchd.command.own_output import Kind, refuse_other
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.profile.profile_store import profiles_folder
from tests.report import logged

OUTPUTS = {
    Kind.SUMMARY: ("results", "a.log"),
    Kind.DETAILS: ("results", "a.log", "--details"),
    Kind.BLOCK: ("results", "a.log", "--block", "contrast"),
    Kind.BUDGET: ("results", "a.log", "--budget"),
    Kind.CROSS_CHECK: ("results", "a.log", "--cross-check"),
    Kind.RESULTS_JSON: ("results", "a.log", "--json"),
    Kind.BUDGET_JSON: ("results", "a.log", "--budget", "--json"),
    Kind.CROSS_CHECK_JSON: ("results", "a.log", "--cross-check", "--json"),
    Kind.CSV: ("results", "a.log", "--format", "csv"),
    Kind.PARQUET: ("results", "a.log", "--format", "parquet"),
    Kind.COLOUR_TEXT: ("results", "a.log", "--format", "colour-text"),
    Kind.REPORT: ("report", "a.log"),
    Kind.COMPARISON: ("compare", "a.log", "c.log"),
    Kind.RANKS: ("library", "site", "--library", "."),
}
"""What a command line writes of each kind."""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with logs, one of them simulated, and with an output of every kind, each written twice."""
    folder = tmp_path_factory.mktemp("outputs")
    for name, white, simulated in (("a", 384.0, False), ("b", 384.0, True), ("c", 442.0, False)):
        logged.write(folder / f"{name}.log", logged.records("quick", white_cd_m2=white, simulated=simulated))
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for kind, words in OUTPUTS.items():
            for log in ("a.log", "b.log"):  # the second run replaces what the first one wrote
                typed = [log if word == "a.log" else word for word in words]
                assert main([*typed, "-o", kind.name]) == Exit.COMPLETE, kind
                assert (folder / kind.name).stat().st_size
        for log in ("a.log", "b.log"):
            assert main(["report", log, "--plots", "plots"]) == Exit.COMPLETE
    for kind, suffix in ((Kind.PLOT_SVG, "svg"), (Kind.PLOT_PNG, "png")):
        (folder / kind.name).write_bytes((folder / "plots" / f"white-close.{suffix}").read_bytes())
    return folder


def test_every_kind_is_replaced_by_itself_alone(written: Path) -> None:
    for kind in Kind:
        for other in Kind:
            if kind is other:
                refuse_other(str(written / kind.name), kind, yes=False)
                continue
            with pytest.raises(InputError, match="exists already and is left as it is"):
                refuse_other(str(written / kind.name), other, yes=False)
            refuse_other(str(written / kind.name), other, yes=True)


@pytest.mark.parametrize("kind", list(Kind))
def test_no_file_that_comes_with_benchd_is_taken_for_an_output(kind: Kind) -> None:
    files = [path for path in profiles_folder().rglob("*") if path.is_file()]
    assert len(files) > 50
    for path in [*files, Path(__file__), profiles_folder().parent / "README.md"]:
        with pytest.raises(InputError):
            refuse_other(str(path), kind, yes=False)


@given(text=st.text(min_size=1), kind=st.sampled_from(list(Kind)))
def test_a_note_of_ones_own_stays(tmp_path_factory: pytest.TempPathFactory, text: str, kind: Kind) -> None:
    note = tmp_path_factory.getbasetemp() / "note.txt"
    note.write_text(text, encoding="utf-8", newline="")
    if re.match(r"\n[^\n]+ \u00b7 [^\n]+\n", text):
        return
    with pytest.raises(InputError, match="confirm with --yes"):
        refuse_other(str(note), kind, yes=False)


@pytest.mark.parametrize("words", list(OUTPUTS.values()), ids=" ".join)
def test_a_file_of_ones_own_stays_unless_confirmed(
    words: tuple[str, ...],
    written: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(written)
    plan = tmp_path / "evening.yaml"
    plan.write_text("plan: evening\n", encoding="utf-8")
    assert main([*words, "-o", str(plan)]) == Exit.BAD_INPUT
    assert f"{plan} exists already and is left as it is; name another file, or confirm with --yes" in " ".join(
        capsys.readouterr().err.split()
    )
    assert plan.read_text(encoding="utf-8") == "plan: evening\n"
    assert main([*words, "-o", str(plan), "--yes"]) == Exit.COMPLETE
    empty = tmp_path / "empty"
    empty.touch()
    assert main([*words, "-o", str(empty)]) == Exit.COMPLETE


@pytest.mark.parametrize("words", [("report", "a.log"), ("compare", "a.log", "c.log")], ids=" ".join)
def test_a_plot_is_written_over_a_plot_alone_and_all_or_none(
    words: tuple[str, ...],
    written: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(written)
    folder, page = tmp_path / "pp", tmp_path / "page.html"
    typed = [*words, "-o", str(page), "--plots", str(folder)]
    assert main(typed) == Exit.COMPLETE
    assert main(typed) == Exit.COMPLETE
    assert "also holds" not in capsys.readouterr().err
    page.unlink()
    plots = sorted(folder.iterdir())
    picture = next(path for path in plots if path.suffix == ".png").read_bytes()
    for path in (plots[-1], plots[-2]):
        before = path.read_bytes()
        for mine in (b"mine\n", b"<svg/>", picture[:8] + b"another's", before[:60]):
            path.write_bytes(mine)
            plots[0].write_bytes(b"")
            assert main(typed) == Exit.BAD_INPUT
            assert f"{path} exists already and is left as it is; name another folder, or confirm with --yes" in (
                " ".join(capsys.readouterr().err.split())
            )
            assert (path.read_bytes(), plots[0].read_bytes(), page.exists()) == (mine, b"", False)
        assert main([*typed, "--yes"]) == Exit.COMPLETE
        assert path.read_bytes() == before
        page.unlink()


def test_plots_of_another_run_in_the_folder_are_counted(
    written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(written)
    typed = ["report", "a.log", "--plots", str(tmp_path)]
    assert main(typed) == Exit.COMPLETE
    for suffix in ("svg", "png"):
        content = (tmp_path / f"white-close.{suffix}").read_bytes()
        (tmp_path / f"grey-steps-close.{suffix}").write_bytes(content)
    (tmp_path / "sweep.svg").write_bytes((tmp_path / "white-close.svg").read_bytes())
    (tmp_path / "mine.svg").write_text("<svg/>", encoding="utf-8")
    (tmp_path / "empty.png").touch()
    capsys.readouterr()
    assert main(typed) == Exit.COMPLETE
    said = capsys.readouterr().err
    assert f"{tmp_path} also holds 2 other plots of benchd from earlier" in " ".join(said.split())
    assert len(list(tmp_path.iterdir())) == 9


def test_nothing_goes_into_a_publication(
    written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(written)
    place = tmp_path / "verdict"
    assert main(["publish", "a.log", "-o", str(place)]) == Exit.COMPLETE
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    for words in (
        ("report", "a.log", "--plots", place),
        ("report", "a.log", "--plots", place / "plots"),
        ("report", "a.log", "-o", place / "index.html", "--yes"),
        ("compare", "a.log", "c.log", "--plots", place),
        ("results", "a.log", "--json", "-o", place / "data" / "new.json"),
    ):
        capsys.readouterr()
        assert main(list(map(str, words))) == Exit.BAD_INPUT
        assert "is a publication, which is left as it is" in " ".join(capsys.readouterr().err.split())
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == before
