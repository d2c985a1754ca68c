"""The simulated meter over a real pseudo-terminal, with plain pyserial on the other side."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
import serial

from tests.sim.companion import IDENTIFY, READ, Companion, companion

DIALECTS = ["terse-line", "plain-488"]
FOOT_LAMBERT_CD_M2 = 3.4262591  # NIST SP 811, appendix B.8: 3.426259 cd/m2


def luminance(dialect: str, answer: bytes) -> float:
    """Y in cd/m2 of an answer, by a pattern of this test's own."""
    if dialect == "terse-line":
        match = re.fullmatch(rb"[GLHU] (\S+) (\S+) (\S+)\r\n", answer)
        assert match, answer
        return float(match[1]) * FOOT_LAMBERT_CD_M2
    match = re.fullmatch(rb'(\S+),(\S+),(\S+),CDM2,\d,\S+;0,"No error"\n', answer)
    assert match, answer
    return float(match[2])


def ask(port: serial.Serial, question: bytes) -> bytes:
    port.write(question)
    answer = port.read_until(b"\n")
    assert isinstance(answer, bytes)
    return answer


@pytest.mark.parametrize("dialect", DIALECTS)
def test_identity_and_readings(tmp_path: Path, dialect: str) -> None:
    with companion(tmp_path, dialect) as bench, bench.port(dialect) as port:
        assert b"LAPWING-INVENTED" in ask(port, IDENTIFY[dialect])
        assert b"SIM-0007" in ask(port, IDENTIFY[dialect])
        truth = bench.ask("truth")
        for code, level in ((255, "white"), (0, "black")):
            bench.show(code, code, code)
            bench.ask("advance", s=2.0)
            read = luminance(dialect, ask(port, READ[dialect]))
            assert read == pytest.approx(truth[level]["luminance_cd_m2"], rel=0.01)


def test_chromaticity_is_the_same_in_either_dialect(tmp_path: Path) -> None:
    found = {}
    for dialect in DIALECTS:
        folder = tmp_path / dialect
        folder.mkdir()
        with companion(folder, dialect, "--noise", "none") as bench, bench.port(dialect) as port:
            bench.show(250, 40, 10)
            bench.ask("advance", s=2.0)
            answer = ask(port, READ[dialect]).decode()
            if dialect == "terse-line":
                found[dialect] = tuple(float(word) for word in answer.split()[2:4])
            else:
                x, y, z = (float(word) for word in answer.split(",")[:3])
                found[dialect] = (x / (x + y + z), y / (x + y + z))
    assert found["terse-line"] == pytest.approx(found["plain-488"], abs=1e-5)


def test_start_up_exchanges(tmp_path: Path) -> None:
    with companion(tmp_path, "plain-488") as bench, bench.port("plain-488") as port:
        assert ask(port, b"*CLS\n*OPC?\n") == b"1\n"
    with companion(tmp_path, "terse-line") as bench, bench.port("terse-line") as port:
        assert ask(port, b"RST\r") == b"OK\r\n"


def test_integration_time_is_heard_and_passes_on_the_scene(tmp_path: Path) -> None:
    with companion(tmp_path, "plain-488") as bench, bench.port("plain-488") as port:
        bench.show(255, 255, 255)
        bench.ask("advance", s=5.0)
        before = bench.ask("now")["now_s"]
        answer = ask(port, b"SENS:APER 0.250\nREAD:XYZ?;:SYST:ERR?\n")
        assert b",0.250;" in answer
        assert bench.ask("now")["now_s"] == pytest.approx(before + 0.25)
        # Back to the meter's own choice: short on white.
        assert b",0.107;" in ask(port, b"SENS:APER AUTO\nREAD:XYZ?;:SYST:ERR?\n")
    with companion(tmp_path, "terse-line") as bench, bench.port("terse-line") as port:
        before = bench.ask("now")["now_s"]
        ask(port, b"M1500\r")
        assert bench.ask("now")["now_s"] == pytest.approx(before + 1.5)


def test_virtual_time_answers_at_once_and_real_time_does_not(tmp_path: Path) -> None:
    for mode, asked_ms in (("virtual", 8000), ("real", 400)):
        with companion(tmp_path, "terse-line", "--time", mode) as bench, bench.port("terse-line") as port:
            begin = time.monotonic()
            assert ask(port, b"M%d\r" % asked_ms).endswith(b"\r\n")
            took_ms = 1000 * (time.monotonic() - begin)
            assert (took_ms >= asked_ms) == (mode == "real")
            assert bench.ask("now")["now_s"] >= asked_ms / 1000


def test_unknown_questions_and_noise_are_not_answered(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench, bench.port("terse-line") as port:
        for rubbish in (b"HELLO\r", b"\x00\x7f\r", b"M\r", b"x" * 3000 + b"\r", b"\r"):
            port.write(rubbish)
            # It answers in the order of the questions: what comes next shows that nothing came before.
            assert ask(port, b"ID?\r").startswith(b"ID ")


def plant(bench: Companion, fault: str) -> None:
    assert bench.ask("fault", fault=fault)["ok"]


@pytest.mark.parametrize("dialect", DIALECTS)
def test_answers_that_go_wrong(tmp_path: Path, dialect: str) -> None:
    faults = ("silent", "half", "garbled", "duplicate", "error", "late:0.4")
    planned = [word for n, what in enumerate(faults, 2) for word in ("--fault", f"reading:{n}:{what}")]
    with companion(tmp_path, dialect, "--noise", "none", *planned) as bench, bench.port(dialect) as port:
        bench.show(255, 255, 255)
        bench.ask("advance", s=2.0)
        good = ask(port, READ[dialect])
        luminance(dialect, good)

        # Silence, half an answer and a garbled one make one line, in the order of the questions.
        port.write(2 * READ[dialect])
        line = ask(port, READ[dialect])
        half = good[: next(at for at, (one, other) in enumerate(zip(line, good, strict=False)) if one != other)]
        assert 0 < len(half) < len(good) - 5
        garbled = line[len(half) :]
        assert garbled.endswith(b"\n")
        assert not re.match(rb"[GLHU] \d|[-+]?\d", garbled)

        twice = [ask(port, READ[dialect]), port.read_until(b"\n")]
        assert twice[0] == twice[1]
        luminance(dialect, twice[0])

        code = {"terse-line": b"E2\r\n", "plain-488": b';-222,"data out of range"\n'}[dialect]
        assert ask(port, READ[dialect]).endswith(code)

        # Late; the next question waits until the old answer is out.
        begin = time.monotonic()
        port.write(READ[dialect])
        late = ask(port, IDENTIFY[dialect])
        luminance(dialect, late)
        assert time.monotonic() - begin >= 0.4
        assert b"LAPWING" in port.read_until(b"\n")
        luminance(dialect, ask(port, READ[dialect]))


def test_wrong_unit_is_told_where_answers_tell_it(tmp_path: Path) -> None:
    with companion(tmp_path, "plain-488", "--noise", "none") as bench, bench.port("plain-488") as port:
        bench.show(255, 255, 255)
        bench.ask("advance", s=2.0)
        right = ask(port, READ["plain-488"])
        plant(bench, "reading:2:wrong_unit")
        wrong = ask(port, READ["plain-488"])
        assert b",CDM2," in right
        assert b",FTL," in wrong
        ratio = float(right.split(b",")[1]) / float(wrong.split(b",")[1])
        assert ratio == pytest.approx(FOOT_LAMBERT_CD_M2, rel=1e-5)
        assert ask(port, READ["plain-488"]) == right


def test_a_pulled_cable_is_seen_and_the_meter_comes_back_under_another_name(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--fault", "reading:1:unplug:0.2") as bench:
        # An error, and not only silence after a while.
        with bench.port("terse-line") as port, pytest.raises(serial.SerialException):
            ask(port, b"M0\r")
        assert not (tmp_path / "meter").exists()
        bench.wait_for("meter-2")
        with bench.port("terse-line", "meter-2") as port:
            assert b"SIM-0007" in ask(port, b"ID?\r")
            luminance("terse-line", ask(port, b"M0\r"))


def test_another_meter_answers(tmp_path: Path) -> None:
    planned = companion(tmp_path, "plain-488", "--fault", "identify:2:wrong_meter")
    with planned as bench, bench.port("plain-488") as port:
        assert b"SIM-0007" in ask(port, b"*IDN?\n")
        assert b"SIM-9999" in ask(port, b"*IDN?\n")


def test_a_stuck_meter_says_nothing_until_it_is_unplugged(tmp_path: Path) -> None:
    planned = companion(tmp_path, "terse-line", "--fault", "reading:2:stuck")
    with planned as bench, bench.port("terse-line") as port:
        luminance("terse-line", ask(port, b"M0\r"))
        port.timeout = 0.15
        assert [ask(port, question) for question in (b"M0\r", b"ID?\r", b"M0\r")] == [b"", b"", b""]


def test_the_port_can_be_closed_and_opened_again(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        for _ in range(5):
            with bench.port("terse-line") as port:
                assert b"SIM-0007" in ask(port, b"ID?\r")
