// The page's nerves: buttons, keys, what is announced, and what the line to the service says.

import { follow, keepToken, post, takeToken } from "/link.js";
import { hindrances, paused, show } from "/show.js";

const $ = (id) => document.getElementById(id);
let latest = null;
let heardAt = "";
let announced = "";
let turn = 0;

function say(words) {
  turn += 1;
  $("said").textContent = words;
}

// A slow answer does not write over what was said to a later key; a failure is always told.
async function ask(path, done) {
  say("");
  const mine = turn;
  try {
    await post(path);
    if (turn === mine) say(done);
  } catch (error) {
    say(error.message);
  }
}

// What cannot be taken back is asked first; `then` does it.
let surely = () => {};
function sure(words, keep, really, then) {
  $("sure-words").textContent = words;
  $("keep").textContent = keep;
  $("really").textContent = really;
  surely = then;
  $("sure").showModal();
  $("keep").focus();
}

function sureToCancel(job) {
  sure(`Cancel ${job.id} (${job.plan || job.submission.plan_name} · ${job.submission.sample || "not named"})? What was read stays in its log.`,
    "Keep it", "Cancel the job", () => ask(`/v1/jobs/${job.id}/cancel`, `${job.id} will be cancelled after this reading.`));
}

function sureToSkip() {
  const { operator } = latest;
  sure(`${operator}: skip this point? Its steps are left out, also by a resume.`, "Do not skip", "Skip the point", () => {
    if (latest.operator === operator) ask("/v1/skip", "The point is skipped; the run goes on.");
    else say("That setting is no longer awaited; nothing was skipped.");
  });
}

function act(name, id) {
  if (name === "cancel") {
    sureToCancel([latest.job, ...latest.queue].find((job) => job?.id === id));
  } else {
    ask(`/v1/jobs/${id}/${name}`, { pause: `${id} will pause after this reading.`, resume: `${id} is in the queue again.` }[name]);
  }
}

// The buttons and their keys.
function press(name) {
  if (!latest) return;
  const down = document.body.dataset.link === "open" ? "" : "The line to the service is down; it is tried again by itself.";
  const hindrance = down || hindrances(latest)[name];
  if (hindrance) say(hindrance);
  else if (name === "next") ask("/v1/next", "Thank you; the run goes on.");
  else if (name === "again") ask("/v1/again", "Thank you; you are asked to set or to move it, and it is read again.");
  else if (name === "skip") sureToSkip();
  else act(name, name === "resume" ? paused(latest)[0].id : latest.job.id);
}

const KEYS = { p: "pause", r: "resume", n: "next", a: "again", s: "skip", c: "cancel" };

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches?.("input:not([type=checkbox])");
  if (!$("keys").checked || typing || $("sure").open || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  const name = KEYS[event.key.toLowerCase()];
  if (name) press(name);
});
for (const name of Object.values(KEYS)) $(name).addEventListener("click", () => press(name));
$("queue").addEventListener("click", (event) => {
  const told = event.target.closest("button")?.dataset.act;
  if (told) act(...told.split(" "));
});
$("keep").addEventListener("click", () => $("sure").close());
$("really").addEventListener("click", () => {
  $("sure").close();
  surely();
});
$("keys").checked = localStorage.getItem("benchd-keys") !== "off";
$("keys").addEventListener("change", () => localStorage.setItem("benchd-keys", $("keys").checked ? "on" : "off"));
new ResizeObserver(() => latest && show(latest)).observe($("plot"));

// Only what changes rarely and matters is announced; steps and figures would never end.
function announce(snapshot) {
  const held = paused(snapshot);
  const words = [
    snapshot.doing === "waiting for the operator" ? snapshot.operator : snapshot.doing,
    snapshot.job ? `job ${snapshot.job.id}` : "",
    snapshot.faults.length ? `${snapshot.faults.length} faults` : "",
    held.length ? `${held[0].id} is paused` : "",
  ].filter(Boolean).join(", ");
  if (words !== announced) $("announce").textContent = announced = words;
}

function line(state, words) {
  document.body.dataset.link = state;
  if ($("link").textContent !== words) $("link").textContent = words;
}

function heard(snapshot) {
  latest = snapshot;
  heardAt = new Date().toLocaleTimeString([], { hour12: false });
  $("ask").hidden = true;
  $("main").hidden = false;
  show(snapshot);
  announce(snapshot);
}

let tokenGiven = () => {};
function state(name) {
  if (name === "open") line("open", "connected");
  if (name === "lost") {
    line("lost", heardAt ? `Connection lost. What you see is from ${heardAt}; trying again …`
      : "The service does not answer; trying again …");
  }
  if (name !== "denied") return undefined;
  line("denied", "no token");
  $("main").hidden = true;
  $("ask").hidden = false;
  $("token").focus();
  return new Promise((resolve) => { tokenGiven = resolve; });
}

$("ask").addEventListener("submit", (event) => {
  event.preventDefault();
  keepToken($("token").value);
  $("token").value = "";
  tokenGiven();
});
addEventListener("hashchange", () => takeToken() && tokenGiven());

takeToken();
follow(heard, state);
