"""Between which logs the spectral errors of one meter are the same, so that they cancel in a difference.

A filter meter sees each spectrum through filters that are not those of the standard observer (spectral mismatch). What
it reads wrong depends on the spectrum of the light, and so on the display technology and on the correction that its
readings went through: within one stated technology and one correction the errors cancel, else they count in full. A
spectroradiometer weights with the observer in numbers: its scale and wavelength errors are taken as the same for all
displays. Spectral are the sources "scale" (luminance is weighted by a filter too), "drift since calibration" (filters
age) and "colour x", "colour y"; linearity and zero are not. All of this is common practice, no standard behind it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

SPECTRORADIOMETER = "spectroradiometer"
"""The ``instrument`` of a bench's ``uncertainty`` whose errors do not depend on the display's technology."""
DIGITS = 12
"""Of a correction file's digest: enough to distinguish two corrections."""

_STATE_IT = "state technology: NAME in the bench"


class Spectral(NamedTuple):
    """What the spectral errors of a log's readings depend on.

    ``technology``  of the display, as the bench states it; "" where it does not
    ``correction``  name and digest of the correction that the readings went through; "" without one
    ``by_spectrum`` true where scale and colour are those of a spectroradiometer
    """

    technology: str = ""
    correction: str = ""
    by_spectrum: bool = False

    @property
    def light(self) -> str | None:
        """Name of the lights that the errors are the same for: "" all lights, None those of this display only."""
        if self.by_spectrum:
            return ""
        if not self.technology:
            return None
        return f"{self.technology}, corrected by {self.correction}" if self.correction else self.technology


def technology_of(head: Mapping[str, Any]) -> str:
    """The display technology that a log's head states, or that its correction is bound to; "" where none is."""
    correction = head.get("correction")
    bound = correction.get("technology") if isinstance(correction, Mapping) else None
    return str(head.get("technology") or bound or "")


def spectral_of(
    technology: str, correction: object, stated: Mapping[str, Any] | None, *, corrected: bool = True
) -> Spectral:
    """Of the meter whose uncertainty is ``stated``; ``correction`` as the log's head has it.

    ``corrected`` False: of the reference meter, whose own errors on that technology no correction changes.
    """
    name = ""
    if corrected and isinstance(correction, Mapping):
        name = f"{correction.get('name', '')} {str(correction.get('digest', ''))[:DIGITS]}".strip()
    by_spectrum = isinstance(stated, Mapping) and stated.get("instrument") == SPECTRORADIOMETER
    return Spectral(technology, name, by_spectrum and not name)


def spectral_in(technology: str, meter: Mapping[str, Any], stated: Mapping[str, Any] | None) -> Spectral:
    """Of a log as its results have it: the errors of its scale and colour, which a correction hands on."""
    correction = meter.get("correction")
    found = spectral_of(technology, correction, stated)
    lent = correction.get("reference_uncertainty") if isinstance(correction, Mapping) else None
    if isinstance(correction, Mapping) and isinstance(lent, Mapping) and takes_luminance(correction):
        return found._replace(by_spectrum=lent.get("instrument") == SPECTRORADIOMETER)
    return found


def takes_luminance(correction: Mapping[str, Any]) -> bool:
    """True where a correction, as a log's head has it, makes the meter read the reference meter's luminance.

    Least squares always does; the four-colour method where its luminance factor is not left out.
    """
    if "luminance" in correction:
        return bool(correction["luminance"] == "reference")
    return correction.get("method") == "least-squares" or correction.get("luminance_factor", 1.0) != 1.0


def spectral_words(several: Iterable[Spectral]) -> str:
    """In one sentence why spectral errors do not cancel between these logs; "" where they do."""
    found = list(dict.fromkeys(several))
    if (len(found) == 1 and found[0].light is not None) or all(one.by_spectrum for one in found):
        return ""
    technologies = list(dict.fromkeys(one.technology for one in found))
    full = "count in full (common practice)"
    if not any(technologies):
        return f"no bench states the display technology, so a filter meter's spectral errors {full}; {_STATE_IT}"
    if not all(technologies):
        return f"not every bench states the display technology, so a filter meter's spectral errors {full}; {_STATE_IT}"
    if len(technologies) > 1:
        return (
            f"the display technologies differ ({', '.join(technologies)}), so a filter meter's spectral errors {full}"
        )
    if len({one.correction for one in found}) > 1:
        return f"the readings went through different corrections, so a filter meter's spectral errors {full}"
    return f"the benches do not name one kind of instrument, so a filter meter's spectral errors {full}"


def moved_by_spectrum(name: str, kind: str) -> bool:
    """True for a figure that spectral errors move; a ratio of luminances of one display is as it was.

    ``name`` of a headline or a path, ``kind`` of its digits or its unit.
    """
    if kind in ("1", "gamma", "residual", "s"):
        return False
    return kind != "%" or name.startswith("coverage") or "coverage" in name or "area_ratio" in name
