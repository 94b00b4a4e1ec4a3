// Sending a supplier's file. What it says is read by the service; what cannot be told is asked for here, and the same
// bytes are sent again.

import { ask, everything } from "./api.js";
import { busy, byId, make, mark, place, say, show } from "./dom.js";
import { holder } from "./sign_in.js";

const MOST_BYTES = 20 * 1024 * 1024;
const MEANINGS = [
  ["item", "The supplier's item code"], ["price", "Price"], ["name", "Name"], ["unit", "What the price is for"],
  ["pack", "Pack"], ["gtin", "GTIN"], ["currency", "Currency"], ["starts", "First day"], ["ends", "Last day"],
];
const FIELDS = { supplier: "supplier", effective_from: "effective-from", sheet: "sheet" };

let chosen = null; // the file as it was when it was chosen: its name and its bytes
let openReview = () => {};

export async function prepareProposing(open) {
  openReview = open;
  byId("propose-form").addEventListener("submit", propose);
  byId("file").addEventListener("change", (event) => take(event.target.files[0]));
  byId("supplier").addEventListener("change", offerTemplates);
  for (const field of Object.values(FIELDS)) byId(field).addEventListener("input", () => mark(field, ""));
  prepareDropping();
  show("may-not-propose", !holder.scopes.has("prices:write"));
  show("propose-form", holder.scopes.has("prices:write"));
  for (const supplier of await everything("/v1/suppliers")) {
    byId("supplier").append(make("option", { value: supplier.code }, `${supplier.name} (${supplier.code})`));
  }
}

/** A file dropped beside the field would otherwise replace the page, and all that was entered. */
function prepareDropping() {
  const drop = byId("drop");
  const over = (is) => drop.classList.toggle("over", is);
  window.addEventListener("dragover", (event) => {
    event.preventDefault();
    over(true);
  });
  window.addEventListener("dragleave", (event) => over(event.relatedTarget !== null));
  window.addEventListener("drop", (event) => {
    event.preventDefault();
    over(false);
    if (byId("lists").hidden || byId("propose-form").hidden || event.dataTransfer.files.length === 0) return;
    byId("file").files = event.dataTransfer.files;
    take(event.dataTransfer.files[0]);
    byId("propose-button").focus();
  });
}

async function take(file) {
  chosen = null;
  show("columns", false);
  byId("columns-asked").replaceChildren();
  mark("file", "");
  if (file === undefined) return;
  if (file.size > MOST_BYTES) {
    mark("file", `${file.name} has ${Math.ceil(file.size / 1024 / 1024)} MB; 20 MB are read at most. Split it.`);
    return;
  }
  try {
    chosen = { name: file.name, bytes: await file.arrayBuffer() };
    say(`${file.name} is chosen.`);
  } catch {
    mark("file", `${file.name} cannot be read by the browser: choose it again.`);
  }
}

function offerTemplates() {
  const supplier = byId("supplier").value;
  show("template-links", supplier !== "");
  for (const format of ["csv", "xlsx"]) {
    byId(`template-${format}`).href = `/v1/suppliers/${encodeURIComponent(supplier)}/price-list-template?format=${format}`;
  }
}

async function propose(event) {
  event.preventDefault();
  if (byId("file").files.length && chosen === null && byId("file-problem").hidden) await take(byId("file").files[0]);
  mark("supplier", byId("supplier").value ? "" : "Choose whose list it is.");
  if (chosen === null && byId("file-problem").hidden) mark("file", "Choose the file.");
  const missing = byId("supplier").value === "" ? "supplier" : chosen === null ? "file" : null;
  if (missing !== null) {
    byId(missing).focus();
    return;
  }
  await busy(byId("propose-button"), `Reading ${chosen.name}`, send);
}

async function send() {
  for (const field of [...Object.values(FIELDS), ...Object.values(columnFields()), "file"]) mark(field, "");
  try {
    const { status, body } = await ask("POST", "/v1/price-proposals", { query: asked(), file: chosen.bytes });
    say(status === 200 ? "This very file has come before: here is its review." : "The file is read.");
    clearFile();
    openReview(body);
  } catch (problem) {
    if (problem.slug === "columns-not-recognised") askForColumns(problem);
    else place(problem, { ...FIELDS, ...columnFields() }, "file");
  }
}

function asked() {
  const query = {
    supplier: byId("supplier").value, effective_from: byId("effective-from").value, file_name: chosen.name.slice(0, 200),
    sheet: byId("sheet").value.trim(), spread_charges: byId("spread-charges").checked ? "true" : "",
  };
  for (const select of byId("columns-asked").querySelectorAll("select")) query[`${select.dataset.means}_column`] = select.value;
  return query;
}

/** The columns that were found, to be told apart by a person; what was chosen before stays chosen. */
function askForColumns(problem) {
  const { columns = [], missing = [] } = problem.told;
  const before = new Map([...byId("columns-asked").querySelectorAll("select")].map((one) => [one.dataset.means, one.value]));
  const first = MEANINGS.filter(([means]) => missing.includes(means));
  const rest = MEANINGS.filter(([means]) => !missing.includes(means));
  byId("columns-problem").textContent = problem.message;
  byId("columns-asked").replaceChildren(...[...first, ...rest].map(([means, words]) => {
    const id = `column-${means}`;
    const options = columns.map((column) => make("option", { value: column, selected: before.get(means) === column }, column));
    return make("div", { class: "field" },
      make("label", { for: id }, missing.includes(means) ? `${words} (needed)` : words),
      make("select", { id, "data-means": means, "aria-describedby": `${id}-problem` },
        make("option", { value: "" }, missing.includes(means) ? "Choose one" : "none"), ...options),
      make("p", { class: "wrong", id: `${id}-problem`, hidden: true }));
  }));
  show("columns", true);
  say("Say which column is which.");
  byId("columns-asked").querySelector("select").focus();
}

function columnFields() {
  const asked = [...byId("columns-asked").querySelectorAll("select")];
  return Object.fromEntries(asked.map((select) => [`${select.dataset.means}_column`, select.id]));
}

function clearFile() {
  chosen = null;
  byId("file").value = "";
  byId("columns-asked").replaceChildren();
  show("columns", false);
}
