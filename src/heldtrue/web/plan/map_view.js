// A ring on the map of pressure and speed: it follows finger, mouse and arrow keys at once, and the server says what
// stands there.  Places are shares of the axes, from the lower left corner.
const PAUSE = 900; // ms without a key after which what the keys moved is set

export default {
  template: `<div class="map"><img :src="picture" alt="" draggable="false">
    <div ref="field" class="field" :style="box" @pointerdown="down" @pointermove="move" @pointerup="up"
      @pointercancel="back">
      <div class="across" :style="{ bottom: 100 * y + '%' }"></div>
      <div class="upright" :style="{ left: 100 * x + '%' }"></div>
      <div ref="ring" class="ring" tabindex="0" role="slider" aria-orientation="vertical" :aria-label="label"
        :aria-valuetext="said" aria-valuemin="0" aria-valuemax="100" :aria-valuenow="Math.round(100 * y)"
        :style="{ left: 100 * x + '%', bottom: 100 * y + '%' }" @keydown="key" @blur="leave"></div>
    </div></div>`,
  props: { picture: String, frame: Array, start: Array, label: String, said: String, steps: Array },
  data() {
    return { x: this.start[0], y: this.start[1], held: false, keys: false };
  },
  computed: {
    box() {
      const [left, top, width, height] = this.frame.map((one) => `${100 * one}%`);
      return { left, top, width, height };
    },
  },
  watch: {
    start() { if (!this.held && !this.keys) this.back(); },
  },
  unmounted() {
    clearTimeout(this.pause);
  },
  methods: {
    // The server has rounded what was asked for last.
    place(x, y, count) {
      if (count === this.count && !this.held) [this.x, this.y] = [x, y];
    },
    ask(name) {
      this.count = (this.count || 0) + 1;
      this.$emit(name, { x: this.x, y: this.y, count: this.count });
    },
    // One question a frame is enough for the eye.
    later() {
      if (this.frameAsked) return;
      this.frameAsked = requestAnimationFrame(() => {
        this.frameAsked = 0;
        if (this.held || this.keys) this.ask("look");
      });
    },
    to(event) {
      const box = this.$refs.field.getBoundingClientRect();
      this.x = Math.max(0, Math.min(1, (event.clientX - box.left) / box.width));
      this.y = Math.max(0, Math.min(1, (box.bottom - event.clientY) / box.height));
      this.later();
    },
    down(event) {
      if (event.button) return;
      event.preventDefault();
      this.$refs.ring.focus({ preventScroll: true });
      this.$refs.field.setPointerCapture(event.pointerId);
      this.keys = false;
      clearTimeout(this.pause);
      this.held = true;
      this.to(event);
    },
    move(event) { if (this.held) this.to(event); },
    up(event) {
      if (!this.held) return;
      this.to(event);
      this.held = false;
      this.ask("drop");
    },
    // Whatever was begun is given up: the ring stands where the plan stands.
    back() {
      clearTimeout(this.pause);
      const begun = this.held || this.keys;
      this.held = this.keys = false;
      [this.x, this.y] = this.start;
      if (begun) this.$emit("giveup");
    },
    set() {
      clearTimeout(this.pause);
      if (!this.keys) return;
      this.keys = false;
      this.ask("drop");
    },
    leave() { this.set(); },
    key(event) {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1],
        PageUp: [0, 10], PageDown: [0, -10] }[event.key];
      if (way) {
        const times = event.shiftKey ? 10 : 1;
        this.keys = true;
        this.x = Math.max(0, Math.min(1, this.x + way[0] * times * this.steps[0]));
        this.y = Math.max(0, Math.min(1, this.y + way[1] * times * this.steps[1]));
        this.later();
        clearTimeout(this.pause);
        this.pause = setTimeout(() => this.set(), PAUSE);
      } else if (event.key === "Enter") this.set();
      else if (event.key === "Escape") this.back();
      else return;
      event.preventDefault();
    },
  },
};
