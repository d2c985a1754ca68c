"""``benchd correct`` and benches that name a correction, as their user meets them. Everything is SIMULATED."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command.conftest import ROOT, Benchd

FIELD = (ROOT / "profiles" / "benches" / "sim-office-colorimeter.yaml").read_text()
CORRECTION = (ROOT / "profiles" / "corrections" / "sim-colorimeter-white-led.yaml").read_text()
TRUE_WHITE = (0.3085, 0.3225)  # of the simulated display


def bodies(log: Path, kind: str) -> list[dict[str, object]]:
    records = [json.loads(line) for line in log.read_text().splitlines()]
    return [record["body"] for record in records if record["kind"] == kind]


def white(benchd: Benchd, log: str) -> tuple[float, float, dict[str, object]]:
    results = json.loads(benchd("results", log, "--json").stdout)
    colour = results["blocks"]["luminance"]["white_chromaticity"]
    return colour["x"]["value"], colour["y"]["value"], results


def test_both_meters_read_and_the_colorimeter_is_mended(benchd: Benchd, tmp_path: Path) -> None:
    benches = ("--reference", "sim-office", "--bench", "sim-office-colorimeter")
    done = benchd("correct", "mine", *benches, "--expires", "2099-01-01", "--spectra", "invented white LED")
    assert done.stdout.startswith("SIMULATED\nCorrection mine of meter LAPWING-INVENTED SIM-0021 on white-led displays")
    assert "Kept in profiles/corrections/mine.yaml" in done.stderr
    kept = tmp_path / "profiles" / "corrections" / "mine.yaml"
    assert "simulated: true" in kept.read_text()

    (tmp_path / "raw.yaml").write_text(FIELD.replace(",\n    correction: sim-colorimeter-white-led", ""))
    (tmp_path / "mended.yaml").write_text(FIELD.replace("sim-colorimeter-white-led}", "mine}"))
    for name in ("raw", "mended"):
        benchd("run", "quick", "--bench", f"{name}.yaml", "--log", f"{name}.log")
    raw_x, raw_y, _ = white(benchd, "raw.log")
    x, y, results = white(benchd, "mended.log")
    assert abs(raw_x - TRUE_WHITE[0]) + abs(raw_y - TRUE_WHITE[1]) > 0.0015
    assert (x, y) == pytest.approx(TRUE_WHITE, abs=2e-4)
    assert results["meter"]["correction"]["name"] == "mine"  # type: ignore[index]

    # The log has the matrix and its digest, and of every reading both.
    [started] = bodies(tmp_path / "mended.log", "started")
    matrix = started["correction"]["matrix"]  # type: ignore[index]
    assert len(started["correction"]["digest"]) == 64  # type: ignore[index]
    for reading in bodies(tmp_path / "mended.log", "reading"):
        raw = reading["xyz_uncorrected"]
        assert reading["xyz"] == [sum(a * b for a, b in zip(row, raw, strict=True)) for row in matrix]  # type: ignore[call-overload]
    assert all("xyz_uncorrected" not in reading for reading in bodies(tmp_path / "raw.log", "reading"))

    # A replay, and an analysis after the file is gone, say the same.
    kept.unlink()
    assert "identical" in benchd("replay", "mended.log", "--log", "again.log").stdout
    assert bodies(tmp_path / "again.log", "reading")[0]["xyz_uncorrected"]
    assert "Meter corrected by mine (SIMULATED)." in benchd("results", "mended.log").stdout
    told = " ".join(benchd("results", "mended.log", "--details").stdout.split())
    assert "corrected by mine (SIMULATED, four-colour matrix for white-led" in told


def test_the_uncertainty_of_the_matrix_is_in_the_figures(benchd: Benchd, tmp_path: Path) -> None:
    """A correction from scattered readings makes the white's chromaticity less sure than an exact one."""
    unsure = CORRECTION.replace("dof: 56", "dof: 8")
    begin = unsure.index("covariance:")
    end = unsure.index("dof: 8")
    rows = [[0.0] * 9 for _ in range(9)]
    for index in (0, 4, 8):
        rows[index][index] = 0.0001  # 1 % on each channel
    (tmp_path / "unsure.yaml").write_text(unsure[:begin] + f"covariance: {rows}\n" + unsure[end:])
    (tmp_path / "exact.yaml").write_text(unsure[:begin] + unsure[end:].replace("dof: 8\n", ""))
    u = {}
    for name in ("unsure", "exact"):
        (tmp_path / f"b-{name}.yaml").write_text(FIELD.replace("sim-colorimeter-white-led}", f"{name}.yaml}}"))
        benchd("run", "quick", "--bench", f"b-{name}.yaml", "--log", f"{name}.log")
        found = white(benchd, f"{name}.log")[2]["blocks"]["luminance"]  # type: ignore[index]
        contrast = white(benchd, f"{name}.log")[2]["blocks"]["contrast"]["sequential"]["ratio"]  # type: ignore[index]
        figures = found["white_chromaticity"]["x"], found["white"], contrast
        u[name] = [one["high"] - one["low"] for one in figures]
    assert u["unsure"][0] > 2.0 * u["exact"][0]
    assert u["unsure"][1] > 1.5 * u["exact"][1]
    # Black and white of nearly one colour: in their ratio it cancels.
    assert u["unsure"][2] < 1.6 * u["exact"][2]


@pytest.mark.parametrize(
    ("edit", "code", "told"),
    [
        (("technology: white-led", "technology: dots"), 2, "of technology white-led and the bench's is dots"),
        (("serial_number: SIM-0021", "serial_number: SIM-0007"), 2, "is for meter LAPWING-INVENTED SIM-0021 and"),
        (("--serial-number, SIM-0021", "--serial-number, SIM-0022"), 4, "meter"),
        (("correction: sim-colorimeter-white-led", "correction: none-such"), 2, "there is no correction 'none-such'"),
        (("correction: sim-colorimeter-white-led", "correction: old.yaml"), 2, "expired on 2026-01-31"),
    ],
)
def test_what_does_not_fit_is_refused(
    benchd: Benchd, tmp_path: Path, edit: tuple[str, str], code: int, told: str
) -> None:
    old = CORRECTION.replace("2099-12-31", "2026-01-31")
    lines = ['made: "2026-01-01"' if line.startswith("made:") else line for line in old.splitlines()]
    (tmp_path / "old.yaml").write_text("\n".join(lines))
    (tmp_path / "b.yaml").write_text(FIELD.replace(*edit))
    done = benchd("run", "quick", "--bench", "b.yaml", "--log", "b.log", code=code)
    assert told in done.stderr.strip().splitlines()[-1]
    assert not (tmp_path / "b.log").exists()


def test_another_meter_than_the_corrections_is_found_when_it_answers(benchd: Benchd, tmp_path: Path) -> None:
    bench = FIELD.replace("--serial-number, SIM-0021", "--serial-number, SIM-0022").replace(
        "serial_number: SIM-0021,", ""
    )
    (tmp_path / "b.yaml").write_text(bench)
    done = benchd("run", "quick", "--bench", "b.yaml", "--log", "b.log", code=4)
    assert "is for meter LAPWING-INVENTED SIM-0021 and the meter here is LAPWING-INVENTED SIM-0022" in done.stderr
    assert not (tmp_path / "b.log").exists()
    page = benchd("doctor", "--bench", "b.yaml", code=1)
    assert "correction DOES NOT FIT: correction sim-colorimeter-white-led is for meter" in page.stdout


def test_the_doctor_knows_the_correction(benchd: Benchd) -> None:
    page = benchd("doctor", "--bench", "sim-office-colorimeter").stdout
    assert "correction fits: sim-colorimeter-white-led (four-colour, white-led) of" in page


def test_a_resume_goes_on_with_the_same_correction_though_it_has_expired(benchd: Benchd, tmp_path: Path) -> None:
    benchd("run", "quick", "--bench", "sim-office-colorimeter", "--log", "whole.log")
    lines = (tmp_path / "whole.log").read_bytes().splitlines(keepends=True)
    kinds = [json.loads(line)["kind"] for line in lines]
    (tmp_path / "cut.log").write_bytes(b"".join(lines[: kinds.index("done") + 1]))
    benchd("resume", "cut.log")
    first, second = (bodies(tmp_path / name, "reading") for name in ("whole.log", "cut.log"))
    assert [one["xyz_uncorrected"] for one in first] == [one["xyz_uncorrected"] for one in second]
    assert [one["xyz"] for one in first] == [one["xyz"] for one in second]


CSV = (ROOT / "tests" / "reference" / "four_colour_example.csv").read_text()


def paired() -> str:
    """The worked example as a user's file."""
    rows = {tuple(line.split(",")[:2]): line.split(",")[2:5] for line in CSV.splitlines() if "," in line}
    lines = ["colour,reference_x,reference_y,reference_Y,meter_x,meter_y,meter_Y"]
    lines += [",".join([c, *rows["reference_xyY", c], *rows["meter_xyY", c]]) for c in "RGBW"]
    return "\n".join(lines) + "\n"


METERS = ("--reference-meter", "HERON", "H-1", "--meter", "LAPWING", "L-7")


def test_paired_readings_from_a_file(benchd: Benchd, tmp_path: Path) -> None:
    # the worked example of the four-colour method; matrix to 1e-6
    (tmp_path / "p.csv").write_text(paired())
    done = benchd("correct", "example", "p.csv", *METERS, "--technology", "lcd", "--json")
    made = json.loads(done.stdout)
    assert made["matrix"][0] == pytest.approx([0.97065402, 0.02013589, -0.01543244], abs=1e-6)
    assert made["luminance_factor"] == pytest.approx(1.01284823, abs=1e-6)
    assert made["covariance"] is None
    assert made["file"] == "profiles/corrections/example.yaml"
    benchd("correct", "lsq", "p.csv", *METERS, "--technology", "lcd", "--method", "least-squares")
    (tmp_path / "comma.csv").write_text(paired().replace(",", ";").replace(".", ","))
    done = benchd("correct", "comma", "comma.csv", *METERS, "--technology", "lcd", "--json")
    assert json.loads(done.stdout)["matrix"] == made["matrix"], "a spreadsheet that writes decimal commas"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "give one source of the readings"),
        (("p.csv", "--technology", "lcd"), "give --reference-meter MODEL SERIAL"),
        (("p.csv", *METERS), "--technology NAME"),
        (("bad.csv", *METERS, "--technology", "lcd"), "bad.csv:3: reference_y is 'much'; a number"),
        (("empty.csv", *METERS, "--technology", "lcd"), "needed are colour, then X, Y, Z of both meters"),
        (("few.csv", *METERS, "--technology", "lcd"), "missing here: B, W"),
        (("p.csv", *METERS, "--technology", "lcd", "--expires", "soon"), "write year-month-day"),
        (("none.log", "none.log"), "none.log"),
    ],
)
def test_what_makes_no_correction_is_told_in_a_sentence(
    benchd: Benchd, tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    (tmp_path / "p.csv").write_text(paired())
    (tmp_path / "bad.csv").write_text(paired().replace("0.2900,0.6100", "0.2900,much"))
    (tmp_path / "empty.csv").write_text("a,b\n1,2\n")
    (tmp_path / "few.csv").write_text("\n".join(paired().splitlines()[:3]) + "\n")
    done = benchd("correct", "c", *words, code=2)
    assert told in done.stderr
    assert not (tmp_path / "profiles").exists()


def test_two_logs_of_one_meter_make_no_correction(benchd: Benchd) -> None:
    benchd("run", "four-colours", "--bench", "sim-office", "--log", "a.log")
    done = benchd("correct", "c", "a.log", "a.log", code=2)
    assert "both logs are of meter LAPWING-INVENTED SIM-0007" in done.stderr


def test_without_a_terminal_a_hand_is_told_what_to_do(benchd: Benchd, tmp_path: Path) -> None:
    mover = next(line for line in FIELD.splitlines() if line.startswith("  stage:"))
    (tmp_path / "f.yaml").write_text(FIELD.replace(mover, ""))
    done = benchd("correct", "c", "--reference", "f.yaml", "--bench", "f.yaml", code=3)
    assert "Put the reference meter" in done.stderr
    assert "benchd run four-colours --bench f.yaml" in done.stderr
    assert f"When both have been read: benchd correct c {tmp_path}/data/benchd/logs/correct-c-reference/" in done.stderr
