// What only a browser can do: the camera, the screen, what is kept, vibration. What is
// read, judged and said comes from the Go program in two workers: one watches pictures,
// the other thinks, so that no picture is missed while it does.
'use strict';
const $ = id => document.getElementById(id);
const clock = () => performance.timeOrigin + performance.now();

// ---- the program

class Program {
  constructor() {
    this.calls = new Map();
    this.next = 1;
    this.worker = new Worker('worker.js');
    this.ready = new Promise((good, bad) => {
      this.worker.onmessage = ({ data }) => {
        if (data.ready) return good();
        if (data.failed) return bad(new Error(data.failed));
        const done = this.calls.get(data.id);
        this.calls.delete(data.id);
        done(data);
      };
      this.worker.onerror = e => bad(new Error(e.message || 'the program could not be loaded'));
    });
  }
  send(message, transfer = []) {
    const id = this.next++;
    return new Promise(done => {
      this.calls.set(id, done);
      this.worker.postMessage({ id, ...message }, transfer);
    });
  }
  // call asks for something by name; what can't be done is thrown as a sentence.
  async call(call, args) {
    const { result } = await this.send({ call, args });
    if (result && result.error !== undefined) throw new Error(result.hint ? `${result.error}. ${capital(result.hint)}.` : `${result.error}.`);
    return result;
  }
}
const capital = text => text.charAt(0).toUpperCase() + text.slice(1);
const mind = new Program();
let eye = null; // started with the first pictures

// ---- what is kept: files and records, in this browser's own database

const database = new Promise((good, bad) => {
  const open = indexedDB.open('tallywink', 1);
  open.onupgradeneeded = () => {
    open.result.createObjectStore('files', { keyPath: 'kind' });
    open.result.createObjectStore('records', { autoIncrement: true });
    open.result.createObjectStore('settings');
  };
  open.onsuccess = () => good(open.result);
  open.onerror = () => bad(open.error);
});
// kept runs a request on a store, and ends when it is on the disk.
async function kept(store, mode, request) {
  const db = await database;
  return new Promise((good, bad) => {
    const t = db.transaction(store, mode, { durability: 'strict' });
    const r = request(t.objectStore(store));
    t.oncomplete = () => good(r && r.result);
    t.onerror = t.onabort = () => bad(t.error);
  });
}
const setting = async (name, value) => value === undefined ? kept('settings', 'readonly', s => s.get(name)) : kept('settings', 'readwrite', s => s.put(value, name));
// keepRecords keeps what the program noted, before anything else is asked.
async function keepRecords() {
  const records = await mind.call('records');
  if (records.length) await kept('records', 'readwrite', s => { records.forEach(r => s.add(r)); });
}
const recordsOf = async type => (await kept('records', 'readonly', s => s.getAll())).filter(r => r.type === type);
const lines = records => records.map(r => JSON.stringify(r) + '\n').join('');

// ---- telling: all text goes in as text

function add(parent, tag, text, cls) {
  const e = document.createElement(tag);
  if (text !== undefined) e.textContent = text;
  if (cls) e.className = cls;
  parent.append(e);
  return e;
}
function failed(into, err) {
  into.replaceChildren();
  add(into, 'p', err.message, 'bad strong').setAttribute('role', 'alert');
}
function sections(into, all) {
  for (const s of all) {
    add(into, 'h3', s.label);
    for (const l of s.lines) add(into, l.table ? 'pre' : 'p', l.text.trim().replace(/ {2,}/g, '  '));
  }
}
function tell(into, a) {
  into.replaceChildren();
  const h = add(into, 'p', a.headline, 'headline ' + (!a.sure || a.bad ? 'bad' : a.verdict === 'caution' ? 'warn' : 'good'));
  h.setAttribute('role', 'status');
  if (a.verdict) add(h, 'span', a.sure ? { usable: ' - usable', caution: ' - usable with caution', unusable: ' - not usable' }[a.verdict] : '');
  add(into, 'h3', 'Do next');
  const steps = add(into, 'ol');
  a.next.forEach(step => add(steps, 'li', step));
  if (a.setting) {
    const more = add(into, 'details');
    add(more, 'summary', 'Set a pilot, when your supervisor agrees');
    const list = add(more, 'ol');
    a.setting.forEach(step => add(list, 'li', step));
  }
  sections(into, a.sections);
  add(into, 'h3', 'Care');
  add(into, 'p', a.care);
  h.scrollIntoView({ block: 'start' });
}

// ---- pages

let stopAll = () => {};
function go(tab) {
  stopAll();
  for (const s of document.querySelectorAll('main > section')) s.hidden = s.id !== 'tab-' + tab;
  for (const b of document.querySelectorAll('nav button')) b.dataset.tab === tab ? b.setAttribute('aria-current', 'page') : b.removeAttribute('aria-current');
  document.querySelector('main').scrollTop = 0;
  if (tab === 'learn') standing();
  if (tab === 'files') listFiles();
}
document.querySelector('nav').addEventListener('click', e => { if (e.target.dataset.tab) go(e.target.dataset.tab); });

let lock = null;
async function awake(on) {
  try {
    if (on && !lock && navigator.wakeLock) lock = await navigator.wakeLock.request('screen');
    if (!on && lock) { const l = lock; lock = null; await l.release(); }
  } catch { lock = null; } // the phone is low, or does not have it
}

// ---- the camera, and video files: one path

const video = $('video'), overlay = $('overlay');
const picture = document.createElement('canvas');
let watching = null; // what is being watched, or null

async function watch(source, isFile) {
  stopAll();
  const w = watching = { isFile, at: null, sent: 0, under: 0, sure: '', begun: false, seen: null, buffers: [] };
  stopAll = () => stopWatching(w);
  $('answer').replaceChildren();
  $('counted').textContent = '';
  $('can').replaceChildren();
  $('ways').hidden = true;
  $('stage').hidden = false;
  $('progress').hidden = !isFile;
  $('advice').textContent = isFile ? 'Reading the video.' : 'Aim at the lamp.';
  if (!eye) eye = new Program();
  await eye.ready;
  if (isFile) {
    video.src = source;
    video.loop = false;
  } else {
    video.srcObject = source;
    controls(source.getVideoTracks()[0]);
  }
  await video.play();
  awake(true);
  const longest = 640, scale = Math.min(1, longest / Math.max(video.videoWidth, video.videoHeight));
  picture.width = Math.max(16, Math.round(video.videoWidth * scale));
  picture.height = Math.max(16, Math.round(video.videoHeight * scale));
  overlay.width = video.videoWidth;
  overlay.height = video.videoHeight;
  const pen = picture.getContext('2d', { willReadFrequently: true });
  await eye.call('begin', { width: picture.width, height: picture.height });
  const take = (now, meta) => {
    if (watching !== w) return;
    const ms = isFile ? meta.mediaTime * 1000 : (meta.captureTime ?? now);
    // Two pictures are under way at most: a slow phone takes fewer, and keeps their times.
    if (w.under < 2) {
      pen.drawImage(video, 0, 0, picture.width, picture.height);
      const pixels = pen.getImageData(0, 0, picture.width, picture.height).data.buffer;
      w.under++;
      w.sent++;
      eye.send({ ms, pixels }, [pixels]).then(() => w.under--);
    }
    if (isFile) $('progress').value = video.currentTime / (video.duration || 1);
    video.requestVideoFrameCallback(take);
  };
  video.requestVideoFrameCallback(take);
  if (isFile) video.onended = () => { if (watching === w) think(w, true); };
  else think(w, false);
}

// think looks and reads, again and again, until it is sure twice.
async function think(w, last) {
  const pause = ms => new Promise(done => setTimeout(done, ms));
  try {
    if (!last) await pause(2500);
    while (watching === w) {
      w.seen = await eye.call('look');
      const args = { seen: w.seen, at: w.at, amp: $('amp').value, who: $('who').value, note: last };
      let a = await mind.call('read', args);
      if (watching !== w) return;
      const told = a.sure ? a.headline : '';
      const sure = told && (last || told === w.sure);
      w.sure = told;
      progress(w, a);
      if (sure || last) {
        if (!last) a = await mind.call('read', { ...args, note: true });
        await keepRecords();
        stopWatching(w);
        if (told) navigator.vibrate?.([200, 100, 200]);
        tell($('answer'), a);
        if (told) $('answer').prepend(Object.assign(document.createElement('p'), { textContent: 'SURE', className: 'headline good' }));
        return;
      }
      await pause(1500);
    }
  } catch (err) {
    stopWatching(w);
    failed($('answer'), err);
  }
}

function progress(w, a) {
  $('advice').textContent = a.advice || '';
  $('counted').textContent = a.marks;
  $('can').replaceChildren();
  for (const c of a.can) add($('can'), 'li', `${c.probability}  ${c.what}`, 'strong');
  const pen = overlay.getContext('2d'), scale = overlay.width / picture.width;
  pen.clearRect(0, 0, overlay.width, overlay.height);
  for (const l of a.lamps) {
    const r = Math.max(l.size, 16) * scale;
    for (const [width, color] of [[8, '#000'], [4, l.sure ? '#8ff0a8' : l.lamp ? '#ffc84d' : '#fff']]) {
      pen.lineWidth = width;
      pen.strokeStyle = color;
      pen.setLineDash(l.this ? [] : [12, 8]);
      pen.strokeRect(l.x * scale - r, l.y * scale - r, 2 * r, 2 * r);
    }
  }
}

function stopWatching(w) {
  if (watching !== w) return;
  watching = null;
  stopAll = () => {};
  awake(false);
  if (video.srcObject) video.srcObject.getTracks().forEach(t => t.stop());
  if (video.src) URL.revokeObjectURL(video.src);
  video.srcObject = null;
  video.removeAttribute('src');
  video.onended = null;
  video.load();
  $('stage').hidden = true;
  $('ways').hidden = false;
}
$('stop').addEventListener('click', () => stopAll());
overlay.addEventListener('click', e => {
  if (!watching) return;
  // The picture keeps its shape within the box it is shown in.
  const box = overlay.getBoundingClientRect(), fit = Math.min(box.width / overlay.width, box.height / overlay.height);
  const x = (e.clientX - box.left - (box.width - overlay.width * fit) / 2) / fit, y = (e.clientY - box.top - (box.height - overlay.height * fit) / 2) / fit;
  watching.at = { X: x * picture.width / overlay.width, Y: y * picture.height / overlay.height };
});

// controls offers what the camera has: zoom and torch.
function controls(track) {
  const can = track.getCapabilities ? track.getCapabilities() : {};
  $('zoomline').hidden = !can.zoom;
  if (can.zoom) {
    Object.assign($('zoom'), { min: can.zoom.min, max: can.zoom.max, step: can.zoom.step || 0.1, value: track.getSettings().zoom || can.zoom.min });
    $('zoom').oninput = () => track.applyConstraints({ advanced: [{ zoom: Number($('zoom').value) }] }).catch(() => {});
  }
  $('torch').hidden = !can.torch;
  $('torch').onclick = () => {
    const on = $('torch').getAttribute('aria-pressed') !== 'true';
    track.applyConstraints({ advanced: [{ torch: on }] }).then(() => $('torch').setAttribute('aria-pressed', on)).catch(() => {});
  };
}

$('camera').addEventListener('click', async () => {
  $('nocamera').textContent = '';
  try {
    if (!navigator.mediaDevices) throw new Error('this page is not served securely');
    await watch(await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment', width: { ideal: 640 }, height: { ideal: 480 }, frameRate: { ideal: 30 } } }), false);
  } catch (err) {
    stopAll();
    $('nocamera').textContent = `No camera here (${err.message}). Take a video with the camera app and open it with Video file, tap along, or type the marks.`;
  }
});
$('clip').addEventListener('change', async e => {
  const file = e.target.files[0];
  e.target.value = '';
  if (!file) return;
  try {
    await watch(URL.createObjectURL(file), true);
  } catch (err) {
    stopAll();
    failed($('answer'), new Error(`This video can't be played here (${err.message}).`));
  }
});

// ---- sessions: tapping along, learning, a lamp that is shown

let session = null;
async function begin(args, rows, lamp, over) {
  stopAll();
  const started = mind.call('start', { ...args, now: clock() });
  // Keys that are pressed meanwhile come behind: the program answers in order.
  const s = session = { over, timer: 0, asked: 0 };
  stopAll = () => end(s);
  awake(true);
  s.show = async () => {
    clearTimeout(s.timer);
    if (session !== s) return;
    const wide = rows.clientWidth || 320, letter = parseFloat(getComputedStyle(rows).fontSize) * 0.61;
    const asked = clock(), turn = ++s.asked;
    let v;
    try {
      v = await mind.call('view', { now: asked, columns: Math.floor(wide / letter), amp: $('amp').value, who: $('who').value });
    } catch (err) {
      v = { over: true, rows: [], err };
    }
    if (session !== s || turn !== s.asked) return;
    if (lamp) {
      // It stays in its place, dark where there is none: nothing bright comes and goes
      // but what the program lets pass.
      lamp.hidden = false;
      lamp.className = v.lamp ? Object.keys(v.lamp).filter(k => v.lamp[k]).join(' ') : '';
    }
    try {
      await keepRecords(); // before it is told: whoever sees an answer judged may close the page
    } finally {
      if (session === s && turn === s.asked) {
        draw(rows, v.rows);
        if (v.letters != null) for (const b of $('letters').children) b.hidden = !v.letters.includes(b.dataset.key);
      }
    }
    if (session !== s || turn !== s.asked) return;
    if (v.over) return end(s, v);
    s.timer = setTimeout(s.show, Math.max(v.wake - (clock() - asked), 0));
  };
  s.press = key => { mind.call('key', { key, at: clock() }).then(s.show); };
  try {
    await started;
  } catch (err) {
    end(s, { err });
    throw err;
  }
  s.show();
}
function draw(into, rows) {
  const text = rows.map(r => r.style + r.text).join('\n');
  if (into.dataset.shown === text) return; // a screen reader need not say it again
  into.dataset.shown = text;
  into.replaceChildren();
  for (const r of rows) add(into, 'div', r.text.trimEnd(), r.style);
}
function end(s, v) {
  if (session !== s) return;
  session = null;
  stopAll = () => {};
  clearTimeout(s.timer);
  $('lamp').className = '';
  awake(false);
  if (!v) mind.call('key', { key: 'Break', at: clock() }).then(() => mind.call('view', { now: clock(), columns: 40 })).then(keepRecords);
  s.over(v);
}

$('tapalong').addEventListener('click', () => {
  $('taps').hidden = false;
  $('ways').hidden = true;
  $('answer').replaceChildren();
  begin({ kind: 'watch' }, $('taprows'), null, v => {
    $('taps').hidden = true;
    $('ways').hidden = false;
    if (v && v.err) failed($('answer'), v.err);
    else if (v && v.result) tell($('answer'), v.result);
  }).catch(() => {}); // it was told
});
for (const b of document.querySelectorAll('[data-tap]')) {
  b.addEventListener('pointerdown', e => { e.preventDefault(); b.dataset.down = '1'; session?.press(b.dataset.tap); });
  b.addEventListener('click', e => { if (!b.dataset.down) session?.press(b.dataset.tap); delete b.dataset.down; }); // by a keyboard
}

function openSession(args, letters, back) {
  for (const s of document.querySelectorAll('main > section')) s.hidden = s.id !== 'session';
  $('letters').replaceChildren();
  for (const [label, key] of letters) {
    const b = add($('letters'), 'button', label);
    b.type = 'button';
    b.dataset.key = key;
  }
  begin(args, $('rows'), $('lamp'), () => go(back)).catch(err => { go(back); failed($(back === 'learn' ? 'standing' : 'judged'), err); });
}
$('session').addEventListener('click', e => { if (e.target.dataset.key) session?.press(e.target.dataset.key); });
addEventListener('keydown', e => {
  if (!session || e.target.matches('input, select, button') && e.key !== 'Escape' || e.ctrlKey || e.altKey || e.metaKey) return;
  if (e.key.length === 1 || ['Enter', 'Escape', 'Backspace'].includes(e.key)) { e.preventDefault(); session.press(e.key); }
});
async function learn(kind) {
  const trainee = $('trainee').value.trim();
  if (!trainee) return failed($('standing'), new Error('Type your name first: your answers are saved under it.'));
  await setting('trainee', trainee);
  const digits = [...'1234567890'].map(d => [d, d]);
  const keys = [...digits, ['analog', 'a'], ['digital', 'd'], ['cw', 'c'], ['short', '.'], ['long', '_'], ['yes', 'y'], ['no', 'n'], ['not sure', 'u'], ['again', 'r'], ['help', '?'], ['still', 'm']];
  openSession({ kind, trainee, still: $('still').checked, seed: $('seed').value, book: lines(await recordsOf('attempt')) }, keys, 'learn');
}
$('train').addEventListener('click', () => learn('train'));
$('qualify').addEventListener('click', () => learn('qualify'));
async function standing() {
  const into = $('standing'), trainee = $('trainee').value.trim();
  into.replaceChildren();
  if (!trainee) return;
  const r = await mind.call('standing', { trainee, book: lines(await recordsOf('attempt')), now: clock() });
  r.lines.forEach(l => add(into, 'p', l));
}

// ---- typing

let state = null;
$('marks').addEventListener('focus', () => { if (matchMedia('(pointer: fine)').matches) $('marks').inputMode = 'text'; });
for (const b of document.querySelectorAll('[data-mark]')) b.addEventListener('click', () => {
  const m = $('marks');
  m.value = b.dataset.mark === 'back' ? m.value.replace(/( \/\/ | |.)$/, '') : m.value + b.dataset.mark;
});
$('clear').addEventListener('click', () => {
  $('marks').value = $('digits').value = '';
  $('typed').replaceChildren();
  pick(null);
});
function pick(s) {
  state = s;
  for (const b of $('states').children) b.setAttribute('aria-checked', b.rhythm === s);
}
async function decode() {
  try {
    const a = await mind.call('decode', { marks: $('marks').value, digits: $('digits').value, state: state?.state ?? '', edge_end: state?.edge_end ?? '',
      no_start: $('nostart').checked, amp: $('amp').value, who: $('who').value });
    await keepRecords();
    tell($('typed'), a);
  } catch (err) {
    failed($('typed'), err);
  }
}
$('decode').addEventListener('click', decode);
async function drawStates() {
  $('states').replaceChildren();
  for (const r of await mind.call('states')) {
    const b = add($('states'), 'button', `${r.name}: ${r.look}`);
    b.type = 'button';
    b.setAttribute('role', 'radio');
    b.setAttribute('aria-checked', 'false');
    b.rhythm = r;
    const svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
    svg.setAttribute('viewBox', '0 0 100 1');
    svg.setAttribute('preserveAspectRatio', 'none');
    svg.setAttribute('aria-hidden', 'true');
    let x = 0;
    for (const [lit, share] of r.light) {
      if (lit) {
        const bar = document.createElementNS(svg.namespaceURI, 'rect');
        for (const [k, v] of [['x', 100 * x], ['width', 100 * share], ['height', 1], ['fill', 'currentColor']]) bar.setAttribute(k, v);
        svg.append(bar);
      }
      x += share;
    }
    b.append(svg);
    b.addEventListener('click', () => {
      pick(state === r ? null : r);
      if (state) decode();
    });
  }
}

// ---- checking

$('judge').addEventListener('click', async () => {
  try {
    const j = await mind.call('check', { channel: $('channel').value, carrier: $('carrier').value, amp: $('amp').value });
    $('judged').replaceChildren();
    add($('judged'), 'p', capital(j.headline), 'headline ' + { usable: 'good', caution: 'warn', unusable: 'bad' }[j.verdict]).setAttribute('role', 'status');
    sections($('judged'), j.sections);
  } catch (err) {
    failed($('judged'), err);
  }
});
$('show').addEventListener('click', async () => {
  try {
    const signal = { channel: $('channel').value, carrier: $('carrier').value }, e = await mind.call('encode', signal);
    if (matchMedia('(prefers-reduced-motion: reduce)').matches) {
      $('judged').replaceChildren();
      add($('judged'), 'p', e.says);
      add($('judged'), 'p', e.marks, 'marks');
      return;
    }
    openSession({ kind: 'show', signal }, [], 'check');
  } catch (err) {
    failed($('judged'), err);
  }
});
$('near').addEventListener('click', async () => {
  try {
    const n = await mind.call('near', { mhz: $('mhz').value });
    $('found').replaceChildren();
    add($('found'), 'p', n.says).setAttribute('role', 'status');
    const table = add($('found'), 'table');
    for (const [what, where] of n.rows) { const row = add(table, 'tr'); add(row, 'td', what); add(row, 'td', where); }
  } catch (err) {
    failed($('found'), err);
  }
});

// ---- files

async function openFile(file, keep) {
  const o = await mind.call('open', file);
  if (keep) await kept('files', 'readwrite', s => file.name ? s.put(file) : s.delete(file.kind));
  return o;
}
async function refresh() {
  const k = await mind.call('system');
  $('amps').replaceChildren();
  for (const id of k.amplifiers) add($('amps'), 'option').value = id;
  await drawStates();
  return k;
}
async function listFiles(says) {
  const k = await mind.call('system'), names = { lineup: 'Lineup', amps: 'Amplifiers', sheet: 'Code sheet' };
  $('files').replaceChildren();
  for (const kind of ['lineup', 'amps', 'sheet']) {
    const open = k.files.find(f => f.kind === kind);
    add($('files'), 'p', `${names[kind]}: ${open ? open.name : kind === 'sheet' ? 'the Tally code' : 'none open'}`, open ? 'strong' : '');
  }
  const readings = (await recordsOf('reading')).length, attempts = (await recordsOf('attempt')).length;
  $('kept').textContent = `Kept on this phone: ${readings} readings, ${attempts} answers in training, the files above, your name. They stay until you delete them, or the browser's data is cleared.`;
  if (says) $('said').textContent = says;
}
for (const input of document.querySelectorAll('input[data-kind]')) input.addEventListener('change', async e => {
  const file = e.target.files[0];
  e.target.value = '';
  if (!file) return;
  try {
    if (file.size > 64 << 20) throw new Error(`${file.name} is larger than 64 MB: is this the right file?`);
    const o = await openFile({ kind: input.dataset.kind, name: file.name, text: await file.text() }, true);
    await refresh();
    await listFiles([`${file.name}: ${o.says}`, ...(o.problems ?? [])].join(' '));
  } catch (err) {
    await listFiles(err.message);
  }
});
$('demo').addEventListener('click', async () => {
  for (const kind of ['lineup', 'amps']) await openFile({ kind, name: 'demo' }, true);
  await refresh();
  await listFiles('The demo system is open. It is invented.');
});
$('noneopen').addEventListener('click', async () => {
  for (const kind of ['lineup', 'amps', 'sheet']) await openFile({ kind, name: '' }, true);
  await setting('closed', true);
  await refresh();
  await listFiles('No file is open.');
});
async function save(type, name) {
  const records = await recordsOf(type);
  if (!records.length) return listFiles('There is nothing to save yet.');
  const a = document.createElement('a');
  a.href = URL.createObjectURL(new Blob([lines(records)], { type: 'application/x-ndjson' }));
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 60000);
}
$('save-readings').addEventListener('click', () => save('reading', 'readings.jsonl'));
$('save-attempts').addEventListener('click', () => save('attempt', 'attempts.jsonl'));
$('forget').addEventListener('click', async () => {
  if (!confirm('Delete all readings, answers, files and names kept on this phone?')) return;
  for (const store of ['files', 'records', 'settings']) await kept(store, 'readwrite', s => s.clear());
  for (const kind of ['lineup', 'amps', 'sheet']) await openFile({ kind, name: '' }, false);
  $('who').value = $('trainee').value = $('amp').value = '';
  await refresh();
  await listFiles('Everything is deleted.');
});
$('who').addEventListener('change', () => setting('who', $('who').value));
$('amp').addEventListener('change', async () => {
  $('expect').textContent = '';
  if (!$('amp').value.trim()) return;
  try {
    const e = await mind.call('expected', { amp: $('amp').value });
    $('expect').textContent = e.says + (e.marks ? ` Its lamp should show ${e.marks}` : '');
  } catch (err) {
    $('expect').textContent = err.message;
  }
});

// ---- without a network

async function offline() {
  if (!('serviceWorker' in navigator) || !isSecureContext) return;
  const registration = await navigator.serviceWorker.register('sw.js');
  const offer = worker => {
    $('newer').hidden = false;
    $('reload').onclick = () => {
      navigator.serviceWorker.addEventListener('controllerchange', () => location.reload());
      worker.postMessage('use');
    };
  };
  if (registration.waiting && navigator.serviceWorker.controller) offer(registration.waiting);
  registration.addEventListener('updatefound', () => {
    const worker = registration.installing;
    worker.addEventListener('statechange', () => { if (worker.state === 'installed' && navigator.serviceWorker.controller) offer(worker); });
  });
  navigator.storage?.persist?.();
}

(async () => {
  try {
    await mind.ready;
    const files = await kept('files', 'readonly', s => s.getAll());
    const put = files.length || await setting('closed') ? files : (await (await fetch('system.json')).json()).files;
    for (const file of put) await openFile(file, false).catch(err => { $('nocamera').textContent = err.message; });
    await refresh();
    $('who').value = await setting('who') ?? '';
    $('trainee').value = await setting('trainee') ?? '';
    $('still').checked = matchMedia('(prefers-reduced-motion: reduce)').matches;
    $('care').textContent = (await mind.call('decode', { state: 'dark' })).care;
    $('loading').hidden = true;
    document.body.dataset.ready = 'yes';
    await offline();
    document.body.dataset.offline = navigator.serviceWorker?.controller || await navigator.serviceWorker?.ready ? 'yes' : 'no';
  } catch (err) {
    $('loading').textContent = `This browser can't run Tallywink: ${err.message}. Use a newer one.`;
  }
})();
