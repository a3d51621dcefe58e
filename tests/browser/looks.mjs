// Every page at every size, dark and light and in print: no fault that axe finds, nothing cut, nothing from elsewhere.

import { PHONE, SCREEN, assert, cut, faultsOf, launch, open, origin, pictures, until } from "./browser.mjs";

const board = `/board/${process.env.BOARD_FARM}`;
const batch = `${board}/batches/${process.env.BOARD_BATCH}`;
const pages = [
  ["board", board],
  ["batch", batch],
  ["plan", `${board}/plan`],
  ["empty", `/board/${process.env.BOARD_EMPTY_FARM}`],
  ["no-plan", `/board/${process.env.BOARD_EMPTY_FARM}/plan`],
  ["screen", process.env.BOARD_FEED],
  ["screen-plan", `${process.env.BOARD_FEED}/plan`],
  ["screen-batch", `${process.env.BOARD_FEED}/batches/${process.env.BOARD_BATCH}`],
  ["not-there", "/board/nowhere"],
  ["farms", "/board"],
  ["faulty", batch],
];
const browser = await launch();
const found = [];
for (const [size, viewport] of [["1920x1080", SCREEN], ["390x844", PHONE]]) {
  for (const colorScheme of ["light", "dark"]) {
    const { context, page, faults } = await open(browser, origin, { viewport, colorScheme });
    for (const [name, path] of pages) {
      const answer = await page.goto(origin + path);
      assert.equal(answer.status(), name === "not-there" ? 404 : 200, path);
      if (name === "faulty") {
        await page.fill("#reading-temperature", "180");
        await page.click(".note button");
        await page.waitForSelector("[aria-invalid=true]");
      }
      // A page is looked at once it has heard whether it is live.
      if (await page.$("#line")) await until("the stream", () => page.evaluate(() => document.getElementById("line").textContent !== ""));
      for (const fault of await faultsOf(page)) found.push(`${name} ${size} ${colorScheme}: ${fault}`);
      const { over, hidden } = await cut(page);
      if (over > 0 || hidden.length) found.push(`${name} ${size}: ${over} wider than the window; ${hidden}`);
      await page.screenshot({ path: `${pictures}/${name}-${size}-${colorScheme}.png`, fullPage: true });
      if (name === "board") await page.screenshot({ path: `${pictures}/fold-${size}-${colorScheme}.png` });
    }
    found.push(...faults);
    await context.close();
  }
}

// A4 within the margins that the style sheet sets is 186 mm across: 703 pixels.
const { context, page, faults } = await open(browser, origin, { viewport: { width: 703, height: 1030 }, colorScheme: "dark" });
for (const [name, path] of pages.slice(0, 3)) {
  await page.goto(origin + path);
  await page.emulateMedia({ media: "print", colorScheme: "dark" });
  const { over, hidden } = await cut(page);
  if (over > 0 || hidden.length) found.push(`${name} in print: ${over} wider than the paper; ${hidden}`);
  const inks = await page.evaluate(() => {
    const shown = [...document.querySelectorAll("h1, h2, h3, p, dt, dd, li, td, th")].filter(element => element.checkVisibility());
    return [...new Set(shown.map(element => getComputedStyle(element).color)), getComputedStyle(document.documentElement).backgroundColor];
  });
  assert.deepEqual(inks, ["rgb(0, 0, 0)", "rgb(255, 255, 255)"], "black on white");
  await page.screenshot({ path: `${pictures}/${name}-print.png`, fullPage: true });
  await page.pdf({ path: `${pictures}/${name}.pdf`, format: "A4", printBackground: true });
}
found.push(...faults);
await context.close();
await browser.close();
assert.deepEqual(found, []);
