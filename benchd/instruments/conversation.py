"""Question and answer over a wire, in step: an answer is never taken for the answer to another question.

In step means that nothing is on its way from the meter. A time-out, an answer too many or one that can't be
read puts the line out of step. Before the next question it is put in step again: a late answer is listened
for, the line is drained until it is quiet, the start-up exchange is sent, and the meter is identified; what
comes before that answer belongs to the past. `confirm` sends the same after a reading: a meter answers in order, so
a second answer before its identification shows that one of the two was late or doubled. (What can't be detected where
answers carry no number: a line that repeats both an old reading and an old identification amid a new question.)
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from benchd.clock import Deadline, real_now_s
from benchd.errors import MeterError, MeterGarbled, MeterHalfAnswer, MeterLateAnswer, MeterRefused, MeterSilent
from benchd.instruments.answers import check_unit
from benchd.instruments.wire import Wire, shown
from benchd.profile.dialect import Dialect, Exchange, LineDialect, compiled, fill

Groups = dict[str, str | None]
"""The groups of an identification."""

_DRAIN_AT_MOST_S = 2.0


class Conversation:
    """Queries a device in its dialect. Every method raises a `MeterError` that carries the bytes."""

    def __init__(self, dialect: LineDialect, wire: Wire) -> None:
        self._dialect, self._wire = dialect, wire
        self._device = f"the {dialect.device}"
        self._in_step = False
        self._late_until = Deadline.after(0.0)
        self._trouble = True  # until a first reading was confirmed: what was queried before is not known
        self._owed = 0  # answers that were given up and have not come yet
        wire.rest(dialect.port.ready_after_s)

    def get_ready(self, deadline: Deadline | None = None) -> Groups | None:
        """Put the line in step: None where it is, else the meter's identity; then what was set in it may be lost.

        The start-up exchange is sent too, because a meter that fell silent may have been switched off and on.
        """
        if came := self._wire.unread():
            self.lose_step()
            if self._dialect.line.end_answered.encode("ascii") in came:
                self._late_answer_came()
        if self._in_step:
            return None
        deadline = deadline or self._long_enough()
        self._drain(deadline)
        for exchange in self._dialect.start:
            self.set(exchange, {}, deadline)
        groups = self.who(deadline)
        self._in_step = True
        return groups

    def set(self, exchange: Exchange, values: dict[str, str | float], deadline: Deadline) -> None:
        """One exchange that sets something. Raises `MeterWrongUnit` where the answer has another unit."""
        question = fill(exchange.send, values)
        expect = exchange.expect
        if expect is None and self._dialect.line.echo:
            expect = re.escape(question)
        if expect is None:
            self._wire.begin()
            self._send(question)
        else:
            match = self._await(question, expect, exchange.within_s, deadline)
            if "unit" in match.re.groupindex and isinstance(self._dialect, Dialect):
                with self.bytes_text():
                    check_unit(self._dialect, question, match[0], match["unit"])
        self._wire.rest(exchange.wait_s)

    def who(self, deadline: Deadline | None = None) -> Groups:
        """Identify the meter: the groups of the identification."""
        deadline = deadline or self._long_enough()
        self._drain(deadline)
        identify = self._dialect.identify
        return self._await(identify.send, identify.expect, identify.within_s, deadline).groupdict()

    def confirm(self, question: str, answer: str, within_s: float, deadline: Deadline) -> Groups | None:
        """Make sure that ``answer`` was the only one to ``question``: the identity, or None where it is spared.

        While an answer is owed, a second one is also waited for as long as an answer may take: then even a meter
        that identifies itself in the middle of a measurement can't make the owed one pass for this one.
        Raises `MeterLateAnswer` when there was a second answer: one of the two is not to this question. Where the
        answer has no unit the meter is queried for it too: raises `MeterWrongUnit` when it was changed meanwhile.
        """
        if self._owed:
            if (second := self._wire.read_line(_sooner(Deadline.after(within_s), deadline))) is not None:
                self._late_answer_came()
                raise self._two(question, answer, second)
            self._owed = 0  # it will not come any more
        groups: Groups | None = None
        dialect, identify = self._dialect, self._dialect.identify
        ask_unit = dialect.measure.ask_unit if isinstance(dialect, Dialect) else None
        if self._trouble or self._dialect.line.confirm == "each_reading":
            line = self.ask(identify.send, identify.within_s, deadline, begin=False)
            groups = self._only(identify.expect, line, question, answer).groupdict()
            self._trouble = False
        if isinstance(dialect, Dialect) and ask_unit is not None and ask_unit.expect is not None:
            line = self.ask(ask_unit.send, ask_unit.within_s, deadline, begin=False)
            match = self._only(ask_unit.expect, line, question, answer)
            with self.bytes_text():
                check_unit(dialect, ask_unit.send, line, match["unit"])
        return groups

    def ask(self, question: str, within_s: float, deadline: Deadline, *, begin: bool = True) -> str:
        """The next line after ``question``, on a line that is in step. ``begin``: a new record of the bytes."""
        if begin:
            self._wire.begin()
        asked_s = real_now_s()
        limit = _sooner(Deadline.after(within_s), deadline)
        self._send(question)
        try:
            line = self._wire.read_line(limit)
            if self._dialect.line.echo and line is not None:
                if line != question.encode("ascii"):
                    raise self._error(
                        MeterGarbled,
                        f"{self._device} should send {question!r} back before its answer, but sent {shown(line)}; look "
                        f"at the cable, or correct 'echo' of dialect {self._dialect.name}",
                    )
                line = self._wire.read_line(limit)
        except MeterGarbled:
            self.lose_step()
            raise
        if line is None:
            self.lose_step()
            self._late_until = Deadline.after(self._dialect.late_within_s)
            self._owed += 1
            raise self._missing(question, asked_s, deadline)
        return self._text(line, question)

    @contextmanager
    def bytes_text(self) -> Iterator[None]:
        """Adds the bytes of the present question to a `MeterError`; a garbled answer also costs the step."""
        try:
            yield
        except MeterError as error:
            error.sent, error.received = self._wire.sent, self._wire.received
            if isinstance(error, MeterGarbled):
                self.lose_step()
            raise

    def lose_step(self) -> None:
        """What comes next may belong to the past."""
        self._in_step = False
        self._trouble = True

    def _late_answer_came(self) -> None:
        self._late_until = Deadline.after(0.0)
        self._owed = max(0, self._owed - 1)

    def _drain(self, deadline: Deadline) -> None:
        """Listen for a late answer as long as one may come, and until the line is quiet."""
        while not (self._late_until.passed or deadline.passed):
            if self._wire.read_line(_sooner(self._late_until, deadline)) is not None:
                self._late_answer_came()
        thrown, quiet = self._wire.drain(_sooner(deadline, Deadline.after(_DRAIN_AT_MOST_S)))
        if not quiet:
            self.lose_step()
            raise self._error(
                MeterGarbled,
                f"{self._device} at {self._wire.port} keeps sending without a query (last {shown(thrown[-40:])}); "
                "end its continuous mode, or put the command that does so into 'start' of the dialect",
            )

    def _await(self, question: str, expect: str, within_s: float, deadline: Deadline) -> re.Match[str]:
        """Query and read on until a line matches ``expect``; what comes before it belongs to the past."""
        self._wire.begin()
        asked_s = real_now_s()
        limit = _sooner(Deadline.after(within_s), deadline)
        self._send(question)
        strange: str | None = None
        while (line := self._wire.read_line(limit)) is not None:
            answer = line.decode("ascii", errors="backslashreplace")
            if (match := compiled(expect).fullmatch(answer)) is not None:
                return match
            if answer != question:  # an echo is no answer
                strange = answer
        self.lose_step()
        if strange is None:
            raise self._nothing(question, real_now_s() - asked_s)
        if error := self._dialect.error_of(strange):
            raise self._error(MeterRefused, f"{self._device} refused {question!r}: {error[0]}, {error[1]}")
        raise self._error(
            MeterGarbled,
            f"queried {question!r}, {self._device} answered {strange!r}, which {expect!r} of dialect "
            f"{self._dialect.name} does not match; is it another {self._dialect.device}, or set in another way?",
        )

    def _send(self, question: str) -> None:
        try:
            self._wire.send((question + self._dialect.line.end_sent).encode("ascii"))
        except MeterError:
            # It may have gone out all the same, only later than allowed: then its answer is still to come.
            self.lose_step()
            self._late_until = Deadline.after(self._dialect.late_within_s)
            self._owed += 1
            raise

    def _long_enough(self) -> Deadline:
        """A deadline for callers without one: all waits of the dialect's fixed exchanges, one after the other."""
        fixed_s = sum(exchange.within_s + exchange.wait_s for exchange in self._dialect.start)
        fixed_s += self._dialect.identify.within_s
        return Deadline.after(fixed_s + self._dialect.late_within_s + 2 * _DRAIN_AT_MOST_S)

    def _missing(self, question: str, asked_s: float, deadline: Deadline) -> MeterError:
        """No whole answer in time: read on, to distinguish late from half and from silent."""
        waited_s = real_now_s() - asked_s
        if (line := self._wire.read_line(_sooner(self._late_until, deadline))) is not None:
            self._late_answer_came()
            return self._error(
                MeterLateAnswer,
                f"queried {question!r}, {self._device} answered {shown(line)} after {real_now_s() - asked_s:.1f} s, "
                f"which is later than the {waited_s:.1f} s it may take; that answer was thrown away (raise "
                f"'answers_within_s' of dialect {self._dialect.name} when this comes again)",
            )
        return self._nothing(question, waited_s)

    def _only(self, expect: str, line: str, question: str, answer: str) -> re.Match[str]:
        if (match := compiled(expect).fullmatch(line)) is None:
            raise self._two(question, answer, line.encode("ascii"))
        return match

    def _two(self, question: str, answer: str, second: bytes) -> MeterError:
        self.lose_step()
        return self._error(
            MeterLateAnswer,
            f"after {question!r} came {answer!r} and then {shown(second)}: one of them is late or doubled, so both "
            "were discarded; the query is to be sent again",
        )

    def _nothing(self, question: str, waited_s: float) -> MeterError:
        if self._wire.partial:
            return self._error(
                MeterHalfAnswer,
                f"queried {question!r}, {self._device} sent only {shown(self._wire.partial)} in {waited_s:.1f} s and "
                "no line end; check the cable, or correct 'end_answered' of the dialect",
            )
        return self._error(
            MeterSilent,
            f"{self._device} at {self._wire.port} does not answer (queried {question!r}, nothing came in "
            f"{waited_s:.1f} s); look at its power, cable and screen",
        )

    def _text(self, line: bytes, question: str) -> str:
        try:
            return line.decode("ascii")
        except UnicodeDecodeError:
            self.lose_step()
            raise self._error(
                MeterGarbled,
                f"{self._device} answered {question!r} with {shown(line)}, which is not ASCII; compare baud, data bits "
                f"and parity of the dialect with the settings of {self._device}",
            ) from None

    def _error(self, kind: type[MeterError], text: str) -> MeterError:
        return kind(text, sent=self._wire.sent, received=self._wire.received)


def _sooner(one: Deadline, other: Deadline) -> Deadline:
    return one if one.at_s <= other.at_s else other
