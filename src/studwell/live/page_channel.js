// A way from the server: hands its newest message to the page and shows nothing itself.
import { toRaw } from "vue";

export default {
  props: { message: Object },
  render() {
    return null;
  },
  mounted() {
    this.hand();
  },
  watch: {
    message() {
      this.hand();
    },
  },
  methods: {
    hand() {
      if (this.message) window.dispatchEvent(new CustomEvent("studwell-message", { detail: toRaw(this.message) }));
    },
  },
};
