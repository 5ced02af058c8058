/**
 * The service worker that lets pad, table, desk and practice open without the network. It keeps one program whole, that of the
 * server it came from: `PAGES`, which the server writes above these lines, has its digest and its files. A page that is
 * asked for comes from the server while that answers. Its parts come from what is kept only if the server has the same
 * program; when the server has another one the whole page is the server's, and the worker is renewed.
 */

/** @typedef {{digest: string, files: string[]}} Program */

/** The pages that open without the network. */
const OPENED = ["/pad/", "/table/", "/desk/", "/home/", "/practice/"];
/** A server that takes longer than this does not answer: a judge waits for the page. */
const ANSWER_MS = 4000;
const HEADER = "Tallywire-Pages";

const own = /** @type {any} */ (globalThis);
/** @type {Program} */
const program = own.PAGES;
const cacheName = `tallywire.pages.${program.digest}`;
/** Windows whose page was another program's, by their client ids. @type {Set<string>} */
const others = new Set();

/** Keep the program, all of it or nothing: a server that was replaced meanwhile gives files of another one. */
async function keep() {
  const cache = await caches.open(cacheName);
  const addresses = [...program.files, ...OPENED.map(fileOf)];
  await Promise.all(
    addresses.map(async (address) => {
      const answer = await fetch(address, { cache: "no-cache" });
      if (!answer.ok || !isOwn(answer)) throw new Error(`${address} is not of this program`);
      await cache.put(address, answer);
    }),
  );
  await own.skipWaiting();
}

/** Let go of older programs. */
async function tidy() {
  const names = await caches.keys();
  await Promise.all(names.filter((each) => each.startsWith("tallywire.pages.") && each !== cacheName).map((each) => caches.delete(each)));
}

/**
 * The file of a page: below its own address the server would give a page only for lanes, heats and outputs that exist.
 *
 * @param {string} page
 */
function fileOf(page) {
  return `${page}index.html`;
}

/** @param {Response} answer */
function isOwn(answer) {
  return answer.headers.get(HEADER) === program.digest;
}

/**
 * @param {Request} request
 * @returns {Promise<Response | undefined>} undefined: not in time
 */
async function asked(request) {
  const late = new Promise((resolve) => setTimeout(resolve, ANSWER_MS));
  return Promise.race([fetch(request).catch(() => undefined), late]);
}

/** @param {{request: Request, resultingClientId: string}} event */
async function open({ request, resultingClientId }) {
  const kept = await caches.match(fileOf(new URL(request.url).pathname), { cacheName });
  const answer = kept ? await asked(request) : await fetch(request);
  // What has no header of ours comes from something in between, such as a proxy whose server is gone.
  if (kept && !answer?.headers.has(HEADER)) return kept;
  if (answer && !isOwn(answer)) {
    others.add(resultingClientId);
    own.registration.update().catch(() => {});
  }
  return answer;
}

/** @param {{request: Request, clientId: string}} event */
async function part({ request, clientId }) {
  const client = others.has(clientId) ? undefined : await own.clients.get(clientId);
  const opened = client && OPENED.includes(new URL(client.url).pathname);
  return (opened && (await caches.match(request, { cacheName, ignoreSearch: true }))) || fetch(request);
}

own.addEventListener("install", (/** @type {any} */ event) => event.waitUntil(keep()));
own.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(tidy()));
own.addEventListener("fetch", (/** @type {any} */ event) => {
  const { pathname, origin } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== own.location.origin) return;
  if (event.request.mode === "navigate") {
    if (OPENED.includes(pathname)) event.respondWith(open(event));
  } else if (program.files.includes(pathname)) event.respondWith(part(event));
});
