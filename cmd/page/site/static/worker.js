// A worker runs the Go program: it unpacks and starts it, hands calls on, and answers
// them in the order in which they came.
'use strict';
importScripts('wasm_exec.js');
const waiting = [];
let ready = false;
self.tallywinkReady = () => {
  ready = true;
  for (const m of waiting.splice(0)) answer(m);
  postMessage({ ready: true });
};
function answer({ id, call, args, ms, pixels }) {
  if (pixels) {
    self.tallywink.push(ms, new Uint8Array(pixels));
    postMessage({ id, result: null, pixels }, [pixels]);
    return;
  }
  postMessage({ id, result: JSON.parse(self.tallywink.call(call, JSON.stringify(args ?? {}))) });
}
self.onmessage = e => ready ? answer(e.data) : waiting.push(e.data);
(async () => {
  const go = new Go();
  const packed = await fetch('page.wasm.gz');
  const bytes = await new Response(packed.body.pipeThrough(new DecompressionStream('gzip'))).arrayBuffer();
  const { instance } = await WebAssembly.instantiate(bytes, go.importObject);
  await go.run(instance);
})().catch(err => postMessage({ failed: String(err) }));
