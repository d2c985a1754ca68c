"""``benchd recheck``: every file of a publication computed again from its logs, and what differs named."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from benchd.analysis.arithmetic import arithmetic
from benchd.command.output import print_as, width
from benchd.command.show.publication import claims_of, each_log, working
from benchd.errors import InputError, LogRefused, ProfileError
from benchd.exits import Exit
from benchd.report.page.results_page import Logged
from benchd.report.publication.contents import computed_files, own_files, sha256
from benchd.report.publication.differences import Difference, differences, json_of
from benchd.report.publication.folder import files_in, manifest_in, read_file
from benchd.report.publication.manifest import CLAIMS, MANIFEST, README, TARGET, Manifest, made_with
from benchd.report.publication.printed_digits import printed_differences
from benchd.report.sections.claims import ClaimsShown
from benchd.report.terminal.text_page import Page
from benchd.report.words import SIMULATED, by_reason, count, grouped, printable, wrapped

MOST_OF_A_FILE = 5
"""So many places of one file are printed; ``--json`` has all."""


class Rechecked(NamedTuple):
    """What came of it. ``others``: what computed it is not what computes here; ``left``: file -> not compared.

    ``by_sum``: files of which the check sums alone were compared, as one of ``unsound`` that they rest on differs.
    """

    folder: str
    simulated: bool
    files: int
    logs: int
    others: list[str]
    found: list[Difference]
    left: dict[str, str]
    by_sum: list[str]
    unsound: list[str]


def main(arguments: Namespace) -> Exit:
    """Compute every file again, and name what differs; exit status 1 then."""
    try:
        found = recheck(Path(arguments.folder))
    finally:
        working("")
    print_as(arguments.format, lambda: _json(found), lambda: _text(found))
    return Exit.NO if found.found else Exit.COMPLETE


def recheck(folder: Path) -> Rechecked:
    """Hold every file of a publication against what its logs give.

    Raises `InputError` for a folder that is none, or holds what no publication does.
    """
    there = files_in(folder)
    manifest = manifest_in(folder, there)
    here = made_with(arithmetic())
    names = dict.fromkeys((*manifest.made, *here))
    others = [
        f"{name} {manifest.made.get(name, 'none')}, here {here.get(name, 'none')}"
        for name in names
        if manifest.made.get(name) != here.get(name)
    ]
    if len(others) > 1:  # another numpy has other names for the same instructions
        others = [one for one in others if not one.startswith("arithmetic ")] or others
    texts = {name: read_file(folder, name).decode(errors="replace") for name in _given(manifest) if name in there}
    logged, claims, faults = _inputs(folder, there, manifest, texts)
    try:
        return _compared(folder, there, manifest, others, logged, claims, faults)
    except ValueError as error:  # a log whose figures are not finite
        where, why, instead = "its figures", printable(str(error)), "figures that can be shown"
        faults = [Difference(one.file, where, why, instead) for one in manifest.logs]
        return _compared(folder, there, manifest, others, [None] * len(faults), None, faults)


def _inputs(
    folder: Path, there: Mapping[str, int], manifest: Manifest, texts: Mapping[str, str]
) -> tuple[list[Logged | None], ClaimsShown | None, list[Difference]]:
    """The results of each log, None where it gives none, the claims, and what was at fault in any of these files."""
    logs = [one.file for one in manifest.logs]
    faults = [
        Difference(path, "the file", "nothing", "a file") for path in (*logs, *_given(manifest)) if path not in there
    ]
    nothing: list[Logged | None] = [None] * len(logs)
    if any(one.file == TARGET for one in faults):
        return nothing, None, faults
    logged: dict[str, Logged] = {}
    standing = [name for name in logs if name in there]
    try:
        for name, one in zip(standing, each_log(folder, standing, texts), strict=True):
            if isinstance(one, LogRefused):
                at = f"line {one.line}" if one.line else "the file"
                why = printable(one.text.partition("; `benchd")[0])
                faults.append(Difference(name, at, why, "a log that is sound"))
            else:
                logged[name] = one
    except ProfileError as error:
        return nothing, None, [*faults, *_of_profile(error)]
    claims = None
    working("Drawing plots and page")
    try:
        claims = None if faults else claims_of(list(logged.values()), texts, manifest.at)
    except ProfileError as error:
        faults += _of_profile(error)
    except InputError:
        faults.append(Difference(MANIFEST, "at", printable(manifest.at), "a point that the logs sweep"))
    return [logged.get(name) for name in logs], claims, faults


def _of_profile(error: ProfileError) -> list[Difference]:
    return [Difference(one.file, f"line {one.line}", printable(one.text), "no fault") for one in error.faults]


def _given(manifest: Manifest) -> list[str]:
    return [*([TARGET] if manifest.target else []), *([CLAIMS] if manifest.claims else [])]


def _compared(
    folder: Path,
    there: Mapping[str, int],
    manifest: Manifest,
    others: list[str],
    each: Sequence[Logged | None],
    claims: ClaimsShown | None,
    faults: Sequence[Difference],
) -> Rechecked:
    found = list(faults)
    left: dict[str, str] = {}
    logged = [one for one in each if one]
    digests = {one.log.file: one.log.sha256 for one in logged}
    digests |= {path: sha256(read_file(folder, path)) for path in _given(manifest) if path in there}
    if README in there:
        found += _altered_inputs(folder, manifest, digests)
    else:
        found.append(Difference(README, "the file", "nothing", "a file"))
    unsound = list(dict.fromkeys(one.file for one in faults))
    digests |= {path: "" for path in unsound if path not in digests}
    files = len(manifest.files.keys() - digests.keys())
    for number, (path, computed) in enumerate(computed_files(each, claims, page=not faults), 1):
        working(f"Comparing {printable(path)}, file {number} of {files}")
        digests[path] = sha256(computed)
        if path not in there:
            found.append(Difference(path, "the file", "nothing", "a file"))
            continue
        stands = read_file(folder, path)
        if not others:
            found += differences(path, stands, computed)
        elif stands != computed:
            several, not_compared = printed_differences(path, stands, computed)
            found += several or _by_digest(path, stands, manifest)
            if not_compared:
                left[path] = not_compared
            digests[path] = manifest.files.get(path, "")
    if faults:
        missing = sorted(manifest.files.keys() - there.keys() - digests.keys())
        found += [Difference(path, "the file", "nothing", "a file") for path in missing]
    rest = sorted(manifest.files.keys() & there.keys() - digests.keys()) if others or faults else []
    for path in rest:
        digests[path] = manifest.files[path]
        found += _by_digest(path, read_file(folder, path), manifest)
        if not faults:
            left[path] = "not made by this version"
    own = {MANIFEST: b"", README: b""}
    if not faults:
        target, claimed, at = manifest.target, manifest.claims, manifest.at
        own = own_files(logged, manifest.made, digests, target=target, claims=claimed, at=at)
        for path, computed in own.items():
            found += differences(path, read_file(folder, path), computed) if path in there else []
    extra = there.keys() - digests.keys() - own.keys()
    found += [Difference(path, "the file", "a file", "nothing") for path in sorted(extra)]
    simulated = manifest.simulated or any(one.results.simulated for one in logged)
    return Rechecked(
        str(folder), simulated, len(there), len(each), others, found, left, rest if faults else [], unsound
    )


def _by_digest(path: str, stands: bytes, manifest: Manifest) -> list[Difference]:
    """A file that other versions made and that is not as it was published."""
    digest, published = sha256(stands), manifest.files.get(path, "none")
    return [] if digest == published else [Difference(path, "SHA-256", digest, f"{published} when it was published")]


def _altered_inputs(folder: Path, manifest: Manifest, digests: Mapping[str, str]) -> list[Difference]:
    """Logs, target and claims that are not those that were published, by at least two of the places that name them; and
    versions that are another one in the short file.

    They are what all else is computed from, so that nothing but their check sums shows an alteration in themselves.
    """
    lines = read_file(folder, README).decode(errors="replace").splitlines()
    versions = [(name, version) for name, version in manifest.made.items() if f"  {name} {version}" not in lines]
    several = [Difference(MANIFEST, f"made/{name}", version, f"another one in {README}") for name, version in versions]
    listed = {path: digest for digest, _, path in (line.partition("  ") for line in lines)}
    heads = {one.file: one.sha256 for one in manifest.logs}
    for path, digest in digests.items():
        stated = [manifest.files.get(path), listed.get(path), heads.get(path, manifest.files.get(path))]
        stated.append(_sha256_in_data(folder, path))
        wrong = [one for one in stated if one not in (None, digest)]
        if len(wrong) > 1:
            several.append(Difference(path, "SHA-256", digest, f"{wrong[0]} when it was published"))
    return several


def _sha256_in_data(folder: Path, path: str) -> str | None:
    """Of a log: the check sum that its data was computed from; None where that can't be read."""
    if path in (TARGET, CLAIMS):
        return None
    name = path.removeprefix("logs/").removesuffix(".log")
    try:
        found = json_of(read_file(folder, f"data/{name}.json").decode(errors="replace"))
        return str(found["log"]["sha256"])
    except (InputError, ValueError, KeyError, TypeError):
        return None


def _json(found: Rechecked) -> dict[str, object]:
    return {
        "schema": "benchd.recheck/1",
        "simulated": found.simulated,
        "notice": SIMULATED if found.simulated else "",
        "same": not found.found,
        "same_versions": not found.others,
        "files": found.files,
        "logs": found.logs,
        "other_versions": found.others,
        "differences": [one._asdict() for one in found.found],
        "not_compared": found.left,
        "check_sum_only": found.by_sum,
    }


def _few(paths: Sequence[str]) -> str:
    return printable(", ".join(paths)) if len(paths) < 3 else f"{len(paths)} files"


def _text(found: Rechecked) -> str:
    lines = Page().simulated(found.simulated)
    by_file = grouped((one.file, one) for one in found.found)
    for file, several in by_file.items():
        lines.append(f"DIFFERS  {printable(file)}")
        for one in several[:MOST_OF_A_FILE]:
            lines += [
                f"  {printable(one.where)}",
                f"    stands there  {one.stands}",
                f"    computed      {one.computed}",
            ]
        if len(several) > MOST_OF_A_FILE:
            lines.append(f"  and {len(several) - MOST_OF_A_FILE} more; --json has all")
    if found.others:
        lines.append(f"Computed with other versions: {'; '.join(map(printable, found.others))}.")
    if found.left:
        by_what = by_reason((what, path) for path, what in found.left.items())
        lines.append(f"Not compared: {'; '.join(f'{what} of {_few(paths)}' for what, paths in by_what)}.")
    if found.by_sum:
        because = f"{_few(found.unsound)} {'differs' if len(found.unsound) == 1 else 'differ'}"
        text = f"Not computed again, because {because}; only their check sums were compared: {', '.join(found.by_sum)}."
        lines += wrapped(printable(text), width(), "", "  ")
    if found.unsound:
        lines.append(f"{MANIFEST} and {README} rest on all of it, and were not compared as a whole.")
    how = "to the digits that are printed" if found.others else "to the bit"
    of = f"{count(found.files, 'file')} of {count(found.logs, 'log')}"
    if by_file:
        lines.append(f"{count(len(by_file), 'file')} of {found.folder} {'differs' if len(by_file) == 1 else 'differ'}.")
    else:
        lines.append(f"{printable(found.folder)}: {of}, computed again: the same {how}.")
    return "\n".join(lines) + "\n"
