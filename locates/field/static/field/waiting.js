// Says which runs wait on this phone, on the pages that list jobs and runs, and sends them.
import { byId } from "./device.js";
import { sendAll, stands, waits } from "./outbox.js";
import { begun } from "./queue.js";

const RETRY_MS = 15000;

async function list(box, note) {
  const job = box.dataset.job;
  const rows = begun().filter((one) => !job || String(one.job) === job);
  box.hidden = !rows.length;
  const items = [];
  for (const one of rows) {
    const line = document.createElement("li");
    const link = Object.assign(document.createElement("a"), {
      className: "touch", textContent: one.words.label, href: one.run ? `/locates/runs/${one.run}/` : `/locates/jobs/${one.job}/unsent#${one.id}`,
    });
    const more = Object.assign(document.createElement("p"), { className: "small", textContent: `${one.words.site}: ${await waits(one)}. ${stands(one)}` });
    line.append(link, more);
    items.push(line);
  }
  box.querySelector("ul").replaceChildren(...items);
  box.querySelector("[role=status]").textContent = rows.length ? note : "";
}

async function go() {
  const box = byId("waiting-runs");
  await list(box, "");
  if (begun().length) await list(box, await sendAll());
}

window.addEventListener("online", go);
document.addEventListener("visibilitychange", () => document.hidden || go());
setInterval(go, RETRY_MS);
go();
