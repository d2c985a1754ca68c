"""Every error that benchd raises on purpose, as one tree.

    BenchdError                  one clear sentence for the operator; never empty
    ├── InputError               the operator's file or argument is at fault        exit 2
    │   ├── ProfileError           a plan, bench, dialect or target file: faults with file:line:column
    │   ├── PlanUnfit              a plan that this bench can't run
    │   │   └── SweepUnfit           by its sweep: faults with file:line:column
    │   ├── LogRefused             a log is damaged inside: the line is named
    │   └── PackageError           a measurement or a driver can't be used; costs that one only
    │       ├── KindUnknown          no package has it
    │       ├── PackageMissing       its package is named, and not installed
    │       ├── PackageBroken        its package is installed, and its own code fails
    │       ├── PackageNewer         its package, or a log's block, has a number that this benchd does not know
    │       └── ClaimedTwice         two packages say that they have it
    ├── MeterError               the light meter
    │   ├── MeterSilent            nothing came before the deadline
    │   ├── MeterHalfAnswer        an answer began and stopped
    │   ├── MeterLateAnswer        the answer came after the deadline and was thrown away
    │   ├── MeterGarbled           an answer came that is not in the dialect
    │   ├── MeterWrongUnit         an answer in another unit than the dialect states
    │   ├── MeterRefused           the meter answered with an error code
    │   ├── MeterLost              the port is gone (cable, adapter, power)
    │   ├── MeterBusy              another process holds it
    │   ├── WrongMeter             another meter answers than the one the log began with
    │   ├── Implausible            the readings of one patch contradict each other
    │   └── LightChanged           a reading contradicts the patch, or what the run has read before
    ├── ScreenError              the window
    │   ├── ScreenLost             the window or its display server is gone, or does not answer
    │   ├── ScreenDisturbed        covered, moved or resized
    │   ├── PixelMismatch          the pixels read back are not the ones sent
    │   └── WrongScreen            another monitor, size or bit depth than required
    ├── CompanionLost            a companion of the bench, such as the one that keeps its time, is gone
    ├── MoveNeeded               the operator must move the meter, and none is present
    ├── MoveFailed               the mover did not reach the place
    ├── OperatorNeeded           the operator must set the display, and none is present
    ├── ControlError             a control of the display
    │   ├── ControlRefused         the display reports that it has no such control or no such value
    │   ├── ControlMismatch        it reads back another value than was set
    │   ├── ControlSilent          nothing answers
    │   ├── ControlGarbled         the answer is damaged, or belongs to another question
    │   └── ControlAbsent          there is no such control, bus or command
    └── JournalError             the log can't be written (disk full, folder gone)
        └── JournalBusy            another process writes this log

What follows from each during a run is one table: `benchd/run/policy.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path


def did_you_mean(name: str, known: Iterable[str], otherwise: str = "", *, most: int = 3, cutoff: float = 0.5) -> str:
    """What to do about a name that is not ``known``: the nearest ones; else ``otherwise``, or all that are known."""
    names = list(known)
    close = nearest(name, names, most=most, cutoff=cutoff)
    every = otherwise or f"known are: {', '.join(names) or 'none'}"
    return f"did you mean {' or '.join(close)}?" if close else every


def nearest(name: str, known: Iterable[str], *, most: int, cutoff: float) -> list[str]:
    """The ``known`` names that are most like ``name``, in any case of letters; ``cutoff``: how like, 0 to 1."""
    import difflib  # for a wrong name only

    spelled = {one.lower(): one for one in known}
    return [spelled[one] for one in difflib.get_close_matches(name.lower(), spelled, n=most, cutoff=cutoff)]


def nearby(path: Path, otherwise: str, known: Iterable[str] = (), suffix: str = "") -> str:
    """What to do about a file that is not there: the files beside it, or ``known``, with a near name; else
    ``otherwise``. Those with its suffix, which is ``suffix`` where it was typed without one; never a folder.
    """
    suffix = path.suffix or suffix
    beside = (path.with_name(one.name) for one in path.parent.glob(f"*{suffix}") if one.is_file()) if path.name else ()
    names = (*known, *sorted(map(str, beside)))
    by_stem = {one.rpartition("/")[2].removesuffix(suffix): one for one in names}
    close = nearest(path.name.removesuffix(suffix), by_stem, most=3, cutoff=0.6)
    return f"did you mean {' or '.join(map(by_stem.__getitem__, close))}?" if close else otherwise


class BenchdError(Exception):
    """Base of all. ``str(error)`` is one sentence: what, where, what to do."""

    def __init__(self, text: str) -> None:
        if not text.strip():
            raise ValueError("an error needs a sentence")
        super().__init__(text)


class InputError(BenchdError):
    """The operator's input is at fault; nothing was started."""


class Fault(NamedTuple):
    """One fault in a file. ``line`` and ``column`` count from 1."""

    file: str
    line: int
    column: int
    text: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.text}"


class ProfileError(InputError):
    """All errors in one file, reported together, in the order of the file."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = tuple(sorted(faults))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class PlanUnfit(InputError):
    """A plan that can't be run on this bench, whatever answers; nothing was started."""


class SweepUnfit(ProfileError, PlanUnfit):
    """A sweep with controls or values that this bench does not have, each with its place in the plan."""


class LogRefused(InputError):
    """A log that must not be used as it is. ``line`` counts from 1 (0: the file as a whole)."""

    def __init__(self, file: str, line: int, text: str) -> None:
        self.file, self.line, self.text = file, line, text
        where = f"{file}:{line}" if line else file
        super().__init__(f"{where}: {text}")


class NotALog(LogRefused):
    """A file that never was a log: a text, a picture, an empty file."""

    def __init__(self, file: str, *, empty: bool) -> None:
        what = "an empty file" if empty else "no log of benchd"
        super().__init__(
            file, 0, f"this is {what}; give the log that `benchd run`, `benchd demo` or `benchd import` wrote"
        )
        self.line = 1  # where a first record would stand; it is not reported


class PackageError(InputError):
    """A measurement or a driver that can't be used; all others can. ``state``: how in two words."""

    state = "broken"


class KindUnknown(PackageError):
    """No package has it."""

    state = "unknown"


class PackageMissing(PackageError):
    """A log or an entry point names the package, and it is not installed."""

    state = "missing"


class PackageBroken(PackageError):
    """The package is installed, and its own code fails."""


class PackageNewer(PackageError):
    """A number is not known: of `benchd.api` that a package is written for, or of a block that a log holds."""

    state = "newer"


class ClaimedTwice(PackageError):
    """Two packages say that they have it; nothing decides between them."""

    state = "claimed twice"


class MeterError(BenchdError):
    """Something between benchd and the meter; carries the bytes for the operator's eye."""

    def __init__(self, text: str, *, sent: bytes = b"", received: bytes = b"") -> None:
        self.sent, self.received = sent, received
        super().__init__(text)


class MeterSilent(MeterError):
    """Nothing came before the deadline."""


class MeterHalfAnswer(MeterError):
    """An answer began and did not end before the deadline."""


class MeterLateAnswer(MeterError):
    """The answer came after its deadline; it was thrown away, never taken for the next one."""


class MeterGarbled(MeterError):
    """An answer that matches nothing in the dialect."""


class MeterWrongUnit(MeterError):
    """An answer in another unit than the dialect states."""


class MeterRefused(MeterError):
    """The meter answered with one of its error codes."""


class MeterLost(MeterError):
    """The port is gone."""


class MeterBusy(MeterError):
    """Another process holds the port or the meter."""


class WrongMeter(MeterError):
    """A meter answers, but not the one that the bench names or the log began with."""


class Implausible(MeterError):
    """The readings of one patch contradict each other."""


class LightChanged(MeterError):
    """A reading that can't be the light of the patch, or of the same patch as before.

    The meter is off the screen, a lamp was switched on, the display sleeps; since when is not known.
    """


class ScreenError(BenchdError):
    """Something between benchd and the pixels."""


class ScreenLost(ScreenError):
    """The window process or its display server is gone, or does not answer in time."""


class ScreenDisturbed(ScreenError):
    """The window is covered, moved or resized."""


class PixelMismatch(ScreenError):
    """The pixels read back are not the ones that were sent."""


class WrongScreen(ScreenError):
    """The window is on another monitor, or has another size or bit depth, than required."""


class CompanionLost(BenchdError):
    """A companion of the bench, such as the one that keeps its (virtual) time, is gone."""


class MoveNeeded(BenchdError):
    """The operator must move the meter, and this run can't prompt."""


class MoveFailed(BenchdError):
    """The mover did not reach the place."""


class OperatorNeeded(BenchdError):
    """The operator must set the display, and this run can't prompt. ``setting``: "control=value"."""

    setting = ""


class ControlError(BenchdError):
    """Something between benchd and a control of the display."""


class ControlRefused(ControlError):
    """The display, or the command that sets it, reports that it has no such control or no such value."""


class ControlMismatch(ControlError):
    """The control reads back another value than was set, and stays so."""


class ControlSilent(ControlError):
    """Nothing answers before the deadline."""


class ControlGarbled(ControlError):
    """The answer is damaged, or belongs to another question."""


class ControlAbsent(ControlError):
    """There is no such control, bus or command."""


class JournalError(BenchdError):
    """The log can't be written; what was acknowledged before is safe."""


class JournalBusy(JournalError):
    """Another process writes this log."""
