"""The rules of the house as tests: who imports whom, how long a file is, who may touch time and devices."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

from benchd.patch.model import field, grey
from benchd.plan.step import Step
from benchd.run.procedures.table import PROCEDURES

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted((ROOT / "benchd").rglob("*.py"))
SIM = sorted((ROOT / "sim").rglob("*.py"))
STATISTICS = ("benchd.autocorrelation", "benchd.distributions")
CONDITIONS = "benchd.measuring_conditions"
INSTALLED = ("benchd", "benchd.errors", "benchd.installed")
LOCAL, INTERRUPT, PARALLEL = "benchd.local_time", "benchd.interrupt", "benchd.parallel"
BASE = (
    *(*INSTALLED, "benchd.clock", LOCAL, "benchd.exits", INTERRUPT, "benchd.pipes", PARALLEL),
    *("benchd.user_folders", CONDITIONS, *STATISTICS),
)

ROOMS: dict[str, tuple[str, ...]] = {
    "patch": (*BASE, "benchd.patch"),
    "profile": (*BASE, "benchd.profile", "benchd.patch.model", "benchd.measurements"),
    "plan": (*BASE, "benchd.plan", "benchd.profile", "benchd.patch.model", "benchd.measurements"),
    "instruments": (*BASE, "benchd.instruments", "benchd.profile"),
    "run": (
        *(*BASE, "benchd.run", "benchd.plan", "benchd.profile", "benchd.patch", "benchd.instruments"),
        "benchd.measurements",
    ),
    "analysis": (
        *("benchd.errors", *STATISTICS, CONDITIONS, "benchd.analysis", "benchd.run.log.records"),
        "benchd.measurements",
    ),
    "measurements": (
        *(*INSTALLED, *STATISTICS, "benchd.measurements", "benchd.analysis", "benchd.plan", "benchd.profile"),
        *("benchd.patch.model", "benchd.report"),
    ),
    "report": (
        *("benchd", "benchd.errors", *STATISTICS, "benchd.report", "benchd.analysis", "benchd.plan", "benchd.profile"),
        *("benchd.measurements", LOCAL, INTERRUPT, PARALLEL, CONDITIONS),
    ),
    "api": (
        *(*BASE, "benchd.analysis", "benchd.plan", "benchd.profile", "benchd.report", "benchd.instruments"),
        "benchd.patch.model",
        "benchd.measurements.declared_figure",
    ),
    "library": (
        *(*BASE, "benchd.library", "benchd.run", "benchd.report", "benchd.analysis"),
        *("benchd.measurements.declared_figure", "benchd.measurements.former_names"),
    ),
    "daemon": (
        *(*BASE, "benchd.daemon", "benchd.run", "benchd.report", "benchd.plan", "benchd.profile"),
        *("benchd.instruments", "benchd.patch.model"),
    ),
    "command": ("benchd",),
    "testing": ("benchd",),
}
"""What each room may import, itself included. One way only: nothing imports a room further down."""

ONLY_IN = {
    "yaml": {"benchd/profile/reading/strict_yaml.py"},
    "serial": {"benchd/instruments/wire.py"},
    "pyglet": {"benchd/patch/window.py"},
    "monitorcontrol": {"benchd/instruments/ddc.py"},
    "time": {"benchd/clock.py"},
    "datetime": {"benchd/clock.py", "benchd/local_time.py"},
    "random": set[str](),
    "threading": {"benchd/clock.py", "benchd/daemon/"},
    "asyncio": set[str](),
    "colour": {"benchd/analysis/colour/reference_library.py"},
    "scipy": set[str](),
    "shapely": set[str](),
    "aggdraw": {"benchd/report/drawing/pixels.py"},
    "PIL": {"benchd/report/drawing/pixels.py", "benchd/report/publication/differences.py"},
    "matplotlib": set[str](),
    "pyarrow": {"benchd/report/", "benchd/library/"},
    "sqlite3": {"benchd/library/"},
    "sim": set[str](),
}
"""Modules that one file (or, with a slash at its end, one folder) of benchd may import, or none."""


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text())


@cache
def imports(path: Path) -> tuple[tuple[int, str], ...]:
    """Every imported module of a file, function-level imports included, with its line."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            found += ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}:{node.lineno}: relative import"
            # `from benchd.plan import steps` names the module benchd.plan.steps
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                is_module = (ROOT / (inner.replace(".", "/") + ".py")).exists()
                found.append((node.lineno, inner if is_module else node.module))
    return tuple(found)


def within(module: str, allowed: str) -> bool:
    return module == allowed or (allowed not in BASE and module.startswith(f"{allowed}."))


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_imports_run_one_way(room: str) -> None:
    for path in sorted((ROOT / "benchd" / room).rglob("*.py")):
        for line, module in imports(path):
            if not module.startswith("benchd") or room in ("command", "testing"):
                continue
            assert any(within(module, allowed) for allowed in ROOMS[room]), f"{path}:{line} imports {module}"


def test_every_folder_is_a_known_room() -> None:
    folders = {path.name for path in (ROOT / "benchd").iterdir() if path.is_dir() and path.name[0] not in "_."}
    assert folders == set(ROOMS)


@pytest.mark.parametrize("module", sorted(ONLY_IN))
def test_one_door_for_each_outer_thing(module: str) -> None:
    for path in SOURCES:
        name = path.relative_to(ROOT).as_posix()
        for line, found in imports(path):
            if found == module or found.startswith(f"{module}."):
                doors = tuple(ONLY_IN[module])
                open_door = any(name == door or (door.endswith("/") and name.startswith(door)) for door in doors)
                assert open_door, f"{name}:{line} imports {found}"


def test_the_reference_library_is_loaded_within_a_function_only() -> None:
    """Its import takes seconds and brings a plotting library."""
    [door] = [ROOT / name for name in ONLY_IN["colour"]]
    assert any(module == "colour" for _, module in imports(door))
    for node in parsed(door).body:
        assert not (isinstance(node, ast.Import) and any(alias.name == "colour" for alias in node.names))


SETTLING = {"least_squares.py"}
"""Least squares of how a panel settles: loaded by plans that ask for a precision, and those alone."""


def test_numpy_stays_in_analysis_and_in_the_least_squares_of_settling() -> None:
    for path in SOURCES:
        if not {"analysis", "measurements"} & set(path.parts) and not (
            path.parent.name == "adaptive" and path.name in SETTLING
        ):
            assert not any(module.split(".")[0] == "numpy" for _, module in imports(path)), path


def test_the_adaptive_reading_stands_behind_one_interface() -> None:
    for path in SOURCES:
        if path.parent.name != "adaptive":
            found = {module for _, module in imports(path) if module.startswith("benchd.run.adaptive")}
            assert found <= {"benchd.run.adaptive.interface"}, path


def test_a_procedure_is_one_file_with_one_function_and_a_row() -> None:
    table = ROOT / "benchd" / "run" / "procedures" / "table.py"
    named = {module.rpartition(".")[2] for _, module in imports(table) if module.startswith("benchd.run.procedures.")}
    defined = {path.stem for path in table.parent.glob("*.py") if "def perform(" in path.read_text()}
    assert named == defined == set(PROCEDURES)
    for name, procedure in PROCEDURES.items():
        step = Step("a", "b", name, field(grey(0)), {})
        assert procedure.is_result == (step.kind == "measure")


def imported_files(path: Path) -> set[Path]:
    """The files of benchd that a file imports, for type checks too."""
    found = set()
    for _, module in imports(path):
        for file in (ROOT / f"{module.replace('.', '/')}.py", ROOT / module.replace(".", "/") / "__init__.py"):
            if file.exists() and module.startswith("benchd."):
                found.add(file)
    return found


def test_no_circle_of_files() -> None:
    """Files that import nothing that is left are taken away until none is left; a circle would stay."""
    left = {path: imported_files(path) - {path} for path in SOURCES}
    while free := [path for path, needs in left.items() if not needs & left.keys()]:
        for path in free:
            del left[path]
    assert not {str(path.relative_to(ROOT)): sorted(map(str, needs & left.keys())) for path, needs in left.items()}


def test_a_folder_has_at_most_20_modules() -> None:
    for folder in {path.parent for path in SOURCES}:
        modules = [path for path in folder.glob("*.py") if path.name not in ("__init__.py", "__main__.py")]
        assert len(modules) <= 20, f"{folder.relative_to(ROOT)}: {len(modules)} modules"


def test_sim_uses_only_what_is_pure_or_a_protocol() -> None:
    allowed = (
        *(
            "benchd.errors",
            "benchd.clock",
            "benchd.plan",
            "benchd.profile",
            "benchd.patch.model",
            "benchd.patch.screen",
        ),
        *("benchd.patch.x11", "benchd.pipes", "benchd.instruments.meter", "benchd"),
        "benchd.instruments.control",
    )
    for path in SIM:
        for line, module in imports(path):
            if module.startswith("benchd"):
                assert any(within(module, name) for name in allowed), f"{path}:{line} imports {module}"


@pytest.mark.parametrize("path", [*SOURCES, *SIM], ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_file_is_one_idea_long(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= 400
    assert ast.get_docstring(parsed(path)), "a file says in its first line what it is for"


def test_every_public_thing_is_documented() -> None:
    bare = []
    for path in SOURCES:
        for node in parsed(path).body:
            named = isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
            if named and ast.get_docstring(node) is None:
                bare.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
    assert not bare
