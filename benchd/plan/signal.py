"""The scale that codes stand on: luminance -> signal -> code for PQ and HLG, scalar and without numpy. Pure.

Sources: PQ after SMPTE ST 2084 and ITU-R BT.2100 Table 4, HLG after ITU-R BT.2100 Table 5, the full and narrow ranges
of codes after ITU-R BT.2100 Table 9.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field

from benchd.patch.model import Code, Transfer, grey, half_up, max_code
from benchd.profile.reading.base import ProfileModel, Wrong

M1, M2 = 2610 / 16384, 2523 / 4096 * 128
C1, C2, C3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
PQ_PEAK_CD_M2 = 10_000.0

HLG_A = 0.17883277
HLG_B = 1.0 - 4.0 * HLG_A
HLG_C = 0.5 - HLG_A * math.log(4.0 * HLG_A)

Linear = tuple[float, float, float]

SIGNAL_WORDS: Mapping[str, str] = {"sdr": "SDR", "pq": "PQ (SMPTE ST 2084)", "hlg": "HLG (ITU-R BT.2100)"}


class Signal(ProfileModel):
    """The scale of an HDR plan's codes."""

    transfer: Literal["pq", "hlg"] = Field(description="pq (SMPTE ST 2084) or hlg (ITU-R BT.2100)")
    bits: Literal[8, 10] = Field(
        default=10, description="bits of a code; 8 bits are too coarse for a tone curve and are reported so"
    )
    range: Literal["full", "narrow"] = Field(
        default="full", description="full: codes 0 to 1023 of 10 bits; narrow: 64 to 940"
    )
    peak_cd_m2: float = Field(
        default=1000.0, ge=100, le=10_000, description="hlg: the nominal peak that levels in cd/m2 refer to"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A nominal peak for PQ, whose levels are absolute."""
        if data.get("transfer") == "pq" and "peak_cd_m2" in data:
            yield Wrong(("peak_cd_m2",), "'peak_cd_m2' is for hlg; PQ codes are absolute, take it away", at_key=True)

    @property
    def black(self) -> Code:
        """The code of black."""
        return grey(self.code(0.0))

    @property
    def brightest(self) -> Code:
        """The largest code."""
        return grey(self.code(1.0))

    def code(self, signal: float) -> int:
        """The code nearest to a signal of 0 to 1, half up."""
        if self.range == "full":
            return half_up(signal * max_code(self.bits))
        return half_up((219.0 * signal + 16.0) * 2.0 ** (self.bits - 8))

    def level(self, luminance_cd_m2: float) -> int:
        """The code of a grey of ``luminance_cd_m2``, rounded half up."""
        if self.transfer == "pq":
            return self.code(pq_signal(luminance_cd_m2))
        return self.code(hlg_signal(luminance_cd_m2, self.peak_cd_m2))

    def colour(self, linear: Linear) -> Code:
        """The code of linear red, green, blue in cd/m2 (in the primaries of the signal, ITU-R BT.2020).

        For HLG these are display light: the system gamma is taken out before (BT.2100 Table 5, inverse OOTF). A
        strong colour as bright as its part of a bright white is beyond the signal then, and gets the largest code.
        """
        if self.transfer == "pq":
            red, green, blue = (self.code(pq_signal(value)) for value in linear)
            return (red, green, blue)
        gamma = hlg_gamma(self.peak_cd_m2)
        light = (0.2627 * linear[0] + 0.6780 * linear[1] + 0.0593 * linear[2]) / self.peak_cd_m2
        gain = light ** ((1.0 - gamma) / gamma) / self.peak_cd_m2 if light > 0.0 else 0.0
        red, green, blue = (self.code(min(_hlg_oetf(value * gain), 1.0)) for value in linear)
        return (red, green, blue)

    def described(self) -> dict[str, Any]:
        """As a log keeps it, for analysis."""
        return {"transfer": self.transfer, "bits": self.bits, "range": self.range, "peak_cd_m2": self.peak_cd_m2}


def pq_luminance(signal: float) -> float:
    """PQ EOTF: luminance in cd/m2 of a signal of 0 to 1."""
    power = min(max(signal, 0.0), 1.0) ** (1.0 / M2)
    base = max(power - C1, 0.0) / (C2 - C3 * power)
    return float(PQ_PEAK_CD_M2 * base ** (1.0 / M1))


def pq_signal(luminance_cd_m2: float) -> float:
    """Inverse PQ EOTF: signal of 0 to 1; luminance above 10 000 cd/m2 is 1."""
    y = (min(max(luminance_cd_m2, 0.0), PQ_PEAK_CD_M2) / PQ_PEAK_CD_M2) ** M1
    if luminance_cd_m2 <= 0.0:
        return 0.0
    return float(((C1 + C2 * y) / (1.0 + C3 * y)) ** M2)


def hlg_gamma(peak_cd_m2: float) -> float:
    """System gamma for a nominal peak (BT.2100 Table 5, note 5f; outside 400 to 2000 cd/m2 its extended form)."""
    if 400.0 <= peak_cd_m2 <= 2000.0:
        return 1.2 + 0.42 * math.log10(peak_cd_m2 / 1000.0)
    return float(1.2 * 1.111 ** math.log2(peak_cd_m2 / 1000.0))


def hlg_luminance(signal: float, peak_cd_m2: float) -> float:
    """Display luminance in cd/m2 of a grey HLG signal of 0 to 1, black 0 cd/m2."""
    scene = signal * signal / 3.0 if signal <= 0.5 else (math.exp((signal - HLG_C) / HLG_A) + HLG_B) / 12.0
    return float(peak_cd_m2 * max(scene, 0.0) ** hlg_gamma(peak_cd_m2))


def hlg_signal(luminance_cd_m2: float, peak_cd_m2: float) -> float:
    """The grey HLG signal of 0 to 1 of a display luminance; above the nominal peak it is 1."""
    scene = (min(max(luminance_cd_m2, 0.0), peak_cd_m2) / peak_cd_m2) ** (1.0 / hlg_gamma(peak_cd_m2))
    return min(_hlg_oetf(scene), 1.0)


def _hlg_oetf(scene: float) -> float:
    if scene <= 1.0 / 12.0:
        return math.sqrt(3.0 * max(scene, 0.0))
    return HLG_A * math.log(12.0 * scene - HLG_B) + HLG_C


def code_luminance(code: int, bits: int, transfer: Transfer) -> float:
    """About the nominal luminance of one channel of a full-range HDR code, in cd/m2, for cautions and the flash guard.

    HLG is taken at a nominal peak of 1000 cd/m2. Read as full range, a narrow code seems the brighter, never the
    dimmer, but for its last steps.
    """
    signal = code / max_code(bits)
    return pq_luminance(signal) if transfer == "pq" else hlg_luminance(signal, 1000.0)


def range_fault(plan: str, wanted: str, screen: str, reads: str) -> str:
    """Why a plan's codes must not be shown on a screen that ``reads`` codes of another range; "" when they may."""
    if wanted == reads:
        return ""
    return (
        f"plan {plan} has codes of the {wanted} range and screen {screen} takes them for {reads} range, so that every "
        f"level would be measured wrongly; write signal: {{range: {reads}}} in the plan, or in the bench, where that "
        f"is so, screen: {{range: {wanted}}}"
    )


def signal_fault(plan: str, wanted: Transfer, bits: int, screen: str, emits: str, screen_bits: int) -> str:
    """Why a plan's codes must not be shown on a screen that ``emits`` another signal; "" when they may."""
    if emits == wanted:
        if wanted != "sdr" and screen_bits < bits:
            return (
                f"plan {plan} has {bits}-bit {wanted.upper()} codes and screen {screen} emits {screen_bits} bits: "
                f"steps of {screen_bits} bits are no {bits}-bit tone curve; use a source of {bits} bits, or write "
                f"signal: {{bits: {screen_bits}}} and take the coarse steps"
            )
        return ""
    if wanted == "sdr":
        return (
            f"plan {plan} has SDR codes and screen {screen} emits {SIGNAL_WORDS.get(emits, emits)}, which would show "
            "them as other light; use a plan with signal:, or set the screen to SDR"
        )
    return (
        f"plan {plan} is an HDR plan ({SIGNAL_WORDS[wanted]}) and screen {screen} emits "
        f"{SIGNAL_WORDS.get(emits, emits)}, so its codes would be measured wrongly; use a source that emits "
        f"{wanted.upper()} and state it in the bench, screen: {{signal: {wanted}}} (a command, a window on another "
        "machine, or prompt)"
    )
