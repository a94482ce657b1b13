// @ts-check
"use strict";
// The page of a kit: shows both rings of a rig for any subject distance. It computes nothing of its
// own: settings and limits are read between the rows of tables that focuschart made.

/** Lengths in mm, arcs in mm on the ruler; null stands for infinity.
 * @typedef {number[]} Steps the number of decimals, then the first figure and each difference
 * @typedef {number[]} Bends the number of decimals, the first figure, the first difference, and how
 *   each further figure is off the line through the two before
 * @typedef {{rows: Steps, columns: Record<string, Bends>}} PackedTable
 * @typedef {{rows: number[], columns: Record<string, number[]>}} Table
 * @typedef {{length: number, width: number, lead: number, ruler: number, turns: number,
 *   side: "camera" | "subject", brackets: Record<string, [number, number]>,
 *   strokes: [number, number, number, number[]][], paths: [string, number, number, number][],
 *   texts: [string, number, number, number, number, string, number, number][], why?: string}} Strip
 * @typedef {{name: string, code: string, turns: string, ends: [number, number],
 *   words: [number, string][], strip: Strip}} Ring
 * @typedef {"taking" | "attachment"} Which
 * @typedef {{id: string, name: string, parts: string, code: string, stops: number[],
 *   working: number, marks: (number | null)[], slider: (number | null)[], nearest: number,
 *   read: number | null, contradicted: boolean, fullStops: number[], pole: number,
 *   settings: PackedTable, zones: PackedTable, rings: Partial<Record<Which, Ring>>,
 *   missing: string[], notes: string[]}} Rig
 * @typedef {{kit: string, units: "metric" | "imperial" | "both", gauge: number,
 *   seen: number, rigs: Rig[], left: string[]}} Kit
 * @typedef {{rig: Rig, distance: number, stop: number, gauge: number}} State
 */

const INCH = 25.4;
const FARTHEST = 1e7;
const WINDOW = 52;
const INDEX = 5;
const CAPITALS = 0.72;
const SVG = "http://www.w3.org/2000/svg";
const TURN_WAIT = 250;
/** @type {Which[]} */
const RINGS = ["attachment", "taking"];

// --- the look, before anything is drawn ----------------------------------------------------------

/** @param {string} name */
function fromAddress(name) {
  try {
    return new URLSearchParams(location.hash.slice(1)).get(name);
  } catch {
    return null;
  }
}

/** @returns {"day" | "night"} */
function systemLook() {
  return matchMedia("(prefers-color-scheme: dark)").matches ? "night" : "day";
}

function wantedLook() {
  const asked = fromAddress("look");
  return asked === "day" || asked === "night" ? asked : systemLook();
}

document.documentElement.dataset.look = wantedLook();

// --- distances as texts --------------------------------------------------------------------------

/** @param {number} value @param {number} decimals */
function trimmed(value, decimals) {
  const text = value.toFixed(decimals);
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

/** @param {number} inches */
function feetInches(inches) {
  const feet = Math.floor(inches / 12), rest = trimmed(inches - 12 * feet, 2);
  if (!feet) return rest + '"';
  return feet + "'" + (rest === "0" ? "" : rest + '"');
}

/** @param {number} mm */
function metric(mm) {
  return mm === Infinity ? "∞" : trimmed(mm / 1000, 3) + " m";
}

/** @param {number} mm */
function imperial(mm) {
  return mm === Infinity ? "∞" : feetInches(Number((mm / INCH).toFixed(1)));
}

/** @param {number} near @param {number} far @param {number[]} steps */
function inward(near, far, steps) {
  const span = far === Infinity ? near : far - near;
  let low = near, high = far, used = steps[0];
  for (const step of steps) {
    low = Math.ceil(near / step - 1e-9) * step;
    high = far === Infinity ? far : Math.floor(far / step + 1e-9) * step;
    used = step;
    const loss = low - near + (far === Infinity ? 0 : far - high);
    if (low < high && (loss <= 0.1 * span || step === steps[steps.length - 2])) break;
  }
  return { low, high, used };
}

/** Limits as texts, rounded inward so as not to promise too much.
 * @param {number} near @param {number} far @param {boolean} feet @returns {[string, string]} */
function limits(near, far, feet) {
  if (feet) {
    const { low, high } = inward(near / INCH, far / INCH, [12, 1, 0.5, 0.1, 0.01]);
    /** @param {number} at */
    const text = (at) => (at === Infinity ? "∞" : feetInches(Number(at.toFixed(2))));
    return [text(low), text(high)];
  }
  const steps = [1, 0.1, 0.01, 0.001, 0.0001];
  const { low, high, used } = inward(near / 1000, far / 1000, steps);
  /** @param {number} at */
  const text = (at) => (at === Infinity ? "∞" : at.toFixed(steps.indexOf(used)));
  return [text(low), text(high)];
}

const TERM = /^\s*(\d+(?:\.\d+)?(?![\d./])|\.\d+(?![\d./]))?\s*(\d+\/\d+)?\s*(mm|cm|m|in|ft|"|')/;
/** @type {Record<string, number>} */
const UNIT = { mm: 1, cm: 10, m: 1000, in: INCH, '"': INCH, ft: 12 * INCH, "'": 12 * INCH };

/** A typed distance in mm, null where it is none. A bare number is in metres, or in feet.
 * @param {string} typed @param {boolean} feet @returns {number | null} */
function parsed(typed, feet) {
  let text = typed.trim().replace(/[’′]/g, "'").replace(/[”″]/g, '"').replace(/(\d),(\d)/g, "$1.$2");
  if (/^(inf|∞)$/.test(text)) return Infinity;
  if (!text || text.length > 40) return null;
  if (/^(\d+(\.\d+)?|\.\d+)$/.test(text)) text += feet ? " ft" : " m";
  /** @type {[number, number][]} */
  const terms = [];
  while (text) {
    const match = TERM.exec(text);
    if (!match || !(match[1] || match[2])) return null;
    const [above, below] = (match[2] || "0/1").split("/").map(Number);
    if (!below) return null;
    terms.push([Number(match[1] || 0) + above / below, UNIT[match[3]]]);
    text = text.slice(match[0].length);
  }
  if (terms.length > 1 && (terms.length > 2 || terms[0][1] !== 12 * INCH || terms[1][1] !== INCH)) return null;
  return terms.reduce((sum, [amount, unit]) => sum + amount * unit, 0);
}

// --- tables --------------------------------------------------------------------------------------

/** @param {PackedTable} packed @returns {Table} */
function tableOf(packed) {
  const [decimals, ...steps] = packed.rows;
  let whole = 0;
  const rows = steps.map((step) => (whole += step));
  const columns = Object.entries(packed.columns).map(([name, bends]) => [name, unbent(bends, rows)]);
  return { rows: rows.map((row) => row / 10 ** decimals), columns: Object.fromEntries(columns) };
}

/** A column from its bends, in the whole numbers that `_bends` in rig.py made them of.
 * @param {Bends} packed @param {number[]} rows */
function unbent([decimals, first, ...bends], rows) {
  const column = [first];
  let step = 0;
  bends.forEach((bend, k) => {
    const onward = k ? (step * (rows[k + 1] - rows[k])) / (rows[k] - rows[k - 1]) : 0;
    step = Math.floor(onward + 0.5) + bend;
    column.push(column[k] + step);
  });
  return column.map((whole) => whole / 10 ** decimals);
}

/** The number of the row before a place, with one after it.
 * @param {number[]} rows @param {number} at */
function cellOf(rows, at) {
  let low = 0, high = rows.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (rows[middle] <= at) low = middle;
    else high = middle;
  }
  return low;
}

/** @param {Table} table @param {string} name @param {number} at */
function straight(table, name, at) {
  const { rows } = table, column = table.columns[name], cell = cellOf(rows, at);
  const share = Math.min((at - rows[cell]) / (rows[cell + 1] - rows[cell]), 1);
  return column[cell] + share * (column[cell + 1] - column[cell]);
}

/** Hermite's cubic, each slope that of the parabola through three rows: `cubic` in table.py.
 * @param {Table} table @param {string} name @param {number} at */
function cubic(table, name, at) {
  const { rows } = table, column = table.columns[name], cell = cellOf(rows, at);
  /** @param {number} k */
  const secant = (k) => (column[k + 1] - column[k]) / (rows[k + 1] - rows[k]);
  /** @param {number} k @returns {number} */
  const slope = (k) => {
    if (k === 0) return 2 * secant(0) - slope(1);
    if (k === rows.length - 1) return 2 * secant(k - 1) - slope(k - 1);
    const before = rows[k] - rows[k - 1], after = rows[k + 1] - rows[k];
    return (secant(k - 1) * after + secant(k) * before) / (before + after);
  };
  const step = rows[cell + 1] - rows[cell], share = (at - rows[cell]) / step;
  const rise = column[cell + 1] - column[cell], start = slope(cell) * step, end = slope(cell + 1) * step;
  return column[cell] + share * (start + share * (3 * rise - 2 * start - end + share * (start + end - 2 * rise)));
}

/** What the tables of a rig say of a distance and a stop.
 * @param {State} state @param {{settings: Table, zones: Table}} tables */
function readOff(state, tables) {
  const { rig, distance, stop } = state, { settings, zones } = tables;
  const at = Math.min(distance === Infinity ? 0 : 1 / (distance - rig.pole), zones.rows[zones.rows.length - 1]);
  /** @param {string} name */
  const zone = (name) => straight(zones, `${name}:${stop}`, at);
  /** @param {string} name */
  const limit = (name) => {
    const nearness = zone(name);
    return nearness > 0 ? 1 / nearness + rig.pole : Infinity;
  };
  /** @param {string} name @returns {[number, number]} */
  const both = (name) => [limit(`${name}Near`), limit(`${name}Far`)];
  const vertical = both("vertical"), horizontal = both("horizontal");
  /** @type {[number, number]} */
  const frame = [Math.max(vertical[0], horizontal[0]), Math.min(vertical[1], horizontal[1])];
  const whole = "need" in zones.columns;
  /** @param {Which} which */
  const arc = (which) => (which in settings.columns ? cubic(settings, which, at) : null);
  return {
    vertical, horizontal, frame,
    arcs: { taking: arc("taking"), attachment: arc("attachment") },
    locked: whole ? both("locked") : null,
    lockedArcs: whole ? [zone("lockedNearArc"), zone("lockedFarArc")] : null,
    need: whole ? straight(zones, "need", at) : null,
    squeeze: [cubic(settings, "squeeze", at), cubic(settings, "squeeze95", at)],
    shares: [cubic(settings, "gauge", at), zone("gaugeNear"), zone("gaugeFar")],
  };
}

/** The first full stop from which a distance is sure, null where none is.
 * @param {Rig} rig @param {ReturnType<typeof readOff>} read */
function sureFrom(rig, read) {
  if (rig.contradicted || read.need === null) return null;
  for (const which of RINGS) {
    const ring = rig.rings[which], arc = read.arcs[which];
    if (ring && arc !== null && !(ring.ends[0] < arc && arc < ring.ends[1])) return null;
  }
  const widest = Math.min(...rig.stops), need = 0.99 * Math.max(read.need, widest);
  return rig.fullStops.find((stop) => stop >= need) ?? null;
}

/** @param {[number, string][]} words @param {number} arc */
function wordsAt(words, arc) {
  let text = "";
  for (const [from, said] of words) if (arc >= from) text = said;
  return text;
}

// --- a strip -------------------------------------------------------------------------------------

/** @param {string} name @param {Record<string, string | number>} attributes @param {string} [text] */
function svg(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (text !== undefined) made.textContent = text;
  return made;
}

/** The shapes of a strip once round, y downward from its upper edge.
 * @param {Strip} strip @param {number} x @param {number} y */
function stripShapes(strip, x, y) {
  const group = svg("g", { transform: `translate(${x} ${y})` }), high = strip.width;
  group.append(svg("rect", { x: 0, y: 0, width: strip.length, height: high, class: "paper" }));
  for (const [foot, top, stroke, places] of strip.strokes) {
    const d = places.map((x) => `M${x} ${high - foot}V${high - top}`).join("");
    group.append(svg("path", { d, stroke: "currentColor", "stroke-width": stroke }));
  }
  const fills = ["none", "currentColor"];
  for (const [corners, stroke, closed, fill] of strip.paths) {
    const points = corners.split(" ").map((corner) => corner.split(",").map(Number));
    const path = points.map(([x, y]) => `${x},${high - y}`).join(" ");
    group.append(svg(closed ? "polygon" : "polyline", {
      points: path, "stroke-width": stroke, stroke: stroke ? "currentColor" : "none",
      ...(fill === 2 ? { class: "paper" } : { fill: fills[fill] }),
    }));
  }
  for (const [text, x, y, capitals, width, anchor, degrees, onInk] of strip.texts) {
    group.append(svg("text", {
      x, y: high - y, "font-size": capitals / CAPITALS, "text-anchor": anchor, textLength: width,
      lengthAdjust: "spacingAndGlyphs", transform: `rotate(${degrees} ${x} ${high - y})`,
      ...(onInk ? { class: "on-ink" } : {}),
    }, text));
  }
  return group;
}

/** Draws a ring once; the function returned turns it to an arc.
 * @param {Which} which @param {Ring} ring */
function drawRing(which, ring) {
  const { strip } = ring, below = strip.side === "camera";
  const top = below ? 0 : INDEX, edge = below ? strip.width : INDEX, away = below ? 1 : -1;
  const figure = document.createElement("figure");
  const caption = document.createElement("figcaption");
  const name = document.createElement("span"), said = document.createElement("b");
  const engraved = document.createElement("span");
  name.dir = "auto";
  name.textContent = ring.name;
  engraved.className = "engraved";
  said.dataset.key = `${which}-arc-mm`;
  caption.append(name, said, engraved);
  const picture = svg("svg", { viewBox: `0 0 ${WINDOW} ${strip.width + INDEX}`, role: "img" });
  const moving = svg("g", { class: "moving" });
  // Three times round, so that the seam may pass the index.
  for (const round of [-1, 0, 1]) moving.append(stripShapes(strip, round * strip.length, top));
  const middle = WINDOW / 2;
  const bracket = svg("polyline", { class: "bracket", "stroke-width": 0.3 });
  picture.append(
    moving, bracket,
    svg("path", { d: `M${middle} ${top}V${top + strip.width}`, class: "over", "stroke-width": 0.18 }),
    svg("polygon", {
      points: `${middle},${edge} ${middle - 0.8},${edge + away * 1.9} ${middle + 0.8},${edge + away * 1.9}`,
      class: "index",
    }),
    svg("path", { d: `M${middle} ${edge}V${edge + away * INDEX}`, class: "index", "stroke-width": 0.3 }),
  );
  figure.append(...(below ? [picture, caption] : [caption, picture]));
  if (strip.why) {
    const why = document.createElement("p");
    why.textContent = `Its strip cannot be drawn: ${strip.why}`;
    picture.remove();
    figure.append(why);
  }
  /** @param {number} arc @param {number} stop */
  const turn = (arc, stop) => {
    const x = (((arc * strip.ruler + strip.lead) % strip.length) + strip.length) % strip.length;
    moving.setAttribute("transform", `translate(${middle - x} 0)`);
    const [left, right] = strip.brackets[String(stop)] ?? [0, 0], y = edge + away * 3.6;
    bracket.setAttribute("points", [
      [middle - left, y - away], [middle - left, y], [middle + right, y], [middle + right, y - away],
    ].map((corner) => corner.join(",")).join(" "));
    const words = wordsAt(ring.words, arc);
    said.textContent = arc.toFixed(1);
    engraved.textContent = words;
    said.dataset.value = String(arc);
    picture.setAttribute("aria-label", `${which} ring: ruler figure ${arc.toFixed(1)}${words ? `, engraved ${words}` : ""}`);
  };
  return { figure, turn };
}

// --- the page ------------------------------------------------------------------------------------

/** @template {HTMLElement} T @param {string} id @param {new () => T} kind @returns {T} */
function byId(id, kind) {
  const found = document.getElementById(id);
  if (!(found instanceof kind)) throw new Error(id);
  return found;
}

/** @param {string} key @param {string} text @param {number | null} [value] */
function show(key, text, value) {
  const element = document.querySelector(`[data-key="${key}"]`);
  if (!(element instanceof HTMLElement)) return;
  element.textContent = text;
  if (value !== undefined) element.dataset.value = plain(value);
}

/** A plain number, empty for infinity and for none.
 * @param {number | null} value */
function plain(value) {
  return value === null || !Number.isFinite(value) ? "" : String(value);
}

/** @param {HTMLElement} list @param {string[]} texts */
function items(list, texts) {
  list.replaceChildren(...texts.filter(Boolean).map((text) => {
    const item = document.createElement("li");
    item.dir = "auto";
    item.textContent = text;
    return item;
  }));
}

function start() {
  /** @type {Kit} */
  const kit = JSON.parse(byId("data", HTMLScriptElement).textContent ?? "");
  const feet = kit.units === "imperial";
  const choice = byId("rig", HTMLSelectElement), slider = byId("slider", HTMLInputElement);
  const typed = byId("distance", HTMLInputElement), refused = byId("refused", HTMLElement);
  const stops = byId("stop", HTMLFieldSetElement), gauge = byId("gauge", HTMLInputElement);
  const look = byId("look", HTMLButtonElement), spoken = byId("spoken", HTMLElement);
  /** @type {{settings: Table, zones: Table}} */
  let tables;
  /** @type {Partial<Record<Which, (arc: number, stop: number) => void>>} */
  let turns = {};
  /** @type {(number)[]} */
  let steps = [];
  /** @type {number | undefined} */
  let waiting;

  /** @param {number} mm */
  const main = (mm) => (feet ? imperial(mm) : metric(mm));
  /** @param {number} mm */
  const full = (mm) => (kit.units === "both" && mm !== Infinity ? `${metric(mm)} (${imperial(mm)})` : main(mm));

  for (const rig of kit.rigs) {
    const option = new Option(rig.name, rig.id);
    option.dir = "auto";
    choice.append(option);
  }
  byId("kit", HTMLElement).textContent = kit.kit;
  items(byId("left-out", HTMLElement), kit.left);
  for (const unit of document.querySelectorAll(".unit")) unit.textContent = feet ? "" : "m";

  /** The state in the address; what is unknown or impossible there is as at the start.
   * @returns {State} */
  const addressed = () => {
    const rig = kit.rigs.find((each) => each.id === fromAddress("rig")) ?? kit.rigs[0];
    const asked = fromAddress("distance_mm"), middle = rig.marks[(rig.marks.length - 1) >> 1];
    let distance = middle ?? Infinity;
    if (asked !== null && /^(inf|∞|)$/.test(asked)) distance = Infinity;
    else if (asked !== null && /^\d{1,12}(\.\d+)?$/.test(asked) && Number(asked) > 0) distance = Number(asked);
    const stop = Number(fromAddress("stop")), size = Number(fromAddress("gauge_mm"));
    return {
      rig, distance: reached(rig, distance),
      stop: rig.stops.includes(stop) ? stop : rig.working,
      gauge: size >= 1 && size <= 100000 ? size : kit.gauge,
    };
  };

  /** @param {Rig} rig @param {number} mm */
  const reached = (rig, mm) => (mm > FARTHEST ? Infinity : Math.max(mm, rig.nearest));

  let state = addressed();

  const writeAddress = () => {
    waiting = undefined;
    const parts = [
      `rig=${encodeURIComponent(state.rig.id)}`,
      `distance_mm=${state.distance === Infinity ? "inf" : state.distance}`,
      `stop=${state.stop}`,
    ];
    if (state.gauge !== kit.gauge) parts.push(`gauge_mm=${state.gauge}`);
    const shown = document.documentElement.dataset.look;
    if (shown !== systemLook()) parts.push(`look=${shown}`);
    try {
      history.replaceState(null, "", `#${parts.join("&")}`);
    } catch {
      // Some viewers of attachments have no address: the page works without one.
    }
    spoken.textContent = summary();
  };

  const summary = () => {
    const [near, far] = ["near-mm", "far-mm"].map((key) => document.querySelector(`[data-key="${key}"]`)?.textContent);
    return `${full(state.distance)} at f/${state.stop}: sharp from ${near} to ${far}. ${byId("sure", HTMLElement).textContent}`;
  };

  /** @param {boolean} soon whether to wait for the end of a movement */
  const remember = (soon) => {
    clearTimeout(waiting);
    if (soon) waiting = setTimeout(writeAddress, TURN_WAIT);
    else writeAddress();
  };

  const showRig = () => {
    const { rig } = state;
    tables = { settings: tableOf(rig.settings), zones: tableOf(rig.zones) };
    steps = rig.slider.map((step) => step ?? Infinity);
    slider.max = String(steps.length - 1);
    choice.value = rig.id;
    choice.dataset.value = rig.id;
    turns = {};
    const figures = RINGS.flatMap((which) => {
      const ring = rig.rings[which];
      if (!ring) return [];
      const drawn = drawRing(which, ring);
      turns[which] = drawn.turn;
      return [drawn.figure];
    });
    byId("strips", HTMLElement).replaceChildren(...figures);
    byId("strips", HTMLElement).hidden = figures.length === 0;
    const legend = stops.querySelector("legend");
    stops.replaceChildren(...(legend ? [legend] : []), ...rig.stops.map((stop) => {
      const label = document.createElement("label"), radio = document.createElement("input");
      radio.type = "radio";
      radio.name = "stop";
      radio.value = String(stop);
      radio.addEventListener("change", () => setState({ ...state, stop }, false));
      label.append(radio, `f/${stop}`);
      return label;
    }));
    byId("parts", HTMLElement).textContent = rig.parts;
    items(byId("missing", HTMLElement), rig.missing);
    byId("missing", HTMLElement).hidden = rig.missing.length === 0;
    items(byId("notes", HTMLElement), rig.notes);
    byId("codes", HTMLElement).replaceChildren(...[
      ...RINGS.flatMap((which) => (rig.rings[which] ? [[`strip, ${which}`, rig.rings[which].code]] : [])),
      ...(RINGS.every((which) => rig.rings[which]) ? [["card", rig.code]] : []),
    ].map(([what, code]) => {
      const row = document.createElement("div"), term = document.createElement("dt"), said = document.createElement("dd");
      term.textContent = what;
      said.textContent = code;
      row.append(term, said);
      return row;
    }));
  };

  /** @param {string} key @param {[number, number]} zone */
  const showZone = (key, [near, far]) => {
    const texts = near < far ? limits(near, far, feet) : ["none", "none"];
    show(`${key}near-mm`, texts[0], near);
    show(`${key}far-mm`, texts[1], far);
  };

  /** @param {ReturnType<typeof readOff>} read */
  const showSure = (read) => {
    const { rig, stop, distance } = state, sure = byId("sure", HTMLElement), from = sureFrom(rig, read);
    sure.hidden = read.need === null;
    sure.dataset.value = plain(from);
    const certain = from !== null && stop >= from - 1e-9;
    sure.classList.toggle("not", !certain);
    if (rig.contradicted) sure.textContent = "READINGS DISAGREE: trust no mark";
    else if (certain) sure.textContent = from < stop ? `Sure from f/${from}` : `Sure at f/${stop}`;
    else if (from === null) sure.textContent = "NOT SURE at any stop";
    else sure.textContent = `NOT SURE: from f/${from}`;
    if (rig.read !== null && distance < rig.read) {
      const small = document.createElement("small");
      small.textContent = " Nearer than the nearest reading.";
      sure.append(small);
    }
  };

  /** @param {ReturnType<typeof readOff>} read */
  const showLocked = (read) => {
    byId("locked", HTMLElement).hidden = read.locked === null;
    if (!read.locked || !read.lockedArcs) return;
    showZone("locked-", read.locked);
    const ring = state.rig.rings.taking;
    ["near", "far"].forEach((end, k) => {
      const arc = read.lockedArcs?.[k] ?? 0, words = ring ? wordsAt(ring.words, arc) : "";
      show(`locked-${end}-arc-mm`, arc.toFixed(1) + (words ? ` · ${words}` : ""), arc);
    });
  };

  /** @param {ReturnType<typeof readOff>} read */
  const showPicture = (read) => {
    show("squeeze", `${read.squeeze[0].toFixed(2)} ± ${read.squeeze[1].toFixed(2)}`, read.squeeze[0]);
    gauge.dataset.value = String(state.gauge);
    if (document.activeElement !== gauge) gauge.value = String(state.gauge);
    const [here, near, far] = read.shares;
    ["gauge-share", "gauge-near-share", "gauge-far-share"].forEach((key, k) => {
      const share = state.gauge * read.shares[k];
      show(key, `${Number((100 * share).toPrecision(3))} %`, share);
    });
    const seen = near >= (1 + kit.seen) * here && far <= (1 - kit.seen) * here && here > 0;
    byId("unseen", HTMLElement).hidden = seen;
  };

  const draw = () => {
    const { distance, stop } = state, read = readOff(state, tables);
    for (const which of RINGS) {
      const arc = read.arcs[which];
      if (arc !== null) turns[which]?.(arc, stop);
    }
    showZone("", read.frame);
    showZone("vertical-", read.vertical);
    showZone("horizontal-", read.horizontal);
    showSure(read);
    showLocked(read);
    showPicture(read);
    typed.dataset.value = plain(distance);
    if (document.activeElement !== typed || !typed.dataset.typing) typed.value = main(distance);
    typed.style.setProperty("--letters", String(Math.max(typed.value.length, 4)));
    byId("other", HTMLElement).textContent = kit.units === "both" && distance !== Infinity ? imperial(distance) : "";
    stops.dataset.value = String(stop);
    for (const radio of stops.querySelectorAll("input")) radio.checked = Number(radio.value) === stop;
    const next = steps.findIndex((step) => step >= distance - 1e-6);
    const place = next < 0 ? steps.length - 1 : next;
    slider.value = String(place > 0 && distance < steps[place] - 1e-6 && nearerTo(place, distance) ? place - 1 : place);
    slider.setAttribute("aria-valuetext", full(distance));
    document.title = `${state.rig.name}, ${main(distance)}`;
  };

  /** Whether the step before a place is nearer to a distance, as a ring turns.
   * @param {number} place @param {number} distance */
  const nearerTo = (place, distance) => 1 / steps[place - 1] - 1 / distance < 1 / distance - 1 / steps[place];

  /** @param {State} to @param {boolean} soon */
  const setState = (to, soon) => {
    const other = to.rig !== state.rig;
    state = to;
    refused.textContent = "";
    if (other) showRig();
    draw();
    remember(soon);
  };

  /** @param {1 | -1} way */
  const step = (way) => {
    const at = state.distance;
    const next = way > 0 ? steps.find((each) => each > at + 1e-6) : steps.findLast((each) => each < at - 1e-6);
    if (next !== undefined) setState({ ...state, distance: next }, true);
  };

  /** A key of one step, which goes on while it is held.
   * @param {string} id @param {1 | -1} way */
  const key = (id, way) => {
    const button = byId(id, HTMLButtonElement);
    /** @type {number | undefined} */
    let timer;
    const stop = () => clearInterval(timer);
    button.addEventListener("click", () => step(way));
    button.addEventListener("pointerdown", () => {
      stop();
      timer = setTimeout(() => { timer = setInterval(() => step(way), 90); }, 450);
    });
    for (const end of ["pointerup", "pointerleave", "pointercancel", "blur"]) button.addEventListener(end, stop);
    button.addEventListener("contextmenu", (event) => event.preventDefault());
  };

  const readTyped = () => {
    delete typed.dataset.typing;
    const mm = parsed(typed.value, feet), { nearest } = state.rig;
    if (mm !== null && mm >= nearest - 1e-6) {
      setState({ ...state, distance: reached(state.rig, mm) }, false);
      return;
    }
    const example = feet ? "5'7\" or 5.5" : "1.75 or 175 cm";
    refused.textContent = mm === null
      ? `"${typed.value.slice(0, 20)}" is no distance: type for example ${example}, or inf.`
      : `This rig focuses from ${full(nearest)} on.`;
    typed.value = main(state.distance);
  };

  choice.addEventListener("change", () => {
    const rig = kit.rigs.find((each) => each.id === choice.value) ?? state.rig;
    const stop = rig.stops.includes(state.stop) ? state.stop : rig.working;
    setState({ ...state, rig, stop, distance: reached(rig, state.distance) }, false);
  });
  slider.addEventListener("input", () => setState({ ...state, distance: steps[Number(slider.value)] }, true));
  typed.addEventListener("focus", () => typed.select());
  typed.addEventListener("input", () => { typed.dataset.typing = "yes"; });
  typed.addEventListener("change", readTyped);
  typed.addEventListener("keydown", (event) => {
    if (event.key === "Enter") typed.blur();
  });
  gauge.addEventListener("change", () => {
    const size = Number(gauge.value.replace(",", "."));
    gauge.value = "";
    setState({ ...state, gauge: size >= 1 && size <= 100000 ? size : kit.gauge }, false);
    gauge.value = String(state.gauge);
  });
  key("nearer", -1);
  key("farther", 1);
  const showLook = () => look.setAttribute("aria-pressed", String(document.documentElement.dataset.look === "night"));
  look.addEventListener("click", () => {
    const { dataset } = document.documentElement;
    dataset.look = dataset.look === "night" ? "day" : "night";
    showLook();
    remember(false);
  });
  addEventListener("hashchange", () => {
    document.documentElement.dataset.look = wantedLook();
    showLook();
    state = addressed();
    refused.textContent = "";
    showRig();
    draw();
  });

  showLook();
  showRig();
  draw();
  document.documentElement.dataset.ready = "yes";
}

document.addEventListener("DOMContentLoaded", start);
