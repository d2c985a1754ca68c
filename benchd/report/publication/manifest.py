"""What a publication says of itself: ``publication.json`` for programs, ``README.txt`` for people.

``publication.json`` has the shape ``benchd.publication/1``::

    schema, simulated, notice
    made        {name: version} of what computed it, with the code of benchd and the arithmetic of the processor
    logs        [{file, sha256, complete}] in the order of the page
    target      "target.yaml" where the logs were judged against another target than their own, else null
    claims      "claims.yaml" where a sheet of claims was held against them, else null
    at          the point of a sweep for claims that name none, "brightness=100"; not there where none was stated
    files       {path: SHA-256} of every file of the folder but this one and README.txt
"""

from __future__ import annotations

import hashlib
import json
import platform
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchd import __version__
from benchd.errors import InputError
from benchd.report.words import SIMULATED, count, plain, printable

SCHEMA = "benchd.publication/1"
MANIFEST, README, PAGE = "publication.json", "README.txt", "index.html"
TARGET, CLAIMS, CLAIMS_DATA = "target.yaml", "claims.yaml", "data/claims.json"
LIBRARIES = ("numpy", "aggdraw", "pillow")
"""Besides benchd and Python: what the last digit of a figure and a picture depend on."""

_SHA256 = re.compile(r"[0-9a-f]{64}")
_LOG = re.compile(r"logs/[A-Za-z0-9][A-Za-z0-9-]{0,80}\.log")
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class PublishedLog:
    """One log of a publication. ``file``: its path in the folder."""

    file: str
    sha256: str
    complete: bool

    @property
    def name(self) -> str:
        """What its files are called."""
        return self.file.removeprefix("logs/").removesuffix(".log")


@dataclass(frozen=True, slots=True)
class Manifest:
    """All of ``publication.json``."""

    simulated: bool
    made: Mapping[str, str]
    logs: tuple[PublishedLog, ...]
    target: bool
    claims: bool
    files: Mapping[str, str]
    at: str = ""

    def text(self) -> str:
        """The file, the same for the same content."""
        document: dict[str, Any] = {
            "schema": SCHEMA,
            "simulated": self.simulated,
            "notice": SIMULATED if self.simulated else "",
            "made": dict(self.made),
            "logs": [{"file": one.file, "sha256": one.sha256, "complete": one.complete} for one in self.logs],
            "target": TARGET if self.target else None,
            "claims": CLAIMS if self.claims else None,
            **({"at": self.at} if self.at else {}),
            "files": dict(sorted(self.files.items())),
        }
        return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def manifest_from(text: str, where: str) -> Manifest:
    """The manifest in a text that anyone may have written. Raises `InputError` with one sentence."""
    try:
        found = json.loads(text)
        if not isinstance(found, dict) or found["schema"] != SCHEMA:
            raise ValueError(f"its schema is not {SCHEMA}")
        logs = tuple(
            PublishedLog(_text(one["file"], _LOG), _text(one["sha256"], _SHA256), one["complete"] is True)
            for one in found["logs"]
        )
        if not logs or len({one.file for one in logs}) < len(logs):
            raise ValueError("it names no log, or one twice")
        if found["target"] not in (None, TARGET) or found["claims"] not in (None, CLAIMS):
            raise ValueError("target and claims have other names")
        made = {str(key): _text(value) for key, value in found["made"].items()}
        files = {str(path): _text(digest) for path, digest in found["files"].items()}
        both = bool(found["target"]), bool(found["claims"])
        return Manifest(found["simulated"] is True, made, logs, *both, files, _text(found.get("at", "")))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        why = printable(str(error))[:200]
        raise InputError(f"{where} is damaged ({why}); name a folder that benchd publish wrote") from None


def _text(value: object, pattern: re.Pattern[str] | None = None) -> str:
    if not isinstance(value, str) or (pattern is not None and not pattern.fullmatch(value)):
        raise ValueError(f"{value!r} stands where it must not")
    return value


def names_of(samples: Sequence[tuple[str, str]]) -> list[str]:
    """A name for the files of each log, from its sample or else its file's stem: all different, safe everywhere."""
    found: list[str] = []
    for sample, stem in samples:
        base = (plain(sample) or plain(stem) or "log")[:_LONGEST].strip("-")
        name, number = base, 1
        while name.lower() in (one.lower() for one in found):
            number += 1
            name = f"{base}-{number}"
        found.append(name)
    return found


def made_with(arithmetic: str) -> dict[str, str]:
    """What computes here: the same on another machine gives the same bits."""
    from importlib import metadata  # a few commands need it

    return {
        "benchd": __version__,
        "code of benchd": _code(),
        "python": platform.python_version(),
        **{name: metadata.version(name) for name in LIBRARIES},
        "arithmetic": f"{platform.machine()}, {arithmetic}",
    }


def _code() -> str:
    """A digest of what makes figures, pages and plots: one version may have been changed."""
    package = Path(__file__).resolve().parents[2]
    digest = hashlib.sha256()
    for room in ("analysis", "measurements", "report"):
        for path in sorted(path for path in (package / room).rglob("*") if path.suffix in (".py", ".css")):
            digest.update(path.relative_to(package).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def readme(manifest: Manifest, samples: Sequence[str]) -> str:
    """The short file: what the folder is, how it is computed again, what that shows and what it can't."""
    simulated = (
        [f"{SIMULATED}: a simulator took part in these figures. They say nothing of any real display.", ""]
        if manifest.simulated
        else []
    )
    unfinished = [one.file for one in manifest.logs if not one.complete]
    versions = [f"  {name} {version}" for name, version in manifest.made.items()]
    sums = [f"{digest}  {path}" for path, digest in sorted(manifest.files.items())]
    more = [f"  {TARGET:<12} the target that they were judged against"] if manifest.target else []
    point = f", at {printable(manifest.at)} where they name no point" if manifest.at else ""
    more += [f"  {CLAIMS:<12} the claims that were held against them{point}"] if manifest.claims else []
    return "\n".join(
        [
            *simulated,
            f"Results of {', '.join(printable(one) or 'a sample not named' for one in samples)}, "
            f"from {count(len(manifest.logs), 'log')}, with all that they rest on.",
            *(f"NOT ENDED: {file}; what was not measured is absent." for file in unfinished),
            "",
            "  index.html   the page: figures, plots, tables, conditions",
            "  data/        every figure as JSON (benchd.results/2) and as CSV",
            "  plots/       every plot as SVG and PNG",
            "  logs/        every reading, as it was taken",
            *more,
            "",
            "To compute every figure again from the logs, install benchd with the versions below, and in this folder:",
            "",
            "  benchd recheck .",
            "",
            "With the same versions every file is the same to the bit; with others figures agree to the digits that",
            "are printed. What differs is named: the file, what stands there and what is computed. The files alone:",
            "",
            f"  sha256sum --check {README}",
            "",
            "What this can't show: a log that was altered and then published anew agrees with its page. Nobody can",
            "see that from the folder; compare the check sums of the logs with those that are given elsewhere by",
            "whoever measured.",
            "",
            "Computed with:",
            *versions,
            "",
            f"SHA-256 ({MANIFEST} has the same):",
            *sums,
            "",
        ]
    )
