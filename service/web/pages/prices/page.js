// The page for price lists: who is signed in, and which of its two views the address names (#7 is proposal 7).

import { Problem } from "./api.js";
import { prepareDeciding } from "./decide.js";
import { byId, focusOn, show, tell } from "./dom.js";
import { loadEarlier, prepareEarlier } from "./earlier.js";
import { prepareProposing } from "./propose.js";
import { openReview, prepareReview, showReview } from "./review.js";
import { enter, holder } from "./sign_in.js";

async function start() {
  prepareEarlier();
  prepareReview();
  prepareDeciding();
  window.addEventListener("hashchange", arrive);
  await arrive();
  await tried(() => prepareProposing(openNew));
}

/** What cannot be opened is told above the lists. */
async function arrive() {
  tell("trouble", null);
  const opened = await tried(route);
  if (opened || !(byId("lists").hidden && byId("review").hidden)) return;
  history.replaceState(null, "", location.pathname);
  await showLists();
}

/** Show what the address names. Other fragments are places on the page and change nothing. */
async function route() {
  const named = decodeURIComponent(location.hash.slice(1));
  if (named === "") await showLists();
  else if (/^[0-9]+$/.test(named)) {
    await openReview(named);
    turnTo("review", "review-title");
  }
}

async function showLists() {
  document.title = "Price lists - Seamcost";
  await loadEarlier();
  turnTo("lists", "lists-title");
}

async function openNew(proposal) {
  tell("trouble", null);
  history.pushState(null, "", `#${proposal.id}`);
  await tried(async () => {
    await showReview(proposal);
    turnTo("review", "review-title");
  });
}

let turned = false;

function turnTo(view, title) {
  show("lists", view === "lists");
  show("review", view === "review");
  if (turned || holder.gaveKey) focusOn(title); // not when the page has just been loaded: the reader begins at its top
  turned = true;
}

/** What fails to load is told at the top, and the page stays usable. */
async function tried(work) {
  try {
    await work();
    return true;
  } catch (problem) {
    if (!(problem instanceof Problem)) throw problem;
    tell("trouble", problem);
    return false;
  }
}

window.addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload(); // brought back from the browser's memory: the session may be another's
});

tried(() => enter(start));
