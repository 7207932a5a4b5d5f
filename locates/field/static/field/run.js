// The form of the next point: one tap and one number. Points wait on the phone until the server has said yes: one
// at a time, in order, under an id of the phone's. Sending one again changes nothing there. A point that is refused
// waits for its correction and holds those behind it, because what is right for a point depends on the ones before.
// A run that the server does not have yet has no address: its points wait for it (see unsent.js).
import { NO_CONNECTION, alone, byId, newId } from "./device.js";
import { settle } from "./outbox.js";
import { adopt, begun, keepLast, keepPoints, points as pointsOf, sendPoints } from "./queue.js";

const form = byId("point-form");
const { run, number, job, address, part } = form.dataset;
const RETRY_MS = 15000;
const STALE_MS = 10000;
const FOOT_M = 0.3048;
const field = (name) => form.elements.namedItem(name);
let here = null;
let correcting = null;

const load = () => pointsOf(run);
const keep = (points) => keepPoints(run, points); // the queue tells the page, see show
if (number) adopt(number, run);

// The unit in which this phone's person reads depths.
const unit = field("unit");
unit.value = localStorage.getItem("firstspade.unit") || unit.value;
unit.addEventListener("change", () => localStorage.setItem("firstspade.unit", unit.value));

// The phone's position is kept warm, so that the tap finds it.
const place = byId("place");
let watch = null;

function follow() {
  if (watch !== null) navigator.geolocation.clearWatch(watch);
  watch = navigator.geolocation.watchPosition(
    ({ coords }) => {
      here = { coords, at: Date.now() };
      place.textContent = `Position good to ${Math.ceil(coords.accuracy / FOOT_M)} ft`;
      if (!form.dataset.marking) return;
      delete form.dataset.marking;
      form.requestSubmit();
    },
    (trouble) => {
      here = null;
      delete form.dataset.marking;
      place.textContent = `No position from the phone (${trouble.message}). Type it.`;
      byId("typed-place").open = true;
    },
    { enableHighAccuracy: true, maximumAge: 0, timeout: 30000 },
  );
}

// Who stands still over the peak gets no new position by itself: begin to follow anew, then mark.
function askAgain() {
  form.dataset.marking = "yes"; // a tap waits for a new position
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
  try {
    keep(points);
    keepLast(run, old ? old.id : points[points.length - 1].id);
  } catch {
    refuse("This phone has no room to keep the point. Make room, then mark it again.");
    return;
  }
  correcting = null;
  const kept = { unit: unit.value, placed: field("placed").value };
  form.reset();
  unit.value = kept.unit;
  field("placed").value = kept.placed;
  (field("along") || field("depth") || byId("mark")).focus({ preventScroll: true });
  flush();
});

async function flush() {
  if (!address) { window.dispatchEvent(new Event("firstspade:marked")); return; }
  await alone(`points.${run}`, async () => {
    try {
      const note = await sendPoints(run, address, async () => { await refresh(); window.dispatchEvent(new Event("firstspade:points-sent")); });
      show();
      if (note) state(note);
    } catch {
      state(NO_CONNECTION);
    }
  });
  await settle(run);
}

async function refresh() {
  try {
    const answer = await fetch(part);
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
  if (!points.some((one) => one.refused)) state(!points.length ? "" : address ? "Sending" : "They follow their run.");
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

// Finishing asks the server at once; where it cannot be reached nothing of what was typed is lost.
// The locate as a whole is not done while a run of the job is on this phone alone: the server does not know of it.
byId("finish-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const others = begun().filter((one) => String(one.job) === job && one.id !== run && !one.run);
  let words = "";
  if (others.length && event.target.elements.namedItem("locate_complete").checked) {
    words = `${others[0].words.label} waits on this phone, not sent yet. Send it first: not everything looked for is at the server.`;
  } else if (!(await fetch("/health", { cache: "no-store" }).then((answer) => answer.ok, () => false))) {
    words = "No connection. The run stays open: finish it when the connection returns. What you typed stays here.";
  }
  const said = byId("finish-state");
  said.textContent = words;
  said.hidden = !words;
  if (!words) event.target.submit();
});

window.addEventListener("firstspade:queue", show);
window.addEventListener("online", flush);
document.addEventListener("visibilitychange", () => document.hidden || flush());
setInterval(flush, RETRY_MS);
show();
flush();
