// Order, groups and limits: the rules of the library's own ranking, on plain data. No document here.
"use strict";

const VALUE = 0, LOW = 1, HIGH = 2, BOUND = 3, PARTS = 4;
const OWN = 0; // the source of what only one log has
const NORMAL = 1.959963984540054;
let quantiles = []; // two-sided t at 95 % for 1, 2, 3 ... degrees of freedom

// [low, high] between which the true value lies; null where nobody knows. A bound is open on one side.
function interval(figure) {
  if (figure[BOUND] === "above") return [figure[VALUE], Infinity];
  if (figure[BOUND] === "below") return [-Infinity, figure[VALUE]];
  return figure[LOW] === null || figure[HIGH] === null ? null : [figure[LOW], figure[HIGH]];
}

// Coverage factor at 95 %, between whole degrees of freedom interpolated in 1 / nu (JCGM 100, G.4.1).
function coverage(dof) {
  const below = Math.max(1, Math.floor(dof));
  if (below >= quantiles.length) return dof > 1e5 ? NORMAL : NORMAL + (NORMAL ** 3 + NORMAL) / (4 * dof);
  if (dof <= below) return quantiles[below - 1];
  const share = (1 / below - 1 / dof) / (1 / below - 1 / (below + 1));
  return (1 - share) * quantiles[below - 1] + share * quantiles[below];
}

// Is a difference more than its expanded uncertainty? Parts are [source, amount, dof or null]; shared ones cancel.
function differ(difference, a, b) {
  const squares = [...a, ...b].filter(([source]) => source === OWN).map(([, amount, dof]) => [amount ** 2, dof]);
  const shared = new Map();
  for (const [sign, parts] of [[1, a], [-1, b]]) {
    for (const [source, amount, dof] of parts) {
      if (source !== OWN) shared.set(source, [(shared.get(source)?.[0] ?? 0) + sign * amount, dof]);
    }
  }
  for (const [amount, dof] of shared.values()) squares.push([amount ** 2, dof]);
  const variance = squares.reduce((sum, [square]) => sum + square, 0);
  const spread = squares.reduce((sum, [square, dof]) => sum + (dof ? square ** 2 / dof : 0), 0);
  return difference > coverage(spread ? variance ** 2 / spread : Infinity) * Math.sqrt(variance);
}

// True when two figures differ by more than their uncertainties; null where one has none.
function toldApart(one, other) {
  if (one[PARTS] && other[PARTS]) return differ(Math.abs(one[VALUE] - other[VALUE]), one[PARTS], other[PARTS]);
  const [high, low] = one[VALUE] >= other[VALUE] ? [one, other] : [other, one];
  const [of, under] = [interval(high), interval(low)];
  if (of === null || under === null) return null;
  return high[VALUE] - low[VALUE] > Math.hypot(high[VALUE] - of[0], under[1] - low[VALUE]);
}

// Rows in the order of column `index` with their ranks: [{row, rank, group, first, shared}]; absent figures last.
function ranked(rows, index, descending) {
  const sign = descending ? -1 : 1;
  const have = rows.filter((row) => row.figures[index] !== null);
  have.sort((a, b) => sign * (a.figures[index][VALUE] - b.figures[index][VALUE]) || a.number - b.number);
  let leader = null, group = 0, rank = 0;
  const sizes = new Map();
  const lines = have.map((row, place) => {
    const figure = row.figures[index];
    if (interval(figure) === null) return { row, rank: null, group, first: false };
    const first = leader === null || toldApart(leader, figure);
    if (first) [leader, group, rank] = [figure, group + 1, place + 1];
    sizes.set(group, (sizes.get(group) ?? 0) + 1);
    return { row, rank, group, first };
  });
  for (const line of lines) line.shared = line.rank !== null && sizes.get(line.group) > 1;
  const without = rows.filter((row) => row.figures[index] === null);
  return [...lines, ...without.map((row) => ({ row, rank: null, group: -1, first: false, shared: false, absent: true }))];
}

// Rows in the order of a fact, without ranks.
function sorted(rows, fact, descending) {
  const sign = descending ? -1 : 1;
  const compare = new Intl.Collator("en", { numeric: true }).compare;
  const copy = [...rows].sort((a, b) => sign * compare(a[fact], b[fact]) || a.number - b.number);
  return copy.map((row) => ({ row, rank: null, group: 0, first: false, shared: false, plain: true }));
}

// A bound counts where it surely keeps the limit.
function keeps(figure, side, value) {
  if (figure === null) return false;
  if (side === "least") return figure[BOUND] !== "below" && figure[VALUE] >= value;
  return figure[BOUND] !== "above" && figure[VALUE] <= value;
}

function fulfils(row, wanted) {
  if (wanted.latest && !row.latest) return false;
  if (!wanted.words.every((word) => row.words.includes(word))) return false;
  return wanted.limits.every((limit) => keeps(row.figures[limit.index], limit.side, limit.value));
}
