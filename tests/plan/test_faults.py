"""What the operator reads about a faulty plan: every fault in one go, place, meaning and remedy."""

from __future__ import annotations

import pytest

from benchd.measurements.registry import kinds
from benchd.profile.profile_store import load_bench, load_target
from tests.plan.helpers import faults, refusal

NIGHT = """\
plan: night
about: An invented plan with a fault in every second line
warm_up: {until: stable, at_least_min: 70, at_most_min: 60}
readings: "5"
order: shufled
dark_settle_s: 1e3
setle_s: 0.6
settle_s: 700
dark_readings: yes
blocks:
  - luminance: {}
  - contrast: {kinds: [sequental, checkerboard]}
  - grayscale: {steps: 21, codes: [0, 300, 2000, -1]}
  - uniformity: {grid: 5x0, levels_percent: [100, 100]}
  - uniformity: {levels_percent: [120]}
  - patches:
  - patches: {list: [{name: a b, code: [1, 2]}, {code: [1, 2, 300]}]}
  - grayscle: {}
  - {luminance: {name: more}, contrast: {name: other}}
"""

NIGHT_FAULTS = """\
night.yaml:3:40: at_least_min 70 is more than at_most_min 60
night.yaml:4:11: readings: needs a whole number, not the text '5'; remove the quotation marks \
(readings of each patch, 1 to 1000)
night.yaml:5:8: order 'shufled': use listed, shuffled or there_and_back; did you mean 'shuffled'? \
(order of the patches within a block; shuffled by the seed, so always alike; \
there_and_back: from dark to bright and back, so that steps are small)
night.yaml:6:16: dark_settle_s: needs a number, not '1e3'; write a plain decimal such as 0.5 \
(seconds to wait after a dark patch, 0 to 600)
night.yaml:7:1: unknown key 'setle_s'; did you mean 'settle_s'? \
(seconds to wait after a patch is on the screen, 0 to 600)
night.yaml:8:11: settle_s 700: use 0 to 600 (seconds to wait after a patch is on the screen)
night.yaml:9:16: dark_readings: needs a whole number, not the text 'yes' (readings of each dark patch, 1 to 1000)
night.yaml:12:24: kinds 'sequental': use sequential or checkerboard; did you mean 'sequential'? \
(which contrasts are measured)
night.yaml:13:28: give steps or codes, not both
night.yaml:13:39: code 300 does not fit 8 bits; use 0 to 255, or state bits: 10
night.yaml:13:44: code 2000 does not fit 8 bits; use 0 to 255
night.yaml:13:50: code -1 does not fit 8 bits; use 0 to 255
night.yaml:14:24: grid '5x0': both sides must be 1 to 25
night.yaml:14:51: level 100 is given twice; once is enough
night.yaml:15:17: two blocks are called 'uniformity'; give one of them another name (key name)
night.yaml:15:35: levels_percent 120: use 0 to 100 (grey levels, percent of the largest code)
night.yaml:16:5: key 'patches' has no value; write it here or indented below ('{}' has no keys), or remove the key
night.yaml:17:14: two blocks are called 'patches'; give one of them another name (key name)
night.yaml:17:29: name 'a b': use letters, digits and . _ + -, at most 64, the first a letter or digit
night.yaml:17:40: a colour has three codes, [red, green, blue]; here are 2
night.yaml:17:49: key 'name' is missing (letters, digits and . _ + -, at most 64, the first a letter or digit)
night.yaml:17:63: code 300 does not fit 8 bits; use 0 to 255, or state bits: 10
night.yaml:18:5: unknown key 'grayscle'; did you mean 'grayscale'? (greys at the centre: equal steps or a list of codes)
night.yaml:19:31: 'contrast' stands in one list item with 'luminance'; begin its line with '- '
"""


def test_every_fault_of_a_file_in_one_go() -> None:
    assert faults(NIGHT) == NIGHT_FAULTS.splitlines()


BLOCK = "plan: p\nblocks:\n  - luminance: {}\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "1:1: the file is empty; it needs keys, one a line, such as 'about: ...'"),
        ("# nothing but a remark\n", "1:1: the file is empty; it needs keys, one a line, such as 'about: ...'"),
        ("- plan\n", "1:1: the file must be a mapping: keys with values, one a line, such as 'about: ...'"),
        (f"{BLOCK}plan: q\n", "4:1: key 'plan' is given twice (first in line 1); keep one"),
        (f"{BLOCK}seed: &a 3\n", "4:7: anchor '&a': remove it; anchors are not used here"),
        (f"{BLOCK}seed: *a\n", "4:7: alias '*a': write the value out; aliases are not used here"),
        (f"{BLOCK}seed: !!int 3\n", "4:7: tag '!!int': remove it; tags are not used here"),
        (f"{BLOCK}<<: {{seed: 3}}\n", "4:1: merge key '<<': write the keys out; merging is not used here"),
        (f"{BLOCK}? [seed]\n: 3\n", "4:3: a key must be a word, not a list, mapping or alias"),
        (f"{BLOCK}---\nplan: q\n", "4:1: a second document; a file holds one only"),
        (f"{BLOCK}\tseed: 3\n", "4:1: a tab; indent with spaces"),
        (f"{BLOCK}seed: @3\n", "4:7: a value can't begin with '@'; put the value in quotation marks"),
        (f"{BLOCK}about: \x07\n", "4:8: character U+0007 does not belong in a text file; remove it"),
        (f"{BLOCK}about: a: b\n", "4:9: a second ':' in this line; put a text with a ':' in quotation marks"),
        (f"{BLOCK}about: 'a\n", "4:8: the text that begins here with a quotation mark is not closed"),
        (
            f"{BLOCK}warm_up: {{minutes: 3\n",
            "4:10: the bracket that opens here is not closed, or a comma is missing in it",
        ),
        (
            "plan: p\nblocks:\n    - luminance: {}\n  - contrast: {}\n",
            "4:3: this line is indented unlike the lines that it belongs with, or a ':' is missing in it",
        ),
        ("plan: p\nblocks: " + "[" * 30 + "]" * 30 + "\n", "2:33: nested deeper than 24 levels; no profile needs that"),
        ("plan: p\n", "1:1: key 'blocks' is missing (what is measured, in this order)"),
        ("plan: p\nblocks: []\n", "2:9: blocks: needs at least 1 item (what is measured, in this order)"),
        (
            "plan: p\nblocks: all\n",
            "2:9: blocks: needs a list, not 'all'; write [all] (what is measured, in this order)",
        ),
        (
            "plan: p\nblocks: [{}]\n",
            f"2:10: an empty block; give one of {', '.join(kinds())}",
        ),
        (f"{BLOCK}bits: 9\n", "4:7: bits 9: use 8 or 10 (bits of a code)"),
        (
            f"{BLOCK}seed: 010\n",
            "4:7: seed: needs a whole number, not '010'; write a plain decimal such as 12 "
            "(begins the shuffling; the same seed, the same order, 0 to 2147483647)",
        ),
        (
            f"{BLOCK}settle_s: 1:30\n",
            "4:11: settle_s: needs a number, not '1:30'; write a plain decimal such as 0.5 "
            "(seconds to wait after a patch is on the screen, 0 to 600)",
        ),
        (
            f"{BLOCK}readings: 3.0\n",
            "4:11: readings: needs a whole number, not 3.0 (readings of each patch, 1 to 1000)",
        ),
        (
            f"{BLOCK}readings: true\n",
            "4:11: readings: needs a whole number, not true (readings of each patch, 1 to 1000)",
        ),
        (f"{BLOCK}warm_up: 30\n", "4:10: warm_up 30: write none, {minutes: 30} or {until: stable, at_most_min: 60}"),
        (f"{BLOCK}warm_up: {{minutes: 5, until: stable}}\n", "4:23: give minutes or until: stable, not both"),
        (
            f"{BLOCK}warm_up: {{minutes: 5, at_most_min: 9}}\n",
            "4:23: 'at_most_min' goes with until: stable only; with minutes, remove it",
        ),
        (
            f"{BLOCK}warm_up: {{at_most_min: 9}}\n",
            "4:10: write none, {minutes: 30} or {until: stable, at_least_min: 20, at_most_min: 60}",
        ),
        (f"{BLOCK}integration_s: 100\n", "4:16: integration time 100 s: use 0.001 to 60, or auto (the meter decides)"),
        (
            f"{BLOCK}haze: red\n",
            "4:1: unknown key 'haze'; allowed here: plan, about, target, bits, signal, seed, warm_up, order, "
            "settle_s, dark_settle_s, readings, dark_readings, dark_up_to_percent, repeatability and 18 more "
            "(profiles/KEYS.md)",
        ),
        (
            "plan: p\nblocks:\n  - grayscale: {steps: 300}\n",
            "3:24: steps 300: 8 bits have 256 codes; use 2 to 256, or state bits: 10",
        ),
        (
            f"{BLOCK}headline: [white, gray-de-maks]\n",
            "4:19: there is no figure 'gray-de-maks'; did you mean gray-de-max or gray-de-mean?",
        ),
        (f"{BLOCK}headline: [p3]\n", "4:12: there is no figure 'p3'; did you mean p3-coverage?"),
        (
            f"{BLOCK}headline: [worst deviation]\n",
            "4:12: there is no figure 'worst deviation'; did you mean non-uniformity of white?",
        ),
        (f"{BLOCK}headline: [Brightness]\n", "4:12: there is no figure 'Brightness'; did you mean white luminance?"),
        (
            f"{BLOCK}headline: [xyzzy]\n",
            "4:12: there is no figure 'xyzzy'; known are, among others: white luminance, white CCT, contrast, "
            "grayscale dE00 mean, colour dE00 mean, maximum peak luminance",
        ),
        (
            f"{BLOCK}headline: [white, gray-de-max]\n",
            "4:19: no block of the plan measures 'gray-de-max'; remove it, or add a block grayscale",
        ),
        (
            f'{BLOCK}headline: ["greatest peak luminance"]\n',
            "4:12: 'greatest peak luminance' is now called maximum peak luminance",
        ),
        (
            "plan: p\nbits: 10\nblocks:\n  - grayscale: {codes: [0, 1024]}\n",
            "4:28: code 1024 does not fit 10 bits; use 0 to 1023",
        ),
        ("plan: p\nblocks:\n  - grayscale: {codes: [0, 9, 9]}\n", "3:31: code 9 is given twice; once is enough"),
        (
            "plan: p\nblocks:\n  - uniformity: {grid: 5 by 5}\n",
            "3:24: grid: write columns x rows, such as 5x5, both 1 to 25, not '5 by 5'",
        ),
        (
            "plan: p\nblocks:\n  - patches: {}\n",
            "3:14: no patches here; give a list, such as list: [{name: red, code: [255, 0, 0]}], or a file",
        ),
        (
            "plan: p\nblocks:\n  - patches: {list: [{name: a, code: 0}, {name: a, code: 1}]}\n",
            "3:49: two patches are called 'a'; every name may stand once",
        ),
        (
            "plan: p\nblocks:\n  - patches: {list: [{name: a, code: true}]}\n",
            "3:38: code true: a code is a whole number, 0 to 255",
        ),
        (
            "plan: p\nblocks:\n  - patches: {file: none.csv}\n",
            "3:21: file 'none.csv' can't be read (no such file or directory); it belongs beside the plan",
        ),
    ],
)
def test_one_fault(text: str, told: str) -> None:
    assert faults(text) == [f"night.yaml:{told}"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (f"{BLOCK}    grid: 7x5\n", "4:5: key 'grid' does not belong here; it is a key of 'uniformity'"),
        (f"{BLOCK}steps: 32\n", "4:1: key 'steps' does not belong here; it is a key of 'grayscale' or of 'tone_curve'"),
        (f"{BLOCK}uniformity: {{}}\n", "4:1: key 'uniformity' does not belong here; it is a key of 'blocks'"),
        (f"{BLOCK}colour: {{}}\n", "4:1: unknown key 'colour'; did you mean 'colours', a key of 'blocks'?"),
        (
            "plan: p\nblocks:\n  - grayscale: {steps: 21, warm_up: none}\n",
            "3:28: key 'warm_up' does not belong here; it is a key of the file itself: begin it at the left margin",
        ),
        (
            "plan: p\nblocks:\n  - grayscale: {steps:21}\n",
            "3:17: key 'steps:21' has no value; write a space behind the",
        ),
        (
            "plan: p\nblocks:\n  - uniformity: {margin_percent: 7,5}\n",
            "3:36: key '5' has no value; a comma parts entries here; a decimal has a point, such as 7.5",
        ),
        (f"{BLOCK}settle_s: 0,6\n", "4:11: settle_s: needs a number, not '0,6'; write a decimal point: 0.6"),
        (f"{BLOCK}settle_s: 0.6 s\n", "4:11: settle_s: needs a number, not the text '0.6 s'; write the number alone"),
        (f"{BLOCK}settle_s: 600ms\n", "4:11: settle_s: needs a number, not the text '600ms'; write the number alone"),
        (
            f"{BLOCK}dark_up_to_percent: 5 %\n",
            "4:21: dark_up_to_percent: needs a number, not the text '5 %'; write the",
        ),
        (
            "plan: p\nblocks:\n  -luminance: {}\n",
            "3:3: blocks: needs a list, not a mapping; begin each item with '-' w",
        ),
        ("plan: p\nblocks:\n  - grayscale: 32\n", "3:16: grayscale: needs a mapping, such as {steps: …}, not 32"),
        ("plan: p\nsettle_s 1\nblocks:\n  - luminance: {}\n", "2:1: a ':' with a space after it is missing"),
        ("plan: p\nsettle_s:\u00a01\nblocks:\n  - luminance: {}\n", "2:10: a blank that is no plain space (U+00A0, no"),
        (
            "plan: p\nsettle_s: \u20031\nblocks:\n  - luminance: {}\n",
            "2:11: a blank that is no plain space (U+2003",
        ),
        ("plan: p\nblocks:\n  -\u00a0luminance: {}\n", "3:4: a blank that is no plain space (U+00A0, no"),
        (
            "plan: p\nabout: 'white:\u00a05 %'  # \u00a0\nblocks:\n  - luminance: {}\nsetle_s: 1\n",
            "5:1: unknown key 'setle_s'; did you mean 'settle_s'?",
        ),
        (
            "plan: p\nblocks:\n  - grayscale: {levels: 32}\n",
            "3:17: unknown key 'levels'; allowed here: steps, codes, white, area_percent, surround_percent and 13 more",
        ),
        (
            "plan: p\nblocks:\n  - uniformity: {columns: 7}\n",
            "3:18: unknown key 'columns'; did you mean 'grid'? (columns x rows, such as 7x5, both 1 to 25)",
        ),
        ("plan: p\nsettle_s:1\nblocks:\n  - luminance: {}\n", "2:1: a ':' with a space after it is missing"),
        ("plan p\nblocks:\n  - luminance: {}\n", "1:1: a ':' with a space after it is missing"),
        ("plan: p\n settle_s: 1\nblocks:\n  - luminance: {}\n", "2:10: this line is indented unlike its neighbours"),
        ("plan: p\nblocks:\n  - luminance: {};\n", "3:18: what stands here does not belong to the line"),
        (
            f"{BLOCK}sweep: [{{control: brightness, values: [50, 20 %]}}]\n",
            "4:44: value '20 %': write 20, without the %",
        ),
        (
            f"{BLOCK}sweep: [{{control: brightness, values: [20 50 100]}}]\n",
            "4:40: value '20 50 100': write a comma after each: [20, 50, 100]",
        ),
        (
            f"{BLOCK}sweep: [{{control: Brightness, values: [1]}}]\n",
            "4:19: control 'Brightness': write it in small lett",
        ),
        ("plan: p\nblocks:\n  - gamut: {spaces: [sRGB]}\n", "3:22: there is no space 'sRGB'; did you mean srgb"),
    ],
)
def test_what_a_newcomer_mistypes_is_answered_with_what_to_write(text: str, told: str) -> None:
    [fault] = faults(text)
    assert fault.startswith(f"night.yaml:{told}")


def test_files_that_there_are_not_are_reported_with_all_other_errors() -> None:
    text = (
        "plan: p\nsetle_s: 1\nblocks:\n  - uniformity: {grid: 5x0}\n  - colours: {name: a, chart: skin-memry}\n"
        "  - gamut: {spaces: [srgb, bt2021]}\n  - patches: {file: none.csv}\n"
        "  - colours: {name: b, space: strgb, random: 3, only: [{brightness: 50}]}\n  - {}\n  - colours: {name: b}\n"
    )
    found = [one.partition(":")[2].partition(" ")[0] for one in faults(text)]
    assert found == ["2:1:", "4:24:", "5:31:", "6:28:", "7:21:", "8:31:", "8:57:", "9:5:", "10:14:", "10:21:"]


def test_a_bomb_of_aliases_is_refused_at_its_first_alias() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 9)]
    told = faults("\n".join(lines))
    assert "night.yaml:2:10: alias '*a0': write the value out; aliases are not used here" in told


def test_a_pace_that_could_flash_names_the_key_that_causes_it() -> None:
    quick = "plan: p\nwarm_up: none\nsettle_s: 0.1\nreadings: 1\nblocks:\n  - grayscale: {steps: 11}\n"
    sentence = (
        "light and dark can follow each other after 0.3 s (settle_s 0.1, and 1 reading of at least 0.2 s); "
        "at most one change a second is allowed: use settle_s: 0.8 or more"
    )
    assert faults(quick) == [f"night.yaml:3:1: {sentence}"]
    own = "plan: p\nwarm_up: none\nreadings: 1\nblocks:\n  - grayscale: {steps: 11, settle_s: 0.1}\n"
    assert faults(own) == [f"night.yaml:5:28: {sentence}"]
    nowhere = "plan: p\nwarm_up: none\nreadings: 1\nblocks:\n  - grayscale: {steps: 11}\n"
    assert faults(nowhere)[0].startswith("night.yaml:5:5: light and dark can follow each other after 0.8 s")
    assert faults(nowhere)[0].endswith("use settle_s: 0.8 or more")


def test_a_bench_and_a_target_are_explained_as_plans_are() -> None:
    bench = (
        "bench: b\nscreen: {monitor: primary, command: [x]}\ninstruments: {meter: {port: auto}, stage: {caps: yes}}\n"
    )
    assert str(refusal(load_bench, bench, "b.yaml")).splitlines() == [
        "b.yaml:2:10: give a monitor or a command, not both",
        "b.yaml:3:22: name the meter: {dialect: NAME, port: NAME or auto} or {command: [words]}",
        "b.yaml:3:43: state what moves the meter: {dialect: NAME, port: NAME, ...} or {command: [words]}",
        "b.yaml:3:50: caps: needs true or false, not 'yes'; write true (true: the command or driver handles the places "
        "capped and screen-off too; left out: the operator sets them)",
    ]
    target = "target: t\nsource: invented\nwhite: [0.9, 0.3]\ncurve: {kind: power}\nprimaries: {red: [1, 2, 3]}\n"
    assert str(refusal(load_target, target, "t.yaml")).splitlines() == [
        "t.yaml:3:8: chromaticity [0.9, 0.3]: x and y are 0 to 1 (y above 0), and x + y is at most 1",
        "t.yaml:4:8: a power curve needs its exponent, such as {kind: power, exponent: 2.2}",
        "t.yaml:5:1: key 'blue' is missing (CIE 1931 [x, y])",
        "t.yaml:5:1: key 'green' is missing (CIE 1931 [x, y])",
        "t.yaml:5:18: chromaticity a list: write CIE 1931 [x, y], such as [0.3127, 0.3290]",
    ]


def test_keys_of_earlier_benches_are_answered_with_their_new_names() -> None:
    refused = refusal(load_bench, "bench: b\nscreen: {}\nmeter: {command: [x]}\npositioner: {manual: true}\n", "b.yaml")
    assert str(refused).splitlines() == [
        "b.yaml:3:1: 'meter' is now called instruments: {meter: ...}",
        "b.yaml:4:1: 'positioner' is now called instruments: {stage: ...}, which is left out where the operator moves "
        "the meter",
    ]


def test_a_number_in_quotation_marks_does_not_suggest_itself() -> None:
    """It read: use 76 or 94; did you mean '76'?"""
    (told,) = faults('plan: one\nblocks:\n  - colours: {chart: skin-memory, also: ["76"]}\n')
    assert "also '76': use 76 or 94; remove the quotation marks (further formulas" in told


def test_rules_of_keys_hold_for_a_kind_and_for_what_all_blocks_have() -> None:
    text = "plan: p\nblocks:\n  - grayscale: {steps: 5, codes: [0, 0], repeatability: 1 %, readings: 3}\n"
    assert [line.split(": ", 1)[1] for line in faults(text)] == [
        "give steps or codes, not both",
        "code 0 is given twice; once is enough",
        "give repeatability or readings, not both: with repeatability there are as many readings as it takes",
    ]
