// Keeps pages on the phone with all that they load, at the first visit and in advance, so that they open again
// without a connection: the page itself where it asks for it, and what a job's locates take.
import { settled } from "../look/person.js";

const KEPT = "firstspade-runs-2"; // the worker's

async function awake(registration) {
  const worker = registration.installing || registration.waiting;
  if (registration.active || !worker) return;
  await new Promise((done) => worker.addEventListener("statechange", () => registration.active && done()));
}

function partsOf(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const named = [...page.querySelectorAll("link[href], script[src]")].map((one) => one.getAttribute("href") || one.getAttribute("src"));
  return named.filter((address) => address.startsWith("/static/"));
}

// True when all of them are on the phone now.
export async function keepPages(addresses) {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) return false;
  await settled;
  await awake(await navigator.serviceWorker.register("/locates/worker.js"));
  const kept = await caches.open(KEPT);
  const parts = new Set();
  let whole = true;
  for (const address of addresses) {
    const answer = await fetch(address);
    if (!answer.ok || answer.redirected) { whole = false; continue; }
    for (const part of partsOf(await answer.clone().text())) parts.add(part);
    await kept.put(address, answer);
  }
  await kept.addAll([...parts]);
  return whole;
}

const own = document.querySelector("[data-keep-page]") ? [location.pathname + location.search] : [];
const jobs = [...document.querySelectorAll("[data-keep-job]")].map((one) => one.dataset.keepJob);
const wanted = new Set([...own, ...jobs.flatMap((job) => [job, `${job}new`, `${job}unsent`])]);
if (wanted.size) {
  keepPages([...wanted])
    .then((whole) => { if (whole) document.documentElement.dataset.kept = "yes"; })
    .catch(() => { /* with a connection it works all the same */ });
}
