"""Drift compensation over whole logs: what is taken out, what is left alone, and what is refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.drift.compensation import MAY_FOLLOW, OF_BLACK
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import ratio
from tests.analysis.logs import Log, xyz

MINUTE = 60_000_000_000
REFERENCE: dict[str, Any] = {"name": "reference", "kind": "reference", "percent": 100, "compensate": True}
LUMINANCE = {"name": "luminance", "kind": "luminance"}
PATCHES = {"name": "patches", "kind": "patches", "names": ["early", "late"]}
SCATTER = (1.0, 1.0004, 0.9996)


def at(log: Log, minute: float) -> None:
    log.now_ns = round(minute * MINUTE)


def reference(log: Log, number: int | str, minute: float, value: float, scatter: Sequence[float] = (1.0,)) -> None:
    at(log, minute)
    log.measure(f"reference/{number}", {"number": 1}, [xyz(value * one) for one in scatter])


def patch(log: Log, name: str, minute: float, value: float, scatter: Sequence[float] = (1.0,)) -> None:
    at(log, minute)
    code = {"early": 128, "late": 129}[name]  # two patches: a patch that is repeated tells its scatter by that too
    log.measure(f"patches/{name}", {"name": name}, [xyz(value * one) for one in scatter], code=code)


def falling(**head: Any) -> Log:
    """100, 99, 98 at 0, 10 and 20 min: check values of common practice."""
    log = Log([LUMINANCE, PATCHES, {**REFERENCE, **head}])
    reference(log, 1, 0, 100.0)
    patch(log, "early", 5, 49.75)
    reference(log, 2, 10, 99.0)
    patch(log, "late", 15, 49.25)
    at(log, 16)
    log.measure("luminance/black", {"level": "black"}, [xyz(0.2)], code=0)
    reference(log, 3, 20, 98.0)
    return log


def luminances(results: Results) -> list[float | None]:
    return [one.luminance.value for one in results.of("patches")[0].patches]


def test_a_linear_drift_is_taken_out_exactly_and_raw_values_are_kept() -> None:
    results = analyse(falling().end())
    assert luminances(results) == pytest.approx([50.0, 50.0], abs=1e-6)
    (done,) = results.compensation
    assert done.applied
    assert done.curves == ("session 1: line through 3 readings of the reference patch",)
    assert done.maximum.value == pytest.approx(-1.5)
    assert done.maximum_at == "patches/late"
    assert {one.step: one.raw.value for one in done.steps} == {"patches/early": 49.75, "patches/late": 49.25}
    assert [one.luminance.value for one in done.steps] == pytest.approx([50.0, 50.0], abs=1e-6)


def test_the_reference_itself_and_black_stay_as_they_were_read() -> None:
    results = analyse(falling().end())
    assert [one.luminance.value for one in results.drift[0].readings] == [100.0, 99.0, 98.0]
    assert results.of("luminance")[0].black.value == 0.2


def test_chromaticity_is_not_changed() -> None:
    raw, done = analyse(falling().end(), compensate=False), analyse(falling().end())
    for before, after in zip(raw.of("patches")[0].patches, done.of("patches")[0].patches, strict=True):
        assert after.x.value == pytest.approx(before.x.value, abs=1e-12)
        assert after.u_prime.value == pytest.approx(before.u_prime.value, abs=1e-12)


def test_it_can_be_switched_off_by_the_plan_and_by_whoever_asks() -> None:
    for results in (analyse(falling(compensate=False).end()), analyse(falling().end(), compensate=False)):
        assert luminances(results) == [49.75, 49.25]
        assert results.compensation[0].why == "switched off"
    assert luminances(analyse(falling(compensate=False).end(), compensate=True)) == pytest.approx([50, 50], abs=1e-6)


def test_more_than_five_percent_is_no_drift() -> None:
    log = Log([PATCHES, REFERENCE])
    reference(log, 1, 0, 100.0)
    patch(log, "early", 5, 49.0)
    reference(log, 2, 10, 94.9)
    patch(log, "late", 15, 47.0)
    results = analyse(log.end())
    assert luminances(results) == [49.0, 47.0]
    (refused,) = results.compensation
    assert not refused.applied
    assert refused.why.startswith("the reference patch changed by -5.1 % until reference/2, more than 5 %")


def test_a_reference_that_was_read_once_compensates_nothing() -> None:
    log = Log([PATCHES, REFERENCE])
    reference(log, 1, 0, 100.0)
    patch(log, "early", 5, 49.0)
    results = analyse(log.end())
    assert results.compensation[0].why == "the reference patch was read less than twice"


def test_a_new_session_begins_with_a_reference_of_its_own() -> None:
    """Its clock begins anew; the display had cooled by 2 % meanwhile, or the meter stands otherwise."""
    log = falling()
    log.session = "s2"
    log.add("resumed", {})
    reference(log, "again-2", 0, 96.0)
    at(log, 1)
    log.measure("luminance/white", {"level": "white"}, [xyz(96.0)])
    reference(log, 4, 2, 96.0)
    results = analyse(log.end())
    assert results.of("luminance")[0].white.value == pytest.approx(100.0, abs=1e-4)
    assert luminances(results) == pytest.approx([50.0, 50.0], abs=1e-6)
    assert results.compensation[0].curves[1] == "session 2: constant through 2 readings of the reference patch"
    assert results.steps_done == 8, "what a resume read again is no step of the plan"
    assert len(results.drift[0].readings) == 4


def test_a_session_without_references_is_left_as_it_was_read_and_named() -> None:
    log = falling()
    log.session = "s2"
    log.add("resumed", {})
    at(log, 1)
    log.measure("luminance/white", {"level": "white"}, [xyz(96.0)])
    results = analyse(log.end())
    assert results.of("luminance")[0].white.value == 96.0
    (left,) = results.compensation[0].left_out
    assert left == "session 2 has fewer than two readings of the reference patch: 1 steps, from luminance/white"


def test_each_point_of_a_sweep_has_its_own_reference() -> None:
    blocks = []
    for point, setting in (("brightness=1", 1), ("brightness=2", 2)):
        for kind in ("luminance", "reference"):
            extra = {"percent": 100, "compensate": True} if kind == "reference" else {}
            entry = {"name": f"{point}/{kind}", "kind": kind, "base": kind, "settings": {"brightness": setting}}
            blocks.append({**entry, **extra})
    log = Log(blocks)
    for begin, point, first, last in ((0, "brightness=1", 100.0, 98.0), (20, "brightness=2", 200.0, 200.0)):
        for step, minute, value in (("reference/1", 0, first), ("luminance/white", 5, 99.0), ("reference/2", 10, last)):
            at(log, begin + minute)
            log.measure(f"{point}/{step}", {"level": "white", "number": 1}, [xyz(value)])
    results = analyse(log.end())
    assert [one.white.value for one in results.of("luminance")] == pytest.approx([100.0, 99.0], abs=1e-5)


def noisy(drift: bool) -> Log:
    log = Log([PATCHES, REFERENCE])
    level = (lambda minute: 1.0 - 0.0012 * minute) if drift else (lambda minute: 1.0)
    for number in range(7):
        reference(log, number + 1, 4.0 * number, 100.0 * level(4.0 * number), SCATTER)
    patch(log, "early", 25, 50.0 * level(25.0), SCATTER)
    reference(log, 8, 28, 100.0 * level(28.0), SCATTER)
    patch(log, "late", 29, 50.0 * level(29.0), SCATTER)
    reference(log, 9, 32, 100.0 * level(32.0), SCATTER)
    return log


def test_the_noise_of_the_reference_is_in_the_uncertainty_under_its_own_names() -> None:
    raw, done = (analyse(noisy(True).end(), compensate=wanted).of("patches")[0].patches[0] for wanted in (False, True))
    assert done.luminance.value == pytest.approx(50.0, rel=2e-4)
    before, after = raw.luminance.u, done.luminance.u
    assert before
    assert after
    assert before < after < 2.0 * before
    assert done.luminance.sources is not None
    names = {source.name for source in done.luminance.sources.contributions() or {}}
    assert {"readings of patches/early", "readings of reference/1", "readings of reference/9"} <= names


def test_what_two_steps_share_cancels_in_their_ratio() -> None:
    """Both stand beside each other, so the reference's noise is the same for both."""
    first, second = (one.luminance for one in analyse(noisy(True).end()).of("patches")[0].patches)
    noise = 0.0004 / 3**0.5  # relative, of a mean of three
    of_ratio = ratio(first, second)
    assert of_ratio.u is not None
    assert of_ratio.u < 1.3 * 2**0.5 * noise


def test_without_drift_no_value_changes() -> None:
    raw, done = (analyse(noisy(False).end(), compensate=wanted) for wanted in (False, True))
    assert luminances(raw) == luminances(done)
    assert done.compensation[0].maximum.value == 0.0
    before, after = (one.of("patches")[0].patches[0].luminance.u for one in (raw, done))
    assert before
    assert after == pytest.approx(before, rel=0.05)


def killed(before: Sequence[tuple[float, float]], after: Sequence[tuple[float, float]], last: float) -> Log:
    """A point of a sweep, killed after its early patch; minutes of each session, with the reference's light."""
    log = Log([PATCHES, REFERENCE])
    for number, (minute, value) in enumerate(before):
        reference(log, number + 1, minute, value)
    patch(log, "early", before[-1][0] + 1.0, 50.0)
    log.session = "s2"
    log.add("resumed", {})
    for number, (minute, value) in enumerate(after):
        reference(log, f"again-{number + 2}", minute, value)
    patch(log, "late", 1.0, 50.5)
    reference(log, 9, 2, last)
    return log


def test_a_kill_inside_a_point_does_not_switch_its_compensation_off() -> None:
    """One reading of the reference before the kill, one after it: the patch between them was of either light."""
    results = analyse(killed([(0.0, 100.0)], [(0.0, 101.0)], 101.0).end())
    (done,) = results.compensation
    assert done.applied
    assert [one.step for one in done.steps] == ["patches/early", "patches/late"]
    assert done.left_out == ()
    early, late = luminances(results)
    assert early == pytest.approx(50.0 / 1.005)
    assert late == pytest.approx(50.0, abs=1e-3)
    interval = next(one for one in done.steps if one.step == "patches/early").drift.interval
    assert interval is not None
    assert interval[0] <= 1e-6 < 1.0 - 1e-6 <= interval[1], "both lights are in it"


def test_a_kill_before_the_last_reference_leaves_one_reading_in_each_session() -> None:
    results = analyse(killed([(0.0, 100.0)], [], 100.5).end())
    (done,) = results.compensation
    assert done.applied
    assert [one.step for one in done.steps] == ["patches/early", "patches/late"]
    assert luminances(results)[0] == pytest.approx(50.0 / 1.0025)


def test_what_follows_the_last_reference_of_an_unfinished_log_stays_as_it_was_read() -> None:
    log = Log([PATCHES, REFERENCE])
    reference(log, 1, 0, 100.0)
    log.session = "s2"
    log.add("resumed", {})
    reference(log, "again-2", 0, 100.5)
    patch(log, "late", 1, 50.0)
    (done,) = analyse(log.records).compensation
    assert not done.applied
    assert done.left_out == (
        "session 2 has fewer than two readings of the reference patch: 1 steps, from patches/late",
    )


def stepped(at_minute: float, size: float) -> Log:
    """Nine references four minutes apart, and a step of the light."""
    log = Log([PATCHES, REFERENCE])

    def light(minute: float) -> float:
        return 1.0 + size * (minute >= at_minute)

    for number in range(4):
        reference(log, number + 1, 4.0 * number, 100.0 * light(4.0 * number), SCATTER)
    patch(log, "early", 13.0, 50.0 * light(13.0), SCATTER)
    for number in range(4, 7):
        reference(log, number + 1, 4.0 * number, 100.0 * light(4.0 * number), SCATTER)
    patch(log, "late", 25.0, 50.0 * light(25.0), SCATTER)
    for number in range(7, 9):
        reference(log, number + 1, 4.0 * number, 100.0 * light(4.0 * number), SCATTER)
    return log


@pytest.mark.parametrize("at_minute", [12.5, 13.5, 15.5])
def test_a_step_of_the_light_is_named_and_the_interval_of_a_reading_inside_holds_both_lights(at_minute: float) -> None:
    results = analyse(stepped(at_minute, 0.01).end())
    (done,) = results.compensation
    named = [one for one in done.curves if "faster than drift" in one]
    assert len(named) == 1
    assert "+1.00 % between reference/4 and reference/5" in named[0]
    early, late = (one.luminance for one in results.of("patches")[0].patches)
    for one in (early, late):
        assert one.interval is not None
        assert one.interval[0] <= 50.0 <= one.interval[1]
    assert late.value == pytest.approx(50.0, rel=1e-3), "after the step the new light counts"
    width = (early.interval or (0.0, 0.0))[1] - (early.interval or (0.0, 0.0))[0]
    assert 0.5 < width < 0.9, "half a percent to either side, and U"


def test_a_light_that_jumps_from_reading_to_reading_widens_what_lies_between() -> None:
    """A random walk: second differences beyond the noise of the readings, in no line and no smooth curve."""
    calm, restless = Log([PATCHES, REFERENCE]), Log([PATCHES, REFERENCE])
    changes = (0.0, 0.2, -0.1, 0.15, 0.4, 0.1, 0.3, 0.0, 0.25)
    for log, size in ((calm, 0.0), (restless, 1.0)):
        for number, change in enumerate(changes):
            reference(log, number + 1, 4.0 * number, 100.0 + size * change, SCATTER)
            if number == 4:
                patch(log, "early", 18.0, 50.0, SCATTER)
        patch(log, "late", 33.0, 50.0, SCATTER)
        reference(log, 10, 36, 100.0, SCATTER)
    before, after = (analyse(log.end()).of("patches")[0].patches[0].luminance for log in (calm, restless))
    assert before.u is not None
    assert after.u is not None
    assert after.u > 2.0 * before.u
    names = {source.name for source in (after.sources.contributions() or {})} if after.sources else set()
    assert "drift between reference readings" in names


def test_black_may_have_followed_the_drift_or_not_and_its_interval_holds_both() -> None:
    """An emissive panel's black does not follow, a backlight's does: neither nor the contrast is surer than that."""
    log = Log([LUMINANCE, REFERENCE])
    for number, minute, value in ((1, 0, 100.0), (2, 10, 99.0), (3, 20, 98.0)):
        reference(log, number, minute, value, SCATTER)
    at(log, 16)
    log.measure("luminance/black", {"level": "black"}, [xyz(0.2 * one) for one in SCATTER], code=0)
    at(log, 17)
    log.measure("luminance/white", {"level": "white"}, [xyz(98.3 * one) for one in SCATTER], code=255)
    done, raw = (analyse(log.end(), compensate=wanted).of("luminance")[0] for wanted in (True, False))
    assert done.black.value == raw.black.value == pytest.approx(0.2)
    for truth in (0.2, 0.2 / 0.984):
        assert done.black.interval is not None
        assert done.black.interval[0] <= truth <= done.black.interval[1]
    assert raw.black.interval is not None
    assert raw.black.interval[1] < 0.2 / 0.984
    assert done.black.sources is not None
    part = {source.name: amount for source, amount in (done.black.sources.contributions() or {}).items()}[OF_BLACK]
    assert part == pytest.approx(MAY_FOLLOW * (1.0 - 1.0 / 0.984) * 0.2, rel=0.04)  # and the drift's own
    both = ratio(done.white, done.black).interval
    assert both is not None
    assert both[0] <= 100.0 * 0.984 / 0.2 <= both[1]
    assert both[0] <= 100.0 / 0.2 <= both[1]
