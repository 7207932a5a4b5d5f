// A button beside each field for a position fills it from the phone. Without it positions are typed.
for (const place of document.querySelectorAll("[data-here]")) {
  const input = place.querySelector("input");
  if (!input || !navigator.geolocation) continue;
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "I stand here now" });
  const said = Object.assign(document.createElement("span"), { className: "help" });
  said.setAttribute("role", "status");
  button.addEventListener("click", () => {
    said.textContent = "Asking the phone for its position";
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        input.value = `${coords.latitude.toFixed(7)}, ${coords.longitude.toFixed(7)}`;
        said.textContent = `Good to ${Math.ceil(coords.accuracy / 0.3048)} ft`;
      },
      (trouble) => { said.textContent = `The phone gave no position (${trouble.message}). Type it.`; },
      { enableHighAccuracy: true, maximumAge: 0, timeout: 30000 },
    );
  });
  place.append(button, said);
}
