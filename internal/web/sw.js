// Shows the last call that was seen when there is no signal, and never as if
// it were fresh: a kept page says since when it is kept. What is kept is the
// page as it is shown to a visitor who is not logged in.
"use strict";
const SHELL = [];
const TAG = "";
const shell = "shell-" + TAG, pages = "pages";
const may = /^\/($|days$|day\/|hours\/|drift$|spread$|print$|reports$)/;
const patience = 4000, most = 40;

const keepable = (answer) =>
  answer.ok && !answer.redirected && !(answer.headers.get("Cache-Control") || "").includes("no-store");

// nameless asks for a page as one who is not logged in.
const nameless = (url) =>
  fetch(url, { headers: { "Forecastd-Nameless": "1" }, cache: "no-store" });

async function keep(url, seen) {
  const answer = seen && keepable(seen) ? seen : await nameless(url);
  if (!keepable(answer)) return;
  const text = (await answer.text()).replace("<html ", `<html data-kept="${Date.now()}" `);
  const cache = await caches.open(pages);
  await cache.delete(url);
  await cache.put(url, new Response(text, { headers: answer.headers }));
  const old = (await cache.keys()).filter((k) => new URL(k.url).pathname !== "/");
  for (const k of old.slice(0, Math.max(0, old.length - most))) await cache.delete(k);
}

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil((async () => {
    const cache = await caches.open(shell);
    await cache.addAll(SHELL);
    await cache.put("/offline", await nameless("/offline"));
    const first = ["/", "/spread", "/print"].map((p) => keep(new URL(p, location).href));
    await Promise.allSettled(first);
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name !== shell && name !== pages) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const request = event.request, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request));
  else if (request.mode === "navigate") event.respondWith(page(event, url));
});

async function file(request) {
  const hit = await caches.match(request);
  if (hit) return hit;
  try {
    return await fetch(request);
  } catch (broken) {
    const other = await caches.match(request, { ignoreSearch: true });
    if (other) return other;
    throw broken;
  }
}

async function page(event, url) {
  const mine = may.test(url.pathname) && /^(\?port=[^&]*)?$/.test(url.search);
  const live = fetch(event.request);
  event.waitUntil(live.then((seen) => mine && seen.ok && keep(url.href, seen.clone())).catch(() => {}));
  const kept = mine && await (await caches.open(pages)).match(url.href);
  const late = new Promise((done) => setTimeout(done, patience));
  try {
    const answer = await (kept ? Promise.race([live, late]) : live);
    if (answer && !(kept && answer.status >= 500)) return answer;
    return kept;
  } catch {
    return kept || caches.match("/offline");
  }
}
