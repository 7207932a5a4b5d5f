// Sends what waits on this phone of the runs begun without a connection: each run, then its points, then its photos.
import { NO_CONNECTION, alone, person } from "./device.js";
import { sendPhotos, waiting } from "./pictures.js";
import { RUNS, begun, begunRun, dropBegun, points, sendPoints, sendRun } from "./queue.js";

const mine = (one) => one.person === person();

// A begun run that the server has, with all its points and photos, no longer waits.
export async function settle(id) {
  const one = begunRun(id);
  if (one?.run && !points(id).length && !(await waiting(id)).length) dropBegun(id);
}

async function sendOne(id, begunAs) {
  if (!begunRun(id)?.run) {
    const note = await sendRun(id);
    if (note) return note;
  }
  const number = begunRun(id)?.run;
  if (!number) return ""; // refused: its page says why
  begunAs(id, number);
  const note = await alone(`points.${id}`, () => sendPoints(id, `${RUNS}/${number}/points`));
  if (note) return note;
  const found = await alone(`photos.${id}`, () => sendPhotos(id, `${RUNS}/${number}/photos`));
  await settle(id);
  return found?.note || "";
}

// Everything of this person's, in the order begun; `begunAs` is told each run's number. Gives words when it has to
// wait.
export async function sendAll(begunAs = () => {}) {
  return (await alone("begun", async () => {
    let note = "";
    try {
      for (const { id } of begun().filter((one) => mine(one) && !one.errors)) {
        const words = await sendOne(id, begunAs);
        note ||= words;
        if (words && !begunRun(id)?.run) break;
      }
    } catch {
      note = NO_CONNECTION;
    }
    return note;
  })) || "";
}

const plural = (count, what) => `${count} ${what}${count === 1 ? "" : "s"}`;

// What waits of a run, in words.
export async function waits(one) {
  const parts = [plural(points(one.id).length, "point")];
  const photos = (await waiting(one.id).catch(() => [])).length;
  if (photos) parts.push(plural(photos, "photo"));
  return parts.join(", ");
}

export const stands = (one) => {
  if (!mine(one)) return `Begun by ${one.by}, who has to log in on this phone to send it.`;
  if (one.errors) return "The server refused it: correct it and send it again.";
  return one.run ? "The run is at the server; what is left follows." : "It is sent when there is a connection.";
};
