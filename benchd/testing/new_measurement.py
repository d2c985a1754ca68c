"""A package with a new measurement, from the template that is a whole measurement itself."""

from __future__ import annotations

import keyword
import re
import sys
from importlib.util import find_spec
from pathlib import Path

from benchd.errors import InputError
from benchd.measurements import registry

TEMPLATE = Path(__file__).with_name("template")
_WORDS = re.compile(r"[a-z][a-z0-9]*(?:[ _-][a-z0-9]+)*\Z")


def package_of(name: str) -> dict[str, str]:
    """Path -> text of every file of a package with the measurement ``name``, such as "gloss ratio".

    Raises `InputError` for a name that can't be one, or is one already.
    """
    if not _WORDS.match(name):
        raise InputError(f"the name {name!r}: use words of small letters and digits, such as 'gloss ratio'")
    words = re.split("[ _-]", name)
    kind = "_".join(words)
    if kind in sys.stdlib_module_names or keyword.iskeyword(kind):
        raise InputError(f"the name {name!r} is one of Python's own; take another, such as '{name} of light'")
    if find_spec(kind) is not None:
        # Installed, the new package would hide the other, or be hidden by it.
        raise InputError(f"there is a package {kind!r} on this machine already; take another name")
    if registry.is_known(kind):
        raise InputError(f"there is a measurement {kind!r} already, in {registry.claim_of(kind)}; take another name")
    spelled = {
        "gloss_ratio": kind,
        "gloss-ratio": "-".join(words),
        "gloss ratio": " ".join(words),
        "Gloss ratio": " ".join(words).capitalize(),
        "GlossRatio": "".join(word.capitalize() for word in words),
        '"gloss"': f'"{words[0]}"',
        "gloss light": f"{words[0]} light",
    }
    found = {}
    for path in sorted(TEMPLATE.rglob("*.txt")):
        texts = [path.relative_to(TEMPLATE).as_posix().removesuffix(".txt"), path.read_text(encoding="utf-8")]
        for written, wanted in spelled.items():
            texts = [text.replace(written, wanted) for text in texts]
        found[texts[0]] = texts[1]
    return found


def write(name: str, folder: Path) -> tuple[Path, ...]:
    """Write the package into a folder that is not there or empty. Raises `InputError`."""
    files = package_of(name)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(f"{folder} is there already, and not empty; name another folder: --output DIR")
    try:
        for path, text in files.items():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputError(f"{folder} can't be written ({error.strerror}); name another folder: --output DIR") from None
    return tuple(folder / path for path in files)
