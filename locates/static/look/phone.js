// A verdict holds for a while only. When the page has outlived its verdicts it says so, and loads them again
// unless somebody is writing. Without this script the page shows as of when its verdicts hold.
const EVERY_MS = 15_000;
let loadedAt = Date.now();

const part = () => document.getElementById("day");
const writing = (day) =>
  day.contains(document.activeElement?.closest("input, textarea, select")) ||
  [...day.querySelectorAll("textarea")].some((note) => note.value.trim());

function look() {
  const day = part();
  if (!day || document.hidden || Date.now() - loadedAt < Number(day.dataset.freshS) * 1000) return;
  day.querySelector(".stale").hidden = false;
  if (!writing(day)) window.htmx?.ajax("GET", day.dataset.address, { target: "#day", swap: "outerHTML" });
}

document.body.addEventListener("htmx:afterSwap", (event) => {
  if (part() && event.target.id === "day") loadedAt = Date.now();
});
// A tap that did not arrive must not look like one that did.
for (const failure of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
  document.body.addEventListener(failure, (event) => {
    const words = event.target.querySelector?.(":scope .unsent");
    if (event.target.matches("form") && words) words.hidden = false;
  });
}
document.addEventListener("visibilitychange", look);
window.addEventListener("pageshow", look);
setInterval(look, EVERY_MS);
