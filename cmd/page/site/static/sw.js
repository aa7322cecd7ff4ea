// The page without a network: all its files are kept when it is first loaded, and come
// from there ever after. A newer program has another VERSION, is kept beside, and takes
// over when the page says so.
'use strict';
const VERSION = 'unwritten';
const FILES = ['./', 'page.css', 'page.js', 'worker.js', 'wasm_exec.js', 'page.wasm.gz', 'manifest.webmanifest', 'icon.svg', 'system.json'];
self.addEventListener('install', e => e.waitUntil(
  caches.open(VERSION).then(c => c.addAll(FILES.map(f => new Request(f, { cache: 'reload' }))))));
self.addEventListener('activate', e => e.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== VERSION) await caches.delete(name);
  await self.clients.claim();
})()));
self.addEventListener('message', e => { if (e.data === 'use') self.skipWaiting(); });
self.addEventListener('fetch', e => {
  const url = new URL(e.request.url);
  if (e.request.method !== 'GET' || url.origin !== location.origin) return;
  e.respondWith((async () => {
    const kept = await caches.open(VERSION);
    const found = await kept.match(e.request.mode === 'navigate' ? './' : e.request, { ignoreSearch: true });
    return found ?? fetch(e.request);
  })());
});
