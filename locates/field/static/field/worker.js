// Keeps the pages of runs on the phone, so that one opens again without a connection. Always the network first:
// what is kept is shown only when nothing else can be had, and writes never pass through here.
const KEPT = "firstspade-runs-1";
const NO_SERVER = [502, 503, 504];
const RUN = /^\/locates\/runs\/\d+\/$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("firstspade-runs-") && name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  })());
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (!(RUN.test(url.pathname) || url.pathname.startsWith("/static/"))) return;
  event.respondWith((async () => {
    const kept = await caches.open(KEPT);
    try {
      const answer = await fetch(request);
      if (NO_SERVER.includes(answer.status)) throw new Error("no server behind the gateway");
      if (answer.ok && !answer.redirected) await kept.put(request, answer.clone());
      return answer;
    } catch (trouble) {
      const old = await kept.match(request, { ignoreVary: true });
      if (old) return old;
      throw trouble;
    }
  })());
});
