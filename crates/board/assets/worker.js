"use strict";
// Keeps the pages that were looked at, for where there is no signal. What is fresh is always asked for first; a page that is
// kept says that it is, by a mark that the style sheet makes a notice of.

const PAGES = "board-pages";
const FILES = "board-files-{version}";
const MOST_PAGES = 80;
const PATIENCE_MS = 4000;
const files = ["{files}"];

self.addEventListener("install", event => {
  event.waitUntil((async () => {
    await (await caches.open(FILES)).addAll(files);
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", event => {
  event.waitUntil((async () => {
    // Files of the version before stay, for pages that were kept with them.
    const older = (await caches.keys()).filter(name => name.startsWith("board-files-") && name !== FILES);
    for (const name of older.slice(0, -1)) await caches.delete(name);
    await self.clients.claim();
    // The pages that are open now were fetched before anyone could keep them.
    for (const client of await self.clients.matchAll()) {
      const url = new URL(client.url);
      if (isPage(url)) fetch(url.pathname, { headers: { accept: "text/html" } }).then(answer => keep(url, answer)).catch(() => {});
    }
  })());
});

const isPage = url => /^\/board\/[^/]+(\/plan|\/batches\/[^/]+)?$/.test(url.pathname) && url.pathname !== "/board/worker.js";

async function keep(url, answer) {
  const pages = await caches.open(PAGES);
  if (answer.status === 401 || answer.status === 404) return pages.delete(url.pathname);
  // What a page says of a note just sent is not to be said again.
  if (answer.status !== 200 || url.search) return;
  const headers = new Headers(answer.headers);
  headers.delete("content-encoding");
  headers.delete("content-length");
  const text = (await answer.text()).replace("<html ", "<html data-kept=\"yes\" ");
  await pages.put(url.pathname, new Response(text, { headers }));
  const kept = await pages.keys();
  for (const old of kept.slice(0, Math.max(0, kept.length - MOST_PAGES))) await pages.delete(old);
}

async function page(event, url) {
  const fresh = fetch(event.request).then(answer => {
    const copy = answer.clone();
    event.waitUntil(keep(url, copy));
    return answer;
  });
  const kept = async () => (await caches.open(PAGES)).match(url.pathname);
  // Where a signal is too weak to bring anything, what is kept is shown rather than nothing.
  const impatient = new Promise(resolve => setTimeout(async () => resolve(await kept()), PATIENCE_MS));
  try {
    return (await Promise.race([fresh, impatient])) || (await fresh);
  } catch {
    return (await kept()) || Response.error();
  }
}

self.addEventListener("fetch", event => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && url.pathname === "/board/sign-out") {
    event.waitUntil(caches.delete(PAGES));
  } else if (request.method !== "GET") {
    return;
  } else if (url.pathname.startsWith("/board/assets/")) {
    event.respondWith(caches.match(request).then(kept => kept || fetch(request)));
  } else if (request.mode === "navigate" && isPage(url)) {
    event.respondWith(page(event, url));
  } else if (isPage(url)) {
    // A page that renews itself: what is kept must not pass for news.
    event.respondWith(fetch(request).then(answer => {
      event.waitUntil(keep(url, answer.clone()));
      return answer;
    }));
  }
});
