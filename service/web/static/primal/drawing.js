// SVG elements, and what stands in a table's cell as a number.

const SVG = "http://www.w3.org/2000/svg";

export function element(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [attribute, value] of Object.entries(attributes)) made.setAttribute(attribute, value);
  if (text) made.textContent = text;
  return made;
}

/** The published number of a cell, which may have words behind it; null where there is none. */
export function number(cell) {
  const found = /-?\d+(\.\d+)?/.exec(cell.textContent);
  return found ? Number(found[0]) : null;
}
