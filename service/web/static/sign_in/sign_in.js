// Who comes by a link from elsewhere is sent without the session's cookie, though there may be a session: then go on.

const answer = await fetch("/session", { cache: "no-store", credentials: "same-origin" }).catch(() => null); // the form stays
if (answer?.ok && (await answer.json()).signed_in) location.replace(document.querySelector("[name=next]").value);
