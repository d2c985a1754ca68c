// The two plots as SVG: samples in order of one figure, and two figures against each other. No state.

const SVG = "http://www.w3.org/2000/svg";
const MAX_DOTS = 1500; // above, all dots are one path and have no words of their own

function element(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (text !== undefined) made.textContent = text;
  return made;
}

// A scale from values to pixels with its ticks; logarithmic where the values span much.
function scale(values, from, to) {
  let low = Math.min(...values), high = Math.max(...values);
  const log = low > 0 && high / low > 30;
  if (low === high) [low, high] = log || low > 0 ? [low * 0.9, high * 1.1] : [low - 1, high + 1];
  const [a, b] = log ? [Math.log10(low), Math.log10(high)] : [low, high];
  const room = (b - a) * 0.04;
  const [start, end] = [a - room, b + room];
  const at = (value) => from + (((log ? Math.log10(value) : value) - start) / (end - start)) * (to - from);
  const inside = (value) => Math.min(Math.max(from, to), Math.max(Math.min(from, to),
    log && value <= 0 ? Math.min(from, to) : at(value)));
  return { at: inside, ticks: log ? decades(start, end) : steps(start, end), log };
}

function steps(start, end) {
  const rough = (end - start) / 7;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((size) => size >= rough);
  const ticks = [];
  for (let number = Math.ceil(start / step); number * step <= end; number += 1) ticks.push(number * step);
  const digits = Math.max(0, -Math.floor(Math.log10(step)));
  return ticks.map((value) => [value, value.toFixed(Math.min(digits, 8))]);
}

function decades(start, end) {
  const wide = end - start > 2.5;
  const ticks = [];
  for (let power = Math.floor(start); power <= Math.ceil(end); power += 1) {
    for (const factor of wide ? [1] : [1, 2, 5]) {
      const value = factor * 10 ** power;
      if (Math.log10(value) >= start && Math.log10(value) <= end) ticks.push([value, grouped(value, power)]);
    }
  }
  return ticks;
}

function grouped(value, power) {
  const text = power < 0 ? value.toFixed(-power) : String(Math.round(value));
  return text.length > 4 && power >= 0 ? text.replace(/\B(?=(\d{3})+$)/g, " ") : text;
}

function ends(figure) {
  const [low, high] = interval(figure) ?? [figure[VALUE], figure[VALUE]];
  return [Number.isFinite(low) ? low : figure[VALUE], Number.isFinite(high) ? high : figure[VALUE]];
}

// Lines of the scale from top to bottom, and below them their values, without those that would lie on one before.
function ticksBelow(svg, x, top, bottom, below) {
  let free = -Infinity;
  for (const [value, text] of x.ticks) {
    const at = x.at(value), half = text.length * 3.4 + 3;
    svg.append(element("line", { x1: at, x2: at, y1: top, y2: bottom, class: "grid" }));
    if (at - half < free) continue;
    free = at + half;
    const inside = Math.min(at, svg.viewBox.baseVal.width - half);
    svg.append(element("text", { x: inside, y: below, "text-anchor": "middle", class: "axis" }, text));
  }
}

function stamp(svg, rows, x) {
  if (rows.some((row) => row.simulated)) {
    svg.append(element("text", { x, y: 12, "text-anchor": "end", class: "stamp" }, "SIMULATED"));
  }
}

// A dot, or a triangle that points to where the truth lies beyond a bound.
function sign(x, y, figure, along, r = 2.8) {
  if (!figure[BOUND]) return element("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r, class: "dot" });
  const way = (figure[BOUND] === "above") === (along === "x") ? 4.5 : -4.5;
  const d = along === "x" ? `M${x} ${y - 3.5}l${way} 3.5l${-way} 3.5z` : `M${x - 3.5} ${y}l3.5 ${way}l3.5 ${-way}z`;
  return element("path", { d, class: "open" });
}

// `349.9 ± 4.4 cd/m²`, and `1099.7:1 ± 3.9`: the sign of a ratio belongs to its number.
function withUnit(text, unit) {
  if (!unit.startsWith(":")) return `${text} ${unit}`.trimEnd();
  return text.replace(/ [±(]|$/, (found) => unit + found);
}

// Lines of `ranked`, one under the other: [svg, what it shows in words].
function drawStrip(lines, index, figure, width, marked) {
  const shown = lines.filter((line) => !line.absent);
  const left = 10, right = 14, top = 22, bottom = 24;
  const pitch = Math.min(16, Math.max(0.5, 430 / Math.max(1, shown.length)));
  const height = Math.max(60, shown.length * pitch) + top + bottom;
  const svg = element("svg", { viewBox: `0 0 ${width} ${height}`, height, role: "img" });
  const named = pitch >= 10;
  const gutter = named ? Math.min(170, width * 0.3) : 0;
  const most = Math.floor(gutter / 6.5);  // signs of a name that fit
  const figures = shown.map((line) => line.row.figures[index]);
  if (!shown.length) return [svg, "nothing to draw"];
  const x = scale(figures.flatMap(ends), left + gutter, width - right);
  const y = (place) => top + (place + 0.5) * pitch;
  bands(svg, shown, top, pitch, left + gutter, width - right);
  ticksBelow(svg, x, top, height - bottom, height - 8);
  const whiskers = shown.map((line, place) => {
    const [low, high] = ends(line.row.figures[index]).map(x.at);
    return `M${low.toFixed(1)} ${y(place).toFixed(1)}H${high.toFixed(1)}`;
  });
  svg.append(element("path", { d: whiskers.join(""), class: "whisker" }));
  const labels = [];
  if (shown.length > MAX_DOTS) {
    const d = shown.map((line, place) => `M${(x.at(line.row.figures[index][VALUE]) - 1).toFixed(1)} ${y(place).toFixed(1)}h2`);
    svg.append(element("path", { d: d.join(""), class: "frame", style: "stroke: var(--ink); stroke-width: 2" }));
  }
  shown.forEach((line, place) => {
    const own = line.row.figures[index];
    const [px, py] = [x.at(own[VALUE]), y(place)];
    const isMarked = marked.has(line.row.number);
    if (shown.length <= MAX_DOTS) {
      const dot = sign(px, py, own, "x", pitch < 4 ? 1.7 : 2.8);
      dot.append(element("title", {}, `${line.row.name}: ${withUnit(line.row.texts[index], figure.unit)}`));
      svg.append(dot);
    }
    if (isMarked) svg.append(element("circle", { cx: px, cy: py, r: 6.5, class: "ring" }));
    if (named) {
      const text = line.row.name.length > most ? `${line.row.name.slice(0, most - 1)}…` : line.row.name;
      labels.push(element("text", { x: left, y: py + 4, class: isMarked ? "label marked" : "label" }, text));
    } else if (isMarked) {
      const before = px > width * 0.6;
      labels.push(element("text", { x: px + (before ? -11 : 11), y: py + 4, "text-anchor": before ? "end" : "start",
        class: "label marked" }, line.row.name));
    }
  });
  svg.append(...labels);
  stamp(svg, shown.map((line) => line.row), width - right);
  svg.append(element("text", { x: left + gutter, y: 12, class: "axis" }, figure.unit));
  const first = shown[0].row, last = shown.at(-1).row;
  const simulated = shown.some((line) => line.row.simulated) ? "SIMULATED. " : "";
  const ofs = shown.some((line) => line.shared) ? " Each grey band holds those of one shared rank, which can't be told apart." : "";
  const words = `${simulated}${figure.title} of ${shown.length}, first ${first.name} with ${withUnit(first.texts[index], figure.unit)}, ` +
    `last ${last.name} with ${withUnit(last.texts[index], figure.unit)}${x.log ? "; logarithmic" : ""}.${ofs} A line is the 95 % interval, a triangle a bound that points to the truth.`;
  svg.setAttribute("aria-label", words);
  return [svg, words];
}

// Each rank that several share on grey; one alone has none.
function bands(svg, shown, top, pitch, left, right) {
  for (let place = 0; place < shown.length;) {
    let end = place + 1;
    while (end < shown.length && shown[end].group === shown[place].group) end += 1;
    if (shown[place].shared) {
      svg.append(element("rect", { x: left, width: right - left, y: top + place * pitch, height: (end - place) * pitch,
        class: "band" }));
    }
    place = end;
  }
}

// Column `ix` to the right, `iy` upwards: [svg, what it shows in words].
function drawPair(rows, ix, iy, figureX, figureY, width, marked) {
  const shown = rows.filter((row) => row.figures[ix] !== null && row.figures[iy] !== null);
  const left = 58, right = 14, top = 22, bottom = 42, height = Math.min(474, Math.max(300, width * 0.75));
  const svg = element("svg", { viewBox: `0 0 ${width} ${height}`, height, role: "img" });
  if (!shown.length) return [svg, "nothing to draw"];
  const x = scale(shown.flatMap((row) => ends(row.figures[ix])), left, width - right);
  const y = scale(shown.flatMap((row) => ends(row.figures[iy])), height - bottom, top);
  ticksBelow(svg, x, top, height - bottom, height - bottom + 16);
  for (const [value, text] of y.ticks) {
    const at = y.at(value);
    svg.append(element("line", { x1: left, x2: width - right, y1: at, y2: at, class: "grid" }));
    svg.append(element("text", { x: left - 6, y: at + 4, "text-anchor": "end", class: "axis" }, text));
  }
  svg.append(element("rect", { x: left, y: top, width: width - left - right, height: height - top - bottom, class: "frame" }));
  const crosses = [], dots = [], labels = [];
  for (const row of shown) {
    const [fx, fy] = [row.figures[ix], row.figures[iy]];
    const [px, py] = [x.at(fx[VALUE]), y.at(fy[VALUE])];
    const [x1, x2] = ends(fx).map(x.at), [y1, y2] = ends(fy).map(y.at);
    crosses.push(`M${x1.toFixed(1)} ${py.toFixed(1)}H${x2.toFixed(1)}M${px.toFixed(1)} ${y1.toFixed(1)}V${y2.toFixed(1)}`);
    if (shown.length <= MAX_DOTS) {
      const along = [["x", fx], ["y", fy]].filter(([, figure]) => figure[BOUND]);
      for (const [axis, figure] of along.length ? along : [["x", fx]]) {
        const dot = sign(px, py, figure, axis);
        dot.append(element("title", {}, `${row.name}: ${withUnit(row.texts[ix], figureX.unit)}, ${withUnit(row.texts[iy], figureY.unit)}`));
        dots.push(dot);
      }
    } else {
      crosses.push(`M${(px - 1).toFixed(1)} ${py.toFixed(1)}h2`);
    }
    if (marked.has(row.number)) {
      const before = px > width * 0.65;
      dots.push(element("circle", { cx: px, cy: py, r: 6.5, class: "ring" }));
      labels.push(element("text", { x: px + (before ? -11 : 11), y: py + 4, "text-anchor": before ? "end" : "start",
        class: "label marked" }, row.name));
    }
  }
  svg.append(element("path", { d: crosses.join(""), class: "whisker" }), ...dots, ...labels);
  const name = (figure) => (figure.unit ? `${figure.title}, ${figure.unit}` : figure.title);
  svg.append(element("text", { x: left, y: 12, class: "axis" }, name(figureY)));
  svg.append(element("text", { x: width - right, y: height - 6, "text-anchor": "end", class: "axis" }, name(figureX)));
  stamp(svg, shown, width - right);
  const logs = [x.log ? "right" : "", y.log ? "up" : ""].filter(Boolean).join(" and ");
  const words = `${shown.some((row) => row.simulated) ? "SIMULATED. " : ""}${figureY.title} against ${figureX.title} of ` +
    `${shown.length}${logs ? `; logarithmic ${logs}` : ""}. Crosses are 95 % intervals, triangles bounds that point to the truth.`;
  svg.setAttribute("aria-label", words);
  return [svg, words];
}
