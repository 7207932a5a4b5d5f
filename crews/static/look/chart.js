// Makes the chart smoother: `t` turns chart and table, a placing form shuts in place, a visit's card can be
// dragged to another hour. Nothing here is needed for the page to work; the server decides everything.

const SNAP_MINUTES = 15;
const SLACK_PX = 4;

document.addEventListener("keydown", (event) => {
  if (event.key !== "t" || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (event.target.closest("input, select, textarea, [contenteditable]")) return;
  document.querySelector("[data-turn]")?.click();
});

document.addEventListener("click", (event) => {
  const shut = event.target.closest("[data-shut]");
  const placing = shut?.closest(".placing");
  if (!placing) return;
  event.preventDefault();
  placing.replaceChildren();
  document.getElementById(placing.id.replace("placing-", "place-link-"))?.focus();
});

// Between two stops of the axis wall time runs straight along it.
function readStops(paper) {
  return JSON.parse(paper.dataset.stops).map(([x, wall]) => [x, Date.parse(`${wall}Z`)]);
}

function between(value, from, to, stops) {
  const last = stops.length - 2;
  let at = stops.findIndex((stop, n) => n <= last && value < stops[n + 1][from]);
  if (at < 0) at = last;
  const [a, b] = [stops[at], stops[at + 1]];
  return a[to] + ((value - a[from]) / (b[from] - a[from])) * (b[to] - a[to]);
}

function movedWall(card, shiftPx) {
  const paper = card.closest(".paper");
  const stops = readStops(paper);
  const width = card.closest("svg").getBoundingClientRect().width;
  const started = between(Date.parse(`${card.dataset.wall}Z`), 1, 0, stops);
  const wall = between(started + (shiftPx / width) * 100, 0, 1, stops);
  const snap = SNAP_MINUTES * 60000;
  return new Date(Math.round(wall / snap) * snap).toISOString();
}

function lineAt(level) {
  const lines = [...document.querySelectorAll("[data-crew]")];
  const distance = (line) => {
    const { top, bottom } = line.getBoundingClientRect();
    return Math.max(top - level, level - bottom, 0);
  };
  return lines.sort((one, other) => distance(one) - distance(other))[0];
}

let carried = null;

document.addEventListener("pointerdown", (event) => {
  const card = event.target.closest?.("[data-move]");
  if (!card || event.button !== 0 || event.pointerType === "touch") return;
  const group = card.closest(".visit-group");
  carried = { card, group, from: event.clientX, level: event.clientY, moved: false };
});

document.addEventListener("pointermove", (event) => {
  if (!carried) return;
  const shift = event.clientX - carried.from;
  // Only where lines are crews' may a card go to another line.
  const drop = carried.card.closest("[data-crew]") ? event.clientY - carried.level : 0;
  if (!carried.moved && Math.hypot(shift, drop) < SLACK_PX) return;
  carried.moved = true;
  carried.group.classList.add("carried");
  carried.group.setAttribute("transform", `translate(${shift} ${drop})`);
});

document.addEventListener("pointerup", (event) => {
  if (!carried) return;
  const { card, group, from, moved } = carried;
  carried = null;
  if (!moved) return;
  const shift = event.clientX - from;
  const wall = Math.abs(shift) < SLACK_PX ? card.dataset.wall : movedWall(card, shift); // straight down: same hour
  card.addEventListener("click", (click) => click.preventDefault(), { once: true, capture: true });
  setTimeout(() => {
    group.classList.remove("carried");
    group.removeAttribute("transform");
  });
  const line = card.closest("[data-crew]") && lineAt(event.clientY);
  const onto = line ? { crew: line.dataset.crew, dragged: "yes" } : {};
  const back = new URL(card.href).searchParams.get("back") || "/";
  htmx.ajax("POST", card.dataset.move, {
    target: `#placing-${card.dataset.job}`,
    swap: "innerHTML",
    values: { day: wall.slice(0, 10), start: wall.slice(11, 16), back, ...onto },
  });
});

document.addEventListener("pointercancel", () => {
  carried?.group.classList.remove("carried");
  carried?.group.removeAttribute("transform");
  carried = null;
});

document.addEventListener("dragstart", (event) => {
  if (event.target.closest?.("[data-move]")) event.preventDefault();
});
