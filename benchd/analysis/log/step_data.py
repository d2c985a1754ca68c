"""What analysis has of one step: its readings, reduced, and what the log knows of the meter that took them."""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol

from benchd.analysis.meter_model.resolution import Resolution
from benchd.analysis.noise.serial import SerialCorrelation
from benchd.analysis.uncertainty.quantity import Ranges
from benchd.analysis.uncertainty.sources import Covariance, Source, Triple, Vectors


class MeterModel(Protocol):
    """What a log knows of its meter: `benchd.analysis.meter_model.metrology.Metrology`."""

    @property
    def resolution(self) -> Resolution | None:
        """The step of what the meter sends, where it is known."""

    def vectors(self, step: StepData, /) -> Vectors | None:
        """For each source of uncertainty of a step the change of its X, Y, Z in cd/m2."""


class StepData(NamedTuple):
    """The readings of one step that is done.

    ``code``        code values that were shown, of ``bits`` bits a channel
    ``figures``     readings that came with figures; ``n`` all readings
    ``mean``        mean X, Y, Z in cd/m2 of those with figures; None where none had
    ``covariance``  sample covariances XX, YY, ZZ, XY, XZ, YZ; None below two figures
    ``under``, ``over``, ``unstable``  how many readings the meter marked so
    ``records``     ranges of sequence numbers of the readings
    ``session``, ``mono_ns``  when the patch was shown: bench time, comparable within one session only
    ``read_ns``     the middle of its readings, bench time of the same session
    ``integration_s``  the shortest integration time of its readings; None where one has none
    ``placing``     how often the meter had been moved before: steps of one placing share how it stood
    ``metrology``   what the log knows of its meter
    ``spacing_s``   seconds from one of its readings to the next; None for one, and where times are not known
    ``serial``      what its readings are worth where they are correlated (`benchd.analysis.noise.serial`)
    ``influences``  what else moves its mean X, Y, Z, such as drift that was compensated: each source with its vector
    """

    step: str
    block: str
    labels: dict[str, Any]
    code: tuple[int, int, int]
    bits: int
    place: str
    at: tuple[float, float]
    n: int
    figures: int
    mean: Triple | None
    covariance: Covariance | None
    under: int
    over: int
    unstable: int
    records: Ranges
    session: str = ""
    mono_ns: int = 0
    read_ns: int = 0
    integration_s: float | None = None
    influences: tuple[tuple[Source, Triple], ...] = ()
    placing: int = 0
    metrology: MeterModel | None = None
    spacing_s: float | None = None
    serial: SerialCorrelation | None = None
    dof: int | None = None  # degrees of freedom of the covariance, where they are not one less than ``figures``

    def __hash__(self) -> int:
        return hash((self.step, self.records))

    def vectors(self) -> Vectors | None:
        """For each source of uncertainty the change of X, Y, Z in cd/m2; None where the noise is not known."""
        return None if self.metrology is None else self.metrology.vectors(self)

    @property
    def own_dof(self) -> float:
        """Degrees of freedom of its covariance."""
        own = float(self.figures - 1 if self.dof is None else self.dof)
        return own if self.serial is None else min(own, self.serial.luminance.dof, self.serial.colour.dof)

    @property
    def signal(self) -> float:
        """V: the code that was shown (green stands for grey) over the largest code."""
        return self.code[1] / ((1 << self.bits) - 1)


class SeriesReading(NamedTuple):
    """One reading of a series over time; ``after_s``: seconds from the patch on the screen to its beginning."""

    after_s: float
    integration_s: float | None
    xyz: Triple | None
    status: str
    seq: int
