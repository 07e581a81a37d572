// Draws what /events tells. Every field of the status stands in src/shell/socket/ASKING.md.
"use strict";

// Seconds that a drawing shows.
const SHOWN_S = 20;
// Without news for so long, what stands here is old.
const OLD_MS = 1000;
// Lines of the log that are shown, the newest first.
const LINES = 12;

const $ = (id) => document.getElementById(id);
const cards = new Map();
let heard = null;

function text(node, words) {
  if (node.textContent !== words) node.textContent = words;
}

function signed(x, digits) {
  const rounded = x.toFixed(digits);
  return Number(rounded) === 0 ? (0).toFixed(digits) : x > 0 ? "+" + rounded : rounded;
}

function clock(seconds) {
  const whole = Math.floor(seconds);
  const two = (n) => String(n).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

// Makes the items of a list those of `rows`: [words, whether it is on].
function list(node, rows) {
  while (node.children.length > rows.length) node.lastChild.remove();
  while (node.children.length < rows.length) node.append(document.createElement("li"));
  rows.forEach(([words, on], n) => {
    text(node.children[n], words);
    node.children[n].classList.toggle("on", on);
  });
}

function group(row) {
  const pad = row.pad === null ? "no pad" : row.pad;
  const silent = row.silence_bound_s !== null && row.silent_s > row.silence_bound_s / 2;
  const silence = silent ? `, silent for ${row.silent_s.toFixed(1)} of ${row.silence_bound_s.toFixed(1)} s` : "";
  return [`${row.name}: gear ${row.gear} of ${row.gears}, ${pad}${silence}`, false];
}

function link(row, stopped) {
  const words = [row.ready ? "ok" : row.open ? "greeting the rig" : "none"];
  if (row.energised === false) words.push("motor power off");
  if (row.supply_v !== null) words.push(`${row.supply_v.toFixed(1)} V`);
  if (row.drive_c !== null) words.push(`${row.drive_c} °C`);
  if (stopped !== null) words.push("journal stopped");
  return words.join(", ");
}

function why(axis) {
  const full = `a full stick is ${axis.full_stick.toFixed(2)} ${axis.unit}/s`;
  const because = axis.ceiling === null ? "" : `, because of the ${axis.ceiling}`;
  const trigger = axis.trigger < 1 ? `, of which the trigger leaves ${Math.round(axis.trigger * 100)} %` : "";
  const edges = axis.band === null ? "" : `; ${axis.band[0].toFixed(2)} to ${axis.band[1].toFixed(2)} is avoided`;
  return full + because + trigger + edges;
}

function where(axis) {
  const at = `at ${axis.position.toFixed(1)} ${axis.unit}`;
  const goes = axis.travel === null ? ", round and round" : ` of ${axis.travel[0]} to ${axis.travel[1]}`;
  const stop = axis.stop_s > 0 ? `; a stop takes ${axis.stop_s.toFixed(2)} s, ${axis.stop_distance.toFixed(2)} ${axis.unit}` : "";
  return at + goes + stop;
}

function notes(axis) {
  const words = [];
  if (axis.place === "unreferenced") words.push("has no reference: its travel is not guarded");
  if (axis.place === "outside") words.push("outside its travel: inward only");
  if (axis.mover !== "sticks") words.push(`moved by ${axis.mover}`);
  if (axis.enable === "wanted") words.push("hold the enable control to move it");
  if (axis.enable === "unbound") words.push("no enable control is bound");
  if (axis.current === "lowered") words.push("holds with less current");
  return words.join("; ");
}

// Where on its travel an axis stands, from 0 to 1.
function share(axis, position) {
  const [low, high] = axis.travel;
  return Math.min(1, Math.max(0, (position - low) / (high - low)));
}

function travel(bar, axis) {
  bar.classList.toggle("endless", axis.travel === null);
  const [stop, at] = [bar.querySelector(".stop"), bar.querySelector(".at")];
  at.hidden = stop.hidden = axis.travel === null;
  if (axis.travel === null) return;
  const here = share(axis, axis.position);
  const rest = share(axis, axis.position + Math.sign(axis.speed) * axis.stop_distance);
  at.style.left = `${here * 100}%`;
  stop.style.left = `${Math.min(here, rest) * 100}%`;
  stop.style.width = `${Math.abs(here - rest) * 100}%`;
}

function draw(canvas, past, now) {
  const [wide, high] = [canvas.clientWidth, canvas.clientHeight];
  const dots = window.devicePixelRatio || 1;
  canvas.width = Math.round(wide * dots);
  canvas.height = Math.round(high * dots);
  const pen = canvas.getContext("2d");
  pen.scale(dots, dots);
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name);
  const most = 1.1 * Math.max(...past.map((p) => Math.max(p.full, Math.abs(p.speed)))) || 1;
  const x = (p) => wide * (1 - (now - p.t) / 1000 / SHOWN_S);
  const y = (speed) => (high / 2) * (1 - speed / most);
  const line = (of, ink, width, dashes) => {
    pen.beginPath();
    pen.strokeStyle = colour(ink);
    pen.lineWidth = width;
    pen.setLineDash(dashes);
    past.forEach((p, n) => (n === 0 ? pen.moveTo(x(p), y(of(p))) : pen.lineTo(x(p), y(of(p)))));
    pen.stroke();
  };
  pen.fillStyle = colour("--line");
  pen.fillRect(0, high / 2 - 0.5, wide, 1);
  line((p) => p.full, "--soft", 1, [4, 4]);
  line((p) => -p.full, "--soft", 1, [4, 4]);
  line((p) => p.asked, "--soft", 1, []);
  line((p) => p.speed, "--accent", 3, []);
}

function show(axis, now) {
  let card = cards.get(axis.name);
  if (card === undefined) {
    const node = $("axis").content.cloneNode(true).firstElementChild;
    $("axes").append(node);
    card = { node, past: [] };
    cards.set(axis.name, card);
  }
  const part = (selector) => card.node.querySelector(selector);
  text(part("h2"), axis.name);
  text(part(".speed"), `${signed(axis.speed, 2)} ${axis.unit}/s`);
  text(part(".full"), why(axis));
  text(part(".where"), where(axis));
  text(part(".notes"), notes(axis));
  travel(part(".travel"), axis);
  card.past.push({ t: now, speed: axis.speed, full: axis.full_stick, asked: axis.demand * axis.full_stick });
  while (card.past[0].t < now - SHOWN_S * 1000) card.past.shift();
  draw(part("canvas"), card.past, now);
}

function news(status) {
  const now = performance.now();
  heard = now;
  old();
  document.title = `${status.state} · ${status.rig}`;
  text($("state"), status.state);
  // The state in a word stands above.
  const word = `${status.state}: `;
  text($("says"), status.says.startsWith(word) ? status.says.slice(word.length) : status.says);
  document.querySelector(".state").classList.toggle("attention", status.state !== "driving");
  text($("rig"), status.rig);
  text($("operator"), status.operator);
  text($("link"), link(status.link, status.journal_stopped));
  text($("since"), status.since_start_s === null ? "not begun" : clock(status.since_start_s));
  list($("modes"), Object.entries(status.modes).map(([name, is]) => [`${name} ${is}`, is !== "off"]));
  list($("groups"), status.groups.map(group));
  const files = [status.files.waits, status.files.wrong].filter((words) => words !== null);
  $("wrong").hidden = files.length === 0;
  text($("wrong"), files.join("\n"));
  const names = status.axes.map((axis) => axis.name);
  for (const [name, card] of cards) {
    if (names.includes(name)) continue;
    card.node.remove();
    cards.delete(name);
  }
  status.axes.forEach((axis) => show(axis, now));
  list($("told"), status.told.slice(-LINES).reverse().map((line) => [line.says, false]));
}

// Says so when there has been no news for a while.
function old() {
  const since = heard === null ? 0 : performance.now() - heard;
  const is = since > OLD_MS;
  document.body.classList.toggle("old", is);
  $("stale").hidden = !is;
  if (is) text($("stale"), `No news from the daemon for ${Math.round(since / 1000)} s: what stands here is old.`);
}

const events = new EventSource("events");
events.onmessage = (event) => news(JSON.parse(event.data));
setInterval(old, 250);
