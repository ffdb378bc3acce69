// Whether the figures shown are those of what is chosen: says so where they are not, and where the server is gone.
import { setText } from "/assets/page_dom.js";

const PATIENCE = 300; // ms that an answer may take before the figures shown are marked as those of before

const SOLVING = "Solving what was chosen. Until then the figures are those of before.";
const UNSOLVED = "Not solved. The figures below are those of the last state that was.";
const LOST =
  "The program that solves cannot be reached: it has ended, or was stopped. The figures are those of the last state solved. " +
  "Start studwell page again with the same case; this page then goes on from there.";

export function watchCurrent(root, box, bar, line, gone) {
  // root: marked while figures are of before; box, bar, line: say why; gone(lost, words): the server is lost or back.
  let timer = 0, words = "", share = null, lost = false, joined = false;
  let settled = ""; // what stays true if what was asked for is refused

  const show = () => {
    const said = lost ? LOST : words;
    root.toggleAttribute("data-stale", said !== "");
    root.toggleAttribute("data-lost", lost);
    box.hidden = said === "";
    bar.hidden = lost || share === null;
    if (share !== null) bar.value = share;
    if (said !== "") setText(line, said);
  };
  const say = (text, part = null) => {
    clearTimeout(timer);
    timer = 0;
    words = text;
    share = part;
    show();
  };
  const start = () => {
    if (timer === 0) timer = setTimeout(() => say(SOLVING), PATIENCE);
  };
  const reach = (found) => {
    lost = !found;
    gone(lost, LOST);
    show();
  };

  return {
    asked: start,
    answered(newest) {
      settled = "";
      if (newest) return say("");
      clearTimeout(timer); // others come: only silence is told
      timer = 0;
      start();
    },
    meshing: (text, part) => say(`Meshing and condensing the new section: ${text}. Until then the figures are those of before.`, part),
    refused: () => say(settled),
    unsolved() {
      settled = UNSOLVED;
      say(UNSOLVED);
    },
    join() {
      // The page's socket is there once it has brought the first message.
      if (joined || !window.socket) return;
      joined = true;
      window.socket.on("disconnect", () => reach(false));
      window.socket.on("connect", () => reach(true));
    },
  };
}
