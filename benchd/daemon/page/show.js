// One snapshot becomes the page. Whatever comes from outside is set as text, never as markup, link or path.

import { drawPatch, plot } from "/draw.js";

const $ = (id) => document.getElementById(id);
const ENDED = ["complete", "cancelled", "failed"];
const ENDED_SHOWN = 5; // of the jobs that are over, the newest
const PLOT_HEIGHT = 250;

function text(id, words) {
  const there = $(id);
  if (there.textContent !== words) there.textContent = words;
}

function made(name, words, className) {
  const element = document.createElement(name);
  if (words !== undefined) element.textContent = words;
  if (className) element.className = className;
  return element;
}

// Four digits, groups of three from five digits on: 12 345, 384.6, 0.3182.
export function digits(value) {
  if (value === 0) return "0";
  const places = Math.min(6, Math.max(0, 3 - Math.floor(Math.log10(Math.abs(value)))));
  const [whole, part] = value.toFixed(places).split(".");
  const grouped = whole.length < 5 ? whole : whole.replace(/\B(?=(\d{3})+$)/g, "\u202f");
  return part ? `${grouped}.${part}` : grouped;
}

// 41 s, 2 min 12 s, 18 min, 2 h 05 min.
export function duration(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  if (whole < 60) return `${whole} s`;
  if (whole < 600) return whole % 60 ? `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")} s` : `${whole / 60} min`;
  const minutes = Math.round(whole / 60);
  return minutes < 120 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

// 18 min; 18 to 25 min or 50 s to 2 min where the end is not certain.
export function between(least, most) {
  const [from, to] = [duration(least), duration(most ?? least)];
  if (from === to) return to;
  const [number, ...unit] = from.split(" ");
  const same = unit.length === 1 && to.split(" ").slice(1).join(" ") === unit[0];
  return `${same ? number : from} to ${to}`;
}

const two = (number) => String(number).padStart(2, "0");
const hours = (moment) => `${two(moment.getHours())}:${two(moment.getMinutes())}`;
const day = (moment) => `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
const zone = (moment) =>
  new Intl.DateTimeFormat("en-GB", { timeZoneName: "short" }).formatToParts(moment).find((part) => part.type === "timeZoneName").value;

// 2026-03-02 18:12 CET, in the time zone of the browser.
function localTime(wall) {
  const moment = new Date(wall);
  return Number.isNaN(moment.getTime()) ? wall : `${day(moment)} ${hours(moment)} ${zone(moment)}`;
}

// When it ends that lasts `least` to `most` seconds more: 18:42 CET, 18:42 to 19:20 CET, tomorrow 00:20 CET.
export function endTime(wall, least, most) {
  const now = new Date(wall);
  const [first, last] = [least, most ?? least].map((seconds) => new Date(now.getTime() + (seconds + 30) * 1000));
  const tomorrow = day(new Date(now.getFullYear(), now.getMonth(), now.getDate() + 1));
  const which = (moment) => ({ [day(now)]: "", [tomorrow]: "tomorrow " })[day(moment)] ?? `${day(moment)} `;
  const end = `${hours(last)} ${zone(last)}`;
  if (localTime(first) === localTime(last)) return which(last) + end;
  return `${which(first)}${hours(first)} to ${which(last) === which(first) ? "" : which(last)}${end}`;
}

function jobWords(job) {
  return `${job.id} · ${job.plan || job.submission.plan_name} · ${job.submission.sample || "not named"}`;
}

function range(status) {
  return { under: "under range", over: "over range" }[status] ?? status;
}

export const paused = (snapshot) => snapshot.queue.filter((job) => job.state === "paused");
const waits = (snapshot) => snapshot.doing === "waiting for the operator";

// Is it a place on the screen that the operator must put the meter to?
const marked = (snapshot) => waits(snapshot) && /^(r[0-9]+c[0-9]+|centre)$/.test(snapshot.place);

// What each button can do now: "" when it can, else why not.
export function hindrances(snapshot) {
  const running = snapshot.job ? "" : "No job is running.";
  const ending = ["pausing", "stopping"].includes(snapshot.doing) ? `The service is ${snapshot.doing} already.` : "";
  return {
    pause: running || ending,
    resume: paused(snapshot).length ? "" : "No job is paused.",
    next: waits(snapshot) ? "" : "The bench does not wait for the operator.",
    again: snapshot.again ? "" : "Nothing is offered to be read again.",
    skip: snapshot.awaited === "set" ? "" : "No setting is awaited, so there is no point of a sweep to skip.",
    cancel: running,
  };
}

export function show(snapshot) {
  const { job, simulated } = snapshot;
  text("bench", snapshot.bench);
  $("simulated").hidden = !simulated;
  const held = paused(snapshot);
  const { doing } = snapshot;
  document.title = `${simulated ? "SIMULATED · " : ""}${doing} · ${snapshot.bench} · benchd`;
  text("doing", doing.charAt(0).toUpperCase() + doing.slice(1));
  const why = waits(snapshot)
    ? snapshot.again
      ? `${snapshot.operator} Yes: press Done. ${snapshot.again}: press Read again.`
      : `${snapshot.operator}${marked(snapshot) ? " (the ring on the picture)" : ""}, then press Done.${snapshot.awaited === "set" ? " Or skip this point of the sweep." : ""}`
    : snapshot.why || (!job && held.length ? `${held[0].id} is paused: ${held[0].why}` : "");
  $("why").hidden = !why;
  text("why", why);
  text("job-words", job ?? held[0] ? jobWords(job ?? held[0]) : "");
  showCautions(job ?? held[0]);
  text("step", snapshot.step ? `${snapshot.step}${snapshot.what ? ` (${snapshot.what})` : ""}` : "–");
  showPatch(snapshot);
  showLast(snapshot);
  showProgress(snapshot);
  showReadings(snapshot);
  showFaults(snapshot);
  showQueue(snapshot);
  showButtons(snapshot);
}

function showCautions(job) {
  const list = $("cautions");
  const cautions = job?.cautions ?? [];
  list.hidden = !cautions.length;
  if (list.dataset.key === cautions.join()) return;
  list.dataset.key = cautions.join();
  list.replaceChildren(...cautions.map((caution) => made("li", `Caution: ${caution}.`)));
}

// Why the picture is not that of a step, or not yet.
const AWAITED = { move: "until the meter is there", set: "until the display is set", show: "to be shown", confirm: "until you answer" };

function showPatch(snapshot) {
  const { patch } = snapshot;
  const there = Array.isArray(patch.code);
  const ring = marked(snapshot) ? snapshot.at : null;
  drawPatch($("patch"), patch, ring);
  const parts = there ? [patch.kind, `code ${patch.code.join(" ")} of ${patch.bits ?? 8} bits${signal(patch)}`] : ["no patch"];
  if (there && ["window", "spot"].includes(patch.kind)) parts.push(`${patch.area_percent} % of the screen`);
  if (there && patch.kind === "checkerboard") parts.push(`${patch.columns} x ${patch.rows}${patch.inverse ? ", inverse" : ""}`);
  if (AWAITED[snapshot.awaited]) parts.unshift(AWAITED[snapshot.awaited]);
  if (snapshot.simulated) parts.push("SIMULATED");
  text("patch-words", parts.join(" · "));
  $("patch").setAttribute("aria-label", `On the screen: ${parts.join(", ")}`);
}

// An HDR code is drawn as if it were SDR: a browser can't know what the screen makes of it.
const signal = (patch) => ({ pq: " on the PQ scale", hlg: " on the HLG scale" })[patch.transfer] ?? "";

function showLast(snapshot) {
  const last = snapshot.readings.at(-1);
  const value = !last ? "–" : last.luminance_cd_m2 === null ? range(last.status) : `${digits(last.luminance_cd_m2)} cd/m²`;
  text("luminance", value);
  const more = $("chromaticity");
  more.replaceChildren();
  if (last && last.x !== null && last.y !== null) more.append(`x ${last.x.toFixed(4)}  y ${last.y.toFixed(4)} `);
  if (last && last.status !== "ok" && last.luminance_cd_m2 !== null) more.append(`${range(last.status)} `);
  // Until the patch on the screen is read, the last reading is one of the patch before.
  if (last && snapshot.step && last.step !== snapshot.step) more.append(made("span", `of ${last.step} `, "of"));
  if (last && snapshot.simulated) more.append(made("span", "SIMULATED", "sim"));
}

function showProgress(snapshot) {
  const job = snapshot.job ?? paused(snapshot)[0]; // a paused job keeps its bar
  const left = snapshot.job ? snapshot.left_s : null;
  const share = snapshot.job ? snapshot.share_done : job?.share_done ?? 0;
  const percent = Math.floor(100 * Math.min(1, Math.max(0, share)));
  const ends = left !== null && !snapshot.virtual_time && !waits(snapshot);
  const words = !job ? "–" : [
    snapshot.job ? "" : `${job.id} is paused`,
    `${percent} %`,
    job.steps ? `${job.steps_done} of ${job.steps} steps` : "",
    left === null ? "" : `${between(left, snapshot.left_maximum_s)} left`,
    ends ? `ends ${endTime(snapshot.wall, left, snapshot.left_maximum_s)}` : "",
  ].filter(Boolean).join(" · ");
  const bar = $("progress");
  bar.classList.toggle("paused", Boolean(job && !snapshot.job));
  $("done").style.width = `${percent}%`;
  bar.setAttribute("aria-valuenow", percent);
  bar.setAttribute("aria-valuetext", words);
  text("left", words);
}

let plotted = "";
function showReadings(snapshot) {
  const { readings, simulated } = snapshot;
  const width = Math.max(280, $("plot").clientWidth);
  const key = `${width} ${readings.length} ${readings.at(-1)?.number} ${simulated}`;
  if (key === plotted) return;
  plotted = key;
  $("plot").replaceChildren(plot(readings, width, PLOT_HEIGHT, simulated));
  text("table-words", simulated ? "SIMULATED" : "");
  $("rows").replaceChildren(...readings.slice(-20).reverse().map((reading) => {
    const row = made("tr");
    const figure = (value, places) => (value === null ? "–" : places ? value.toFixed(places) : digits(value));
    row.append(made("td", String(reading.number)), made("td", reading.step), made("td", figure(reading.luminance_cd_m2)),
      made("td", figure(reading.x, 4)), made("td", figure(reading.y, 4)), made("td", range(reading.status)));
    return row;
  }));
}

function showFaults(snapshot) {
  const { faults } = snapshot;
  $("no-faults").hidden = faults.length > 0;
  const list = $("faults");
  const key = `${faults.length} ${faults.at(-1)?.wall} ${faults.at(-1)?.text}`;
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  list.replaceChildren(...[...faults].reverse().map((fault) => {
    const item = made("li");
    item.append(made("b", fault.error), ` ${fault.text}`, made("small", `${localTime(fault.wall)} · ${fault.step} · then: ${fault.then}`));
    return item;
  }));
}

function showQueue(snapshot) {
  const { queue } = snapshot;
  $("no-queue").hidden = queue.length > 0;
  const list = $("queue");
  const key = JSON.stringify(queue.map((job) => [job.id, job.state, job.why, job.steps_done, job.share_done, job.simulated]));
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  const focused = document.activeElement?.dataset?.act;
  const over = queue.filter((job) => ENDED.includes(job.state)).slice(ENDED_SHOWN);
  list.replaceChildren(...queue.filter((job) => !over.includes(job)).map(queueItem));
  // The list was made anew: whoever stood on one of its buttons stands there again, or on the list's head.
  if (focused) (list.querySelector(`[data-act="${CSS.escape(focused)}"]`) ?? $("main")).focus();
}

const percentOf = (job) => (job.share_done && !ENDED.includes(job.state) ? `, ${Math.floor(100 * job.share_done)} %` : "");

function queueItem(job) {
  const item = made("li", undefined, ENDED.includes(job.state) ? "ended" : "");
  const words = made("span");
  const steps = !job.steps ? "" : job.steps_done ? ` · ${job.steps_done} of ${job.steps} steps${percentOf(job)}` : ` · ${job.steps} steps`;
  const later = job.submission.not_before && job.state === "queued" ? ` · not before ${localTime(job.submission.not_before)}` : "";
  words.append(made("span", job.state, "state"), " ", made("b", job.id),
    ` ${job.plan || job.submission.plan_name} · ${job.submission.sample || "not named"}${steps}${later}`);
  if (job.simulated) words.append(" ", made("span", "SIMULATED", "sim"));
  if (job.why) words.append(made("small", job.why));
  if (job.log) words.append(made("small", `log ${job.log}`));
  item.append(words);
  const acts = { queued: ["pause", "cancel"], paused: ["resume", "cancel"] }[job.state] ?? [];
  for (const act of acts) {
    const button = made("button", { pause: "Hold", resume: "Resume", cancel: "Cancel" }[act]);
    button.type = "button";
    button.dataset.act = `${act} ${job.id}`;
    button.setAttribute("aria-label", `${button.textContent} ${job.id}`);
    item.append(button);
  }
  return item;
}

function showButtons(snapshot) {
  const hindered = hindrances(snapshot);
  // Still reachable by keyboard when it can do nothing, so that the focus is never lost; pressed, it says why.
  for (const [id, why] of Object.entries(hindered)) $(id).setAttribute("aria-disabled", String(Boolean(why)));
  const [held] = paused(snapshot);
  text("resume-words", held ? `Resume ${held.id}` : "Resume");
  for (const id of ["again", "skip"]) $(id).hidden = Boolean(hindered[id]);
  $("next").classList.toggle("wanted", !hindered.next);
  $("resume").classList.toggle("wanted", !hindered.resume && !snapshot.job);
}
