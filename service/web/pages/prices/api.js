// The public API, asked as any client asks it. The browser adds the session's cookie by itself; what changes something
// carries the page's token besides. Answers are not stored: they would outlive the session on a shared computer.

let pageToken = "";
let whenEnded = () => {};

/** A problem document, or what stands for one when no answer came. `errors` says which fields are concerned. */
export class Problem extends Error {
  constructor(status, told) {
    super(told.detail);
    this.status = status;
    this.slug = String(told.type ?? "").split("/").pop();
    this.told = told;
    this.errors = told.errors ?? [];
  }
}

/** What to do when the session turns out to have ended. */
export function onSessionEnded(act) {
  whenEnded = act;
}

export function usePageToken(token) {
  pageToken = token;
}

/** The answer as JSON; null where it has no body. Throws a Problem. */
export async function ask(method, path, { query = {}, json, file } = {}) {
  const asked = Object.entries(query).filter(([, value]) => value !== "" && value !== null && value !== undefined);
  const target = asked.length ? `${path}?${new URLSearchParams(asked)}` : path;
  const headers = method === "GET" ? {} : { "Seamcost-Page-Token": pageToken };
  if (json !== undefined) headers["Content-Type"] = "application/json";
  if (file !== undefined) headers["Content-Type"] = "application/octet-stream";
  const body = json === undefined ? file : JSON.stringify(json);
  const answer = await answered(target, { method, headers, body, cache: "no-store", credentials: "same-origin" });
  return { status: answer.status, body: await bodyOf(answer) };
}

/** Every row of a list, page by page. */
export async function everything(path, query = {}) {
  const rows = [];
  for (let cursor = ""; cursor !== null;) {
    const { body } = await ask("GET", path, { query: { ...query, limit: 1000, cursor } });
    rows.push(...body.data);
    cursor = body.next_cursor;
  }
  return rows;
}

async function answered(target, asked) {
  try {
    return await fetch(target, asked);
  } catch {
    throw new Problem(0, { detail: "The service cannot be reached. What you entered is still here: try again." });
  }
}

async function bodyOf(answer) {
  const text = await answer.text();
  let told = null;
  try {
    told = text ? JSON.parse(text) : null;
  } catch {
    told = null;
  }
  if (answer.ok) return told;
  if (answer.status === 401 && !answer.url.endsWith("/session")) whenEnded();
  throw new Problem(answer.status, told ?? { detail: `Something between here and the service answered ${answer.status}.` });
}
