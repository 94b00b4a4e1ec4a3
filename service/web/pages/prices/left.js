// What an acceptance left, and why: rows left for the same reason are told together.

import { ask } from "./api.js";
import { byId, make } from "./dom.js";
import { listed, several, words } from "./figures.js";

const MOST = 1000;

/** Fill the list of rows left. Rows whose price is in force already are counted alone. */
export async function tellLeft(proposal) {
  const place = byId("left");
  if (place === null || proposal.acceptance.left === 0) return;
  const whys = new Map();
  for (const standing of ["blocked", "questioned", "clean"]) {
    if (proposal.counts[standing] === 0) continue;
    const path = `/v1/price-proposals/${proposal.id}/rows`;
    const { body } = await ask("GET", path, { query: { standing, limit: MOST } });
    for (const row of body.data.filter((one) => one.decision === "left")) {
      whys.set(why(row), [...whys.get(why(row)) ?? [], row.row]);
    }
  }
  const told = [...whys].map(([reason, rows]) => `${reason}: ${rows.length === 1 ? "row" : "rows"} ${listed(rows)}`);
  const unchanged = proposal.counts.unchanged;
  if (unchanged) told.push(`in force already: ${several(unchanged, "row", "rows")}`);
  const more = proposal.acceptance.left - unchanged - [...whys.values()].reduce((sum, rows) => sum + rows.length, 0);
  if (more > 0) told.push(`${several(more, "more row", "more rows")}, in the table below`);
  place.replaceChildren(make("p", {}, "What was left, and why:"), make("ul", {}, ...told.map((line) => make("li", {}, line))));
}

function why(row) {
  return row.standing === "clean" ? "unticked" : row.findings.map((found) => words(found.code)).join(", ");
}
