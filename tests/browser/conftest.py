"""A real Chromium, a real service, and somebody who sits before it.

Without Chromium these tests are skipped, with the reason; where CI is set, its absence is a failure.
"""

import os
import shutil

import pytest

from tests.api.conftest import fleet, service  # noqa: F401 - the fixtures of the service's own tests

CHROMIUM = (
    os.environ.get("WEARWRIGHT_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
)
SWITCHES = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
TELEPHONE = {"width": 360, "height": 740}
DESK = {"width": 1180, "height": 900}


@pytest.fixture(scope="session")
def chromium():
    """Chromium, started once."""
    if CHROMIUM is None:
        reason = "no Chromium: install the system's own (apt-get install chromium), or name one in WEARWRIGHT_CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


class Seat:
    """Somebody before a browser; whatever the console complains of is kept."""

    def __init__(self, browser, base_url, size):
        self.base_url = base_url
        self.context = browser.new_context(viewport=size, base_url=base_url)
        self.complaints = []
        self.strangers = []
        self.page = self.context.new_page()
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", self._asked)

    def _heard(self, message):
        if message.type in {"error", "warning"}:
            self.complaints.append(f"{message.text} ({self.page.url})")

    def _asked(self, request):
        if not request.url.startswith(self.base_url):
            self.strangers.append(request.url)

    def sign_in(self, key):
        self.page.goto("/")
        self.page.get_by_label("Key of your fleet").fill(key)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url("**/pages")

    def visit(self, path):
        answer = self.page.goto(
            path
        )  # until everything is loaded, the pictures too: pages have no scripts that go on asking
        assert answer.status == 200, path

    def overflow(self):
        """How far the page can be pushed sideways, in pixels."""
        return self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )


@pytest.fixture(params=[DESK, TELEPHONE], ids=["desk", "telephone"])
def seat(chromium, service, request):  # noqa: F811 - the imported fixture
    """Somebody at a desk, and somebody with a telephone in a barn."""
    found = Seat(chromium, service.base_url, request.param)
    yield found
    found.context.close()
