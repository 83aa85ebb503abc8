"""A visitor without a browser: gets pages, fills forms in and sends them, as HTML says."""

from html.parser import HTMLParser

import httpx

from tests.api.support import TLS

VOID = {"input", "link", "meta", "img", "source", "br"}


class Page(HTMLParser):
    """One answer, with its elements, its forms' fields and its words."""

    def __init__(self, answer):
        super().__init__()
        self.answer = answer
        self.elements = []
        self.fields = {}
        self._open, self._select, self._area = [], None, None
        self.words = ""
        self.wrong = {}
        self.feed(answer.text)

    @property
    def status(self):
        return self.answer.status_code

    @property
    def path(self):
        return self.answer.url.raw_path.decode()

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.elements.append((tag, found))
        if tag not in VOID:
            self._open.append((tag, found))
        name = found.get("name")
        if tag == "input" and found.get("type") not in {"radio", "checkbox", "submit"}:
            self.fields.setdefault(name, found.get("value", ""))
        elif tag == "input" and "checked" in found:
            self.fields[name] = found["value"]
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select is not None:
            value = found.get("value", "")
            if "selected" in found or self._select not in self.fields:
                self.fields[self._select] = value
        elif tag == "textarea":
            self._area = name
            self.fields[name] = ""

    def handle_endtag(self, tag):
        while self._open and self._open.pop()[0] != tag:
            pass
        if tag == "select":
            self._select = None
        if tag == "textarea":
            self.fields[self._area] = self.fields[self._area].removeprefix("\n")
            self._area = None

    def handle_data(self, data):
        self.words += " " + data
        if self._area is not None:
            self.fields[self._area] += data
        for _tag, found in self._open:
            if found.get("class") == "wrong":
                name = found["id"].removesuffix("-wrong")
                self.wrong[name] = self.wrong.get(name, "") + data

    @property
    def text(self):
        return " ".join(self.words.split())


class Visitor:
    """A browser's worth of cookies."""

    def __init__(self, base_url):
        self.http = httpx.Client(base_url=base_url, follow_redirects=True, timeout=60, verify=TLS)

    def get(self, path):
        return Page(self.http.get(path))

    def post(self, path, fields):
        return Page(self.http.post(path, data=fields))

    def sign_in(self, key, back="/pages"):
        page = self.get(f"/pages/sign-in?back={back}")
        return self.post("/pages/sign-in", {**page.fields, "key": key})

    def send(self, path, **fields):
        """Get a form, fill it in and send it; dots in names are written as two underscores."""
        page = self.get(path)
        assert page.status == 200, page.text
        return self.post(path, {**page.fields, **{k.replace("__", "."): v for k, v in fields.items()}})
