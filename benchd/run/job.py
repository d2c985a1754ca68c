"""A job: everything that a run needs, from profile files or from the first record of a log.

The texts travel verbatim in the log, so that a run is resumed and analysed from its log alone even when
the files have been edited, moved or lost since.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from benchd.errors import Fault, InputError, LogRefused, ProfileError
from benchd.measurements import registry
from benchd.plan import plan_store, steps
from benchd.plan.plan import Plan
from benchd.plan.step import Step
from benchd.profile import profile_store as library

if TYPE_CHECKING:  # each model is loaded with the first file of its kind
    from benchd.profile.bench import Bench
    from benchd.profile.dialect import Dialect
    from benchd.profile.made_files import CorrectionFile
    from benchd.profile.stage_dialect import StageDialect
    from benchd.profile.target_file import Target
    from benchd.run.log.records import Body

Model = TypeVar("Model")
BENCH_PROFILES = ("bench", "dialect", "stage", "correction")
"""The profiles of a bench, as a log names them."""
NAMED: tuple[tuple[library.ProfileStore, str, str], ...] = (
    ("meters", "meter", "dialect"),
    ("stages", "stage", "dialect"),
    ("corrections", "meter", "correction"),
)
"""Where a bench names them: the store of each, the instrument and its key."""


class Document(NamedTuple):
    """A profile file as it was read."""

    name: str
    file: str
    text: str


class PlanJob(NamedTuple):
    """A plan with all that belongs to it but the bench: enough to list and to estimate."""

    document: Document
    files: Mapping[str, str]  # other files that the plan names, by the name it uses
    target_document: Document
    plan: Plan
    target: Target
    steps: tuple[Step, ...]


class BenchJob(NamedTuple):
    """A bench with the dialects of its meter and its motion stage, and the correction of its meter."""

    documents: Mapping[str, Document]  # those that there are, by `BENCH_PROFILES`
    bench: Bench
    dialect: Dialect | None = None
    stage: StageDialect | None = None
    correction: CorrectionFile | None = None


def plan_job(name_or_path: str) -> PlanJob:
    """Load a plan and its target. Raises `ProfileError` with every fault, `InputError` for unknown names."""
    document = _document("plans", name_or_path)
    read = library.beside(Path(document.file))
    plan = plan_store.load_plan(document.text, document.file, read, library.find_target)
    return _plan_job(_own(document, plan), plan_store.plan_files(plan, read), _document("targets", plan.target), plan)


def plan_job_from(name: str, text: str, files: Mapping[str, str]) -> PlanJob:
    """The plan in ``text``, with every file that it names in ``files``, by the name it uses.

    Its target may be among them too; else it is looked up by its name, never by a path: the sender of the
    text has no business with other files. Raises like `plan_job`.
    """
    document = Document(Path(name).stem, name, text)

    def find_target(target: str) -> object:
        if target in files:
            return None
        if "/" in target:
            raise InputError(f"the target file {target!r} did not come with the plan; send it, or name a target")
        return library.find_target(target)

    plan = plan_store.load_plan(text, name, files.__getitem__, find_target)
    sent = files.get(plan.target)
    target = _document("targets", plan.target) if sent is None else Document(Path(plan.target).stem, plan.target, sent)
    return _plan_job(_own(document, plan), plan_store.plan_files(plan, files.__getitem__), target, plan)


def bench_job(name_or_path: str, *, corrected: bool = True) -> BenchJob:
    """Load a bench, the dialects that it names and its correction; ``corrected`` false: its meter is read as it is."""
    document = _document("benches", name_or_path)
    try:
        bench = library.load_bench(document.text, document.file)
        meter, mover = bench.instruments.meter, bench.instruments.stage
        named: tuple[tuple[str, library.ProfileStore, str | None], ...] = (
            ("dialect", "meters", meter.dialect),
            ("stage", "stages", mover.dialect if mover else None),
            ("correction", "corrections", meter.correction if corrected else None),
        )
        beside = {role: _document(store, name) for role, store, name in named if name is not None}
    except InputError as error:
        faults = error.faults if isinstance(error, ProfileError) else ()
        if wrong := (*faults, *_absent(document, corrected=corrected)):
            raise ProfileError(wrong) from None
        raise
    return _bench_job(bench, {"bench": document, **beside})


def _absent(document: Document, *, corrected: bool) -> tuple[Fault, ...]:
    """Profiles that a bench file names and that are not there, each at its place, beside whatever else is wrong."""
    from benchd.profile.reading.strict_yaml import read_document

    try:
        read = read_document(document.text, document.file)
    except ProfileError:
        return ()  # it is no mapping; that is reported
    known = len(read.faults)
    for store, part, key in NAMED[: None if corrected else -1]:
        name: Any = read.data
        for at in ("instruments", part, key):
            name = name.get(at) if isinstance(name, dict) else None
        try:
            _ = library.find(store, name) if isinstance(name, str) and name else None
        except InputError as error:
            read.at_value(("instruments", part, key), str(error))
    return tuple(read.faults[known:])


def jobs_from_log(started: Body, log_file: str) -> tuple[PlanJob, BenchJob]:
    """The job that a log was started with.

    Raises `LogRefused` when this benchd makes other steps of it, `PackageError` when it lacks a measurement of it.
    """
    if started.get("imported"):
        raise LogRefused(log_file, 1, "its readings were imported, so there is no run to go on with or to make again")
    try:
        document = Document(**started["plan"])
        files: dict[str, str] = dict(started["files"])
        profiles = {"dialect": started["profiles"]["dialect"], **started["profiles"]}
        documents = {name: Document(**found) for name, found in profiles.items() if found}
        target, bench_document = documents.pop("target"), documents["bench"]
        wanted_digest = started["steps_digest"]
    except (KeyError, TypeError) as error:
        raise LogRefused(log_file, 1, f"the first record lacks {error}; it can't be resumed") from None
    for kind, logged in (started.get("measurements") or {}).items():
        registry.check_readable(kind, logged)
    job = _plan_job(document, files, target, plan_store.load_plan(document.text, document.file, files.__getitem__))
    if steps.digest(job.steps) != wanted_digest:
        raise LogRefused(
            log_file,
            1,
            "this version of benchd makes other steps from the plan than the version that started the log; "
            "resume with that version, or start a new run",
        )
    return job, _bench_job(library.load_logged_bench(bench_document.text, bench_document.file), documents)


def _bench_job(bench: Bench, documents: Mapping[str, Document]) -> BenchJob:
    def loaded(name: str, load: Callable[[str, str], Model]) -> Model | None:
        return load(documents[name].text, documents[name].file) if name in documents else None

    dialect, stage = loaded("dialect", library.load_dialect), loaded("stage", library.load_stage)
    return BenchJob(documents, bench, dialect, stage, loaded("correction", library.load_correction))


def _plan_job(document: Document, files: Mapping[str, str], target: Document, plan: Plan) -> PlanJob:
    model = library.load_target(target.text, target.file)
    return PlanJob(document, files, target, plan, model, steps.expand(plan, files))


def _own(document: Document, plan: Plan) -> Document:
    """Under the name that the plan gives itself; logs of earlier versions have that of its file."""
    return document._replace(name=plan.plan)


def _document(store: library.ProfileStore, name_or_path: str) -> Document:
    path = library.find(store, name_or_path)
    return Document(path.stem, str(path), library.read_text(path))
