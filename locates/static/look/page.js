// Small things every page shares. Nothing here is needed for a page to work.

// After a part of the page was replaced, move the focus to what asks for it (an error, a confirmation).
document.body.addEventListener("htmx:afterSwap", (event) => {
  const wanted = event.target.querySelector?.("[data-focus]");
  if (wanted) wanted.focus();
});

// A refusal (4xx) carries words for the person: show them where the answer would have gone.
document.body.addEventListener("htmx:beforeSwap", (event) => {
  if ([400, 409, 422].includes(event.detail.xhr.status)) {
    event.detail.shouldSwap = true;
    event.detail.isError = false;
  }
});

// The log-in has run out: go there whole and come back here, instead of a log-in form inside this page.
document.body.addEventListener("htmx:beforeSwap", (event) => {
  const arrived = new URL(event.detail.xhr.responseURL || location.href, location.href).pathname;
  if (arrived === "/login" && location.pathname !== "/login") {
    event.detail.shouldSwap = false;
    location.assign(`/login?next=${encodeURIComponent(location.pathname + location.search)}`);
  }
});
