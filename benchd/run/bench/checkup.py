"""Every part of a bench checked on its own, so that one silent part does not hide the others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from benchd.clock import Deadline
from benchd.errors import BenchdError, InputError
from benchd.instruments.meter import MeterIdentity, ReadRequest
from benchd.instruments.positioner import Positioner
from benchd.instruments.probe import ProbeReport, probe
from benchd.instruments.serial_stage import StagePositioner
from benchd.instruments.wire import shown
from benchd.patch.model import field, grey
from benchd.profile.made_files import CorrectionFile
from benchd.run.bench.known_screen import refuse_correction
from benchd.run.bench.log_head import load_repeated
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import BenchJob

ANSWERS_WITHIN_S = 30.0


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """What one part of a bench answered. ``details`` are further lines, such as bytes sent and received."""

    part: str
    ok: bool
    text: str
    details: tuple[str, ...] = ()


def check_up(job: BenchJob) -> Iterator[PartAnswer]:
    """Check the companions, the clock, the screen, the meter (and whether its correction fits), the positioner and the
    display's controls, in this order.

    The screen is shown black and the meter takes one reading; nothing is moved, and nothing is set.
    """
    bench = OpenBench(job._replace(correction=None))  # the meter is read as it is
    try:
        companions = _ask("companions", bench.begin, lambda: f"{len(job.bench.companions)} started")
        if job.bench.companions or not companions.ok:
            yield companions
        if not companions.ok:
            return
        yield _ask("clock", bench.open_clock, lambda: "virtual time" if bench.clock.virtual else "real time")
        yield _ask("screen", partial(_screen, bench))
        meter = _meter(bench, job)
        yield meter
        who = bench.meter_identity if meter.ok else None
        if job.correction is not None:
            yield _ask("correction", partial(_correction, job, job.correction, who))
        repeated = _ask("repeated", partial(_repeated, job, who))
        if repeated.text:
            yield repeated
        bench.open_stage()
        yield _ask("stage", partial(_stage, bench.attended.inner))
        bench.open_controls()
        for name, ok, text in bench.controls.describe():
            yield PartAnswer("controls" if name == "ddc" else f"  {name}", ok, text)
    finally:
        bench.__exit__()


def _ask(part: str, action: Callable[[], str | None], text: Callable[[], str] | None = None) -> PartAnswer:
    """``action`` returns what it found, where ``text`` does not; it raises where the part does not answer."""
    try:
        found = action()
        return PartAnswer(part, True, text() if text else str(found))
    except BenchdError as error:
        return PartAnswer(part, False, str(error))


def _stage(positioner: Positioner) -> str:
    if isinstance(positioner, StagePositioner):
        return f"{positioner.identify(Deadline.after(ANSWERS_WITHIN_S))} (not moved now)"
    return "the operator moves the meter" if positioner.by == "operator" else "a mover (not moved now)"


def _screen(bench: OpenBench) -> str:
    bench.open_screen()
    bench.screen.show(field(grey(0)), Deadline.after(ANSWERS_WITHIN_S))
    screen = bench.screen_identity
    return (
        f"{screen.name}, {screen.width} x {screen.height} pixels at {screen.x},{screen.y}, {screen.bits} bit; "
        f"read back from: {screen.readback}; gamma ramp {screen.gamma_ramp}; awake: {screen.awake}"
    )


def _meter(bench: OpenBench, job: BenchJob) -> PartAnswer:
    """A serial meter is probed exchange by exchange; then, as any other, it takes one reading."""
    details: tuple[str, ...] = ()
    port = job.bench.instruments.meter.port
    if job.dialect is not None and port is not None and port != "auto":
        report = probe(job.dialect, bench.in_scratch(port))
        details = tuple(_details(report))
        if not report.ok and not job.bench.instruments.meter.candidates and job.bench.instruments.meter.usb is None:
            wrong = next((line for line in report.lines if not line.matched), None)
            why = report.trouble or (f"{wrong.key} of dialect {report.dialect}: {wrong.text}" if wrong else "")
            return PartAnswer("meter", False, why, details)
    try:
        bench.open_meter()
        reading = bench.meter.read(ReadRequest("doctor", 1), Deadline.after(ANSWERS_WITHIN_S))
    except BenchdError as error:
        return PartAnswer("meter", False, str(error), details)
    who = bench.meter_identity
    value = f"{reading.xyz[1]:.4g} cd/m2" if reading.xyz else "no figure"
    value += ", SIMULATED" if who.simulated else ""
    text = f"{who.model} {who.serial_number}, firmware {who.firmware}, at {who.address}; one reading: {value}"
    return PartAnswer("meter", True, f"{text} ({reading.status})", details)


def _correction(job: BenchJob, correction: CorrectionFile, meter: MeterIdentity | None) -> str:
    """Raises `InputError` where a run may not begin with the correction of the bench."""
    refuse_correction(job)
    if meter is not None and (unfit := correction.unfit(model=meter.model, serial_number=meter.serial_number)):
        raise InputError(unfit)
    reference = correction.reference_meter
    return (
        f"{correction.correction} ({correction.method}, {correction.technology}) of {correction.made} against "
        f"{reference.model} {reference.serial_number}, until {correction.expires}"
    )


def _repeated(job: BenchJob, meter: MeterIdentity | None) -> str:
    """What is kept of this bench's repetition, and whether a run with this meter counts it; "" where none is."""
    if (found := load_repeated(job.bench.bench)) is None:
        return ""
    text = f"{found.runs} runs of {found.plan} in {found.placements} placements on {found.made}"
    if meter is not None and not found.is_for(model=meter.model, serial_number=meter.serial_number):
        text += f", with meter {found.meter.model} {found.meter.serial_number}: not counted with this one"
    return text


def _details(report: ProbeReport) -> Iterator[str]:
    for line in report.lines:
        mark = "matches" if line.matched else "does not match"
        yield f"sent {shown(line.sent)} received {shown(line.received)}: {mark} {line.key}"
