// Photos wait on the phone in a database of the browser's and go after their points, one at a time, each under an
// id of the phone's.
import { REFUSED, post, trouble } from "./device.js";
import { points } from "./queue.js";

const store = new Promise((resolve, reject) => {
  const asked = indexedDB.open("firstspade-photos", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("photos", { keyPath: "id" });
  asked.onsuccess = () => resolve(asked.result);
  asked.onerror = () => reject(asked.error);
});
store.catch(() => { /* each use says so */ });

async function ask(mode, act) {
  const photos = (await store).transaction("photos", mode).objectStore("photos");
  return new Promise((resolve, reject) => {
    const asked = act(photos);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

// The photos of a run, by the id that its phone gave it; an earlier version kept them under its number.
export async function waiting(run, number = "") {
  const all = await ask("readonly", (photos) => photos.getAll());
  return all.filter((one) => one.run === run || (number && one.run === number));
}
export const keepPhoto = (photo) => ask("readwrite", (photos) => photos.put(photo));
export const dropPhoto = (id) => ask("readwrite", (photos) => photos.delete(id));
export async function dropPhotos(run) {
  for (const one of await waiting(run)) await dropPhoto(one.id);
}

// Gives how many were sent, and words about those that were not.
export async function sendPhotos(run, address, number = "") {
  let note = "";
  let sent = 0;
  for (const one of await waiting(run, number)) {
    if (one.point && points(run).some((point) => point.id === one.point)) { note = "They go after their points."; continue; }
    const answer = await post(address, one.id, content(one), 120000);
    if (answer.ok) {
      await dropPhoto(one.id);
      sent += 1;
    } else if (answer.status === 400 && one.point && (await answer.clone().json()).errors?.point_client_id) {
      // its point was thrown away: the photo is of the run then
      await keepPhoto({ ...one, point: "" });
    } else if (REFUSED.includes(answer.status)) {
      const refused = await answer.json();
      await dropPhoto(one.id);
      note = `A photo was refused: ${refused.detail}`;
    } else {
      return { sent, note: trouble(answer.status, "the photos stay") };
    }
  }
  return { sent, note };
}

function content(one) {
  const body = new FormData();
  body.append("client_id", one.id);
  body.append("photo", new Blob([one.content], { type: "image/jpeg" }), `${one.id}.jpg`);
  body.append("words", one.words);
  if (one.point) body.append("point_client_id", one.point);
  return body;
}
