// Small drawings: lines over time with pinned ones beside them, and the stress picture with its outlines and scale.
import { make, draw, setText } from "/assets/page_dom.js";

const LEFT = 46, CHARACTER = 6.6, RIGHT = 12, TOP = 12, BOTTOM = 34;
export const DASHES = ["7 3", "2 2.5", "9 3 2 3"];
const NAMES = ["A", "B", "C"];

function ticks(low, high, about) {
  const rough = (high - low) / about;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((item) => item * power >= rough);
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k += 1) found.push(Number((k * step).toPrecision(12)));
  return found;
}

function told(title, line, plots) {
  // The plot in words: its value at every named moment.
  const words = plots.labels.map(([name, at]) => {
    const place = plots.places.indexOf(plots.places.reduce((best, now) => (Math.abs(now - at) < Math.abs(best - at) ? now : best)));
    const value = line.values[place];
    return `${name} ${value === null ? "not known" : `${value} ${line.unit}`}`;
  });
  return `${title} over time: ${words.join(", ")}`;
}

function span(values) {
  const known = values.filter((value) => value !== null && Number.isFinite(value));
  const low = Math.min(0, ...known), high = Math.max(0, ...known);
  const room = 0.06 * (high - low || 1);
  return [low < 0 ? low - room : 0, high + room];
}

function path(xs, ys) {
  let text = "", pen = "M";
  xs.forEach((x, k) => {
    if (x === null || ys[k] === null) { pen = "M"; return; }
    text += `${pen}${x.toFixed(1)} ${ys[k].toFixed(1)}`;
    pen = "L";
  });
  return text;
}

export function timePlot(host, title, name) {
  // Return show(plots, pins): draw the line `name` of the newest reading and, dashed, of the pinned ones.
  const svg = draw("svg", { role: "img", class: "plot" });
  host.append(make("figure", {}, make("figcaption", {}, title), svg));
  let last = null;
  const redraw = () => {
    if (!last) return;
    const [plots, pins] = last;
    const width = Math.max(220, Math.round(svg.clientWidth || 380)), height = 168;
    const line = plots.lines[name];
    const beside = pins.map((pin) => pin.plots);
    const start = plots.places[0], end = plots.places[plots.places.length - 1];
    const [low, high] = span([line, ...beside.map((item) => item.lines[name])].flatMap((item) => item.values));
    const marks = ticks(low, high, 4);
    const left = Math.max(LEFT, 12 + CHARACTER * Math.max(...marks.map((tick) => String(tick).length)));
    const x = (at) => left + ((width - left - RIGHT) * (at - start)) / (end - start || 1);
    const y = (value) => (value === null ? null : TOP + (height - TOP - BOTTOM) * (1 - (value - low) / (high - low || 1)));
    const parts = [];
    if (start < 0) {
      parts.push(draw("rect", { x: x(start), y: TOP, width: x(0) - x(start), height: height - TOP - BOTTOM, class: "lead" }));
    }
    for (const tick of marks) {
      parts.push(draw("line", { x1: left, x2: width - RIGHT, y1: y(tick), y2: y(tick), class: tick === 0 ? "zero" : "grid" }));
      parts.push(draw("text", { x: left - 6, y: y(tick) + 4, class: "tick end" }, String(tick)));
    }
    let free = -Infinity;
    for (const [label, at] of plots.labels) {
      parts.push(draw("line", { x1: x(at), x2: x(at), y1: TOP, y2: height - BOTTOM, class: "moment" }));
      const words = label.length > 16 ? `${label.slice(0, 15)}…` : label;
      const half = 3.1 * words.length;
      const middle = Math.min(Math.max(x(at), left + half - 10), width - half - 2);
      if (middle - half > free) {
        parts.push(draw("text", { x: middle, y: height - BOTTOM + 14, class: "tick middle" }, words));
        free = middle + half + 4;
      }
    }
    parts.push(draw("text", { x: width - RIGHT, y: height - 4, class: "tick end" }, `run of ${plots.end}`));
    parts.push(draw("text", { x: 2, y: height - 4, class: "tick" }, `unit: ${line.unit}`));
    beside.forEach((item, k) => {
      const from = item.places[0], to = item.places[item.places.length - 1];
      const where = (at) => x(start + ((end - start) * (at - from)) / (to - from || 1));
      const values = item.lines[name].values.map(y);
      parts.push(draw("path", { d: path(item.places.map(where), values), class: `line pinned pinned-${k}`, "stroke-dasharray": DASHES[k] }));
      const tail = values[values.length - 1];
      if (tail !== null) parts.push(draw("text", { x: width - RIGHT + 1, y: tail + 4, class: "tick" }, NAMES[k]));
    });
    parts.push(draw("path", { d: path(plots.places.map(x), line.values.map(y)), class: "line now" }));
    svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    svg.setAttribute("aria-label", told(title, line, plots));
    svg.replaceChildren(...parts);
  };
  new ResizeObserver(redraw).observe(svg);
  return (plots, pins) => {
    last = [plots, pins];
    redraw();
  };
}

export function stressPicture(host) {
  // Return show(picture): the section's stress as an image under its outlines, with a scale and words for the blind.
  const svg = draw("svg", { role: "img", class: "section", preserveAspectRatio: "xMidYMid meet" });
  const image = draw("image", { preserveAspectRatio: "none" });
  const lines = draw("g", {});
  svg.append(image, lines);
  const bar = make("div", { class: "scale-bar", "aria-hidden": "true" });
  const low = make("span", {}), high = make("span", {});
  const when = make("p", { class: "hint" });
  const words = make("p", { class: "told" });
  host.append(when, svg, make("div", { class: "scale" }, low, make("span", { class: "scale-box" }, bar, make("span", { class: "scale-zero" }, "0")), high), words);
  let frame = "";
  return (picture) => {
    const [r0, r1, z0, z1] = picture.extent;
    image.setAttribute("href", `data:image/png;base64,${picture.png}`);
    const now = JSON.stringify([picture.extent, picture.outlines]);
    if (now !== frame) {
      frame = now;
      const edge = 0.01 * (z1 - z0);
      svg.style.aspectRatio = `${r1 - r0} / ${z1 - z0}`;
      svg.setAttribute("viewBox", `${r0 - edge} ${-z1 - edge} ${r1 - r0 + 2 * edge} ${z1 - z0 + 2 * edge}`);
      for (const [name, value] of Object.entries({ x: r0, y: -z1, width: r1 - r0, height: z1 - z0 })) image.setAttribute(name, value);
      lines.replaceChildren(
        ...picture.outlines.map((item) =>
          draw("polyline", { points: item.points.map(([r, z]) => `${r},${-z}`).join(" "), class: "outline" }),
        ),
      );
    }
    bar.style.background = `linear-gradient(to right, ${picture.colours.join(", ")})`;
    setText(low, picture.low);
    setText(high, picture.high);
    setText(words, picture.told);
    setText(when, picture.when);
    svg.setAttribute("aria-label", picture.told);
  };
}
