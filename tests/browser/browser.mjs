// Chromium, as the tests use it: every request and every fault of a page is watched.

import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { createRequire } from "node:module";
import net from "node:net";

const require = createRequire(`${process.env.BOARD_MODULES}/`);
const { chromium } = require("playwright-core");
const axe = require("axe-core");

export const origin = process.env.BOARD_ORIGIN;
export const pictures = process.env.BOARD_PICTURES;
mkdirSync(pictures, { recursive: true });

export const SCREEN = { width: 1920, height: 1080 };
export const PHONE = { width: 390, height: 844 };

export async function launch() {
  return chromium.launch({
    executablePath: process.env.BOARD_CHROMIUM,
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
}

// A browser's window. What is asked of another origin, and what the pages' policy forbids, is noted in `faults`.
export async function open(browser, at, settings = {}) {
  const context = await browser.newContext({ viewport: SCREEN, ...settings });
  const faults = [];
  context.on("request", request => {
    const url = new URL(request.url());
    if (url.origin !== at && url.protocol !== "data:") faults.push(`asked of ${url.origin}`);
  });
  await context.addInitScript(() => {
    document.addEventListener("securitypolicyviolation", event => console.error(`policy: ${event.violatedDirective} ${event.blockedURI}`));
  });
  context.on("page", page => {
    page.on("pageerror", error => faults.push(`script: ${error.message}`));
    page.on("console", message => {
      // What is refused is told by a status, which a browser logs as an error of its own.
      if (message.type() === "error" && !/Failed to load resource|net::ERR/.test(message.text())) faults.push(message.text());
    });
  });
  return { context, page: await context.newPage(), faults };
}

// Every fault that axe finds, of any of its rules.
export async function faultsOf(page) {
  await page.evaluate(axe.source);
  const found = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  return found.violations.map(rule => `${rule.id}: ${rule.nodes.map(node => node.html.slice(0, 160)).slice(0, 3).join(" | ")}`);
}

// How far a page is wider than its window, and what text is cut off in it.
export async function cut(page) {
  return page.evaluate(() => {
    const root = document.documentElement;
    const hidden = [...document.body.querySelectorAll("*")].filter(element => {
      const style = getComputedStyle(element);
      return !element.closest("svg") && style.overflow !== "visible" && element.scrollWidth > element.clientWidth + 1 && !/^(INPUT|SELECT)$/.test(element.tagName);
    });
    return { over: root.scrollWidth - root.clientWidth, hidden: hidden.map(element => element.outerHTML.slice(0, 120)) };
  });
}

// A way to the server that can be cut, as a signal is.
export async function way(to) {
  const [host, port] = new URL(to).host.split(":");
  const sockets = new Set();
  let up = true;
  const server = net.createServer(socket => {
    if (!up) return socket.destroy();
    const on = net.connect(port, host);
    for (const [one, other] of [[socket, on], [on, socket]]) {
      sockets.add(one);
      one.on("error", () => other.destroy());
      one.on("close", () => { sockets.delete(one); other.destroy(); });
      one.pipe(other);
    }
  });
  await new Promise(resolve => server.listen(0, "127.0.0.1", resolve));
  return {
    origin: `http://127.0.0.1:${server.address().port}`,
    cut() { up = false; for (const socket of sockets) socket.destroy(); },
    mend() { up = true; },
    close() { server.close(); for (const socket of sockets) socket.destroy(); },
  };
}

// The events of a batch, as the service tells them.
export async function events(batch) {
  const answer = await fetch(`${origin}/v1/farms/${process.env.BOARD_FARM}/batches/${batch}/events?page_size=1000`);
  assert.equal(answer.status, 200);
  return (await answer.json()).items;
}

export async function append(batch, event) {
  const answer = await fetch(`${origin}/v1/farms/${process.env.BOARD_FARM}/batches/${batch}/events`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ entries: [{ event }] }),
  });
  assert.equal(answer.status, 200, await answer.text());
}

// Waits until something holds, and says what does not if it takes too long.
export async function until(what, holds, patience_ms = 20000) {
  const end = Date.now() + patience_ms;
  while (Date.now() < end) {
    if (await holds()) return;
    await new Promise(resolve => setTimeout(resolve, 25));
  }
  assert.fail(`never came: ${what}`);
}

export { assert };
