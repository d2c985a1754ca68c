"""Readings of one's own: the log that they become has the results that a run with the same light has."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.log.log_data import collect
from benchd.analysis.results import Results
from benchd.cli import main
from benchd.errors import Fault, LogRefused, ProfileError
from benchd.profile.reading.colour_data_text import write_colour_text
from benchd.report.data.colour_text_file import colour_table
from benchd.report.data.document import quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.compare_options import difference
from benchd.run.job import jobs_from_log, plan_job
from benchd.run.log.given_readings import read_given, template
from benchd.run.log.importing import Source, import_readings
from benchd.run.log.journal import LogFile
from tests.plan.helpers import refusal
from tests.report.logged import records

JOB = plan_job("quick")
HEAD = "step,X,Y,Z\n"


def made_csv() -> str:
    """The readings of a made run, as somebody would have written them down."""
    return HEAD + "".join(
        f"{record.step},{','.join(repr(part) for part in record.body['xyz'])}\n"
        for record in records("quick")
        if record.kind == "reading"
    )


def results(log: Path) -> Results:
    return analyse(LogFile(log).records())


def imported(text: str, log: Path, unit: str = "cd/m2") -> Results:
    given = read_given(text, "own.csv", JOB.steps, unit)
    import_readings(JOB, given, Source("own.csv", text, "LAPWING 0007", 0.005), log, sample="plover-27/1")
    return results(log)


def faults(text: str) -> list[str]:
    return [str(fault) for fault in refusal(read_given, text, "own.csv", JOB.steps).faults]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_spreadsheet_with_decimal_commas_is_read(separator: str) -> None:
    lines = ["step,X,Y,Z,time_s", "luminance/white,300.5,320.25,340,0", "luminance/black,0.3,0.32,0.33,1.5"]
    plain = read_given("\n".join(lines), "own.csv", JOB.steps)
    text = "\ufeff" + "\r\n".join(line.replace(",", separator).replace(".", ",") for line in lines)
    assert [one[:4] for one in read_given(text, "own.csv", JOB.steps)] == [one[:4] for one in plain]
    assert faults(text.replace("320,25", "1.320,25"))[0].startswith("own.csv:2:")


def test_a_comma_and_a_point_are_not_both_read_as_decimals() -> None:
    """1.190 beside 0,03 may be a thousand and more, or one and a bit: nobody knows but who wrote it."""
    text = "step;X;Y;Z\nluminance/white;1.190;1.200;1.210\nluminance/black;0,03;0,03;0,03\n"
    assert faults(text) == ["own.csv:3:17: X '0,03': a comma and a point both stand for decimals here; write one way"]


def test_the_same_light_has_the_same_results(tmp_path: Path) -> None:
    own = imported(made_csv(), tmp_path / "own.log")
    assert own.imported == "own.csv"
    assert not own.interrupted
    run = analyse(records("quick"))
    first, second = (to_json(one, LogReference("x.log", "0" * 64)) for one in (own, run))
    assert difference(first["blocks"], second["blocks"]) == []
    own_figures = [(path, one["value"], one["bound"], one["n"], one["s"]) for path, one in quantities(first)]
    assert own_figures == [(path, one["value"], one["bound"], one["n"], one["s"]) for path, one in quantities(second)]
    assert own_figures


def test_yxy_and_foot_lamberts(tmp_path: Path) -> None:
    """1 fL is 3.4262590996 cd/m2: one over pi candela per square foot of 0.3048 m (definition)."""
    text = "step,Y,x,y\nluminance/white,100,0.3127,0.3290\n"
    white = imported(text, tmp_path / "own.log", "fL").of("luminance")[0]
    assert white.white.value == pytest.approx(342.62590996)
    assert white.white_chromaticity.x.value == pytest.approx(0.3127)
    assert white.white_chromaticity.y.value == pytest.approx(0.3290)
    assert results(tmp_path / "own.log").interrupted, "what was not read is absent"


def test_a_code_that_fits_one_step_is_enough(tmp_path: Path) -> None:
    plan = tmp_path / "own.yaml"
    plan.write_text(
        "plan: own\nwarm_up: none\nblocks:\n  - luminance: {}\n  - patches: {list: [{name: red, code: [255, 0, 0]}]}\n"
    )
    job = plan_job(str(plan))
    text = "red,green,blue,X,Y,Z\n255,0,0,1,2,3\n"
    assert [one.step for one in read_given(text, "own.csv", job.steps)] == ["patches/red"]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "own.csv:1:1: which patch a line belongs to is missing"),
        ("stp,X,Y,Z\n", "own.csv:1:1: unknown column 'stp'; did you mean 'step'?"),
        ("step,X,Y,Z,X\n", "own.csv:1:12: column 'X' stands here twice"),
        ("step,Y,Z\n", "own.csv:1:1: the light must be given as X,Y,Z, as Y,x,y or, where luminance is enough, as Y"),
        ("step,red,X,Y,Z\n", "own.csv:1:6: give step, or codes; with step, remove 'red'"),
        (HEAD, "no readings; below the first line belongs a line for each"),
        (HEAD + "luminance/wite,1,2,3\n", "own.csv:2:1: the plan has no step 'luminance/wite'; did you mean"),
        (HEAD + "luminance/white,1,2\n", "own.csv:2:1: 3 values where the first line names 4 columns"),
        (HEAD + "luminance/white,1,two,3\n", "own.csv:2:19: Y 'two' is not a number"),
        (HEAD + "luminance/white,1,,3\n", "own.csv:2:19: Y '' is not a number"),
        (HEAD + "luminance/white,1,2e9,3\n", "own.csv:2:17: more than 1e+06 cd/m2; look at the unit"),
        (HEAD + "luminance/white,330,-349,380\n", "own.csv:2:17: -349 cd/m2: light is never negative; only a dark"),
        ("step,Y,x,y\nluminance/white,1,0.8,0.4\n", "own.csv:2:19: x 0.8, y 0.4 is no chromaticity"),
        ("step,Y,x,y\nluminance/white,1,0.3,0\n", "own.csv:2:19: x 0.3, y 0 is no chromaticity"),
        ("step,X,Y,Z,status\nluminance/white,1,2,3,fine\n", "own.csv:2:23: status 'fine': use ok, under, over"),
        ("step,X,Y,Z,time_s\nluminance/white,1,2,3,-4\n", "own.csv:2:23: time_s '-4'"),
        (
            "step,X,Y,Z,time_s\nluminance/black,1,2,3,9\nluminance/white,1,2,3,4\n",
            "own.csv:3:23: time_s 4 is before that of the reading above it",
        ),
        ("red,green,blue,X,Y,Z\n255,255,255,1,2,3\n", "own.csv:2:1: the patch 255,255,255 fits 2 steps"),
        ("red,green,blue,X,Y,Z\n9,9,9,1,2,3\n", "own.csv:2:1: the plan has no patch 9,9,9"),
        ("red,green,blue,X,Y,Z\n9,9.5,9,1,2,3\n", "own.csv:2:3: '9.5' is no code"),
    ],
)
def test_faults_have_a_place(text: str, fault: str) -> None:
    assert any(one.startswith(fault) or fault in one for one in faults(text)), faults(text)


def test_every_fault_is_told_at_once() -> None:
    assert len(faults(HEAD + "nothing,1,2,3\nluminance/white,a,b,c\n")) == 4


def test_under_range_is_a_bound(tmp_path: Path) -> None:
    text = "step,X,Y,Z,status\nluminance/white,330,350,380,\nluminance/black,,,,under\n"
    black = imported(text, tmp_path / "own.log").of("luminance")[0].black
    assert (black.value, black.bound) == (0.005, "below")


def test_readings_of_a_step_stand_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "own.csv"
    own.write_text(HEAD + "luminance/white,1,2,3\nluminance/black,1,2,3\nluminance/white,1,2,3\n")
    assert main(["import", str(own), "--plan", "quick", "--log", str(tmp_path / "own.log")]) == 2
    assert "own.csv:4: luminance/white was read in line 2 already" in capsys.readouterr().err
    assert not (tmp_path / "own.log").exists()


def test_drift_needs_times(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "own.yaml"
    plan.write_text("plan: own\nwarm_up: none\nreference: {every_min: 1}\nblocks:\n  - luminance: {}\n")
    own = tmp_path / "own.csv"
    own.write_text(HEAD + "reference/1,330,350,380\n")
    words = ["import", str(own), "--plan", str(plan), "--log", str(tmp_path / "own.log")]
    assert main(words) == 2
    assert "the plan's reference patch shows drift, so a time_s is needed" in capsys.readouterr().err
    own.write_text("step,X,Y,Z,time_s\nreference/1,330,350,380,0\nluminance/black,0.3,0.35,0.4,9.5\n")
    assert main(words) == 0
    log_data = collect(LogFile(tmp_path / "own.log").records())
    assert [one.mono_ns for one in log_data.measured.values()] == [0, 9_500_000_000]


def test_every_result_says_that_it_was_imported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    own, log = tmp_path / "own.csv", str(tmp_path / "own.log")
    own.write_text(made_csv())
    words = ["import", str(own), "--plan", "quick", "--sample", "plover-27/1", "--log", log]
    words += ["--meter", "LAPWING", "0007"]
    assert main([*words, "--simulated"]) == 0
    capsys.readouterr()
    assert main(["results", log]) == 0
    assert "! readings imported from own.csv, not taken by benchd" in capsys.readouterr().out
    assert main(["results", log, "--details"]) == 0
    text = capsys.readouterr().out
    assert "readings  imported from own.csv, not taken by benchd" in text
    assert text.startswith("SIMULATED")
    assert main(["library", "list", "--library", str(tmp_path)]) == 0
    assert "SIMULATED, imported, meter not stated, ± of repeatability only" in capsys.readouterr().out
    assert main(["replay", log]) == 2
    assert "its readings were imported" in capsys.readouterr().err
    part = str(tmp_path / "part.log")
    own.write_text(HEAD + "luminance/white,330,350,380\n")
    assert main(["import", str(own), "--plan", "quick", "--log", part]) == 0
    capsys.readouterr()
    assert main(["resume", part]) == 2
    assert "its readings were imported, so there is no run to go on with" in capsys.readouterr().err
    with pytest.raises(LogRefused):
        jobs_from_log(next(LogFile(Path(log)).records()).body, log)


def test_the_template_filled_in_is_read(tmp_path: Path) -> None:
    text = template(JOB.steps)
    assert faults(text) == ["own.csv:3:1: no readings; below the first line belongs a line for each"]
    filled = text.replace("luminance/white,,,,", "luminance/white,330,350,380,ok")
    given = read_given(filled, "own.csv", JOB.steps)
    assert [one.step for one in given] == ["luminance/white"] * 3
    assert imported(filled, tmp_path / "own.log").of("luminance")[0].white.n == 3


def test_the_open_text_format_comes_back_as_a_log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log_data = collect(records("quick", simulated=True))
    text = tmp_path / "own.txt"
    text.write_text(write_colour_text(colour_table(log_data, "0" * 64)))
    log = tmp_path / "own.log"
    assert main(["import", str(text), "--plan", "quick", "--log", str(log)]) == 0
    back = collect(LogFile(log).records())
    assert {step: one.mean for step, one in back.measured.items()} == {
        step: one.mean for step, one in log_data.measured.items()
    }
    assert results(log).simulated, "the file says that a simulator took part"
    text.write_text(text.read_text().replace('BENCHD_XYZ_UNIT\t"cd/m2"', 'BENCHD_XYZ_UNIT\t"relative"'))
    assert main(["import", str(text), "--plan", "quick", "--log", str(tmp_path / "b.log")]) == 2
    assert "may be relative as well" in capsys.readouterr().err


def test_a_bound_has_no_figure_in_the_open_text_format() -> None:
    table = colour_table(collect(records("quick", black_cd_m2=0.001)), "0" * 64)
    assert table.keyword("BENCHD_WITHOUT_FIGURES") == "luminance/black contrast/black"
    assert len(table.rows) == 2
    assert table.keyword("BENCHD_NOTICE") == ""


@settings(derandomize=True, max_examples=200, deadline=None)
@given(
    st.text(max_size=80)
    | st.lists(st.sampled_from(["luminance/white", ",", "1", "\n", '"', "#", "-", "e"])).map("".join)
)
def test_any_text_is_readings_or_faults(text: str) -> None:
    for one in (text, HEAD + text):
        faults: tuple[Fault, ...] = ()
        try:
            read_given(one, "own.csv", JOB.steps)
        except ProfileError as error:
            faults = error.faults
        assert all(fault.line >= 1 and fault.column >= 1 for fault in faults)
