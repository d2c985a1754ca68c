"""A free list of patches: from a CSV file, by code or by level, and what is wrong in either."""

from __future__ import annotations

import pytest

from benchd.patch.model import Patch, grey
from benchd.plan.steps import describe
from tests.plan.helpers import HEAD, faults, plan_of, steps_of

CSV_PLAN = "plan: p\nblocks:\n  - patches: {list: [{name: taken, code: 0}], file: a.csv}\n"


def test_patches_from_a_csv_file() -> None:
    text = '\ufeffname,red,green,blue,area_percent\r\n# a remark\r\nwarm, 255 ,128,0,\r\n"cool",0,128,255,10\r\n'
    block = "  - patches: {file: a.csv, list: [{name: first, code: 9}], surround: 20, order: listed}"
    steps = steps_of(block, files={"a.csv": text})
    assert [(step.id, step.patch) for step in steps] == [
        ("patches/first", Patch("field", (9, 9, 9))),
        ("patches/warm", Patch("field", (255, 128, 0))),
        ("patches/cool", Patch("window", (0, 128, 255), 8, (20, 20, 20), 10)),
    ]
    assert describe(plan_of(block, files={"a.csv": text}), {"a.csv": text})[0]["names"] == ["first", "warm", "cool"]
    assert plan_of(block, files={"a.csv": text}).files == ("a.csv",)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ["1:1: the first line must name the columns: name,red,green,blue[,area_percent]"]),
        (
            "name;red;green;blue\n",
            ["1:1: the first line must name the columns with commas between: name,red,green,blue[,area_percent]"],
        ),
        (
            "name,red,green,blau\nx,1,2,3\n",
            [
                "1:1: column 'blue' is missing; needed are name, red, green, blue",
                "1:16: unknown column 'blau'; did you mean 'blue'?",
            ],
        ),
        ("name,red,red,green,blue\n", ["1:10: column 'red' stands here twice; keep one"]),
        ("# only\nname,red,green,blue\n", ["2:1: no patches; below the first line belong lines such as red,255,0,0"]),
        (
            "name,red,green,blue,area_percent\nx,1,2, 300,\n\n"
            "y z,1e3,-1,0,\nx,1,1,1,0\nx,1\ntaken,1,1,1,\nw,1,1,1,5\nw,2,2,2,5\n",
            [
                "2:8: code 300 does not fit 8 bits; use 0 to 255, or state bits: 10",
                "4:1: name 'y z': use letters, digits and . _ + -, at most 64, the first a letter or digit",
                "4:5: code '1e3': a code is a whole number, 0 to 255",
                "4:9: code -1 does not fit 8 bits; use 0 to 255",
                "5:1: name 'x' stands in line 2 already; use another one",
                "5:9: area_percent '0': use a plain decimal, 0.1 to 100, or nothing",
                "6:1: 2 values where the first line names 5 columns",
                "7:1: name 'taken' stands in the plan already; use another one",
                "9:1: name 'w' stands in line 8 already; use another one",
            ],
        ),
    ],
)
def test_faults_of_a_csv_file_have_its_own_lines(text: str, told: list[str]) -> None:
    assert faults(CSV_PLAN, {"a.csv": text}) == [f"a.csv:{line}" for line in told]


def test_a_patch_of_a_free_list_by_its_level() -> None:
    listed, pq = "  - patches: {list: [{name: page, level_cd_m2: 203}]}", f"{HEAD}signal: {{transfer: pq}}\n"
    assert steps_of(listed, pq)[0].patch.code == grey(594)
    assert "a level in cd/m2 needs signal" in faults(f"{HEAD}blocks:\n{listed}\n")[0]
    both = "  - patches: {list: [{name: page, level_cd_m2: 203, code: 5}]}"
    assert "a code or a level, not both" in faults(f"{pq}blocks:\n{both}\n")[0]
