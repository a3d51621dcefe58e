// How soon a board of forty batches is seen, and what it weighs.

import { SCREEN, PHONE, assert, launch, open, origin } from "./browser.mjs";

const path = `${origin}/board/${process.env.BOARD_FARM}`;
const plain = await (await fetch(path, { headers: { "accept-encoding": "identity" } })).arrayBuffer();
assert.ok(plain.byteLength < 150_000, `the page, uncompressed: ${plain.byteLength} bytes`);
const browser = await launch();
for (const viewport of [SCREEN, PHONE]) {
  const paints_ms = [];
  let sent = 0;
  for (let load = 0; load < 9; load += 1) {
    // A new window each time: nothing is at hand.
    const { context, page, faults } = await open(browser, origin, { viewport });
    const client = await context.newCDPSession(page);
    await client.send("Network.enable");
    let bytes = 0;
    client.on("Network.loadingFinished", event => { bytes += event.encodedDataLength; });
    await page.goto(path);
    const paint = await page.evaluate(() => new Promise(resolve => {
      new PerformanceObserver(list => {
        for (const entry of list.getEntries()) if (entry.name === "first-contentful-paint") resolve(entry.startTime);
      }).observe({ type: "paint", buffered: true });
    }));
    assert.equal(await page.locator(".plot:not(.free)").count(), Number(process.env.BOARD_BATCHES));
    paints_ms.push(Math.round(paint));
    sent = bytes;
    assert.deepEqual(faults, []);
    await context.close();
  }
  const best = Math.min(...paints_ms);
  console.log(`${viewport.width}x${viewport.height}: first contentful paint after ${paints_ms.join(", ")} ms; page ${plain.byteLength} bytes, ${sent} bytes sent with its files`);
  assert.ok(best < 200, `first contentful paint: ${paints_ms} ms`);
  assert.ok(sent < 150_000, `sent: ${sent} bytes`);
}
await browser.close();
