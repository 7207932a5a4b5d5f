"""Turning reminders on and off for a device."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from crews.models import Person, PushDevice, PushMessage
from crews.services.push import claim_pushes, sender_point
from locates import clock
from tests.conftest import BROWSER_PATIENCE_MS
from tests.crews.page_people import Clients
from tests.crews.wcag import sideways, small_targets, violations
from tests.locates.push.service import HOST, Browser

pytestmark = pytest.mark.usefixtures("frozen_now")
People = dict[str, Person | None]
LogIn = Callable[[Any], Any]


@pytest.fixture(autouse=True)
def own_key(settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path


def subscribe(client: Client, **more: str) -> Any:
    given = {"endpoint": f"https://{HOST}/abc", **Browser().keys(), "name": "My phone", **more}
    return client.post("/reminders/devices", given)


def test_everybody_keeps_the_own_devices(clients: Clients, people: People) -> None:
    assert subscribe(clients["member"]).status_code == 201
    device = PushDevice.objects.get()
    assert (device.person, device.name) == (people["member"], "My phone")
    page = clients["member"].get("/reminders/").content.decode()
    assert "My phone" in page
    assert f'data-key="{sender_point()}"' in page
    assert "No device of yours" in clients["owner"].get("/reminders/").content.decode()
    for act in ("stop", "trial"):
        assert clients["owner"].post(f"/reminders/devices/{device.pk}/{act}").status_code == 404
        assert clients["stranger"].post(f"/reminders/devices/{device.pk}/{act}").status_code == 302
    assert clients["member"].post(f"/reminders/devices/{device.pk}/trial", follow=True).status_code == 200
    assert PushMessage.objects.get().title == "Reminders work here"
    again = clients["member"].post(f"/reminders/devices/{device.pk}/trial", follow=True).content.decode()
    assert "on its way already" in again
    clients["member"].post(f"/reminders/devices/{device.pk}/stop")
    assert "My phone" not in clients["member"].get("/reminders/").content.decode().partition("Your devices")[2]
    assert claim_pushes(now=clock.now()) == []


@pytest.mark.parametrize(
    ("more", "status", "words"),
    [
        ({"endpoint": "https://10.0.0.7/x"}, 400, "a host of the open internet"),
        ({"endpoint": "http://push.firstspade-trial.com/x"}, 400, "must begin with https"),
        ({"endpoint": ""}, 400, "no subscription that can be used"),
        ({"auth": "short"}, 400, "subscribe again"),
    ],
)
def test_a_refusal_has_words(clients: Clients, more: dict[str, str], status: int, words: str) -> None:
    answer = subscribe(clients["owner"], **more)
    assert (answer.status_code, words in answer.json()["words"]) == (status, True)
    assert not PushDevice.objects.exists()


def test_the_worker_is_never_kept(clients: Clients) -> None:
    answer = clients["member"].get("/reminders/worker.js")
    assert (answer["Content-Type"], answer["Cache-Control"]) == ("text/javascript", "no-cache")
    assert clients["stranger"].get("/reminders/worker.js").status_code == 302


@pytest.mark.parametrize("broken", [{"VAPID_PRIVATE_KEY": "nonsense"}, {"DATA_DIR": Path("/proc/none")}])
def test_without_a_key_the_page_says_so(clients: Clients, settings: Any, broken: dict[str, Any]) -> None:
    for name, value in broken.items():
        setattr(settings, name, value)
    page = clients["member"].get("/reminders/").content.decode()
    assert "it has no key to send them with" in page
    assert 'id="here"' not in page


FAKE = """
PushManager.prototype.subscribe = async function (wanted) {
  if (!wanted.userVisibleOnly || wanted.applicationServerKey.length !== 65) throw new Error("asked wrongly");
  sessionStorage.on = "1";
  return { toJSON: () => SUBSCRIPTION };
};
PushManager.prototype.getSubscription = async () => sessionStorage.on ? { endpoint: SUBSCRIPTION.endpoint } : null;
Notification.requestPermission = async () => "granted";
"""


@pytest.mark.browser
@pytest.mark.parametrize(("width", "least_px", "scheme"), [(1280, 24, "light"), (360, 44, "dark")])
def test_a_phone_turns_them_on_and_shows_one(
    page: Any, log_in: LogIn, people: People, width: int, least_px: int, scheme: str
) -> None:
    """The push service lies out there, so the subscription is made up; all else is the browser's own."""
    page.set_viewport_size({"width": width, "height": 740})
    page.emulate_media(color_scheme=scheme)
    made = {"endpoint": f"https://{HOST}/abc", "keys": Browser().keys()}
    page.add_init_script(f"const SUBSCRIPTION = {made};" + FAKE)
    log_in(people["member"])
    page.context.grant_permissions(["notifications"])
    page.goto("/reminders/")
    page.get_by_text("Reminders do not come to this device yet.").wait_for()
    assert violations(page) == []
    page.get_by_label("What you call this device").fill("Ines' phone")
    page.get_by_role("button", name="Send reminders to this device").click()
    page.get_by_text("Reminders come to this device.").wait_for()
    assert PushDevice.objects.get().name == "Ines' phone"
    assert violations(page) == []
    assert sideways(page) == 0
    assert small_targets(page, least_px) == []
    _deliver(page, '{"title": "R 3", "words": "falls due", "path": "/equipment/7/", "tag": "care-7"}')
    assert page.evaluate(SHOWN, BROWSER_PATIENCE_MS) == ["R 3: falls due /equipment/7/"]


# It waits by itself: Playwright's own waiting takes the promise of an answer for the answer.
SHOWN = """async (patience) => {
  const worker = await navigator.serviceWorker.getRegistration("/reminders/");
  for (const end = Date.now() + patience; ; ) {
    const found = await worker.getNotifications();
    if (found.length || Date.now() > end) return found.map((one) => `${one.title}: ${one.body} ${one.data}`);
    await new Promise((go) => setTimeout(go, 50));
  }
}"""


def _deliver(page: Any, text: str) -> None:
    """As the browser hands a message to the worker when one comes in."""
    tools = page.context.new_cdp_session(page)
    found: list[str] = []
    tools.on("ServiceWorker.workerRegistrationUpdated", lambda event: found.extend(
        one["registrationId"] for one in event["registrations"] if one["scopeURL"].endswith("/reminders/")
    ))  # fmt: skip
    tools.send("ServiceWorker.enable")
    origin = next(found_at for _ in range(500) if (found_at := page.evaluate("location.origin")) and found)
    tools.send("ServiceWorker.deliverPushMessage", {"origin": origin, "registrationId": found[0], "data": text})
