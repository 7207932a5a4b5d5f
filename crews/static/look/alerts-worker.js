// Shows a reminder that has come in, and opens its item when it is tapped.
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("push", (event) => {
  let told = {};
  try {
    told = event.data.json();
  } catch (trouble) {
    told = {}; // a message without words still has to be shown
  }
  const title = told.title || "Equipment falls due";
  const words = told.words || "Open Firstspade to see what.";
  event.waitUntil(self.registration.showNotification(title, { body: words, tag: told.tag, data: told.path || "/equipment/" }));
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const wanted = new URL(event.notification.data, self.location.origin);
  if (wanted.origin !== self.location.origin) return;
  event.waitUntil((async () => {
    for (const open of await self.clients.matchAll({ type: "window" })) {
      if (new URL(open.url).pathname === wanted.pathname) return open.focus();
    }
    return self.clients.openWindow(wanted.href);
  })());
});
