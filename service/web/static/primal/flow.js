// Where the money of a primal goes: streams as wide as the money, drawn from the tables in the page.

import { element, number } from "./drawing.js";

const WIDTH = 1160;
const BESIDE = 215;
const LONGEST = 23;
const ADDED = ["labour", "charges"];
const THROWN = ["loss", "unaccounted"];
const CUTS = ["main", "trim", "by_product"];
const figure = document.getElementById("flow");

function places() {
  return [...document.querySelectorAll("#flow-places tbody tr")].map((row) => ({
    id: row.dataset.id, kind: row.dataset.kind, name: row.cells[0].textContent, money: row.dataset.shown }));
}

function streams() {
  return [...document.querySelectorAll("#flow-streams tbody tr")].map((row) => ({
    source: row.dataset.source, target: row.dataset.target, value: number(row.cells[2]),
    words: `${row.cells[0].textContent} to ${row.cells[1].textContent}: ${row.cells[2].textContent}` }))
    .filter((stream) => stream.value > 0);
}

/** Where a place stands, from the left: what is added just before what it is added to, ends at the right. */
function column(node, columns) {
  if (ADDED.includes(node.kind)) return Math.max(0, node.sourceLinks[0].target.depth - 1);
  return node.sourceLinks.length ? node.depth : columns - 1;
}

function laidOut() {
  const links = streams();
  const used = new Set(links.flatMap((stream) => [stream.source, stream.target]));
  const nodes = places().filter((place) => used.has(place.id));
  const ends = nodes.filter((place) => !links.some((stream) => stream.source === place.id)).length;
  const cuts = nodes.filter((place) => CUTS.includes(place.kind)).length;
  const height = Math.max(380, 46 * Math.max(ends, cuts));
  return { ...d3.sankey().nodeId((node) => node.id).nodeAlign(column).nodeWidth(10).nodePadding(28)
    .extent([[1, 12], [WIDTH - BESIDE, height - 12]])({ nodes, links }), height };
}

/** In the picture a cut goes without what stands in brackets behind its name, and a long name in two lines. */
function lines(name) {
  const short = name.replace(/ \([^)]*\)$/, "");
  if (short.length <= LONGEST) return [short];
  const cut = short.lastIndexOf(" ", LONGEST);
  const rest = short.slice(cut + 1);
  return [short.slice(0, cut), rest.length > LONGEST ? `${rest.slice(0, LONGEST - 1)}\u2026` : rest];
}

function label(node) {
  const named = lines(node.name);
  const middle = (node.y0 + node.y1) / 2 + 4;
  const top = named.length === 1 ? middle : middle - 8;
  return named.map((line, place) => element("text", { x: node.x1 + 6, y: top + 15 * place },
    place === named.length - 1 ? `${line} ${node.money}` : line));
}

/** Which colour a stream has: that of the loss or cut it comes from, else of what it goes to. */
function kindOf(link) {
  const from = link.source.kind;
  return THROWN.includes(from) || (CUTS.includes(from) && link.target.kind !== "left") ? from : link.target.kind;
}

function stream(link) {
  link.drawn = element("path", { class: `stream to-${kindOf(link)}`, d: d3.sankeyLinkHorizontal()(link),
    "stroke-width": Math.max(0.8, link.width) });
  link.drawn.append(element("title", {}, link.words));
  return link.drawn;
}

function place(node, links) {
  const drawn = element("rect", { class: `place ${node.kind}`, x: node.x0, y: node.y0, width: node.x1 - node.x0,
    height: Math.max(1, node.y1 - node.y0) });
  drawn.append(element("title", {}, `${node.name}: ${node.money}`));
  drawn.addEventListener("pointerenter", () => light(links, node));
  drawn.addEventListener("pointerleave", () => light(links, null));
  return drawn;
}

function light(links, node) {
  for (const link of links) {
    const lit = node !== null && (link.source === node || link.target === node);
    link.drawn.classList.toggle("lit", lit);
    link.drawn.classList.toggle("dim", node !== null && !lit);
  }
}

function draw() {
  const { nodes, links, height } = laidOut();
  const svg = element("svg", { viewBox: `0 0 ${WIDTH} ${height}`, role: "img",
    "aria-labelledby": "flow-title flow-words" });
  svg.append(...links.map(stream), ...nodes.map((node) => place(node, links)), ...nodes.flatMap(label));
  figure.replaceChildren(svg);
  figure.hidden = false;
}

if (figure) draw();
