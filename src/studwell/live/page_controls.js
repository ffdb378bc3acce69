// Sliders and choices: native inputs with labels; each keeps its number in inner units and shows it in the user's.
import { make, later, setText } from "/assets/page_dom.js";

const SETTLE = 300; // ms without a further move before a new section is meshed

function shown(control, value) {
  return (control.scale * value + control.shift).toFixed(control.places);
}

function withUnit(control, value) {
  return control.unit ? `${shown(control, value)} ${control.unit}` : shown(control, value);
}

function heading(control) {
  return control.label.charAt(0).toUpperCase() + control.label.slice(1);
}

function note(control, id) {
  const parts = [control.note];
  if (control.applies && control.remesh) parts.push("a new mesh: takes seconds the first time");
  const words = parts.filter((text) => text).join("; ");
  return words ? make("p", { class: "note", id }, words) : null;
}

function slider(control, value, moved, touched) {
  const id = `control-${control.name}`;
  const words = note(control, `${id}-note`);
  const range = make("input", {
    type: "range", id, min: control.low, max: control.high, step: control.step, disabled: !control.applies,
    "aria-describedby": words ? `${id}-note` : null,
  });
  const exact = make("input", {
    type: "number", class: "exact", step: "any", "aria-label": `${heading(control)}, exact${control.unit ? ` in ${control.unit}` : ""}`,
    disabled: !control.applies,
  });
  const told = make("p", { class: "note refused", role: "alert", hidden: true });
  let taken = value; // where the control stands: what a refused number gives way to
  const show = (number) => {
    if (number !== taken) told.hidden = true;
    taken = number;
    range.value = number;
    range.setAttribute("aria-valuetext", withUnit(control, number));
    if (document.activeElement !== exact) exact.value = shown(control, number);
  };
  const stand = (number) => {
    taken = number;
    range.setAttribute("aria-valuetext", withUnit(control, number));
    told.hidden = true;
  };
  const send = control.remesh ? later(SETTLE, moved) : moved;
  range.addEventListener("input", () => {
    const number = Number(range.value);
    stand(number);
    exact.value = shown(control, number);
    touched(control.name);
    send(control.name, number);
  });
  exact.addEventListener("change", () => {
    const number = (Number(exact.value) - control.shift) / control.scale;
    const slack = 1e-9 * (control.high - control.low);
    if (exact.value.trim() === "" || !Number.isFinite(number) || number < control.low - slack || number > control.high + slack) {
      const ends = [control.low, control.high].map((end) => withUnit(control, end));
      if (control.scale < 0) ends.reverse();
      setText(told, `${exact.value.trim() || "no number"}: not taken; allowed: ${ends[0]} to ${ends[1]}`);
      told.hidden = false;
      exact.value = shown(control, taken);
      return;
    }
    const kept = Math.min(Math.max(number, control.low), control.high);
    range.value = kept;
    stand(kept);
    send.cancel?.();
    moved(control.name, kept);
  });
  show(value);
  const box = make(
    "div", { class: "control", "data-off": control.applies ? null : "yes" },
    control.known ? make("label", { for: id }, heading(control)) : make("span", { class: "label" }, heading(control)),
    control.known ? make("span", { class: "figure" }, exact, make("span", { class: "unit" }, control.unit)) : null,
    control.known ? range : null, words, told,
  );
  const busy = () => document.activeElement === range || document.activeElement === exact;
  return { box, show, busy, drop: () => send.cancel?.() };
}

function choice(control, value, moved) {
  const id = `control-${control.name}`;
  const words = note(control, `${id}-note`);
  const select = make(
    "select", { id, disabled: !control.applies, "aria-describedby": words ? `${id}-note` : null },
    control.options.map((option) => make("option", { value: option }, option)),
  );
  select.value = value;
  select.addEventListener("change", () => moved(control.name, select.value));
  const box = make(
    "div", { class: "control pick", "data-off": control.applies ? null : "yes" }, make("label", { for: id }, heading(control)), select, words,
  );
  return { box, show: (text) => { select.value = text; }, busy: () => false, drop: () => {} };
}

export function buildControls(host, moved, touched) {
  // Return set(message): build all controls anew, or only show other values where they are the same controls;
  // show(values); drop(): forget what was touched and not told yet. touched(name): a slider moved, `moved` follows later.
  let built = "";
  let all = {};
  return {
    set(controls, values) {
      const same = JSON.stringify(controls);
      if (same !== built) {
        built = same;
        all = {};
        host.replaceChildren();
        for (const group of new Set(controls.map((control) => control.group))) {
          const field = make("fieldset", {}, make("legend", {}, group));
          for (const control of controls.filter((item) => item.group === group)) {
            const value = values[control.name];
            if (value === null || value === undefined) continue;
            all[control.name] = control.kind === "choice" ? choice(control, value, moved) : slider(control, value, moved, touched);
            field.append(all[control.name].box);
          }
          host.append(field);
        }
      }
      this.show(values, true);
    },
    drop() {
      for (const item of Object.values(all)) item.drop();
    },
    show(values, always = false) {
      for (const [name, item] of Object.entries(all)) {
        if (values[name] !== undefined && values[name] !== null && (always || !item.busy())) item.show(values[name]);
      }
    },
  };
}
