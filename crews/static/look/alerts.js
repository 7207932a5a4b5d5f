// Turns reminders on for this browser: asks for leave, subscribes, and hands the subscription to the server.
const here = document.getElementById("here");
const words = document.getElementById("here-words");
const button = document.getElementById("turn-on");
const name = document.getElementById("device-name");

function say(text) {
  words.textContent = text;
}

function bytes(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
}

async function digest(text) {
  const found = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(found)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function guessedName() {
  const agent = navigator.userAgent;
  const kind = /iPhone|iPad/.test(agent) ? "iPhone or iPad" : /Android/.test(agent) ? "Android phone" : "Computer";
  return kind;
}

async function ready() {
  const worker = await navigator.serviceWorker.register(here.dataset.worker, { scope: here.dataset.scope });
  if (!worker.active) await new Promise((done) => {
    const coming = worker.installing || worker.waiting;
    coming.addEventListener("statechange", () => coming.state === "activated" && done());
  });
  return worker;
}

async function look() {
  if (!("serviceWorker" in navigator && "PushManager" in window && window.isSecureContext)) {
    return say("This browser cannot take reminders, or the page was not opened over https. Letters by e-mail come all the same.");
  }
  if (Notification.permission === "denied") {
    return say("This browser is told to show no reminders from here. Allow them in its settings and load this page again.");
  }
  const worker = await navigator.serviceWorker.getRegistration(here.dataset.scope);
  const standing = await worker?.pushManager.getSubscription();
  const mine = standing && document.querySelector(`[data-device="${await digest(standing.endpoint)}"]`);
  if (mine) {
    mine.classList.add("this");
    return say("Reminders come to this device.");
  }
  say("Reminders do not come to this device yet.");
  name.value = guessedName();
  name.closest(".field").hidden = false;
  button.hidden = false;
}

async function turnOn() {
  button.disabled = true;
  try {
    if ((await Notification.requestPermission()) !== "granted") {
      return say("The browser was not allowed to show reminders, so nothing was turned on.");
    }
    const worker = await ready();
    const key = bytes(here.dataset.key);
    const old = await worker.pushManager.getSubscription();
    if (old) await old.unsubscribe(); // it may be bound to a key of before
    const made = (await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key })).toJSON();
    const answer = await fetch(here.dataset.add, {
      method: "POST",
      headers: JSON.parse(document.body.getAttribute("hx-headers")),
      body: new URLSearchParams({ endpoint: made.endpoint, ...made.keys, name: name.value }),
    });
    if (answer.ok) return location.reload();
    say((await answer.json()).words);
  } catch (trouble) {
    say(`Reminders could not be turned on (${trouble.message}). Try again when you have a connection.`);
  } finally {
    button.disabled = false;
  }
}

if (here) {
  button.addEventListener("click", turnOn);
  look();
}
