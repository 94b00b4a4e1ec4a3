// The public API, asked as any client asks it. The browser adds the session's cookie by itself; what changes something
// carries the page's token besides. Answers are not stored: they would outlive the session on a shared computer.

let about = null;

/** A problem document, or what stands for one when no answer came. `errors` says which fields are concerned. */
export class Problem extends Error {
  constructor(status, told) {
    super(told.detail);
    this.status = status;
    this.told = told;
    this.errors = told.errors ?? [];
  }
}

/** Who is signed in: `name`, `scopes`, `page_token`; asked once. */
export function session() {
  if (about === null) {
    about = ask("GET", "/session");
    about.catch(() => { about = null; }); // no answer: ask again next time
  }
  return about;
}

/** Ask the API; what changes nothing (a what-if) needs no less a token, as it is no GET. Throws a Problem. */
export async function ask(method, path, { json, signal, headers: more } = {}) {
  const headers = method === "GET" ? {} : { ...more, "Seamcost-Page-Token": (await session()).page_token ?? "" };
  if (json !== undefined) headers["Content-Type"] = "application/json";
  const body = json === undefined ? undefined : JSON.stringify(json);
  return told(await answered(path, { method, headers, body, signal, cache: "no-store", credentials: "same-origin" }));
}

async function answered(path, asked) {
  try {
    return await fetch(path, asked);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Problem(0, { detail: "The service cannot be reached. What you entered is still here: try again." });
  }
}

async function told(answer) {
  const text = await answer.text();
  let read = null;
  try {
    read = text ? JSON.parse(text) : null;
  } catch {
    read = null;
  }
  if (answer.ok) return read;
  if (answer.status === 401 || answer.status === 403) about = null; // ended, or another's by now: ask again who it is
  throw new Problem(answer.status, read ?? { detail: `Something between here and the service answered ${answer.status}.` });
}
