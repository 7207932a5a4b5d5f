// Points wait on the phone until the server has said yes: one at a time, in order, under an id of the phone's.
// Sending one again changes nothing there. A point that is refused waits for its correction and holds those
// behind it, because what is right for a point depends on the ones before.
const form = document.getElementById("point-form");
const KEY = `firstspade.points.${form.dataset.run}`;
const RETRY_MS = 15000;
const STALE_MS = 10000;
const FOOT_M = 0.3048;
const field = (name) => form.elements.namedItem(name);
const byId = (id) => document.getElementById(id);
let here = null;
let sending = false;
let correcting = null;

const load = () => JSON.parse(localStorage.getItem(KEY) || "[]");
const keep = (points) => { localStorage.setItem(KEY, JSON.stringify(points)); show(); };
const cookie = (name) => document.cookie.split("; ").find((one) => one.startsWith(`${name}=`))?.split("=")[1];
// Random ids need a secure page; on a plain one they are put together from random bytes.
function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 15) | 64;
  b[8] = (b[8] & 63) | 128;
  const h = [...b].map((v) => v.toString(16).padStart(2, "0")).join("");
  return `${h.slice(0, 8)}-${h.slice(8, 12)}-${h.slice(12, 16)}-${h.slice(16, 20)}-${h.slice(20)}`;
}

// The unit in which this phone's person reads depths.
const unit = field("unit");
unit.value = localStorage.getItem("firstspade.unit") || unit.value;
unit.addEventListener("change", () => localStorage.setItem("firstspade.unit", unit.value));

// The phone's position is kept warm, so that the tap finds it.
const place = byId("place");
let watch = null;
let marking = false; // a tap waits for a new position

function follow() {
  if (watch !== null) navigator.geolocation.clearWatch(watch);
  watch = navigator.geolocation.watchPosition(
    ({ coords }) => {
      here = { coords, at: Date.now() };
      place.textContent = `Position good to ${Math.ceil(coords.accuracy / FOOT_M)} ft`;
      if (!marking) return;
      marking = false;
      form.requestSubmit();
    },
    (trouble) => {
      here = null;
      marking = false;
      place.textContent = `No position from the phone (${trouble.message}). Type it.`;
      byId("typed-place").open = true;
    },
    { enableHighAccuracy: true, maximumAge: 0, timeout: 30000 },
  );
}

// Who stands still over the peak gets no new position by itself: begin to follow anew, then mark.
function askAgain() {
  marking = true;
  place.textContent = "Asking the phone for its position anew";
  follow();
}

if (place && navigator.geolocation) {
  place.hidden = false;
  place.textContent = "Waiting for the phone's position";
  follow();
}

function refuse(words) {
  const box = byId("refused");
  box.textContent = words;
  box.hidden = !words;
  if (words) box.focus();
}

// What the person typed, as the server takes it; null with words beside the button when the place is missing.
function collect() {
  const body = {};
  for (const one of form.elements) {
    if (!one.name || one.name === "csrfmiddlewaretoken" || one.name === "client_id") continue;
    if (one.type === "checkbox") { body[one.name] = one.checked; continue; }
    const value = one.value.trim();
    if (value !== "") body[one.name] = value;
  }
  if (place && !("latitude" in body) && !("longitude" in body)) {
    if (correcting && correcting.body.latitude !== undefined) {
      for (const name of ["latitude", "longitude", "accuracy_m"]) body[name] = correcting.body[name];
    } else {
      if (!here) { refuse("There is no position yet. Wait under open sky, or type the position."); return null; }
      if (Date.now() - here.at > STALE_MS) { askAgain(); return null; }
      Object.assign(body, { latitude: here.coords.latitude, longitude: here.coords.longitude, accuracy_m: here.coords.accuracy });
    }
  }
  body.taken_at = correcting?.body.taken_at || new Date().toISOString();
  return body;
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  refuse("");
  const body = collect();
  if (!body) return;
  const points = load();
  const old = correcting && points.find((one) => one.id === correcting.id);
  if (old) Object.assign(old, { body, refused: "" });
  else points.push({ id: newId(), body, refused: "" });
  localStorage.setItem(`firstspade.last.${form.dataset.run}`, old ? old.id : points[points.length - 1].id);
  correcting = null;
  keep(points);
  const kept = { unit: unit.value, placed: field("placed").value };
  form.reset();
  unit.value = kept.unit;
  field("placed").value = kept.placed;
  (field("along") || field("depth") || byId("mark")).focus({ preventScroll: true });
  flush();
});

async function flush() {
  if (sending) return;
  sending = true;
  try {
    for (let next = load()[0]; next && !next.refused; next = load()[0]) {
      const answer = await fetch(form.dataset.address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": cookie("csrftoken") || field("csrfmiddlewaretoken").value, "Idempotency-Key": next.id },
        body: JSON.stringify({ ...next.body, client_id: next.id }),
      });
      if (answer.ok) {
        keep(load().filter((one) => one.id !== next.id));
        await refresh();
        window.dispatchEvent(new Event("firstspade:points-sent"));
      } else if ([400, 409, 422].includes(answer.status)) {
        const said = await answer.json();
        const words = [...new Set(Object.values(said.errors || {}).flat())].join(" ") || said.detail;
        keep(load().map((one) => (one.id === next.id ? { ...one, refused: words, correction: said.correction || {} } : one)));
      } else {
        state(answer.status === 401 || answer.status === 403
          ? "You are logged out. Log in again; the points stay on this phone."
          : `The server could not take it (${answer.status}). It is tried again.`);
        break;
      }
    }
  } catch {
    state("No connection. The points stay on this phone and are sent when it returns.");
  } finally {
    sending = false;
  }
}

async function refresh() {
  try {
    const answer = await fetch(form.dataset.part);
    if (answer.ok && !answer.redirected) byId("points").innerHTML = await answer.text();
  } catch { /* the list shows the points at the next load */ }
  show();
}

function state(words) { byId("outbox-state").textContent = words; }

function show() {
  const points = load();
  byId("outbox").hidden = points.length === 0;
  const last = Number(document.querySelector(".points")?.dataset.last || 0);
  byId("next-number").textContent = last + points.length + 1;
  const finish = document.querySelector("#finish-form button");
  if (finish) { finish.disabled = points.length > 0; finish.textContent = points.length ? "Points are not sent yet" : "Finish the run"; }
  if (!points.some((one) => one.refused)) state(points.length ? "Sending" : "");
  else state("One point was refused. Correct it, or throw it away; the others wait behind it.");
  byId("unsent").replaceChildren(...points.map(item));
}

function item(one) {
  const line = document.createElement("li");
  const b = one.body;
  line.append(b.depth ? `${b.depth} ${b.unit}` : "No depth", b.along ? `, ${b.along} ft along` : "");
  if (!one.refused) return line;
  const words = Object.assign(document.createElement("p"), { className: "errors", textContent: one.refused });
  words.setAttribute("role", "alert");
  const buttons = Object.assign(document.createElement("div"), { className: "row-buttons" });
  const button = (text, act) => {
    const made = Object.assign(document.createElement("button"), { type: "button", textContent: text });
    made.addEventListener("click", act);
    buttons.append(made);
  };
  const fixed = one.correction?.depth;
  if (typeof fixed === "number") {
    button(`Use ${(fixed / FOOT_M).toFixed(2)} ft`, () => change(one, { depth: `${fixed.toFixed(4)} m` }));
  }
  if (typeof one.correction?.latitude === "number") {
    button("Use the corrected position", () => change(one, { latitude: one.correction.latitude, longitude: one.correction.longitude }));
  }
  if (b.depth) button("Save it without a depth", () => change(one, { depth: "" }));
  button("Correct it", () => {
    correcting = one;
    for (const [name, value] of Object.entries(b)) {
      const input = field(name);
      if (input && !["latitude", "longitude", "accuracy_m"].includes(name)) input.type === "checkbox" ? (input.checked = value) : (input.value = value);
    }
    (field("depth") || byId("mark")).focus();
  });
  button("Throw it away", () => { keep(load().filter((other) => other.id !== one.id)); flush(); });
  line.append(words, buttons);
  return line;
}

function change(one, with_) {
  keep(load().map((other) => (other.id === one.id ? { ...other, body: { ...other.body, ...with_ }, refused: "" } : other)));
  flush();
}

window.addEventListener("online", flush);
document.addEventListener("visibilitychange", () => document.hidden || flush());
setInterval(flush, RETRY_MS);
show();
flush();

// The page and all it loads are kept on the phone at the first visit, not only once the worker stands between.
async function keepPage() {
  await navigator.serviceWorker.register(form.dataset.worker);
  await navigator.serviceWorker.ready;
  const loaded = performance.getEntriesByType("resource").map((one) => new URL(one.name));
  const own = loaded.filter((url) => url.origin === location.origin && url.pathname.startsWith("/static/"));
  const kept = await caches.open("firstspade-runs-1");
  await kept.addAll([location.pathname, ...new Set(own.map((url) => url.pathname + url.search))]);
  document.documentElement.dataset.kept = "yes";
}
if ("serviceWorker" in navigator && window.isSecureContext) keepPage().catch(() => { /* online it works all the same */ });
