"""The page in a real browser (headless Chromium): by keyboard alone, at phone width, dark and light, cut off."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from benchd.daemon.http.doors import start_servers
from benchd.daemon.job_control import JobState, LatestFault
from benchd.local_time import end_time
from benchd.patch.model import Patch
from tests.daemon.conftest import House
from tests.daemon.fake_desk import fill, job, readings


class Watched:
    """A page that notes what must not happen: errors, complaints of the policy, requests to elsewhere."""

    def __init__(self, context: BrowserContext, house: House) -> None:
        self.page: Page = context.new_page()
        self.page.set_default_timeout(60_000)  # as for what is expected
        self.wrong: list[str] = []
        self.asked: list[str] = []
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("console", lambda message: self._console(message.type, message.text))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.house = house

    def _console(self, kind: str, text: str) -> None:
        # The browser itself reports an answer that is an error, and a line that is down.
        if kind in ("error", "warning") and "Failed to load resource" not in text:
            self.wrong.append(text)

    def open(self) -> Page:
        self.page.goto(self.house.servers.page_link)
        expect(self.page.locator("#link")).to_have_text("connected")
        return self.page

    def check(self) -> None:
        assert self.wrong == []
        elsewhere = [url for url in self.asked if not url.startswith(self.house.servers.http_url)]
        assert elsewhere == [], "the page is self-contained"
        assert not [url for url in self.asked if self.house.token in url], "a fragment is never sent"


@pytest.fixture
def watched(browser: Browser, house: House, request: pytest.FixtureRequest) -> Iterator[Watched]:
    """A page of a bench under way; checked at the end. ``parametrize(indirect)`` gives it other context options."""
    fill(house.desk)
    options: dict[str, Any] = getattr(request, "param", {})
    context = browser.new_context(**options)
    made = Watched(context, house)
    yield made
    made.check()
    context.close()


FOCUSED = "(document.activeElement.id || document.activeElement.dataset.act || '')"


def focused(page: Page) -> str:
    return str(page.evaluate(FOCUSED))


def has_focus(page: Page, name: str) -> None:
    """Wait until it has."""
    page.wait_for_function(f"{FOCUSED} === '{name}'")


def tab_to(page: Page, name: str) -> None:
    for _ in range(30):
        page.keyboard.press("Tab")
        if focused(page) == name:
            return
    raise AssertionError(f"{name} is not reached with the Tab key")


def said(watched: Watched, *words: str) -> None:
    """Wait until the desk was asked exactly this."""
    expect(watched.page.locator("#said")).not_to_be_empty()
    assert watched.house.desk.asked == list(words)


def test_it_shows_what_is_going_on(watched: Watched) -> None:
    page = watched.open()
    assert page.url == watched.house.servers.http_url, "the token is out of the address at once"
    expect(page.locator("#doing")).to_have_text("Running")
    expect(page.locator("#step")).to_have_text("grayscale/code-166 (code 166)")
    expect(page.locator("#left")).to_have_text(
        re.compile(r"^41 % · 56 of 137 steps · 18 to 25 min left · ends .*\d\d:\d\d to .*\d\d:\d\d [A-Z]")
    )
    expect(page.locator("#progress")).to_have_attribute("aria-valuenow", "41")
    expect(page.locator("#luminance")).to_have_text("46.84 cd/m²")
    expect(page.locator("#faults li")).to_have_count(2)
    expect(page.locator("#queue li")).to_have_count(4)
    expect(page.locator("#plot .mark")).to_have_count(150)
    page.locator("summary").click()
    expect(page.locator("#rows tr")).to_have_count(20)
    expect(page.locator("#patch rect")).to_have_count(2)
    watched.house.desk.put(step="grayscale/code-178", what="code 178", left_s=41.0, left_maximum_s=41.0, share_done=0.5)
    expect(page.locator("#step")).to_have_text("grayscale/code-178 (code 178)")
    expect(page.locator("#left")).to_contain_text("50 % · 56 of 137 steps · 41 s left")


def test_simulated_stands_wherever_a_figure_does(watched: Watched) -> None:
    page = watched.open()
    page.locator("summary").click()
    for place in ("#simulated", "#patch-words", "#chromaticity", "#plot", "#table-words"):
        expect(page.locator(place)).to_contain_text("SIMULATED")
    assert page.title().startswith("SIMULATED")
    assert "SIMULATED" in str(page.locator("#plot svg").get_attribute("aria-label"))
    watched.house.desk.put(simulated=False)
    expect(page.locator("#simulated")).to_be_hidden()
    assert "SIMULATED" not in page.locator("main").inner_text()
    assert "SIMULATED" not in page.title()


def test_by_tab_and_enter(watched: Watched) -> None:
    page = watched.open()
    tab_to(page, "pause")
    page.keyboard.press("Enter")
    said(watched, "pause j3")
    expect(page.locator("#resume")).to_contain_text("Resume j3")
    tab_to(page, "cancel j4")
    page.keyboard.press("Space")
    expect(page.locator("#sure")).to_be_visible()
    has_focus(page, "keep")  # the harmless answer is the first
    page.keyboard.press("Escape")
    expect(page.locator("#sure")).to_be_hidden()
    has_focus(page, "cancel j4")  # the focus goes back
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    has_focus(page, "really")
    page.keyboard.press("Enter")
    expect(page.locator("#queue")).to_contain_text("cancelled")
    assert watched.house.desk.asked == ["pause j3", "cancel j4"]


def test_a_hand_is_asked_for_more_than_moves(watched: Watched) -> None:
    page = watched.open()
    for wanted in ("Put the cap on the meter, so that no light reaches it", "Set preset to warm in the menu"):
        place = "capped" if wanted.startswith("Put") else ""
        watched.house.desk.put(doing="waiting for the operator", operator=wanted, place=place, at=(0.0, 0.0))
        expect(page.locator("#why")).to_have_text(f"{wanted}, then press Done.")
        expect(page.locator("#announce")).to_contain_text(wanted)
        expect(page.locator("#patch circle")).to_have_count(0)
        page.get_by_role("button", name="Done").click()
        expect(page.locator("#doing")).to_have_text("Running")
    assert watched.house.desk.asked == ["next", "next"]


ENDS = (
    ("2026-03-02T17:12:20Z", 1800.0, 1800.0),
    ("2026-03-02T17:00:00Z", 1800.0, 4080.0),
    ("2026-03-02T22:30:00Z", 600.0, 3000.0),
    ("2026-03-02T22:30:00Z", 2400.0, 3000.0),
    ("2026-03-02T18:00:00Z", 120000.0, 120000.0),
)


@pytest.mark.parametrize("watched", [{"timezone_id": "Europe/Paris"}], indirect=True)
def test_the_end_is_a_time_of_the_clock_as_a_terminal_has_it(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    page = watched.open()
    script = "async (asked) => { const s = await import('/show.js'); return asked.map((a) => s.endTime(...a)); }"
    found = page.evaluate(script, [list(one) for one in ENDS])
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    wanted = [end_time(*one) for one in ENDS]
    monkeypatch.undo()
    time.tzset()
    assert found == wanted
    expect(page.locator("#left")).to_contain_text("ends ")
    watched.house.desk.put(virtual_time=True)
    expect(page.locator("#left")).not_to_contain_text("ends ")


def test_a_paused_job_keeps_its_bar(watched: Watched) -> None:
    page = watched.open()
    held = replace(job(3, JobState.PAUSED, why="paused by the operator", done=56), share_done=0.415)
    watched.house.desk.put(job=None, doing="held", step="", what="", left_s=None, share_done=0.0, queue=(held,))
    expect(page.locator("#progress")).to_have_attribute("aria-valuenow", "41")
    expect(page.locator("#left")).to_have_text("j3 is paused · 41 % · 56 of 137 steps")
    expect(page.locator("#job-words")).to_contain_text("j3 · night")


def test_a_caution_stands_before_the_first_state_of_the_bench(watched: Watched) -> None:
    page = watched.open()
    expect(page.locator("#before")).to_be_hidden()
    page.evaluate("document.getElementById('main').hidden = true")  # as the file has it
    expect(page.locator("#before")).to_contain_text("Do not watch it if flashing light can harm you")
    expect(page.locator("#before")).to_be_visible()


def test_cautions_stand_beside_the_job(watched: Watched) -> None:
    page = watched.open()
    expect(page.locator("#cautions")).to_be_hidden()
    told = replace(job(3, JobState.RUNNING, done=56), cautions=("patches flash", "a panel may keep an image"))
    watched.house.desk.put(job=told)
    expect(page.locator("#cautions li")).to_have_text(
        ["Caution: patches flash.", "Caution: a panel may keep an image."]
    )
    watched.house.desk.put(job=None)
    expect(page.locator("#cautions")).to_be_hidden()


def test_read_again_is_offered_where_something_may_not_have_been_done(watched: Watched) -> None:
    page = watched.open()
    button = page.get_by_role("button", name="Read again")
    expect(button).to_be_hidden()
    page.keyboard.press("a")
    expect(page.locator("#said")).to_have_text("Nothing is offered to be read again.")
    note, again = "White did not change. Was it set?", "I set it now, read again"
    watched.house.desk.put(doing="waiting for the operator", operator=note, again=again, place="")
    expect(page.locator("#why")).to_have_text(f"{note} Yes: press Done. {again}: press Read again.")
    expect(button).to_be_visible()
    page.keyboard.press("a")
    expect(page.locator("#doing")).to_have_text("Running")
    expect(button).to_be_hidden()
    assert watched.house.desk.asked == ["again"]


def test_the_picture_has_the_shape_of_the_screen(watched: Watched) -> None:
    page = watched.open()
    patch = {"kind": "window", "code": (723, 723, 723), "surround": (0, 0, 0), "bits": 10, "area_percent": 10.0}
    for width, height in ((3440, 1440), (1080, 1920)):
        watched.house.desk.put(patch={**patch, "transfer": "pq", "width": width, "height": height})
        expect(page.locator("#patch")).to_have_attribute("viewBox", f"0 0 {width} {height}")
    expect(page.locator("#patch-words")).to_contain_text("code 723 723 723 of 10 bits on the PQ scale")
    box = page.locator("#patch").bounding_box()
    assert box is not None
    assert box["height"] < 0.75 * 900, "an upright screen stays within sight"


def test_a_point_is_skipped_after_a_question(watched: Watched) -> None:
    page = watched.open()
    button = page.get_by_role("button", name="Skip this point")
    expect(button).to_be_hidden()
    page.keyboard.press("s")
    expect(page.locator("#said")).to_contain_text("No setting is awaited")
    asked = "Set brightness to 50"
    watched.house.desk.put(doing="waiting for the operator", operator=asked, awaited="set", place="")
    expect(page.locator("#why")).to_have_text(f"{asked}, then press Done. Or skip this point of the sweep.")
    button.click()
    expect(page.locator("#sure-words")).to_contain_text(f"{asked}: skip this point?")
    has_focus(page, "keep")
    watched.house.desk.put(operator="Set brightness to 0")  # somebody else was quicker
    expect(page.locator("#why")).to_contain_text("Set brightness to 0")
    page.get_by_role("button", name="Skip the point").click()
    expect(page.locator("#said")).to_contain_text("no longer awaited")
    assert watched.house.desk.asked == []
    page.keyboard.press("s")
    page.get_by_role("button", name="Skip the point").click()
    expect(page.locator("#doing")).to_have_text("Running")
    expect(button).to_be_hidden()
    assert watched.house.desk.asked == ["skip"]


def test_the_caption_says_why_the_picture_is_dark(watched: Watched) -> None:
    page = watched.open()
    dark = {"kind": "field", "code": (0, 0, 0), "bits": 8}
    asked = "Set brightness to 50"
    watched.house.desk.put(doing="waiting for the operator", operator=asked, awaited="set", patch=dark)
    expect(page.locator("#patch-words")).to_contain_text("until the display is set · field · code 0 0 0")
    watched.house.desk.put(doing="running", operator="", awaited="")
    expect(page.locator("#patch-words")).not_to_contain_text("until")


def test_by_single_keys(watched: Watched) -> None:
    page = watched.open()
    page.keyboard.press("n")
    expect(page.locator("#said")).to_have_text("The bench does not wait for the operator.")
    watched.house.desk.put(
        doing="waiting for the operator", operator="Move the meter to r2c3", place="r2c3", at=(0.5, 0.3)
    )
    expect(page.locator("#why")).to_contain_text("Move the meter to r2c3")
    expect(page.locator("#announce")).to_contain_text("Move the meter to r2c3")
    expect(page.locator("#patch circle")).to_have_count(2)
    page.keyboard.press("n")
    expect(page.locator("#doing")).to_have_text("Running")
    assert watched.house.desk.asked == ["next"]
    page.keyboard.press("Control+p")
    page.keyboard.press("p")
    expect(page.locator("#doing")).to_have_text("Idle")
    page.keyboard.press("r")
    expect(page.locator("#resume")).to_contain_text("Resume j2")
    assert watched.house.desk.asked == ["next", "pause j3", "resume j3"]
    page.keyboard.press("c")
    expect(page.locator("#said")).to_have_text("No job is running.")


def test_a_slow_answer_does_not_write_over_later_words(watched: Watched) -> None:
    """Found as a race of the test above: the answer to a first key came after the words for a second one."""
    page = watched.open()
    held: list[Route] = []
    page.route(re.compile("/v1/jobs/.*/(pause|resume)$"), lambda route: held.append(route))

    def two_keys(slow: str) -> Route:
        with page.expect_request("**/v1/jobs/**"):
            page.keyboard.press(slow)
        page.keyboard.press("n")
        expect(page.locator("#said")).to_have_text("The bench does not wait for the operator.")
        return held.pop()

    slow = two_keys("p")
    with page.expect_response("**/v1/jobs/**"):
        slow.continue_()
    expect(page.locator("#doing")).to_have_text("Idle")
    expect(page.locator("#said")).to_have_text("The bench does not wait for the operator.")
    two_keys("r").abort()
    expect(page.locator("#said")).to_contain_text("The service does not answer")


def test_single_keys_can_be_switched_off(watched: Watched) -> None:
    """WCAG 2.1, success criterion 2.1.4."""
    page = watched.open()
    tab_to(page, "keys")
    page.keyboard.press("Space")
    page.keyboard.press("p")
    page.reload()
    expect(page.locator("#link")).to_have_text("connected")
    page.keyboard.press("p")
    page.wait_for_timeout(200)
    assert watched.house.desk.asked == []


def test_the_focus_is_seen_everywhere(watched: Watched) -> None:
    page = watched.open()
    seen = []
    for _ in range(25):
        page.keyboard.press("Tab")
        style = "(e => [e.id || e.dataset.act || e.tagName, getComputedStyle(e).outlineStyle, "
        style += "parseFloat(getComputedStyle(e).outlineWidth)])(document.activeElement)"
        name, outline, width = page.evaluate(style)
        if name == "BODY" or name in seen:
            break
        assert (outline, width >= 3) == ("solid", True), name
        seen.append(name)
    assert seen[:4] == ["pause", "resume", "next", "cancel"], "what acts at once comes first"
    assert {"SUMMARY", "pause j4", "resume j2", "keys"} <= set(seen)


def test_a_refusal_is_told_in_the_services_words(watched: Watched) -> None:
    page = watched.open()
    watched.house.desk._turn("j2", "cancel", JobState.CANCELLED, but=())
    page.evaluate(
        "import('/link.js').then(link => link.post('/v1/jobs/j2/resume')).catch(e => { window.told = e.message; })"
    )
    page.wait_for_function("window.told")
    assert page.evaluate("window.told") == "j2 is cancelled and can't resume"


def test_a_lost_connection_is_said_and_mended(watched: Watched, tmp_path: Path) -> None:
    page = watched.open()
    house = watched.house
    port = house.port
    house.servers.close()
    expect(page.locator("#link")).to_contain_text("Connection lost. What you see is from")
    expect(page.locator("body")).to_have_attribute("data-link", "lost")
    page.evaluate("scrollTo(0, 10000)")
    expect(page.locator("#link")).to_be_in_viewport(ratio=1)
    expect(page.locator("#luminance")).to_have_text("46.84 cd/m²")
    page.keyboard.press("p")
    expect(page.locator("#said")).to_contain_text("line to the service is down")
    house.desk.restart()
    house.desk.put(doing="pausing")
    with start_servers(house.desk, tmp_path / "run" / "lab-2.sock", port, tmp_path / "token"):
        expect(page.locator("#link")).to_have_text("connected")
        expect(page.locator("#doing")).to_have_text("Pausing")
        assert house.desk.asked == []


def test_without_a_token_the_page_asks_for_it(watched: Watched) -> None:
    page = watched.page
    page.goto(watched.house.servers.http_url)
    expect(page.locator("#ask")).to_be_visible()
    expect(page.locator("main")).to_be_hidden()
    has_focus(page, "token")
    page.keyboard.type("p" * 43)
    page.keyboard.press("Enter")
    expect(page.locator("#ask")).to_be_visible()
    expect(page.locator("#token")).to_be_empty()
    page.keyboard.type(watched.house.token)
    page.keyboard.press("Enter")
    expect(page.locator("#link")).to_have_text("connected")
    expect(page.locator("#ask")).to_be_hidden()
    page.reload()
    expect(page.locator("#link")).to_have_text("connected")
    assert page.context.cookies() == []


def test_a_token_that_is_given_while_another_is_on_its_way_is_tried(watched: Watched) -> None:
    """Found as a race of the test above."""
    page = watched.page
    page.goto(watched.house.servers.http_url)
    expect(page.locator("#ask")).to_be_visible()
    held: list[Route] = []
    page.route("**/v1/events", lambda route: held.append(route), times=1)
    with page.expect_request("**/v1/events"):
        page.keyboard.type("p" * 43)
        page.keyboard.press("Enter")
    page.keyboard.type(watched.house.token)
    page.keyboard.press("Enter")
    expect(page.locator("#token")).to_be_empty()
    held[0].continue_()
    expect(page.locator("#link")).to_have_text("connected")


def test_names_are_text_and_never_markup_or_paths(watched: Watched) -> None:
    bad = "<img src=/v1/stop onerror=alert(1)>"
    desk = watched.house.desk
    running = job(3, JobState.RUNNING, bad)
    fault = LatestFault("<b>now</b>", bad, bad, bad, "again")
    desk.put(bench=bad, job=running, step=bad, what=bad, why=bad, faults=(fault,), doing="running",
             queue=(job(9, JobState.PAUSED, bad, bad),))  # fmt: skip
    page = watched.open()
    expect(page.locator("#step")).to_contain_text("<img")
    for place in ("#bench", "#job-words", "#why", "#faults", "#queue"):
        expect(page.locator(place)).to_contain_text(bad)
    assert page.locator("body img, body a, body b b").count() == 0
    expect(page.locator("#queue")).to_contain_text("log logs/plover-27-1/")


PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}


@pytest.mark.parametrize("watched", [PHONE, {"viewport": {"width": 320, "height": 640}}], indirect=True)
def test_it_fits_a_phone(watched: Watched) -> None:
    """Width: WCAG 2.1, 1.4.10 (320 px). Targets: at least 44 px high (WCAG 2.1, 2.5.5)."""
    page = watched.open()
    page.locator("summary").click()
    wide, across = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide <= across
    for button in page.locator("main button:visible").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 44
        assert box["width"] >= 44


def channel(value: float) -> float:
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def luminance(colour: list[float]) -> float:
    red, green, blue = (channel(level / 255) for level in colour[:3])
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


LOOK = """() => {
  const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
  const ground = (e) => { for (; e; e = e.parentElement) {
    const c = rgb(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] > 0.5) return c; } };
  return [...document.querySelectorAll('body *')].filter((e) => e.checkVisibility() && e.clientWidth !== 1
      && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()))
    .map((e) => [e.id || e.className.baseVal || e.className || e.tagName,
      rgb(e.namespaceURI.endsWith('svg') ? getComputedStyle(e).fill : getComputedStyle(e).color), ground(e)]);
}"""


@pytest.mark.parametrize("watched", [{"color_scheme": "light"}, {"color_scheme": "dark"}], indirect=True)
def test_text_is_readable_in_light_and_dark(watched: Watched) -> None:
    """Contrast of text with its ground: at least 4.5 (formula and limit: WCAG 2.1, 1.4.3)."""
    page = watched.open()
    watched.house.desk.put(doing="waiting for the operator", operator="Move the meter to r2c3", place="r2c3")
    expect(page.locator("#why")).to_be_visible()
    found = [entry for entry in page.evaluate(LOOK) if entry[0] != "title"]
    assert len(found) > 60
    for name, ink, ground in found:
        dark, light = sorted((luminance(ink), luminance(ground)))
        assert (light + 0.05) / (dark + 0.05) >= 4.5, (name, ink, ground)


@pytest.mark.parametrize("watched", [{"color_scheme": "light"}, {"color_scheme": "dark"}], indirect=True)
def test_what_surrounds_the_patch_is_neutral(watched: Watched) -> None:
    page = watched.open()
    for place in (".mount", "main", "html"):
        colour = page.evaluate(f"getComputedStyle(document.querySelector('{place}')).backgroundColor")
        assert len(set(re.findall(r"\d+", colour)[:3])) == 1, (place, colour)


@pytest.mark.parametrize("watched", [{"reduced_motion": "reduce"}], indirect=True)
def test_nothing_moves_for_who_wants_it_still(watched: Watched) -> None:
    page = watched.open()
    moving = (
        "[...document.querySelectorAll('*')].filter(e => getComputedStyle(e).transitionDuration !== '0s' "
        "|| getComputedStyle(e).animationName !== 'none').length"
    )
    assert page.evaluate(moving) == 0


def test_states_are_told_apart_without_colour(watched: Watched) -> None:
    """Marks of the plot differ in shape, states in words."""
    page = watched.open()
    watched.house.desk.put(readings=readings(200))
    expect(page.locator("#plot .mark")).to_have_count(200)
    shapes = page.evaluate(
        "[...new Set([...document.querySelectorAll('#plot .mark')].map("
        "m => m.tagName + (m.getAttribute('d') ?? '').replace(/M[^a-z]*/, '')))].length"
    )
    assert shapes == 4
    assert {"queued", "paused", "complete"} == set(page.locator("#queue .state").all_inner_texts())


def patches() -> Iterator[Patch]:
    """Patches of every kind, with odd sides and places at the rim."""
    grey, ground = (166, 166, 166), (20, 30, 40)
    yield Patch("field", grey)
    for area in (0.01, 1.0, 10.0, 33.3, 100.0):
        yield Patch("window", grey, 8, ground, area)
        for at in ((0.5, 0.5), (0.1, 0.9), (0.0, 1.0), (0.33, 0.67), (0.999, 0.001)):
            yield Patch("spot", grey, 10, ground, area, at=at)
    for columns, rows in ((4, 4), (7, 9), (3, 5), (1, 2)):
        yield Patch("checkerboard", grey, 8, ground, 100.0, columns, rows, inverse=columns % 2 == 0)


def test_the_live_patch_is_drawn_as_the_window_draws_it(watched: Watched) -> None:
    """To the pixel: the page's rectangles are those of `Patch.rectangles`."""
    page = watched.open()
    asked: list[Any] = []
    wanted: list[Any] = []
    for patch in patches():
        for width, height in ((1920, 1080), (1366, 768), (801, 601)):
            fields = {name: getattr(patch, name) for name in Patch.__dataclass_fields__}
            asked.append([fields, width, height])
            wanted.append([[*rect[:4], list(rect.code)] for rect in patch.rectangles(width, height)])
    script = "async (asked) => { const d = await import('/draw.js'); return asked.map((a) => d.rectangles(...a)); }"
    assert page.evaluate(script, asked) == wanted
