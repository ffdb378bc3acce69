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
    this.hear = (event) => view.hear(event.detail);
    window.addEventListener("studwell-message", this.hear);
  },
  unmounted() {
    window.removeEventListener("studwell-message", this.hear);
  },
};
