"""Does this dialect fit a meter? Every exchange with its bytes, and which key of the dialect did not match."""

from __future__ import annotations

from dataclasses import dataclass

from benchd.clock import Deadline
from benchd.errors import MeterError
from benchd.instruments.serial_meter import open_wire
from benchd.instruments.wire import Wire
from benchd.profile.dialect import Dialect, compiled, fill


@dataclass(frozen=True, slots=True)
class ProbeLine:
    """One exchange."""

    key: str  # key of the dialect that decides, such as "identify.expect" or "start[0].expect"
    sent: bytes
    received: bytes
    matched: bool
    text: str  # one sentence


@dataclass(frozen=True, slots=True)
class ProbeReport:
    """What a port answered."""

    port: str
    dialect: str
    lines: tuple[ProbeLine, ...]
    trouble: str | None  # why the port could not be queried at all

    @property
    def ok(self) -> bool:
        """True when every exchange matched."""
        return self.trouble is None and all(line.matched for line in self.lines)


def probe(dialect: Dialect, port: str, *, measure: bool = False) -> ProbeReport:
    """Go through start-up, identification and, on request, one reading. Never raises a `MeterError`."""
    lines: list[ProbeLine] = []
    try:
        wire = open_wire(dialect, port)
    except MeterError as error:
        return ProbeReport(port, dialect.meter, (), str(error))
    try:
        wire.rest(dialect.port.ready_after_s)
        wire.drain(Deadline.after(2.0))
        for number, exchange in enumerate(dialect.start):
            key = f"start[{number}].expect"
            lines.append(_asked(dialect, wire, key, exchange.send, exchange.expect, exchange.within_s))
            wire.rest(exchange.wait_s)
        identify = dialect.identify
        lines.append(_asked(dialect, wire, "identify.expect", identify.send, identify.expect, identify.within_s))
        if ask_unit := dialect.measure.ask_unit:
            key, within_s = "measure.ask_unit.expect", ask_unit.within_s
            lines.append(_asked(dialect, wire, key, ask_unit.send, ask_unit.expect, within_s))
        if measure:
            question = fill(dialect.measure.send, dialect.integration_values(None))
            within_s = dialect.answer_within_s(None)
            lines.append(_asked(dialect, wire, "measure.expect", question, dialect.measure.expect, within_s))
    except MeterError as error:
        return ProbeReport(port, dialect.meter, tuple(lines), str(error))
    finally:
        wire.close()
    return ProbeReport(port, dialect.meter, tuple(lines), None)


def _asked(dialect: Dialect, wire: Wire, key: str, question: str, expect: str | None, within_s: float) -> ProbeLine:
    wire.begin()
    sent = (question + dialect.line.end_sent).encode("ascii")
    wire.send(sent)
    if expect is None:
        return ProbeLine(key, sent, b"", True, "no answer is awaited")
    limit = Deadline.after(within_s)
    line = wire.read_line(limit)
    if line == question.encode("ascii") and dialect.line.echo:
        line = wire.read_line(limit)
    if line is None:
        came = wire.partial
        what = (
            f"nothing came in {within_s:g} s: compare 'port' and 'end_sent' with the meter's manual, look at power "
            "and cable"
            if not came
            else f"an answer without its end came in {within_s:g} s: compare 'end_answered' with the meter's manual"
        )
        wire.unread()
        return ProbeLine(key, sent, came, False, what)
    answer = line.decode("ascii", errors="backslashreplace")
    matched = compiled(expect).fullmatch(answer) is not None
    text = "matches" if matched else f"{answer!r} is not matched by {key}: {expect!r}"
    return ProbeLine(key, sent, wire.received, matched, text)
