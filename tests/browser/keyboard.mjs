// The board and a batch's form by keyboard alone.

import { assert, events, launch, open, origin, until } from "./browser.mjs";

const browser = await launch();
const { page, faults } = await open(browser, origin);

// What has the focus, and whether that can be seen.
const focused = () => page.evaluate(() => {
  const element = document.activeElement;
  const shown = element.type === "radio" ? element.closest("label") : element;
  const { outlineStyle, outlineWidth } = getComputedStyle(shown);
  const box = shown.getBoundingClientRect();
  return {
    text: element.textContent.trim() || element.name, name: element.name, tag: element.tagName,
    seen: outlineStyle !== "none" && parseFloat(outlineWidth) >= 2 && box.width > 0 && box.left >= 0 && box.bottom > 0 && box.top < innerHeight,
    large: box.height >= 24 || getComputedStyle(shown).display === "inline",
    top: box.top + scrollY, left: box.left,
  };
});

await page.goto(`${origin}/board/${process.env.BOARD_FARM}`);
await page.keyboard.press("Tab");
let at = await focused();
assert.equal(at.text, "To the content");
assert.ok(at.seen, "the first stop can be seen");
const order = [];
for (;;) {
  await page.keyboard.press("Tab");
  at = await focused();
  if (at.tag === "BODY" || order.length > 200) break;
  assert.ok(at.seen, `the focus on ${at.text} can be seen`);
  assert.ok(at.large, `${at.text} is large enough to hit`);
  order.push(await page.evaluate(() => document.activeElement.closest("section")?.id ?? "head"));
}
const sections = order.filter((section, index) => section !== order[index - 1]);
assert.deepEqual(sections, ["head", "jobs", "bays", "season"], "from the way to the plan and what is to be done over the bays to the season");

// The way past the head leads into the content.
await page.goto(`${origin}/board/${process.env.BOARD_FARM}`);
await page.keyboard.press("Tab");
await page.keyboard.press("Enter");
assert.equal(await page.evaluate(() => document.activeElement.id), "main");
while (!(await page.evaluate(() => document.activeElement.closest("#bays h3")))) await page.keyboard.press("Tab");
await page.keyboard.press("Enter");
await page.waitForURL("**/batches/**");

const batch = decodeURIComponent(new URL(page.url()).pathname.split("/").pop());
const before = (await events(batch)).length;
while ((await focused()).name !== "temperature") { await page.keyboard.press("Tab"); assert.ok((await focused()).seen); }
await page.keyboard.type("57,5");
await page.keyboard.press("Tab");
assert.equal((await focused()).name, "unit");
await page.keyboard.press("Tab");
await page.keyboard.type("40");
await page.keyboard.press("Tab");
await page.keyboard.press("ArrowRight");
await page.keyboard.press("Enter");
await until("the answer", () => page.evaluate(() => document.getElementById("outcome").textContent === "Noted."));
const after = await events(batch);
assert.equal(after.length, before + 1);
const { reading } = after.at(-1).event;
assert.deepEqual(reading, { temperature_c: 57.5, depth_m: 0.4, zone: "core" });

// A fault leads to its field, and says so to those who listen.
while ((await focused()).name !== "temperature") await page.keyboard.press("Shift+Tab");
await page.keyboard.type("warm");
await page.keyboard.press("Enter");
await page.waitForSelector("#reading-temperature[aria-invalid=true]");
assert.equal((await focused()).name, "temperature");
assert.match(await page.textContent("#reading-temperature-fault"), /“warm”.*a number/);
assert.equal(await page.inputValue("#reading-temperature"), "warm", "what was typed stays");
assert.deepEqual(faults, []);
await browser.close();
