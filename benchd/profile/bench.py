"""The bench: which screen, which meter, who moves it, and what each takes. Opening it is another room's job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, StringConstraints, ValidationInfo, WithJsonSchema

from benchd.profile.conditions_model import BenchConditions
from benchd.profile.display import Controls, DdcPart, Expected, Flicker
from benchd.profile.reading.base import CheckedLazily, ProfileModel, Rule, Wrong, numbers_of, wrong
from benchd.profile.reading.values import Name
from benchd.profile.stated_meter import LuminanceRange, MeterUncertainty, Resolution
from benchd.profile.timing import Timing

if TYPE_CHECKING:
    from benchd.profile.driver import Driver as OfMeter
    from benchd.profile.driver import Driver as OfStage
else:
    # Few benches name an installed driver; all others don't wait for what looks for it.
    OfMeter = Annotated[Any, CheckedLazily(lambda: import_module("benchd.profile.driver").driver_model("meter"))]
    OfStage = Annotated[Any, CheckedLazily(lambda: import_module("benchd.profile.driver").driver_model("stage"))]

Word = Annotated[str, StringConstraints(min_length=1)]
Command = tuple[Word, ...]
BESIDE = "a path such as ./my-bridge.py is looked for beside this file first, then in the working folder"


def _millimetres(value: Any, info: ValidationInfo) -> tuple[float, ...]:
    found = numbers_of(value, 2)
    if found is None or max(map(abs, found)) > MAX_MM:
        raise wrong(f"{info.field_name}: write [x, y] in millimetres, with a comma, each at most {MAX_MM:g}")
    return found


def _size(value: Any, info: ValidationInfo) -> tuple[float, ...]:
    found = _millimetres(value, info)
    if 0 in found:
        raise wrong("a screen has a width and a height; write [width, height] in millimetres")
    return found


MAX_MM = 10_000.0
_PAIR_SCHEMA = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
Millimetres = Annotated[tuple[float, float], BeforeValidator(_millimetres), WithJsonSchema(_PAIR_SCHEMA)]
SizeMillimetres = Annotated[tuple[float, float], BeforeValidator(_size), WithJsonSchema(_PAIR_SCHEMA)]


class Companion(ProfileModel):
    """A process that is started before the parts are opened and ends with the bench."""

    command: Command = Field(min_length=1, description="words of the command; python is benchd's own interpreter")
    ready_within_s: float = Field(default=20.0, gt=0, le=600, description="seconds until it reports that it is ready")


class BenchTime(ProfileModel):
    """Virtual time, kept by a companion."""

    socket: str = Field(min_length=1, description="path of the socket that gives the time")


HOST_PORT = r"^(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9.-]+):[0-9]{1,5}$"
SIZE = r"^[1-9][0-9]{2,4}x[1-9][0-9]{2,4}$"


_SCREENS = {"command": "a command", "monitor": "a monitor", "connect": "connect", "prompt": "prompt"}


class ScreenPart(ProfileModel):
    """The screen: a monitor of this computer, or a command that stands in for one."""

    for_word: ClassVar[Mapping[str, str]] = {
        "": "{monitor: {}}",
        "command": "{command: [words of the command]}",
        "connect": "{connect: HOST:PORT, token_file: FILE}",
        "prompt": "{prompt: what shows the patches, size: 3840x2160}",
    }
    key_rules = (
        *(
            Rule((one, other), (), f"give {other_name} or {name}, not both", other)
            for (one, name), (other, other_name) in combinations(_SCREENS.items(), 2)
        ),
        Rule(("token_file",), ("connect",), "'token_file' belongs to connect", "token_file"),
        Rule(("connect",), ("token_file",), "'connect' needs token_file, such as token_file: window.token"),
        Rule(("size",), ("prompt",), "'size' belongs to prompt", "size"),
        Rule(("prompt",), ("size",), "'prompt' needs size, such as size: 3840x2160"),
    )

    command: Command | None = Field(default=None, min_length=1, description="a command with the window protocol")
    monitor: str | None = Field(
        default=None, min_length=1, description="name of the output, or primary (left out: primary)"
    )
    connect: str | None = Field(
        default=None,
        pattern=HOST_PORT,
        description="HOST:PORT of a window on another machine, which runs `benchd window --listen`",
    )
    token_file: str | None = Field(
        default=None, min_length=1, description="with connect: the file with the secret that both machines share"
    )
    prompt: str | None = Field(
        default=None,
        min_length=1,
        description="a person sets each patch on a source of their own; what that source is, for the log",
    )
    size: str | None = Field(
        default=None, pattern=SIZE, description="with prompt: pixels of that source, such as 3840x2160"
    )
    bits: Literal[8, 10] = Field(
        default=8,
        description="bits per channel that the frame buffer must have; with prompt, command or connect those of the "
        "source, for checks before it is opened",
    )
    signal: Literal["sdr", "pq", "hlg"] | None = Field(
        default=None,
        description="what goes over the cable, where you set it up and a window can't detect it: sdr, pq or hlg. "
        "HDR plans run on no other screen",
    )
    range: Literal["full", "narrow"] = Field(
        default="full",
        description="how codes are read: full, as in a window's frame buffer; narrow where a source sends them over "
        "the cable as they are, and the display takes 64 to 940 of 10 bits. Only plans of the same range run",
    )


_NAME_METER = "name the meter: {dialect: NAME, port: NAME or auto} or {command: [words]}"


class MeterPart(ProfileModel):
    """The meter: a serial one with its dialect and port, a command that stands in for one, or an installed driver."""

    for_word: ClassVar[Mapping[str, str]] = {
        "driver": "{driver: {NAME: {}}}",
        "": "{dialect: {}, port: auto, candidates: [patterns of port names]}",
        "command": "{command: [words of the command]}",
    }
    key_rules = (
        Rule(("command", "driver"), (), "give a command or a driver, not both", "driver"),
        Rule((), ("command", "driver", "dialect"), _NAME_METER),
        Rule(("dialect",), ("command", "driver", "port"), _NAME_METER),
        *(
            Rule((owner, key), without, f"'{key}' is for a serial meter; with a {owner}, remove it", key)
            for owner, without in (("command", ()), ("driver", ("command",)))
            for key in ("dialect", "port", "candidates", "usb")
        ),
    )

    dialect: str | None = Field(default=None, min_length=1, description="name of a dialect, for a serial meter")
    port: str | None = Field(
        default=None, min_length=1, description="name of the serial port, or auto to look for the meter"
    )
    candidates: tuple[Word, ...] = Field(
        default=(), description="patterns of port names that are queried when the port is auto"
    )
    usb: str | None = Field(
        default=None,
        pattern=r"^[0-9a-fA-F]{4}:[0-9a-fA-F]{4}$",
        description="USB vendor:product, hexadecimal, such as 1234:abcd",
    )
    serial_number: str | None = Field(
        default=None, min_length=1, description="only the meter with this serial number will do"
    )
    command: Command | None = Field(
        default=None, min_length=1, description=f"a command with the meter protocol; {BESIDE}"
    )
    driver: OfMeter | None = Field(
        default=None, description="a driver that an installed package adds, with its options: {NAME: {...}}"
    )
    correction: str | None = Field(
        default=None,
        min_length=1,
        description="name of a correction of this very meter for the bench's technology, as `benchd correct` makes it",
    )
    range_cd_m2: LuminanceRange | None = Field(
        default=None, description="specified luminance range of a command's meter, [lowest, highest] in cd/m2"
    )
    resolution: Resolution | None = Field(
        default=None,
        description="step of what the meter sends, by quantity, in the unit that it sends (a command: cd/m2), such as "
        "{Y: 0.01, x: 0.0001}; outweighs the dialect's; left out: found from its answers, and else taken from their "
        "last digit",
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A serial meter that can't be found."""
        if (
            data.get("port") == "auto"
            and "dialect" in data
            and not {"command", "driver", "candidates", "usb"} & data.keys()
        ):
            yield Wrong(("port",), "with port: auto state where to look: candidates: [patterns of port names], or usb:")


class StagePart(ProfileModel):
    """What moves the meter over the screen: a command, a motion stage with its dialect, or an installed driver."""

    renamed: ClassVar[Mapping[str, str]] = {"stage": "dialect: NAME"}
    key_rules = (
        Rule(("command", "dialect"), (), "give a command or a dialect, not both", "dialect"),
        Rule(("command", "driver"), (), "give a command or a driver, not both", "driver"),
        Rule(("dialect", "driver"), (), "give a dialect or a driver, not both", "driver"),
        Rule(
            (),
            ("command", "dialect", "driver", *renamed),
            "state what moves the meter: {dialect: NAME, port: NAME, ...} or {command: [words]}",
        ),
        *(
            Rule(("dialect",), (key,), f"a stage needs '{key}': port: NAME, origin_mm: [x, y] and size_mm: [w, h]")
            for key in ("port", "origin_mm", "size_mm")
        ),
        *(
            Rule((owner, key), (), f"'{key}' is for a motion stage with a dialect", key)
            for owner in ("command", "driver")
            for key in ("port", "origin_mm", "size_mm")
        ),
    )

    command: Command | None = Field(
        default=None, min_length=1, description=f"a command with the mover protocol; {BESIDE}"
    )
    driver: OfStage | None = Field(
        default=None, description="a driver that an installed package adds, with its options: {NAME: {...}}"
    )
    dialect: str | None = Field(default=None, min_length=1, description="name of a dialect, for a motion stage")
    port: str | None = Field(default=None, min_length=1, description="name of the stage's serial port")
    origin_mm: Millimetres | None = Field(
        default=None, description="where the screen's top left corner is in the stage's axes, [x, y] in millimetres"
    )
    size_mm: SizeMillimetres | None = Field(
        default=None,
        description="width and height of the screen, [w, h] in millimetres, negative where the stage counts leftwards "
        "or upwards",
    )
    caps: bool = Field(
        default=False,
        description="true: the command or driver handles the places capped and screen-off too; left out: the operator "
        "sets them",
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Caps without what puts them on."""
        if data.get("caps") is True and not {"command", "driver"} & data.keys():
            yield Wrong(("caps",), "'caps' is for a command or a driver that moves the meter", at_key=True)


class Instruments(ProfileModel):
    """The instruments of a bench by their role. A role is a field here, and `OpenBench` opens it by ``open_<role>``."""

    meter: MeterPart = Field(description="the meter")
    stage: StagePart | None = Field(
        default=None, description="what moves the meter over the screen; left out: the operator moves it"
    )


class Bench(ProfileModel):
    """One set of parts."""

    renamed: ClassVar[Mapping[str, str]] = {
        "meter": "instruments: {meter: ...}",
        "positioner": "instruments: {stage: ...}, which is left out where the operator moves the meter",
    }

    bench: Name = Field(description="name of the bench, as the file's")
    about: str = Field(default="", description="one line of description")
    simulated: bool = Field(default=False, description="true: a simulator takes part, and every result is marked so")
    panel: Literal["lcd", "emissive"] = Field(default="lcd", description="kind of panel, for cautions and settling")
    technology: Name | None = Field(
        default=None,
        description="display technology by a name of your own, such as white-led; corrections are bound to it, and a "
        "filter meter's spectral errors cancel only between displays of one",
    )
    companions: tuple[Companion, ...] = Field(default=(), description="processes that are started first")
    time: BenchTime | None = Field(default=None, description="virtual time; left out: time as it passes")
    screen: ScreenPart = Field(description="the screen")
    instruments: Instruments = Field(description="the instruments by their role")
    controls: Controls = Field(
        default_factory=dict, description="what can be set on the display, by the names that a plan's sweep uses"
    )
    ddc: DdcPart | None = Field(default=None, description="the display's own control channel (VESA DDC/CI)")
    timing: Timing = Field(default_factory=Timing, description="what things take, for the estimate only")
    flicker: Flicker | None = Field(
        default=None, description="how the display's light swings by itself: refresh and pulse-width dimming"
    )
    expected: Expected | None = Field(
        default=None, description="light, settling and noise found here before, for plans with repeatability"
    )
    uncertainty: MeterUncertainty | None = Field(
        default=None, description="what is stated of the meter; left out: results report that nothing was"
    )
    conditions: BenchConditions = Field(
        default_factory=BenchConditions, description="what holds for runs on this bench and is recorded with them"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A control of a control channel that is not named, or a correction without the technology that it is for."""
        instruments = data.get("instruments")
        meter = instruments.get("meter") if isinstance(instruments, dict) else None
        if isinstance(meter, dict) and "correction" in meter and "technology" not in data:
            text = "a correction holds for one display technology; state it: technology: NAME"
            yield Wrong(("instruments", "meter", "correction"), text, at_key=True)
        controls = data.get("controls")
        if isinstance(controls, dict) and "ddc" not in data:
            for name, control in controls.items():
                if isinstance(control, dict) and "ddc" in control:
                    yield Wrong(("controls", name, "ddc"), "state where: ddc: {bus: /dev/i2c-4} or {bus: auto}", True)
                    return

    @property
    def is_simulated(self) -> bool:
        """True where the profile states it, or shows it: time is virtual, or a part is run from the package `sim`.

        A part that simulates by other means reports it once it is open.
        """
        parts = (*self.companions, self.screen, self.instruments.meter, self.instruments.stage)
        words = (getattr(part, "command", None) or () for part in parts)
        of_sim = any(pair[0] == "-m" and pair[1].split(".")[0] == "sim" for one in words for pair in pairwise(one))
        return self.simulated or self.time is not None or of_sim

    @property
    def manual_moves(self) -> bool:
        """True when the operator moves the meter."""
        return self.instruments.stage is None

    @property
    def caps(self) -> bool:
        """True when what moves the meter also covers it and switches the display off."""
        return self.instruments.stage is not None and self.instruments.stage.caps


def with_instruments(data: Mapping[str, Any]) -> Mapping[str, Any]:
    """The data of a bench profile of before December 2026, as logs keep it, with its instruments by role."""
    if "meter" not in data:
        return data
    mover = dict(data.get("positioner") or {})
    if "stage" in mover:
        mover["dialect"] = mover.pop("stage")
    mover.pop("manual", None)
    instruments = {"meter": data["meter"]} | ({"stage": mover} if mover.keys() & {"command", "dialect"} else {})
    return {key: value for key, value in data.items() if key not in Bench.renamed} | {"instruments": instruments}
