// Keeps the pages of the locates on the phone, so that one opens again without a connection. Always the network
// first: what is kept is shown only when nothing else can be had, says so, and writes never pass through here.
const KEPT = "firstspade-runs-2";
const NO_SERVER = [502, 503, 504];
const PAGE = /^\/locates\/(runs\/\d+\/|jobs\/\d+\/(new|unsent)?)?$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("firstspade-runs-") && name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  })());
});

// The page says that it comes from the phone, for what it tells may have changed since.
async function fromPhone(old) {
  if (!(old.headers.get("Content-Type") || "").startsWith("text/html")) return old;
  const text = (await old.text()).replace("<html ", '<html data-from="phone" ');
  return new Response(text, { status: old.status, headers: old.headers });
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (!(PAGE.test(url.pathname) || url.pathname.startsWith("/static/"))) return;
  event.respondWith((async () => {
    const kept = await caches.open(KEPT);
    try {
      const answer = await fetch(request);
      if (NO_SERVER.includes(answer.status)) throw new Error("no server behind the gateway");
      if (answer.ok && !answer.redirected) await kept.put(request, answer.clone());
      return answer;
    } catch (trouble) {
      const old = await kept.match(request, { ignoreVary: true });
      if (old) return fromPhone(old);
      throw trouble;
    }
  })());
});
