"""Profiles by name or by path: plans, benches, targets, dialects, colour spaces and charts.

A path that exists wins; then ``profiles/`` in the working folder; then the profiles that come with benchd.
Models and the YAML parser are imported only when a file is loaded, so that a help text does not wait for them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from benchd.errors import InputError, did_you_mean, nearby

if TYPE_CHECKING:
    from benchd.profile.bench import Bench
    from benchd.profile.claim_sheet import ClaimSheet
    from benchd.profile.dialect import Dialect
    from benchd.profile.made_files import CorrectionFile, RepeatabilityFile
    from benchd.profile.stage_dialect import StageDialect
    from benchd.profile.target_file import Space, Target

ProfileStore = Literal["plans", "benches", "meters", "stages", "targets", "spaces", "charts", "claims", "corrections"]
"""The folders of ``profiles/``; dialects stand in ``meters`` and ``stages``."""

ReadFile = Callable[[str], str]
"""Gives the text of a file named in a plan; raises OSError, UnicodeError or LookupError when it can't."""

_KINDS: dict[ProfileStore, str] = {
    "plans": "plan",
    "benches": "bench",
    "meters": "dialect",
    "stages": "stage",
    "targets": "target",
    "spaces": "space",
    "charts": "chart",
    "claims": "claim sheet",
    "corrections": "correction",
}
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._+-]*\Z")


def profiles_folder() -> Path:
    """The profiles that come with benchd: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "profiles"
    return installed if installed.is_dir() else package.parent / "profiles"


def find(store: ProfileStore, name: str, *, user_folder: Path = Path("profiles")) -> Path:
    """The file of the profile ``name``: a path, or a name in the store, without ``.yaml`` (a chart: ``.csv``).

    Raises `InputError`, with the names nearest to it, when there is none.
    """
    path, suffix = Path(name), _suffix(store)
    if name and path.is_file():
        return path
    if _NAME.match(name):
        for folder in (user_folder, profiles_folder()):
            for candidate in (folder / store / f"{name}{suffix}", folder / store / name):
                if candidate.suffix == suffix and candidate.is_file():
                    return candidate
    raise InputError(_not_found(store, name, names(store, user_folder=user_folder)))


def find_target(name: str) -> Path:
    """`find` among the targets, as `load_plan` needs it."""
    return find("targets", name)


def names(store: ProfileStore, *, user_folder: Path = Path("profiles")) -> tuple[str, ...]:
    """The names that `find` finds of one kind, sorted."""
    pattern = f"*{_suffix(store)}"
    found = (path.stem for folder in (user_folder, profiles_folder()) for path in (folder / store).glob(pattern))
    return tuple(sorted(set(found)))


def _suffix(store: ProfileStore) -> str:
    return ".csv" if store == "charts" else ".yaml"


def read_text(path: Path) -> str:
    """The text of a profile. Raises `InputError` when it can't be read or is not UTF-8."""
    try:
        return path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise InputError(f"there is no file {path}; {nearby(path, 'give the path of one that is there')}") from None
    except OSError as error:
        raise InputError(f"{path} can't be read: {(error.strerror or 'unknown reason').lower()}") from None
    except UnicodeDecodeError as error:
        text = f"byte {error.start + 1} does not belong in UTF-8 text; save the file as UTF-8"
        raise InputError(f"{path} can't be read: {text}") from None


def beside(path: Path) -> ReadFile:
    """Reads files that a plan names, from the folder that the plan is in."""
    return lambda name: (path.parent / name).read_bytes().decode("utf-8")


def _loader(module: str, model: str, update: str = "") -> Callable[[str, str], Any]:
    """What makes a model of the text of a profile and its name. Raises `ProfileError` with every fault."""

    def load(text: str, name: str) -> Any:
        from benchd.profile.reading.strict_yaml import load_model

        found = import_module(f"benchd.profile.{module}")
        return load_model(getattr(found, model), text, name, getattr(found, update) if update else None)

    return load


load_bench: Callable[[str, str], Bench] = _loader("bench", "Bench")
load_logged_bench: Callable[[str, str], Bench] = _loader("bench", "Bench", "with_instruments")
"""The bench that a log keeps, of whatever version."""
load_target: Callable[[str, str], Target] = _loader("target_file", "Target")
load_space: Callable[[str, str], Space] = _loader("target_file", "Space")
load_claims: Callable[[str, str], ClaimSheet] = _loader("claim_sheet", "ClaimSheet")
load_correction: Callable[[str, str], CorrectionFile] = _loader("made_files", "CorrectionFile")
load_repeatability: Callable[[str, str], RepeatabilityFile] = _loader("made_files", "RepeatabilityFile")
load_dialect: Callable[[str, str], Dialect] = _loader("dialect", "Dialect")
load_stage: Callable[[str, str], StageDialect] = _loader("stage_dialect", "StageDialect")


def _not_found(store: ProfileStore, name: str, known: tuple[str, ...]) -> str:
    from benchd.measurements.former_names import profile_advice  # for a wrong name only

    kind = _KINDS[store]
    if name and Path(name).is_dir():
        every = ", ".join(known) or "none"
        return f"{name} is a folder; give the path of a {kind} file in it, or one of the names: {every}"
    if advice := profile_advice(store, name):
        return f"{kind} {name!r} {advice}"
    if not _NAME.match(name) or name.endswith(".yaml"):
        every = f"give the path of a {kind}, or one of the names: {', '.join(known) or 'none'}"
        named = [f"{one}{_suffix(store)}" for one in known]
        return f"there is no file {name!r}; {nearby(Path(name), every, named, _suffix(store))}"
    return f"there is no {kind} {name!r}; {did_you_mean(name, known)}"
