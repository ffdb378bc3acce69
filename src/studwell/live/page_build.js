// The whole page: its parts in order, and what happens when the user or the server says something.
import { buildControls } from "/assets/page_controls.js";
import { watchCurrent } from "/assets/page_current.js";
import { make, later, setText } from "/assets/page_dom.js";
import { buildBeside, buildFindings, buildMargins, buildOutcomes, buildVerdict } from "/assets/page_results.js";
import { stressPicture, timePlot } from "/assets/plots.js";

const PATIENCE = 2000; // ms after which a move is sent although the last one has no answer
const QUIET = 700; // ms without a new answer before it is read aloud

const VIEW_WORDS = { section: "whole section", hole: "the hole" };

function pick(id, label, options, value, changed) {
  const select = make("select", { id, onchange: () => changed(select.value) }, options.map(([key, text]) => make("option", { value: key }, text)));
  select.value = value;
  return { box: make("div", { class: "pick" }, make("label", { for: id }, label), select), select };
}

function section(id, title, ...children) {
  return make("section", { id, "aria-labelledby": `${id}-head` }, make("h2", { id: `${id}-head` }, title), children);
}

function chosenLook() {
  try {
    return localStorage.getItem("studwell-look") ?? "system";
  } catch {
    return "system";
  }
}

function useLook(look) {
  if (look === "system") delete document.documentElement.dataset.look;
  else document.documentElement.dataset.look = look;
  try {
    localStorage.setItem("studwell-look", look);
  } catch {
    // a browser that keeps nothing still shows the look
  }
}

export function buildPage(root, first, say) {
  const seen = { answer: null, pins: [], pinLinks: first.pin_links, link: first.link, units: first.units, count: 0, refusedAt: 0 };
  const untold = new Set(); // controls that were touched and are not sent yet
  let pending = {}, waiting = false, timer = 0;

  const pump = () => {
    if (waiting || Object.keys(pending).length === 0) return;
    waiting = true;
    seen.count += 1;
    say("move", { value: pending, count: seen.count });
    current.asked();
    pending = {};
    clearTimeout(timer);
    timer = setTimeout(free, PATIENCE);
  };
  const free = () => {
    waiting = false;
    pump();
  };
  const moved = (name, value) => {
    untold.delete(name);
    pending[name] = value;
    current.asked();
    pump();
  };
  const touched = (name) => {
    untold.add(name);
    current.asked();
  };
  const isNewest = (message) => message.count >= seen.count && untold.size === 0 && Object.keys(pending).length === 0;
  const tell = (name, value) => {
    seen.count += 1;
    say(name, { value, count: seen.count });
    current.asked();
  };
  const choose = (name) => {
    pending = {}; // what waits was meant for the setup of before
    untold.clear();
    controls.drop();
    tell("setup", name);
  };

  const setups = pick("setup", "Setup", first.setups.map((name) => [name, name]), first.setup, choose);
  const units = pick("units", "Units", [["metric", "metric"], ["inch", "inch"]], first.units, (name) => tell("units", name));
  const look = pick("look", "Look", [["system", "as the system"], ["light", "light"], ["dark", "dark"]], chosenLook(), useLook);
  useLook(chosenLook());
  const moments = pick("moment", "Moment", first.moments.map((name) => [name, name]), "worst", (name) => tell("moment", name));
  const views = pick("view", "View", first.views.map((name) => [name, VIEW_WORDS[name] ?? name]), first.views[0], (name) => tell("view", name));
  const hold = make("input", { type: "checkbox", id: "hold", onchange: () => tell("hold", hold.checked) });
  const holdBox = make("p", { class: "hint" }, hold, " ", make("label", { for: "hold" }, "hold the colours, so that moves compare"));

  const alertLine = make("p", { class: "alert", role: "alert", hidden: first.problem === "" }, first.problem);
  const aloud = make("p", { class: "unseen", role: "status", "aria-live": "polite" });
  const band = make("div", { class: "band" });
  const sentence = make("p", { class: "sentence" });
  const work = make("progress", { max: 1, value: 0, "aria-label": "Meshing the new section" });
  const workWords = make("p", {});
  const working = make("div", { class: "working", hidden: true }, work, workWords);
  const changes = make("p", { class: "hint changes" });
  const asWritten = make("button", { type: "button", onclick: () => choose(setups.select.value) }, "Back to as written");
  const controlsHost = make("form", { class: "controls", onsubmit: (event) => event.preventDefault() });
  const pin = make("button", { type: "button", onclick: () => say("pin", {}) }, "Pin this beside");
  const pictureHost = make("div", { class: "picture" });
  const plotsHost = make("div", { class: "plots" });
  const marginsHost = make("div", { class: "wide" });
  const outcomesHost = make("div", { class: "wide", role: "region", tabindex: "0", "aria-label": "Table of outcomes" });
  const findingsHost = make("div", {});
  const beside = section("beside", "Side by side");
  beside.hidden = true;
  const taken = make("p", { role: "status", class: "hint" });

  const current = watchCurrent(root, working, work, workWords, (lost, words) => {
    root.querySelector("#move").inert = lost;
    if (lost) setText(aloud, words);
  });
  const controls = buildControls(controlsHost, moved, touched);
  controls.set(first.controls, first.values);
  const verdict = buildVerdict(band);
  const margins = buildMargins(marginsHost);
  const outcomes = buildOutcomes(outcomesHost);
  const findings = buildFindings(findingsHost);
  const picture = stressPicture(pictureHost);
  const plots = [
    timePlot(plotsHost, "Clamp", "clamp"), timePlot(plotsHost, "Tip force", "tip"), timePlot(plotsHost, "Tip gap", "gap"),
  ];
  const side = buildBeside(beside, (place) => say("unpin", { value: place }));

  const pinned = () => seen.pinLinks.map((link) => `&pin=${encodeURIComponent(link)}`).join("");
  const address = () => `${seen.link}${seen.units === first.usual_units ? "" : `&units=${seen.units}`}${pinned()}`;
  const keepAddress = later(300, () => history.replaceState(null, "", `/?${address()}`));
  const readAloud = later(QUIET, (answer) => setText(aloud, `${answer.word}. ${answer.sentence}`));

  async function copyLink() {
    const link = `${location.origin}/?${address()}`;
    try {
      await navigator.clipboard.writeText(link);
      setText(taken, "Link copied. It opens this state where this page is running with this case.");
    } catch {
      setText(taken, `Copy this link: ${link}`);
    }
  }

  async function take(name, words, button) {
    button.disabled = true;
    setText(taken, `${words} is being made; solving takes a while …`);
    try {
      const response = await fetch(`/export/${name}?${seen.link}&units=${seen.units}`);
      if (!response.ok) throw new Error((await response.text()).trim());
      const file = /filename="([^"]+)"/.exec(response.headers.get("content-disposition") ?? "")?.[1] ?? name;
      const url = URL.createObjectURL(await response.blob());
      make("a", { href: url, download: file }).click();
      setTimeout(() => URL.revokeObjectURL(url), 10000);
      setText(taken, `${words}: ${file}`);
    } catch (problem) {
      setText(taken, `${words} could not be made: ${problem.message}`);
    } finally {
      button.disabled = false;
    }
  }
  const takeButton = (name, words) => {
    const button = make("button", { type: "button", "data-take": name, onclick: () => take(name, words, button) }, words);
    return button;
  };

  root.append(
    make("a", { class: "jump", href: "#verdict" }, "Go to the verdict"),
    make("header", {}, make("h1", {}, first.title), first.notes ? make("p", { class: "hint notes" }, first.notes) : null, make("div", { class: "tools" }, units.box, look.box)),
    make(
      "main", {},
      alertLine, aloud,
      make("section", { id: "verdict", tabindex: "-1", "aria-label": "Verdict" }, band, working),
      sentence,
      make(
        "div", { class: "columns" },
        section("move", "What to move", setups.box, make("div", { class: "row" }, asWritten, pin), changes, controlsHost),
        section("stress", "Stress in the section", make("div", { class: "row" }, moments.box, views.box), holdBox, pictureHost),
        section("margins", "Margins", marginsHost, findingsHost),
        section("time", "Over time", plotsHost),
      ),
      beside,
      make("details", { id: "outcomes" }, make("summary", {}, "All outcomes"), outcomesHost),
      section(
        "take", "Take away",
        make(
          "div", { class: "row" }, make("button", { type: "button", id: "copy-link", onclick: copyLink }, "Copy link"),
          takeButton("case.toml", "Case file"), takeButton("report.html", "Report"), takeButton("card.html", "Job card"), first.pdf ? takeButton("card.pdf", "Job card as PDF") : null,
        ),
        taken,
      ),
    ),
    make(
      "footer", {}, make("h2", {}, "Care at the bench"), make("ul", {}, first.cautions.map((text) => make("li", {}, text))),
      make("p", { class: "first" }, first.first_place),
    ),
  );

  const settle = (message) => {
    seen.link = message.link;
    keepAddress();
    root.dataset.answered = message.count;
    if (message.count >= seen.count) {
      seen.count = message.count;
      clearTimeout(timer);
      free();
    }
  };

  function showAnswer(answer) {
    seen.answer = answer;
    current.answered(isNewest(answer));
    if (isNewest(answer)) controls.show(answer.values);
    if (answer.count > seen.refusedAt) alertLine.hidden = true;
    verdict.show(answer);
    setText(sentence, answer.sentence);
    setText(changes, answer.changes ? `Changed: ${answer.changes}.` : "As written in the case file.");
    margins(answer);
    outcomes(answer);
    findings(answer);
    picture(answer.picture);
    hold.checked = answer.held;
    for (const show of plots) show(answer.plots, seen.pins);
    side(answer, seen.pins);
    pin.disabled = seen.pinLinks.length >= first.most_pins;
    readAloud(answer);
  }

  const heard = {
    answer(message) {
      showAnswer(message);
      settle(message);
    },
    unsolved(message) {
      seen.answer = null;
      current.unsolved();
      verdict.unsolved(message.text);
      setText(sentence, message.text);
      readAloud({ word: "not solved", sentence: message.text });
      pin.disabled = true;
      settle(message);
    },
    progress(message) {
      if (message.count < seen.count) return;
      current.meshing(message.text, message.share);
      settle(message);
    },
    problem(message) {
      setText(alertLine, message.text);
      alertLine.hidden = false;
      seen.refusedAt = message.count;
      if (message.aside) return; // of a pinned state: what is chosen goes on
      current.refused();
      controls.show(message.values, true);
      settle(message);
    },
    controls(message) {
      seen.units = message.units;
      seen.link = message.link;
      setups.select.value = message.setup;
      controls.set(message.controls, message.values);
    },
    pins(message) {
      seen.pins = message.pins;
      seen.pinLinks = message.links;
      keepAddress();
      pin.disabled = seen.pinLinks.length >= first.most_pins;
      if (seen.answer) {
        for (const show of plots) show(seen.answer.plots, seen.pins);
        side(seen.answer, seen.pins);
      } else side(null, seen.pins);
    },
  };
  return {
    hear(message) {
      current.join();
      heard[message.kind]?.(message);
    },
  };
}
