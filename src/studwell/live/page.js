// The panel: builds the page once as plain DOM and passes messages between it and the server.
import { h, toRaw } from "vue";
import { buildPage } from "/assets/page_build.js";

export default {
  props: { first: Object },
  render() {
    return h("div", { class: "live" });
  },
  mounted() {
    const view = buildPage(this.$el, toRaw(this.first), (name, told) => this.$emit(name, told));
    // Messages of several ways that arrive together come in the order of the ways: they are told in that of the sending.
    let arrived = [];
    const tell = () => {
      const together = arrived.sort((one, other) => one.order - other.order);
      arrived = [];
      for (const message of together) view.hear(message);
    };
    this.hear = (event) => {
      if (arrived.push(event.detail) === 1) queueMicrotask(tell);
    };
    window.addEventListener("studwell-message", this.hear);
  },
  unmounted() {
    window.removeEventListener("studwell-message", this.hear);
  },
};
