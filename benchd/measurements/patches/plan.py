"""A free list of patches in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic import Field

from benchd.patch.model import Patch
from benchd.plan.blocks import Block, BlockBody
from benchd.plan.layout import (
    level_grey,
    ordered,
    step,
    window,
)
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.reading.base import ProfileModel, Rule, Wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import (
    AreaPercent,
    Colour,
    Level,
    Name,
)


class ListedPatch(ProfileModel):
    """One patch of a free list."""

    name: Name
    code: Colour | None = Field(default=None, description="one code for a grey, or [red, green, blue]")
    level_cd_m2: Level | None = Field(
        default=None, description="in place of a code, with signal: only: a grey of so many cd/m2"
    )
    area_percent: AreaPercent | None = Field(
        default=None, description="centred window, percent of the screen's area; 100 is the full screen"
    )
    surround: Colour | None = Field(default=None, description="code around the window")

    key_rules = (
        Rule(("code", "level_cd_m2"), (), "give a code or a level, not both", at="level_cd_m2"),
        Rule(("name",), ("code", "level_cd_m2"), "needs 'code': one code for a grey, or [red, green, blue]"),
    )


class Patches(BlockBody):
    """A free list of patches at the centre, in the plan, in a CSV file, or both."""

    list: tuple[ListedPatch, ...] = Field(default=(), description="patches: {name: red, code: [255, 0, 0]}")
    file: str | None = Field(
        default=None,
        min_length=1,
        description="CSV file beside the plan: name,red,green,blue and where wanted area_percent",
    )
    area_percent: AreaPercent = 100.0
    surround: Colour = Field(default=(0, 0, 0), description="code around the windows")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No patch at all, or a name given twice."""
        listed = data.get("list", [])
        if "file" not in data and listed == []:
            yield Wrong((), "no patches here; give a list, such as list: [{name: red, code: [255, 0, 0]}], or a file")
        names: dict[str, int] = {}
        for index, item in enumerate(listed if isinstance(listed, list) else ()):
            name = item.get("name") if isinstance(item, dict) else None
            if isinstance(name, str) and name in names:
                yield Wrong(("list", index, "name"), f"two patches are called {show(name)}; every name may stand once")
            elif isinstance(name, str):
                names[name] = index


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """A patch each."""
    for name, patch in ordered(plan, block, named_patches(plan, block, files), key=lambda item: item[0]):
        yield step(plan, block, name, patch, {"name": name}, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The names of the patches."""
    return {"names": [name for name, _ in named_patches(plan, block, files)]}


def named_patches(plan: Plan, block: Block, files: Mapping[str, str]) -> list[tuple[str, Patch]]:
    """The patches of a free list with their names: the plan\'s first, then those of its CSV file."""
    patches: Patches = block.body
    named: list[tuple[str, Patch]] = []
    for item in patches.list:
        code = item.code if item.level_cd_m2 is None else level_grey(plan, item.level_cd_m2)
        assert code is not None  # the plan was refused without
        area, surround = item.area_percent or patches.area_percent, item.surround or patches.surround
        named.append((item.name, window(code, plan.bits, area, surround)))
    if patches.file is not None:
        from benchd.measurements.patches.csv_patches import read_patches

        listed = frozenset(item.name for item in patches.list)
        for row in read_patches(files[patches.file], patches.file, plan.bits, listed):
            area = row.area_percent or patches.area_percent
            named.append((row.name, window(row.code, plan.bits, area, patches.surround)))
    return named


PART = PlanPart(
    Patches,
    steps,
    describe,
    example={"list": [{"name": "grey", "code": 128}]},
    signal="any",
    undone={
        "figures_are_well_formed": "a list of patches has no figure by itself: its purpose is known to its author only"
    },
)
