"""publish and recheck: a folder that anyone computes again; whatever is altered in it is named."""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import subprocess
from pathlib import Path
from zlib import crc32

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.cli import main
from benchd.command.show import publication
from benchd.command.show.recheck import recheck
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.report.drawing.png_file import png_file
from benchd.report.publication import folder as folder_room
from benchd.report.publication.contents import sha256
from benchd.report.publication.differences import differences
from benchd.report.publication.manifest import MANIFEST, README, manifest_from, names_of
from benchd.report.publication.printed_digits import printed_differences
from tests.report import logged

NUMPY = re.compile(r'(numpy"?:? "?)[0-9.]+')


def written(path: Path, *, white: float = 384.0, sample: str = "plover-27/1", whole: bool = True) -> Path:
    records = [*logged.records("quick", white_cd_m2=white, simulated=True)]
    return logged.write(path, records if whole else records[:-4], sample=sample)


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Of one log, with claims and a target of its own; nobody may change it."""
    folder = tmp_path_factory.mktemp("published")
    log = written(folder / "a.log")
    words = ["publish", str(log), "-o", str(folder / "out"), "--claims", "plover-27", "--target", "bt1886"]
    assert main(words) == Exit.COMPLETE
    return folder / "out"


@pytest.fixture
def copy(published: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(published, tmp_path / "out"))


def files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def mended(log: bytes) -> bytes:
    """A log with the check sum of every line right."""
    tail = len(b',"crc":"00000000"}\n')
    heads = (line[:-tail] for line in log.splitlines(keepends=True))
    return b"".join(head + b',"crc":"%08x"}\n' % crc32(head) for head in heads)


def altered(folder: Path, path: str, draw: random.Random, among: str = r"[0-9]") -> str:
    """One digit of a file, drawn, is another one, or one bit of a picture; what stood there."""
    content = (folder / path).read_bytes()
    if path.endswith(".png"):
        at = draw.randrange(len(content))
        changed = content[at] ^ 1 << draw.randrange(8)
    else:
        at = draw.choice([match.start() for match in re.finditer(among.encode(), content)])
        changed = draw.choice([digit for digit in b"0123456789" if digit != content[at]])
    found = content[:at] + bytes([changed]) + content[at + 1 :]
    (folder / path).write_bytes(mended(found) if path.endswith(".log") else found)
    return content[max(0, at - 30) : at + 20].decode(errors="replace")


def test_what_is_published_is_the_same_to_the_bit_and_says_simulated_everywhere(
    published: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert files(published)[:7] == [
        *(README, "claims.yaml", "data/claims.json", "data/plover-27-1.csv", "data/plover-27-1.json"),
        *("index.html", "logs/plover-27-1.log"),
    ]
    monkeypatch.setattr(publication, "rewrites", lambda: True)
    capsys.readouterr()
    assert main(["recheck", str(published)]) == Exit.COMPLETE
    said = capsys.readouterr()
    assert said.out == (
        "SIMULATED: a simulator took part in these figures\n"
        f"{published}: 13 files of 1 log, computed again: the same to the bit.\n"
    )
    lines = said.err.split("\r\x1b[K")
    assert lines[1] == "Computing logs/plover-27-1.log, log 1 of 1"
    assert lines[3] == "Comparing index.html, file 1 of 8"
    assert not lines[-1], "the line is gone before the answer"
    for path in files(published):
        if not path.endswith((".png", ".log", ".yaml")):
            assert "SIMULATED" in (published / path).read_text(encoding="utf-8"), path
    sums = subprocess.run(["sha256sum", "--check", README], cwd=published, capture_output=True, text=True, check=False)
    assert sums.returncode == 0, sums.stderr
    assert sums.stdout.count(": OK") == 11
    text = (published / README).read_text(encoding="utf-8")
    assert "What this can't show: a log that was altered and then published anew" in text
    assert "benchd recheck ." in text


FILES = 13
SEEDS = (*range(FILES), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(FILES, 5 * FILES)))
"""Each file once, and again with ``-m long``."""


@pytest.mark.parametrize("seed", SEEDS)
def test_one_digit_altered_anywhere_is_named(published: Path, tmp_path: Path, seed: int) -> None:
    """A digit at a drawn place of each file; in a log the check sum of its line is mended."""
    draw = random.Random(seed)
    copy = Path(shutil.copytree(published, tmp_path / "out"))
    path = files(copy)[seed % len(files(copy))]
    among = r'(?<="xyz":\[)[0-9]' if path.endswith(".log") else r"[0-9]"
    stood = altered(copy, path, draw, among)
    try:
        found = recheck(copy)
    except InputError:
        assert path == MANIFEST, f"seed {seed}: {path} at {stood!r}"
        return
    named = [one for one in found.found if one.file == path]
    assert named, f"seed {seed}: {path} at {stood!r} is not named, but {found.found[:3]}"
    for one in named:
        assert one.where
        assert one.stands != one.computed


def test_an_altered_reading_shows_in_the_figures_that_rest_on_it(copy: Path) -> None:
    log = copy / "logs/plover-27-1.log"
    text = log.read_bytes()
    at = text.index(b",", text.rindex(b'"xyz":[')) + 1  # of its luminance
    log.write_bytes(mended(text[:at] + (b"5" if text[at : at + 1] != b"5" else b"4") + text[at + 1 :]))
    found = recheck(copy).found
    assert (found[0].file, found[0].where) == ("logs/plover-27-1.log", "SHA-256")
    figures = [one.where for one in found if one.file == "data/plover-27-1.json" and one.where.endswith("/value")]
    assert figures, "the figures are named"


def test_a_log_altered_with_all_its_check_sums_still_gives_other_figures(
    copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = copy / "logs/plover-27-1.log"
    before = json.loads((copy / MANIFEST).read_text())["logs"][0]["sha256"]
    text = log.read_bytes()
    at = text.index(b",", text.rindex(b'"xyz":[')) + 1  # of its luminance
    log.write_bytes(mended(text[:at] + b"9" + text[at + 1 :]))
    sums = sha256(log.read_bytes())
    for path in files(copy):
        if path.endswith((".json", ".csv", ".html", ".txt")):
            content = (copy / path).read_bytes().replace(before.encode(), sums.encode())
            (copy / path).write_bytes(content.replace(before[:16].encode(), sums[:16].encode()))
    assert main(["recheck", str(copy)]) == Exit.NO
    said = capsys.readouterr().out
    assert "DIFFERS  data/plover-27-1.json" in said
    assert "DIFFERS  index.html" in said


def test_files_that_are_missing_more_or_swapped_are_named(tmp_path: Path) -> None:
    logs = [written(tmp_path / f"{name}.log", white=white) for name, white in (("a", 384.0), ("b", 400.0))]
    folder = tmp_path / "out"
    assert main(["publish", *map(str, logs), "-o", str(folder)]) == Exit.COMPLETE
    assert not recheck(folder).found
    (folder / "plots" / "more.svg").write_text("<svg/>")
    (folder / "data" / "plover-27-1.csv").unlink()
    named = {(one.file, one.stands) for one in recheck(folder).found}
    assert named == {("plots/more.svg", "a file"), ("data/plover-27-1.csv", "nothing")}
    first, second = folder / "logs" / "plover-27-1.log", folder / "logs" / "plover-27-1-2.log"
    a, b = first.read_bytes(), second.read_bytes()
    first.write_bytes(b)
    second.write_bytes(a)
    assert {"logs/plover-27-1.log", "logs/plover-27-1-2.log"} <= {one.file for one in recheck(folder).found}
    first.write_bytes(b[: len(b) // 2] + b"0" + b[len(b) // 2 :])
    damaged = recheck(folder)
    assert damaged.unsound == ["logs/plover-27-1.log"]
    assert damaged.found[0].file == "logs/plover-27-1.log"
    assert damaged.found[0].where.startswith("line ")
    assert named <= {(one.file, one.stands) for one in damaged.found}
    second.unlink()
    assert recheck(folder).unsound == ["logs/plover-27-1-2.log", "logs/plover-27-1.log"]


def test_beside_a_log_that_differs_all_else_is_checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logs = [written(tmp_path / f"{name}.log", white=white) for name, white in (("a", 384.0), ("b", 400.0))]
    folder = tmp_path / "out"
    assert main(["publish", *map(str, logs), "-o", str(folder), "--claims", "plover-27"]) == Exit.COMPLETE
    of_second = {path for path in files(folder) if "log2-" in path or path.startswith("data/plover-27-1-2.")}
    of_first = {path for path in files(folder) if "log1-" in path or path.startswith("data/plover-27-1.")}
    of_both = {"index.html", "data/claims.json"}
    log = folder / "logs" / "plover-27-1-2.log"
    log.write_bytes(log.read_bytes().replace(b"xyz", b"xyy", 1))
    found = recheck(folder)
    assert {one.file for one in found.found} == {"logs/plover-27-1-2.log"}
    assert set(found.by_sum) == of_second | of_both
    altered_too = [min(of_first), max(of_first), min(of_second), max(of_second), *of_both]
    draw = random.Random(7)
    for path in altered_too:
        altered(folder, path, draw)
    found = recheck(folder)
    assert {one.file for one in found.found} == {"logs/plover-27-1-2.log", *altered_too}
    sums = {one.file for one in found.found if one.where == "SHA-256"}
    assert sums == set(altered_too) - of_first, "the files of a sound log are computed"
    capsys.readouterr()
    assert main(["recheck", str(folder)]) == Exit.NO
    said = " ".join(capsys.readouterr().out.split())
    assert "because logs/plover-27-1-2.log differs; only their check sums were compared: data/claims.json" in said
    assert f"{len(altered_too) + 1} files of {folder} differ." in said
    assert main(["recheck", str(folder), "--json"]) == Exit.NO
    assert json.loads(capsys.readouterr().out)["check_sum_only"] == found.by_sum


@pytest.mark.parametrize("gone", ["claims.yaml", "target.yaml", README])
def test_a_file_that_is_missing_hides_no_other(copy: Path, gone: str) -> None:
    (copy / gone).unlink()
    picture = next(path for path in files(copy) if path.endswith(".svg"))
    altered(copy, picture, random.Random(3))
    assert {one.file for one in recheck(copy).found} == {gone, picture}


@pytest.fixture
def older(copy: Path) -> Path:
    """As another version of numpy would have published it."""
    for path in (MANIFEST, README):
        content = (copy / path).read_text(encoding="utf-8")
        (copy / path).write_text(NUMPY.sub(r"\g<1>1.0.0", content), encoding="utf-8")
    return copy


def test_other_versions_are_compared_to_the_printed_digits(older: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = older / "data/plover-27-1.json"
    document = json.loads(data.read_text(encoding="utf-8"))
    white = document["blocks"]["luminance"]["white"]
    white["value"] *= 1 + 1e-9
    data.write_text(json.dumps(document), encoding="utf-8")
    assert main(["recheck", str(older)]) == Exit.NO, "its check sum is not the published one"
    assert "DIFFERS  data/plover-27-1.json\n  SHA-256" in capsys.readouterr().out
    was = json.loads((older / MANIFEST).read_text())["files"]["data/plover-27-1.json"]
    for path in (MANIFEST, README):
        content = (older / path).read_text(encoding="utf-8")
        (older / path).write_text(content.replace(was, sha256(data.read_bytes())), encoding="utf-8")
    assert main(["recheck", str(older)]) == Exit.COMPLETE
    said = capsys.readouterr().out
    assert "numpy 1.0.0, here " in said
    assert "the same to the digits that are printed" in said


@pytest.mark.parametrize("seed", range(3))
def test_a_digit_altered_among_other_versions_is_named(older: Path, seed: int) -> None:
    draw = random.Random(seed)
    for path, place in (("data/plover-27-1.json", r'(?<="value": )[1-9]'), ("index.html", r"(?<=>)[0-9](?=[0-9.]+<)")):
        content = (older / path).read_bytes()
        stood = altered(older, path, draw, place)
        found = [one for one in recheck(older).found if one.file == path]
        assert found, f"seed {seed}: {path} at {stood!r}"
        assert found[0].where != "SHA-256", "the figure itself is named"
        (older / path).write_bytes(content)
    picture = next(path for path in files(older) if path.endswith(".png"))
    altered(older, picture, draw)
    assert [one.file for one in recheck(older).found] == [picture]


@pytest.mark.parametrize("kind", ["link", "pipe", "large", "deep", "none", "manifest", "logs"])
def test_a_hostile_folder_is_refused_in_one_sentence(copy: Path, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    page = copy / "index.html"
    if kind == "link":
        page.unlink()
        page.symlink_to("/etc/passwd")
    elif kind == "pipe":
        page.unlink()
        os.mkfifo(page)
    elif kind == "large":
        monkeypatch.setattr(folder_room, "MAX_BYTES", 1000)
    elif kind == "deep":
        (copy / "plots" / "a" / "b").mkdir(parents=True)
    elif kind == "none":
        (copy / MANIFEST).unlink()
    elif kind == "manifest":
        (copy / MANIFEST).write_text("[" * 100_000)
    else:
        document = json.loads((copy / MANIFEST).read_text())
        document["logs"][0]["file"] = "../../etc/passwd"
        (copy / MANIFEST).write_text(json.dumps(document))
    with pytest.raises(InputError) as found:
        recheck(copy)
    assert "\n" not in str(found.value)


def test_a_folder_that_is_no_publication_is_said_to_be_none_whatever_is_in_it(tmp_path: Path) -> None:
    (tmp_path / "a" / "b" / "c").mkdir(parents=True)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError) as found:
        recheck(tmp_path)
    assert str(found.value).startswith(f"{tmp_path} is no publication (it has no publication.json); ")


def test_whole_or_not_at_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    log, folder = written(tmp_path / "a.log"), tmp_path / "own"
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")

    def published(*words: str) -> tuple[int, str]:
        code = main(["publish", str(log), "-o", str(tmp_path / words[0]), *words[1:]])
        return code, capsys.readouterr().err

    code, said = published("own", "--yes")
    assert (code, files(folder)) == (Exit.BAD_INPUT, ["mine.txt"])
    assert "left as they are" in said
    assert published("out")[0] == Exit.COMPLETE
    code, said = published("out")
    assert code == Exit.BAD_INPUT
    assert "replace it with --yes" in said
    (tmp_path / "out" / "mine.txt").write_text("mine")
    assert "mine.txt, which no publication wrote" in published("out", "--yes")[1]
    (tmp_path / "out" / "mine.txt").unlink()
    assert published("out", "--yes")[0] == Exit.COMPLETE
    assert not recheck(tmp_path / "out").found

    def full(*_: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    code, said = published("full")
    assert code == Exit.BAD_INPUT
    assert "no space left on device; nothing was left there" in said
    assert not (tmp_path / "full").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.log", "out", "own"]


def test_odd_names_twins_and_logs_that_are_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert names_of([("../../x", "a"), ("X", "b"), ("", "2026-03-02T1812"), ("", "…"), ("ä/" + "n" * 99, "c")]) == [
        *("x", "X-2", "2026-03-02T1812", "log", "n" * 60)
    ]
    names = names_of([("a/1", "x")] * 3)
    assert names == ["a-1", "a-1-2", "a-1-3"]
    log, part = written(tmp_path / "a.log"), written(tmp_path / "part.log", sample="../odd\t<b>", whole=False)
    assert main(["publish", str(log), str(part), "-o", str(tmp_path / "out")]) == Exit.COMPLETE
    assert "part.log has not ended" in capsys.readouterr().err
    assert "NOT ENDED: logs/odd-b.log" in (tmp_path / "out" / README).read_text(encoding="utf-8")
    assert not recheck(tmp_path / "out").found
    broken = tmp_path / "broken.log"
    broken.write_bytes(log.read_bytes()[:3000] + b"x" + log.read_bytes()[3001:])
    (tmp_path / "none.log").write_text("hello")
    for words, sentence in (
        ((log, log), "a log counts once"),
        ((broken,), "broken.log:"),
        ((tmp_path / "none.log",), "is no log"),
        ((tmp_path / "gone.log",), "there is no log"),
        ((tmp_path,), "there is no log"),
    ):
        assert main(["publish", *map(str, words), "-o", str(tmp_path / "no")]) == Exit.BAD_INPUT
        said = capsys.readouterr().err
        assert sentence in said
        assert ".part" not in said
        assert not (tmp_path / "no").exists()
    assert {path.name for path in tmp_path.iterdir()} == {"a.log", "broken.log", "none.log", "out", "part.log"}


@given(
    size=st.tuples(st.integers(1, 5), st.integers(1, 5)),
    drawn=st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=3),
    colour=st.tuples(*[st.integers(0, 255)] * 3).filter(lambda one: one != (1, 2, 3)),
)
def test_of_a_picture_the_first_pixel_that_differs_is_told_with_its_colours(
    size: tuple[int, int], drawn: list[tuple[int, int]], colour: tuple[int, int, int]
) -> None:
    columns, rows = size
    places = {(down % rows, across % columns) for across, down in drawn}
    before = bytes((1, 2, 3)) * (columns * rows)
    after = bytearray(before)
    for down, across in places:
        at = 3 * (down * columns + across)
        after[at : at + 3] = bytes(colour)
    [one] = differences("a.png", *(png_file(pixels, columns, 96, {}) for pixels in (bytes(after), before)))
    down, across = min(places)
    where = f"pixel {across} across, {down} down, counted from 0"
    assert one.where == where if len(places) == 1 else one.where.startswith(f"{where}; others within ")
    assert (one.stands, one.computed) == ("#" + bytes(colour).hex(), "#010203")


def test_what_differs_is_shown_with_what_is_around_it() -> None:
    [one] = differences("a.txt", b"x\nwhite 349.8 cd/m2\n", b"x\nwhite 349.9 cd/m2\n")
    assert one[1:] == ("line 2", "white 349.8 cd/m2", "white 349.9 cd/m2")
    [one] = differences("a.json", b'{"a": [1, {"b": 2}]}', b'{"a": [1, {"b": 3}]}')
    assert one[1:] == ("a/1/b", "2", "3")
    [one] = differences("a.json", b'{"a": 94.53855060643354}', b'{"a": 94.53855060643355}')
    assert one[1:] == ("a", "94.53855060643354", "94.53855060643355"), "the same float, other digits"
    [[one], _] = printed_differences("a.json", b'{"value": 1.50, "k": 2}', b'{"value": 2.25, "k": 2}')
    assert one[1:] == ("value", "1.50", "2.25")
    [one] = differences("a.json", b'{"a":  1}', b'{"a": 1}')
    assert one.where == "line 1"
    [one] = differences("a.csv", b"path,value\r\nw,2\r\n", b"path,value\r\nw,3\r\n")
    assert one[1:] == ("row 2 (w), value", "2", "3")
    for broken in (b"\xff\xfe", b"", b'{"a": ' * 10_000, b"a\x00b"):
        for name in ("a.json", "a.csv", "a.html", "a.svg"):
            assert [*differences(name, broken, b'{"a": 1}')], (name, broken[:20])
    with pytest.raises(InputError, match="name a folder that benchd publish wrote"):
        manifest_from("{}", "x")
