// The tests of one output by date, with centre and limits, drawn from the table in the page; which output is chosen.

import { element, number } from "./drawing.js";

const HEIGHT = 260;
const MARGIN = { top: 18, right: 92, bottom: 28, left: 52 };
const SHAPES = { outside: d3.symbolDiamond, run: d3.symbolSquare, "": d3.symbolCircle };
const figure = document.getElementById("yield-chart");
const chosen = document.getElementById("output");
const table = document.getElementById("yield-table");

function row(name, place) {
  return number(table.querySelector(`tr.${name}`).cells[place + 1]);
}

function points(place) {
  return [...table.querySelectorAll("tr.test")].map((test) => ({
    day: new Date(`${test.querySelector("time").dateTime}T00:00:00Z`), value: number(test.cells[place + 1]),
    mark: test.cells[place + 1].dataset.mark,
    words: `${test.cells[0].textContent}: ${test.cells[place + 1].textContent} %` }));
}

function scales(tested, lines, width) {
  const [first, last] = d3.extent(tested, (point) => point.day);
  const around = (last - first) * 0.04 || 86_400_000;
  const values = d3.extent([...tested.map((point) => point.value), ...lines]);
  const room = (values[1] - values[0]) * 0.12 || Math.abs(values[1]) * 0.1 || 1;
  return [d3.scaleUtc([new Date(+first - around), new Date(+last + around)], [MARGIN.left, width - MARGIN.right]),
    d3.scaleLinear([values[0] - room, values[1] + room], [HEIGHT - MARGIN.bottom, MARGIN.top])];
}

function across(kind, y, width) {
  return element("line", { class: kind, x1: MARGIN.left, x2: width - MARGIN.right, y1: y, y2: y });
}

function axes(svg, x, y, width) {
  for (const tick of y.ticks(5)) {
    svg.append(across("grid", y(tick), width), element("text", { class: "axis", x: MARGIN.left - 8, y: y(tick) + 4,
      "text-anchor": "end" }, `${y.tickFormat(5)(tick)} %`));
  }
  for (const tick of x.ticks(Math.max(2, Math.floor(width / 150)))) {
    svg.append(element("text", { class: "axis", x: x(tick), y: HEIGHT - 8, "text-anchor": "middle" },
      d3.utcFormat("%-d %b %Y")(tick)));
  }
}

function draw() {
  const place = Number(chosen.value);
  const width = Math.max(300, Math.floor(figure.clientWidth));
  const tested = points(place);
  const lines = [["upper limit", "upper", "limit"], ["centre", "centre", "centre"], ["lower limit", "lower", "limit"]]
    .map(([name, from, kind]) => ({ name, kind, value: row(from, place) })).filter((line) => line.value !== null);
  const [x, y] = scales(tested, lines.map((line) => line.value), width);
  const svg = element("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, role: "img", "aria-labelledby": "yield-words" });
  axes(svg, x, y, width);
  for (const line of lines) {
    svg.append(across(line.kind, y(line.value), width),
      element("text", { x: width - MARGIN.right + 6, y: y(line.value) + 4 }, line.name));
  }
  const between = d3.line((point) => x(point.day), (point) => y(point.value));
  svg.append(element("path", { class: "between", d: between(tested) }));
  for (const point of tested) {
    const shape = d3.symbol(SHAPES[point.mark], point.mark ? 150 : 60);
    const made = element("path", { class: `point ${point.mark}`, d: shape(),
      transform: `translate(${x(point.day)},${y(point.value)})` });
    made.append(element("title", {}, point.words));
    svg.append(made);
  }
  figure.replaceChildren(svg);
  document.getElementById("yield-words").textContent = chosen.selectedOptions[0].dataset.words;
}

if (figure) {
  for (const id of ["which", "yield-chart", "yield-key"]) document.getElementById(id).hidden = false;
  chosen.addEventListener("change", draw);
  new ResizeObserver(draw).observe(figure);
}
