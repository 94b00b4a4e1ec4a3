// What a cut costs by each way of sharing, as marks on one scale beside the figures.

import { element, number } from "./drawing.js";

const WIDTH = 256;
const rows = [...document.querySelectorAll("#ways tbody tr")].map((row) => ({
  picture: row.querySelector(".picture"), name: row.cells[0].textContent,
  weight: number(row.cells[1]), value: number(row.cells[2]), rest: number(row.cells[3]), buy: number(row.cells[4]) }));
const known = rows.flatMap((row) => [row.weight, row.value, row.rest, row.buy]).filter((value) => value !== null);

const bar = (at, from, to, kind) => element("line", { class: kind, x1: at[0], x2: at[1], y1: from, y2: to });

function draw() {
  const x = d3.scaleLinear(d3.extent(known), [8, WIDTH - 8]);
  for (const row of rows) {
    const svg = element("svg", { viewBox: `0 0 ${WIDTH} 20`, "aria-hidden": "true" });
    const there = [row.weight, row.value, row.rest].filter((value) => value !== null);
    if (there.length) svg.append(bar(d3.extent(there).map(x), 10, 10, "line"));
    if (row.buy !== null) svg.append(bar([x(row.buy), x(row.buy)], 1, 19, "b"));
    if (row.weight !== null) svg.append(element("circle", { class: "w", cx: x(row.weight), cy: 10, r: 5 }));
    if (row.value !== null) svg.append(element("path", { class: "v", d: `M${x(row.value) - 4.5},5.5 h9 v9 h-9 z` }));
    if (row.rest !== null) svg.append(element("path", { class: "r", d: `M${x(row.rest)},4 l5.5,10 h-11 z` }));
    row.picture.replaceChildren(svg);
  }
  for (const cell of document.querySelectorAll("#ways .picture")) cell.hidden = false;
}

if (known.length && d3.max(known) > 0) draw();
