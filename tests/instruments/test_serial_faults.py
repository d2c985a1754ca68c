"""A serial meter on a real pseudo-terminal, and everything that can go wrong between the two."""

from __future__ import annotations

from contextlib import closing

import pytest
import serial

from benchd.clock import Deadline
from benchd.errors import (
    MeterError,
    MeterGarbled,
    MeterLateAnswer,
    MeterLost,
    MeterRefused,
    MeterSilent,
    MeterWrongUnit,
    WrongMeter,
)
from benchd.instruments.meter import Reading, ReadRequest
from benchd.instruments.serial_meter import SerialMeter
from benchd.instruments.wire import shown
from tests.instruments.line_time import LINE_TIME, Peer
from tests.instruments.scripted import Act, Instrument, Light, Script, connected, hasty, load

NAMES = ("terse-line", "plain-488")
both = pytest.mark.parametrize("name", NAMES)
START = ((b"RST", b"OK\r\n"), (b"UN FL", b"UN FL\r\n"))
UNIT = (b"UN?", b"UN FL\r\n")
WHO = (b"ID?", b"ID INVENTED-1 SN-0001 1.2\r\n")


def read(meter: SerialMeter, integration_s: float | None = 0.5, within_s: float = 3.0) -> Reading:
    return meter.read(ReadRequest("step", 1, integration_s), Deadline.after(within_s))


def luminance(meter: SerialMeter) -> float:
    xyz = read(meter).xyz
    assert xyz is not None
    return xyz[1]


def level(value: float) -> Light:
    return Light((value, value, value))


def test_the_bytes_on_the_line_are_the_dialect_s() -> None:
    script = Script(
        *START,
        WHO,
        (b"M500", b"G 1.00000E+01 0.31270 0.32900\r\n"),
        WHO,
        UNIT,
        (b"M0", b"U 1.00000E+01 0.31270 0.32900\r\n", 0.02),
        WHO,
        UNIT,
    )
    with Peer(script, b"\r") as peer, closing(SerialMeter(load("terse-line"), peer.port)) as meter:
        assert read(meter).raw == "G 1.00000E+01 0.31270 0.32900"
        # 10 foot-lambert; 1 fL = 3.426 259 cd/m2 (NIST SP 811, appendix B.8).
        assert luminance_of(read(meter, None)) == pytest.approx(34.26259, rel=1e-6)
    script.check()


def luminance_of(reading: Reading) -> float:
    assert reading.xyz is not None
    return reading.xyz[1]


def test_an_integration_time_is_set_once_and_again_after_trouble() -> None:
    start = ((b"*CLS", None), (b"UNIT CDM2", None), (b"*OPC?", b"1\n"))
    who = (b"*IDN?", b"INVENTED,INVENTED-1,SN-0001,1.2\n")
    ask = b"READ:XYZ?;:SYST:ERR?"
    good = b'1E0,1E0,1E0,CDM2,0,0.250;0,"No error"\n'
    script = Script(
        *start,
        who,
        (b"SENS:APER 0.250", None),
        (ask, good),
        who,
        (ask, good),
        who,
        (ask, None),
        *start,  # it fell silent: it may have been switched off and on
        who,
        (b"SENS:APER 0.250", None),
        (ask, good),
        who,
        (b"SENS:APER AUTO", None),
        (ask, good),
        who,
    )
    with Peer(script, b"\n") as peer, closing(SerialMeter(hasty(load("plain-488")), peer.port)) as meter:
        read(meter, 0.25)
        read(meter, 0.25)
        with pytest.raises(MeterSilent):
            read(meter, 0.25)
        read(meter, 0.25)
        read(meter, None)
    script.check()


@both
def test_a_late_answer_that_comes_while_it_is_listened_for(name: str) -> None:
    instrument = Instrument(hasty(load(name)), [level(10), "late", level(30)], late_s=0.25)
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-3)
        with pytest.raises(MeterLateAnswer, match="thrown away"):
            read(meter)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


@both
def test_a_late_answer_that_comes_only_while_the_line_is_put_in_step(name: str) -> None:
    # The deadline of the caller ends the wait, so it can only be met before the next question.
    instrument = Instrument(hasty(load(name)), [level(10), "late", level(30)], late_s=0.25)
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-3)
        with pytest.raises(MeterSilent):
            read(meter, within_s=0.16)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


@pytest.mark.parametrize(("name", "gap_s"), [("terse-line", 0.0), ("plain-488", 0.2)])
@pytest.mark.parametrize("confirm", ["each_reading", "after_trouble"])
def test_a_late_answer_that_comes_after_the_line_was_put_in_step(name: str, gap_s: float, confirm: str) -> None:
    """The worst case: it arrives after the next question, where it looks like the answer to it."""
    instrument = Instrument(hasty(load(name), confirm=confirm), [level(10), "silent"])
    end = instrument.dialect.line.end_answered.encode()
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-3)
        with pytest.raises(MeterSilent):
            read(meter)
        LINE_TIME.let_pass(gap_s)
        stale = instrument.reading(level(20)).encode() + end
        instrument.acts = ["figures:" + stale.decode().strip(), level(30), level(40)]
        answer = instrument.acted
        instrument.acted = lambda act, end: (  # type: ignore[method-assign]
            [*answer(act, end), (0.08, instrument.reading(level(30)).encode() + end)]
            if isinstance(act, str)
            else answer(act, end)
        )
        with pytest.raises(MeterLateAnswer, match="late or doubled"):
            read(meter)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)
        assert luminance(meter) == pytest.approx(40, rel=1e-3)


def test_a_question_that_went_out_too_late_is_still_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library gives up a write that takes too long even where all of it was written: an answer will come."""
    instrument = Instrument(hasty(load("plain-488"), confirm="after_trouble"), [level(10), level(20), level(30)])
    write = serial.Serial.write
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-3)
        answer, waits_s = instrument.acted, iter([0.05, 0.1])
        instrument.acted = lambda act, end: [(next(waits_s), data) for _, data in answer(act, end)]  # type: ignore[method-assign]

        def slow(port: serial.Serial, data: bytes) -> int:
            peer.on_its_way += write(port, data)
            raise serial.SerialTimeoutException("Write timeout")

        with monkeypatch.context() as patch, pytest.raises(MeterSilent, match="does not take"):
            patch.setattr(serial.Serial, "write", slow)
            read(meter)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


@both
def test_a_late_answer_in_the_gap_between_two_questions(name: str) -> None:
    instrument = Instrument(hasty(load(name)), [level(10), "silent", level(30)])
    end = instrument.dialect.line.end_answered.encode()
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-3)
        with pytest.raises(MeterSilent):
            read(meter)
        peer.say(instrument.reading(level(20)).encode() + end)
        LINE_TIME.let_pass(0.05)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


@both
def test_doubled_answers_are_never_taken(name: str) -> None:
    instrument = Instrument(hasty(load(name)), [level(10), "double", level(30)])
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-3)
        with pytest.raises(MeterLateAnswer, match="late or doubled") as raised:
            read(meter)
        assert raised.value.received.count(instrument.reading(Light()).encode()) == 2
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


@both
@pytest.mark.parametrize("trouble", ["non-ascii", "garbage"])
def test_noise_is_garbled_and_shows_its_bytes(name: str, trouble: str) -> None:
    instrument = Instrument(hasty(load(name)), [trouble, level(30)])
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        with pytest.raises(MeterGarbled) as raised:
            read(meter)
        assert shown(raised.value.received.strip()).strip("'") in str(raised.value)
        assert raised.value.sent.endswith(instrument.dialect.line.end_sent.encode())
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


TERSE_IMPOSSIBLE = {
    "no number": "G 1.0E1.0 .31 .33",
    "two signs": "G +-10 .31 .33",
    "negative luminance": "G -3.0E0 .3127 .3290",
    "x and y above 1": "G 1.0E1 .7 .6",
    "no y": "G 1.0E1 .3127 0.0",
    "brighter than the sun": "G 1.0E11 .3127 .3290",
    "infinite": "G 1.0E999 .3127 .3290",
    "a status unknown": "X 1.0E1 .3127 .3290",
    "too short": "G 1.0E1 .3127",
    "two in one line": "G 1.0E1 .3127 .3290G 1.0E1 .3127 .3290",
    "blank": "",
}


@pytest.mark.parametrize("answer", TERSE_IMPOSSIBLE.values(), ids=TERSE_IMPOSSIBLE)
def test_what_no_light_can_be_is_garbled(answer: str) -> None:
    instrument = Instrument(hasty(load("terse-line")), [f"figures:{answer}", level(30)])
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        with pytest.raises(MeterGarbled):
            read(meter)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


def test_an_over_range_without_figures_is_a_reading_without_xyz() -> None:
    none = '9.91E+37,9.91E+37,9.91E+37,CDM2,2,0.500;0,"No error"'
    good_status = none.replace(",2,", ",0,")
    instrument = Instrument(hasty(load("plain-488")), [f"figures:{none}", f"figures:{good_status}"])
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        over = read(meter)
        assert (over.xyz, over.status.value) == (None, "over")
        with pytest.raises(MeterGarbled, match="a good status without figures"):
            read(meter)


def test_an_error_code_is_told_with_its_sentence() -> None:
    acts: list[Act] = ["figures:E7", "figures:E9", level(30)]
    instrument = Instrument(hasty(load("terse-line")), acts)
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        with pytest.raises(MeterRefused, match="E7, shutter stuck"):
            read(meter)
        with pytest.raises(MeterRefused, match="E9, an error that"):
            read(meter)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


def test_a_unit_told_at_the_start_must_be_the_dialect_s() -> None:
    instrument = Instrument(hasty(load("terse-line")), unit_set="CD")
    with connected(instrument) as peer:
        with pytest.raises(MeterWrongUnit, match=r"'CD'.* instead of foot_lambert") as raised:
            SerialMeter(instrument.dialect, peer.port)
        assert raised.value.received == b"UN CD\r\n"


@both
def test_a_cable_pulled_amid_a_reading(name: str) -> None:
    instrument = Instrument(load(name), [level(10), "silent"])  # the dialect's own waits: the end is seen at once
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        read(meter)
        instrument.acts = ["gone"]
        started_s = LINE_TIME.now_s
        with pytest.raises(MeterLost, match="plug the meter in"):
            read(meter)
        assert LINE_TIME.now_s == started_s
        with pytest.raises(MeterLost):
            meter.identify()


def test_a_trickling_meter_can_t_stretch_the_deadline() -> None:
    instrument = Instrument(hasty(load("terse-line")))
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        instrument.acts = ["silent"]
        for number in range(60):
            peer.say(b"G", after_s=0.02 * number + 0.01)
        started_s = LINE_TIME.now_s
        with pytest.raises(MeterError):
            read(meter, within_s=0.5)
        assert LINE_TIME.now_s <= started_s + 0.5


def test_a_line_without_end_is_given_up() -> None:
    instrument = Instrument(hasty(load("terse-line")), ["figures:" + "9" * 5000, level(30)])
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        with pytest.raises(MeterGarbled, match="without a line end"):
            read(meter)
        assert luminance(meter) == pytest.approx(30, rel=1e-3)


def test_a_meter_that_never_stops_talking_is_named() -> None:
    instrument = Instrument(hasty(load("terse-line")))
    with connected(instrument) as peer:
        for number in range(400):
            peer.say(b"G 1.0 .3 .3\r\n", after_s=0.01 * number)
        with pytest.raises(MeterGarbled, match="keeps sending without a query"):
            SerialMeter(instrument.dialect, peer.port)


def test_another_meter_on_the_same_port_is_seen_with_the_reading() -> None:
    instrument = Instrument(hasty(load("plain-488")))
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        read(meter)
        instrument.serial = "SN-0002"
        with pytest.raises(WrongMeter, match=r"INVENTED-1 SN-0002 .* INVENTED-1 SN-0001"):
            read(meter)
        with pytest.raises(WrongMeter):
            meter.identify()


def test_an_integration_time_out_of_the_dialect_s_range_is_not_sent() -> None:
    instrument = Instrument(hasty(load("terse-line")))
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        asked = len(instrument.asked)
        with pytest.raises(MeterRefused, match=r"allows 0.02 to 8 s"):
            read(meter, 9.0)
        assert len(instrument.asked) == asked


@pytest.mark.parametrize("confirm", ["each_reading", "after_trouble"])
def test_a_unit_changed_at_the_meter_is_seen_though_readings_do_not_tell_it(confirm: str) -> None:
    instrument = Instrument(hasty(load("terse-line"), confirm=confirm), [level(10)])
    with connected(instrument) as peer, closing(SerialMeter(instrument.dialect, peer.port)) as meter:
        assert luminance(meter) == pytest.approx(10, rel=1e-5)
        instrument.unit_set = "CD"
        with pytest.raises(MeterWrongUnit, match="cd_m2") as raised:
            read(meter)
        assert raised.value.received.endswith(b"UN CD\r\n")
        instrument.unit_set = None
        assert luminance(meter) == pytest.approx(10, rel=1e-5)


def test_an_echoing_meter() -> None:
    start = tuple((sent, sent + b"\r\n" + answered) for sent, answered in START)
    who = (WHO[0], WHO[0] + b"\r\n" + WHO[1])
    unit = (UNIT[0], UNIT[0] + b"\r\n" + UNIT[1])
    good = b"G 1.00000E+01 0.31270 0.32900\r\n"
    script = Script(*start, who, (b"M500", b"M500\r\n" + good), who, unit, (b"M500", b"M5O0\r\n" + good))
    with Peer(script, b"\r") as peer, closing(SerialMeter(hasty(load("terse-line"), echo=True), peer.port)) as meter:
        assert luminance(meter) == pytest.approx(34.26259, rel=1e-6)
        with pytest.raises(MeterGarbled, match="send 'M500' back"):
            read(meter)
    script.check()
