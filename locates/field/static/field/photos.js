// The form of a photo. Before photos wait they are made smaller, for the air and the phone's memory.
import { NO_CONNECTION, alone, byId, newId } from "./device.js";
import { settle } from "./outbox.js";
import { keepPhoto, sendPhotos, waiting } from "./pictures.js";
import { lastPoint } from "./queue.js";

const box = byId("photo-form");
const { run, number = "" } = byId("point-form").dataset;
const LONGEST_PX = 2000;
const RETRY_MS = 20000;
const file = byId("photo-file");
const words = byId("photo-words");
const said = byId("photo-state");

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
  try {
    await keepPhoto({ id: newId(), run, content, words: words.value.trim(), point: lastPoint(run) });
  } catch {
    said.textContent = "This phone has no room for the photo. Make room, then keep it again.";
    return;
  }
  file.value = "";
  words.value = "";
  flush();
}

async function flush() {
  let found = { sent: 0, note: "" };
  if (box.dataset.address) {
    const send = () => sendPhotos(run, box.dataset.address, number).catch(() => ({ sent: 0, note: NO_CONNECTION }));
    found = (await alone(`photos.${run}`, send)) || found;
    await settle(run);
  } else {
    window.dispatchEvent(new Event("firstspade:marked"));
    found.note = "They go after their run and its points.";
  }
  const left = (await waiting(run, number)).length;
  const counted = left ? `${left} photo${left > 1 ? "s" : ""} on this phone, not sent yet.` : found.sent ? "The photo is kept." : "";
  if (left || found.sent) said.textContent = [counted, left ? found.note : ""].filter(Boolean).join(" ");
  else if (found.note.startsWith("A photo")) said.textContent = found.note;
}

box.hidden = false;
box.addEventListener("submit", (event) => event.preventDefault());
byId("photo-keep").addEventListener("click", keep);
window.addEventListener("online", flush);
window.addEventListener("firstspade:points-sent", flush);
setInterval(flush, RETRY_MS);
flush();
