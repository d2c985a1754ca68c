"""HDR plans: what is refused and why, which codes come out, what a screen must emit, flashing in absolute light."""

from __future__ import annotations

import pytest

from benchd.patch.model import Patch, field, grey
from benchd.patch.screen import ScreenIdentity
from benchd.plan.bench_fit import fit
from benchd.plan.safety import cautions, is_alternation, is_bright
from benchd.plan.signal import pq_luminance, signal_fault
from benchd.plan.steps import digest, expand
from benchd.profile.bench import Bench
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.timing import AnyBench
from benchd.run.job import plan_job
from tests.plan.helpers import plan_from, refusal


def fault_of(text: str) -> str:
    return str(refusal(plan_from, text))


HEAD = "plan: p\nwarm_up: none\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("blocks: [tone_curve: {}]", "needs the scale of the codes: signal: {transfer: pq}"),
        ("blocks: [peak: {level_cd_m2: 500}]", "a level in cd/m2 needs signal"),
        ("signal: {transfer: pq}\nblocks: [grayscale: {}]", "held against an SDR target"),
        ("signal: {transfer: pq, range: narrow}\nblocks: [luminance: {}]", "outside the narrow range"),
        ("signal: {transfer: pq, peak_cd_m2: 600}\nblocks: [peak: {}]", "PQ codes are absolute"),
        ("signal: {transfer: pq}\nbits: 8\nblocks: [peak: {}]", "its bits are those of the codes"),
        ("signal: {transfer: pq}\nblocks: [halo: {boards: [4]}]", "an odd number of cells"),
        ("signal: {transfer: pq}\nblocks: [halo: {distances_percent: [45]}]", "leave the screen"),
        ("signal: {transfer: pq}\nblocks: [tone_curve: {steps: 9, levels_cd_m2: [1, 2]}]", "not both"),
        ("signal: {transfer: gamma}\nblocks: [peak: {}]", "pq"),
    ],
)
def test_a_fault_is_told_in_a_sentence(text: str, said: str) -> None:
    assert said in fault_of(HEAD + text)


def test_windows_and_halos_need_no_hdr_signal() -> None:
    plan = plan_from(HEAD + "blocks: [peak: {areas_percent: [10]}, halo: {}]")
    steps = expand(plan, {})
    assert steps[0].patch == Patch("window", grey(255), 8, grey(0), 10.0)
    assert steps[0].series is not None


def test_codes_are_on_the_scale_of_the_signal() -> None:
    text = HEAD + "signal: {transfer: pq, range: narrow}\nblocks: [tone_curve: {levels_cd_m2: [100, 1000]}, peak: {}]"
    plan = plan_from(text)
    assert plan.bits == 10
    tone = [step for step in expand(plan, {}) if step.block == "tone_curve"]
    assert {step.patch.code[0] for step in tone} == {509, 723}  # ITU-R BT.2100, nearest codes
    assert {step.patch.surround for step in tone} == {grey(64)}
    assert {step.patch.transfer for step in expand(plan, {})} == {"pq"}
    assert next(s.patch.code for s in expand(plan, {}) if s.block == "peak") == grey(940)


def test_the_digest_of_an_sdr_plan_is_what_it_was_before_there_was_hdr() -> None:
    """A log of an earlier version must still be resumed."""
    steps = plan_job("sdr-standard").steps
    assert digest(steps) == digest(plan_job("sdr-standard").steps)
    hdr = plan_from(HEAD + "signal: {transfer: pq}\nblocks: [patches: {list: [{name: a, code: 512}]}]")
    sdr = plan_from(HEAD + "bits: 10\nblocks: [patches: {list: [{name: a, code: 512}]}]")
    assert digest(expand(hdr, {})) != digest(expand(sdr, {}))


def test_a_bright_code_stands_in_every_wide_primary() -> None:
    """A colour of narrower primaries has light in every channel of BT.2020; one of BT.2020 in one channel only."""
    text = HEAD + "signal: {transfer: pq}\nblocks: [colour_levels: {levels_cd_m2: [100], hues: [red], inside: %s}]"
    narrow, wide = (expand(plan_from(text % inside), {})[0].patch.code for inside in ("bt709", "bt2020"))
    assert wide == (520, 0, 0)
    assert min(narrow) > 0
    assert pq_luminance(narrow[0] / 1023) == pytest.approx(62.74, rel=0.01)  # ITU-R BT.2087: 0.6274 of it


# Which screen: told, not measured wrongly.


@pytest.mark.parametrize(
    ("wanted", "emits", "said"),
    [
        ("pq", "sdr", "measured wrongly"),
        ("hlg", "pq", "measured wrongly"),
        ("sdr", "pq", "would show them as other light"),
        ("pq", "pq", ""),
        ("sdr", "sdr", ""),
    ],
)
def test_a_plan_and_a_screen_of_different_signals(wanted: str, emits: str, said: str) -> None:
    found = signal_fault("p", wanted, 10 if wanted != "sdr" else 8, "A-1", emits, 10)  # type: ignore[arg-type]
    assert said in found
    assert bool(found) == bool(said)


def test_eight_bit_steps_are_no_ten_bit_curve() -> None:
    assert "no 10-bit tone curve" in signal_fault("p", "pq", 10, "A-1", "pq", 8)
    assert signal_fault("p", "pq", 8, "A-1", "pq", 8) == ""


BENCH = "bench: b\nscreen: {%s}\ninstruments: {meter: {command: [x]}}\n"


@pytest.mark.parametrize(
    ("screen", "fits"),
    [
        ("monitor: primary, bits: 10", False),
        ("monitor: primary, bits: 10, signal: pq", True),
        ("monitor: primary, signal: hlg", False),
        ("command: [x]", True),  # says itself what it emits, once it is open
        ("command: [x], signal: sdr", False),
        ("connect: 'far:4850', token_file: t", True),
        ("prompt: a pattern source, size: 3840x2160, bits: 10, signal: pq", True),
        ("prompt: a pattern source, size: 3840x2160", False),
    ],
)
def test_an_hdr_plan_is_refused_before_anything_is_opened(screen: str, fits: bool) -> None:
    plan = plan_from(HEAD + "signal: {transfer: pq}\nblocks: [peak: {}]")
    bench = load_model(Bench, BENCH % screen, "b.yaml")
    refusals = " ".join(fit(plan, bench, None).refusals)
    assert ("measured wrongly" in refusals) == (not fits)
    assert bool(refusals) == (not fits)


@pytest.mark.parametrize(
    ("screen", "said"),
    [
        ("connect: far:4850", "'connect' needs token_file"),
        ("prompt: a source", "'prompt' needs size"),
        ("token_file: t", "'token_file' belongs to connect"),
        ("monitor: primary, prompt: a, size: 1920x1080", "give prompt or a monitor, not both"),
        ("connect: nowhere, token_file: t", "connect"),
    ],
)
def test_a_screen_that_is_none(screen: str, said: str) -> None:
    assert said in str(refusal(load_model, Bench, BENCH % screen, "b.yaml"))


# Eyes and panels.


def hdr(level: int) -> Patch:
    return Patch("field", grey(level), 10, transfer="pq")


def test_flashes_in_absolute_light() -> None:
    # After ITU-R BT.1702: 20 cd/m2 below 160 cd/m2, above a Michelson contrast of 1/17 (from memory).
    # Codes of 10 bits: 520 is 100, 594 203, 769 1000 cd/m2.
    assert is_alternation(field(grey(0)), hdr(520))
    assert is_alternation(hdr(520), field(grey(0)))
    assert not is_alternation(hdr(520), hdr(528))  # 100 -> 108 cd/m2
    assert is_alternation(hdr(520), hdr(545))  # 100 -> 127 cd/m2
    assert is_alternation(hdr(650), hdr(700))  # 341 -> 537 cd/m2, which an SDR view of the codes would let pass
    assert not is_alternation(hdr(700), hdr(703))
    assert not is_bright(hdr(520))
    assert is_bright(hdr(640))


def test_cautions_of_bright_and_long_patches() -> None:
    job = plan_job("hdr-sustained")
    found = " ".join(cautions(job.plan, job.steps, AnyBench(panel="emissive")))
    assert "do not stare" in found
    assert "for 10 min at a time" in found
    assert "sustained" not in " ".join(cautions(job.plan, job.steps, AnyBench(panel="lcd")))


# The range of the codes.

NARROW_BENCH = "bench: b\nscreen: {command: [x]%s}\ninstruments: {meter: {command: [x]}}\n"


@pytest.mark.parametrize(
    ("plan", "screen", "fits"),
    [
        ("signal: {transfer: hlg, range: narrow}\nblocks: [peak: {}]", "", False),
        ("signal: {transfer: hlg, range: narrow}\nblocks: [peak: {}]", ", range: narrow", True),
        ("signal: {transfer: hlg}\nblocks: [peak: {}]", ", range: narrow", False),
        ("blocks: [luminance: {}]", ", range: narrow", False),
        ("blocks: [luminance: {}]", "", True),
    ],
)
def test_codes_of_another_range_are_refused_not_measured_wrongly(plan: str, screen: str, fits: bool) -> None:
    bench = load_model(Bench, NARROW_BENCH % screen, "b.yaml")
    found = plan_from(f"{HEAD}{plan}\n")
    emits = "sdr" if found.signal is None else found.signal.transfer
    shown = ScreenIdentity("A-1", 1920, 1080, 0, 0, 10, "none", "pen", "no", True, signal=emits)
    for screen in (None, shown):
        refusals = " ".join(fit(found, bench, screen).refusals)
        assert ("range, so that every level would be measured wrongly" in refusals) == (not fits)
        assert bool(refusals) == (not fits)
