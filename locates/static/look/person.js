// Pages kept on this phone show what one person may see: they go when somebody else has logged in, and when this
// person logs out. What was not sent yet stays, whoever it belongs to. A log-in that ran out changes nothing.
const KEY = "firstspade.person";
const here = document.body.dataset.person || "";

async function forget() {
  if (!window.caches) return;
  for (const name of await caches.keys()) if (name.startsWith("firstspade-runs-")) await caches.delete(name);
}

async function settle() {
  const last = localStorage.getItem(KEY) || "";
  if (here ? last === here : last) return;
  await forget();
  if (here) localStorage.setItem(KEY, here);
}

export const settled = settle();
document.querySelector("form[action='/logout']")?.addEventListener("submit", () => {
  localStorage.removeItem(KEY);
  forget();
});
