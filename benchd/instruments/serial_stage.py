"""A motion stage on a serial port, described by a dialect, that carries the meter over the screen."""

from __future__ import annotations

from benchd.clock import Deadline
from benchd.errors import MeterError, MoveFailed
from benchd.instruments.conversation import Conversation, Groups
from benchd.instruments.wire import Wire
from benchd.profile.dialect import Exchange, compiled, fill
from benchd.profile.stage_dialect import StageDialect

POLL_S = 0.1

Millimetres = tuple[float, float]


class StagePositioner:
    """Moves the meter; satisfies `Positioner`. Opened, and sent to its reference, with the first move.

    ``origin_mm`` is where the screen's top left corner lies in the stage's axes and ``size_mm`` its width and height
    there, negative along an axis that counts the other way. A move counts once the stage itself reports that it stands
    there, and nothing outside the screen is ever sent. Raises `MoveFailed`; the port is opened anew after that.
    """

    by = "mover"

    def __init__(self, dialect: StageDialect, port: str, origin_mm: Millimetres, size_mm: Millimetres) -> None:
        self._dialect, self._port = dialect, port
        self._origin_mm, self._size_mm = origin_mm, size_mm
        self._wire: Wire | None = None
        self._talk: Conversation | None = None
        self._groups: Groups = {}
        self._homed = False

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Put the meter at ``at``, fractions of the screen from the top left; returns once it stands there."""
        if not all(0 <= fraction <= 1 for fraction in at):
            raise MoveFailed(f"{place} is not on the screen ({at[0]:g}, {at[1]:g}); nothing was moved")
        try:
            self._go(self.millimetres(at), deadline)
        except (MeterError, _NotThere) as error:
            self.close()
            advice = "" if isinstance(error, MeterError) else "; look at the stage"
            raise MoveFailed(f"the stage did not reach {place}: {error}{advice}") from None

    def identify(self, deadline: Deadline) -> str:
        """Model and serial number, without moving. Raises `MoveFailed`."""
        try:
            self._opened(deadline, home=False)
        except MeterError as error:
            self.close()
            raise MoveFailed(f"the stage can't be identified: {error}") from None
        return f"{self._groups.get('model')} {self._groups.get('serial')} at {self._port}"

    def millimetres(self, at: tuple[float, float]) -> Millimetres:
        """A place of the screen in the stage's axes."""
        x, y = (origin + size * part for origin, size, part in zip(self._origin_mm, self._size_mm, at, strict=True))
        return x, y

    def close(self) -> None:
        """Let go of the port; never raises. The stage stays where it is."""
        if self._wire is not None:
            self._wire.close()
        self._wire = self._talk = None

    def _go(self, target: Millimetres, deadline: Deadline) -> None:
        talk = self._opened(deadline, home=True)
        way_mm = _apart(self._position(talk, deadline), target)
        limit = _sooner(Deadline.after(self._dialect.move_within_s(way_mm)), deadline)
        command = fill(self._dialect.move.send, {"x_mm": target[0], "y_mm": target[1]})
        move = Exchange.model_construct(
            send=command, expect=self._dialect.move.expect, within_s=limit.left_s, wait_s=0.0
        )
        self._tell(talk, move, limit)
        while True:
            found = self._position(talk, deadline)
            if _apart(found, target) <= self._dialect.tolerance_mm:
                return
            if limit.passed:
                raise _NotThere(
                    f"it was sent to {target[0]:.2f}, {target[1]:.2f} mm and stands at {found[0]:.2f}, "
                    f"{found[1]:.2f} mm"
                )
            assert self._wire is not None
            self._wire.rest(min(POLL_S, limit.left_s))

    def _opened(self, deadline: Deadline, *, home: bool) -> Conversation:
        """The conversation, in step; ``home``: the stage looks for its reference where it has not yet."""
        dialect = self._dialect
        if self._talk is None:
            end = dialect.line.end_answered.encode("ascii")
            self._wire = Wire(
                self._port, dialect.port, line_end=end, max_bytes=dialect.line.max_bytes, device=dialect.device
            )
            self._talk = Conversation(dialect, self._wire)
            self._homed = False
        self._groups = self._talk.get_ready(deadline) or self._groups
        if home and not self._homed:
            if dialect.home is not None:
                self._tell(self._talk, dialect.home, deadline)
            self._homed = True
        return self._talk

    def _tell(self, talk: Conversation, exchange: Exchange, deadline: Deadline) -> None:
        """A command: unlike a question of the start-up, the very next line is the answer to it."""
        assert self._wire is not None
        if exchange.expect is None:
            talk.set(exchange, {}, deadline)
            return
        self._understood(talk, exchange.send, exchange.expect, exchange.within_s, deadline)
        self._wire.rest(exchange.wait_s)

    def _position(self, talk: Conversation, deadline: Deadline) -> Millimetres:
        ask = self._dialect.position
        groups = self._understood(talk, ask.send, ask.expect, ask.within_s, deadline)
        try:
            return float(groups["x_mm"] or ""), float(groups["y_mm"] or "")
        except ValueError:
            raise _NotThere(f"it reports a place that is no number ({groups['x_mm']!r}, {groups['y_mm']!r})") from None

    def _understood(
        self, talk: Conversation, question: str, expect: str, within_s: float, deadline: Deadline
    ) -> Groups:
        answer = talk.ask(question, within_s, deadline)
        if (match := compiled(expect).fullmatch(answer)) is not None:
            return match.groupdict()
        talk.lose_step()
        if error := self._dialect.error_of(answer):
            raise _NotThere(f"it answered {question!r} with {error[0]!r}, {error[1]}")
        raise _NotThere(f"it answered {question!r} with {answer!r}, which dialect {self._dialect.name} does not have")


class _NotThere(Exception):
    """The stage answers, but not that it stands at the place."""


def _apart(one: Millimetres, other: Millimetres) -> float:
    return max(abs(one[0] - other[0]), abs(one[1] - other[1]))


def _sooner(one: Deadline, other: Deadline) -> Deadline:
    return one if one.at_s <= other.at_s else other
