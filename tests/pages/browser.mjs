// A headless Chromium, driven over a pipe by the Chrome DevTools Protocol: messages in JSON, each ended
// by a zero byte, without a port or a package.

import { spawn } from "node:child_process";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";

// How long one answer of the browser may take, in milliseconds, on a busy machine.
const PATIENCE = 120_000;

export class Browser {
  #process;
  #profile;
  #next = 0;
  #waiting = new Map();
  #listeners = new Map();

  static async start(program) {
    const browser = new Browser();
    browser.#profile = await mkdtemp(join(tmpdir(), "pages-"));
    const options = [
      "--headless", "--disable-gpu", "--disable-dev-shm-usage", "--disable-background-networking",
      "--disable-component-update", "--no-first-run", "--no-default-browser-check", "--hide-scrollbars",
      "--remote-debugging-pipe", `--user-data-dir=${browser.#profile}`,
    ];
    // The sandbox of Chromium does not start for the superuser, under whom machines for tests work.
    if (process.getuid?.() === 0) options.push("--no-sandbox");
    browser.#process = spawn(program, [...options, "about:blank"], {
      stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"],
    });
    browser.#process.on("error", (error) => browser.#give_up(error));
    browser.#process.on("exit", (code) => browser.#give_up(new Error(`the browser ended (${code})`)));
    browser.#read();
    return browser;
  }

  #read() {
    let rest = Buffer.alloc(0);
    this.#process.stdio[4].on("data", (bytes) => {
      rest = Buffer.concat([rest, bytes]);
      for (let end = rest.indexOf(0); end >= 0; end = rest.indexOf(0)) {
        this.#take(JSON.parse(rest.subarray(0, end).toString("utf8")));
        rest = rest.subarray(end + 1);
      }
    });
  }

  #take(message) {
    if (message.id === undefined) {
      this.#listeners.get(message.sessionId)?.(message.method, message.params);
      return;
    }
    const { resolve, reject, method, timer } = this.#waiting.get(message.id);
    this.#waiting.delete(message.id);
    clearTimeout(timer);
    if (message.error) reject(new Error(`${method}: ${message.error.message}`));
    else resolve(message.result);
  }

  #give_up(error) {
    for (const { reject, timer } of this.#waiting.values()) {
      clearTimeout(timer);
      reject(error);
    }
    this.#waiting.clear();
  }

  send(method, params = {}, sessionId = undefined) {
    const id = ++this.#next;
    return new Promise((resolve, reject) => {
      const late = () => reject(new Error(`${method}: no answer in ${PATIENCE / 1000} s`));
      this.#waiting.set(id, { resolve, reject, method, timer: setTimeout(late, PATIENCE) });
      this.#process.stdio[3].write(`${JSON.stringify({ id, method, params, sessionId })}\0`);
    });
  }

  // A page of its own, with nothing in it yet.
  async page() {
    const { targetId } = await this.send("Target.createTarget", { url: "about:blank" });
    const { sessionId } = await this.send("Target.attachToTarget", { targetId, flatten: true });
    const page = new Page(this, targetId, sessionId);
    this.#listeners.set(sessionId, (method, params) => page.heard(method, params));
    await page.prepare();
    return page;
  }

  async close() {
    const ended = new Promise((resolve) => this.#process.once("exit", resolve));
    await this.send("Browser.close").catch(() => {});
    await ended;
    await rm(this.#profile, { recursive: true, force: true, maxRetries: 5 });
  }
}

export class Page {
  #browser;
  #target;
  #session;
  #loaded = () => {};
  // What the console said, and what was asked of the network, since the page was opened.
  said = [];
  requests = [];

  constructor(browser, target, session) {
    this.#browser = browser;
    this.#target = target;
    this.#session = session;
  }

  send(method, params) {
    return this.#browser.send(method, params, this.#session);
  }

  heard(method, params) {
    if (method === "Page.loadEventFired") this.#loaded();
    else if (method === "Network.requestWillBeSent") this.requests.push(params.request.url);
    else if (method === "Log.entryAdded") this.said.push(`${params.entry.level}: ${params.entry.text}`);
    else if (method === "Runtime.exceptionThrown") {
      const { exception, text } = params.exceptionDetails;
      this.said.push(`exception: ${exception?.description ?? text}`);
    } else if (method === "Runtime.consoleAPICalled") {
      const words = params.args.map((one) => one.value ?? one.description);
      this.said.push(`${params.type}: ${words.join(" ")}`);
    }
  }

  async prepare() {
    for (const domain of ["Page", "Network", "Log", "Runtime"]) await this.send(`${domain}.enable`);
    await this.send("Emulation.setFocusEmulationEnabled", { enabled: true });
  }

  async open(url) {
    this.said = [];
    this.requests = [];
    const loaded = new Promise((resolve) => { this.#loaded = resolve; });
    const { errorText } = await this.send("Page.navigate", { url });
    if (errorText) throw new Error(`${url}: ${errorText}`);
    await loaded;
  }

  // The value of a function that is run in the page, with arguments that JSON can hold.
  async evaluate(inside, ...given) {
    const text = given.map((one) => JSON.stringify(one)).join(", ");
    return this.value(`(${inside})(${text})`);
  }

  // The value of an expression, or of its promise.
  async value(expression) {
    const { result, exceptionDetails } = await this.send("Runtime.evaluate", {
      expression, awaitPromise: true, returnByValue: true,
    });
    if (exceptionDetails) throw new Error(exceptionDetails.exception?.description ?? exceptionDetails.text);
    return result.value;
  }

  async show({ width, height = 900, theme = "light", medium = "screen" }) {
    await this.send("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile: false });
    const features = [{ name: "prefers-color-scheme", value: theme }];
    await this.send("Emulation.setEmulatedMedia", { media: medium, features });
  }

  async press(key, code = key) {
    const text = { Enter: "\r", " ": " " }[key];
    const number = { Enter: 13, " ": 32, Tab: 9, PageUp: 33, Home: 36, ArrowRight: 39 }[key];
    const event = { key, code, windowsVirtualKeyCode: number };
    await this.send("Input.dispatchKeyEvent", { ...event, type: text ? "keyDown" : "rawKeyDown", text });
    await this.send("Input.dispatchKeyEvent", { ...event, type: "keyUp" });
  }

  // Whether scripts of the page run, from the next opening on; `evaluate` works all the same.
  async allow_scripts(allowed) {
    await this.send("Emulation.setScriptExecutionDisabled", { value: !allowed });
  }

  // Number of sheets that the page takes, as its own style sets them.
  async sheets() {
    const { data } = await this.send("Page.printToPDF", { preferCSSPageSize: true, paperWidth: 8.27, paperHeight: 11.69 });
    const text = Buffer.from(data, "base64").toString("latin1");
    return [...text.matchAll(/\/Type\s*\/Page\b/g)].length;
  }

  async close() {
    await this.#browser.send("Target.closeTarget", { targetId: this.#target });
  }
}
