// The line of a dish's food cost, and of what it may cost at its target, drawn from the table in the page.

const SVG = "http://www.w3.org/2000/svg";
const HEIGHT = 240;
const MARGIN = { top: 16, right: 12, bottom: 26, left: 48 };
const figure = document.getElementById("chart");
const day = (text) => new Date(`${text}T00:00:00Z`);
const number = (cell) => (/\d/.test(cell.textContent) ? Number(cell.textContent) : null);

const points = [...document.querySelectorAll("#history-table tbody tr")].map((row) => ({
  day: day(row.querySelector("time").dateTime), cost: number(row.cells[1]), target: number(row.cells[2]),
  words: `${row.cells[0].textContent}: ${row.cells[1].textContent}`,
}));
const start = points.find((point) => point.cost !== null)?.day ?? day(figure.dataset.from);
const end = day(figure.dataset.to);
const today = day(figure.dataset.day);

function element(name, attributes, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [attribute, value] of Object.entries(attributes)) made.setAttribute(attribute, value);
  made.textContent = text;
  return made;
}

/** A line of steps: each figure holds until the next point; the last one to the end. */
function steps(which, from, to, x, y) {
  const held = points.filter((point) => point.day <= to).concat({ ...points.filter((point) => point.day <= to).at(-1), day: to });
  const shown = held.map((point) => ({ ...point, day: point.day < from ? from : point.day }));
  return d3.line().defined((point) => point[which] !== null && point[which] !== undefined).curve(d3.curveStepAfter)
    .x((point) => x(point.day)).y((point) => y(point[which]))(shown.filter((point, place) =>
      place === shown.length - 1 || shown[place + 1].day > from || point.day > from));
}

function axes(svg, x, y, width) {
  for (const tick of y.ticks(4)) {
    svg.append(element("line", { class: "grid", x1: MARGIN.left, x2: width - MARGIN.right, y1: y(tick), y2: y(tick) }),
      element("text", { x: MARGIN.left - 8, y: y(tick) + 4, "text-anchor": "end" }, d3.format(".2f")(tick)));
  }
  const format = d3.utcFormat(end - start > 200 * 86_400_000 ? "%b %Y" : "%-d %b");
  for (const tick of x.ticks(Math.max(2, Math.floor(width / 130)))) {
    svg.append(element("text", { x: x(tick), y: HEIGHT - 6, "text-anchor": "middle" }, format(tick)));
  }
}

function draw() {
  const width = Math.max(280, Math.floor(figure.clientWidth));
  const known = points.flatMap((point) => [point.cost, point.target]).filter((value) => value !== null);
  const x = d3.scaleUtc([start, end], [MARGIN.left, width - MARGIN.right]);
  const spread = d3.extent(known);
  const room = (spread[1] - spread[0]) * 0.18 || spread[1] * 0.1 || 1;
  const y = d3.scaleLinear([Math.max(0, spread[0] - room), spread[1] + room], [HEIGHT - MARGIN.bottom, MARGIN.top]);
  const svg = element("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, role: "img", "aria-labelledby": "history history-words" });
  axes(svg, x, y, width);
  svg.append(element("line", { class: "today", x1: x(today), x2: x(today), y1: MARGIN.top, y2: HEIGHT - MARGIN.bottom }),
    element("text", { x: x(today) + 4, y: MARGIN.top + 2 }, "to come"));
  for (const which of ["target", "cost"]) {
    const past = steps(which, start, today, x, y);
    const coming = steps(which, today, end, x, y);
    if (past) svg.append(element("path", { class: which, d: past }));
    if (coming) svg.append(element("path", { class: `${which} coming`, d: coming }));
  }
  for (const point of points.filter((one) => one.cost !== null && one.day >= start)) {
    const dot = element("circle", { class: "dot", cx: x(point.day), cy: y(point.cost), r: 3 });
    dot.append(element("title", {}, point.words));
    svg.append(dot);
  }
  names(svg, x, y);
  figure.replaceChildren(svg);
}

/** Each line says itself what it is, on the side where the other one is not. */
function names(svg, x, y) {
  const first = points.find((point) => point.cost !== null);
  if (!first) return;
  const above = first.target === null || first.cost >= first.target;
  const at = x(first.day < start ? start : first.day) + 6;
  svg.append(element("text", { class: "name", x: at, y: y(first.cost) + (above ? -8 : 18) }, "food cost"));
  if (first.target !== null) svg.append(
    element("text", { class: "name of-target", x: at, y: y(first.target) + (above ? 18 : -8) }, "at target"));
}

if (points.some((point) => point.cost !== null)) {
  figure.hidden = false;
  new ResizeObserver(draw).observe(figure);
} else document.getElementById("history-table").open = true;
