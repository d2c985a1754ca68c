// The document: what the reader asks for, the table in its order, and when to draw.

const data = JSON.parse(document.getElementById("data").textContent);
const byId = (id) => document.getElementById(id);
const body = byId("rows");
const heads = [...document.querySelectorAll("thead button[data-order]")];
const columnOf = new Map(data.figures.map((figure, index) => [figure.name, index]));
const FIRST_FIGURE = 3; // cells of a row before its figures: rank, name and remarks

data.rows.forEach((row, number) => {
  row.number = number;
  row.line = body.rows[number];
  row.texts = data.figures.map((_, index) => row.line.cells[FIRST_FIGURE + index].textContent);
});

const asked = { order: data.order, descending: true, words: [], limits: [], latest: false };
const marked = new Set();
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
  for (const [place, line] of lines.entries()) {
    const own = line.row.line;
    own.classList.toggle("group", grouped && line.first && (line.shared || Boolean(lines[place - 1]?.shared)));
    own.cells[0].textContent = line.rank === null ? (line.plain || line.absent ? "" : "?") : `${line.rank}${line.shared ? " =" : ""}`;
    parts.append(own);
  }
  body.replaceChildren(parts);
  for (const head of heads) {
    const here = head.dataset.order === asked.order;
    head.parentElement.setAttribute("aria-sort", here ? (asked.descending ? "descending" : "ascending") : "none");
  }
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

function draw() {
  const name = byId("order").value;
  const column = columnOf.get(name);
  if (column === undefined) return;
  const rows = lines.map((line) => line.row);
  const inOrder = name === asked.order ? lines : ranked(rows, column, bestFirst(name));
  const width = (id) => Math.max(280, Math.floor(byId(id).clientWidth));
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
  byId("limit").addEventListener("submit", addLimit);
  body.addEventListener("click", (event) => {
    const button = event.target.closest("button.mark");
    if (button) mark(button);
  });
  let drawnAt = 0;
  new ResizeObserver(() => {
    const width = byId("strip-plot").clientWidth;
    if (width && width !== drawnAt) {
      drawnAt = width;
      draw();
    }
  }).observe(byId("main"));
  // Paper has another width than the window.
  globalThis.addEventListener("beforeprint", draw);
  asked.descending = bestFirst(data.order);
  show();
}

begin();
