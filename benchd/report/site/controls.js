// The document: what the reader asks for, the table in its order, and when to draw.

const data = JSON.parse(document.getElementById("data").textContent);
quantiles = data.t;
const byId = (id) => document.getElementById(id);
const body = byId("rows");
const heads = [...document.querySelectorAll("thead button[data-order]")];
const columnOf = new Map(data.figures.map((figure, index) => [figure.name, index]));
const MAX_ROWS = 1000; // in the table unless all are asked for: a browser lays out every one of them anew
const FIRST_FIGURE = 3; // cells of a row before its figures: rank, name and remarks

data.rows.forEach((row, number) => {
  row.number = number;
  row.line = body.rows[number];
  row.texts = data.figures.map((_, index) => row.line.cells[FIRST_FIGURE + index].textContent);
});
// Runs of one sample are told apart by their plan, else by their day, else by their number.
for (const more of [(row) => row.plan, (row) => row.day, (row) => `${row.number + 1}`]) {
  const several = new Map();
  for (const row of data.rows) several.set(row.name ?? row.sample, [...(several.get(row.name ?? row.sample) ?? []), row]);
  for (const rows of several.values()) {
    const told = new Set(rows.map(more)).size > 1;
    for (const row of rows) row.name = told ? `${row.name ?? row.sample} · ${more(row)}` : row.name ?? row.sample;
  }
}

const asked = { order: data.order, descending: true, words: [], limits: [], latest: false, all: false };
const marked = new Set();
const widths = new Map();
let lines = [];

const figureOf = (name) => data.figures[columnOf.get(name)];
const bestFirst = (name) => (columnOf.has(name) ? figureOf(name).better !== "lowest" : name === "day");

function choose(order) {
  asked.descending = asked.order === order ? !asked.descending : bestFirst(order);
  asked.order = order;
  show();
}

function show() {
  const rows = data.rows.filter((row) => fulfils(row, asked));
  const column = columnOf.get(asked.order);
  lines = column === undefined ? sorted(rows, asked.order, asked.descending) : ranked(rows, column, asked.descending);
  const parts = document.createDocumentFragment();
  const grouped = lines.some((line) => line.shared);
  const listed = asked.all ? lines : lines.slice(0, MAX_ROWS);
  for (const [place, line] of listed.entries()) {
    const own = line.row.line;
    own.classList.toggle("group", grouped && line.first && (line.shared || Boolean(lines[place - 1]?.shared)));
    own.querySelector(".here")?.classList.remove("here");
    if (column !== undefined) own.cells[FIRST_FIGURE + column].classList.add("here");
    own.cells[0].textContent = line.rank === null ? (line.plain || line.absent ? "" : "?") : `${line.rank}${line.shared ? " =" : ""}`;
    parts.append(own);
  }
  body.replaceChildren(parts);
  for (const head of heads) {
    const here = head.dataset.order === asked.order;
    head.parentElement.setAttribute("aria-sort", here ? (asked.descending ? "descending" : "ascending") : "none");
  }
  byId("more").hidden = listed.length === lines.length;
  byId("more").textContent = `List the other ${lines.length - listed.length} too`;
  byId("none").hidden = lines.length > 0;
  byId("table").hidden = lines.length === 0;
  const simulated = rows.filter((row) => row.simulated).length;
  const words = asked.words.length ? ` that have “${asked.words.join(" ")}”` : "";
  byId("shown").textContent = `${lines.length} of ${data.rows.length} logs${words}${simulated ? `, ${simulated} of them SIMULATED` : ""}`;
  if (column !== undefined) byId("order").value = asked.order;
  draw();
}

function put(place, drawn, words) {
  byId(place).replaceChildren(drawn);
  byId(words[0]).textContent = words[1];
}

// Asked once for each width of the window: after a change of the table it would cost a whole layout.
function measured(id) {
  widths.set(id, Math.max(280, Math.floor(byId(id).clientWidth)));
  return widths.get(id);
}

function draw() {
  const name = byId("order").value;
  const column = columnOf.get(name);
  if (column === undefined) return;
  const rows = lines.map((line) => line.row);
  const inOrder = name === asked.order ? lines : ranked(rows, column, bestFirst(name));
  const width = (id) => widths.get(id) ?? measured(id);
  const [strip, stripWords] = drawStrip(inOrder, column, figureOf(name), width("strip-plot"), marked);
  put("strip-plot", strip, ["strip-words", stripWords]);
  const [nameX, nameY] = [byId("pair-x").value, byId("pair-y").value];
  const [pair, pairWords] = drawPair(rows, columnOf.get(nameX), columnOf.get(nameY), figureOf(nameX), figureOf(nameY),
    width("pair-plot"), marked);
  put("pair-plot", pair, ["pair-words", pairWords]);
}

function number(text) {
  const plain = text.trim().replace(/[ \u00a0\u202f]/g, "");
  return /^[-+]?(\d+(\.\d*)?|\.\d+)(e[-+]?\d+)?$/i.test(plain) ? Number(plain) : NaN;
}

function addLimit(event) {
  event.preventDefault();
  const field = byId("limit-value");
  const value = number(field.value);
  field.setAttribute("aria-invalid", String(Number.isNaN(value)));
  if (Number.isNaN(value)) {
    field.focus();
    byId("shown").textContent = "A limit needs a number, such as 1000 or 0.05.";
    return;
  }
  const name = byId("limit-figure").value;
  asked.limits.push({ index: columnOf.get(name), side: byId("limit-side").value, value });
  field.value = "";
  listLimits();
  show();
}

function listLimits() {
  const items = asked.limits.map((limit, place) => {
    const item = document.createElement("li");
    const figure = data.figures[limit.index];
    const words = document.createElement("span");
    words.textContent = `${figure.title} at ${limit.side} ${limit.value}${figure.unit ? ` ${figure.unit}` : ""}`;
    const away = document.createElement("button");
    away.type = "button";
    away.textContent = "Take away";
    away.setAttribute("aria-label", `Take away: ${words.textContent}`);
    away.addEventListener("click", () => {
      asked.limits.splice(place, 1);
      listLimits();
      show();
      (byId("limits").querySelector("button") ?? byId("limit-value")).focus();
    });
    item.append(words, away);
    return item;
  });
  byId("limits").replaceChildren(...items);
}

function mark(button) {
  const row = Number(button.closest("tr").dataset.row);
  if (!marked.delete(row)) marked.add(row);
  button.setAttribute("aria-pressed", String(marked.has(row)));
  draw();
}

// Where a row is a card the table stays one for readers who hear it.
function nameParts() {
  byId("table").setAttribute("role", "table");
  for (const row of document.querySelectorAll("#table tr")) row.setAttribute("role", "row");
  for (const cell of document.querySelectorAll("#table td")) cell.setAttribute("role", "cell");
  for (const cell of document.querySelectorAll("#rows th")) cell.setAttribute("role", "rowheader");
}

function begin() {
  const has = (name, otherwise) => (columnOf.has(name) ? name : data.figures[otherwise]?.name ?? "");
  byId("pair-x").value = has("white", 0);
  byId("pair-y").value = has("contrast", Math.min(1, data.figures.length - 1));
  byId("limit-figure").value = data.order;
  byId("order").value = data.order;
  for (const id of ["find", "strip", "pair"]) byId(id).hidden = data.figures.length === 0 || data.rows.length === 0;
  for (const head of heads) head.addEventListener("click", () => choose(head.dataset.order));
  byId("order").addEventListener("change", (event) => choose(event.target.value));
  byId("turn").addEventListener("click", () => choose(byId("order").value));
  for (const id of ["pair-x", "pair-y"]) byId(id).addEventListener("change", draw);
  byId("text").addEventListener("input", (event) => {
    asked.words = event.target.value.toLowerCase().split(/\s+/).filter(Boolean);
    show();
  });
  byId("latest").addEventListener("change", (event) => {
    asked.latest = event.target.checked;
    show();
  });
  byId("more").addEventListener("click", () => {
    asked.all = true;
    show();
    byId("rows").rows[MAX_ROWS]?.querySelector("button").focus();
  });
  byId("limit").addEventListener("submit", addLimit);
  body.addEventListener("click", (event) => {
    const button = event.target.closest("button.mark");
    if (button) mark(button);
  });
  const anew = () => {
    widths.clear();
    draw();
  };
  let drawnAt = document.documentElement.clientWidth;
  globalThis.addEventListener("resize", () => {
    if (document.documentElement.clientWidth !== drawnAt) {
      drawnAt = document.documentElement.clientWidth;
      anew();
    }
  });
  if (globalThis.matchMedia("(max-width: 40rem)").matches) nameParts();
  // Paper has another width than the window.
  for (const moment of ["beforeprint", "afterprint"]) globalThis.addEventListener(moment, anew);
  asked.descending = bestFirst(data.order);
  show();
}

begin();
