// The page of a run that the server does not have yet: its points are taken as on any run, with the form that suits
// it. When the connection returns the run is sent, then its points, then its photos; then this becomes its page.
import { byId, person } from "./device.js";
import { keepPages } from "./keep.js";
import { sendAll, settle, stands, waits } from "./outbox.js";
import { dropPhotos } from "./pictures.js";
import { begunRun, throwAway } from "./queue.js";

const RETRY_MS = 15000;
const id = location.hash.slice(1);
const page = byId("unsent-run");
const run = begunRun(id);
const mine = run?.person === person();

// On the site's clock, as everywhere.
const SHOWN = { weekday: "short", day: "numeric", month: "short", hour: "numeric", minute: "2-digit", timeZoneName: "short" };
const moment = (instant) => new Date(instant).toLocaleString("en-US", { ...SHOWN, timeZone: page.dataset.zone });

function say(one, words) {
  for (const place of page.querySelectorAll("[data-say]")) {
    const said = { ...one.words, begun: moment(one.begun_at), start: one.body.start_words, end: one.body.end_words }[place.dataset.say];
    if (said) place.textContent = said;
  }
  byId("unsent-state").textContent = words || stands(one);
  byId("log-in").hidden = !words.startsWith("You are logged out");
  byId("log-in").querySelector("a").href = `/login?next=${encodeURIComponent(location.pathname + location.hash)}`;
}

// The form of a point that suits the run's method and the way its points get their places.
function place(one) {
  const suits = (made) => made.dataset.methods.split(" ").includes(one.body.method) && (made.dataset.baseline === "yes") === (one.body.position_by === "baseline");
  const made = [...document.querySelectorAll("template[data-methods]")].find(suits);
  byId("point-place").replaceChildren(made.content.cloneNode(true));
  byId("point-form").dataset.run = one.id;
}

function refused(errors) {
  const box = byId("run-refused");
  box.hidden = !errors;
  if (!errors) return;
  const lines = Object.values(errors).flat().map((words) => Object.assign(document.createElement("li"), { textContent: words }));
  box.querySelector("ul").replaceChildren(...lines);
  box.querySelector("a").href = `${page.dataset.correct}#${id}`;
}

// Somebody who is writing, or whose tap waits for a position, is not taken to another page.
function writing() {
  const typed = [...page.querySelectorAll("#point-form input:not([type=hidden]):not([type=checkbox]), #photo-form input")];
  return typed.some((one) => one.value.trim()) || "marking" in byId("point-form").dataset;
}

async function becomeOrdinary(number) {
  const address = `/locates/runs/${number}/`;
  const link = byId("run-link");
  link.href = address;
  byId("run-ready").hidden = false;
  if (writing()) return;
  const there = await fetch(address).then((answer) => answer.ok && !answer.redirected, () => false);
  if (!there) return;
  await keepPages([address]).catch(() => false);
  await settle(id);
  if (!writing()) location.replace(address);
}

let known = run?.run || null;
async function go() {
  const note = await sendAll((sent, number) => { if (sent === id) known = number; });
  const one = begunRun(id);
  known = one?.run || known;
  if (one) {
    say(one, note);
    refused(one.errors);
    byId("unsent-count").textContent = await waits(one);
  }
  // gone without a number: another page of this phone has sent it or thrown it away
  if (known) await becomeOrdinary(known);
  else if (!one) location.reload();
}

async function begin() {
  if (!run) {
    byId("unsent-none").hidden = false;
    await import("./waiting.js");
    return;
  }
  page.hidden = false;
  if (mine) place(run); // before the words: some of them stand in the form
  say(run, "");
  document.title = `${run.words.label} · Firstspade`;
  byId("unsent-swatch").className = `swatch ${run.words.utility}`;
  if (!mine) return;
  page.querySelector("#unsent-mine").hidden = false;
  refused(run.errors);
  byId("throw-away").addEventListener("click", async () => {
    await dropPhotos(id).catch(() => {});
    throwAway(id);
    location.replace(page.dataset.job);
  });
  await import("./run.js");
  await import("./photos.js");
  window.addEventListener("firstspade:marked", go);
  window.addEventListener("online", go);
  document.addEventListener("visibilitychange", () => document.hidden || go());
  setInterval(go, RETRY_MS);
  await go();
}

window.addEventListener("hashchange", () => location.reload());
begin();
