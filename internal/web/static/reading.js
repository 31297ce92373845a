// The page for reading colours off a photograph. It only places rings and boxes: what
// they mean is asked of the program, which answers as the command does.

const $ = (id) => document.getElementById(id);
const board = $("board"), shot = $("shot"), loupe = $("loupe"), net = $("net");
const svgNS = "http://www.w3.org/2000/svg";

// The corners of a chart going round, as the program expects them.
const corners = ["1 dark skin", "6 bluish green", "24 black", "19 white"];

let file = null; // the chosen photograph
let photo = ""; // its name at the program, "" until it was sent
let sending = null; // the sending of it, so that it is sent once
let rings = []; // {kind, name, x, y, el, fields}
let boxes = []; // {x, y, w, h, el, item}
let zoom = 1;
let asked = 0; // the number of the latest question: late answers to older ones are dropped
let asking = null; // stops the latest question
let timer = 0;
let taken = false; // the camera wrote a date
let editionChosen = false; // the maker said which edition the chart is of, so it is kept
let turned = false; // the browser and the program do not agree which way up it is

const clamp = (v, low, high) => Math.min(Math.max(v, low), high);

function fault(text) {
  $("fault").textContent = text;
  $("fault").hidden = !text;
}

async function answer(response) {
  const kind = response.headers.get("Content-Type") || "";
  const body = kind.startsWith("application/json") ? await response.json() : { error: (await response.text()).trim() };
  if (!response.ok) {
    const e = new Error(body.hint ? `${body.error} (${body.hint})` : body.error);
    e.status = response.status;
    throw e;
  }
  return body;
}

// send gives the photograph to the program, once.
function send() {
  const mine = file;
  sending ??= fetch(`/api/photos?file=${encodeURIComponent(mine.name)}`, { method: "POST", body: mine, headers: { "Content-Type": "application/octet-stream" } })
    .then(answer)
    .then((a) => { if (mine === file) photo = a.id; })
    .finally(() => { if (mine === file) sending = null; });
  return sending;
}

// put asks something of the photograph, and sends it again where the program had to
// let go of it.
async function put(verb, question, signal) {
  const body = JSON.stringify(question);
  const ask = () => fetch(`/api/photos/${photo}/${verb}`, { method: "POST", body, signal, headers: { "Content-Type": "application/json" } }).then(answer);
  if (!photo) await send();
  try {
    return await ask();
  } catch (e) {
    if (e.status !== 404 || !e.message.startsWith("this picture")) throw e;
    await send();
    return ask();
  }
}

// choose begins with a new photograph.
async function choose(chosen) {
  if (!chosen) return;
  fault("");
  if (chosen.size > 40 * 1024 * 1024) {
    fault("This file has more than 40 MB; export it as JPEG.");
    return;
  }
  file = chosen;
  photo = "";
  sending = null;
  if (shot.src) URL.revokeObjectURL(shot.src);
  shot.src = URL.createObjectURL(file);
  try {
    await shot.decode();
  } catch {
    $("work").hidden = true;
    fault("This browser cannot show the file; export the photograph as JPEG.");
    return;
  }
  for (const r of rings) { r.el.remove(); r.fields.remove(); }
  for (const b of boxes) { b.el.remove(); b.item.remove(); }
  rings = [];
  boxes = [];
  $("saved").textContent = "";
  $("work").hidden = false;
  net.setAttribute("viewBox", `0 0 ${shot.naturalWidth} ${shot.naturalHeight}`);
  board.style.width = "";
  magnify(1);
  hatch();
  laid();
  addBox();
  try {
    await send();
    later();
  } catch (e) {
    fault(e.message);
  }
}

// laid puts the rings out that belong to what corrects the photograph.
function laid() {
  const by = $("by").value, w = shot.naturalWidth, h = shot.naturalHeight;
  for (const r of rings) if (r.kind !== "sheet") { r.el.remove(); r.fields.remove(); }
  rings = rings.filter((r) => r.kind === "sheet");
  if (by === "chart") {
    [[0.2, 0.2], [0.8, 0.2], [0.8, 0.6], [0.2, 0.6]].forEach(([x, y], i) => addRing("corner", corners[i], x * w, y * h));
  } else if (by === "grey") {
    addRing("grey", "grey card", 0.5 * w, 0.3 * h);
  }
  for (const p of document.querySelectorAll("[data-for]")) p.hidden = p.dataset.for !== by;
  draw();
}

function addRing(kind, name, x, y) {
  const el = document.createElement("button");
  el.type = "button";
  el.className = "ring";
  const label = document.createElement("span");
  const [short, ...long] = name.split(" ");
  const rest = document.createElement("em"); // left out on a small screen
  rest.textContent = long.length ? ` ${long.join(" ")}` : "";
  label.append(short, rest);
  el.append(label);
  const fields = document.createElement("div");
  fields.className = "place";
  const title = document.createElement("span");
  title.textContent = name;
  fields.append(title);
  const ring = { kind, name, x: Math.round(x), y: Math.round(y), el, fields };
  for (const axis of ["x", "y"]) {
    const input = document.createElement("input");
    input.type = "number";
    input.dataset.axis = axis;
    input.setAttribute("aria-label", `${name}, ${axis}`);
    input.addEventListener("input", () => {
      if (input.value === "" || !Number.isFinite(+input.value)) return;
      ring[axis] = +input.value;
      place(ring);
      later();
    });
    fields.append(input);
  }
  $("places").append(fields);
  rings.push(ring);
  board.append(el);
  movable(ring, el, () => place(ring));
  place(ring);
  return ring;
}

function place(r) {
  r.x = clamp(r.x, 0, shot.naturalWidth - 1);
  r.y = clamp(r.y, 0, shot.naturalHeight - 1);
  r.el.style.left = `${(100 * (r.x + 0.5)) / shot.naturalWidth}%`;
  r.el.style.top = `${(100 * (r.y + 0.5)) / shot.naturalHeight}%`;
  r.el.classList.toggle("left", r.x > 0.6 * shot.naturalWidth);
  r.el.setAttribute("aria-label", `${r.kind === "corner" ? "Chart corner " : ""}${r.name}, at ${r.x}, ${r.y}`);
  for (const input of r.fields.querySelectorAll("input")) {
    if (input !== document.activeElement) input.value = r[input.dataset.axis];
  }
  draw();
}

function addBox() {
  const side = Math.max(8, Math.round(Math.min(shot.naturalWidth, shot.naturalHeight) / 16));
  const el = document.createElement("button");
  el.type = "button";
  el.className = "box";
  const label = document.createElement("span");
  const grip = document.createElement("i");
  el.append(label, grip);
  const item = $("part").content.firstElementChild.cloneNode(true);
  const box = {
    x: Math.round(shot.naturalWidth / 2 - side / 2), y: Math.round(clamp(shot.naturalHeight * 0.8 - side * 1.5 * boxes.length, 0, shot.naturalHeight - side)),
    w: side, h: side, el, item, label,
  };
  item.querySelector(".portion").addEventListener("change", () => { number(); later(); });
  item.querySelector(".drop-part").addEventListener("click", () => {
    el.remove();
    item.remove();
    boxes = boxes.filter((b) => b !== box);
    number();
    later();
    $("more").focus();
  });
  boxes.push(box);
  board.append(el);
  $("parts").append(item);
  movable(box, el, () => placeBox(box));
  sizable(box, grip);
  placeBox(box);
  number();
  return box;
}

function placeBox(b) {
  b.w = clamp(b.w, 4, shot.naturalWidth);
  b.h = clamp(b.h, 4, shot.naturalHeight);
  b.x = clamp(b.x, 0, shot.naturalWidth - b.w);
  b.y = clamp(b.y, 0, shot.naturalHeight - b.h);
  b.el.style.left = `${(100 * b.x) / shot.naturalWidth}%`;
  b.el.style.top = `${(100 * b.y) / shot.naturalHeight}%`;
  b.el.style.width = `${(100 * b.w) / shot.naturalWidth}%`;
  b.el.style.height = `${(100 * b.h) / shot.naturalHeight}%`;
  named(b);
}

// number names boxes and their lines alike.
function number() {
  for (const b of boxes) named(b);
  $("save").disabled = turned || !boxes.some((b) => portion(b));
}

const portion = (b) => b.item.querySelector(".portion").value;

function named(b) {
  const name = `box ${boxes.indexOf(b) + 1}`;
  b.item.querySelector(".which").textContent = name;
  b.item.querySelector(".drop-part").setAttribute("aria-label", `Remove ${name}`);
  b.item.querySelector(".value").setAttribute("aria-label", `Colour of ${name}`);
  b.label.textContent = portion(b).split("/").pop() || name;
  b.el.setAttribute("aria-label", `${name}${portion(b) ? ` on ${portion(b)}` : ""}, at ${b.x}, ${b.y}, ${b.w} by ${b.h} pixels`);
}

// pixels is how many pixels of the photograph one of the screen is.
const pixels = () => shot.naturalWidth / shot.getBoundingClientRect().width;

// movable lets something be dragged and nudged.
function movable(thing, el, moved) {
  let from = null;
  el.addEventListener("pointerdown", (e) => {
    if (e.button !== 0) return;
    from = { x: thing.x, y: thing.y, px: e.clientX, py: e.clientY, sx: $("stage").scrollLeft, sy: $("stage").scrollTop };
    el.setPointerCapture(e.pointerId);
    el.classList.add("held");
    el.focus();
    look(thing, e);
  });
  el.addEventListener("pointermove", (e) => {
    if (!from) return;
    thing.x = Math.round(from.x + (e.clientX - from.px + $("stage").scrollLeft - from.sx) * pixels());
    thing.y = Math.round(from.y + (e.clientY - from.py + $("stage").scrollTop - from.sy) * pixels());
    moved();
    look(thing, e);
  });
  const end = () => {
    if (!from) return;
    from = null;
    el.classList.remove("held");
    loupe.hidden = true;
    later();
  };
  el.addEventListener("pointerup", end);
  el.addEventListener("pointercancel", end);
  el.addEventListener("lostpointercapture", end);
  el.addEventListener("keydown", (e) => {
    const step = e.shiftKey ? 10 : 1;
    switch (e.key) {
      case "ArrowLeft": thing.x -= step; break;
      case "ArrowRight": thing.x += step; break;
      case "ArrowUp": thing.y -= step; break;
      case "ArrowDown": thing.y += step; break;
      case "+": case "-":
        if (!thing.w) return;
        thing.w += e.key === "+" ? 2 : -2;
        thing.h += e.key === "+" ? 2 : -2;
        break;
      default: return;
    }
    e.preventDefault();
    moved();
    look(thing, null);
    later();
  });
  el.addEventListener("focus", () => look(thing, null));
  el.addEventListener("blur", () => { loupe.hidden = true; });
}

// sizable lets a box be drawn larger and smaller by its grip.
function sizable(box, grip) {
  let from = null;
  grip.addEventListener("pointerdown", (e) => {
    e.stopPropagation();
    from = { w: box.w, h: box.h, px: e.clientX, py: e.clientY };
    grip.setPointerCapture(e.pointerId);
  });
  grip.addEventListener("pointermove", (e) => {
    if (!from) return;
    e.stopPropagation();
    box.w = Math.round(from.w + (e.clientX - from.px) * pixels());
    box.h = Math.round(from.h + (e.clientY - from.py) * pixels());
    placeBox(box);
  });
  for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) {
    grip.addEventListener(name, (e) => {
      e.stopPropagation();
      if (from) { from = null; later(); }
    });
  }
}

// look shows the place under the hand enlarged, on the side where the hand is not.
function look(thing, e) {
  const cx = thing.w ? thing.x + thing.w / 2 : thing.x + 0.5, cy = thing.w ? thing.y + thing.h / 2 : thing.y + 0.5;
  const c = loupe.getContext("2d");
  const half = Math.max(12, 14 * pixels());
  const at = thing.el.getBoundingClientRect();
  loupe.classList.toggle("left", (e ? e.clientX : at.left) > innerWidth / 2);
  loupe.hidden = false;
  c.imageSmoothingEnabled = false;
  c.fillStyle = "#777";
  c.fillRect(0, 0, 160, 160);
  c.drawImage(shot, cx - half, cy - half, 2 * half, 2 * half, 0, 0, 160, 160);
  for (const [style, width] of [["#000", 3], ["#fff", 1]]) {
    c.strokeStyle = style;
    c.lineWidth = width;
    c.beginPath();
    if (thing.w) {
      const s = 80 / half;
      c.rect(80 - (thing.w / 2) * s, 80 - (thing.h / 2) * s, thing.w * s, thing.h * s);
    } else {
      c.moveTo(80, 56); c.lineTo(80, 74); c.moveTo(80, 86); c.lineTo(80, 104);
      c.moveTo(56, 80); c.lineTo(74, 80); c.moveTo(86, 80); c.lineTo(104, 80);
    }
    c.stroke();
  }
}

// draw shows where the 24 patches lie between the corners.
function draw() {
  net.replaceChildren();
  const q = rings.filter((r) => r.kind === "corner");
  if (q.length !== 4) return;
  const poly = document.createElementNS(svgNS, "polygon");
  poly.setAttribute("points", q.map((r) => `${r.x},${r.y}`).join(" "));
  net.append(poly);
  const map = projected(q);
  const size = Math.hypot(q[1].x - q[0].x, q[1].y - q[0].y) / 5 / 5;
  for (let row = 0; row < 4; row++) {
    for (let col = 0; col < 6; col++) {
      const [x, y] = map(col / 5, row / 3);
      for (const name of ["under", "over"]) {
        const dot = document.createElementNS(svgNS, "circle");
        dot.setAttribute("class", name);
        dot.setAttribute("cx", x);
        dot.setAttribute("cy", y);
        dot.setAttribute("r", Math.max(2, size));
        net.append(dot);
      }
    }
  }
}

// projected maps the unit square onto four corners going round, as a camera does
// (P. S. Heckbert, Fundamentals of Texture Mapping and Image Warping, 1989, 2.2.3).
function projected([a, b, c, d]) {
  const sx = a.x - b.x + c.x - d.x, sy = a.y - b.y + c.y - d.y;
  const x1 = b.x - c.x, x2 = d.x - c.x, y1 = b.y - c.y, y2 = d.y - c.y;
  const det = x1 * y2 - x2 * y1 || 1e-9;
  const g = (sx * y2 - x2 * sy) / det, h = (x1 * sy - sx * y1) / det;
  return (u, v) => {
    const w = g * u + h * v + 1;
    return [
      ((b.x - a.x + g * b.x) * u + (d.x - a.x + h * d.x) * v + a.x) / w,
      ((b.y - a.y + g * b.y) * u + (d.y - a.y + h * d.y) * v + a.y) / w,
    ];
  };
}

// hatch strikes through what is at the end of a channel: no colour can be read there.
function hatch() {
  const canvas = $("clipped");
  const scale = Math.min(1, 800 / Math.max(shot.naturalWidth, shot.naturalHeight));
  canvas.width = Math.max(1, Math.round(shot.naturalWidth * scale));
  canvas.height = Math.max(1, Math.round(shot.naturalHeight * scale));
  canvas.hidden = !$("hatch").checked;
  if (canvas.hidden) return;
  const c = canvas.getContext("2d", { willReadFrequently: true });
  c.imageSmoothingEnabled = false;
  c.drawImage(shot, 0, 0, canvas.width, canvas.height);
  const data = c.getImageData(0, 0, canvas.width, canvas.height), px = data.data;
  for (let y = 0, i = 0; y < canvas.height; y++) {
    for (let x = 0; x < canvas.width; x++, i += 4) {
      const high = Math.max(px[i], px[i + 1], px[i + 2]), low = Math.min(px[i], px[i + 1], px[i + 2]);
      const stripe = (x + y) % 12;
      const on = (high >= 254 || low <= 1) && stripe < 6;
      px[i] = px[i + 1] = px[i + 2] = stripe < 3 ? 0 : 255;
      px[i + 3] = on ? 255 : 0;
    }
  }
  c.putImageData(data, 0, 0);
}

// question is what the program is asked, in the words of the command's flags.
function question(list) {
  const by = $("by").value;
  const at = (r) => `${r.x},${r.y}`;
  return {
    patches: list.map((b) => `${portion(b) ? `${portion(b)}=` : ""}${b.x},${b.y},${b.w},${b.h}`),
    chart: by === "chart" ? rings.filter((r) => r.kind === "corner").map(at).join(" ") : "",
    edition: by === "chart" ? $("edition").value : "",
    greys: by === "grey" ? rings.filter((r) => r.kind === "grey").map((r) => `${at(r)}=${$("grey").value}`) : [],
    sheet: rings.filter((r) => r.kind === "sheet").map(at),
    sheet_lab: by === "nothing" ? $("sheetlab").value.trim() : "",
  };
}

// later asks anew once the hand has rested.
function later() {
  clearTimeout(timer);
  $("answer").dataset.state = "waiting";
  timer = setTimeout(read, 250);
}

async function read() {
  const mine = ++asked, list = [...boxes];
  asking?.abort();
  asking = new AbortController();
  if (!file || list.length === 0) return;
  try {
    const said = await put("read", question(list), asking.signal);
    if (mine !== asked) return;
    list.forEach((b, i) => tell(b, said.patches[i]));
    taken = Boolean(said.taken_at);
    $("when").textContent = taken
      ? `Empty takes the camera’s date: ${said.understood}. Else 2026-11-24 14:30, yesterday, day 14.`
      : "The camera wrote no date: say when it was taken, 2026-11-24 14:30, yesterday, day 14.";
    const lines = [`Corrected by: ${said.rung}.`, ...said.warnings, ...said.left_out.map((t) => `left out: ${t}`)];
    if (said.sheet_lab_d50) {
      lines.push(`the sheet is ${said.sheet_lab_d50.map((v) => v.toFixed(1)).join(", ")} (L*, a*, b*, D50) here: give that where the same sheet lies without a chart`);
    }
    turned = said.width_px !== shot.naturalWidth || said.height_px !== shot.naturalHeight;
    if (turned) lines.unshift("This browser shows the photograph turned otherwise than the program reads it; export it as JPEG first.");
    number();
    show(lines);
    $("answer").className = "";
    $("answer").dataset.state = "read";
  } catch (e) {
    if (mine !== asked) return;
    for (const b of list) tell(b, null);
    // Not above the photograph: that would push it away under the hand.
    show([e.message]);
    $("answer").className = "fault";
    $("answer").dataset.state = "refused";
  }
}

function show(lines) {
  $("answer").replaceChildren(...lines.map((t) => {
    const p = document.createElement("p");
    p.textContent = t.startsWith(file.name) ? t : t.charAt(0).toUpperCase() + t.slice(1);
    return p;
  }));
}

// tell shows what was read of a box.
function tell(b, said) {
  const value = b.item.querySelector(".value");
  const fill = value.querySelector("rect"), chip = value.querySelector("svg");
  const lab = said && said.lab;
  chip.toggleAttribute("hidden", !lab);
  value.querySelector(".hex").textContent = lab ? said.hex : "";
  value.querySelector(".name").textContent = lab ? said.name : "no colour yet";
  value.querySelector(".numbers").textContent = lab ? `L* ${lab[0].toFixed(2)}  a* ${lab[1].toFixed(2)}  b* ${lab[2].toFixed(2)} (D65)` : "";
  const notes = said ? said.notes : [];
  value.querySelector(".doubt").textContent = lab
    ? [`ΔE00 ±${said.u_absolute.toFixed(1)} as a colour, ±${said.u_trend.toFixed(1)} as a trend (95 in 100)`, ...notes].join("; ")
    : said ? said.why : "";
  if (lab) fill.setAttribute("fill", said.hex);
}

async function save(e) {
  e.preventDefault();
  const list = boxes.filter((b) => portion(b));
  if (list.length === 0) return;
  $("saved").textContent = "";
  if (!taken && !$("at").value.trim()) {
    fault("The camera wrote no date: say under “Taken” when it was taken. Nothing was saved.");
    $("at").focus();
    return;
  }
  fault("");
  $("save").disabled = true;
  try {
    const said = await put("save", { ...question(list), at: $("at").value, face: $("face").value, keep_edition: editionChosen, early: $("early").checked, note: $("note").value });
    const codes = [...new Set(list.map((b) => portion(b).split("/")[0]))];
    const words = said.added > 0 ? `Saved ${said.added === 1 ? "1 reading" : `${said.added} readings`}, ${said.understood}. ` : "In the book already, nothing was added. ";
    $("saved").replaceChildren(words, ...codes.map((code) => {
      const a = document.createElement("a");
      a.href = `/batches/${encodeURIComponent(code)}`;
      a.textContent = `See ${code} `;
      return a;
    }));
  } catch (err) {
    fault(`${err.message}. Nothing was saved.`);
  } finally {
    number();
  }
}

function magnify(to) {
  const stage = $("stage");
  const fx = (stage.scrollLeft + stage.clientWidth / 2) / board.clientWidth, fy = (stage.scrollTop + stage.clientHeight / 2) / board.clientHeight;
  zoom = clamp(to, 1, 8);
  // At 100 % the whole photograph is in sight.
  board.style.width = `${Math.floor(Math.min(stage.clientWidth, (0.78 * innerHeight * shot.naturalWidth) / shot.naturalHeight) * zoom)}px`;
  stage.scrollLeft = fx * board.clientWidth - stage.clientWidth / 2;
  stage.scrollTop = fy * board.clientHeight - stage.clientHeight / 2;
  $("zoom").textContent = `${Math.round(100 * zoom)} %`;
}

$("photo").addEventListener("change", (e) => choose(e.target.files[0]));
for (const name of ["dragenter", "dragover"]) {
  addEventListener(name, (e) => { e.preventDefault(); $("drop").classList.add("over"); });
}
addEventListener("dragleave", () => $("drop").classList.remove("over"));
addEventListener("drop", (e) => {
  e.preventDefault();
  $("drop").classList.remove("over");
  choose(e.dataTransfer.files[0]);
});
$("by").addEventListener("change", () => { laid(); later(); });
$("edition").addEventListener("change", () => { editionChosen = true; });
for (const id of ["edition", "grey", "sheetlab"]) $(id).addEventListener("change", later);
$("hatch").addEventListener("change", hatch);
$("more").addEventListener("click", () => { addBox().el.focus(); later(); });
$("spot").addEventListener("click", () => {
  const n = rings.filter((r) => r.kind === "sheet").length;
  addRing("sheet", `${n + 1} sheet`, shot.naturalWidth * (0.1 + 0.8 * ((n % 5) / 4)), shot.naturalHeight * (n % 2 ? 0.9 : 0.1)).el.focus();
  later();
});
$("in").addEventListener("click", () => magnify(zoom * 1.5));
$("out").addEventListener("click", () => magnify(zoom / 1.5));
addEventListener("resize", () => { if (file) magnify(zoom); });
$("work").addEventListener("submit", save);
// The browser's own dragging of pictures and text would take the rings out of the hand.
board.addEventListener("dragstart", (e) => e.preventDefault());
