// Accepting and rejecting: both for good. What is refused is told at its rows; nothing typed is lost.

import { ask } from "./api.js";
import { busy, byId, focusOn, make, mark, say, show, tell } from "./dom.js";
import { listed, several } from "./figures.js";
import { goToRow, numbersOf } from "./rows.js";
import { holder } from "./sign_in.js";

let proposal = null;
let choice = null;
let decided = async () => {};

export function prepareDeciding() {
  byId("accept").addEventListener("click", () => busy(byId("accept"), "Accepting", accept));
  byId("reject").addEventListener("click", () => askWhy(byId("reject-form").hidden));
  byId("reject-not").addEventListener("click", () => {
    askWhy(false);
    byId("reject").focus();
  });
  byId("reject-form").addEventListener("submit", reject);
}

/** Show how many rows are ticked, and what may be done with them. */
export function showDecision(which, ticks, whenDecided) {
  if (proposal === null || proposal.id !== which.id || which.state !== "open") askWhy(false);
  tell("decide-problem", null);
  [proposal, choice, decided] = [which, ticks, whenDecided];
  const open = proposal.state === "open";
  const may = holder.scopes.has("prices:approve");
  const { all, withReason } = choice.count(proposal.counts.clean);
  show("decide", open);
  show("may-not-approve", !may);
  show("chosen", may);
  show("decide-buttons", may);
  byId("chosen").textContent = `${all} of ${several(proposal.counts.rows, "row is", "rows are")} ticked`
    + `${withReason ? `, ${withReason} of them with a reason` : ""}.`;
  if (byId("accept").getAttribute("aria-busy") !== "true") byId("accept").textContent = `Accept ${several(all, "row", "rows")}`;
  const reasons = new Set([...choice.reasons.values()].map((reason) => reason.trim()).filter(Boolean));
  byId("reasons").replaceChildren(...[...reasons].map((value) => make("option", { value })));
}

async function accept() {
  tell("decide-problem", null);
  const silent = choice.silent();
  if (silent.length) {
    const which = `${silent.length === 1 ? "Row" : "Rows"} ${listed(silent)}`;
    refuse(`${which} ${silent.length === 1 ? "needs a reason" : "need a reason each"}: say why it is right, or untick it.`, silent);
    return;
  }
  if (choice.count(proposal.counts.clean).all === 0) {
    refuse("No row is ticked. Tick those that are right, or reject the list.", []);
    return;
  }
  let sent = {};
  try {
    const { looks, reviewed_on } = proposal;  // the review that was seen: another one since is refused
    sent = { ...await choice.body(() => numbersOf(proposal.id, "clean")), looks, reviewed_on };
    const { body } = await ask("POST", `/v1/price-proposals/${proposal.id}/acceptance`, { json: sent });
    say(`Accepted: ${several(body.acceptance.accepted, "price", "prices")}.`);
    await decided(body, "ended");
  } catch (problem) {
    await refused(problem, sent);
  }
}

async function reject(event) {
  event.preventDefault();
  const reason = byId("reject-reason").value.trim();
  mark("reject-reason", reason ? "" : "Say why.");
  if (!reason) {
    byId("reject-reason").focus();
    return;
  }
  await busy(byId("reject-form").querySelector("button"), "Rejecting", async () => {
    try {
      const { body } = await ask("POST", `/v1/price-proposals/${proposal.id}/rejection`, { json: { reason } });
      byId("reject-reason").value = "";
      say("Rejected.");
      await decided(body, "ended");
    } catch (problem) {
      await refused(problem, {});
    }
  });
}

/** A refusal: where it says that the proposal stands otherwise by now, it is read again first. */
async function refused(problem, sent) {
  if (problem.slug === "proposal-closed" || problem.slug === "proposal-out-of-date") {
    const { body } = await ask("GET", `/v1/price-proposals/${proposal.id}`);
    await decided(body, body.state === "open" ? "out-of-date" : "ended");
    tell(body.state === "open" ? "decide-problem" : "trouble", problem);
    say(problem.message);
    return;
  }
  const details = problem.errors.length ? problem.errors.map((error) => error.detail) : [problem.message];
  refuse(details.slice(0, 10).join(" "), problem.errors.map((error) => rowOf(error, sent)).filter((row) => row !== null));
}

function rowOf(error, sent) {
  const [, list, place] = /^#\/(rows|overrides)\/(\d+)/.exec(error.pointer ?? "") ?? [];
  if (error.row !== undefined) return error.row;
  if (list === "overrides") return sent.overrides?.[place]?.row ?? null;
  return list === "rows" ? sent.rows?.[place] ?? null : null;
}

/** Say why not; the first row concerned that is on the page gets the focus, else the sentence itself. */
function refuse(words, rows) {
  tell("decide-problem", { message: words });
  say(words);
  for (const row of rows) {
    if (byId(`reason-${row}`) !== null) mark(`reason-${row}`, "See to this row.");
  }
  if (!rows.some(goToRow)) focusOn("decide-problem");
}

function askWhy(asked) {
  show("reject-form", asked);
  byId("reject").setAttribute("aria-expanded", String(asked));
  if (asked) byId("reject-reason").focus();
  else mark("reject-reason", "");
}
