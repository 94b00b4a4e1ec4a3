// Take note of an open alert: what is to be done about it, kept in the ledger with who said so.

import { ask, session } from "/static/frame/api.js";

const form = document.getElementById("acknowledge");

if (form) {
  const note = document.getElementById("note");
  const problem = document.getElementById("note-problem");
  const noted = document.getElementById("noted");

  session().then(({ scopes = [] }) => {
    form.hidden = !scopes.includes("menu:write");
  }).catch(() => {
    form.hidden = false; // not known: the service says so when a note is taken
  });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    wrong(note.value.trim() ? "" : "Say in a word what is to be done, or why nothing is.");
    if (!note.value.trim()) return;
    try {
      const told = await ask("POST", `/v1/margin-alerts/${form.dataset.alert}/acknowledgement`, { json: { note: note.value.trim() } });
      noted.textContent = `Noted by ${told.acknowledgement?.who ?? told.who}: ${told.acknowledgement?.note ?? told.note}`;
      noted.tabIndex = -1;
      noted.focus();
      note.value = "";
    } catch (refused) {
      wrong(refused.message);
    }
  });

  function wrong(words) {
    problem.textContent = words;
    problem.hidden = !words;
    note.setAttribute("aria-invalid", String(Boolean(words)));
    if (words) note.focus();
  }
}
