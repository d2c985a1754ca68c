"""Bodies of records that the sequencer writes, and the patch that shows the operator the place."""

from __future__ import annotations

from dataclasses import fields

from benchd.errors import BenchdError, MeterError
from benchd.instruments.meter import Reading
from benchd.patch.model import Patch, code_for, field, grey, max_code
from benchd.patch.screen import Shown
from benchd.plan.step import ATTENDED, Step
from benchd.run.log.records import Body
from benchd.run.policy import Action

PATCH_FIELDS = tuple(one.name for one in fields(Patch))
SPOT_AREA_PERCENT = 0.5
SPOT_GROUND_PERCENT = 10.0
DIM_SPOT_PERCENT = 45.0
"""Of the signal: a sixth of white in SDR, about 60 cd/m2 in PQ."""


def spot(step: Step, *, dim: bool = False) -> Patch:
    """A small bright square on dark grey, where the operator must put the meter; black where it must not go anywhere.

    ``dim``: not so bright that it would harm an emissive panel in a wait of half an hour and more.
    """
    bits = step.patch.bits
    if step.place in ATTENDED:
        return field(grey(0), bits)
    # An HDR code of 58 % is about as bright as the white of a page (203 cd/m2 in PQ, ITU-R BT.2408).
    bright = max_code(bits) if step.patch.transfer == "sdr" else code_for(58.0, bits)
    if dim:
        bright = code_for(DIM_SPOT_PERCENT, bits)
    ground = code_for(SPOT_GROUND_PERCENT, bits)
    return Patch("spot", grey(bright), bits, grey(ground), SPOT_AREA_PERCENT, at=step.at, transfer=step.patch.transfer)


def what_of(step: Step) -> Body:
    """What analysis needs of a step, as every record of a shown patch begins."""
    return {
        "block": step.block,
        "role": step.labels,
        "patch": {name: getattr(step.patch, name) for name in PATCH_FIELDS},
        "place": step.place,
        "at": list(step.at),
    }


def shown_body(step: Step, shown: Shown, elapsed_s: float) -> Body:
    """What is on the screen, for which step, and what was read back."""
    return {
        **what_of(step),
        "readback": {
            "width": shown.width,
            "height": shown.height,
            "screen": shown.screen,
            "bits": shown.bits,
            "method": shown.readback,
            "probes": len(shown.probes),
        },
        "elapsed_s": round(elapsed_s, 6),
    }


def reading_body(number: int, reading: Reading) -> Body:
    """One reading as it is kept."""
    body: Body = {
        "n": number,
        "xyz": list(reading.xyz) if reading.xyz else None,
        "status": reading.status.value,
        "integration_s": reading.integration_s,
        "raw": reading.raw,
        "elapsed_s": round(reading.elapsed_s, 6),
    }
    if reading.after_s is not None:
        body["after_s"] = reading.after_s
    if reading.uncorrected is not None:
        body["xyz_uncorrected"] = list(reading.uncorrected)
    return body


def fault_body(error: BenchdError, action: Action) -> Body:
    """An error and what follows from it; for a meter, the bytes too."""
    body: Body = {"error": type(error).__name__, "text": str(error), "then": action.value}
    if isinstance(error, MeterError):
        body["sent"] = error.sent.decode("latin-1")
        body["received"] = error.received[-500:].decode("latin-1")
    return body
