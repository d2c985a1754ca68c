"""``benchd publish``: results with all that they rest on, as a folder that anyone can compute again."""

from __future__ import annotations

import shlex
import shutil
from argparse import Namespace
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from benchd.analysis.analyse import analyse
from benchd.analysis.arithmetic import arithmetic
from benchd.analysis.colour.target import Target, target_from
from benchd.analysis.log.history import history
from benchd.command.messages import draw, rewrites, say
from benchd.command.output import is_log, not_written
from benchd.command.show.publish import claims_shown, refuse_idle_at
from benchd.errors import InputError, LogRefused, NotALog
from benchd.exits import Exit
from benchd.profile import profile_store as library
from benchd.report.data.log_reference import LogReference
from benchd.report.page.results_page import Logged
from benchd.report.publication.contents import computed_files, own_files, sha256
from benchd.report.publication.folder import whole_folder
from benchd.report.publication.manifest import CLAIMS, PAGE, TARGET, made_with, names_of
from benchd.report.sections.claims import ClaimsShown
from benchd.report.words import SIMULATED, count, printable
from benchd.run.log.journal import LogFile


def main(arguments: Namespace) -> Exit:
    """Write the folder, whole or not at all."""
    logs = [Path(name) for name in arguments.logs]
    texts = _texts(arguments)
    folder = Path(arguments.output)
    with whole_folder(folder, replace=arguments.yes) as aside:
        published = _copied(logs, aside)
        logged, claims = computed_results(aside, published, texts, arguments.at)
        files = dict(computed_files(logged, claims))
        files |= {name: text.encode() for name, text in texts.items()}
        digests = {path: sha256(content) for path, content in files.items()}
        digests |= {one.log.file: one.log.sha256 for one in logged}
        given = {"target": TARGET in texts, "claims": CLAIMS in texts}
        files |= own_files(logged, made_with(arithmetic()), digests, **given, at=arguments.at)
        for path, content in files.items():
            (aside / path).parent.mkdir(exist_ok=True)
            (aside / path).write_bytes(content)
    for log, one in zip(logs, logged, strict=True):
        if one.results.interrupted:
            say(f"Note: {printable(str(log))} has not ended; what was not measured is absent.")
    simulated = f"{SIMULATED}: " if any(one.results.simulated for one in logged) else ""
    many = count(len(files) + len(logged), "file")
    say(printable(f"{simulated}Published: {folder}, {many} of {count(len(logs), 'log')}; page: {folder / PAGE}"))
    say(printable(f"Anyone computes it again by: benchd recheck {shlex.quote(str(folder))}"))
    return Exit.COMPLETE


def _texts(arguments: Namespace) -> dict[str, str]:
    """The target and the claims that are published with the logs. Raises `InputError`, `ProfileError`."""
    refuse_idle_at(arguments)
    found = {}
    for name, store, given in ((TARGET, "targets", arguments.target), (CLAIMS, "claims", arguments.claims)):
        if given:
            path = library.find(store, given)  # type: ignore[arg-type]
            if is_log(path):
                raise InputError(f"{given} is a log, not a file of {store}; the logs come without an option")
            found[name] = library.read_text(path)
    return found


def _copied(logs: Sequence[Path], folder: Path) -> list[str]:
    """The logs in the folder, under names that are good everywhere: a log may be written on meanwhile.

    Raises `InputError`, `LogRefused`.
    """
    (folder / "logs").mkdir()
    heads, digests = [], dict[str, Path]()
    for number, log in enumerate(logs):
        if not log.is_file():
            raise InputError(f"there is no log {log}; name log files")
        copy = folder / "logs" / f"{number}.part"
        try:
            shutil.copyfile(log, copy)
        except OSError as error:
            raise not_written(copy, error) from None
        file = LogFile(copy)
        try:
            first, *_ = [record.body for record in file.records() if record.kind == "started"]
        except NotALog:
            raise InputError(f"{log} is no log; name log files") from None
        except LogRefused as error:
            raise LogRefused(str(log), error.line, error.text.replace(str(copy), str(log))) from None
        if file.sha256 in digests:
            raise InputError(f"{log} is the same log as {digests[file.sha256]}; a log counts once")
        digests[file.sha256] = log
        heads.append((str(first.get("sample") or ""), log.stem))
    names = [f"logs/{name}.log" for name in names_of(heads)]
    for number, name in enumerate(names):
        (folder / "logs" / f"{number}.part").rename(folder / name)
    return names


def working(text: str) -> None:
    """What is worked on, in one line that goes again; "" at the end. Nothing where stderr is no terminal."""
    if rewrites():
        draw(text)


def computed_results(
    folder: Path, logs: Sequence[str], texts: Mapping[str, str], at: str
) -> tuple[list[Logged], ClaimsShown | None]:
    """The results of logs in a folder, and the claims held against them, at the point ``at`` where they name none.

    Raises `LogRefused`, `ProfileError`, `InputError`.
    """
    logged = []
    for one in each_log(folder, logs, texts):
        if isinstance(one, LogRefused):
            raise one
        logged.append(one)
    working("Drawing plots and page")
    return logged, claims_of(logged, texts, at)


def each_log(folder: Path, logs: Sequence[str], texts: Mapping[str, str]) -> Iterator[Logged | LogRefused]:
    """The results of each log in a folder, or why there are none. Raises `ProfileError` for the target."""
    target: Target | None = None
    if TARGET in texts:
        target = target_from(library.load_target(texts[TARGET], TARGET).normalised())
    for number, name in enumerate(logs, 1):
        working(f"Computing {printable(name)}, log {number} of {len(logs)}")
        try:
            yield _results(folder, name, target)
        except LogRefused as error:
            yield error


def claims_of(logged: Sequence[Logged], texts: Mapping[str, str], at: str) -> ClaimsShown | None:
    """The claims held against all logs of a folder. Raises `ProfileError`, `InputError`."""
    if CLAIMS not in texts:
        return None
    return claims_shown(library.load_claims(texts[CLAIMS], CLAIMS), [one.results for one in logged], at)


def _results(folder: Path, name: str, target: Target | None) -> Logged:
    """Of one log. Raises `LogRefused`, also where its lines are sound and what they hold is no run."""
    file = LogFile(folder / name)
    try:
        results = analyse(file.records(), target)
        events = history(LogFile(folder / name).records())
    except LogRefused:
        raise
    except (InputError, ArithmeticError, LookupError, TypeError, ValueError, AttributeError) as error:
        text = f"no figures can be computed from it ({type(error).__name__}: {error})"
        raise LogRefused(str(folder / name), 0, text) from None
    return Logged(results, LogReference(name, file.sha256), events)
