"""A headless Chromium, driven over its DevTools protocol (websocket-client), for the checks of pages."""

import base64
import json
import re
import shutil
import subprocess
import tempfile
import time
import urllib.request

import websocket

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]


class Browser:
    """One page of a headless Chromium; screenshots go into a folder."""

    def __init__(self, shots):
        self.shots = shots
        self.home = tempfile.mkdtemp()
        self.process = subprocess.Popen(["chromium", *FLAGS, f"--user-data-dir={self.home}", "--remote-debugging-port=0", "--remote-allow-origins=*", "about:blank"], stderr=subprocess.PIPE, text=True)
        for line in self.process.stderr:
            if found := re.search(r"ws://([^/]+)/", line):
                break
        self.host = found[1]
        pages = json.load(urllib.request.urlopen(f"http://{self.host}/json"))
        self.attach(next(p for p in pages if p["type"] == "page"))

    def attach(self, page):
        self.socket = websocket.create_connection(page["webSocketDebuggerUrl"], timeout=60)
        self.number, self.events = 0, []
        for domain in ("Page", "Log", "Runtime", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method, **params):
        self.number += 1
        self.socket.send(json.dumps({"id": self.number, "method": method, "params": params}))
        while True:
            told = json.loads(self.socket.recv())
            if told.get("id") == self.number:
                if "error" in told:
                    raise RuntimeError(f"{method}: {told['error']}")
                return told["result"]
            self.events.append(told)

    def open(self, address, size):
        """Opens a page; gives the seconds until it was loaded and painted."""
        self.events.clear()
        self.call("Emulation.setDeviceMetricsOverride", width=size[0], height=size[1], deviceScaleFactor=1, mobile=size[0] < 600)
        start = time.monotonic()
        self.call("Page.navigate", url=address)
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            self.events.append(json.loads(self.socket.recv()))
        self.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(1))))")
        return time.monotonic() - start

    def run(self, words):
        told = self.call("Runtime.evaluate", expression=words, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in told:
            raise RuntimeError(told["exceptionDetails"])
        return told["result"].get("value")

    def shot(self, name):
        data = self.call("Page.captureScreenshot", format="png")["data"]
        (self.shots / f"{name}.png").write_bytes(base64.b64decode(data))

    def pdf(self, file, width, height):
        data = self.call("Page.printToPDF", paperWidth=width, paperHeight=height, preferCSSPageSize=False, marginTop=0.55, marginBottom=0.55, marginLeft=0.55, marginRight=0.55)["data"]
        file.write_bytes(base64.b64decode(data))

    def close(self):
        self.socket.close()
        self.process.terminate()
        self.process.wait()
        shutil.rmtree(self.home, ignore_errors=True)

    def refused(self):
        """What the page's policy or the page itself stumbled over since it was opened."""
        entries = [e["params"]["entry"]["text"] for e in self.events if e.get("method") == "Log.entryAdded" and e["params"]["entry"]["level"] == "error"]
        return entries + [e["params"]["exceptionDetails"]["text"] for e in self.events if e.get("method") == "Runtime.exceptionThrown"]

    def asked(self):
        """Every address asked for since the page was opened."""
        return [e["params"]["request"]["url"] for e in self.events if e.get("method") == "Network.requestWillBeSent"]

    def nameless(self):
        """Roles of what can be operated and has no name, by the browser's accessibility tree."""
        nodes = self.call("Accessibility.getFullAXTree")["nodes"]
        roles = {"link", "button", "checkbox", "combobox", "searchbox", "textbox", "tab", "application", "dialog", "spinbutton"}
        return [n["role"]["value"] for n in nodes if n.get("role", {}).get("value") in roles and not n.get("ignored") and not n.get("name", {}).get("value", "").strip()]


# Lowest contrast of any text in view with what lies behind it, after WCAG 2.2's definition.
CONTRAST = """(() => {
  const lum = c => { const v = c.map(x => { x /= 255; return x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4 }); return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2] };
  const rgba = t => { const n = t.match(/[\\d.]+/g).map(Number); return n.length < 4 ? [...n, 1] : n };
  const behind = e => { for (; e; e = e.parentElement) { const c = rgba(getComputedStyle(e).backgroundColor); if (c[3] > 0) return c } return [255, 255, 255, 1] };
  let worst = [21, ''];
  for (const e of Array.from(document.querySelectorAll('body *')).slice(0, 3000)) {
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    if (['SCRIPT', 'STYLE', 'NOSCRIPT'].includes(e.tagName)) continue;
    const a = lum(rgba(getComputedStyle(e).color).slice(0, 3)), b = lum(behind(e).slice(0, 3));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < worst[0]) worst = [ratio, e.tagName + '.' + e.className];
  }
  return worst;
})()"""
