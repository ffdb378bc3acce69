// What was found: verdict, margins, outcomes, findings, and pinned setups side by side.
import { make, setText } from "/assets/page_dom.js";

const SIGNS = { safe: "✓", holds: "✓", fails: "✕", unknown: "?" };
export const PIN_NAMES = ["A", "B", "C"];

export function buildVerdict(host) {
  const word = make("strong", { class: "word" });
  const nearest = make("span", { class: "nearest" });
  const keys = make("dl", { class: "keys" });
  const failing = make("span", { class: "misses", hidden: true });
  host.append(make("p", { class: "headline" }, word, nearest, failing), keys);
  const show = (answer) => {
    host.dataset.state = answer.word;
    setText(word, `${SIGNS[answer.word]} ${answer.word}`);
    setText(nearest, answer.nearest);
    setText(failing, answer.misses);
    failing.hidden = answer.misses === "";
    if (keys.children.length !== answer.key.length) {
      keys.replaceChildren(...answer.key.map((row) => make("div", {}, make("dt", {}, row.name), make("dd", {}))));
    }
    answer.key.forEach((row, k) => setText(keys.children[k].lastChild, row.text));
  };
  const unsolved = (text) => {
    host.dataset.state = "unknown";
    setText(word, "? not solved");
    setText(nearest, text);
    failing.hidden = true;
    for (const row of keys.children) setText(row.lastChild, "–"); // figures of another state have no place in a verdict
  };
  return { show, unsolved };
}

function marginRow() {
  const name = make("th", { scope: "row" });
  const fill = make("span", { class: "fill" });
  const bar = make("span", { class: "bar", "aria-hidden": "true" }, fill, make("span", { class: "limit" }));
  const number = make("td", { class: "number" });
  const word = make("span", { class: "state" });
  const reason = make("td", { colspan: 4, class: "reason" });
  const row = make("tr", {}, name, make("td", { class: "bar-cell" }, bar), number, make("td", {}, word));
  const under = make("tr", { class: "under" }, reason);
  return {
    row,
    under,
    show(margin) {
      for (const line of [row, under]) line.dataset.state = margin.state;
      row.dataset.governs = margin.governs ? "yes" : "no";
      row.dataset.mode = margin.mode;
      setText(name, margin.mode);
      bar.dataset.unknown = margin.share === null ? "yes" : "no";
      fill.style.width = `${100 * (margin.share ?? 0)}%`;
      setText(number, margin.text === "unknown" ? "" : margin.text);
      setText(word, `${SIGNS[margin.state]} ${margin.state}${margin.governs ? ", governs" : ""}`);
      setText(reason, margin.reason);
      under.dataset.empty = margin.reason ? "no" : "yes";
    },
  };
}

export function buildMargins(host) {
  const groups = {};
  const all = make("input", { type: "checkbox", id: "all-reasons" });
  all.addEventListener("change", () => host.toggleAttribute("data-all-reasons", all.checked));
  host.append(
    make("p", { class: "hint" }, "Load over capacity: below 1 it holds in this model, which is no permission. The mark on a bar is the limit, 1."),
    make("p", { class: "hint" }, all, " ", make("label", { for: "all-reasons" }, "also say how margins that hold were found")),
  );
  for (const [kind, title] of [["damage", "Damage"], ["function", "Function"]]) {
    const body = make("tbody", {});
    const head = (text) => make("th", { scope: "col" }, text);
    host.append(
      make(
        "table", { class: "margins" }, make("caption", {}, title),
        make("thead", {}, make("tr", {}, head("mode"), head(make("span", { class: "unseen" }, "bar")), head("margin"), head("state"))),
        body,
      ),
    );
    groups[kind] = { body, rows: [] };
  }
  return (answer) => {
    for (const [kind, group] of Object.entries(groups)) {
      const margins = answer.margins.filter((row) => row.kind === kind);
      while (group.rows.length < margins.length) {
        const added = marginRow();
        group.rows.push(added);
        group.body.append(added.row, added.under);
      }
      while (group.rows.length > margins.length) {
        const gone = group.rows.pop();
        gone.row.remove();
        gone.under.remove();
      }
      margins.forEach((margin, k) => group.rows[k].show(margin));
    }
  };
}

export function buildOutcomes(host) {
  const body = make("tbody", {});
  host.append(
    make(
      "table", { class: "outcomes" },
      make("thead", {}, make("tr", {}, ["outcome", "value", "moment, or why not known"].map((head) => make("th", { scope: "col" }, head)))),
      body,
    ),
  );
  return (answer) => {
    while (body.children.length < answer.outcomes.length) {
      body.append(make("tr", {}, make("th", { scope: "row" }), make("td", { class: "number" }), make("td", { class: "reason" })));
    }
    while (body.children.length > answer.outcomes.length) body.lastChild.remove();
    answer.outcomes.forEach((outcome, k) => {
      const row = body.children[k];
      row.dataset.outcome = outcome.key;
      setText(row.children[0], outcome.name);
      setText(row.children[1], outcome.text);
      setText(row.children[2], outcome.known ? outcome.when : outcome.reason);
    });
  };
}

export function buildFindings(host) {
  const title = make("h3", {}, "What to know");
  const list = make("ul", {});
  const trust = make("p", { class: "hint" });
  host.append(title, list, trust);
  return (answer) => {
    if (list.children.length !== answer.notes.length) list.replaceChildren(...answer.notes.map((text) => make("li", {}, text)));
    else answer.notes.forEach((text, k) => setText(list.children[k], text));
    title.hidden = answer.notes.length === 0;
    setText(trust, answer.trust);
  };
}

export function buildBeside(section, unpin) {
  // Pinned setups beside what is shown now: verdicts, margins and outcomes in columns.
  const table = make("table", { class: "beside" });
  section.append(make("div", { class: "wide", role: "region", tabindex: "0", "aria-label": "Pinned setups side by side" }, table));
  let shape = "";
  const cells = new Map();
  const columns = (now, pins) => [now, ...pins];
  const text = (row) => (row ? (row.state ? `${row.text} ${SIGNS[row.state]}` : row.text) : "");
  return (now, pins) => {
    section.hidden = pins.length === 0;
    if (!now || pins.length === 0) return;
    const heads = pins.map((pin) => [pin.name, pin.changes]);
    const rows = [...now.margins.map((row) => ["margin", row.mode]), ...now.outcomes.map((row) => ["outcome", row.name])];
    const wanted = JSON.stringify([heads, rows]);
    if (wanted !== shape) {
      shape = wanted;
      cells.clear();
      const head = make(
        "tr", {}, make("th", { scope: "col" }, "what"), make("th", { scope: "col" }, "now"),
        pins.map((pin, k) =>
          make(
            "th", { scope: "col" }, make("span", { class: `key pinned-${k}` }, PIN_NAMES[k]), ` ${pin.name}`,
            pin.changes ? make("span", { class: "hint" }, ` ${pin.changes}`) : null,
            make("button", { type: "button", "aria-label": `Take ${PIN_NAMES[k]} away`, onclick: () => unpin(k) }, "take away"),
          ),
        ),
      );
      const line = (key, name) => {
        const found = columns(now, pins).map(() => make("td", { class: "number" }));
        cells.set(key, found);
        return make("tr", {}, make("th", { scope: "row" }, name), found);
      };
      table.replaceChildren(
        make("thead", {}, head),
        make("tbody", {}, line("verdict", "verdict"), rows.map(([kind, name]) => line(`${kind} ${name}`, name))),
      );
    }
    columns(now, pins).forEach((column, k) => {
      const put = (key, row, state) => {
        const cell = cells.get(key)[k];
        setText(cell, text(row));
        cell.dataset.state = state ?? "";
      };
      put("verdict", { text: `${SIGNS[column.word]} ${column.word}` }, column.word);
      for (const [kind, name] of rows) {
        const row = kind === "margin" ? column.margins.find((item) => item.mode === name) : column.outcomes.find((item) => item.name === name);
        put(`${kind} ${name}`, row, row?.state);
      }
    });
  };
}
