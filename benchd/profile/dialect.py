"""A meter's dialect: how a serial light meter with a protocol of ASCII lines is queried and its answers read.

Such a file adds a meter without code. Patterns are Python regular expressions that must
match a whole answer (without its line end); the names of their groups state what they catch. Every
pattern comes with an example of an answer, so that a file that can't work is refused before a port is
opened, and so that a simulated meter can use the dialect from the same file.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field, field_validator, model_validator

from benchd.profile.exchanges import (
    QUANTITY_SAMPLE,
    REGEX_SIGNS,
    ErrorSentences,
    Exchange,
    Identify,
    Integration,
    Measure,
    checked_ascii,
    checked_example,
    compiled,
    fill,
    names_in,
)
from benchd.profile.reading.base import ProfileModel, wrong
from benchd.profile.stated_meter import LuminanceRange, Resolution

__all__ = [
    "Dialect",
    "Exchange",
    "Identify",
    "LineDialect",
    "LineSettings",
    "PortSettings",
    "StatusName",
    "UnitName",
    "compiled",
    "fill",
]

UnitName = Literal["cd_m2", "foot_lambert"]
StatusName = Literal["ok", "under", "over", "unstable"]


LineEnd = Annotated[str, Field(min_length=1, max_length=4), AfterValidator(checked_ascii)]


class PortSettings(ProfileModel):
    """The serial port, as the meter's manual states it."""

    baud: int = Field(default=9600, ge=50, le=4_000_000, description="Bits per second")
    data_bits: Literal[5, 6, 7, 8] = Field(default=8, description="Data bits of a character")
    parity: Literal["none", "even", "odd", "mark", "space"] = Field(default="none", description="Parity bit")
    stop_bits: float = Field(default=1, description="Stop bits: 1, 1.5 or 2")
    flow_control: Literal["none", "rts_cts", "dsr_dtr", "xon_xoff"] = Field(
        default="none", description="How either side requests to wait"
    )
    dtr: bool = Field(default=True, description="Level of the DTR line while the port is open")
    rts: bool = Field(default=True, description="Level of the RTS line while the port is open (without rts_cts)")
    ready_after_s: float = Field(
        default=0.0, ge=0, le=60, description="Wait after opening; some adapters restart the meter then (seconds)"
    )

    @field_validator("stop_bits")
    @classmethod
    def _stop_bits(cls, value: float) -> float:
        if value not in (1, 1.5, 2):
            raise ValueError(f"{value:g} stop bits do not exist; use 1, 1.5 or 2")
        return value


class LineSettings(ProfileModel):
    """How a line ends, and what a line may be."""

    end_sent: LineEnd = Field(default="\n", description="Sent after every question")
    end_answered: LineEnd = Field(default="\n", description="Ends every answer of the meter")
    max_bytes: int = Field(default=256, ge=8, le=65536, description="A longer answer is garbled (bytes)")
    echo: bool = Field(default=False, description="true where the meter sends every question back before its answer")
    confirm: Literal["each_reading", "after_trouble"] = Field(
        default="each_reading",
        description="When the identification is queried after a reading, which proves that the answer belongs to the "
        "question: always, or only after a late, doubled or missing answer (for meters slow to identify)",
    )


class LineDialect(ProfileModel):
    """What the dialects of all devices with a protocol of ASCII lines have in common."""

    device: ClassVar[Literal["meter", "stage"]]
    """In sentences for the operator; also the key of the dialect's name."""

    about: str = Field("", description="One line of description")
    port: PortSettings = Field(default_factory=PortSettings, description="Serial port")
    line: LineSettings = Field(default_factory=LineSettings, description="Line ends and limits")
    start: tuple[Exchange, ...] = Field(
        default=(), max_length=20, description="Sent in this order when the port is opened"
    )
    identify: Identify = Field(description="How the device identifies itself")
    errors: ErrorSentences = Field(
        default_factory=dict,
        description="Error codes: pattern of the whole answer, or of the group 'error' of a meter's -> a sentence",
    )
    late_within_s: float = Field(
        default=2.0, gt=0, le=600, description="How long a late answer is listened for after a time-out (seconds)"
    )

    @property
    def name(self) -> str:
        """Name of the dialect."""
        return str(getattr(self, self.device))

    def error_of(self, answer: str) -> tuple[str, str] | None:
        """(code, sentence) where ``answer`` is an error, else None."""
        known = (sentence for code, sentence in self.errors.items() if compiled(code).fullmatch(answer))
        return next(((answer, sentence) for sentence in known), None)


class Dialect(LineDialect):
    """One meter's way of speaking."""

    device = "meter"

    meter: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,40}$", description="Name of the dialect, as the file's")
    measure: Measure = Field(description="How a reading is requested and understood")
    integration: Integration | None = Field(
        default=None, description="Integration times; without it the meter always chooses itself"
    )
    unit: UnitName | None = Field(
        default=None, description="Unit that every reading must be in; may be left out where 'units' gives it"
    )
    units: dict[str, UnitName] = Field(
        default_factory=dict, description="What the group 'unit' of an answer may be: token of the meter -> unit"
    )
    scale: float = Field(default=1.0, gt=0, description="Factor on the figures of the meter, before the unit")
    status: dict[str, StatusName] = Field(
        default_factory=dict, description="What the group 'status' may be: token of the meter -> what it means"
    )
    no_figure: tuple[str, ...] = Field(
        default=(), description="Tokens that stand in a figure's place when there is none"
    )
    range_cd_m2: LuminanceRange | None = Field(
        default=None, description="Specified luminance range [low, high] in cd/m2"
    )
    resolution: Resolution | None = Field(
        default=None,
        description="step of what the meter sends, by quantity; left out: found from its answers, and else taken from "
        "their last digit",
    )

    @model_validator(mode="after")
    def _consistent(self) -> Dialect:
        groups, measure = set(compiled(self.measure.expect).groupindex), self.measure.quantities
        for name, key, tokens in (("unit", "units", self.units), ("status", "status", self.status)):
            if name in groups and not tokens:
                raise wrong(
                    f"the answer has the group '{name}': state what its tokens mean in '{key}:'", "measure", "expect"
                )
        if self.unit is None and "unit" not in groups:
            raise wrong(
                "unit missing: state 'unit: cd_m2' or 'unit: foot_lambert', or catch the group 'unit' in 'expect' of "
                "'measure'"
            )
        if self.unit is not None and self.units and self.unit not in self.units.values():
            raise wrong(f"no token means {self.unit}, the unit that the readings must be in", "units")
        if self.status and "ok" not in self.status.values():
            raise wrong("no token means ok", "status")
        if self.resolution is not None and self.resolution.form(measure) != measure:
            raise wrong(f"the meter sends {', '.join(measure)}; state the resolution of those", "resolution")
        self._check_integration()
        self._check_examples()
        return self

    def _check_integration(self) -> None:
        timed = names_in(self.measure.send)
        if self.measure.set_integration is not None:
            timed |= names_in(self.measure.set_integration.send)
        if timed and self.integration is None:
            raise wrong("an integration time is sent: state which ones are allowed in 'integration:'", "measure")
        if self.integration is not None and not timed:
            raise wrong(
                "of no use: neither 'send' nor 'set_integration' of 'measure' has {integration_s} or {integration_ms}",
                "integration",
            )
        for number, exchange in enumerate(self.start):
            if names_in(exchange.send):
                raise wrong("no integration time is known at the start", "start", number, "send")
        if self.measure.ask_unit is not None and names_in(self.measure.ask_unit.send):
            raise wrong("a question for the unit has no integration time", "measure", "ask_unit")

    def _check_examples(self) -> None:
        measure = self.measure
        for number, exchange in enumerate(self.start):
            self._check_unit_stated(exchange, "start", number)
        if measure.set_integration is not None:
            self._check_unit_stated(measure.set_integration, "measure", "set_integration")
        if measure.ask_unit is not None:
            self._check_unit_stated(measure.ask_unit, "measure", "ask_unit")
        for status in list(self.status.values()) or ["ok"]:
            try:
                checked_example(measure.example, measure.expect, {**QUANTITY_SAMPLE, **self.tokens(status)})
            except ValueError as error:
                raise wrong(str(error), "measure", "example") from None
        if measure.example_error is None:
            return
        if not self.error_codes:
            raise wrong("an example of an error needs at least one plain code in 'errors'", "measure", "example_error")
        for code in self.error_codes:
            answer = self.render_error(code)
            if self.error_of(answer) is None:
                raise wrong(
                    f"{answer!r} is in neither 'errors' nor the group 'error' of 'expect'",
                    "measure",
                    "example_error",
                )

    def _check_unit_stated(self, exchange: Exchange, *path: str | int) -> None:
        if exchange.expect is None or "unit" not in compiled(exchange.expect).groupindex:
            return
        if self.unit is None or not self.units:
            raise wrong("the answer has a unit: give 'unit' and 'units'", *path, "expect")
        try:
            checked_example(exchange.example, exchange.expect, {"unit": self.unit_token()})
        except ValueError as error:
            raise wrong(str(error), *path, "example") from None

    # --- what is sent -------------------------------------------------------------------------------

    def integration_values(self, integration_s: float | None) -> dict[str, str | float]:
        """What fills the places of a question for this integration time (None: the meter's choice)."""
        if self.integration is None:
            return {}
        time_s = self.integration.default_s if integration_s is None else integration_s
        if time_s is None:
            text = self.integration.automatic_as or ""
            return {"integration_s": text, "integration_ms": text}
        return {"integration_s": time_s, "integration_ms": f"{time_s * 1000:.0f}"}

    def answer_within_s(self, integration_s: float | None) -> float:
        """How long the answer to a reading may take (seconds of real time)."""
        longest_s = integration_s
        if longest_s is None and self.integration is not None:
            limits = self.integration
            longest_s = limits.default_s or limits.automatic_at_most_s or limits.high_s
        within = self.measure.answers_within_s
        return within.fixed + within.per_integration * (longest_s or 0.0)

    # --- what is answered ---------------------------------------------------------------------------

    @property
    def error_codes(self) -> tuple[str, ...]:
        """The keys of ``errors`` that are plain codes, not patterns."""
        return tuple(code for code in self.errors if not REGEX_SIGNS.search(code))

    def error_of(self, answer: str) -> tuple[str, str] | None:
        """(code, sentence) where ``answer`` is an error, else None. A code without a sentence has ''."""
        match = compiled(self.measure.expect).fullmatch(answer)
        is_error = match is not None and "error" in match.re.groupindex and match["error"] is not None
        code = match["error"] if is_error and match is not None else answer
        return super().error_of(code) or ((code, "") if is_error else None)

    # --- answers made from the file: for the checks above, and for a simulated meter ----------------

    def unit_token(self, unit: UnitName | None = None) -> str:
        """The meter's token for ``unit`` (None: the unit that readings must be in, or the first one)."""
        wanted = unit or self.unit
        return next((token for token, name in self.units.items() if wanted in (None, name)), "")

    def tokens(self, status: StatusName, unit: UnitName | None = None) -> dict[str, str | float]:
        """The tokens for the places {status} and {unit} of an example."""
        token = next((token for token, name in self.status.items() if name == status), "")
        return {"status": token, "unit": self.unit_token(unit)}

    def render_error(self, code: str) -> str:
        """The answer for error ``code``, which is one of `error_codes`."""
        template = self.measure.example_error or "{error}"
        return fill(template, {"error": code, "text": self.errors[code], **self.tokens("ok")})
