// What is supposed: read from the address, written back to it, and made into the question for the API.
//
// In the address: prices=beef-topside:12,whole-salmon:-5  yields=topside-seamed/topside-cap:12.5  menu_prices=code:23.50
// Numbers stay text from the box to the service: nothing here computes with them.

const MAPS = ["prices", "yields", "menu_prices", "portions"];
const NUMBER = /^-?\d{1,12}(\.\d{1,6})?$/;

/** What the address supposes. What does not look like a number is left out. */
export function fromAddress(search) {
  const query = new URLSearchParams(search);
  const state = { as_of: query.get("as_of") ?? "", known_at: query.get("known_at") ?? "",
                  all_prices: number(query.get("all_prices")) };
  for (const name of MAPS) {
    const pairs = (query.get(name) ?? "").split(",").map((pair) => pair.split(":"));
    state[name] = new Map(pairs.filter(([key, value]) => key && number(value)));
  }
  return state;
}

/** The address of what is supposed, its other parameters as they are. */
export function toAddress(state, search) {
  const query = new URLSearchParams(search);
  set(query, "as_of", state.as_of);
  set(query, "all_prices", state.all_prices);
  for (const name of MAPS) set(query, name, [...state[name]].map((pair) => pair.join(":")).join(","));
  const text = query.toString().replaceAll("%3A", ":").replaceAll("%2C", ",").replaceAll("%2F", "/");
  return text ? `?${text}` : "";
}

/** The body of the question; and what each of its lists is about, so that a fault finds its lever. */
export function question(state) {
  // Mends are asked for when somebody looks: of a long menu they take seconds.
  const body = { lists: ["dishes"], mends_for: [] };
  const places = { prices: [], yields: [] };
  if (state.as_of) body.as_of = state.as_of;
  if (state.known_at) body.known_at = Number(state.known_at);
  if (state.all_prices) places.prices.push(["all_prices"]);
  if (state.all_prices) body.prices = [{ percent: state.all_prices }];
  for (const [code, percent] of state.prices) {
    (body.prices ??= []).push({ percent, ingredients: [code] });
    places.prices.push(["prices", code]);
  }
  const breakdowns = Map.groupBy ? Map.groupBy(state.yields, ([key]) => key.split("/")[0]) : grouped(state.yields);
  for (const [breakdown, outputs] of breakdowns) {
    (body.yields ??= []).push({ breakdown, yields: outputs.map(([key, percent]) => (
      { cut: key.split("/")[1], yield: hundredth(percent) })) });
    places.yields.push(["breakdown", breakdown]);
  }
  if (state.menu_prices.size) body.menu_prices = [...state.menu_prices].map(([dish, menu_price]) => ({ dish, menu_price }));
  if (state.portions.size) body.portions = [...state.portions].map(([dish, portions]) => ({ dish, portions }));
  return { body, places };
}

/** Whether nothing is supposed. */
export function isEmpty(state) {
  return !state.all_prices && MAPS.every((name) => state[name].size === 0);
}

/** A number as the service reads it, or "" : a comma will do for the point. */
export function number(text) {
  const plain = (text ?? "").trim().replace(",", ".").replace(/^\+/, "").replace(/^(-?)\./, "$10.");
  return NUMBER.test(plain) ? plain : "";
}

/** A percentage as a fraction, by moving the point in the text: 12.5 is 0.125. At most 6 decimals, as a record has. */
function hundredth(percent) {
  const [whole, part = ""] = percent.split(".");
  const digits = whole.padStart(3, "0");
  const decimals = `${digits.slice(-2)}${part}`.slice(0, 6).replace(/0+$/, "");
  return decimals ? `${Number(digits.slice(0, -2))}.${decimals}` : String(Number(digits.slice(0, -2)));
}

function set(query, name, value) {
  if (value) query.set(name, value);
  else query.delete(name);
}

function grouped(yields) {
  const found = new Map();
  for (const pair of yields) {
    const breakdown = pair[0].split("/")[0];
    found.set(breakdown, [...(found.get(breakdown) ?? []), pair]);
  }
  return found;
}
