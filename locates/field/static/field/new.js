// Begins a run with or without a connection. It is kept on the phone first, with the moment of the tap; then it is
// sent. Where that fails its points are taken all the same, on the page of the runs not sent yet. What the server
// refuses is said beside its field, and is sent again under the same id.
import { byId, newId, person, personName } from "./device.js";
import { begunRun, dropBegun, keepBegun, points, sendRun } from "./queue.js";
import { waiting } from "./pictures.js";

const form = byId("run-form");
const button = form.querySelector("button.primary");
const top_ = byId("run-refused");
const moment = byId("begun-moment");
const unsent = (id) => `${form.dataset.unsent}#${id}`;
const input = (name) => form.elements.namedItem(name);
const skipped = ["csrfmiddlewaretoken", "client_id", ""];
let correcting = begunRun(location.hash.slice(1));

const chosen = (name) => input(name).selectedOptions[0]?.textContent || "";

function collect() {
  const named = [...form.elements].filter((one) => !skipped.includes(one.name));
  return Object.fromEntries(named.map((one) => [one.name, one.value.trim()]));
}

function wordsOf(body) {
  const how = [chosen("method"), body.frequency].filter(Boolean).join(", ");
  return { label: body.label, what: chosen("utility"), method: chosen("method"), how, site: form.dataset.site, utility: body.utility };
}

// Without these not even the form of a point is known; everything else the server checks.
function missing(body) {
  return Object.fromEntries(["label", "method"].filter((name) => !body[name]).map((name) => [name, ["Fill this in."]]));
}

function clear() {
  for (const one of form.querySelectorAll(".field .error")) one.remove();
  for (const one of form.querySelectorAll("[aria-invalid]")) one.removeAttribute("aria-invalid");
  top_.hidden = true;
}

function mark(control, messages) {
  const id = `${control.id}_error`;
  const box = Object.assign(document.createElement("div"), { className: "error", id });
  box.append(...messages.map((words) => Object.assign(document.createElement("p"), { textContent: words })));
  control.closest(".field").append(box);
  control.setAttribute("aria-invalid", "true");
  control.setAttribute("aria-describedby", [byId(`${control.id}_helptext`) ? `${control.id}_helptext` : "", id].filter(Boolean).join(" "));
  open(control);
}

function open(control) {
  for (let up = control.closest("details"); up; up = up.parentElement.closest("details")) up.open = true;
}

function show(errors) {
  clear();
  const loose = [];
  for (const [name, messages] of Object.entries(errors)) {
    if (name === "begun_at") byId("begun-field").hidden = false;
    const control = name === "begun_at" ? moment : input(name);
    if (control?.closest?.(".field")) mark(control, messages);
    else loose.push(...messages);
  }
  top_.replaceChildren(...[...loose, "The run is not begun yet. What to correct stands beside each field."]
    .map((words) => Object.assign(document.createElement("p"), { textContent: words })));
  top_.hidden = false;
  top_.focus();
}

// The phone's own time, as its control for a date and time takes it.
function local(instant) {
  const at = new Date(instant);
  return new Date(at - at.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
}

function fill(one) {
  for (const [name, value] of Object.entries(one.body)) {
    if (!input(name)) continue;
    input(name).value = value;
    if (value) open(input(name));
  }
  moment.value = local(one.begun_at);
  byId("correcting").hidden = false;
  button.textContent = "Send it again";
  if (one.errors) show(one.errors);
}

function build(body) {
  const words = wordsOf(body);
  if (!correcting) {
    const made = { id: newId(), job: Number(form.dataset.job), person: person(), by: personName(), begun_at: new Date().toISOString() };
    return { ...made, body, words, errors: null, run: null };
  }
  const at = byId("begun-field").hidden || !moment.value ? correcting.begun_at : new Date(moment.value).toISOString();
  return { ...begunRun(correcting.id), body, words, begun_at: at, errors: null };
}

// Goes to the run's page, or where that cannot be had to the page that takes its points on this phone.
async function go(id) {
  const number = begunRun(id)?.run;
  const there = number && (await fetch(`/locates/runs/${number}/`).then((answer) => answer.ok && !answer.redirected, () => false));
  if (!there) { location.assign(unsent(id)); return; }
  if (!points(id).length && !(await waiting(id).catch(() => [])).length) dropBegun(id);
  location.assign(`/locates/runs/${number}/`);
}

async function begin() {
  const body = collect();
  const lacks = missing(body);
  if (Object.keys(lacks).length) { show(lacks); return; }
  const run = build(body);
  try {
    keepBegun(run);
  } catch {
    show({ non_field_errors: ["This phone has no room to keep the run. Make room, then begin it again."] });
    return;
  }
  const note = await sendRun(run.id, !correcting).catch(() => "No connection.");
  const errors = begunRun(run.id)?.errors;
  if (note || !errors) { await go(run.id); return; }
  // refused at once, with nothing read yet: it stands on the page alone
  if (!correcting) dropBegun(run.id);
  show(errors);
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (button.disabled) return;
  clear();
  const words = button.textContent;
  button.disabled = true;
  button.textContent = "Beginning the run";
  try { await begin(); } finally { button.disabled = false; button.textContent = words; }
});

if (correcting && correcting.person === person() && !correcting.run) fill(correcting);
else correcting = undefined;
