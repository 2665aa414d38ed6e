// A field that is typed into. What is typed is kept in this browser with every letter, and handed over as a whole value: when typing rests, or the field is left.
// `now`: what the setup has, `version`: that state of it, `accepted`: the state after what was handed over last, `done`: which hand-over that was, `asked`: is a question open?
const REST = 300; // ms without a letter after which the value is handed over
const AGAIN = 3000; // ms without an answer after which it is handed over once more, under the same number: what is only slow is not done twice

export default {
  inheritAttrs: false,
  emits: ["typed"],
  template: `<q-input ref="qRef" v-bind="$attrs" :model-value="text" :suffix="unit" :list="id + '-datalist'"
      @update:model-value="type" @focus="inside = true" @blur="leave" @keydown.enter="send">
      <template v-for="(_, slot) in $slots" v-slot:[slot]="more"><slot :name="slot" v-bind="more || {}" /></template>
    </q-input>`,
  props: { now: String, version: String, accepted: String, done: Number, asked: Boolean, bare: String, place: String, id: String },
  data() {
    return { text: this.now, base: this.version, own: false, inside: false };
  },
  computed: {
    unit() { return /[^\d\s.,;+\-−/]/.test(this.text || "") ? "" : this.bare; },
  },
  watch: {
    version() { this.follow(); },
    done() { this.follow(); },
    asked() { this.follow(); },
    place(_, before) { this.forget(before); if (this.own) this.keep(); },
  },
  created() {
    this.count = 0;
    let kept = null;
    try { kept = JSON.parse(sessionStorage.getItem(this.key(this.place))); } catch { /* nothing was kept */ }
    if (!kept) return;
    [this.text, this.base, this.own] = [kept.text, kept.base, true];
    this.later(0);
  },
  beforeUnmount() {
    clearTimeout(this.timer);
  },
  methods: {
    key(place) { return `typed ${location.pathname} ${place}`; },
    keep() {
      try { sessionStorage.setItem(this.key(this.place), JSON.stringify({ text: this.text, base: this.base })); } catch { /* no room */ }
    },
    forget(place) {
      try { sessionStorage.removeItem(this.key(place)); } catch { /* nothing was kept */ }
    },
    later(wait) {
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.send(), wait);
    },
    type(text) {
      this.text = text ?? "";
      this.own = true;
      this.keep();
      this.later(REST);
    },
    send() {
      if (!this.own) return;
      const connected = window.socket?.connected && window.did_handshake;
      if (connected) this.tell({ own: true });
      this.later(connected ? AGAIN : REST);
    },
    tell(more) {
      const again = more.own && this.sent?.text === this.text && this.sent.base === this.base && this.done < this.sent.count;
      this.sent = { text: this.text, base: this.base, count: again ? this.sent.count : ++this.count };
      this.$emit("typed", { text: this.text, base: this.base, count: this.count, ...more });
    },
    leave() {
      this.inside = false;
      if (this.own) this.sent?.text === this.text || this.send();
      else if (this.base !== this.version) {
        this.take();
        this.tell({ left: true });
      }
    },
    // The setup has changed, or what was handed over was answered.
    follow() {
      if (this.sent && this.done === this.sent.count) {
        if (this.sent.text === this.text) clearTimeout(this.timer);
        if (!this.asked && this.own) {
          this.base = this.accepted;
          if (this.sent.text === this.text) this.settle();
          else this.keep();
        }
      }
      if (this.own) return;
      if (this.base === this.version || !this.inside || this.text.trim() === this.now) this.take();
      else if (this.seen !== this.version) {
        this.seen = this.version;
        this.tell({ own: false });
      }
    },
    settle() {
      clearTimeout(this.timer);
      this.own = false;
      this.forget(this.place);
    },
    take() {
      this.settle();
      this.base = this.version;
      if ((this.text || "").trim() !== this.now) this.text = this.now;
    },
    updateValue() {}, // the library tells what it was told
    focus() { this.$refs.qRef.focus(); },
  },
};
