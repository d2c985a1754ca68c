"""Synthetic logs for tests of analysis: records as the sequencer writes them, all figures invented."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from benchd.run.log.records import Record

SRGB: dict[str, Any] = {
    "name": "srgb",
    "about": "sRGB",
    "white": [0.3127, 0.3290],
    "primaries": {"red": [0.64, 0.33], "green": [0.30, 0.60], "blue": [0.15, 0.06]},
    "curve": {"kind": "srgb"},
    "luminance_cd_m2": 100.0,
}


def target_fields(curve: dict[str, Any], luminance_cd_m2: float | None = None) -> dict[str, Any]:
    """The sRGB target with another curve and level."""
    return {**SRGB, "name": curve["kind"], "curve": curve, "luminance_cd_m2": luminance_cd_m2}


def xyz(luminance: float, x: float = 0.3127, y: float = 0.3290) -> list[float]:
    """XYZ of a luminance and a chromaticity."""
    return [luminance * x / y, luminance, luminance * (1.0 - x - y) / y]


class Log:
    """Grows record by record; `measure` writes a whole step."""

    def __init__(self, blocks: Sequence[dict[str, Any]], *, target: dict[str, Any] | None = None, **head: Any):
        self.records: list[Record] = []
        self.session = "s1"
        self.now_ns: int | None = None  # bench time; left out: the number of the record
        self._blocks = [str(block["name"]) for block in blocks]
        body = {
            "plan": {"name": "invented", "file": "invented.yaml", "text": ""},
            "blocks": list(blocks),
            "target": target if target is not None else SRGB,
            "meter": {"model": "invented", "serial_number": "1", "floor_cd_m2": None, "ceiling_cd_m2": None},
            "screen": {"name": "INVENTED-1", "width": 1920, "height": 1080},
            "settings": {"readings": 3},
            "sample": "invented-1",
            "steps": 0,
            "simulated": False,
            "virtual_time": False,
            **head,
        }
        self.add("started", body)

    def add(self, kind: str, body: dict[str, Any], step: str = "", attempt: int = 1) -> None:
        """One record."""
        seq = len(self.records) + 1
        mono_ns = seq if self.now_ns is None else self.now_ns
        self.records.append(Record(seq, "2026-01-01T00:00:00.000Z", self.session, mono_ns, kind, step, attempt, body))

    def set(self, step: str, control: str, value: int | str, *, by: str = "ddc", restoring: bool = False) -> None:
        """A control of the display is set; by hand nothing reads it back."""
        body = {"control": control, "asked": value, "read_back": None if by == "operator" else value, "original": 50}
        self.add("set", {**body, "by": by, "elapsed_s": 0.1, "restoring": restoring}, step)

    def shown(
        self,
        step: str,
        labels: dict[str, Any],
        code: int | tuple[int, int, int] = 255,
        *,
        at: tuple[float, float] = (0.5, 0.5),
        bits: int = 8,
        attempt: int = 1,
    ) -> None:
        """A patch on the screen."""
        codes = list(code) if isinstance(code, tuple) else [code] * 3
        patch = {"kind": "field", "code": codes, "bits": bits}
        known = [name for name in self._blocks if step.startswith(f"{name}/")]
        block = known[0] if known else step.split("/")[0] if "/" in step else ""
        self.add("shown", {"block": block, "role": labels, "patch": patch, "at": list(at)}, step, attempt)

    def reading(self, step: str, value: Sequence[float] | None, status: str = "ok", *, attempt: int = 1) -> None:
        """One reading; ``value`` is XYZ, or None for one without figures."""
        figures = None if value is None else list(value)
        self.add("reading", {"n": 1, "xyz": figures, "status": status}, step, attempt)

    def measure(
        self,
        step: str,
        labels: dict[str, Any],
        values: Iterable[Sequence[float] | None],
        *,
        code: int | tuple[int, int, int] = 255,
        status: str = "ok",
        at: tuple[float, float] = (0.5, 0.5),
        bits: int = 8,
    ) -> None:
        """A whole step: shown, readings, done."""
        self.shown(step, labels, code, at=at, bits=bits)
        count = 0
        for value in values:
            self.reading(step, value, status)
            count += 1
        self.add("done", {"readings": count}, step)

    def end(self) -> list[Record]:
        """The last record; returns all."""
        self.add("ended", {"steps": 0, "readings": 0, "faults": 0})
        return self.records
