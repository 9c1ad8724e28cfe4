// Keeps the field pages and the files they load, so that they open without signal. Above this line the service says
// which files there are. Answers of the interface are never kept: what was recorded is asked for, not remembered.
//
// Pages are kept for one member of one club, as the header `preen-keeper` names them, and shown to nobody else: whoever
// signs in or out is unknown here until a page has come for them.

const FILE_STORE = "preen-files";
const WHO_STORE = "preen-who";
const WHO = "/who";
/** How long the network may take while a kept page is at hand, ms. */
const PATIENCE_MS = 4000;
/** A kept page is not fetched anew within this time, ms. */
const FRESH_MS = 60000;

const storeOf = (who) => `preen-pages ${who}`;
const isField = (path) => path === "/field" || path.startsWith("/field/");

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(FILE_STORE).then((store) => store.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(dropOldFiles().then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  if (event.data && event.data.keep) {
    const kept = keepAll(event.data.keep);
    event.waitUntil(kept.then((count) => event.source && event.source.postMessage({ kept: count })));
  }
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (isChangeOfMember(request.method, url.pathname)) event.respondWith(changeOfMember(event, url.pathname));
  else if (request.method !== "GET") return;
  else if (url.pathname.startsWith("/static/")) event.respondWith(file(request, url));
  else if (isField(url.pathname)) event.respondWith(page(event, url));
});

async function dropOldFiles() {
  const store = await caches.open(FILE_STORE);
  const known = new Set(FILES);
  for (const request of await store.keys()) {
    if (!known.has(new URL(request.url).pathname)) await store.delete(request);
  }
}

/** A file as the page names it; a page kept before the last change gets the file as it is now, as from the service. */
async function file(request, url) {
  const store = await caches.open(FILE_STORE);
  const kept = await store.match(url.pathname);
  if (kept) return kept;
  try {
    return await fetch(request);
  } catch (lost) {
    const name = url.pathname.split("/").pop();
    const same = FILES.find((path) => path.split("/").pop() === name);
    const older = same && (await store.match(same));
    if (older) return older;
    throw lost;
  }
}

function isChangeOfMember(method, path) {
  if (path === "/api/v1/session") return method === "POST" || method === "DELETE";
  return method === "POST" && (path === "/sign-in" || path === "/sign-out");
}

async function changeOfMember(event, path) {
  const isLeaving = path === "/sign-out" || event.request.method === "DELETE";
  const response = await fetch(event.request);
  const isDone = response.type === "opaqueredirect" || response.ok;
  if (isDone) {
    await forget(isLeaving);
    // Whoever signs in at home means to use the card where there is no signal.
    if (!isLeaving) event.waitUntil(keepAll([]).catch(() => 0));
  }
  return response;
}

async function who() {
  const said = await (await caches.open(WHO_STORE)).match(WHO);
  return said ? said.text() : "";
}

async function forget(withPages) {
  const last = await who();
  if (withPages && last) await caches.delete(storeOf(last));
  await caches.delete(WHO_STORE);
}

async function keptPage(path) {
  const last = await who();
  if (!last) return undefined;
  return (await caches.open(storeOf(last))).match(path);
}

/** Keeps a page that came for somebody who is signed in. */
async function keep(path, response) {
  const keeper = response.headers.get("preen-keeper");
  if (!keeper || !response.ok || response.redirected) return;
  // A kept page does not know what time it is.
  const text = (await response.text()).replace('<meta name="preen-now"', '<meta name="preen-kept"');
  const headers = new Headers(response.headers);
  headers.delete("content-encoding");
  headers.delete("content-length");
  headers.set("preen-kept-at", String(Date.now()));
  if ((await who()) !== keeper) {
    await (await caches.open(WHO_STORE)).put(WHO, new Response(keeper));
  }
  await (await caches.open(storeOf(keeper))).put(path, new Response(text, { headers }));
}

async function page(event, url) {
  const fromNetwork = fetch(event.request).then((response) => {
    if (!url.search || url.searchParams.has("done")) event.waitUntil(keep(url.pathname, response.clone()).catch(() => {}));
    return response;
  });
  event.waitUntil(fromNetwork.catch(() => {}));
  const kept = await keptOrMeant(url);
  if (!kept) return fromNetwork.catch(() => notKept());
  const patience = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, null));
  const first = await Promise.race([fromNetwork, patience]).catch(() => null);
  return first && first.status < 500 ? first : kept;
}

/** The kept page of a path, or of the tag that was typed or scanned. */
async function keptOrMeant(url) {
  const tag = url.searchParams.get("tag");
  if (url.pathname !== "/field" || !tag) return keptPage(url.pathname);
  const said = tag.split(/[?#]/)[0].replace(/\/+$/, "").split("/").pop();
  for (const path of [said, said.toUpperCase()].flatMap((one) => [`/field/${one}`, `/field/part/${one}`])) {
    if (await keptPage(path)) return Response.redirect(path);
  }
  return keptPage("/field");
}

function notKept() {
  const text =
    '<!doctype html><html lang="en"><meta charset="utf-8">' +
    '<meta name="viewport" content="width=device-width, initial-scale=1"><title>No signal – Preen</title>' +
    "<h1>No signal</h1><p>This page was not kept on this device. What was logged is kept.</p>" +
    '<p><a href="/field">The pages that are kept</a></p></html>';
  return new Response(text, { status: 503, headers: { "content-type": "text/html; charset=utf-8" } });
}

/** Keeps the list, the asker's own models and what else is named; says how many pages are kept now. */
async function keepAll(paths) {
  const response = await fetchFresh("/field");
  if (response) {
    const text = await response.clone().text();
    await keep("/field", response);
    const own = text.split('id="own"')[1]?.split("</ul>")[0] ?? "";
    const links = [...own.matchAll(/href="(\/field\/[^"]+)"/g)].map((found) => found[1]);
    for (const path of new Set([...paths.filter(isField), ...links])) {
      if (path === "/field" || (await isFresh(path))) continue;
      const one = await fetchFresh(path);
      if (one) await keep(path, one);
    }
  }
  const last = await who();
  return last ? (await (await caches.open(storeOf(last))).keys()).length : 0;
}

async function fetchFresh(path) {
  try {
    const response = await fetch(path, { credentials: "same-origin", cache: "no-store" });
    return response.ok && !response.redirected ? response : null;
  } catch {
    return null;
  }
}

async function isFresh(path) {
  const kept = await keptPage(path);
  return Boolean(kept) && Date.now() - Number(kept.headers.get("preen-kept-at")) < FRESH_MS;
}
