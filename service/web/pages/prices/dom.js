// The page's elements: made, shown, filled and focused. Text is always inserted as text, never as markup.

export const byId = (id) => document.getElementById(id);

/** An element with attributes and children; text becomes text. Null and undefined are left out. */
export function make(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [attribute, value] of Object.entries(attributes)) {
    if (value === true) element.setAttribute(attribute, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(attribute, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

export function show(id, visible) {
  byId(id).hidden = !visible;
}

/** A cell of a table, labelled for the phone, where each row is a card. Roles keep it a table for a screen reader. */
export function cell(label, attributes, ...children) {
  const kept = children.flat().filter((child) => child !== null && child !== undefined && child !== "");
  return make("td", { role: "cell", "data-label": label, "data-empty": kept.length === 0, ...attributes }, ...kept);
}

/** Say something to everybody: seen for a while, and read out. */
export function say(text) {
  const said = byId("said");
  said.textContent = "";
  said.classList.remove("fresh");
  requestAnimationFrame(() => {
    said.textContent = text;
    said.classList.add("fresh");
  });
}

/** Tell a problem that belongs to no field. */
export function tell(id, problem) {
  const place = byId(id);
  place.textContent = problem === null ? "" : problem.message;
  place.hidden = problem === null;
}

/** Tell what is wrong with a field beside it; "" takes it back. */
export function mark(fieldId, text) {
  const place = byId(`${fieldId}-problem`);
  place.textContent = text;
  place.hidden = text === "";
  byId(fieldId).setAttribute("aria-invalid", text === "" ? "false" : "true");
}

/** Tell a problem at the fields that it names, and whatever is left at `elsewhere`; the first of them gets the focus. */
export function place(problem, fields, elsewhere) {
  let first = null;
  const left = [];
  for (const error of problem.errors) {
    const field = fields[error.parameter ?? error.pointer];
    if (field === undefined) left.push(error.detail);
    else mark(field, error.detail);
    first = first ?? field ?? null;
  }
  if (problem.errors.length === 0) left.push(problem.message);
  if (left.length) mark(elsewhere, left.join(" "));
  byId(first ?? elsewhere).focus();
}

/** Do something once at a time: its button waits, and says what for. Which state the work left it in stays. */
export async function busy(button, words, work) {
  if (button.getAttribute("aria-busy") === "true") return;
  const before = button.textContent;
  button.setAttribute("aria-busy", "true");
  button.textContent = words;
  say(words);
  try {
    await work();
  } finally {
    button.removeAttribute("aria-busy");
    if (button.textContent === words) button.textContent = before;
    if (byId("said").textContent === words) byId("said").textContent = "";
  }
}

export function focusOn(id) {
  const element = byId(id);
  element.focus({ preventScroll: true });
  element.scrollIntoView({ block: "start" });
}
