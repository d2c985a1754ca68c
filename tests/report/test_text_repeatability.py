"""The text of a bench's repeatability: plain digits, each with its unit."""

from __future__ import annotations

from benchd.profile.made_files import MeterName, RepeatabilityFile, RepeatedFigure
from benchd.report.terminal.meter_text import repeatability_text


def figure(name: str, unit: str, mean: float, s: float) -> RepeatedFigure:
    return RepeatedFigure(name=name, unit=unit, mean=mean, s_r=s, limit_r=2.8 * s, s_R=2.0 * s, limit_R=5.6 * s)


def test_no_figure_has_an_exponent_and_each_has_its_unit() -> None:
    file = RepeatabilityFile(
        bench="office",
        version=1,
        made="2026-03-02",  # type: ignore[arg-type]
        meter=MeterName(model="LAPWING", serial_number="0007"),
        plan="quick",
        runs=8,
        placements=4,
        figures=(
            figure("white luminance", "cd/m2", 349.87, 0.7),
            figure("contrast", "1", 123_456.0, 500.0),
            figure("white x", "1", 0.31274, 2.6e-5),
            figure("white Duv", "1", 0.000312, 3.1e-6),
            figure("white CCT", "K", 6503.2, 12.0),
            figure("non-uniformity of white", "%", 11.17, 0.05),
            figure("black luminance", "cd/m2", -0.00001, 2.6e-5),
        ),
    )
    rows = {line.split("  ")[0]: " ".join(line.split()) for line in repeatability_text(file).splitlines()}
    assert rows["white luminance"] == "white luminance 349.9 cd/m2 0.2 % 0.56 % 0.4 % 1.1 %"
    assert rows["white x"] == "white x 0.3127 0.000026 0.000073 0.000052 0.00015"
    assert rows["white Duv"].startswith("white Duv 0.0003120 0.0000031 ")
    assert rows["contrast"].startswith("contrast 123 500:1 0.41 % ")
    assert "else absolute" in repeatability_text(file)
    assert "the means have no interval here" in repeatability_text(file)
    assert rows["white CCT"].startswith("white CCT 6503 K 0.18 % ")
    assert rows["non-uniformity of white"].startswith("non-uniformity of white 11.17 % 0.05 points 0.14 points ")
    assert " 0.000026 cd/m2 " in rows["black luminance"]
    assert all("e-" not in row.split(" ", 1)[-1] for name, row in rows.items() if name.startswith(("white", "black")))
