// What every script of the locates needs of the phone and of the server.
export const REFUSED = [400, 409, 422];
export const NO_CONNECTION = "No connection. It stays on this phone and is sent when the connection returns.";
export const person = () => document.body.dataset.person || "";
export const personName = () => document.body.dataset.by || "";
export const byId = (id) => document.getElementById(id);

// Random ids need a secure page; on a plain one they are put together from random bytes.
export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 15) | 64;
  b[8] = (b[8] & 63) | 128;
  const h = [...b].map((v) => v.toString(16).padStart(2, "0")).join("");
  return `${h.slice(0, 8)}-${h.slice(8, 12)}-${h.slice(12, 16)}-${h.slice(16, 20)}-${h.slice(20)}`;
}

// One write, under an id of the phone's: sent again with the same id it changes nothing. No signal for too long
// counts as no connection.
export function post(address, id, body, patience_ms = 30000) {
  const cookie = document.cookie.split("; ").find((one) => one.startsWith("csrftoken="))?.split("=")[1];
  const headers = { "X-CSRFToken": cookie || document.querySelector("[name=csrfmiddlewaretoken]")?.value || "", "Idempotency-Key": id };
  const file = body instanceof FormData;
  if (!file) headers["Content-Type"] = "application/json";
  const wait = AbortSignal.timeout ? { signal: AbortSignal.timeout(patience_ms) } : {};
  return fetch(address, { method: "POST", headers, body: file ? body : JSON.stringify(body), ...wait });
}

export function trouble(status, what) {
  return status === 401 || status === 403
    ? `You are logged out. Log in again; ${what} on this phone.`
    : `The server could not take it (${status}). It is tried again; ${what} on this phone.`;
}

// One at a time, also when two pages are open: who comes second leaves it to the first.
const busy = new Set();
export async function alone(name, act) {
  if (navigator.locks) return navigator.locks.request(`firstspade.${name}`, { ifAvailable: true }, (lock) => (lock ? act() : undefined));
  if (busy.has(name)) return undefined;
  busy.add(name);
  try { return await act(); } finally { busy.delete(name); }
}
