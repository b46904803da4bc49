"use strict";
// The field page: draws, keeps and hands over. It holds no rule, question, unit or notation; all of
// those are asked of the module, which is the same program as the one on the desk.

const $ = id => document.getElementById(id);
const start = JSON.parse($("start").textContent);

// ---------------------------------------------------------------- the module
const mind = { exports: null, module: null, house: null };
async function loadCore() {
  const packed = id => {
    const bytes = Uint8Array.from(atob($(id).textContent.trim()), c => c.charCodeAt(0));
    $(id).remove();
    return bytes;
  };
  mind.house = packed("house");
  mind.module = await WebAssembly.compile(packed("core"));
  await freshCore();
}
/** A module that was asked nothing yet, with the house rules of the page, where it has some. */
async function freshCore() {
  const exports = (await WebAssembly.instantiate(mind.module, {})).exports;
  if (mind.house.length) {
    const at = exports.alloc(mind.house.length);
    new Uint8Array(exports.memory.buffer, at, mind.house.length).set(mind.house);
    if (exports.lay(at, mind.house.length) !== 1) throw Object.assign(new Error("Its house rules can't be read. Make the page anew."), { page: true });
  }
  mind.exports = exports;
}
function core(question) {
  const said = new TextEncoder().encode(JSON.stringify(question));
  try {
    const at = mind.exports.alloc(said.length);
    new Uint8Array(mind.exports.memory.buffer, at, said.length).set(said);
    const packed = BigInt.asUintN(64, mind.exports.call(at, said.length));
    const place = Number(packed >> 32n), len = Number(packed & 0xffffffffn);
    const answer = new TextDecoder().decode(new Uint8Array(mind.exports.memory.buffer, place, len));
    mind.exports.free(place, len);
    return JSON.parse(answer);
  } catch (error) {
    // A module that stopped can't be asked again.
    freshCore();
    return { ok: false, message: "This could not be worked out (" + error.message + ")." };
  }
}
const today = () => {
  const d = new Date();
  return [d.getFullYear(), d.getMonth() + 1, d.getDate()].map(n => String(n).padStart(2, "0")).join("-");
};

// ---------------------------------------------------------------- what is kept
const me = Array.from(crypto.getRandomValues(new Uint8Array(8)), b => b.toString(16).padStart(2, "0")).join("");
const channel = typeof BroadcastChannel === "function" ? new BroadcastChannel("ringtrue-field") : null;
let db = null;
function openDb() {
  return new Promise((done, fail) => {
    if (!window.indexedDB) return fail(new Error("this browser has no storage for pages"));
    let request;
    try { request = indexedDB.open("ringtrue-field", 1); } catch (error) { return fail(error); }
    request.onupgradeneeded = () => {
      request.result.createObjectStore("slabs", { keyPath: "id" });
      request.result.createObjectStore("photos", { keyPath: ["slab", "file"] });
      request.result.createObjectStore("seen");
    };
    request.onsuccess = () => { request.result.onversionchange = () => request.result.close(); done(request.result); };
    request.onerror = () => fail(request.error);
    request.onblocked = () => fail(new Error("another tab holds the storage"));
  });
}
/** Runs `work` in one transaction; the promise settles only when everything is really kept. */
function store(names, mode, work) {
  return new Promise((done, fail) => {
    if (!db) return fail(new Error("nothing can be kept in this browser"));
    let result, own = null;
    const tx = mode === "readwrite" ? db.transaction(names, mode, { durability: "strict" }) : db.transaction(names, mode);
    tx.oncomplete = () => done(result);
    tx.onabort = () => fail(own || tx.error || new Error("the browser stopped the storing"));
    tx.onerror = () => {};
    const stop = error => { own = error; tx.abort(); };
    try { work(tx, value => { result = value; }, stop); } catch (error) { stop(error); }
  });
}
const all = name => store([name], "readonly", (tx, give) => {
  tx.objectStore(name).getAll().onsuccess = e => give(e.target.result);
});
const one = (name, key) => store([name], "readonly", (tx, give) => {
  tx.objectStore(name).get(key).onsuccess = e => give(e.target.result);
});

// ---------------------------------------------------------------- what is on the screen
const s = {
  slabs: [], slab: null, look: null, asked: null, screen: "map", area: 0, sheet: null, tool: null,
  readOnly: false, before: null, begin: null, photos: new Map(), loose: [], unsaved: null, cell: 0, opened: {},
};
const bars = new Map();
function bar(key, text, ...buttons) {
  // Nothing to take away: a button that is being tapped stays the one it is.
  if (text === null && !bars.has(key)) return;
  if (text === null) bars.delete(key); else bars.set(key, { text, buttons });
  const shown = [...bars.values()].map(b => h("div", { class: "bar" }, h("p", {}, b.text),
    b.buttons.length ? h("div", { class: "row" }, ...b.buttons.map(([name, act]) => button(name, act))) : null));
  $("bars").replaceChildren(...shown);
}

/** An element: attributes, events (`on…`), children. Text goes in as text, never as markup. */
function h(tag, attrs, ...children) {
  const svg = ["svg", "g", "line", "path", "rect", "circle", "polygon", "text", "title"].includes(tag);
  const node = svg ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag);
  for (const [key, value] of Object.entries(attrs || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key === "value") node.value = value;
    else node.setAttribute(key, value === true ? "" : value);
  }
  node.append(...children.flat().filter(c => c !== null && c !== undefined && c !== false));
  return node;
}
let ids = 0;
const newId = () => "e" + (++ids);
const button = (name, act, attrs) => h("button", { type: "button", onclick: act, ...attrs }, name);
/** For whatever changes the record: dead where another tab has it. */
const edit = (name, act, attrs) => button(name, act, { disabled: s.readOnly, ...attrs });

// ---------------------------------------------------------------- the draft
const steps = path => path.split(".").filter(Boolean);
const get = path => steps(path).reduce((v, k) => (v === undefined || v === null ? undefined : v[k]), s.slab.draft);
function empty(v) {
  if (v === undefined || v === null) return true;
  if (typeof v === "string") return v.trim() === "";
  if (Array.isArray(v)) return v.length === 0;
  return typeof v === "object" && Object.values(v).every(empty);
}
function put(path, value) {
  const keys = steps(path), last = keys.pop();
  let at = s.slab.draft;
  for (const [i, key] of keys.entries()) {
    if (at[key] === undefined || at[key] === null) at[key] = /^\d+$/.test(keys[i + 1] ?? last) ? [] : {};
    at = at[key];
  }
  if (empty(value) && !Array.isArray(at)) delete at[last]; else at[last] = value;
}
function change(path, value) {
  if (s.readOnly) return;
  put(path, value);
  changed();
}
let lookTimer = 0;
function changed() {
  s.slab.edit = (s.slab.edit || 0) + 1;
  note();
  save();
  clearTimeout(lookTimer);
  lookTimer = setTimeout(lookNow, 60);
}
function lookNow() {
  clearTimeout(lookTimer);
  if (!s.slab) return;
  const from = performance.now();
  s.look = core({ do: "look", draft: s.slab.draft, today: today() });
  s.asked = null;
  s.took = performance.now() - from;
  strip();
  for (const listen of [...lookers]) listen();
}
const lookers = new Set();
const units = () => get("job.units") || "us";
const areas = () => get("areas") || [];

// ---------------------------------------------------------------- keeping it
// Storage proper answers a moment later. What is typed in that moment is noted at once beside it,
// so that a page that is closed in the middle of a word loses nothing.
const noteKey = id => "ringtrue-field-" + id;
function note() {
  try {
    localStorage.setItem(noteKey(s.slab.id), JSON.stringify({ by: s.slab.holder, edit: s.slab.edit, draft: s.slab.draft, taps: s.slab.taps }));
  } catch { /* storage proper says when it can't keep */ }
}
function unnote(id, edit) {
  try {
    const noted = JSON.parse(localStorage.getItem(noteKey(id)) || "null");
    if (noted && (edit === undefined || noted.edit <= edit)) localStorage.removeItem(noteKey(id));
  } catch { /* nothing noted */ }
}
/** Puts what was noted last into a slab as stored, if no other tab has had it since. */
function fromNote(slab) {
  try {
    const noted = JSON.parse(localStorage.getItem(noteKey(slab.id)) || "null");
    if (!noted || noted.by !== slab.holder || noted.edit <= (slab.edit || 0)) return;
    Object.assign(slab, { draft: noted.draft, taps: noted.taps, edit: noted.edit });
  } catch { /* nothing noted */ }
}
let saving = null, again = false;
function save() {
  if (s.readOnly) return Promise.resolve();
  if (saving) { again = true; return saving; }
  kept("keeping …");
  saving = (async () => {
    do {
      again = false;
      await keepOnce(s.loose.filter(p => p.slab === s.slab.id).map(p => ({ slab: p.slab, file: p.file, blob: p.blob })));
    } while (again && !s.unsaved);
    saving = null;
  })();
  return saving;
}
/** Puts the slab (and photos) into storage as one piece; what could not be kept is said. */
async function keepOnce(photos, without) {
  const slab = s.slab;
  const copy = structuredClone(slab);
  try {
    await store(["slabs", "photos"], "readwrite", (tx, give, stop) => {
      const slabs = tx.objectStore("slabs");
      slabs.get(slab.id).onsuccess = e => {
        const stored = e.target.result;
        if (stored && stored.holder !== me && stored.holder !== s.before) return stop(Object.assign(new Error("taken"), { taken: true }));
        copy.holder = me;
        copy.version = (stored ? stored.version : 0) + 1;
        copy.changed = Date.now();
        try {
          slabs.put(copy);
          for (const p of photos) tx.objectStore("photos").put(p);
          for (const file of without || []) tx.objectStore("photos").delete([slab.id, file]);
        } catch (error) { return stop(error); }
        give(copy.version);
      };
    });
    slab.version = copy.version;
    slab.holder = me;
    unnote(slab.id, copy.edit || 0);
    s.unsaved = null;
    s.loose = s.loose.filter(p => !photos.some(q => q.slab === p.slab && q.file === p.file));
    bar("full", null);
    kept("kept");
    channel?.postMessage({ slab: slab.id, is: "changed", by: me });
    return true;
  } catch (error) {
    s.unsaved = error;
    if (error.taken) {
      s.readOnly = true;
      kept("not kept");
      bar("taken", "Another tab has taken this slab. The last change made here is not kept in it.",
        ["Save what stands here", () => handOver()], ["Show what is kept", () => openSlab(slab.id)]);
    } else {
      notKept(error);
    }
    return false;
  }
}
function notKept(error) {
  s.unsaved = error;
  kept("NOT KEPT");
  bar("full", error.name === "QuotaExceededError"
    ? "The phone's storage is full. The last change stands on this screen only. Save the zip now, then take photos or old slabs out."
    : "The browser did not keep the last change (" + error.message + "). It stands on this screen only. Save the zip now.",
  ["Save the zip", () => handOver()], ["Try again", () => save()], ["Make room", () => go("file")]);
}
function kept(text) { $("kept").textContent = s.slab ? (s.readOnly && text === "kept" ? "to read only" : text) : ""; }
addEventListener("beforeunload", e => { if (s.unsaved || s.loose.length || (saving && again)) e.preventDefault(); });

// ---------------------------------------------------------------- two tabs
let heard = null;
if (channel) channel.onmessage = async ({ data }) => {
  if (!s.slab || data.slab !== s.slab.id || data.by === me) return;
  if (data.is === "who" && !s.readOnly && s.slab.holder === me) channel.postMessage({ slab: data.slab, is: "mine", by: me });
  if (data.is === "yield" && !s.readOnly) {
    document.activeElement?.blur?.();
    await save();
    if (s.unsaved) { channel.postMessage({ slab: data.slab, is: "cannot", by: me }); return; }
    becomeReader();
    channel.postMessage({ slab: data.slab, is: "yielded", by: me });
  }
  if (data.is === "took" && !s.readOnly) becomeReader();
  if (data.is === "changed" && s.readOnly) refresh();
  if (["mine", "yielded", "cannot"].includes(data.is)) heard?.(data.is);
};
function tell(is, patience) {
  if (!channel) return Promise.resolve(null);
  return new Promise(done => {
    heard = word => { heard = null; done(word); };
    channel.postMessage({ slab: s.slab.id, is, by: me });
    setTimeout(() => { if (heard) { heard = null; done(null); } }, patience);
  });
}
function becomeReader() {
  s.readOnly = true;
  bar("reader", "This slab is open in another tab. Here it can only be read.", ["Work here instead", takeOver]);
  kept("kept");
  draw();
}
async function refresh() {
  const stored = await one("slabs", s.slab.id).catch(() => null);
  if (!stored || !s.readOnly) return;
  s.slab = stored;
  await loadPhotos();
  lookNow();
  if (!document.activeElement || !["INPUT", "TEXTAREA"].includes(document.activeElement.tagName)) draw();
}
async function takeOver() {
  const word = await tell("yield", 1500);
  if (word === "cannot") {
    bar("reader", "The other tab holds a change that could not be kept. Save the zip there first.", ["Try again", takeOver]);
    return;
  }
  await claim(s.slab.id);
}
/** Takes the slab for this tab and reads it in the same step, so that nothing comes in between. */
async function claim(id) {
  try {
    const slab = await store(["slabs"], "readwrite", (tx, give, stop) => {
      const slabs = tx.objectStore("slabs");
      slabs.get(id).onsuccess = e => {
        const slab = e.target.result;
        if (!slab) return;
        fromNote(slab);
        slab.holder = me;
        try { slabs.put(slab); } catch (error) { return stop(error); }
        give(slab);
      };
    });
    if (slab) s.slab = slab;
    s.readOnly = false;
    s.before = null;
    for (const key of ["reader", "taken"]) bar(key, null);
    channel?.postMessage({ slab: id, is: "took", by: me });
    kept("kept");
  } catch (error) {
    // It can't even be marked as this tab's own. The mark it bears stays good until it can.
    fromNote(s.slab);
    s.before = s.slab.holder;
    s.readOnly = false;
    notKept(error);
  }
  await loadPhotos();
  lookNow();
  draw();
}
// A tab that slept may have lost its slab meanwhile.
document.addEventListener("visibilitychange", async () => {
  if (document.visibilityState !== "visible" || !s.slab || s.readOnly || !db) return;
  const stored = await one("slabs", s.slab.id).catch(() => null);
  if (stored && stored.holder !== me) { await saving; becomeReader(); refresh(); }
});

// ---------------------------------------------------------------- slabs and photos
function fresh(draft, name) {
  return { id: Date.now().toString(36) + me.slice(0, 4), version: 0, holder: me, draft, taps: {}, name: name || "", changed: Date.now() };
}
function blank() {
  return { ringtrue: "1", job: { date: today() }, slab: {}, areas: [] };
}
function titled(slab) {
  const job = slab.draft.job || {};
  return job.address || job.client || slab.name || "New slab";
}
async function addSlab(slab, photos) {
  s.slab = slab;
  s.readOnly = false;
  s.area = 0; s.sheet = null; s.tool = null;
  if (db) {
    const fine = await keepOnce(photos.map(p => ({ slab: slab.id, file: p.file, blob: p.blob })));
    if (!fine) s.loose.push(...photos.map(p => ({ ...p, slab: slab.id })));
  } else s.loose.push(...photos.map(p => ({ ...p, slab: slab.id })));
  s.slabs = db ? await all("slabs").catch(() => [slab]) : [...s.slabs.filter(x => x.id !== slab.id), slab];
  await loadPhotos();
}
async function openSlab(id) {
  const stored = db ? await one("slabs", id) : s.slabs.find(x => x.id === id);
  if (!stored) return;
  s.slab = stored;
  s.unsaved = null; s.readOnly = false; s.area = 0; s.sheet = null; s.tool = null;
  for (const key of ["reader", "taken", "full"]) bar(key, null);
  if (await tell("who", 350) === "mine") { await loadPhotos(); lookNow(); becomeReader(); }
  else await claim(id);
}
async function loadPhotos() {
  for (const url of s.photos.values()) URL.revokeObjectURL(url);
  s.photos = new Map();
  const stored = db ? await all("photos").catch(() => []) : [];
  for (const p of [...stored, ...s.loose]) {
    if (p.slab === s.slab.id) s.photos.set(p.file, URL.createObjectURL(p.blob));
  }
}
async function photoBlobs() {
  const stored = db ? await all("photos").catch(() => []) : [];
  return [...stored, ...s.loose].filter(p => p.slab === s.slab.id);
}
/** Upright, no larger than is needed to see a crack, and without the place it was taken at. */
async function shrink(file) {
  const image = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, 1600 / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(image.width * scale);
  canvas.height = Math.round(image.height * scale);
  canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((done, fail) => canvas.toBlob(b => b ? done(b) : fail(new Error("no picture came of it")), "image/jpeg", 0.85));
}
async function addPhoto(path, file) {
  let blob;
  try { blob = await shrink(file); } catch {
    bar("photo", "This file could not be read as a picture. Nothing was added.", ["Close", () => bar("photo", null)]);
    return;
  }
  const list = get(path) || [];
  const id = get(path.replace(/\.photos$/, ".id")) || "x";
  let n = list.length + 1;
  const name = () => `photos/defect-${id}-${n}.jpg`;
  while (s.photos.has(name()) || list.some(p => p.file === name())) n += 1;
  const photo = { file: name(), blob };
  put(path, [...list, { file: photo.file, caption: "Defect " + id }]);
  s.slab.edit = (s.slab.edit || 0) + 1;
  if (saving) await saving;
  const keptPhoto = await keepOnce([{ slab: s.slab.id, file: photo.file, blob }]);
  if (!keptPhoto) {
    s.loose.push({ ...photo, slab: s.slab.id });
    bar("photo", "The photo " + photo.file + " is not kept: it stands on this screen only.",
      ["Save the photo", () => download(photo.file.split("/").pop(), blob)], ["Close", () => bar("photo", null)]);
  }
  await loadPhotos();
  lookNow();
  draw();
}
/** Takes photos out of storage together with the change that took them out of the record. */
async function dropFiles(files) {
  s.slab.edit = (s.slab.edit || 0) + 1;
  note();
  s.loose = s.loose.filter(p => p.slab !== s.slab.id || !files.includes(p.file));
  if (saving) await saving;
  await keepOnce([], files);
  await loadPhotos();
  lookNow();
  draw(true);
}
async function dropPhoto(path, i) {
  const list = [...(get(path) || [])];
  const [gone] = list.splice(i, 1);
  put(path, list);
  await dropFiles([gone.file]);
}

// ---------------------------------------------------------------- one zip
const crcTable = Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c >>> 0;
});
function crc32(bytes) {
  let c = 0xffffffff;
  for (const b of bytes) c = crcTable[(c ^ b) & 255] ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}
/** A zip of stored (not packed) files. Photos are packed already, the record is small. */
function zip(files) {
  const d = new Date();
  const time = (d.getHours() << 11) | (d.getMinutes() << 5) | (d.getSeconds() >> 1);
  const day = ((Math.max(d.getFullYear(), 1980) - 1980) << 9) | ((d.getMonth() + 1) << 5) | d.getDate();
  const parts = [], list = [];
  let at = 0;
  for (const { name, bytes } of files) {
    const called = new TextEncoder().encode(name);
    const head = new DataView(new ArrayBuffer(26));
    // Needed 2.0, names in UTF-8, stored.
    [20, 0x800, 0, time, day].forEach((v, i) => head.setUint16(i * 2, v, true));
    head.setUint32(10, crc32(bytes), true);
    head.setUint32(14, bytes.length, true);
    head.setUint32(18, bytes.length, true);
    head.setUint16(22, called.length, true);
    const local = new Uint8Array(30);
    local.set([0x50, 0x4b, 3, 4]);
    local.set(new Uint8Array(head.buffer), 4);
    parts.push(local, called, bytes);
    const entry = new Uint8Array(46);
    entry.set([0x50, 0x4b, 1, 2, 20, 0]);
    entry.set(new Uint8Array(head.buffer), 6);
    new DataView(entry.buffer).setUint32(42, at, true);
    list.push(entry, called);
    at += 30 + called.length + bytes.length;
  }
  const size = list.reduce((n, p) => n + p.length, 0);
  const end = new DataView(new ArrayBuffer(22));
  end.setUint32(0, 0x06054b50, true);
  end.setUint16(8, files.length, true);
  end.setUint16(10, files.length, true);
  end.setUint32(12, size, true);
  end.setUint32(16, at, true);
  return new Blob([...parts, ...list, new Uint8Array(end.buffer)], { type: "application/zip" });
}
async function unzip(buffer) {
  const view = new DataView(buffer), bytes = new Uint8Array(buffer), out = [];
  let end = bytes.length - 22;
  while (end >= 0 && view.getUint32(end, true) !== 0x06054b50) end -= 1;
  if (end < 0) throw new Error("this is no zip");
  let at = view.getUint32(end + 16, true);
  for (let n = view.getUint16(end + 10, true); n > 0; n -= 1) {
    if (view.getUint32(at, true) !== 0x02014b50) throw new Error("the zip is damaged");
    const way = view.getUint16(at + 10, true), crc = view.getUint32(at + 16, true);
    const packed = view.getUint32(at + 20, true), size = view.getUint32(at + 24, true);
    const nameLen = view.getUint16(at + 28, true), local = view.getUint32(at + 42, true);
    const name = new TextDecoder().decode(bytes.subarray(at + 46, at + 46 + nameLen));
    at += 46 + nameLen + view.getUint16(at + 30, true) + view.getUint16(at + 32, true);
    const from = local + 30 + view.getUint16(local + 26, true) + view.getUint16(local + 28, true);
    let data = bytes.slice(from, from + packed);
    if (name.endsWith("/")) continue;
    if (way === 8) {
      const stream = new Blob([data]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
      data = new Uint8Array(await new Response(stream).arrayBuffer());
    } else if (way !== 0) throw new Error(name + " is packed in a way that can't be read");
    if (data.length !== size || crc32(data) !== crc) throw new Error(name + " is damaged");
    out.push({ name, bytes: data });
  }
  return out;
}
function download(name, blob) {
  const url = URL.createObjectURL(blob);
  const link = h("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}
const fileName = () => titled(s.slab).toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 40) || "slab";
async function handOver() {
  const look = core({ do: "look", draft: s.slab.draft, today: today() });
  const text = b => new TextEncoder().encode(b);
  const files = [{ name: "record.yaml", bytes: text(look.yaml) }];
  const named = new Set(areas().flatMap(a => (a.defects || []).flatMap(d => (d.photos || []).map(p => p.file))));
  for (const p of (await photoBlobs()).filter(p => named.has(p.file))) files.push({ name: p.file, bytes: new Uint8Array(await p.blob.arrayBuffer()) });
  if (Object.keys(s.slab.taps || {}).length) files.push({ name: "taps.json", bytes: text(JSON.stringify(s.slab.taps)) });
  download(fileName() + "-" + today() + ".zip", zip(files));
  s.slab.handed = Date.now();
  if (!s.unsaved) save();
}
/** Why a draft can't be drawn: its lists must be lists of blocks. What else is wrong is listed. */
function unusable(draft) {
  const blocks = v => v === undefined || v === null || (Array.isArray(v) && v.every(x => x && typeof x === "object" && !Array.isArray(x)));
  const lists = [["areas", draft.areas], ["stairs", draft.stairs], ["thresholds", draft.thresholds], ["edges", draft.edges], ["materials", draft.materials], ["lines", draft.prices?.lines]];
  if (blocks(draft.areas)) for (const a of draft.areas || []) {
    lists.push(["defects", a.defects], ["joints", a.joints], ["patches", a.tests?.sounding?.patches]);
    if (blocks(a.defects)) for (const d of a.defects || []) lists.push(["photos", d.photos], ["readings", d.readings]);
  }
  const bad = lists.find(([, v]) => !blocks(v));
  return bad ? `its ${bad[0]} are not written as a list of blocks; check it at the desk first` : null;
}
async function bringIn(file) {
  const told = text => bar("import", text, ["Close", () => bar("import", null)]);
  try {
    const buffer = await file.arrayBuffer();
    const isZip = new DataView(buffer).byteLength > 4 && new DataView(buffer).getUint32(0, true) === 0x04034b50;
    const files = isZip ? await unzip(buffer) : [{ name: file.name, bytes: new Uint8Array(buffer) }];
    const record = files.filter(f => /\.ya?ml$/i.test(f.name)).sort((a, b) => a.name.split("/").length - b.name.split("/").length)[0];
    if (!record) throw new Error("no record (.yaml) is in it");
    const answer = core({ do: "take", yaml: new TextDecoder("utf-8", { fatal: true }).decode(record.bytes) });
    if (!answer.ok) throw new Error(answer.message);
    const bad = unusable(answer.draft);
    if (bad) throw new Error(bad);
    const folder = record.name.includes("/") ? record.name.slice(0, record.name.lastIndexOf("/") + 1) : "";
    const photos = files.filter(f => f !== record && /\.(jpe?g|png)$/i.test(f.name)).map(f => ({
      file: f.name.startsWith(folder) ? f.name.slice(folder.length) : f.name,
      blob: new Blob([f.bytes], { type: /png$/i.test(f.name) ? "image/png" : "image/jpeg" }),
    }));
    const slab = fresh(answer.draft, file.name);
    const taps = files.find(f => f.name === folder + "taps.json");
    if (taps) try { slab.taps = JSON.parse(new TextDecoder().decode(taps.bytes)); } catch { /* the counts stand in the record */ }
    if (saving) await saving;
    await addSlab(slab, photos);
    told(`${titled(slab)} is here with ${photos.length} photo${photos.length === 1 ? "" : "s"}.` +
      (answer.remarks ? ` Its ${answer.remarks} lines with remarks (after #) are not carried over; the file itself is unchanged.` : ""));
    lookNow();
    go("map");
  } catch (error) { told("Nothing was brought in: " + error.message + "."); }
}

// ---------------------------------------------------------------- fields
const label = text => h("span", { class: "name" }, text);
function cautionBox(cautions) {
  if (!cautions?.length) return null;
  return h("div", { class: "warn" }, h("strong", {}, "First: "), ...cautions.map(c => h("p", {}, c.because || c)));
}
/** What goes before the answer: cautions, the question, the way of measuring. */
function lead(f) {
  return [
    cautionBox(f.cautions),
    f.ask && f.ask.toLowerCase() !== f.label.toLowerCase() ? h("p", { class: "soft" }, f.ask) : null,
    f.how ? h("details", { class: "how" }, h("summary", {}, "How to measure it"), h("p", {}, f.how)) : null,
  ];
}
function fieldView(f, base, after) {
  const path = base ? base + "." + f.path : f.path;
  const set = value => { change(path, value); after?.(); };
  const parts = { choice: choiceField, measure: measureField, size: measureField, date: textField, text: f.many ? textsField : textField, count: countField, area: choiceField, point: pointField };
  return (parts[f.kind] || textField)(f, path, set);
}
function group(f, ...children) {
  return h("fieldset", { class: "field", disabled: s.readOnly }, h("legend", {}, label(f.label)), h("div", {}, ...lead(f), ...children));
}
function choiceField(f, path, set) {
  const values = f.kind === "area" ? areas().map(a => ({ word: a.id, name: a.name })) : f.values;
  const box = h("div", { class: "choices" });
  const draw = () => {
    const now = [get(path)].flat().filter(v => v !== undefined);
    // Where a word can't be `unknown`, a second tap takes it back.
    const all = f.open && !f.many ? [...values, { word: "unknown", name: "not known" }] : values;
    box.replaceChildren(...all.map(v => button(v.name, () => {
      const has = now.includes(v.word);
      if (f.many || (f.open && v.word !== "unknown" && !now.includes("unknown"))) {
        const next = has ? now.filter(w => w !== v.word) : values.map(x => x.word).filter(w => w === v.word || now.includes(w));
        set(f.many || next.length > 1 ? next : next[0]);
      } else set(has && !f.needed ? undefined : v.word);
      draw();
    }, { "aria-pressed": String(now.includes(v.word)) })));
    note.textContent = f.open && !f.many && now.length > 1 ? "Open between these." : "";
  };
  const note = h("p", { class: "says" });
  draw();
  return group(f, box, f.open && !f.many ? note : null);
}
function countField(f, path, set) {
  const id = newId();
  const input = h("input", { id, type: "number", min: 0, step: 1, inputmode: "numeric", value: get(path) ?? "", oninput: () => set(input.value) });
  const by = n => () => { input.value = Math.max(0, (parseInt(input.value, 10) || 0) + n); set(input.value); };
  return h("fieldset", { class: "field", disabled: s.readOnly }, h("label", { for: id }, label(f.label)), ...lead(f),
    h("div", { class: "row" }, button("− 1", by(-1), { "aria-label": "− 1, one less: " + f.label }), input, button("+ 1", by(1), { "aria-label": "+ 1, one more: " + f.label })));
}
function textField(f, path, set) {
  const id = newId();
  const long = /notes?$/.test(path);
  const input = h(long ? "textarea" : "input", { id, type: f.kind === "date" ? "date" : "text", value: get(path) ?? "", autocomplete: "off", placeholder: f.examples?.[0], oninput: () => set(input.value) });
  return h("fieldset", { class: "field", disabled: s.readOnly }, h("label", { for: id }, label(f.label)), ...lead(f), input);
}
/** Several remarks, each on its own. */
function textsField(f, path, set) {
  const id = newId(), list = h("ul", { class: "chips" });
  const input = h("input", { id, type: "text", autocomplete: "off" });
  const draw = () => list.replaceChildren(...(get(path) || []).map((text, i) => h("li", {}, edit(text + " ✕", () => {
    set((get(path) || []).filter((_, j) => j !== i));
    draw();
  }, { "aria-label": "take away " + text }))));
  const add = () => {
    if (!input.value.trim()) return;
    set([...(get(path) || []), input.value.trim()]);
    input.value = "";
    draw();
  };
  input.addEventListener("keydown", e => { if (e.key === "Enter") { e.preventDefault(); add(); } });
  draw();
  return h("fieldset", { class: "field", disabled: s.readOnly }, h("label", { for: id }, label(f.label)), ...lead(f), list, input, edit("Add it", add, { class: "wide" }));
}
/** Two measures that belong together: typed, or tapped on the map where they are a place on it. */
function pointField(f, path, set) {
  const now = get(path) || [];
  const ends = f.ends.map((name, i) => {
    const m = measureInput(f, newId(), now[i] ?? "", () => put2());
    return { ...m, view: [h("label", { for: m.input.id, class: "soft" }, name), m.input, m.says, m.pad] };
  });
  const put2 = () => {
    const texts = ends.map(e => e.input.value.trim());
    set(texts.some(Boolean) ? texts : undefined);
  };
  const map = s.look?.map?.bounds && f.unit === s.begin.length.unit ? h("details", { class: "how", ontoggle: e => {
    if (e.target.open && e.target.childElementCount === 1) e.target.append(drawMap({ grid: true, label: "map to tap " + f.label + " on", tap: p => {
      written(p).forEach((text, i) => { ends[i].input.value = text; ends[i].check(); });
      put2();
      e.target.open = false;
    } }));
  } }, h("summary", {}, "Tap it on the map")) : null;
  return group(f, map, ...ends.flatMap(e => e.view));
}
function reads(f, text) {
  return core({ do: "read", kind: f.kind === "size" ? "size" : f.unit, text, units: units() });
}
/** Keys as large as a glove, under the input that is being written in. */
function keypad(f, input, done) {
  const own = f.kind === "size" ? [...s.begin.length[units()].slice(0, 2), "x"] : f[units()] || [];
  const keys = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0", "/", "-", ".", ...own, "to", "unknown"];
  const press = key => () => {
    const at = input.selectionStart ?? input.value.length, end = input.selectionEnd ?? at;
    const before = input.value.slice(0, at), rest = input.value.slice(end);
    // A unit or word stands apart from the number; `5-1/2` and `1.5` stay together.
    const word = /^[a-z%]/i.test(key);
    const gap = word && before && !before.endsWith(" ") ? " " : "";
    const tail = key === "to" || key === "x" ? " " : "";
    const back = key === "⌫";
    if (key === "unknown") { input.value = "unknown"; }
    else if (back) { input.value = (at === end ? before.replace(/(\s?[a-z%0-9/]*[a-z%]|.)\s*$/i, "") : before) + rest; }
    else { input.value = before + gap + key + tail + rest; input.setSelectionRange((before + gap + key + tail).length, (before + gap + key + tail).length); }
    input.dispatchEvent(new Event("input"));
  };
  const hold = { onpointerdown: e => e.preventDefault(), tabindex: -1 };
  return h("div", { class: "keys", hidden: true },
    ...keys.map(k => button(k === "unknown" ? "?" : k, press(k), { ...hold, "aria-label": k === "unknown" ? "not known" : k })),
    button("␣", () => { input.value += " "; input.dispatchEvent(new Event("input")); }, { ...hold, "aria-label": "space" }),
    button("⌫", press("⌫"), { ...hold, "aria-label": "take the last one away" }),
    done ? button("Add", done, { ...hold, class: "main" }) : null);
}
function measureInput(f, id, value, oninput, done) {
  const says = h("p", { class: "says", id: id + "s", "aria-live": "polite" });
  const example = f.kind === "size" ? `${s.begin.starts[units()].width} x ${s.begin.starts[units()].length}` : (f.examples || [])[0] || "";
  const input = h("input", { id, type: "text", inputmode: "none", autocomplete: "off", autocapitalize: "off", spellcheck: "false",
    placeholder: example, "aria-describedby": id + "s", value });
  const check = () => {
    if (!input.value.trim()) { says.textContent = ""; says.className = "says"; return false; }
    const a = reads(f, input.value);
    const same = a.ok && a.says === input.value.trim();
    says.textContent = a.ok ? (same ? "" : "= " + a.says) : [a.message, a.hint].filter(Boolean).join(": ");
    says.className = a.ok ? "says" : "says wrong";
    input.setAttribute("aria-invalid", String(!a.ok));
    return a.ok;
  };
  input.addEventListener("input", () => { check(); oninput?.(input.value.trim()); });
  const pad = keypad(f, input, done);
  // The keys go away only after the tap that left them has landed: nothing moves under a finger.
  let leave = 0;
  input.addEventListener("focus", () => { clearTimeout(leave); pad.hidden = false; });
  input.addEventListener("blur", () => { leave = setTimeout(() => { pad.hidden = true; }, 300); });
  if (done) input.addEventListener("keydown", e => { if (e.key === "Enter") { e.preventDefault(); done(); } });
  check();
  return { input, says, pad, check };
}
function measureField(f, path, set) {
  if (f.dated || f.many) return readingsField(f, path, set);
  const id = newId();
  const m = measureInput(f, id, get(path) ?? "", set);
  return h("fieldset", { class: "field", disabled: s.readOnly }, h("label", { for: id }, label(f.label)), ...lead(f), m.input, m.says, m.pad);
}
function readingsField(f, path, set) {
  const id = newId(), list = h("ul", { class: "chips" });
  const day = f.dated ? h("input", { type: "date", value: today(), "aria-label": "day of the reading" }) : null;
  const draw = () => {
    list.replaceChildren(...(get(path) || []).map((r, i) => h("li", {}, edit(f.dated ? `${r.date}: ${r.value}${r.slab ? ", " + r.slab : ""} ✕` : `${r} ✕`, () => {
      set((get(path) || []).filter((_, j) => j !== i));
      draw();
    }, { "aria-label": `take away ${f.dated ? r.value : r}` }))));
  };
  const add = () => {
    if (!m.check()) return;
    const value = m.input.value.trim(), slab = beside?.input.value.trim();
    if (slab && !beside.check()) return;
    set([...(get(path) || []), f.dated ? { date: day.value, value, ...(slab ? { slab } : {}) } : value]);
    for (const own of [m, beside]) if (own) { own.input.value = ""; own.check(); }
    draw();
  };
  const m = measureInput(f, id, "", null, add);
  const beside = f.beside ? measureInput(f.beside, newId(), "", null) : null;
  draw();
  return h("fieldset", { class: "field", disabled: s.readOnly }, h("label", { for: id }, label(f.label)), ...lead(f), list, day, m.input, m.says, m.pad,
    ...(beside ? [h("label", { for: beside.input.id, class: "soft" }, f.beside.label), beside.input, beside.says, beside.pad] : []),
    edit("Add the reading", add, { class: "wide" }));
}
function section(key, title, fields, base, after, last) {
  const at = f => get(base ? base + "." + f.path : f.path);
  const count = () => {
    if (fields.length > 1) return `${fields.filter(f => !empty(at(f))).length} of ${fields.length}`;
    const v = at(fields[0]);
    return empty(v) ? "none" : Array.isArray(v) ? `${v.length} taken` : String(v);
  };
  const badge = h("span", { class: "soft" }, count());
  const body = h("div", {});
  const fill = () => body.replaceChildren(...fields.map(f => fieldView(f, base, () => { badge.textContent = count(); after?.(); })), last || "");
  const box = h("details", { open: !!s.opened[key], ontoggle: () => {
    s.opened[key] = box.open;
    if (box.open && !body.childElementCount) fill();
  } }, h("summary", {}, h("span", { style: "display:inline-block" }, title), badge), body);
  if (box.open) fill();
  return box;
}

// ---------------------------------------------------------------- the verdict on top
function strip() {
  const bar = $("strip");
  bar.hidden = !s.slab;
  if (!s.slab) return;
  const look = s.look;
  const open = !look?.slab || !look.slab.firm;
  bar.className = open ? "open" : "";
  let text;
  if (look && !look.ok) text = look.message;
  else if (areas().length && !areas().some(a => (a.defects || []).length) && !get("areas.0.tests")) text = "No verdict yet: no defect is written down";
  else if (!look?.judged || !areas().length) text = areas().length ? "No verdict yet: " + (look?.problems?.[0]?.message || "") : "No verdict yet: draw the first area";
  else if (look.slab.firm) text = "Firm: " + look.slab.name;
  else text = `Open between ${look.slab.possible.length}: ` + look.slab.possible.join(", ");
  if (text.length > 110) text = text.slice(0, 108).replace(/,?\s\S*$/, "") + " …";
  const wrong = (look?.problems || []).filter(p => p.severity === "error").length;
  bar.replaceChildren(text, wrong ? h("span", { class: "soft" }, ` · ${wrong} to put right`) : "");
}

// ---------------------------------------------------------------- map
const pt = (x, y) => `${x},${y}`;
const mapOf = id => s.look?.map?.areas.find(a => a.id === id);
function snap(v, step) { return Math.round(v / step) * step; }
function drawMap(options) {
  const map = s.look?.map;
  const [x0, y0, x1, y1] = options.bounds || map?.bounds || [0, 0, 9000, 9000];
  const span = Math.max(x1 - x0, y1 - y0), pad = span * 0.06;
  const step = options.step || map?.step || 500;
  const flip = y => y0 + y1 - y;
  const mm = span / 100;
  const svg = h("svg", { class: "map", viewBox: `${x0 - pad} ${y0 - pad} ${x1 - x0 + 2 * pad} ${y1 - y0 + 2 * pad}`, role: "group", "aria-label": options.label || "map of the slab" });
  const title = (node, text) => { node.append(h("title", {}, text)); return node; };
  if (options.grid) {
    for (let x = Math.ceil(x0 / step) * step; x <= x1 + 1; x += step) svg.append(h("line", { class: "grid", x1: x, x2: x, y1: y0, y2: y1 }));
    for (let y = Math.ceil(y0 / step) * step; y <= y1 + 1; y += step) svg.append(h("line", { class: "grid", y1: flip(y), y2: flip(y), x1: x0, x2: x1 }));
  }
  for (const [i, area] of (map?.areas || []).entries()) {
    if (!area.corners) continue;
    const own = areas()[s.area]?.id === area.id;
    svg.append(h("polygon", { class: own ? "area" : "area other", points: area.corners.map(p => pt(p[0], flip(p[1]))).join(" ") }));
    for (const panel of area.panels) {
      if (!panel.place) continue;
      const [a, b, c, d] = panel.place;
      svg.append(h("rect", { class: "panel", x: a, y: flip(d), width: c - a, height: d - b }),
        h("text", { x: a + mm * 1.2, y: flip(d) + mm * 4.4, "font-size": mm * 3.6, opacity: 0.75 }, panel.name));
    }
    for (const d of area.defects) {
      if (d.box) svg.append(h("rect", { class: "patch", x: d.box[0], y: flip(d.box[3]), width: d.box[2] - d.box[0], height: d.box[3] - d.box[1] }));
      if (d.at && d.to) svg.append(h("line", { class: "crack", "stroke-width": 4, x1: d.at[0], y1: flip(d.at[1]), x2: d.to[0], y2: flip(d.to[1]) }));
    }
    for (const d of area.defects) {
      if (!d.at) continue;
      const mark = h("g", options.pick ? { role: "button", tabindex: 0, "aria-label": "defect " + d.id,
        onclick: e => { e.stopPropagation(); options.pick(i, d.id); }, onkeydown: e => { if (e.key === "Enter") options.pick(i, d.id); } } : {},
      h("circle", { class: "mark", cx: d.at[0], cy: flip(d.at[1]), r: mm * 4 }),
      h("text", { class: "mark-text", x: d.at[0], y: flip(d.at[1]) + mm * 1.6, "font-size": mm * 4.6, "text-anchor": "middle" }, String(d.id)));
      svg.append(title(mark, "defect " + d.id));
    }
  }
  if (options.corners?.length) {
    svg.append(h("path", { class: "crack", "stroke-width": 4, d: "M" + options.corners.map(p => pt(p[0], flip(p[1]))).join("L") + (options.closed ? "Z" : "") }));
    options.corners.forEach((p, i) => svg.append(h("circle", { class: "mark", cx: p[0], cy: flip(p[1]), r: mm * 2.4 }),
      h("text", { x: p[0] + mm * 2.8, y: flip(p[1]) - mm * 2.4, "font-size": mm * 4.4 }, String(i + 1))));
  }
  if (options.tap) svg.addEventListener("click", e => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
    const inside = (v, a, b) => Math.min(Math.max(v, a), b);
    options.tap([inside(snap(p.x, step), x0, x1), inside(snap(flip(p.y), step), y0, y1)]);
  });
  return svg;
}
const lengthLike = what => ({ ...s.begin.length, examples: [s.begin.starts[units()][what]] });
const written = values => core({ do: "write", kind: "length", values, units: units() }).texts || [];

function areaPicker() {
  if (areas().length < 2) return null;
  return h("div", { class: "row", role: "group", "aria-label": "area" }, ...areas().map((a, i) => button(a.name || a.id, () => { s.area = i; s.cell = 0; draw(); }, { "aria-pressed": String(i === s.area) })));
}
/** A short name for the record: what people call it, in letters the record takes. */
function areaId(name) {
  const short = name.toLowerCase().normalize("NFD").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 24) || "area";
  let id = short;
  for (let n = 2; areas().some(a => a.id === id); n += 1) id = `${short}-${n}`;
  return id;
}
function screenMap() {
  if (s.tool?.kind === "add-area") return addArea();
  if (s.tool?.kind === "outline") return outlineTool();
  if (s.tool?.kind === "panels") return panelTool();
  if (s.tool?.kind === "add-defect") return addDefect();
  if (s.tool?.kind === "place") return placeTool();
  if (s.sheet) return defectSheet();
  const a = areas()[s.area];
  if (!a) return [h("h2", {}, "Map"), h("p", {}, "No area is drawn yet. An area is a part of the slab that is judged on its own."),
    edit("Draw the first area", () => tool({ kind: "add-area" }), { class: "main wide" })];
  const base = `areas.${s.area}`, drawn = mapOf(a.id);
  const name = id => s.begin.kinds.find(k => k.word === id)?.name || id;
  return [
    h("h2", {}, "Map"), areaPicker(),
    drawn?.corners ? drawMap({ pick: (i, id) => { s.area = i; openDefect(id); } }) : h("p", { class: "bar" }, "This area has no place on the map yet."),
    drawn?.surface ? h("p", { class: "soft" }, `${a.name}: ${drawn.surface}`) : null,
    edit("Add a defect", () => tool({ kind: "add-defect" }), { class: "main wide" }),
    h("div", { class: "pair" }, edit("Panels", () => tool({ kind: "panels" })), edit("Outline", () => tool({ kind: "outline", corners: drawn?.corners || [] })),
      edit("Add an area", () => tool({ kind: "add-area" })), edit("Take this area out", () => confirmBar(`Take ${a.name} out with its ${(a.defects || []).length} defects and readings?`, () => {
        const gone = (a.defects || []).flatMap(d => (d.photos || []).map(p => p.file));
        put("areas", areas().filter((_, i) => i !== s.area));
        delete s.slab.taps[a.id];
        s.area = 0;
        dropFiles(gone);
      }))),
    h("h3", {}, "Defects"),
    (a.defects || []).length ? h("div", {}, ...a.defects.map(d => button([h("span", {}, `${d.id}  ${name(d.kind)}`),
      h("span", { class: "soft" }, [d.extent, d.depth, d.width, (d.panels || []).join(" "), (d.photos || []).length ? `${d.photos.length} photo${d.photos.length > 1 ? "s" : ""}` : "", d.at ? "" : "not placed"].filter(Boolean).join(" · "))],
    () => openDefect(d.id), { class: "wide left", style: "margin-bottom:8px" }))) : h("p", { class: "soft" }, "None yet."),
    section("area" + a.id, "About this area", s.begin.forms.area, base),
    (a.panels ? h("details", {}, h("summary", {}, "Single panels"), ...(drawn?.panels || []).map(p => section("panel" + a.id + p.name, "Panel " + p.name, s.begin.forms.panel, `${base}.panels.signs.${p.name}`))) : null),
  ];
}
function tool(t) { s.tool = t; s.sheet = t && t.kind === "place" ? s.sheet : null; draw(true); }
function confirmBar(text, act) {
  bar("confirm", text, ["Yes", () => { bar("confirm", null); act(); }], ["No", () => bar("confirm", null)]);
  $("bars").querySelector("button")?.focus();
  scrollTo({ top: 0 });
}
function toolHead(text) { return h("div", {}, h("h2", {}, text)); }

function addArea() {
  const called = h("input", { id: newId(), value: "", placeholder: "area " + (areas().length + 1) });
  const w = measureInput(lengthLike("width"), newId(), "", null), l = measureInput(lengthLike("length"), newId(), "", null);
  const said = h("p", { class: "says wrong", role: "alert" });
  const make = extra => {
    const name = called.value.trim() || "area " + (areas().length + 1);
    put("areas", [...areas(), { id: areaId(name), name, ...extra }]);
    s.area = areas().length - 1;
    changed(); lookNow();
  };
  return [
    toolHead("New area"),
    h("label", { for: called.id, class: "name" }, "What people call it"), called,
    h("h3", {}, "A rectangle"),
    h("label", { for: w.input.id, class: "name" }, "Width, across the map"), w.input, w.says, w.pad,
    h("label", { for: l.input.id, class: "name" }, "Length, up the map"), l.input, l.says, l.pad,
    edit("Draw the rectangle", () => {
      if (!w.check() || !l.check()) { said.textContent = "Write both sides with their unit."; return; }
      const b = s.look?.map?.bounds;
      // Beside what is drawn already, so that nothing lies on top of another.
      const origin = written(b ? [b[2], b[1]] : [0, 0]);
      make({ size: `${w.input.value.trim()} x ${l.input.value.trim()}`, origin });
      tool(null);
    }, { class: "main wide" }), said,
    h("h3", {}, "Any other shape"),
    edit("Tap the corners on a grid", () => { make({}); tool({ kind: "outline", corners: [], fresh: true }); }, { class: "wide" }),
    h("div", { class: "row" }, button("Back", () => tool(null))),
  ];
}
/** A place by its distances from the lower left of the map, for a tape or a keyboard. */
function typedPoint(name, done) {
  const x = measureInput(lengthLike("width"), newId(), "", null), y = measureInput(lengthLike("width"), newId(), "", null);
  return h("details", {}, h("summary", {}, "By the tape"),
    h("label", { for: x.input.id, class: "name" }, "To the right of the map's lower left"), x.input, x.says, x.pad,
    h("label", { for: y.input.id, class: "name" }, "Up from it"), y.input, y.says, y.pad,
    edit(name, () => {
      if (!x.check() || !y.check()) return;
      const [a, b] = [x, y].map(m => reads(s.begin.length, m.input.value).value);
      if (Number.isFinite(a) && Number.isFinite(b)) done([a, b]);
    }, { class: "wide" }));
}
function outlineTool() {
  const t = s.tool, a = areas()[s.area];
  const across = core({ do: "read", kind: "length", text: t.sheet || s.begin.starts[units()].sheet, units: units() });
  const own = t.corners.length >= 3 ? t.corners : [];
  const others = s.look?.map?.bounds;
  const xs = own.map(p => p[0]), ys = own.map(p => p[1]);
  const width = across.ok ? across.value : 12000;
  const x0 = Math.min(0, ...xs, others ? others[0] : 0), y0 = Math.min(0, ...ys, others ? others[1] : 0);
  const x1 = Math.max(x0 + width, ...xs, others ? others[2] : 0), y1 = Math.max(y0 + width, ...ys, others ? others[3] : 0);
  const step = core({ do: "scale", span: x1 - x0, units: units() }).step;
  const sheet = measureInput(lengthLike("sheet"), newId(), t.sheet || "", null);
  const sides = t.closed ? t.corners.map((p, i) => {
    const q = t.corners[(i + 1) % t.corners.length];
    const long = written([Math.hypot(q[0] - p[0], q[1] - p[1])])[0];
    const m = measureInput(s.begin.length, newId(), long, null);
    const set = () => {
      const answer = core({ do: "corner", outline: t.corners, side: i, text: m.input.value });
      if (!answer.ok) { m.says.textContent = [answer.message, answer.hint].filter(Boolean).join(": "); m.says.className = "says wrong"; return; }
      t.corners = answer.outline;
      draw(true);
    };
    m.input.addEventListener("keydown", e => { if (e.key === "Enter") set(); });
    return h("div", { class: "field" }, h("label", { for: m.input.id, class: "name" }, `Side ${i + 1} to ${(i + 1) % t.corners.length + 1}`), m.input, m.says, m.pad, edit("Set this length", set, { class: "wide" }));
  }) : [];
  return [
    toolHead("Outline of " + a.name),
    h("p", {}, t.closed ? "Type the lengths as measured; the drawing follows." : "Tap the corners in order. One square is " + (written([step])[0]) + "."),
    drawMap({ grid: true, bounds: [x0, y0, x1, y1], step, corners: t.corners, closed: t.closed, label: "grid to tap corners on",
      tap: t.closed ? null : p => { t.corners = [...t.corners, p]; draw(true); } }),
    t.closed ? null : h("div", { class: "pair" }, edit("Take the last one back", () => { t.corners = t.corners.slice(0, -1); draw(true); }, { disabled: !t.corners.length }),
      edit("Close the outline", () => { t.closed = true; draw(true); }, { class: "main", disabled: t.corners.length < 3 })),
    t.closed ? null : typedPoint("Add this corner", p => { t.corners = [...t.corners, p]; draw(true); }),
    t.closed ? null : h("details", {}, h("summary", {}, "Size of the sheet"), h("label", { for: sheet.input.id, class: "name" }, "Across"), sheet.input, sheet.says, sheet.pad,
      edit("Use it", () => { if (sheet.check()) { t.sheet = sheet.input.value; draw(true); } }, { class: "wide" })),
    ...sides,
    t.closed ? edit("Keep this outline", () => {
      const texts = t.corners.map(p => written(p));
      delete a.size; delete a.origin; delete a.surface;
      change(`areas.${s.area}.outline`, texts);
      lookNow();
      tool(null);
    }, { class: "main wide" }) : null,
    h("div", { class: "row" }, t.closed ? edit("Tap them anew", () => { t.corners = []; t.closed = false; draw(true); }) : null, button("Back", () => tool(null))),
  ];
}
function panelTool() {
  const a = areas()[s.area], base = `areas.${s.area}.panels`;
  const corners = mapOf(a.id)?.corners;
  const box = corners ? [Math.max(...corners.map(p => p[0])) - Math.min(...corners.map(p => p[0])), Math.max(...corners.map(p => p[1])) - Math.min(...corners.map(p => p[1]))] : null;
  const part = (key, title, span, name) => {
    const list = get(`${base}.${key}`) || [];
    const many = n => {
      if (n < 1 || !span) return;
      const texts = core({ do: "split", text: written([span])[0], into: n, units: units() }).texts;
      put(`${base}.${key}`, texts);
      const other = key === "columns" ? "rows" : "columns";
      if (!get(`${base}.${other}`)) put(`${base}.${other}`, written([box[key === "columns" ? 1 : 0]]));
      changed(); lookNow(); draw(true);
    };
    return h("section", {}, h("h3", {}, title),
      h("div", { class: "row" }, edit("− 1", () => many(list.length - 1), { "aria-label": "− 1, one less: " + title }), h("span", { class: "button", role: "status" }, String(list.length)), edit("+ 1", () => many(list.length + 1), { "aria-label": "+ 1, one more: " + title })),
      ...list.map((text, i) => {
        const m = measureInput(s.begin.length, newId(), text, v => { change(`${base}.${key}.${i}`, v); });
        return h("div", { class: "field" }, h("label", { for: m.input.id, class: "name" }, name(i)), m.input, m.says, m.pad);
      }));
  };
  return [
    toolHead("Panels of " + a.name),
    corners ? drawMap({}) : h("p", { class: "bar" }, "Draw the area first."),
    h("p", { class: "soft" }, "The joints divide the area into columns and rows, counted from the lower left. Set how many, then mend the sizes."),
    part("columns", "Columns, left to right", box?.[0], i => "Column " + String.fromCharCode(65 + i % 26)),
    part("rows", "Rows, bottom to top", box?.[1], i => "Row " + (i + 1)),
    edit("No joints here", () => { put(base, undefined); changed(); lookNow(); tool(null); }, { class: "wide" }),
    button("Done", () => { lookNow(); tool(null); }, { class: "main wide", style: "margin-top:8px" }),
  ];
}
function addDefect() {
  return [
    toolHead("What is seen?"),
    h("p", { class: "soft" }, "Say what is there, not why. The cause comes out of the signs."),
    ...s.begin.kinds.map(k => edit([h("span", { class: "name" }, k.name), h("span", { class: "soft" }, k.seen)], () => {
      const id = Math.max(0, ...areas().flatMap(a => (a.defects || []).map(d => Number(d.id) || 0))) + 1;
      const path = `areas.${s.area}.defects`;
      put(path, [...(get(path) || []), { id: String(id), kind: k.word }]);
      changed(); lookNow();
      s.sheet = { id: String(id) };
      s.tool = mapOf(areas()[s.area].id)?.corners ? { kind: "place" } : null;
      draw(true);
    }, { class: "wide left", style: "margin-bottom:8px" })),
    button("Back", () => tool(null), { class: "wide" }),
  ];
}
function openDefect(id) { s.sheet = { id: String(id) }; s.tool = null; s.screen = "map"; draw(true); }
function defectAt() {
  const list = get(`areas.${s.area}.defects`) || [];
  const i = list.findIndex(d => String(d.id) === s.sheet?.id);
  return i < 0 ? null : { i, d: list[i], base: `areas.${s.area}.defects.${i}` };
}
function placeTool() {
  const found = defectAt();
  if (!found) { s.tool = null; s.sheet = null; return screenMap(); }
  const { d, base } = found;
  const line = s.begin.kinds.find(k => k.word === d.kind)?.line;
  const second = line && s.tool.second;
  const done = () => { s.tool = null; s.sheet = { id: String(d.id) }; draw(true); };
  const set = p => {
    change(`${base}.${second ? "to" : "at"}`, written(p));
    lookNow();
    if (line && !second) { s.tool.second = true; draw(true); } else done();
  };
  return [
    toolHead(second ? `Where does ${d.id} end?` : line ? `Where does ${d.id} start?` : `Where is ${d.id}?`),
    h("p", { class: "soft" }, second ? "Tap its end." : "Tap the place on the map."),
    drawMap({ grid: true, tap: set }),
    typedPoint("Put it there", set),
    button(second ? "It has no end" : "Later", done, { class: "wide" }),
  ];
}
function defectSheet() {
  const found = defectAt();
  if (!found) { s.sheet = null; return screenMap(); }
  const { d, base, i } = found, a = areas()[s.area];
  const kind = s.begin.kinds.find(k => k.word === d.kind) || { name: d.kind, form: [] };
  const panels = (mapOf(a.id)?.panels || []).map(p => ({ word: p.name, name: p.name }));
  const skip = ["at", "to", "photos"];
  const first = kind.form.filter(f => !skip.includes(f.path) && !f.path.startsWith("signs."));
  const signs = kind.form.filter(f => f.path.startsWith("signs."));
  const photo = h("input", { type: "file", accept: "image/*", capture: "environment", disabled: s.readOnly, "aria-label": "Take a photo of defect " + d.id,
    onchange: e => { if (e.target.files[0]) addPhoto(base + ".photos", e.target.files[0]); } });
  const picture = h("input", { type: "file", accept: "image/*", disabled: s.readOnly, "aria-label": "Choose a picture of defect " + d.id,
    onchange: e => { if (e.target.files[0]) addPhoto(base + ".photos", e.target.files[0]); } });
  const causes = h("div", {});
  const showCauses = () => {
    const own = s.look?.areas?.find(x => x.id === a.id)?.defects.find(x => String(x.id) === String(d.id));
    causes.replaceChildren(...(own?.causes?.length ? [h("p", { class: "soft" }, (own.causes.length > 1 ? "Could be: " : "Points to: ") + own.causes.slice(0, 4).map(c => c.name).join("; ") + (own.causes.length > 4 ? " …" : ""))] : []));
  };
  showCauses();
  lookers.add(showCauses);
  return [
    h("h2", {}, `Defect ${d.id}: ${kind.name}`), causes,
    h("div", { class: "pair" }, edit(d.at ? "Place it anew" : "Place it on the map", () => tool({ kind: "place" })),
      h("label", { class: "button main" }, "Take a photo", photo), h("label", { class: "button" }, "Choose a picture", picture)),
    d.at ? h("p", { class: "soft" }, "At " + d.at.join(", ") + (d.to ? " to " + d.to.join(", ") : "") + ", from the lower left.") : null,
    ...(d.photos || []).map((p, n) => {
      const cap = h("input", { id: newId(), value: p.caption || "", disabled: s.readOnly, oninput: () => change(`${base}.photos.${n}.caption`, cap.value) });
      return h("div", { class: "field" }, s.photos.get(p.file) ? h("img", { class: "photo", src: s.photos.get(p.file), alt: p.caption || p.file }) : h("p", { class: "bar" }, `${p.file} is not on this phone.`),
        h("label", { for: cap.id, class: "name" }, "What the photo shows"), cap,
        edit("Take this photo out", () => confirmBar("Take this photo out?", () => dropPhoto(base + ".photos", n)), { class: "wide", style: "margin-top:8px" }));
    }),
    panels.length ? fieldView({ path: "panels", label: "Panels it lies in", kind: "choice", many: true, values: panels }, base) : null,
    ...first.map(f => fieldView(f, base)),
    signs.length ? h("h3", {}, "Signs of the cause") : null,
    ...signs.map(f => fieldView(f, base)),
    fieldView({ path: "note", label: "Note", kind: "text" }, base),
    button("Done", () => { s.sheet = null; draw(true); }, { class: "main wide" }),
    edit("Take this defect out", () => confirmBar(`Take defect ${d.id} out with its photos?`, () => {
      const gone = (d.photos || []).map(p => p.file);
      put(`areas.${s.area}.defects`, (get(`areas.${s.area}.defects`) || []).filter((_, j) => j !== i));
      s.sheet = null;
      dropFiles(gone);
    }), { class: "wide", style: "margin-top:8px" }),
  ];
}

// ---------------------------------------------------------------- taps and readings
function screenTaps() {
  const a = areas()[s.area];
  if (!a) return [h("h2", {}, "Taps"), h("p", {}, "Draw an area on the map first."), button("To the map", () => go("map"), { class: "wide" })];
  const base = `areas.${s.area}`, corners = mapOf(a.id)?.corners;
  const readings = s.begin.forms.readings;
  const rest = readings.filter(f => !f.path.startsWith("tests.sounding"));
  return [h("h2", {}, "Taps and readings"), areaPicker(), ...(corners ? tapGrid(a, corners, base) : plainTaps(readings, base)),
    block(base + ".tests.sounding.patches", "Hollow patches outlined with chalk", "patch", s.begin.forms.patch, () => ({})),
    h("h3", {}, "Readings"), ...rest.map(f => section(a.id + f.path, f.label, [f], base)),
    h("h3", {}, "While working and after it"), ...s.begin.forms.work.map(f => section(a.id + f.path, f.label, [f], base))];
}
function plainTaps(readings, base) {
  return [h("p", { class: "bar" }, "Without an outline there is no grid; count the taps instead."), ...readings.filter(f => f.path.startsWith("tests.sounding")).map(f => fieldView(f, base))];
}
function tapGrid(a, corners, base) {
  const own = s.slab.taps[a.id] ||= { step: s.begin.starts[units()].tap, marks: {} };
  const counted = get(base + ".tests.sounding");
  const grid = core({ do: "taps", corners, step: own.step });
  const says = h("p", { role: "status" });
  const step = measureInput(s.begin.length, newId(), own.step, null);
  const spacing = h("details", {}, h("summary", {}, "Distance between taps", h("span", { class: "soft" }, own.step)),
    h("label", { for: step.input.id, class: "name" }, "From tap to tap"), step.input, step.says, step.pad,
    edit("Lay a new grid", () => {
      if (!step.check()) return;
      const lay = () => { s.slab.taps[a.id] = { step: step.input.value.trim(), marks: {} }; s.cell = 0; changed(); draw(); };
      if (Object.keys(own.marks).length) confirmBar("A new grid takes the taps made so far away. Lay it?", lay); else lay();
    }, { class: "wide" }));
  if (!grid.ok) return [h("p", { class: "bar" }, grid.message), spacing];
  // Up one row, down the next: the way a person walks.
  const spots = grid.spots.map(p => ({ ...p, row: Number(/\d+$/.exec(p.name)[0]), col: p.name.replace(/\d+$/, "") }));
  const walk = [...spots].sort((p, q) => p.row - q.row || (p.row % 2 ? 1 : -1) * (p.at[0] - q.at[0]));
  s.cell = Math.min(s.cell, walk.length - 1);
  const cells = new Map();
  const made = () => spots.map(p => own.marks[p.name]).filter(Boolean);
  const say = () => {
    const marks = made();
    says.textContent = `${marks.length} of ${walk.length} tapped, ${marks.filter(m => m === "dull").length} dull. Next: ${walk[s.cell].name}`;
  };
  const count = () => {
    const marks = made(), now = get(base + ".tests.sounding") || {};
    const hollow = marks.filter(m => m === "dull").length;
    put(base + ".tests.sounding", { ...now, taps: marks.length ? String(marks.length) : undefined, hollow: marks.length ? String(hollow) : undefined });
    changed();
    say();
  };
  const paint = p => {
    const b = cells.get(p.name), mark = own.marks[p.name];
    b.className = (mark || "") + (walk[s.cell].name === p.name ? " now" : "");
    b.textContent = mark === "dull" ? "dull" : mark === "ring" ? "ring" : p.name;
    b.setAttribute("aria-label", `${p.name}: ${mark || "not tapped"}`);
  };
  const turn = (p, mark) => {
    if (s.readOnly) return false;
    if (counted?.taps && !made().length && !own.anew) {
      confirmBar(`The record holds ${counted.taps} taps, ${counted.hollow || 0} dull. Count anew on this grid?`, () => { own.anew = true; draw(); });
      return false;
    }
    own.anew = true;
    if (mark) own.marks[p.name] = mark; else delete own.marks[p.name];
    count();
    return true;
  };
  const moveTo = n => {
    const from = walk[s.cell];
    s.cell = Math.max(0, Math.min(walk.length - 1, n));
    paint(from); paint(walk[s.cell]);
    const c = cells.get(walk[s.cell].name);
    box.scrollTo({ left: c.offsetLeft - box.offsetLeft - box.clientWidth / 2 + 28, top: c.offsetTop - box.offsetTop - box.clientHeight / 2 + 28 });
    say();
  };
  const columns = [...new Set(spots.map(p => p.col))].length ? Math.max(...spots.map(p => p.at[0])) : 0;
  const left = Math.min(...spots.map(p => p.at[0])), top = Math.max(...spots.map(p => p.row));
  const box = h("div", { class: "spots", role: "group", "aria-label": "sounding grid", tabindex: 0, style: `grid-template-columns: repeat(${Math.round((columns - left) / grid.step) + 1}, 56px)` });
  for (const p of [...spots].sort((x, y) => y.row - x.row || x.at[0] - y.at[0])) {
    const b = button("", () => {
      const now = own.marks[p.name];
      if (!turn(p, now === undefined ? "ring" : now === "ring" ? "dull" : undefined)) return;
      const before = walk[s.cell];
      s.cell = walk.findIndex(w => w.name === p.name);
      paint(before); paint(p); say();
    }, { disabled: s.readOnly, style: `grid-column:${Math.round((p.at[0] - left) / grid.step) + 1};grid-row:${top - p.row + 1}` });
    cells.set(p.name, b);
    box.append(b);
  }
  spots.forEach(paint);
  say();
  const hit = mark => () => { const p = walk[s.cell]; if (!turn(p, mark)) return; paint(p); moveTo(s.cell + 1); };
  requestAnimationFrame(() => { if (box.isConnected) box.scrollTop = box.scrollHeight; });
  return [
    h("p", { class: "soft" }, "Strike each spot. Tap a cell once for ring, twice for dull; or keep to the two large keys, which walk up and down the rows."),
    counted?.taps && !made().length && !own.anew ? h("p", { class: "bar" }, `The record holds ${counted.taps} taps, ${counted.hollow || 0} dull, made elsewhere.`) : null,
    box, says,
    h("div", { class: "pair" }, edit("Ring", hit("ring"), { class: "big" }), edit("Dull", hit("dull"), { class: "big main" }),
      edit("Back", () => moveTo(s.cell - 1)), edit("Skip", () => moveTo(s.cell + 1))),
    spacing,
  ];
}

// ---------------------------------------------------------------- lists of blocks
/** Blocks of one kind, each with its form, to add to and to take out of. */
function block(path, title, one, form, blankOne) {
  const list = get(path) || [];
  // What the page named itself is called by its number.
  const called = (x, i) => `${one} ${(x.id || x.name || x.item || String(i + 1)).replace(new RegExp("^" + one.replace(/\s+/g, "-") + "(?=\\d+$)"), "")}`;
  return h("section", {}, h("h3", {}, title), ...list.map((x, i) => h("div", {}, section(path + i, called(x, i), form.filter(f => f.path !== "id"), `${path}.${i}`, null,
    edit(`Take ${called(x, i)} out`, () => confirmBar(`Take ${called(x, i)} out?`, () => { put(path, list.filter((_, j) => j !== i)); changed(); lookNow(); draw(); }), { class: "wide" })))),
  edit("Add " + one, () => {
    let n = list.length + 1;
    while (list.some(x => x.id === one.replace(/\s+/g, "-") + n)) n += 1;
    put(path, [...list, blankOne(one.replace(/\s+/g, "-") + n)]);
    s.opened[path + list.length] = true;
    changed(); draw();
  }, { class: "wide main" }));
}

// ---------------------------------------------------------------- steps, doors, edges
function screenSteps() {
  const area = areas()[s.area]?.id;
  const f = s.begin.forms;
  return [
    h("h2", {}, "Steps, doors, edges"),
    h("p", { class: "soft" }, "New concrete on top changes every step and door. Measure each riser, bottom to top."),
    block("stairs", "Flights of steps", "stair", f.stair, id => ({ id, ...(areas().length === 1 ? { from: area } : {}) })),
    block("thresholds", "Doors", "door", f.threshold, id => ({ id, ...(areas().length === 1 ? { area } : {}) })),
    block("edges", "Edges", "edge", f.edge, () => (areas().length ? { area } : {})),
    ...(areas()[s.area] ? [areaPicker(), block(`areas.${s.area}.joints`, "Joints of " + areas()[s.area].name, "joint", f.joint, id => ({ id }))] : []),
  ];
}

// ---------------------------------------------------------------- what next
function screenNext() {
  const answer = s.asked ||= core({ do: "ask", draft: s.slab.draft, today: today() });
  const list = answer.questions || [];
  const most = s.more ? 30 : 5;
  if (!answer.ok) return [h("h2", {}, "What to measure next"), h("p", { class: "bar" }, answer.message)];
  if (!areas().length) return [h("h2", {}, "What to measure next"), h("p", {}, "Draw an area on the map first."), button("To the map", () => go("map"), { class: "wide" })];
  return [
    h("h2", {}, "What to measure next"),
    list.length ? h("p", { class: "soft" }, "What settles most for the least work comes first. What you do not know can stay open.")
      : h("p", {}, s.look?.slab?.firm ? "Every verdict is firm: nothing that could be measured would change it." : "Nothing that anyone could be asked would settle what is open."),
    ...list.slice(0, most).map((q, i) => h("div", { class: "card" },
      h("h3", {}, `${i + 1}. ${q.about}`),
      h("p", { class: "soft" }, `${q.minutes} min, ${q.who}` + (q.wait_days ? `, ${q.wait_days} days to wait` : "") + (q.settles > 0 ? `; settles about ${Math.round(q.settles * 100)} % of what is open` : "")),
      q.field ? fieldView(q.field, "", () => lookNow()) : [h("p", {}, q.ask), q.goes ? button("Go there", () => go(q.goes.startsWith("tests") ? "taps" : /^(stairs|thresholds|edges)/.test(q.goes) ? "steps" : "map"), { class: "wide" }) : null],
      q.outcomes?.length ? h("details", { class: "how" }, h("summary", {}, "What each answer would lead to"),
        h("ul", {}, ...q.outcomes.map(o => h("li", {}, `${o.answer}: ${o.verdicts.map(v => v.name).join(", ")}`)))) : null)),
    list.length ? button("Work out anew", () => { s.asked = null; lookNow(); draw(true); }, { class: "wide main" }) : null,
    list.length > most ? button(`Show ${list.length - most} more`, () => { s.more = true; draw(); }, { class: "wide", style: "margin-top:8px" }) : null,
  ];
}

// ---------------------------------------------------------------- the answer
function reasons(list, most) {
  return list.length ? h("ul", { class: "plain" }, ...list.slice(0, most).map(r => h("li", {}, r.plain || r.because, h("span", { class: "soft" }, ` (${r.about})`)))) : null;
}
/** That the page judges by a contractor's own rules too, and which. */
function houseRules() {
  const list = s.begin.house;
  return list?.length ? h("details", { class: "how" }, h("summary", {}, `House rules in force: ${list.length} change${list.length === 1 ? "" : "s"}`), h("ul", {}, ...list.map(t => h("li", {}, t)))) : null;
}
function screenAnswer() {
  const look = s.look;
  const problems = look?.problems || [];
  const where = p => {
    const m = /^areas\.(\d+)(\.defects\.(\d+))?/.exec(p.path || "");
    if (!p.path) return null;
    return () => {
      if (m) { s.area = Number(m[1]); if (m[3]) return openDefect(get(`areas.${m[1]}.defects.${m[3]}.id`)); return go(/tests/.test(p.path) ? "taps" : "map"); }
      go(/^(stairs|thresholds|edges)/.test(p.path) ? "steps" : "job");
    };
  };
  const wrong = problems.length ? [h("h3", {}, "To put right"), h("ul", { class: "plain" }, ...problems.map(p => h("li", { class: p.severity === "error" ? "" : "soft" },
    h("p", {}, p.message + (p.hint ? ": " + p.hint : "")), where(p) ? button("Go there", where(p)) : null)))] : [];
  if (!look?.judged) return [h("h2", {}, "No verdict yet"), ...wrong];
  const says = v => v.firm ? h("p", {}, h("strong", {}, "Firm: "), v.name) : h("div", {}, h("p", {}, h("strong", {}, "Open. "), "Still possible:"), h("ul", {}, ...v.possible.map(n => h("li", {}, n))));
  const listed = (title, list) => list?.length ? [h("h3", {}, title), reasons(list, 20)] : [];
  return [
    h("h2", {}, "The slab as it stands"),
    houseRules(),
    look.partly ? h("p", { class: "bar" }, "What can't be read yet is left out of this verdict; see below.") : null,
    says(look.slab), ...(look.adds_up || []).map(t => h("p", {}, t)),
    look.cautions.length ? [h("h3", {}, "Before anyone cuts, grinds or opens it"), h("div", { class: "warn" }, ...look.cautions.filter(c => c.certain).map(c => h("p", {}, c.because)), ...(look.cautions.some(c => !c.certain)
      ? [h("details", { class: "how" }, h("summary", {}, "If the work comes to it"), ...look.cautions.filter(c => !c.certain).map(c => h("p", {}, c.because)))] : []))] : null,
    ...look.areas.map(a => h("section", {}, h("h3", {}, a.name), says(a.verdict), a.verdict.firm ? reasons(a.verdict.reasons, 4) : h("details", { class: "how" }, h("summary", {}, "What speaks for each"), reasons(a.verdict.reasons, 12)),
      ...a.defects.map(d => h("p", {}, h("strong", {}, `${d.id} ${d.kind}: `), d.causes.length ? d.causes.slice(0, 3).map(c => c.standing.length === 1 ? `${c.name} (${c.standing[0]})` : c.name).join("; ") : "no cause is sought")))),
    ...listed("Must not be done", look.exclusions), ...listed("For an engineer or a laboratory", look.referrals),
    look.assumed?.length ? h("details", {}, h("summary", {}, "Taken because nothing is written"), h("ul", {}, ...look.assumed.map(a => h("li", {}, `${a.about}, ${a.name}: ${a.value} (${a.because})`)))) : null,
    ...wrong, button("What to measure next", () => go("next"), { class: "wide main" }),
  ];
}

// ---------------------------------------------------------------- job and file
function screenJob() {
  const f = s.begin.forms;
  return [h("h2", {}, "Job and slab"), section("job", "The job", f.job, "", () => { $("title").textContent = titled(s.slab); }), section("slab", "The slab", f.slab, ""), section("site", "Site and weather", f.site, ""), section("wishes", "What the owner would like", f.wishes, ""), section("remarks", "Remarks and forecast", f.remarks, ""),
    block("materials", "Products at hand, from their data sheets", "product", f.material, () => ({})),
    h("h3", {}, "Crew and prices"), section("crew", "The crew and its tools", f.crew, ""), section("prices", "Currency, tax, deposit", f.prices, ""),
    block("prices.lines", "Lines of the price book", "price", f.price, () => ({}))];
}
function screenFile() {
  const bring = h("input", { type: "file", accept: ".zip,.yaml,.yml", "aria-label": "Bring in a zip or a record", onchange: e => { if (e.target.files[0]) bringIn(e.target.files[0]); e.target.value = ""; } });
  const wrong = (s.look?.problems || []).filter(p => p.severity === "error").length;
  const room = h("p", { class: "soft" });
  navigator.storage?.estimate?.().then(({ usage, quota }) => { room.textContent = `${(usage / 1e6).toFixed(1)} MB in use of about ${Math.round(quota / 1e6)} MB.`; }).catch(() => {});
  return [
    h("h2", {}, "Hand over"),
    wrong ? h("p", { class: "bar" }, `${wrong} entr${wrong === 1 ? "y" : "ies"} still to put right; the zip holds all as it was typed.`) : null,
    button("Save the zip: record and photos", handOver, { class: "main wide" }),
    s.slab.handed ? h("p", { class: "soft" }, "Last saved " + new Date(s.slab.handed).toLocaleString()) : h("p", { class: "soft" }, "Not saved outside this browser yet. A browser may clear its storage: save the zip when you leave the site."),
    h("details", {}, h("summary", {}, "The record as text"), h("pre", { class: "tall", tabindex: 0, style: "overflow:auto;font-size:14px" }, s.look?.yaml || "")),
    h("h2", {}, "Slabs in this browser"),
    ...s.slabs.map(x => x.id === s.slab.id ? s.slab : x).map(x => h("div", { class: "row" }, button(titled(x) + (x.id === s.slab.id ? " (open)" : ""), async () => { if (saving) await saving; await openSlab(x.id); go("map"); }, { class: "left", "aria-pressed": String(x.id === s.slab.id) }),
      x.id === s.slab.id ? null : button("Take out", () => confirmBar(`Take ${titled(x)} and its photos out of this browser?${x.handed ? "" : " It was never saved as a zip."}`, () => dropSlab(x.id)), { style: "flex:0 0 auto" }))),
    h("div", { class: "pair" }, button("New slab", async () => { if (saving) await saving; await addSlab(fresh(blank()), []); lookNow(); s.opened = { job: true, slab: true }; go("job"); }),
      h("label", { class: "button" }, "Bring one in", bring)),
    room,
    h("p", {}, button(document.documentElement.classList.contains("dark") ? "Light screen" : "Dark screen", () => { const c = document.documentElement.classList; const dark = getComputedStyle(document.body).backgroundColor !== "rgb(255, 255, 255)"; c.toggle("dark", !dark); c.toggle("light", dark); draw(); })),
    houseRules(),
    h("p", { class: "soft" }, `ringtrue ${s.begin.version}, rules ${String(s.begin.rules).slice(0, 12)}. Last verdict took ${Math.round(s.took || 0)} ms.`),
  ];
}
async function dropSlab(id) {
  await store(["slabs", "photos"], "readwrite", tx => {
    tx.objectStore("slabs").delete(id);
    tx.objectStore("photos").delete(IDBKeyRange.bound([id, ""], [id, "\uffff"]));
  }).catch(error => bar("full", "It could not be taken out: " + error.message));
  unnote(id);
  s.slabs = await all("slabs").catch(() => s.slabs);
  if (s.unsaved) save();
  draw();
}

// ---------------------------------------------------------------- going about
const screens = { job: ["Job", screenJob], map: ["Map", screenMap], taps: ["Taps", screenTaps], steps: ["Steps", screenSteps], next: ["Next", screenNext], file: ["File", screenFile], answer: ["Answer", screenAnswer] };
function go(screen) { s.screen = screen; s.sheet = null; s.tool = null; bar("confirm", null); draw(true); }
function draw(top) {
  if (!s.slab) return;
  lookers.clear();
  const y = scrollY;
  $("title").textContent = titled(s.slab);
  $("nav").hidden = false;
  $("nav").replaceChildren(h("div", {}, ...Object.entries(screens).filter(([key]) => key !== "answer").map(([key, [name]]) => button(name, () => go(key), { "aria-current": key === s.screen ? "page" : null }))));
  $("main").replaceChildren(...screens[s.screen][1]().flat().filter(Boolean));
  strip();
  if (top) { scrollTo(0, 0); $("main").focus({ preventScroll: true }); } else scrollTo(0, y);
}
$("strip").addEventListener("click", () => go("answer"));

async function main() {
  const from = performance.now();
  try { await loadCore(); } catch (error) {
    $("main").replaceChildren(h("p", { class: "bad" }, error.page ? "This page can't be used. " + error.message : "This browser can't run the page's rules (" + error.message + "). A browser from the last four years can."));
    return;
  }
  s.begin = core({ do: "begin" });
  s.started = performance.now() - from;
  if (!s.begin.ok) { $("main").replaceChildren(h("p", { class: "bad" }, s.begin.message)); return; }
  try { db = await openDb(); } catch (error) {
    bar("storage", "This browser keeps nothing for this page (" + (error?.message || error) + "). You can work, but save the zip before you leave or reload. Opening the page in the phone's browser, not in a preview or a private window, mends it.", ["Save the zip", () => handOver()]);
    s.unsaved = error;
  }
  navigator.storage?.persist?.().catch(() => {});
  try {
    s.slabs = db ? await all("slabs") : [];
    const seen = start.key && db ? await one("seen", start.key) : null;
    if (start.key && !seen) {
      const answer = core({ do: "take", yaml: start.yaml });
      const photos = (start.photos || []).map(p => ({ file: p.file, blob: new Blob([Uint8Array.from(atob(p.base64), c => c.charCodeAt(0))], { type: /png$/i.test(p.file) ? "image/png" : "image/jpeg" }) }));
      const bad = answer.ok ? unusable(answer.draft) : answer.message;
      if (bad) bar("import", "The record this page came with is left out: " + bad + ".", ["Close", () => bar("import", null)]);
      await addSlab(fresh(bad ? blank() : answer.draft, start.name), bad ? [] : photos);
      if (db && !s.unsaved) await store(["seen"], "readwrite", tx => tx.objectStore("seen").put(s.slab.id, start.key));
      s.screen = "map";
    } else if (s.slabs.length) {
      s.slabs.sort((a, b) => b.changed - a.changed);
      await openSlab((s.slabs.find(x => x.id === seen) || s.slabs[0]).id);
    } else {
      await addSlab(fresh(blank()), []);
      s.opened = { job: true, slab: true };
      s.screen = "job";
    }
  } catch (error) {
    bar("storage", "What this browser kept could not be read (" + error.message + ").");
    if (!s.slab) await addSlab(fresh(blank()), []);
  }
  lookNow();
  draw();
}
main();
