"""Logs of invented screens for colour tests: a plan's own steps, each read as a function of its codes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.patch.model import Code
from benchd.plan.plan_store import load_plan, plan_files
from benchd.plan.steps import describe, expand
from benchd.profile.colour_codes import ColourSpace, Triple
from benchd.profile.profile_store import find, read_text
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.target_file import Space
from tests.analysis.logs import SRGB, Log

Screen = Callable[[Code], Triple]
WHITE_CD_M2 = 110.0


def fields_of(name: str) -> dict[str, Any]:
    """A shipped space as a log keeps it."""
    return load_model(Space, read_text(find("spaces", name)), name).normalised()


def perfect(name: str, white_cd_m2: float = WHITE_CD_M2, bits: int = 8) -> Screen:
    """A screen that shows exactly what codes of a space ask for."""
    space = ColourSpace(fields_of(name))

    def seen(code: Code) -> Triple:
        x, y, z = space.decoded(code, bits)
        return (white_cd_m2 * x, white_cd_m2 * y, white_cd_m2 * z)

    return seen


def measured(
    blocks: str,
    screen: Screen,
    *,
    files: Mapping[str, str] | None = None,
    lacking: str = "",
    head: str = "",
    scatter: float = 0.0,
    each: bool = False,
) -> Results:
    """Results of ``blocks`` on ``screen``; the step ``lacking`` is not measured.

    Two readings a patch, apart by twice the share ``scatter``. ``each``: the screen is asked for each reading.
    """
    texts = dict(files or {})

    def read(name: str) -> str:
        return texts[name]

    plan = load_plan(f"plan: invented\nwarm_up: none\n{head}blocks:\n{blocks}\n", "invented.yaml", read)
    needed = plan_files(plan, read)
    log = Log(describe(plan, needed), target=SRGB)
    for step in expand(plan, needed):
        if step.id != lacking:
            x, y, z = screen(step.patch.code)
            values = [(share * x, share * y, share * z) for share in (1.0 - scatter, 1.0 + scatter)]
            if each:
                values = [(x, y, z), screen(step.patch.code)]
            log.measure(step.id, dict(step.labels), values, code=step.patch.code, bits=plan.bits)
    return analyse(log.end())
