// Drawings: the patch as it is on the screen, and the plot of the last readings. No state, no requests.

const SVG = "http://www.w3.org/2000/svg";

function element(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (text !== undefined) made.textContent = text;
  return made;
}

const halfUp = (value) => Math.floor(value + 0.5);

// Start and length in pixels of a span of `side` (fraction) about `centre` (fraction); as the window draws it.
function span(centre, side, total) {
  const length = Math.max(1, halfUp(side * total));
  let start = halfUp(centre * total - length / 2);
  const end = Math.min(total, start + length);
  start = Math.min(Math.max(0, start), total - 1);
  return [start, Math.max(1, end - start)];
}

// The rectangles [x, y, width, height, code] that draw `patch` on width x height pixels, in painting order.
export function rectangles(patch, width, height) {
  const surround = patch.surround ?? [0, 0, 0];
  if (patch.kind === "field") return [[0, 0, width, height, patch.code]];
  if (patch.kind === "checkerboard") {
    const [odd, even] = patch.inverse ? [patch.code, surround] : [surround, patch.code];
    const xs = Array.from({ length: patch.columns + 1 }, (_, column) => halfUp((column * width) / patch.columns));
    const ys = Array.from({ length: patch.rows + 1 }, (_, row) => halfUp((row * height) / patch.rows));
    const cells = [[0, 0, width, height, even]];
    for (let row = 0; row < patch.rows; row += 1) {
      for (let column = 0; column < patch.columns; column += 1) {
        if ((row + column) % 2) {
          cells.push([xs[column], ys[row], xs[column + 1] - xs[column], ys[row + 1] - ys[row], odd]);
        }
      }
    }
    return cells;
  }
  const side = Math.sqrt(patch.area_percent / 100);
  const [centreX, centreY] = patch.kind === "spot" ? patch.at : [0.5, 0.5];
  const [x, innerWidth] = span(centreX, side, width);
  const [y, innerHeight] = span(centreY, side, height);
  return [[0, 0, width, height, surround], [x, y, innerWidth, innerHeight, patch.code]];
}

// `patch` into the svg; `ring` is where the operator must put the meter (fractions), or null.
export function drawPatch(svg, patch, ring) {
  const width = Number(patch.width) || 1920;
  const height = Number(patch.height) || 1080;
  const largest = 2 ** (patch.bits ?? 8) - 1;
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  // Without a patch the screen is black.
  const drawn = Array.isArray(patch.code) ? rectangles(patch, width, height) : [[0, 0, width, height, [0, 0, 0]]];
  const parts = drawn.map(([x, y, w, h, code]) => {
    const [red, green, blue] = code.map((level) => halfUp((level * 255) / largest));
    const fill = `rgb(${red} ${green} ${blue})`;
    return element("rect", { x, y, width: w, height: h, fill, "shape-rendering": "crispEdges" });
  });
  if (ring) {
    const [cx, cy, r] = [ring[0] * width, ring[1] * height, height * 0.07];
    // Black and white together are seen on every patch.
    parts.push(element("circle", { cx, cy, r, fill: "none", stroke: "#000", "stroke-width": height * 0.022 }));
    parts.push(element("circle", { cx, cy, r, fill: "none", stroke: "#fff", "stroke-width": height * 0.009 }));
  }
  svg.replaceChildren(...parts);
}

const MARKS = {
  ok: (x, y) => element("circle", { cx: x, cy: y, r: 2.6, class: "mark" }),
  under: (x, y) => element("path", { d: `M${x - 4} ${y - 3}h8l-4 7z`, class: "mark off" }),
  over: (x, y) => element("path", { d: `M${x - 4} ${y + 3}h8l-4 -7z`, class: "mark off" }),
  unstable: (x, y) => element("path", { d: `M${x} ${y - 4.5}l4.5 4.5l-4.5 4.5l-4.5 -4.5z`, class: "mark off" }),
};

// The last readings on a logarithmic scale of luminance: [svg, what it shows in words].
export function plot(readings, width, height, simulated) {
  const left = 52, right = 14, top = 30, bottom = 26;
  const svg = element("svg", { viewBox: `0 0 ${width} ${height}`, role: "img" });
  const values = readings.map((reading) => reading.luminance_cd_m2).filter((value) => value > 0);
  const low = values.length ? Math.floor(Math.log10(Math.min(...values))) : -1;
  const high = Math.max(low + 1, values.length ? Math.ceil(Math.log10(Math.max(...values))) : 3);
  const y = (value) => top + ((high - Math.log10(value)) / (high - low)) * (height - top - bottom);
  for (let decade = low; decade <= high; decade += 1) {
    const at = y(10 ** decade);
    for (let tenth = 2; decade < high && tenth < 10; tenth += 1) {
      const line = y(tenth * 10 ** decade);
      svg.append(element("line", { x1: left, x2: width - right, y1: line, y2: line, class: "grid" }));
    }
    svg.append(element("line", { x1: left, x2: width - right, y1: at, y2: at, class: "decade" }));
    svg.append(element("text", { x: left - 7, y: at + 4, "text-anchor": "end", class: "axis" },
      decade < 0 ? (10 ** decade).toFixed(-decade) : String(10 ** decade)));
  }
  const first = readings[0]?.number ?? 0;
  const last = readings.at(-1)?.number ?? 0;
  const x = (number) => (last === first ? width - right : left + 8 + ((number - first) / (last - first)) * (width - left - right - 8));
  const floor = height - bottom;
  const points = readings.map((reading) => {
    const known = reading.luminance_cd_m2 > 0;
    return [x(reading.number), known ? y(reading.luminance_cd_m2) : reading.status === "over" ? top : floor, reading];
  });
  svg.append(element("polyline", { points: points.map(([px, py]) => `${px.toFixed(1)},${py.toFixed(1)}`).join(" "), class: "trace" }));
  for (const [px, py, reading] of points) {
    const mark = (MARKS[reading.status] ?? MARKS.ok)(px, py);
    mark.append(element("title", {}, `${reading.number} ${reading.step}: ${reading.luminance_cd_m2 ?? reading.status}`));
    svg.append(mark);
  }
  if (points.length) {
    const [px, py] = points.at(-1);
    svg.append(element("circle", { cx: px, cy: py, r: 6.5, class: "ring" }));
    svg.append(element("text", { x: left + 8, y: height - 6, class: "axis" }, `no. ${first}`));
    svg.append(element("text", { x: width - right, y: height - 6, "text-anchor": "end", class: "axis" }, `no. ${last}`));
  }
  svg.append(element("text", { x: left - 7, y: 12, "text-anchor": "end", class: "axis" }, "cd/m²"));
  if (simulated) svg.append(element("text", { x: width - right, y: 11, "text-anchor": "end", class: "stamp" }, "SIMULATED"));
  const range = values.length ? `${Math.min(...values)} to ${Math.max(...values)} cd/m²` : "no luminance yet";
  const words = `${simulated ? "SIMULATED. " : ""}${readings.length} readings, ${range}, logarithmic scale`;
  svg.setAttribute("aria-label", words);
  return svg;
}
