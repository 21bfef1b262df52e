// The page while it is looked at: it counts, it rings, and it goes on doing both when the computer is lost.
'use strict';
window.onerror = null;

const body = document.body;
// A browser may keep nothing: then it is known while the page is.
const stored = (does) => { try { return does(); } catch { return null; } };
const at = (id) => document.getElementById(id);
const LOST_MS = 7000;
// Lost for so long, with something to come so soon, is worth a ring of its own.
const UNEASY_MS = 60000;
const SOON_MS = 30 * 60000;

// What is known: what rings, what would ring if nobody did anything, and how far the computer's clock is
// ahead of this one.
const known = { offset: 0, ...JSON.parse(body.dataset.known) };
let offsets = [];
let heard = Date.now();
let opened = 0;
let source = null;
let wait = 500;
let lost = false;
let over = false;

const now = () => Date.now() + known.offset;

// The clock of the computer. A message that was held up says too little; the last three seldom all were.
function tell(time) {
  offsets = [...offsets, time - Date.now()].slice(-3);
  known.offset = Math.max(...offsets);
}
tell(known.now);

function alive() {
  heard = Date.now();
  wait = 500;
  doubted.at = 0;
  if (lost) { lost = false; hushed.clear(); }
  draw();
}

// One stream, opened again by a loop of our own: a browser gives up for good after some errors.
function open() {
  if (over) return;
  source?.close();
  opened = Date.now();
  // Whoever serves now has to hear anew whether this device would be heard.
  armed = null;
  const mine = source = new EventSource(body.dataset.stream);
  const on = (name, take) => mine.addEventListener(name, (event) => {
    if (mine !== source) return;
    take(event.data);
  });
  on('tick', (data) => { tell(JSON.parse(data).now); alive(); });
  on('ring', (data) => { known.ring = JSON.parse(data); alive(); });
  on('state', (data) => { take(JSON.parse(data)); alive(); });
  on('bye', (why) => { if (why === 'forgotten') location.reload(); else bye(); });
  mine.onerror = () => { if (mine === source) again(); };
}

const asks = () => fetch('/now', { signal: AbortSignal.timeout(4000) }).catch(() => null);

function again() {
  source?.close();
  source = null;
  const pause = wait;
  wait = Math.min(2 * wait, 8000);
  setTimeout(async () => {
    if (source || over) return;
    // A device that is not paired any more is told so by a whole page.
    const asked = await asks();
    if (asked?.status === 401) return location.reload();
    if (!source) asked?.ok ? open() : again();
  }, pause);
}

// Switched off on purpose: nothing is counted on. It is looked for now and then.
function bye() {
  over = true;
  source?.close();
  Object.assign(known, { plan: [], ring: null });
  at('lost').textContent = body.dataset.bye;
  at('lost').hidden = false;
  body.classList.add('lost');
  const look = setInterval(async () => {
    if (await asks()) { clearInterval(look); location.reload(); }
  }, 5000);
}

function take(state) {
  document.title = state.title;
  known.plan = state.plan;
  later = state.html;
}
let later = null;

// What is being pressed stays where it is until it is let go of, and what is being typed is typed on.
function put() {
  const main = at('main');
  if (!later || main.matches(':active')) return;
  const typed = main.querySelector('input:focus');
  main.innerHTML = later;
  later = null;
  if (!typed) return;
  const kiln = (field) => field.form.elements.kiln?.value;
  const same = [...main.querySelectorAll(`input[name="${typed.name}"]`)].find((one) => kiln(one) === kiln(typed));
  same?.replaceWith(typed);
  typed.focus();
}

// Countdowns, as the terminal writes them.
function left(ms) {
  const sign = ms < 0 ? '-' : '';
  const seconds = Math.abs(ms) < 600000;
  const whole = Math.abs(Math.ceil(ms / (seconds ? 1000 : 60000)));
  const [high, low] = [Math.floor(whole / 60), String(whole % 60).padStart(2, '0')];
  if (seconds) return `${sign}${high}:${low}`;
  return high ? `${sign}${high} h ${low}` : `${sign}${whole} min`;
}

// What was to ring by then.
const coming = (time) => known.plan.filter((one) => one.at <= time && !(one.over && one.over <= time));

// The computer is asked as something comes due: where it does not answer it is lost, however short a time ago
// it was heard.
let doubted = { id: null, at: 0 };
function doubt() {
  const one = coming(now() + 1500).find(({ id }) => id !== known.ring?.id);
  if (!one || doubted.id === one.id) return;
  const mine = doubted = { id: one.id, at: Date.now() };
  asks().then((answer) => { mine.at = answer ? 0 : 1; });
}

// What this device has to ring for: what the computer says, or without it what was to come.
const hushed = new Set();
function due() {
  if (over) return null;
  if (!lost) return known.ring;
  const time = now();
  const come = coming(time);
  const order = ['highest', 'high', 'medium', 'low'];
  const all = [known.ring, ...come].filter((one) => one && !hushed.has(one.id));
  const first = all.sort((a, b) => order.indexOf(a.level) - order.indexOf(b.level))[0];
  return first ?? uneasy(time);
}

function uneasy(time) {
  const soon = known.plan.find((one) => one.at > time && one.at <= time + SOON_MS && one.every);
  if (!soon || Date.now() - heard < UNEASY_MS || hushed.has('lost')) return null;
  const words = at('lost').textContent;
  return { id: 'lost', level: 'high', words, body: `${soon.words}: ${left(soon.at - time)}`, every: 120000 };
}

let rang = { id: null, at: 0 };
function ring() {
  const one = due();
  const alone = at('alone');
  alone.hidden = !(lost && one);
  if (!one) { rang = { id: null, at: 0 }; at('alert').textContent = ''; return; }
  if (lost) {
    alone.querySelector('h1').textContent = one.words;
    alone.querySelector('p').textContent = one.body;
    document.title = one.words;
  }
  const isNew = rang.id !== one.id;
  if (isNew) at('alert').textContent = one.words;
  if (!isNew && !(one.every && Date.now() - rang.at >= one.every)) return;
  rang = { id: one.id, at: Date.now() };
  if (sound(one.level)) sounds(one.id);
}

// Sound: none before a tap; and what says that it runs may not be heard, so it is watched.
let audio = null;
let moved = 0;
let looked = 0;
let wanted = false;
let armed = null;
const tones = JSON.parse(body.dataset.tones);

function wake() {
  if (navigator.audioSession) navigator.audioSession.type = 'playback';
  audio?.close().catch(() => {});
  audio = new AudioContext();
  moved = -1;
  // What rings was cut off, or not heard yet.
  rang.at = 0;
  return audio.resume();
}

// What sounds takes the place of what sounded: two at once would be louder than a loudspeaker can be.
let burst = null;
function sound(level) {
  navigator.vibrate?.(level === 'low' ? [200] : [400, 200, 400, 200, 400]);
  if (audio?.state !== 'running') return false;
  burst?.disconnect();
  burst = audio.createGain();
  burst.connect(audio.destination);
  const start = audio.currentTime + 0.05;
  for (const [from, length, hertz] of tones[level]) {
    const gain = audio.createGain();
    const [a, z] = [start + from / 1000, start + (from + length) / 1000];
    gain.gain.setValueAtTime(0, a);
    gain.gain.linearRampToValueAtTime(0.8, a + 0.03);
    gain.gain.setValueAtTime(0.8, z - 0.03);
    gain.gain.linearRampToValueAtTime(0, z);
    gain.connect(burst);
    for (const [part, share] of [[1, 0.6], [2, 0.25], [3, 0.15]]) {
      const tone = audio.createOscillator();
      const loud = audio.createGain();
      loud.gain.value = share;
      tone.frequency.value = part * hertz;
      tone.connect(loud).connect(gain);
      tone.start(a);
      tone.stop(z);
    }
  }
  return true;
}

// The computer calls nobody else by this way once a device has said that it sounds: its clock has to have
// moved meanwhile.
function sounds(alarm) {
  const [mine, before] = [audio, audio.currentTime];
  setTimeout(() => {
    if (audio !== mine || mine.state !== 'running' || mine.currentTime <= before) return;
    send('/rang', new URLSearchParams({ alarm })).catch(() => { /* Then another way is called. */ });
  }, 300);
}

function hears() {
  // Ticks that were held up come all at once, and its clock stands still between them.
  if (Date.now() - looked < 500) return;
  looked = Date.now();
  const runs = audio?.state === 'running' && audio.currentTime > moved;
  moved = audio?.currentTime ?? 0;
  at('silent').hidden = runs;
  at('try').hidden = !runs;
  body.classList.toggle('silent', !runs);
  if (!runs && wanted && audio?.state === 'running') wake().catch(() => {});
  if (armed === runs) return;
  armed = runs;
  send('/armed', new URLSearchParams({ sound: runs ? 'on' : 'off' })).catch(() => { armed = null; });
}

const send = (where, what) => fetch(where, {
  method: 'POST',
  body: what,
  headers: { Accept: 'application/json' },
  signal: AbortSignal.timeout(9000),
});

async function arm() {
  wanted = true;
  stored(() => { sessionStorage.sound = 'on'; });
  await wake().catch(() => {});
  // What rings is heard at once; nothing is the better try.
  const one = due();
  rang = { id: one?.id ?? null, at: Date.now() };
  if (sound(one?.level ?? 'low')) sounds(one?.id ?? '');
  setTimeout(hears, 300);
}
at('silent').addEventListener('click', arm);
at('try').addEventListener('click', arm);
at('hush').addEventListener('click', () => {
  const one = due();
  if (one) hushed.add(one.id);
  draw();
});

// An answer goes without a new page, which would be silent until it is tapped. The same tap again is the
// same answer.
document.addEventListener('submit', async (event) => {
  const form = event.target;
  if (!form.matches('form.answer')) return;
  event.preventDefault();
  const button = form.querySelector('button');
  const what = new URLSearchParams(new FormData(form));
  const mark = [...what.values(), known.ring?.at].join('-');
  uids[mark] ??= random();
  what.set('uid', uids[mark]);
  button.disabled = true;
  button.textContent = body.dataset.sending;
  let said = body.dataset.unsent;
  try {
    const answer = await send('/answer', what);
    said = answer.ok ? (await answer.json()).said : await answer.text();
  } catch { /* It was not sent. */ }
  button.textContent = said;
  button.disabled = false;
});
const uids = {};
const random = () => [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16)).join('');

// What is noted here waits in this browser until the computer has said that it is saved, or somebody has let
// go of it: a page that is closed or a link that is down loses nothing. The same again is the same event.
const UNDO_MS = 30000;
const RETRY_MS = 3000;
const KEPT = 'note-';
let sending = false;
let tried = 0;
const read = () => Object.entries(localStorage).filter(([key]) => key.startsWith(KEPT)).map(([, one]) => JSON.parse(one));
let notes = (stored(read) ?? []).sort((a, b) => a.tapped - b.tapped);
const keep = (one) => stored(() => { localStorage[KEPT + one.uid] = JSON.stringify(one); });
const keepNot = (one) => stored(() => delete localStorage[KEPT + one.uid]);

function letGo(one) {
  notes = notes.filter((other) => other !== one);
  keepNot(one);
  showNotes();
}

function note(what, says) {
  const one = { what: what.toString(), says, uid: random(), tapped: Date.now() };
  notes.push(one);
  keep(one);
  showNotes();
  sendNotes();
}

// One after the other, as they were tapped; one that waits for somebody's word holds up none.
async function sendNotes() {
  const one = notes.find((other) => !other.saved && !other.answer);
  if (sending || !one) return;
  [sending, tried] = [true, Date.now()];
  const what = new URLSearchParams(one.what);
  what.set('uid', one.uid);
  what.set('age_ms', Math.max(0, Date.now() - one.tapped));
  let answer = null;
  try {
    const heard = await send('/note', what);
    if (heard.status === 401) location.reload();
    answer = await heard.json();
  } catch { /* Nobody knows whether it is saved: it is sent again. */ }
  sending = false;
  if (!notes.includes(one)) return;
  one.late = !answer;
  if (!answer) return showNotes();
  if (answer.saved) {
    Object.assign(one, { saved: answer.saved, said: answer.said, undo: answer.undo, at: Date.now() });
    document.querySelector('#form form')?.reset();
    keepNot(one);
  } else {
    one.answer = answer;
    keep(one);
  }
  showNotes();
  sendNotes();
}

// Sent again as somebody wants it now.
function anew(one, more) {
  const what = new URLSearchParams(one.what);
  for (const [key, value] of Object.entries(more)) what.set(key, value);
  one.what = what.toString();
  delete one.answer;
  keep(one);
  showNotes();
  sendNotes();
}

function strike(one) {
  letGo(one);
  note(new URLSearchParams({ kind: 'struck', struck: one.saved, rev: one.saved, whole: 1 }), body.dataset.undo);
}

function line(one) {
  const box = document.createElement('div');
  const add = (word, does) => {
    const button = box.appendChild(document.createElement('button'));
    button.textContent = word;
    button.addEventListener('click', does);
  };
  const { saving, unsaved, undo, yes, no, again } = body.dataset;
  const age = `${unsaved} ${left(Date.now() - one.tapped)}: ${one.says}`;
  box.className = one.saved ? '' : 'open';
  if (one.saved) {
    box.textContent = one.said;
    if (one.undo) add(undo, () => strike(one));
  } else if (one.answer) {
    box.textContent = `${age}. ${one.answer.asks ?? one.answer.refused}`;
    if (one.answer.asks) add(yes, () => anew(one, { sure: 1, rev: one.answer.rev }));
    else add(again, () => anew(one, {}));
    add(no, () => letGo(one));
  } else {
    box.textContent = one.late ? age : `${saving} ${one.says}`;
  }
  return box;
}

let shownNotes = '';
function showNotes() {
  notes = notes.filter((one) => !(one.saved && Date.now() - one.at > UNDO_MS));
  const what = JSON.stringify([notes, notes.length && Math.floor(Date.now() / 10000)]);
  if (what === shownNotes || at('notes').matches(':active')) return;
  shownNotes = what;
  at('notes').replaceChildren(...notes.map(line));
}

document.addEventListener('submit', (event) => {
  const { target: form, submitter } = event;
  if (!form.matches('form.note, form.who')) return;
  event.preventDefault();
  const what = new URLSearchParams(new FormData(form));
  if (submitter?.name) what.set(submitter.name, submitter.value);
  if (form.matches('.who')) return send('/who', what).catch(() => {});
  const typed = [...form.querySelectorAll('input:not([type=hidden], [type=radio]), :checked, textarea')];
  const said = [form.dataset.says, ...typed.map((one) => one.value), submitter?.textContent];
  note(what, said.filter(Boolean).join(': '));
  if (form.closest('main')) form.reset();
  if (at('form')) window.scrollTo(0, 0);
});

function draw() {
  put();
  const time = now();
  for (const one of document.querySelectorAll('[data-to]')) {
    const text = left(Number(one.dataset.to) - time);
    const shown = one.textContent.startsWith('+') ? text.replace('-', '+') : text;
    if (one.textContent !== shown) one.textContent = shown;
  }
  if (!over) {
    at('lost').hidden = !lost;
    body.classList.toggle('lost', lost);
  }
  ring();
}

// One tick a second, from a worker: those of a page that is not seen come once a minute.
function tick() {
  if (!lost) doubt();
  if (!over && (Date.now() - heard > LOST_MS || (doubted.at && Date.now() - doubted.at > 900))) {
    lost = true;
    if (source && Date.now() - opened > LOST_MS) again();
  }
  hears();
  draw();
  showNotes();
  if (Date.now() - tried > RETRY_MS) sendNotes();
}

function back() {
  if (document.hidden || over) return;
  if (Date.now() - heard > 6000) { wait = 500; again(); }
  if (wanted && audio?.state !== 'running') wake().catch(() => {});
}

open();
const worker = new Worker('/w.js');
worker.onmessage = tick;
document.addEventListener('visibilitychange', back);
window.addEventListener('pageshow', back);
// A browser may let the next page sound without another tap.
wanted = stored(() => sessionStorage.sound === 'on');
if (wanted) wake().catch(() => {}); else tick();
