// The lists so far, the latest first.

import { ask } from "./api.js";
import { byId, cell, make, say, show } from "./dom.js";
import { day, instant, several } from "./figures.js";

let cursor = "";
let asking = 0;

export function prepareEarlier() {
  byId("earlier-state").addEventListener("change", async () => {
    await loadEarlier();
    say(several(byId("earlier-table").tBodies[0].rows.length, "list", "lists"));
  });
  byId("earlier-more").addEventListener("click", () => load(cursor));
}

export async function loadEarlier() {
  await load("");
}

async function load(from) {
  const mine = ++asking;
  const query = { state: byId("earlier-state").value, limit: 20, cursor: from };
  const { body } = await ask("GET", "/v1/price-proposals", { query });
  if (mine !== asking) return; // another choice was made meanwhile
  const rows = byId("earlier-table").tBodies[0];
  if (from === "") rows.replaceChildren();
  const first = rows.rows.length;
  rows.append(...body.data.map(rowOf));
  cursor = body.next_cursor ?? "";
  show("earlier-table", rows.rows.length > 0);
  show("earlier-none", rows.rows.length === 0);
  show("earlier-more", cursor !== "");
  if (from !== "") rows.rows[first].querySelector("a").focus();
}

function rowOf(proposal) {
  const name = proposal.reference || proposal.file_name || `List ${proposal.id}`;
  return make("tr", { role: "row" },
    make("th", { scope: "row", role: "rowheader" }, make("a", { href: `#${proposal.id}` }, name),
      proposal.reference && proposal.file_name ? make("span", { class: "soft below" }, proposal.file_name) : null),
    cell("Supplier", {}, proposal.supplier_name ?? proposal.supplier),
    cell("State", {}, make("span", { class: `state ${proposal.state}` }, proposal.state)),
    cell("Starts", {}, day(proposal.effective_from)),
    cell("Rows", { class: "number" }, String(proposal.rows)),
    cell("Proposed", {}, instant(proposal.made_at), make("span", { class: "soft below" }, `by ${proposal.who}`)));
}
