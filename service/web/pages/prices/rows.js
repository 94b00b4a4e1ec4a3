// The table of rows: filtered and ordered by the service, a hundred at a time; ticks and reasons are kept by row.

import { ask, everything } from "./api.js";
import { byId, make, say, show, tell } from "./dom.js";
import { several, words } from "./figures.js";
import { tellLeft } from "./left.js";
import { rowOf } from "./row.js";
import { holder } from "./sign_in.js";

const PAGE = 100;
const ORDERS = { place: "ascending", change: "descending", effect: "descending" };

const takeHead = byId("take-head");

let proposal = null;
let choice = null;
let changed = () => {};
let cursor = "";
let asking = 0;
let shown = 0;

export function prepareRows(onChange) {
  changed = onChange;
  for (const id of ["standing", "finding", "sort"]) {
    byId(id).addEventListener("change", async () => {
      await loadRows();
      say(byId("rows-shown").textContent || "No row is like that.");
    });
  }
  byId("rows-more").addEventListener("click", () => load(cursor));
  byId("tick-clean").addEventListener("click", () => tickAll(true));
  byId("untick").addEventListener("click", () => tickAll(false));
}

/** Which proposal's rows are shown. Filters stay as they are when it is the same again. */
export function useRows(which, ticks, same) {
  proposal = which;
  choice = ticks;
  const { counts } = proposal;
  fill("standing", [["", `all (${counts.rows})`], ...["clean", "questioned", "blocked", "unchanged"].map(
    (one) => [one, `${one} (${counts[one]})`])], same);
  fill("finding", [["", "any or none"], ...counts.by_finding.map(({ code, rows }) => [code, `${words(code)} (${rows})`])], same);
  if (!same) byId("sort").value = "place";
  byId("unit-price-head").textContent = `Per unit (${proposal.currency})`;
  show("tick-all", mayTick());
  takeHead.textContent = proposal.state === "open" ? "Take" : "Taken";
  if (mayTick() || proposal.state === "accepted") byId("rows-table").tHead.rows[0].prepend(takeHead);
  else takeHead.remove(); // a head without cells below it would be read out for nothing
}

export function mayTick() {
  return proposal.state === "open" && holder.scopes.has("prices:approve");
}

export async function loadRows() {
  await load("");
  if (proposal.state === "accepted") await tellLeft(proposal);
}

/** The numbers of all rows that stand so. */
export async function numbersOf(id, standing) {
  return (await everything(`/v1/price-proposals/${id}/rows`, { standing })).map((row) => row.row);
}

/** Show a row that has to be seen to, if it is on the page: its reason, else its tick, gets the focus. */
export function goToRow(number) {
  const row = byId(`row-${number}`);
  const field = row?.querySelector(".reason input") ?? row?.querySelector("input") ?? null;
  if (field !== null) field.focus();
  return field !== null;
}

function fill(id, options, same) {
  const before = same ? byId(id).value : "";
  byId(id).replaceChildren(...options.map(([value, text]) => make("option", { value, selected: value === before }, text)));
}

async function load(from) {
  const mine = ++asking;
  const query = { standing: byId("standing").value, finding: byId("finding").value, sort: byId("sort").value, limit: PAGE, cursor: from };
  byId("rows-table").setAttribute("aria-busy", "true");
  try {
    const { body } = await ask("GET", `/v1/price-proposals/${proposal.id}/rows`, { query });
    if (mine !== asking) return; // another filter was chosen meanwhile
    tell("trouble", null);
    put(body, from === "");
  } catch (problem) {
    if (mine === asking) tell("trouble", problem);
  } finally {
    if (mine === asking) byId("rows-table").removeAttribute("aria-busy");
  }
}

function put({ data, next_cursor: next }, anew) {
  const body = byId("rows-table").tBodies[0];
  if (anew) {
    body.replaceChildren();
    shown = 0;
  }
  const first = body.rows.length;
  const take = { open: mayTick() ? "tick" : "none", accepted: "decision", rejected: "none" }[proposal.state];
  body.append(...data.map((row) => rowOf(row, { take, choice, changed, proposal })));
  shown += data.length;
  cursor = next ?? "";
  tellHowMany();
  if (!anew) body.rows[first].querySelector("th").focus();
}

function tellHowMany() {
  const sort = byId("sort").value;
  show("rows-table", shown > 0);
  show("rows-none", shown === 0);
  show("rows-more", cursor !== "");
  byId("rows-more").textContent = `Show ${PAGE} more`;
  byId("rows-shown").textContent = shown === 0 ? "" : `${several(shown, "row", "rows")} shown${cursor ? ", there are more" : ""}.`;
  byId("rows-caption").textContent = `Rows of the file, ${byId("sort").selectedOptions[0].textContent}`;
  for (const head of byId("rows-table").querySelectorAll("th[data-sort]")) {
    if (head.dataset.sort === sort) head.setAttribute("aria-sort", ORDERS[sort]);
    else head.removeAttribute("aria-sort");
  }
}

function tickAll(ticked) {
  choice.setAllClean(ticked);
  for (const row of byId("rows-table").tBodies[0].rows) row.dispatchEvent(new CustomEvent("choice"));
  changed();
  say(ticked ? "Every clean row is ticked." : "No row is ticked.");
}
