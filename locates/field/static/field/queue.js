// What waits on the phone until the server has said yes: runs begun without a connection, and the points of runs.
// Points are kept under the id that the phone gave their run, so that they need not move once it has a number.
import { REFUSED, post, trouble } from "./device.js";

export const RUNS = "/api/v1/locate-runs";
const BEGUN = "firstspade.begun";
const pointsKey = (run) => `firstspade.points.${run}`;
const lastKey = (run) => `firstspade.last.${run}`;

const read = (key) => JSON.parse(localStorage.getItem(key) || "[]");
function write(key, rows) {
  if (rows.length) localStorage.setItem(key, JSON.stringify(rows));
  else localStorage.removeItem(key);
  window.dispatchEvent(new Event("firstspade:queue"));
}

export const points = (run) => read(pointsKey(run));
export const keepPoints = (run, rows) => write(pointsKey(run), rows);
export const lastPoint = (run) => localStorage.getItem(lastKey(run)) || "";
export const keepLast = (run, id) => localStorage.setItem(lastKey(run), id);

export const begun = () => read(BEGUN);
export const begunRun = (id) => begun().find((one) => one.id === id);
export function keepBegun(run) {
  const rows = begun();
  const place = rows.findIndex((one) => one.id === run.id);
  if (place < 0) rows.push(run);
  else rows[place] = run;
  write(BEGUN, rows);
}
export function dropBegun(id) {
  if (begunRun(id)) write(BEGUN, begun().filter((one) => one.id !== id));
}
export function throwAway(id) {
  dropBegun(id);
  localStorage.removeItem(pointsKey(id));
  localStorage.removeItem(lastKey(id));
}

// An earlier version kept points under the run's number.
export function adopt(number, run) {
  const old = points(number);
  if (!old.length) return;
  const here = points(run);
  keepPoints(run, [...old.filter((one) => !here.some((other) => other.id === one.id)), ...here]);
  keepPoints(number, []);
}

// Begins the run at the server. Gives words when it has to wait; a refusal is kept with it, by field. Begun this
// very moment it goes without the phone's time, so that a clock that is wrong stops nobody who has a connection.
export async function sendRun(id, atOnce = false) {
  const one = begunRun(id);
  const body = { ...one.body, job: one.job, client_id: one.id };
  if (!atOnce) body.begun_at = one.begun_at;
  const answer = await post(RUNS, atOnce ? `${id}.now` : id, body, atOnce ? 10000 : 30000);
  if (answer.ok) {
    const { id: number } = await answer.json();
    keepBegun({ ...begunRun(id), run: number, errors: null });
    return "";
  }
  if (!REFUSED.includes(answer.status)) return trouble(answer.status, "the run stays");
  const said = await answer.json();
  const errors = Object.keys(said.errors || {}).length ? said.errors : { non_field_errors: [said.detail] };
  keepBegun({ ...begunRun(id), errors });
  return "";
}

// The run's points in order. Stops at one that is refused; gives words when they have to wait.
export async function sendPoints(run, address, sent = () => {}) {
  for (let next = points(run)[0]; next && !next.refused; next = points(run)[0]) {
    const answer = await post(address, next.id, { ...next.body, client_id: next.id });
    if (answer.ok) {
      keepPoints(run, points(run).filter((one) => one.id !== next.id));
      await sent();
    } else if (REFUSED.includes(answer.status)) {
      const said = await answer.json();
      const words = [...new Set(Object.values(said.errors || {}).flat())].join(" ") || said.detail;
      keepPoints(run, points(run).map((one) => (one.id === next.id ? { ...one, refused: words, correction: said.correction || {} } : one)));
    } else {
      return trouble(answer.status, "the points stay");
    }
  }
  return "";
}
