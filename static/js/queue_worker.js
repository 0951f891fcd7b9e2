// The service worker of the log page. It keeps a page that names nobody, with its styles and scripts, and gives it where
// the pool does not answer. KEPT, written above by the server, says which, under a name that changes with any of them.
const OURS = "halfpower-log-";
// a slow line takes some seconds to begin; a dead one never does
const PATIENCE_MS = 10_000;

async function fetchKept(address) {
  const answer = await fetch(address, { cache: "no-cache", redirect: "error" });
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return [address, answer];
}

async function fill() {
  const answers = await Promise.all([KEPT.shell, ...KEPT.files].map(fetchKept));
  const cache = await caches.open(KEPT.name);
  await Promise.all(answers.map(([address, answer]) => cache.put(address, answer)));
}

async function fillIfEmpty() {
  if (!(await kept(KEPT.shell))) await fill();
}

async function kept(address) {
  return (await caches.has(KEPT.name)) ? (await caches.open(KEPT.name)).match(address) : undefined;
}

async function dropOlder() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(OURS) && name !== KEPT.name).map((name) => caches.delete(name)));
  await clients.claim();
}

// The live page; the kept one where there is no signal, or nobody answers for the pool.
async function page(request) {
  const waited = new Promise((done, fail) => { setTimeout(fail, PATIENCE_MS, new Error("no answer")); });
  try {
    const answer = await Promise.race([fetch(request), waited]);
    return (answer.status >= 502 && (await kept(KEPT.shell))) || answer;
  } catch (error) {
    const shell = await kept(KEPT.shell);
    if (shell) return shell;
    return fetch(request);
  }
}

async function file(request) {
  return (await kept(request.url)) || fetch(request);
}

addEventListener("install", (event) => {
  skipWaiting();
  event.waitUntil(fill());
});
addEventListener("activate", (event) => event.waitUntil(dropOlder()));
addEventListener("message", (event) => { if (event.data === "fill") event.waitUntil(fillIfEmpty()); });
addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname } = new URL(request.url);
  if (request.method !== "GET") return;
  if (request.mode === "navigate" && pathname === new URL(registration.scope).pathname) event.respondWith(page(request));
  else if (KEPT.files.includes(pathname)) event.respondWith(file(request));
});
