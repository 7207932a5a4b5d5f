// Photos wait on the phone as the points do, in a database of the browser's, and go after them: one at a time,
// each under an id of the phone's. Before they wait they are made smaller, for the air and the phone's memory.
const box = document.getElementById("photo-form");
const run = document.getElementById("point-form").dataset.run;
const POINTS = `firstspade.points.${run}`;
const LAST = `firstspade.last.${run}`;
const LONGEST_PX = 2000;
const RETRY_MS = 20000;
const file = document.getElementById("photo-file");
const words = document.getElementById("photo-words");
const said = document.getElementById("photo-state");
let sending = false;

const store = new Promise((resolve, reject) => {
  const asked = indexedDB.open("firstspade-photos", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("photos", { keyPath: "id" });
  asked.onsuccess = () => resolve(asked.result);
  asked.onerror = () => reject(asked.error);
});

async function ask(mode, act) {
  const photos = (await store).transaction("photos", mode).objectStore("photos");
  return new Promise((resolve, reject) => {
    const asked = act(photos);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

const waiting = async () => (await ask("readonly", (photos) => photos.getAll())).filter((one) => one.run === run);
const cookie = (name) => document.cookie.split("; ").find((one) => one.startsWith(`${name}=`))?.split("=")[1];

function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 15) | 64;
  b[8] = (b[8] & 63) | 128;
  const h = [...b].map((v) => v.toString(16).padStart(2, "0")).join("");
  return `${h.slice(0, 8)}-${h.slice(8, 12)}-${h.slice(12, 16)}-${h.slice(16, 20)}-${h.slice(20)}`;
}

// The picture as a JPEG of moderate size; as it is where the browser cannot read it: the server then says why.
async function smaller(picture) {
  try {
    const drawn = await createImageBitmap(picture, { imageOrientation: "from-image" });
    const share = Math.min(1, LONGEST_PX / Math.max(drawn.width, drawn.height));
    const canvas = Object.assign(document.createElement("canvas"), {
      width: Math.round(drawn.width * share),
      height: Math.round(drawn.height * share),
    });
    canvas.getContext("2d").drawImage(drawn, 0, 0, canvas.width, canvas.height);
    return (await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85))) || picture;
  } catch {
    return picture;
  }
}

// Photo bytes are kept as a buffer: some phones lose the file behind a kept Blob.
async function keep() {
  const picture = file.files[0];
  if (!picture) { said.textContent = "Take or choose a photo first."; return; }
  const content = await (await smaller(picture)).arrayBuffer();
  const one = { id: newId(), run, content, words: words.value.trim(), point: localStorage.getItem(LAST) || "" };
  try {
    await ask("readwrite", (photos) => photos.put(one));
  } catch {
    said.textContent = "This phone has no room for the photo. Make room, then keep it again.";
    return;
  }
  file.value = "";
  words.value = "";
  flush();
}

async function flush() {
  if (sending) return;
  sending = true;
  let note = "";
  let sent = 0;
  try {
    for (const one of await waiting()) {
      const queue = JSON.parse(localStorage.getItem(POINTS) || "[]");
      if (one.point && queue.some((point) => point.id === one.point)) { note = "They go after their points."; continue; }
      const answer = await send(one);
      if (answer.ok) {
        await ask("readwrite", (photos) => photos.delete(one.id));
        sent += 1;
      } else if (answer.status === 400 && one.point && (await answer.clone().json()).errors?.point_client_id) {
        // its point was thrown away: the photo is of the run then
        await ask("readwrite", (photos) => photos.put({ ...one, point: "" }));
      } else if ([400, 409, 422].includes(answer.status)) {
        const refused = await answer.json();
        await ask("readwrite", (photos) => photos.delete(one.id));
        note = `A photo was refused: ${refused.detail}`;
      } else {
        note = answer.status === 401 || answer.status === 403
          ? "You are logged out. Log in again; the photos stay on this phone."
          : `The server could not take it (${answer.status}). It is tried again.`;
        break;
      }
    }
  } catch {
    note = "No connection. The photos stay on this phone and are sent when it returns.";
  } finally {
    sending = false;
  }
  const left = (await waiting()).length;
  const counted = left ? `${left} photo${left > 1 ? "s" : ""} on this phone, not sent yet.` : sent ? "The photo is kept." : "";
  if (counted || note) said.textContent = [counted, note].filter(Boolean).join(" ");
}

function send(one) {
  const body = new FormData();
  body.append("client_id", one.id);
  body.append("photo", new Blob([one.content], { type: "image/jpeg" }), `${one.id}.jpg`);
  body.append("words", one.words);
  if (one.point) body.append("point_client_id", one.point);
  return fetch(box.dataset.address, {
    method: "POST",
    headers: { "X-CSRFToken": cookie("csrftoken") || document.querySelector("[name=csrfmiddlewaretoken]").value, "Idempotency-Key": one.id },
    body,
  });
}

box.hidden = false;
box.addEventListener("submit", (event) => event.preventDefault());
document.getElementById("photo-keep").addEventListener("click", keep);
window.addEventListener("online", flush);
window.addEventListener("firstspade:points-sent", flush);
setInterval(flush, RETRY_MS);
flush();
