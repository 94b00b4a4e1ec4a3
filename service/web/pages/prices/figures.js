// Figures and days as people read them. Amounts come as exact text and stay text: nothing here calculates.

let decimals = 2;

/** How many decimals the currency has: fewer are never shown. */
export function useCurrency(currency) {
  try {
    decimals = new Intl.NumberFormat("en", { style: "currency", currency }).resolvedOptions().maximumFractionDigits;
  } catch {
    decimals = 2;
  }
}

/** "14.2000" is 14.20: zeros that say nothing are left out, down to the currency's decimals. */
export function money(text) {
  if (text === null) return "";
  const [whole, part = ""] = text.split(".");
  const kept = part.replace(/0+$/, "").padEnd(decimals, "0");
  return signless(kept ? `${whole}.${kept}` : whole);
}

/** A change, with its sign. */
export function signed(text) {
  if (text === null) return "";
  const shown = money(text);
  return /^-|^−|^[0.]+$/.test(shown) ? shown : `+${shown}`;
}

export function percent(text) {
  return text === null ? "" : `${signless(text)} %`;
}

export function signedPercent(text) {
  if (text === null) return "";
  return /^-|^[0.]+$/.test(text) ? percent(text) : `+${percent(text)}`;
}

export function day(text) {
  return text === null ? "" : new Date(`${text}T00:00:00Z`).toLocaleDateString("en-GB", {
    day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });
}

export function instant(text) {
  return new Date(text).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
}

export function several(count, one, more) {
  return `${count} ${count === 1 ? one : more}`;
}

/** A code of the API in words: `unknown_item` is "unknown item". */
export function words(code) {
  return code.replaceAll("_", " ");
}

/** "1, 2 and 3"; no more than ten. */
export function listed(numbers) {
  const shown = numbers.slice(0, 10).map(String);
  if (numbers.length > 10) return `${shown.join(", ")} and ${numbers.length - 10} more`;
  return shown.length < 2 ? shown.join("") : `${shown.slice(0, -1).join(", ")} and ${shown.at(-1)}`;
}

function signless(text) {
  return text.replace(/^-/, "\u2212");
}
