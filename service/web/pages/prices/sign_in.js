// Signing in and out. The key goes to the service once; the page never keeps it.

import { ask, onSessionEnded, usePageToken } from "./api.js";
import { busy, byId, mark, say, show } from "./dom.js";

export const holder = { name: "", scopes: new Set(), pageToken: "", gaveKey: false };

let started = () => {};

/** Ask whether somebody is signed in; `start` is called once somebody is. */
export async function enter(start) {
  started = start;
  byId("sign-in-form").addEventListener("submit", signIn);
  byId("sign-out").addEventListener("submit", signOut);
  onSessionEnded(ended);
  const { body } = await ask("GET", "/session");
  if (body.signed_in) admitted(body);
  else askForKey(false);
}

function admitted(about) {
  const again = holder.pageToken === about.page_token;
  if (holder.pageToken && !again) {
    location.reload(); // another key may see other things: begin anew
    return;
  }
  Object.assign(holder, { name: about.name, scopes: new Set(about.scopes), pageToken: about.page_token });
  usePageToken(about.page_token);
  byId("who").textContent = about.name;
  show("sign-out", true);
  show("sign-in", false);
  document.body.classList.remove("signed-out");
  if (!again) started();
  else say("Signed in again.");
}

function askForKey(hasEnded) {
  document.body.classList.add("signed-out");
  show("sign-out", false);
  show("session-ended", hasEnded);
  show("sign-in", true);
  byId(hasEnded ? "key" : "sign-in-title").focus();
}

function ended() {
  askForKey(true);
}

async function signIn(event) {
  event.preventDefault();
  const key = byId("key");
  mark("key", key.value.trim() ? "" : "Give your key.");
  if (!key.value.trim()) {
    key.focus();
    return;
  }
  await busy(event.submitter ?? byId("sign-in-form").querySelector("button"), "Signing in", async () => {
    try {
      const { body } = await ask("POST", "/session", { json: { key: key.value } });
      key.value = "";
      holder.gaveKey = true;
      admitted(body);
    } catch (problem) {
      mark("key", problem.message);
      key.focus();
    }
  });
}

async function signOut(event) {
  event.preventDefault();
  await ask("DELETE", "/session");
  location.replace("/prices"); // loaded anew: nothing of the session stays in the page
}

