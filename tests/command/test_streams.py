"""What benchd prints to may be closed, full or gone: a run goes on, results say so, nothing is an unknown error."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import benchd as benchd_package
from benchd.command.streams import STAND_INS, mend_streams
from benchd.run.log.journal import LogFile
from benchd.run.log.records import fold
from tests.command.conftest import Benchd, environment
from tests.command.terminal import at_terminal


def shell(folder: Path, line: str) -> subprocess.CompletedProcess[str]:
    """``benchd`` in ``line`` of a shell; the exit code is that of benchd, also before a pipe."""
    text = f'set -o pipefail; benchd() {{ "{sys.executable}" -m benchd "$@"; }}; {line}'
    return subprocess.run(
        ["bash", "-c", text],
        cwd=folder,
        env=environment(folder),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )


def complete(log: Path) -> bool:
    return fold(LogFile(log).records()).ended


@pytest.mark.parametrize("where", ["2>&-", "2>/dev/full", ">&- 2>&- <&-", "2>&1 | head -n 1"])
def test_a_run_goes_on_when_nobody_takes_its_messages(tmp_path: Path, where: str) -> None:
    done = shell(tmp_path, f"benchd run quick --bench sim-office --log a.log {where}")
    assert done.returncode == 0, done.stderr
    assert complete(tmp_path / "a.log")


def test_results_that_can_not_be_written_are_one_sentence(tmp_path: Path, benchd: Benchd) -> None:
    benchd("check", "--bench", "sim-office", "--log", "a.log")
    for form in ("", "--json", "--format csv"):
        done = shell(tmp_path, f"benchd results a.log {form} >/dev/full")
        assert (done.returncode, done.stderr.count("\n")) == (1, 1), done.stderr
        assert "the results can't be written to the output (No space left on device)" in done.stderr
        assert shell(tmp_path, f"benchd results a.log {form} | head -n 1").returncode == 0
        assert shell(tmp_path, f"benchd results a.log {form} >&-").returncode == 0


def test_a_poor_character_set_costs_signs_not_results(tmp_path: Path, benchd: Benchd) -> None:
    benchd("check", "--bench", "sim-office", "--log", "a.log")
    whole = shell(tmp_path, "PYTHONIOENCODING=utf-8 benchd results a.log --details").stdout
    for how in ("PYTHONIOENCODING=ascii", "LC_ALL=C PYTHONUTF8=0 PYTHONCOERCECLOCALE=0"):
        done = shell(tmp_path, f"{how} benchd results a.log --details")
        assert done.returncode == 0
        assert "luminance - full screen" in done.stdout
        assert " +/- " in done.stdout
        assert done.stdout == "".join(STAND_INS.get(sign, sign) for sign in whole)
    said = shell(tmp_path, "LC_ALL=C PYTHONUTF8=0 PYTHONCOERCECLOCALE=0 benchd log verify a.log none.log")
    assert said.stderr.isascii()


@given(
    text=st.text(st.characters(exclude_categories=("Cs",)))
    | st.text(st.sampled_from([*STAND_INS, "a", '"', "é", "山"]))
)
def test_what_a_character_set_lacks_has_a_stand_in_or_is_the_same_in_json(text: str) -> None:
    mend_streams()
    for charset, most in (("ascii", 127), ("latin-1", 255)):
        data = json.dumps({"name": text}, ensure_ascii=False).encode(charset, "benchd.stand-ins").decode(charset)
        shown = "".join(sign if ord(sign) <= most else STAND_INS.get(sign, sign) for sign in text)
        assert json.loads(data) == {"name": shown}


def test_every_sign_in_our_texts_has_a_stand_in() -> None:
    texts = [path.read_text(encoding="utf-8") for path in Path(benchd_package.__file__).parent.rglob("*.py")]
    written = set("".join(texts)) | {
        chr(int(code, 16)) for text in texts for code in re.findall(r"\\u([0-9a-f]{4})", text)
    }
    assert {sign for sign in written if not sign.isascii() and sign.isprintable()} - set("─│├└ñ") <= STAND_INS.keys()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--sample", b"\xff"), "is not UTF-8 text"),
        (("--sample", "two\nlines"), "--sample 'two\\nlines': only printable characters"),
        (("--note", "\x1b[31m"), "only printable characters"),
        (("--log", "."), ". is a folder; name a file in it"),
        (("--log", "plan.yaml/a.log"), "is no folder"),
    ],
)
def test_arguments_that_would_spoil_a_log_are_refused_before_anything_starts(
    tmp_path: Path, words: tuple[str, str | bytes], says: str
) -> None:
    (tmp_path / "plan.yaml").write_text("", encoding="utf-8")
    command: list[str | bytes] = [sys.executable, "-m", "benchd", "run", "quick", "--bench", "sim-office", *words]
    done = subprocess.run(
        command, cwd=tmp_path, env=environment(tmp_path), capture_output=True, text=True, check=False, timeout=600
    )
    assert done.returncode == 2, done.stderr
    assert says in done.stderr
    assert not (tmp_path / "data" / "benchd" / "logs").exists()


def test_two_logs_of_one_second_get_two_names(tmp_path: Path, benchd: Benchd) -> None:
    for _ in range(3):
        benchd("check", "--bench", "sim-office")
    assert len(list((tmp_path / "data" / "benchd" / "logs" / "check-sim-office").glob("*.log"))) == 3


@pytest.mark.parametrize(
    ("setting", "painted"),
    [({}, True), ({"NO_COLOR": ""}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)],
    ids=["colours", "empty", "NO_COLOR", "dumb"],
)
def test_colours_are_for_terminals_whose_user_wants_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, setting: dict[str, str], painted: bool
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    for name, value in {"TERM": "xterm", **setting}.items():
        monkeypatch.setenv(name, value)
    code, said = at_terminal(tmp_path, ["check", "--bench", "sim-office", "--log", "a.log"])
    assert code == 0
    assert ("\x1b[33mSIMULATED" in said) == painted, said
    assert ("\x1b[K" in said) == (setting.get("TERM") != "dumb"), "a line that is rewritten"
